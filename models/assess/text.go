package assess

import (
	"fmt"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Cautions for the work, in our own words. Sources: 29 CFR 1910.177 (inflation, run
// flat) and 1910.244(a)(2)(iii) (jacking) as reprinted in army technical manuals;
// industry re-torque practice; articles on safety at the balancer; the rest common
// practice, no source.
const (
	cautionDecide = "Local rules and a licensed inspector decide when it may run again."
	cautionPark   = "Do not drive it. " + cautionDecide
	cautionWheels = "Chock the vehicle, jack on firm ground and set it on stands at once; " +
		"never work under a jack alone. Clean faces, nuts run on by hand, star order, torque wrench; " +
		"re-torque after the first drive."
	cautionInflate = "Use a clip-on chuck with an in-line gauge and stand out of line of the tire. " +
		"Never bleed a hot tire."
	cautionRunFlat = "Never just top it up. Let all air out, valve core removed, before the wheel comes off; " +
		"have the tire taken off and looked at inside. Inflate it again only in a restraint, " +
		"from outside the line of a burst, trained people only: a sidewall can tear open without warning."
	cautionBalancer = "Hood down, eye protection, no loose clothing; " +
		"stones, mud and ice out of the wheel before it spins."
	cautionNuts = "A wheel that comes off kills. Do not slacken the nuts first; torque wrench, not an impact gun; " +
		"no oil unless the maker asks for it."
	cautionRoad = "If anything is loose, bulged or cut, do not drive it to find out."
)

// The functions below mark quantities and days: the text of a finding is stored with
// the marks, and package fleet renders them for each reader.

// typed marks a depth as it was typed.
func typed(d models.Depth) string { return units.MarkTypedDepth(d.Value, d.Text) }

// minimum marks the minimum of a rule, with its own unit.
func minimum(r legal.Rule) string { return units.MarkTypedDepth(r.Min, r.MinText) }

// pressure marks a pressure as it was typed.
func pressure(p models.Pressure) string { return units.MarkTypedPressure(p.Value, p.Text) }

// rateWithin marks the rate of a forecast with its interval.
func rateWithin(f wear.Forecast) string {
	return fmt.Sprintf("%s (90%% interval %s to %s)", units.MarkRate(f.RateMM), units.MarkBareRate(f.RateLo90),
		units.MarkBareRate(f.RateHi90))
}

// kilometres marks a distance of km kilometres.
func kilometres(km float64) string { return units.MarkDistance(units.DistanceFromKilometres(km)) }

// date marks the day of t in the depot's zone.
func (c *checker) date(t time.Time) string { return units.MarkDay(t.In(c.Zone)) }

// midnight returns the beginning of a day in the depot's zone.
func (c *checker) midnight(year int, month time.Month, day int) time.Time {
	return time.Date(year, month, day, 0, 0, 0, 0, c.Zone)
}

// line is evidence from the record itself, without a source.
func line(format string, args ...any) models.Evidence {
	return models.Evidence{Text: fmt.Sprintf(format, args...)}
}

// policyLine is evidence whose source is the fleet's policy.
func policyLine(format string, args ...any) models.Evidence {
	return models.Evidence{Text: fmt.Sprintf(format, args...), Source: "policy"}
}

// sourced is evidence with its source.
func sourced(source, format string, args ...any) models.Evidence {
	return models.Evidence{Text: fmt.Sprintf(format, args...), Source: source}
}

// plainWords returns an identifier such as "wear_bar" as words.
func plainWords(s string) string { return strings.ReplaceAll(s, "_", " ") }

// by returns " by" and the person, "" if the person is not known.
func by(person string) string {
	if person == "" {
		return ""
	}
	return " by " + person
}

// describeObservation returns an observation in words: what, how many, where, its size
// and the note.
func describeObservation(o models.Observation) string {
	s := plainWords(string(o.Code))
	if o.Count > 0 {
		s += fmt.Sprintf(", %d counted", o.Count)
	}
	if o.Direction != "" {
		s += ", " + o.Direction
	}
	if o.Place != "" {
		s += ", " + plainWords(o.Place)
	}
	if o.Size > 0 {
		s += ", " + units.MarkSmall(o.Size)
	}
	if o.Note != "" {
		s += " (" + o.Note + ")"
	}
	return s
}
