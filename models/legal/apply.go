package legal

import (
	"errors"
	"fmt"
	"slices"

	"rimledger/models/units"
)

// Vehicle is the facts about a vehicle that decide which rules apply. A mass of 0 is
// replaced by the usual one of the class; a bus of 0 seats has more than 8.
type Vehicle struct {
	Class  string
	MassKG int
	Seats  int // passenger seats besides the driver's
}

// usualMassKG replaces a permitted mass that is not known: common practice, no source.
var usualMassKG = map[string]int{"car": 2000, "light_truck": 3500, "rigid_truck": 12000, "tractor": 18000,
	"trailer": 18000, "bus": 18000}

// mass returns the permitted mass in kg, the usual one of the class if it is not known.
func (v Vehicle) mass() int {
	if v.MassKG > 0 {
		return v.MassKG
	}
	return usualMassKG[v.Class]
}

// Category is a vehicle category of the UNECE's consolidated resolution R.E.3:
// M carries people, N goods, O is a trailer.
type Category string

// Category returns the category of v by its class, permitted mass and seats;
// empty for classes that have none here.
//
// R.E.3: M1 to 8 passenger seats, M2 above to 5 t, M3 above 5 t; N1 to 3.5 t,
// N2 to 12 t, N3; O1 to 0.75 t, O2 to 3.5 t, O3 to 10 t, O4 (from memory).
func (v Vehicle) Category() Category {
	// A category is its letter and one more for each mass bound that v exceeds.
	step := func(letter string, bounds ...int) Category {
		n := 1
		for _, b := range bounds {
			if v.mass() > b {
				n++
			}
		}
		return Category(fmt.Sprint(letter, n))
	}

	switch v.Class {
	case "car", "bus":
		if v.Seats <= 8 && (v.Class == "car" || v.Seats > 0) {
			return "M1"
		}
		if v.mass() <= 5000 {
			return "M2"
		}
		return "M3"
	case "light_truck", "rigid_truck", "tractor":
		return step("N", 3500, 12000)
	case "trailer":
		return step("O", 750, 3500, 10000)
	}

	return ""
}

// Place is the facts about a tire and its axle that decide which rules apply.
type Place struct {
	Steered, Driven bool
	Dual            bool // the tire is one of a dual pair
	Winter          bool // the tire is marked as a winter tire
	Bias            bool // the tire is not a radial
}

// covers reports whether r applies to a tire at p of v, on some day of the year.
//
//revive:disable-next-line:cyclomatic
func (r Rule) covers(v Vehicle, p Place) bool {
	m := v.mass()

	switch {
	case !slices.Contains(r.Classes, v.Class) && !slices.Contains(r.Categories, v.Category()),
		r.MassOverKG > 0 && m <= r.MassOverKG,
		r.MassUptoKG > 0 && m > r.MassUptoKG,
		r.SeatsUpto > 0 && v.Seats > r.SeatsUpto,
		r.WinterOnly && !p.Winter,
		r.SingleOnly && p.Dual,
		r.RadialOnly && p.Bias,
		r.BiasOnly && !p.Bias:
		return false
	}

	// The steer rules are about power units: a steered trailer axle is an other axle.
	steer := p.Steered && v.Class != "trailer"
	switch r.Axles {
	case SteerAxle:
		return steer
	case OtherAxles:
		return !steer
	case DriveAxle:
		return p.Driven
	case DrivenOnly:
		return p.Driven && !steer
	case NotDrivenOnly:
		return !p.Driven || steer
	case DrivenOrSteer:
		return p.Driven || steer
	default:
		return true
	}
}

// inForceIn reports whether r is in force in a jurisdiction: its own rules and those of
// every jurisdiction above it.
func (r Rule) inForceIn(code string) bool {
	for code != "" {
		if slices.Contains(r.Jurisdictions, code) {
			return true
		}
		j, _ := findJurisdiction(code)
		code = j.Parent
	}
	return false
}

// For returns the rules that are switched on and in force in a jurisdiction for
// a tire at p of v on a day, strictest first. A state or province adds to its
// country's rules, a member state to the union's.
func For(jurisdiction string, v Vehicle, p Place, on MonthDay) []Rule {
	return choose(jurisdiction, v, p, func(r Rule) bool { return r.Season == nil || r.Season.Contains(on) })
}

// Seasonal returns the switched-on rules that are in force in a part of the year only.
func Seasonal(jurisdiction string, v Vehicle, p Place) []Rule {
	return choose(jurisdiction, v, p, func(r Rule) bool { return r.Season != nil })
}

// choose returns the rules in force that cover a tire and for which when is true,
// strictest first.
func choose(jurisdiction string, v Vehicle, p Place, when func(Rule) bool) []Rule {
	var out []Rule
	for _, r := range rulesIn[jurisdiction] {
		if r.covers(v, p) && when(r) {
			out = append(out, r)
		}
	}

	slices.SortStableFunc(out, func(a, b Rule) int { return int(b.Min - a.Min) })
	return out
}

// Own returns a depot's own minimum as a rule. It applies in addition to the law's
// rules and cannot weaken them; StricterThan reports whether it adds anything.
func Own(minimum units.Length, text, reason string) Rule {
	return Rule{ID: "own", Axles: AnyAxle, Min: minimum, MinText: text, Grooves: Full, Band: "any groove",
		Sampling: AnyPoint, Consequence: Violation, Text: "the depot's own minimum: " + reason, Citation: "own rule",
		Status: Read}
}

// ErrNotStricter is returned for a depot's own minimum that adds nothing to the law.
var ErrNotStricter = errors.New("not above the law's own minimum")

// StricterThan returns an error that wraps ErrNotStricter and names the rule of law, if
// one that is in force at all times asks for as much as r or more.
func (r Rule) StricterThan(law []Rule) error {
	for _, l := range law {
		if l.Consequence == Violation && !l.Situational && r.Min <= l.Min {
			return fmt.Errorf("%s: %w, %s of %s; write a larger depth", r.MinText, ErrNotStricter, l.MinText, l.ID)
		}
	}
	return nil
}

// Jurisdictions lists the places that a depot can choose, by code.
func Jurisdictions() []Jurisdiction { return slices.Clone(jurisdictions) }

// Codes lists the codes of Jurisdictions.
func Codes() []string {
	var out []string
	for _, j := range jurisdictions {
		out = append(out, j.Code)
	}
	return out
}

// Known reports whether code is one of Codes.
func Known(code string) bool {
	_, ok := findJurisdiction(code)
	return ok
}

func findJurisdiction(code string) (Jurisdiction, bool) {
	i := slices.IndexFunc(jurisdictions, func(j Jurisdiction) bool { return j.Code == code })
	if i < 0 {
		return Jurisdiction{}, false
	}
	return jurisdictions[i], true
}
