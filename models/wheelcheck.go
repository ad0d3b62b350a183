package models

import (
	"fmt"
	"slices"

	"rimledger/models/units"
)

// Size is a small length that is kept as typed, such as a gap or a run-out.
type Size = Typed[units.Length]

// ParseSize reads a small length with its unit and keeps the text.
func ParseSize(text string) (Size, error) {
	v, err := units.ParseLength(text, units.BareNone)
	return Size{v, text}, err
}

// TruenessKind says what of an assembly was measured for being true.
type TruenessKind string

// What is measured of an assembly.
const (
	// BeadGap is how much the distance from the rim flange to the tire's bead line
	// varies around the wheel.
	BeadGap      TruenessKind = "bead_gap"
	TireRadial   TruenessKind = "tire_radial"   // run-out of the tire on its wheel, peak to peak
	TireLateral  TruenessKind = "tire_lateral"  // the same, sideways
	WheelRadial  TruenessKind = "wheel_radial"  // run-out of the rim itself, peak to peak
	WheelLateral TruenessKind = "wheel_lateral" // the same, sideways
)

// TruenessKinds lists what can be measured; TruenessPlaces where, seen across the wheel.
var (
	TruenessKinds  = []TruenessKind{BeadGap, TireRadial, TireLateral, WheelRadial, WheelLateral}
	TruenessPlaces = []string{"outer", "center", "inner"}
)

// OfRim reports whether what is measured belongs to the rim and stays with it
// when the tire comes off.
func (w TruenessKind) OfRim() bool { return w == WheelRadial || w == WheelLateral }

// WheelCheck is what was measured of one assembly's bead seat and run-out, on a
// vehicle or loose.
type WheelCheck struct {
	Meta
	Position  Position // empty for a loose assembly
	TireID    TireID   // resolved by the use-case, or named for a loose assembly
	WheelID   WheelID  // resolved by the use-case where the record knows it
	OnVehicle bool     // turned on the hub, which adds the hub's own run-out
	Measures  []TruenessMeasure

	Material string // of the wheel, set by the use-case; empty if not known
}

// TruenessMeasure is one thing that was measured.
type TruenessMeasure struct {
	What  TruenessKind
	Place string       // of TruenessPlaces, empty if not said
	Value Size         // highest less lowest in one turn
	High  *units.Angle // where it is highest; nil if not noted
}

// TruenessRecord is a measure with its circumstances, as it is kept on a tire or wheel.
type TruenessRecord struct {
	Point
	TruenessMeasure
	OnVehicle bool
	WheelID   WheelID
	Material  string // of the wheel; empty if not known
}

// Records returns what e measured, as it is kept on the tire and the wheel.
func (e *WheelCheck) Records() []TruenessRecord {
	var out []TruenessRecord
	for _, m := range e.Measures {
		out = append(out, TruenessRecord{
			Point:           Point{EventID: e.ID, At: e.At, Odometer: e.Odometer},
			TruenessMeasure: m,
			OnVehicle:       e.OnVehicle,
			WheelID:         e.WheelID,
			Material:        e.Material,
		})
	}
	return out
}

// NewestTrueness returns kept with the values of later: each replaces the one of the
// same thing at the same place, unless that was measured after it.
func NewestTrueness(kept, later []TruenessRecord) []TruenessRecord {
	out := slices.Clone(kept)
	for _, v := range later {
		i := slices.IndexFunc(out, func(o TruenessRecord) bool { return o.What == v.What && o.Place == v.Place })
		switch {
		case i < 0:
			out = append(out, v)
		case !v.At.Before(out[i].At):
			out[i] = v
		}
	}
	return out
}

// maxOutOfTrue is more than any wheel that still turns can be out of true.
const maxOutOfTrue = 50 * units.Millimetre

// Check adds to f every bad field of what was measured.
func (e *WheelCheck) Check(f *Faults) {
	if len(e.Measures) == 0 {
		f.Add("measures", "", "must have at least one measure")
	}

	seen := map[string]bool{}
	for i, m := range e.Measures {
		at := fmt.Sprintf("measures[%d]", i)
		if !slices.Contains(TruenessKinds, m.What) {
			f.Add(at+".what", string(m.What), "must be one of %q", TruenessKinds)
		}
		if m.Place != "" && !slices.Contains(TruenessPlaces, m.Place) {
			f.Add(at+".place", m.Place, "must be one of %q, or empty", TruenessPlaces)
		}

		if key := string(m.What) + m.Place; seen[key] {
			f.Add(at+".what", string(m.What), "is given twice for one place")
		} else {
			seen[key] = true
		}

		if m.Value.Value < 0 || m.Value.Value > maxOutOfTrue {
			f.Add(at+".value", m.Value.Text, "must be 0 to 50 mm: highest less lowest in one turn")
		}

		if a := m.High; a != nil && !(*a >= 0 && *a < 360) {
			f.Add(
				at+".high_at_deg",
				fmt.Sprint(float64(*a)),
				"must be 0 up to 360 degrees clockwise from the valve, seen from outside",
			)
		}
	}
}
