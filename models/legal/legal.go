// Package legal holds published minimum tread depths: one embedded table, one
// rule a row, each with its citation, when it was read and how sure the reading
// is. Rules known only from memory are in the table and switched off.
//
//	place := legal.Place{Steered: true}
//	for _, r := range legal.For("US", legal.Vehicle{Class: "tractor"}, place, legal.MonthDay{Year: 2026, Month: 11, Day: 2}) {
//		v := r.Judge(grid)   // v.Outcome, and v.Below: which readings are below
//		fmt.Println(r.Explain())
//	}
//
// Every limit is kept in the law's own unit and compared exactly: 2/32 in is
// less than 1.6 mm. A limit means "at least": a reading equal to it passes,
// except where the text says that tread level with the wear indicator fails.
// How much must be below differs by rule, so that a single thin reading may
// leave the answer open; then it is told as such and never as a pass.
//
// Depths are units.Length, masses kg. Sources stand in each row of data.
// The package tells what a text says; it passes or fails no vehicle in law.
package legal

import (
	"fmt"
	"slices"

	"rimledger/models/units"
)

// Notice stands with every legal warning.
const Notice = "The rule in force where the vehicle runs, and a licensed inspector, decide."

// Status says how sure the reading of a rule is.
type Status string

// The statuses of a rule.
const (
	Read       Status = "F"  // found in a public text
	SecondHand Status = "F2" // found in a secondary text; the law itself was not read
	Memory     Status = "M"  // from memory, unverified: switched off
)

// Words says a status for people.
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

// Consequence is what the text says of a tire below the limit.
type Consequence string

// The consequences.
const (
	Violation    Consequence = "violation"
	OutOfService Consequence = "out_of_service"
	Advisory     Consequence = "advisory" // a condition of season or road
)

// Axles is which axles a rule covers.
type Axles string

// The scopes of axles.
const (
	AnyAxle    Axles = "any"
	SteerAxle  Axles = "steer" // the steered axles of a power unit
	OtherAxles Axles = "other" // all axles that are not SteerAxle
	DriveAxle  Axles = "drive"
)

// Sampling is where the depth must be below the limit for the rule to be broken.
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

// Grooves is which grooves a rule counts.
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
	Jurisdictions []string   // codes it is in force in, besides those whose parent these are
	Categories    []Category // of vehicles, or:
	Classes       []string   // of vehicles, as models.Class writes them; motorcycle and moped are none of ours
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
	Situational      bool // only in conditions of the day or the road, which no date tells
	Consequence      Consequence
	Text             string
	Citation         string
	Source           string
	Read             string // when the text was read: year and month
	Status           Status
}

// On reports whether the rule is switched on: unverified ones are not.
func (r Rule) On() bool { return r.Status != Memory }

// Explain says the rule in a sentence with its number, citation, date read,
// how sure the reading is, and who decides.
func (r Rule) Explain() string {
	return fmt.Sprintf("%s: %s (%s; %s %s). %s", r.MinText, r.Text, r.Citation, r.Status.Words(), r.Read, Notice)
}

// All returns every rule of the table, switched on or not.
func All() []Rule { return slices.Clone(rules) }

// Others returns every rule with another number than a minimum depth.
func Others() []Other { return slices.Clone(other) }
