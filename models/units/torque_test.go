package units_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models/units"
)

// One pound-force foot is 1.355 818 N·m (NIST SP 811, appendix B.8), and a
// twelfth of it, the pound-force inch, 0.112 984 8 N·m.
func TestPoundFoot(t *testing.T) {
	t.Parallel()
	if got := float64(units.PoundFoot); math.Abs(got-1.355818) > 5e-7 || math.Abs(got/12-0.1129848) > 5e-8 {
		t.Errorf("the pound-force foot is %.9f N·m", got)
	}

	for text, want := range map[string]float64{
		"450 lb·ft": 450 * 1.355818, "450 lb-ft": 450 * 1.355818, "450ft-lb": 450 * 1.355818,
		"450 Ft Lbs": 450 * 1.355818, "450 lbf·ft": 450 * 1.355818, "450 foot-pounds": 450 * 1.355818,
		"610 N·m": 610, "610 Nm": 610, "610 n m": 610, "1,000 N·m": 1000, "0 N·m": 0,
	} {
		got, err := units.ParseTorque(text, units.BareNone)
		if err != nil || math.Abs(float64(got)-want) > 3e-4 {
			t.Errorf("%s = %v N·m, %v; want %v", text, float64(got), err, want)
		}
	}

	for bare, want := range map[units.Unit]float64{units.NM: 100, units.LbFt: 135.5818} {
		if got, err := units.ParseTorque("100", bare); err != nil || math.Abs(float64(got)-want) > 1e-4 {
			t.Errorf("a bare 100 in %s = %v, %v", bare, float64(got), err)
		}
	}
}

func TestTorqueRefused(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"", "450", "tight", "-5 N·m", "7/32 lb·ft", "450 lb", "450 ft", "2001 N·m",
		"1476 lb·ft", "4,50 N·m", "1e3 N·m"} {
		got, err := units.ParseTorque(text, units.BareNone)
		var refused *units.ParseError
		if !errors.As(err, &refused) || refused.Text != text {
			t.Errorf("%q is read as %v, %v", text, float64(got), err)
		}
	}
	if _, err := units.ParseTorque("1475 lb·ft", units.BareNone); err != nil {
		t.Error(err) // 1999.83 N·m
	}
}

func TestFormatTorque(t *testing.T) {
	t.Parallel()

	for _, tt := range []struct {
		t    units.Torque
		u    units.Unit
		want string
	}{
		{450 * units.PoundFoot, units.LbFt, "450 lb·ft"}, {450 * units.PoundFoot, units.NM, "610 N·m"},
		{600, units.LbFt, "443 lb·ft"}, // 600/1.355818 = 442.5
		{8.5, units.NM, "8.5 N·m"}, {8, units.NM, "8 N·m"}, {0, units.LbFt, "0 lb·ft"}, {120, units.NM, "120 N·m"},
	} {
		if got := units.FormatTorque(tt.t, tt.u); got != tt.want {
			t.Errorf("%v in %s is written %q, want %q", float64(tt.t), tt.u, got, tt.want)
		}
	}
}

// A whole number that a wrench shows comes back as it was typed, in either unit.
func TestTorqueComesBack(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]units.Unit{units.NM, units.LbFt}).Draw(t, "unit")
		one := map[units.Unit]units.Torque{units.NM: units.NewtonMetre, units.LbFt: units.PoundFoot}[u]
		typed := units.FormatTorque(units.Torque(rapid.IntRange(0, 1475).Draw(t, "shown"))*one, u)

		got, err := units.ParseTorque(typed, units.BareNone)
		if err != nil || units.FormatTorque(got, u) != typed {
			t.Errorf("%q came back as %q, %v", typed, units.FormatTorque(got, u), err)
		}
	})
}
