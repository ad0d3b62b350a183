package badinput_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rimledger/models/badinput"
)

// TestWithin: both ends are inside (a closed interval), and what is no number is
// refused as such, whatever the range.
func TestWithin(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name string
		v    float64
		want error
	}{
		{"at the low end", -1, nil},
		{"at the high end", 2, nil},
		{"just below", math.Nextafter(-1, -2), badinput.ErrOutOfRange},
		{"just above", math.Nextafter(2, 3), badinput.ErrOutOfRange},
		{"not a number", math.NaN(), badinput.ErrNotFinite},
		{"infinite", math.Inf(-1), badinput.ErrNotFinite},
	} {
		err := badinput.Within("depth mm", c.v, -1, 2, "")
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}

		var bad *badinput.Error
		if c.want != nil && (!errors.As(err, &bad) || bad.Field != "depth mm" || bad.Right != "-1 to 2") {
			t.Errorf("%s: %#v does not name the field and the range", c.name, err)
		}
	}
}

// TestAt: the field says of which of several it is, and stays one field.
func TestAt(t *testing.T) {
	t.Parallel()
	err := badinput.At("reading 2", badinput.Number("depth_mm", 19, badinput.ErrOutOfRange, "at most %g", 15.9))
	var bad *badinput.Error
	if !errors.As(err, &bad) {
		t.Fatalf("%v is no badinput.Error", err)
	}

	want := badinput.Error{Field: "reading 2: depth_mm", Value: "19", Right: "at most 15.9",
		Err: badinput.ErrOutOfRange}
	if diff := cmp.Diff(want, *bad, cmp.Comparer(func(a, b error) bool { return errors.Is(a, b) })); diff != "" {
		t.Error(diff)
	}
	if got, want := err.Error(), "reading 2: depth_mm 19: out of range; at most 15.9"; got != want {
		t.Errorf("%q, want %q", got, want)
	}

	other := errors.New("no field of any")
	if err := badinput.At("reading 2", other); !errors.Is(err, other) || err.Error() != "reading 2: no field of any" {
		t.Errorf("another error became %v", err)
	}

	if err := badinput.At("reading 2", nil); err != nil {
		t.Errorf("nothing became %v", err)
	}
}

// TestNothingGiven: where no value was given, none is shown.
func TestNothingGiven(t *testing.T) {
	t.Parallel()
	err := fmt.Errorf("read: %w", badinput.New("report", "", badinput.ErrOutOfRange, "give one answer"))
	if got, want := err.Error(), "read: report: out of range; give one answer"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
