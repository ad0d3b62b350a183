package models

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Kind is the sort of an error. A Kind is itself an error, so
// errors.Is(err, models.NotFound) asks for it.
type Kind string

// The kinds of errors.
const (
	Invalid         Kind = "invalid"         // the content breaks a rule; Fields say which
	NotFound        Kind = "not found"       // no such thing, or none that this person may see
	Conflict        Kind = "conflict"        // contradicts what is recorded
	Stale           Kind = "stale"           // edited by someone else in the meantime
	Held            Kind = "held"            // believable only if confirmed; Fields carry the codes to confirm
	Unauthenticated Kind = "unauthenticated" // nobody is signed in
	Forbidden       Kind = "forbidden"       // signed in, not allowed
	TooLarge        Kind = "too large"       // more than is taken at once
	RateLimited     Kind = "rate limited"    // tried too often
	Unavailable     Kind = "unavailable"     // cannot be done now; the same call may work later
	Internal        Kind = "internal"        // a fault of ours; its text never leaves the server
)

func (k Kind) Error() string { return string(k) }

// Field names one bad value: where it is, what was given, what would be right.
type Field struct {
	Name   string // path in the input, such as readings[2].depths[0][1]
	Value  string // as given, cut to a readable length; empty for secrets
	Remedy string // what is wrong and what would be right
	Code   string // for Held: the code that confirms this value
}

// Error is an error of the domain. Msg is for the person who caused it.
type Error struct {
	Kind   Kind
	Msg    string
	Fields []Field
	// Recorded is, for Held, the entry by which the rest was recorded at once; empty: nothing was.
	Recorded EventID
	// Wait, for RateLimited and Unavailable, is the time after which the same call may
	// work, in whole seconds; 0 if it is not known.
	Wait time.Duration
	Err  error // cause, for the log only
}

func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Msg)

	for i, f := range e.Fields {
		if i == 0 {
			b.WriteString(": ")
		} else {
			b.WriteString("; ")
		}

		b.WriteString(f.Name)
		if f.Value != "" {
			fmt.Fprintf(&b, " %q", f.Value)
		}

		b.WriteString(" " + f.Remedy)
	}

	if e.Err != nil {
		fmt.Fprintf(&b, ": %v", e.Err)
	}
	return b.String()
}

// Unwrap returns the kind and the cause.
func (e *Error) Unwrap() []error {
	if e.Err == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Err}
}

// Errorf returns an error of kind k with a message for the person who caused it.
func Errorf(k Kind, format string, args ...any) *Error {
	return &Error{Kind: k, Msg: fmt.Sprintf(format, args...)}
}

// KindOf returns the kind of err: Internal if it has none.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	var k Kind
	if errors.As(err, &k) {
		return k
	}
	return Internal
}

// WaitOf returns after which time the call that ended in err may work, in whole
// seconds, or 0 if that is not known.
func WaitOf(err error) time.Duration {
	var e *Error
	if errors.As(err, &e) {
		return e.Wait
	}
	return 0
}

// Faults collects bad fields so that all are reported at once.
type Faults []Field

// Add records that the value of field name is wrong and what would be right.
func (f *Faults) Add(name, value, format string, args ...any) {
	const readable = 80
	if r := []rune(value); len(r) > readable {
		value = string(r[:readable]) + "..."
	}
	*f = append(*f, Field{Name: name, Value: value, Remedy: fmt.Sprintf(format, args...)})
}

// Err returns nil if nothing was added, else an Invalid error about what.
func (f Faults) Err(what string) error {
	if len(f) == 0 {
		return nil
	}
	return &Error{Kind: Invalid, Msg: what + " was not accepted", Fields: f}
}
