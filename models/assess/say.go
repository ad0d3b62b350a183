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

// Cautions that stand where the work is, in our own words. Sources: 29 CFR
// 1910.177 (inflation, run flat) and 1910.244(a)(2)(iii) (jacking) as reprinted
// in army technical manuals; industry re-torque practice; shop-floor balancing
// safety articles; the rest common practice, no source.
const (
	cautionDecide  = "Local rules and a licensed inspector decide when it may run again."
	cautionPark    = "Do not drive it. " + cautionDecide
	cautionWheels  = "Chock the vehicle, jack on firm ground and set it on stands at once; never work under a jack alone. Clean faces, nuts run on by hand, star order, torque wrench; re-torque after the first drive."
	cautionInflate = "Use a clip-on chuck with an in-line gauge and stand out of line of the tire. Never bleed a hot tire."
	cautionRunFlat = "Never just top it up. Let all air out, valve core removed, before the wheel comes off; have the tire taken off and looked at inside. " +
		"Inflate it again only in a restraint, from outside the line of a burst, trained people only: a sidewall can tear open without warning."
	cautionBalancer = "Hood down, eye protection, no loose clothing; stones, mud and ice out of the wheel before it spins."
	cautionNuts     = "A wheel that comes off kills. Do not slacken the nuts first; torque wrench, not an impact gun; no oil unless the maker asks for it."
	cautionRoad     = "If anything is loose, bulged or cut, do not drive it to find out."
)

// The texts of findings hold marks of package units in place of quantities and
// days: each reader is told them in their own units and notation.

// typed marks a depth as it was typed.
func typed(d models.Depth) string { return units.MarkTypedDepth(d.Value, d.Text) }

// minimum marks what a rule asks for, in its own unit, too.
func minimum(r legal.Rule) string { return units.MarkTypedDepth(r.Min, r.MinText) }

// pressure marks a pressure as it was typed.
func pressure(p models.Pressure) string { return units.MarkTypedPressure(p.Value, p.Text) }

// rateWithin marks the rate of a forecast with its interval.
func rateWithin(f wear.Forecast) string {
	return units.MarkRate(
		f.RateMM,
	) + " (90% interval " + units.MarkBareRate(
		f.RateLo90,
	) + " to " + units.MarkBareRate(
		f.RateHi90,
	) + ")"
}

func kilometres(km int) string { return units.MarkDistance(units.Distance(km) * units.Kilometre) }

func (c *checker) date(t time.Time) string { return units.MarkDay(t.In(c.Zone)) }

// midnight is the begin of a day of the depot.
func (c *checker) midnight(year int, month time.Month, day int) time.Time {
	return time.Date(year, month, day, 0, 0, 0, 0, c.Zone)
}

// line is a line of evidence without a source of its own.
func line(format string, args ...any) models.Evidence {
	return models.Evidence{Text: fmt.Sprintf(format, args...)}
}

// policyLine is the evidence that a setting of the fleet asks for something.
func policyLine(format string, args ...any) models.Evidence {
	return models.Evidence{Text: fmt.Sprintf(format, args...), Source: "policy"}
}

// practice is evidence with the source of a fact of the trade.
func practice(source, format string, args ...any) models.Evidence {
	return models.Evidence{Text: fmt.Sprintf(format, args...), Source: source}
}

// word is a name of the code in plain letters.
func word(s string) string { return strings.ReplaceAll(s, "_", " ") }

// by is who did something, where it is known.
func by(person string) string {
	if person == "" {
		return ""
	}
	return " by " + person
}

// said is an observation in the words of the yard.
func said(o models.Observation) string {
	s := word(string(o.Code))
	if o.Count > 0 {
		s += fmt.Sprintf(", %d counted", o.Count)
	}
	if o.Direction != "" {
		s += ", " + o.Direction
	}
	if o.Place != "" {
		s += ", " + word(o.Place)
	}

	if o.Size > 0 {
		s += ", " + units.MarkSmall(o.Size)
	}
	if o.Note != "" {
		s += " (" + o.Note + ")"
	}

	return s
}
