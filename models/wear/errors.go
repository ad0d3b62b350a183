package wear

import (
	"errors"
	"fmt"
	"math"
	"strconv"
)

// The reasons for which an input is refused; an InputError wraps one of them.
var (
	ErrNotFinite    = errors.New("not a finite number")
	ErrOutOfRange   = errors.New("out of range")
	ErrGoesBack     = errors.New("distance goes back")
	ErrTimeGoesBack = errors.New("time goes back")
	ErrAboveNew     = errors.New("deeper than new")
	ErrTooFew       = errors.New("too few points")
	ErrNoSpread     = errors.New("all points at one place")
	ErrNoSlope      = errors.New("the slope does not differ from zero")
)

// InputError says which field was refused, its value and what would be right.
type InputError struct {
	Field string
	Value float64
	Right string
	Err   error // one of the Err values of this package
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s %g: %v; %s", e.Field, e.Value, e.Err, e.Right)
}

func (e *InputError) Unwrap() error { return e.Err }

// within returns an InputError unless v is finite and in [lo, hi].
func within(field string, v, lo, hi float64, right string) error {
	if !finite(v) {
		return &InputError{field, v, right, ErrNotFinite}
	}
	if v < lo || v > hi {
		return &InputError{field, v, right, ErrOutOfRange}
	}
	return nil
}

// trim writes v with the fewest digits that read back as v.
func trim(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
