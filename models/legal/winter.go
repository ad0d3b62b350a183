package legal

import (
	_ "embed"
	"slices"
)

//go:embed data/winter.csv
var winterCSV string

var winterRules = load(winterCSV, winterOf)

// Need is how many tires must carry the mark of a winter tire.
type Need string

// The needs.
const (
	EveryTire    Need = "all"            // every tire at a place that the rule covers
	OneDriveAxle Need = "one_drive_axle" // every tire of at least one driven axle
)

// Winter is a rule that requires tires marked as winter tires. Its Season is never nil.
type Winter struct {
	Rule // Min, MinText, Band and Sampling are not used
	Need Need
}

// Explain returns the rule in a sentence, as Rule.Explain does.
func (w Winter) Explain() string { return Other{Rule: w.Rule}.Explain() }

// winterOf returns the rule of a row of winter.csv.
func winterOf(r row) Winter {
	out := Winter{Rule: r.common(), Need: Need(r["need"])}
	out.Season, out.Situational, out.Consequence = seasonOf(r), r["situational"] == "yes", Violation
	return out
}

// WinterFor returns the switched-on rules of a jurisdiction that want a winter tire at p of
// v, in season or not.
func WinterFor(jurisdiction string, v Vehicle, p Place) []Winter {
	var out []Winter
	for _, w := range winterRules {
		if w.On() && w.inForceIn(jurisdiction) && w.covers(v, p) {
			out = append(out, w)
		}
	}
	return out
}

// Winters returns every rule that requires winter tires.
func Winters() []Winter { return slices.Clone(winterRules) }
