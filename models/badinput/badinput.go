// Package badinput has the one error with which a computation refuses what it
// was given. It names the field, the value and what would be right, so that
// whoever shows it can put it beside the field. It checks ranges; what a value
// means, its unit and its sign are the business of the package that asks.
package badinput

import (
	"errors"
	"fmt"
	"math"
)

// Reasons that every computation shares. Each package adds its own.
var (
	ErrNotFinite  = errors.New("not a finite number")
	ErrOutOfRange = errors.New("out of range")
)

// Error says which field was refused, its value, why, and what would be right.
type Error struct {
	Field string
	Value string // as given; empty where nothing was
	Right string // what would be right
	Err   error  // the reason: one of the Err values of this package or of the computation's
}

// New refuses the text that was given for field. right and args are those of
// fmt.Sprintf and say what would be right.
func New(field, value string, reason error, right string, args ...any) error {
	return &Error{Field: field, Value: value, Right: fmt.Sprintf(right, args...), Err: reason}
}

// Number refuses the number that was given for field, else as New.
func Number(field string, v float64, reason error, right string, args ...any) error {
	return New(field, fmt.Sprintf("%g", v), reason, right, args...)
}

// Within refuses v unless it is finite and in [lo, hi]; an empty right means
// that range. The error wraps ErrNotFinite or ErrOutOfRange.
func Within(field string, v, lo, hi float64, right string) error {
	if v >= lo && v <= hi {
		return nil
	}

	reason := ErrOutOfRange
	if math.IsNaN(v) || math.IsInf(v, 0) {
		reason = ErrNotFinite
	}

	if right == "" {
		right = fmt.Sprintf("%g to %g", lo, hi)
	}

	return Number(field, v, reason, "%s", right)
}

// At says to which of several the refused field belongs: the field "depth_mm" at
// "reading 2" is "reading 2: depth_mm". Other errors are wrapped the same way;
// nil stays nil.
func At(where string, err error) error {
	var bad *Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &bad):
		return &Error{Field: where + ": " + bad.Field, Value: bad.Value, Right: bad.Right, Err: bad.Err}
	}

	return fmt.Errorf("%s: %w", where, err)
}

func (e *Error) Error() string {
	what := e.Field
	if e.Value != "" {
		what += " " + e.Value
	}

	return fmt.Sprintf("%s: %v; %s", what, e.Err, e.Right)
}

// Unwrap returns the reason.
func (e *Error) Unwrap() error { return e.Err }
