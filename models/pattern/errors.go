package pattern

import (
	"errors"
	"fmt"
	"math"
)

// The reasons for which an input is refused; an InputError wraps one of them.
var (
	ErrNoReadings   = errors.New("no depth was read")
	ErrRagged       = errors.New("grooves with different numbers of stations")
	ErrTooMany      = errors.New("too many")
	ErrNotFinite    = errors.New("not a finite number")
	ErrOutOfRange   = errors.New("out of range")
	ErrAboveNew     = errors.New("deeper than new")
	ErrNewCount     = errors.New("new depths do not match the grooves")
	ErrStationTwice = errors.New("one station given twice")
	ErrStations     = errors.New("stations not equally spaced from the valve")
	ErrWord         = errors.New("word not known")
	ErrTooFew       = errors.New("too few stations")
)

// InputError says which field was refused, its value and what would be right.
type InputError struct {
	Field, Value, Right string
	Err                 error // one of the Err values of this package
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s %q: %v; %s", e.Field, e.Value, e.Err, e.Right)
}

func (e *InputError) Unwrap() error { return e.Err }

// within returns an InputError unless v is finite and in [lo, hi].
func within(field string, v, lo, hi float64) error {
	right := fmt.Sprintf("%g to %g", lo, hi)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return &InputError{field, fmt.Sprint(v), right, ErrNotFinite}
	}
	if v < lo || v > hi {
		return &InputError{field, fmt.Sprint(v), right, ErrOutOfRange}
	}
	return nil
}
