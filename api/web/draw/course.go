package draw

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/units"
	"rimledger/models/vibration"
)

// Course is a shake as a driver reported it, strength against speed, with the speeds at
// which one push and two pushes of the wheel a turn meet wheel hop below it, in the units
// of its view box. A table beside it has the same numbers.
type Course struct {
	Width, Height float64
	Left, Right   float64 // ends of the axis of speed
	Base          float64 // where that axis lies
	Speeds        []courseMark
	Levels        []courseMark
	Bands         []courseBand
	Hops          []courseHop
	Unit          string // of speed
	Rows          []CourseRow
	Alt           string
}

type courseMark struct {
	At    float64
	Label string
}

// courseBand is a band of speeds: a shape that rises to where the shake is worst.
type courseBand struct {
	Points string
	Worst  *dot
	Known  bool // how strong it is
}

// courseHop is the speeds at which an order of the wheel meets wheel hop.
type courseHop struct {
	X, Y, Width, Height float64
	TextY               float64
	Class, Text         string
}

// CourseRow is one band of speeds in words.
type CourseRow struct{ Speeds, Strength, Turns, Meets string }

// Measures of the drawing. It is narrow, so that its words stay readable on a phone.
const (
	courseWidth = 340.0
	courseLeft  = 46.0
	courseTop   = 14.0
	courseStep  = 26.0 // from one strength to the next
	courseHopY  = 34.0 // from the axis to the first order
	courseHop1  = 32.0 // from one order to the next
)

// NewCourse lays out the bands of r; nil if no speed was given.
func NewCourse(r *vibration.Reading, u units.Style) *Course {
	if r == nil || len(r.Bands) == 0 {
		return nil
	}

	word, per := say.SpeedUnit(u)
	strengths := models.ShakeStrengths
	c := &Course{Width: courseWidth, Left: courseLeft, Right: courseWidth - 12, Unit: word,
		Base: courseTop + courseStep*float64(len(strengths))}
	c.Height = c.Base + courseHopY + 2*courseHop1

	most := max(r.HopOrder1.Hi, 100)
	for _, b := range r.Bands {
		most = max(most, b.FromKMH, b.WorstKMH, b.ToKMH)
	}
	top := math.Ceil(most/per/20) * 20 // in the reader's unit
	x := func(kmh float64) float64 { return round1(c.Left + kmh/per/top*(c.Right-c.Left)) }

	for v := 0.0; v <= top; v += 20 {
		c.Speeds = append(c.Speeds, courseMark{x(v * per), u.WriteNumber(v, 0)})
	}
	for i, s := range strengths {
		c.Levels = append(c.Levels, courseMark{c.Base - courseStep*float64(i+1), s})
	}

	for _, b := range r.Bands {
		c.Bands = append(c.Bands, c.shape(b.SpeedBand, x))
		c.Rows = append(c.Rows, courseRow(b, u))
	}

	c.addHop(r.HopOrder1, "order-1", "one push a turn meets", x, u)
	c.addHop(r.HopOrder2, "order-2", "two pushes a turn meet", x, u)
	c.Alt = c.alt()
	return c
}

// shape draws one band. One whose strength is not known is drawn as high as a clear one,
// in outline.
func (c *Course) shape(b vibration.SpeedBand, x func(float64) float64) courseBand {
	level := slices.Index(models.ShakeStrengths, b.Strength)
	out := courseBand{Known: level >= 0}
	if !out.Known {
		level = slices.Index(models.ShakeStrengths, "clear")
	}
	y := c.Base - courseStep*float64(level+1)

	known := slices.DeleteFunc([]float64{b.FromKMH, b.WorstKMH, b.ToKMH}, func(v float64) bool { return v == 0 })
	from, to := x(slices.Min(known)), x(slices.Max(known))
	peak := []dot{{from, y}, {to, y}}
	if b.WorstKMH > 0 {
		peak = []dot{{x(b.WorstKMH), y}}
		out.Worst = &peak[0]
	}

	var points []string
	for _, p := range slices.Concat([]dot{{from, c.Base}}, peak, []dot{{to, c.Base}}) {
		points = append(points, fmt.Sprintf("%g,%g", p.X, p.Y))
	}
	out.Points = strings.Join(points, " ")
	return out
}

// addHop adds the speeds at which an order meets wheel hop.
func (c *Course) addHop(b vibration.Band, class, pushes string, x func(float64) float64, u units.Style) {
	_, per := say.SpeedUnit(u)
	y := c.Base + courseHopY + courseHop1*float64(len(c.Hops))
	from, to := x(b.Lo), min(x(b.Hi), c.Right)
	c.Hops = append(c.Hops, courseHop{
		X: from, Y: y, Width: round1(to - from), Height: 9, TextY: y + 21, Class: class,
		Text: fmt.Sprintf("%s wheel hop: %s to %s", pushes, u.WriteNumber(b.Lo/per, 0), u.WriteSpeed(b.Hi)),
	})
}

// courseRow says what a wheel does in a band.
func courseRow(b vibration.BandReading, u units.Style) CourseRow {
	row := CourseRow{
		Speeds:   say.SpeedBandText(models.SpeedBand{FromKMH: b.FromKMH, WorstKMH: b.WorstKMH, ToKMH: b.ToKMH}, u),
		Strength: b.Strength,
		Turns:    u.WriteNumber(b.FirstHz, 1),
	}
	if row.Strength == "" {
		row.Strength = "not known"
	}

	switch {
	case b.HopByOne && b.HopByTwo:
		row.Meets = "one push and two pushes a turn"
	case b.HopByOne:
		row.Meets = "one push a turn"
	case b.HopByTwo:
		row.Meets = "two pushes a turn"
	default:
		row.Meets = "no"
	}
	return row
}

// alt says in words what the drawing shows.
func (c *Course) alt() string {
	var parts []string
	for _, r := range c.Rows {
		parts = append(parts, fmt.Sprintf("%s, strength %s", r.Speeds, r.Strength))
	}
	for _, h := range c.Hops {
		parts = append(parts, h.Text)
	}
	return "How strong the shake is at which speed. " + strings.Join(parts, "; ")
}
