package assess

import (
	"fmt"
	"strings"
	"time"

	"rimledger/models"
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

// typed is a depth as it was typed, with its unit.
func (c *checker) typed(d models.Depth) string {
	switch {
	case d.Text == "":
		return c.depth(d.Value)
	case strings.HasSuffix(d.Text, "/32"):
		return d.Text + " in"
	}
	return d.Text
}

func (c *checker) depth(l units.Length) string { return units.FormatLength(l, c.Depot.Units.Depth) }

// about writes an estimated depth with one decimal in the depot's unit.
func (c *checker) about(mm float64) string { return units.FormatEstimate(mm, c.Depot.Units.Depth) }

// rate writes a wear rate, given in mm per 1000 km, in the depot's units.
func (c *checker) rate(mm float64) string {
	number, unit := c.rateIn(mm)
	return number + unit
}

// rateWithin writes the rate of a forecast with its interval.
func (c *checker) rateWithin(f wear.Forecast) string {
	number := func(mm float64) string {
		n, _ := c.rateIn(mm)
		return n
	}
	return fmt.Sprintf("%s (90%% interval %s to %s)", c.rate(f.RateMM), number(f.RateLo90), number(f.RateHi90))
}

func (c *checker) rateIn(mm float64) (number, unit string) {
	if c.Depot.Units.Depth == units.In32 {
		return fmt.Sprintf("%.1f/32", wear.Rate32(mm)), " in per 10,000 mi"
	}
	return fmt.Sprintf("%.2f", mm), " mm per 1,000 km"
}

func (c *checker) distance(d units.Distance) string {
	return units.FormatDistance(d, c.Depot.Units.Distance)
}

func (c *checker) speed(kmh float64) string {
	if c.Depot.Units.Distance == units.Mi {
		return fmt.Sprintf("%.0f mph", kmh/units.Mile.Kilometres())
	}
	return fmt.Sprintf("%.0f km/h", kmh)
}

func (c *checker) kilometres(km int) string { return c.distance(units.Distance(km) * units.Kilometre) }

func (c *checker) pressureText(p units.Pressure) string {
	return units.FormatPressure(p, c.Depot.Units.Pressure)
}

func (c *checker) date(t time.Time) string { return t.In(c.Zone).Format(time.DateOnly) }

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
		s += ", " + units.FormatLength(o.Size, units.MM)
	}
	if o.Note != "" {
		s += " (" + o.Note + ")"
	}
	return s
}
