// Package legal has the published minimum tread depths: one embedded table, one rule a
// row, each with its citation, when it was read and how sure the reading is. Rules
// known only from memory are in the table and switched off. Three more tables have the
// rules with another number, those that require winter tires, and what is said about damage
// and safety, by jurisdiction and, where no rule was read, as general practice.
//
//	place := legal.Place{Steered: true}
//	day := legal.MonthDay{Year: 2026, Month: 11, Day: 2}
//	for _, r := range legal.For("US", legal.Vehicle{Class: "tractor"}, place, day) {
//		v := r.Judge(grid)   // v.Outcome, and v.Below: which readings are below
//		fmt.Println(r.Explain())
//	}
//
// Every limit is kept in the law's own unit and compared exactly: 2/32 in is
// less than 1.6 mm. A limit means "at least": a reading equal to it passes,
// except where the text says that tread level with the wear indicator fails.
// How many readings must be below differs by rule, so that a single thin reading may
// leave the answer open; the outcome is then BelowNumber and never a pass.
//
// Depths are units.Length, masses kg. Each row of data names its source. The package
// reports what a text says; it passes or fails no vehicle in law.
//
// # Decision (November 2026)
//
// The law is a table with a status on every row. A text that nobody has read is in the
// table and switched off. US therefore has no number for vehicles up to 10,000 lb until
// a state is chosen or the depot adds its own minimum. Rejected: numbers from memory as
// law, which a reader cannot distinguish from those that were read.
package legal

import (
	"fmt"
	"slices"

	"rimledger/models/units"
)

// Notice is shown with every legal warning.
const Notice = "The rule in force where the vehicle runs, and a licensed inspector, decide."

// Status is how sure the reading of a rule is.
type Status string

// The statuses of a rule.
const (
	Read       Status = "F"  // found in a public text
	SecondHand Status = "F2" // found in a secondary text; the law itself was not read
	Memory     Status = "M"  // from memory, unverified: switched off
)

// Words returns the status in words.
func (s Status) Words() string {
	switch s {
	case Read:
		return "read in a public text"
	case SecondHand:
		return "read second-hand"
	default:
		return "from memory, not verified"
	}
}

// Consequence is what follows by the text if a tire is below the limit.
type Consequence string

// The consequences.
const (
	Violation    Consequence = "violation"
	OutOfService Consequence = "out_of_service"
	Advisory     Consequence = "advisory" // a condition of season or road
)

// Axles is the axles that a rule covers.
type Axles string

// The scopes of axles.
const (
	AnyAxle    Axles = "any"
	SteerAxle  Axles = "steer" // the steered axles of a power unit
	OtherAxles Axles = "other" // all axles that are not SteerAxle
	DriveAxle  Axles = "drive"
	// DrivenOnly is the driven axles that are not steered, NotDrivenOnly all others.
	DrivenOnly    Axles = "driven_only"
	NotDrivenOnly Axles = "not_driven_only"
	DrivenOrSteer Axles = "driven_or_steer"
)

// Sampling is the places at which the depth must be below the limit to break the rule.
type Sampling string

// The ways of sampling.
const (
	AnyPoint       Sampling = "any_point"         // one place is enough
	Adjacent       Sampling = "adjacent2"         // two adjacent grooves at one place
	AdjacentThrice Sampling = "adjacent2x3"       // two adjacent grooves at three evenly spaced places
	AnyTwoThrice   Sampling = "any2x3"            // any two grooves at three evenly spaced places
	AdjacentApart  Sampling = "adjacent2x3_apart" // two adjacent grooves at three places 8 in apart
	FourPoints     Sampling = "four_points"       // four evenly spaced places, of which one may be below
)

// Grooves is the grooves that a rule counts.
type Grooves string

// The scopes of grooves.
const (
	Major   Grooves = "major"   // those with wear indicators
	Central Grooves = "central" // major grooves of the central three quarters of the breadth
	Band75  Grooves = "band75"  // a band of three quarters of the breadth, not necessarily the center
	Full    Grooves = "full"    // every groove, over the whole breadth
)

// Rule is one published minimum.
type Rule struct {
	ID            string
	Jurisdictions []string   // codes where it is in force; it is in force in their parts too
	Categories    []Category // of vehicles, or:
	Classes       []string   // of vehicles, as models.Class writes them; also motorcycle and moped
	MassOverKG    int        // exclusive; 0: no bound
	MassUptoKG    int        // inclusive; 0: no bound
	SeatsUpto     int        // passenger seats; 0: no bound
	Axles         Axles
	WinterOnly    bool // only for tires marked as winter tires
	SingleOnly    bool // only for tires that are not one of a dual pair
	RadialOnly    bool
	BiasOnly      bool
	Min           units.Length
	MinText       string // in the law's own unit
	EqualFails    bool   // a depth equal to Min breaks the rule
	Grooves       Grooves
	Band          string // which grooves count, in words
	Sampling      Sampling
	// AtIndicatorFails: tread level with the wear indicator breaks the rule.
	AtIndicatorFails bool
	Season           *Season
	Situational      bool // only in conditions of the day or the road, which a date does not give
	Consequence      Consequence
	Text             string
	Citation         string // the statute or standard, with its paragraph
	Source           string // what kind of text was read; never an address
	Read             string // when the text was read: year and month
	Status           Status
}

// On reports whether the rule is switched on; one from memory is not.
func (r Rule) On() bool { return r.Status != Memory }

// Explain returns the rule in a sentence with its number, citation, status, the date it
// was read, and who decides.
func (r Rule) Explain() string {
	return fmt.Sprintf("%s: %s (%s; %s %s). %s", r.MinText, r.Text, r.Citation, r.Status.Words(), r.Read, Notice)
}

// All returns every rule of the table, switched on or not.
func All() []Rule { return slices.Clone(rules) }

// Others returns every rule whose number is not a minimum depth.
func Others() []Other { return slices.Clone(other) }
