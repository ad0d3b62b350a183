package models_test

import (
	"math"
	"testing"

	"rimledger/models"
	"rimledger/models/units"
)

// A place around the tire is written as an angle, as a clock whose hour is 30 degrees, or
// as a length by tape, of which one turn is 360 degrees.
func TestParseStation(t *testing.T) {
	t.Parallel()

	const around = 3600 * units.Millimetre // by tape: 10 mm a degree
	for text, want := range map[string]float64{
		"0": 0, "20": 20, "20°": 20, " 290 deg": 290, "359.5 degrees": 359.5, "22,5°": 22.5,
		"12:00": 0, "12:40": 20, "4:30": 135, "4 o'clock": 120, "12 o'clock": 0, "0:30": 15, "11:59 O'clock": 359.5,
		"0 mm": 0, "180 mm": 18, "1800 mm": 180, "90 in": 228.6,
	} {
		s, err := models.ParseStation(text)
		why := s.Resolve(around)
		if err != nil || why != "" || math.Abs(s.Deg-want) > 1e-9 {
			t.Errorf("%q: %+v, %v, %q; want %g degrees", text, s, err, why, want)
		}
	}

	for _, text := range []string{"", "valve", "360", "400°", "-20", "13:00", "4:60", "4:3", "20 kg", "1/2 turn", "NaN"} {
		if s, err := models.ParseStation(text); err == nil {
			t.Errorf("%q is read as %+v", text, s)
		}
	}

	for text, around := range map[string]units.Length{
		"180 mm": 0, "90 mm": 499 * units.Millimetre, "91 mm": 8001 * units.Millimetre, "3600 mm": around,
	} {
		s, err := models.ParseStation(text)
		if why := s.Resolve(around); err != nil || why == "" {
			t.Errorf("%s on a tread of %s has the angle %g", text, units.FormatLength(around, units.MM), s.Deg)
		}
	}
}
