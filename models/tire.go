package models

import (
	"fmt"
	"time"

	"rimledger/models/units"
)

// TireStatus is where a tire is in its life.
type TireStatus string

// The states of a tire. Mounted is set by fitting, never by hand.
const (
	InStock     TireStatus = "stock"
	Mounted     TireStatus = "mounted"
	AtRetreader TireStatus = "at_retreader"
	Scrapped    TireStatus = "scrapped"
)

// Tire is an asset with its own number; its history follows it everywhere.
type Tire struct {
	ID          TireID
	DepotID     DepotID
	Number      string         // branded or painted on the sidewall, unique in the depot
	TIN         string         // tire identification number (DOT code), may be empty
	Size        string         // canonical designation, such as 295/75R22.5 144/141L
	Design      string         // tread design, free text
	NewDepths   []units.Length // per groove, outboard to inboard, of this tread life
	Directional bool
	Winter      bool // marked with the mountain and snowflake pictogram
	Regrooved   bool
	LifeIndex   int   // 0 new, 1.. retreads
	PriceCents  int64 // in the currency of the depot that bought it
	CasingCents int64 // what the casing is credited at
	Stamp
}

// Retreaded reports whether the tire has been retreaded.
func (t Tire) Retreaded() bool { return t.LifeIndex > 0 }

// Validate returns an Invalid error that names every bad field. That Size and
// TIN can be read is checked by the use-case.
func (t Tire) Validate() error {
	var f Faults
	if !ValidID(t.ID) {
		f.Add("id", string(t.ID), "must be a UUID in lower-case text")
	}
	checkLine(&f, "number", t.Number, 1, 40)
	checkLine(&f, "tin", t.TIN, 0, 20)
	checkLine(&f, "size", t.Size, 1, 40)
	checkLine(&f, "design", t.Design, 0, 80)

	if n := len(t.NewDepths); n < 1 || n > 8 {
		f.Add("new_depths", fmt.Sprint(n), "must be given for 1 to 8 grooves, outboard to inboard")
	}

	for i, d := range t.NewDepths {
		if d <= 0 || d > units.MaxDepth {
			f.Add(
				fmt.Sprintf("new_depths[%d]", i),
				units.FormatLength(d, units.MM),
				"must be above 0 and at most 26 mm",
			)
		}
	}

	if t.LifeIndex < 0 || t.LifeIndex > 9 {
		f.Add("life_index", fmt.Sprint(t.LifeIndex), "must be 0 (new) to 9 (retreads)")
	}
	if t.PriceCents < 0 || t.CasingCents < 0 {
		f.Add("price_cents", fmt.Sprint(t.PriceCents), "money must not be negative")
	}

	return f.Err("tire " + t.Number)
}

// Wheel is what of a rim matters for weights.
type Wheel struct {
	ID         WheelID
	DepotID    DepotID
	Number     string
	DiameterIn float64 // nominal rim diameter code, inches
	WidthIn    float64 // nominal rim width, inches
	Material   string  // steel or alloy
	WheelGeometry
	// When the geometry was measured: at a balance job, or by hand (no job);
	// zero if it was given with the wheel.
	MeasuredAt time.Time
	MeasuredBy EventID
	RunOut     []TruenessRecord // of the rim itself, newest of each; set by wheel checks
	Stamp
}

// Validate returns an Invalid error that names every bad field.
func (w Wheel) Validate() error {
	var f Faults
	if !ValidID(w.ID) {
		f.Add("id", string(w.ID), "must be a UUID in lower-case text")
	}
	checkLine(&f, "number", w.Number, 1, 40)
	if !(w.DiameterIn >= 4 && w.DiameterIn <= 63) {
		f.Add("diameter_in", fmt.Sprint(w.DiameterIn), "must be 4 to 63 inches")
	}
	if !(w.WidthIn >= 1 && w.WidthIn <= 60) {
		f.Add("width_in", fmt.Sprint(w.WidthIn), "must be 1 to 60 inches")
	}

	if w.Material != "steel" && w.Material != "alloy" {
		f.Add("material", w.Material, "must be steel or alloy")
	}

	w.validate(&f, "")
	return f.Err("wheel " + w.Number)
}
