package wear

import (
	"errors"
	"math"

	"rimledger/models/badinput"
)

// The reasons for which an input is refused; a badinput.Error wraps one of them.
var (
	ErrNotFinite    = badinput.ErrNotFinite
	ErrOutOfRange   = badinput.ErrOutOfRange
	ErrGoesBack     = errors.New("distance goes back")
	ErrTimeGoesBack = errors.New("time goes back")
	ErrAboveNew     = errors.New("deeper than new")
	ErrTooFew       = errors.New("too few points")
	ErrNoSpread     = errors.New("all points at one place")
	ErrNoSlope      = errors.New("the slope does not differ from zero")
)

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
