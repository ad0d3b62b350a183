// Package legal holds published minimum tread depths: one embedded table, one
// rule a row, each with its citation, when it was read and how sure the reading
// is. Rules known only from memory are in the table and switched off.
//
// Every limit is kept in the law's own unit and compared exactly: 2/32 in is
// less than 1.6 mm. A limit means "at least": a reading equal to it passes,
// except where the text says that tread level with the wear indicator fails.
//
// The package tells what a text says; it passes or fails no vehicle in law.
package legal

import (
	"fmt"
	"slices"
	"strings"

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

// words says a status for people.
func (s Status) words() string {
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
	AnyPoint       Sampling = "any_point"   // one place is enough
	Adjacent       Sampling = "adjacent2"   // two adjacent grooves at one place
	AdjacentThrice Sampling = "adjacent2x3" // two adjacent grooves at three places
	FourPoints     Sampling = "four_points" // four places, of which one may be below
)

// Rule is one published minimum.
type Rule struct {
	ID           string
	Jurisdiction string
	Classes      []string // of vehicles, as models.Class writes them; empty: none of ours
	MassOverKG   int      // exclusive; 0: no bound
	MassUptoKG   int      // inclusive; 0: no bound
	SeatsUpto    int      // passenger seats; 0: no bound
	Axles        Axles
	Min          units.Length
	MinText      string // in the law's own unit
	Band         string // which grooves count, in words
	Sampling     Sampling
	// AtIndicatorFails: tread level with the wear indicator breaks the rule.
	AtIndicatorFails bool
	Season           *Season
	Situational      bool // only in the road conditions of the day, which no date tells
	Consequence      Consequence
	Text             string
	Citation         string
	Source           string
	Read             string // when the text was read: year and month
	Status           Status
}

// Season is a part of the year, from and up to a day, inclusive.
type Season struct{ From, To MonthDay }

// MonthDay is a day of any year.
type MonthDay struct{ Month, Day int }

func (d MonthDay) number() int { return d.Month*100 + d.Day }

// Contains reports whether day d lies in s, which may span the new year.
func (s Season) Contains(d MonthDay) bool {
	from, to, n := s.From.number(), s.To.number(), d.number()
	if from <= to {
		return from <= n && n <= to
	}
	return n >= from || n <= to
}

// On reports whether the rule is switched on: unverified ones are not.
func (r Rule) On() bool { return r.Status != Memory }

// Explain says the rule in a sentence with its number, citation, date read,
// how sure the reading is, and who decides.
func (r Rule) Explain() string {
	return fmt.Sprintf("%s: %s (%s; read %s, %s). %s", r.MinText, r.Text, r.Citation, r.Read, r.Status.words(), Notice)
}

// Vehicle is what rules ask of a vehicle. A mass of 0 is taken as usual for the class.
type Vehicle struct {
	Class  string
	MassKG int
	Seats  int
}

// usualMassKG stands in for a permitted mass that is not known: common practice, no source.
var usualMassKG = map[string]int{"car": 2000, "light_truck": 3500, "rigid_truck": 12000, "tractor": 18000, "trailer": 18000, "bus": 18000}

func (v Vehicle) mass() int {
	if v.MassKG > 0 {
		return v.MassKG
	}
	return usualMassKG[v.Class]
}

// Place is what rules ask of the axle that a tire is on.
type Place struct{ Steered, Driven bool }

// covers reports whether r is about a tire at p of v, whatever the day.
func (r Rule) covers(v Vehicle, p Place) bool {
	m := v.mass()
	if !slices.Contains(r.Classes, v.Class) || m <= r.MassOverKG && r.MassOverKG > 0 || m > r.MassUptoKG && r.MassUptoKG > 0 ||
		v.Seats > r.SeatsUpto && r.SeatsUpto > 0 {
		return false
	}
	steer := p.Steered && v.Class != "trailer"
	switch r.Axles {
	case SteerAxle:
		return steer
	case OtherAxles:
		return !steer
	case DriveAxle:
		return p.Driven
	default:
		return true
	}
}

// For returns the rules that are switched on and in force in a jurisdiction for
// a tire at p of v on a day, strictest first. A state or province adds to its
// country's rules.
func For(jurisdiction string, v Vehicle, p Place, on MonthDay) []Rule {
	var out []Rule
	country, _, _ := strings.Cut(jurisdiction, "-")
	for _, r := range rules {
		if (r.Jurisdiction == jurisdiction || r.Jurisdiction == country) && r.On() && r.covers(v, p) && (r.Season == nil || r.Season.Contains(on)) {
			out = append(out, r)
		}
	}
	slices.SortStableFunc(out, func(a, b Rule) int { return int(b.Min - a.Min) })
	return out
}

// Seasonal returns the switched-on rules that hold in a part of the year only.
func Seasonal(jurisdiction string, v Vehicle, p Place) []Rule {
	country, _, _ := strings.Cut(jurisdiction, "-")
	var out []Rule
	for _, r := range rules {
		if r.Season != nil && (r.Jurisdiction == jurisdiction || r.Jurisdiction == country) && r.On() && r.covers(v, p) {
			out = append(out, r)
		}
	}
	return out
}

// Own returns a depot's own minimum as a rule; it only ever adds to the law.
func Own(min units.Length, text, reason string) Rule {
	return Rule{ID: "own", Axles: AnyAxle, Min: min, MinText: text, Band: "any groove", Sampling: AnyPoint, Consequence: Violation,
		Text: "the depot's own minimum: " + reason, Citation: "own rule", Status: Read}
}

// All returns every rule of the table, switched on or not.
func All() []Rule { return slices.Clone(rules) }

// Codes lists the jurisdictions that the table knows.
func Codes() []string {
	var out []string
	for _, r := range rules {
		out = append(out, r.Jurisdiction)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Known reports whether the table has rules for a jurisdiction.
func Known(code string) bool { return slices.Contains(Codes(), code) }
