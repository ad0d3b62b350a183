package say

import (
	"strconv"
	"strings"

	"rimledger/models"
	"rimledger/models/units"
)

// UnitWord returns the short name of a unit of depth, for a key.
func UnitWord(u units.Unit) string {
	if u == units.In32 {
		return "32nds"
	}
	return string(u)
}

// GrooveNames names n grooves from the outboard to the inboard shoulder.
func GrooveNames(n int) []string {
	switch n {
	case 1:
		return []string{"groove"}
	case 2:
		return []string{"outer", "inner"}
	case 3:
		return []string{"outer", "center", "inner"}
	case 4:
		return []string{"outer", "center outer", "center inner", "inner"}
	}

	names := []string{"outer"}
	for i := 2; i < n; i++ {
		names = append(names, "groove "+strconv.Itoa(i))
	}

	return append(names, "inner")
}

// TypedDepths writes the depths of a reading as they were typed, a line a groove.
func TypedDepths(r models.Reading, u units.Style) []string {
	names := GrooveNames(len(r.Depths))

	var out []string
	for g, stations := range r.Depths {
		var at []string
		for _, d := range stations {
			if d == nil {
				at = append(at, "–")
			} else {
				at = append(at, u.WriteTypedDepth(d.Value, d.Text))
			}
		}

		out = append(out, names[g]+" "+strings.Join(at, ", "))
	}

	return out
}

// StationsText writes where around the tire a reading was taken, as typed; empty if evenly
// spaced from the valve.
func StationsText(r models.Reading) string {
	var out []string
	for _, s := range r.Stations {
		out = append(out, s.Text)
	}
	return strings.Join(out, ", ")
}

func PressureText(r models.Reading, u units.Style) string {
	switch {
	case r.NotReached:
		return "not reached"
	case r.Pressure == nil:
		return ""
	case r.Hot:
		return u.WriteTypedPressure(r.Pressure.Value, r.Pressure.Text) + " warm"
	default:
		return u.WriteTypedPressure(r.Pressure.Value, r.Pressure.Text)
	}
}

// SpeedUnit is how speeds are written beside these distances.
func SpeedUnit(u units.Style) (word string, perKMH float64) {
	if u.Distance == units.Mi {
		return "mph", units.Mile.Kilometres()
	}
	return "km/h", 1
}
