package units_test

import (
	"math"
	"testing"

	"rimledger/models/units"
)

// TestParsePosition: an hour of the clock is 30 degrees and a minute half a degree. By hand:
// on a radius of 285 mm a quarter turn is 285 pi / 2 = 447.7 mm, and 8 in on a radius of 8 in
// are one radian, 57.30 degrees.
func TestParsePosition(t *testing.T) {
	t.Parallel()
	radius := 285 * units.Millimetre
	for text, want := range map[string]float64{
		"120": 120, "120°": 120, " 120.5 deg": 120.5, "-20 degrees": -20, "400": 400,
		"4 o'clock": 120, "4 o’clock": 120, "4 oclock": 120, "12 o'clock": 0, "4:30": 135, "12:30": 15, "11:59": 359.5,
		"4:30 o'clock": 135, "1": 1, "447.677 mm": 90, "44.7677 cm": 90, "17.6251 in": 90, "0 mm": 0,
		"8 in, radius 8 in": 180 / math.Pi, "210 mm radius 285 mm": 210.0 / 285 * 180 / math.Pi,
	} {
		got, err := units.ParsePosition(text, radius)
		if err != nil || math.Abs(float64(got)-want) > 1e-3 {
			t.Errorf("%q: %g, %v; want %g", text, float64(got), err, want)
		}
	}

	for _, text := range []string{"", "north", "13 o'clock", "13:00", "4:60", "4 30", "1e9", "NaN", "210 kg", "5 mm, radius x", "-5 mm"} {
		if got, err := units.ParsePosition(text, radius); err == nil {
			t.Errorf("%q is read as %g", text, float64(got))
		}
	}
	if got, err := units.ParsePosition("210 mm", 0); err == nil {
		t.Errorf("a distance on no radius is read as %g", float64(got))
	}
}

// TestParseFractions: weights are marked in fractions of an ounce (1 oz is 28.349523125 g).
func TestParseFractions(t *testing.T) {
	t.Parallel()
	const oz = 28.349523125
	for text, want := range map[string]float64{
		"1/4 oz": oz / 4, "1 1/4 oz": oz * 1.25, "1¼ oz": oz * 1.25, "1-1/4 oz": oz * 1.25, "1 ¼": oz * 1.25, "¾": oz * 0.75,
		"3/8oz": oz * 0.375, "1/2": oz / 2, "2 15/16 oz": oz * 2.9375, "1/2 g": 0.5,
	} {
		if got, err := units.ParseMass(text, units.Oz); err != nil || math.Abs(float64(got)-want) > 1e-9 {
			t.Errorf("%q: %g g, %v; want %g", text, float64(got), err, want)
		}
	}

	for _, text := range []string{"1/3 oz", "1/0 oz", "1/32 oz", "1/4/2 oz", "-1/4 oz", "1/4 stone"} {
		if got, err := units.ParseMass(text, units.Oz); err == nil {
			t.Errorf("%q is read as %g g", text, float64(got))
		}
	}
}
