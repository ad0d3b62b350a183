package pattern

import (
	"errors"

	"rimledger/models/badinput"
)

// The reasons for which an input is refused; a badinput.Error wraps one of them.
var (
	ErrNoReadings   = errors.New("no depth was read")
	ErrRagged       = errors.New("grooves with different numbers of stations")
	ErrTooMany      = errors.New("too many")
	ErrNotFinite    = badinput.ErrNotFinite
	ErrOutOfRange   = badinput.ErrOutOfRange
	ErrAboveNew     = errors.New("deeper than new")
	ErrNewCount     = errors.New("new depths do not match the grooves")
	ErrStationTwice = errors.New("one station given twice")
	ErrStations     = errors.New("stations not in order around the tire")
	ErrWord         = errors.New("word not known")
	ErrTooFew       = errors.New("too few stations")
)
