package web

import (
	"fmt"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// trendChart is the shallowest depth of a tire over time: what was read, what is
// estimated, and the way to the limit with its bands.
type trendChart struct {
	Width, Height  float64
	Left, Right    float64
	Top, Bottom    float64
	Dots           []trendDot
	Estimate       string // polyline through the estimates at the readings
	Median         string // and on to the limit
	Band80, Band90 string // polygons; empty where nothing is forecast
	Legal, Pull    *float64
	Now            *float64 // x of today
	Grid           []trendMark
	From, To       string
	Alt            string
	Outliers       bool
}

type trendDot struct {
	X, Y    float64
	Label   string
	Outlier bool
}

type trendMark struct {
	Y     float64
	Label string
}

// drawTrend draws one reading with a forecast, or two readings, at least; else it
// returns nil. The way to the right is time.
func drawTrend(o fleet.Outlook, u units.Set, now time.Time) *trendChart {
	way := further(o)
	if len(o.Track) < 2 && (len(o.Track) == 0 || way == nil) {
		return nil
	}
	c := &trendChart{Left: 62, Right: 622, Top: 12, Bottom: 182, Width: 638, Height: 206}
	first := o.Track[0].At
	last := o.Track[len(o.Track)-1].At
	end := last
	if way != nil {
		end = horizon(way, first, now)
	}
	ceiling, step := c.ceiling(o, u)
	y := func(mm float64) float64 {
		return round1(c.Bottom - min(max(mm, 0), ceiling)/ceiling*(c.Bottom-c.Top))
	}
	x := func(t time.Time) float64 {
		share := t.Sub(first).Hours() / max(end.Sub(first).Hours(), 1)
		return round1(c.Left + min(max(share, 0), 1)*(c.Right-c.Left))
	}
	for l := units.Length(0); l.Millimetres() <= ceiling+1e-9; l += step {
		c.Grid = append(c.Grid, trendMark{y(l.Millimetres()), units.FormatLength(l, u.Depth)})
	}
	var line []string
	for _, p := range o.Track {
		d, _ := p.Reading.Min()
		label := p.At.Format(time.DateOnly) + ": " + d.Text
		if len(p.Doubts) > 0 {
			label += ", doubtful: " + strings.Join(p.Doubts, "; ")
			c.Outliers = true
		}
		c.Dots = append(c.Dots, trendDot{x(p.At), y(d.Value.Millimetres()), label, len(p.Doubts) > 0})
		if p.Known {
			line = append(line, fmt.Sprintf("%g,%g", x(p.At), y(p.DepthMM)))
		}
	}
	c.Estimate = strings.Join(line, " ")
	if way != nil {
		c.ahead(way, now, x, y)
	}
	c.limits(o, y)
	c.From, c.To = first.Format(time.DateOnly), end.Format(time.DateOnly)
	c.Alt = trendAlt(o)
	return c
}

// further is the way that leads farther down, with something to draw.
func further(o fleet.Outlook) *fleet.Ahead {
	var out *fleet.Ahead
	for _, a := range []*fleet.Ahead{o.Pull, o.Legal} {
		if a != nil && len(a.Way) > 0 && !a.Days.Median.Beyond && (out == nil || a.Limit < out.Limit) {
			out = a
		}
	}
	return out
}

// horizon is the right end of the drawing: the late end of the 80 % interval, but
// not so far that the past is squeezed into a corner.
func horizon(a *fleet.Ahead, first, now time.Time) time.Time {
	ahead := min(a.Days.Hi80.Value, 1.6*a.Days.Median.Value+30)
	past := now.Sub(first).Hours() / 24
	ahead = max(min(ahead, 4*past+180), 14)
	return now.Add(time.Duration(ahead * 24 * float64(time.Hour)))
}

// ceiling returns the depth of the upper edge in mm, on the grid, and its step.
func (c *trendChart) ceiling(o fleet.Outlook, u units.Set) (mm float64, step units.Length) {
	step = 2 * units.Millimetre
	if u.Depth == units.In32 {
		step = 4 * units.ThirtySecond
	}
	longest := step
	for _, p := range o.Track {
		d, _ := p.Reading.Min()
		longest = max(longest, d.Value, units.LengthFromMillimetres(p.DepthMM))
	}
	for _, a := range []*fleet.Ahead{o.Pull, o.Legal} {
		if a != nil {
			longest = max(longest, a.Limit)
		}
	}
	return ((longest + step - 1) / step * step).Millimetres(), step
}

// ahead draws the median and the bands from today on: at each depth, when it is
// reached at the early and at the late end.
func (c *trendChart) ahead(a *fleet.Ahead, now time.Time, x func(time.Time) float64, y func(float64) float64) {
	at := func(b wear.Bound) float64 {
		return x(now.Add(time.Duration(min(b.Value, 36500) * 24 * float64(time.Hour))))
	}
	today := x(now)
	c.Now = &today
	start := fmt.Sprintf("%g,%g", today, y(a.DepthMM))
	median := []string{start}
	early80, early90 := []string{start}, []string{start}
	var late80, late90 []string
	for _, s := range a.Way {
		dot := func(b wear.Bound) string { return fmt.Sprintf("%g,%g", at(b), y(s.DepthMM)) }
		median = append(median, dot(s.Days.Median))
		early80, early90 = append(early80, dot(s.Days.Lo80)), append(early90, dot(s.Days.Lo90))
		late80, late90 = append([]string{dot(s.Days.Hi80)}, late80...), append([]string{dot(s.Days.Hi90)}, late90...)
	}
	c.Median = strings.Join(median, " ")
	c.Band80 = strings.Join(append(early80, late80...), " ")
	c.Band90 = strings.Join(append(early90, late90...), " ")
}

func (c *trendChart) limits(o fleet.Outlook, y func(float64) float64) {
	for _, l := range []struct {
		a  *fleet.Ahead
		to **float64
	}{{o.Legal, &c.Legal}, {o.Pull, &c.Pull}} {
		if l.a != nil {
			v := y(l.a.Limit.Millimetres())
			*l.to = &v
		}
	}
}

func trendAlt(o fleet.Outlook) string {
	first, last := o.Track[0], o.Track[len(o.Track)-1]
	a, _ := first.Reading.Min()
	b, _ := last.Reading.Min()
	return fmt.Sprintf("Shallowest depth over %s, from %s on %s to %s on %s, with the estimate and the way to the limit; the figures stand beside it.",
		plural(len(o.Track), "reading", "readings"), a.Text, first.At.Format(time.DateOnly), b.Text, last.At.Format(time.DateOnly))
}

// outlookPart is what the vehicle's place and the tire show of an outlook.
type outlookPart struct {
	Trend  *trendChart
	Depth  string      // now, with its doubt
	Rate   string      // per 1000 km and in 32nds per 10,000 mi
	Prior  string      // what the estimate began with
	Limits []aheadLine // when each limit is reached
	Doubts []string    // why not to believe it; empty: nothing speaks against
	causesPart
}

type aheadLine struct{ Name, Text string }

func newOutlook(o fleet.Outlook, u units.Set, now time.Time) outlookPart {
	p := outlookPart{Trend: drawTrend(o, u, now), causesPart: newCauses(o.Account)}
	for _, l := range []struct {
		name string
		a    *fleet.Ahead
	}{{"Pull point", o.Pull}, {"Legal minimum", o.Legal}} {
		if l.a != nil {
			p.Limits = append(p.Limits, aheadLine{l.name + " " + units.FormatLength(l.a.Limit, u.Depth), reaching(l.a.Forecast, u, now)})
		}
	}
	a := o.Pull
	if a == nil {
		a = o.Legal
	}
	if s := o.State.MinWear; s != nil {
		p.Prior = begins(s.Prior.Source)
	}
	if a == nil {
		return p
	}
	p.Depth = fmt.Sprintf("%.1f mm, give or take %.1f mm", a.DepthMM, a.DepthSDMM)
	if u.Depth == units.In32 {
		p.Depth = fmt.Sprintf("%.1f/32, give or take %.1f/32", a.DepthMM/units.ThirtySecond.Millimetres(), a.DepthSDMM/units.ThirtySecond.Millimetres())
	}
	if a.RateMM > 0 {
		each := a.Rate32() / a.RateMM
		p.Rate = fmt.Sprintf("%.3f mm each 1000 km (9 times of 10 between %.3f and %.3f), which is %.2f/32 each 10,000 mi (%.2f to %.2f)",
			a.RateMM, a.RateLo90, a.RateHi90, a.Rate32(), a.RateLo90*each, a.RateHi90*each)
	}
	p.Doubts = speaksAgainst(a.Forecast, o.State)
	return p
}

// reaching says when a limit is reached.
func reaching(f wear.Forecast, u units.Set, now time.Time) string {
	km := func(b wear.Bound) string {
		if b.Beyond {
			return "further than can be told"
		}
		return units.FormatDistance(units.DistanceFromKilometres(b.Value), u.Distance)
	}
	switch {
	case f.Reached:
		return "reached"
	case f.Distance.Median.Beyond:
		return "further off than can be told"
	}
	return fmt.Sprintf("in about %s, near %s; 4 times of 5 between %s and %s (%s to %s); 9 times of 10 between %s and %s",
		km(f.Distance.Median), day(now, f.Days.Median), day(now, f.Days.Lo80), day(now, f.Days.Hi80), km(f.Distance.Lo80), km(f.Distance.Hi80),
		day(now, f.Days.Lo90), day(now, f.Days.Hi90))
}

// begins says what an estimate started from.
func begins(s wear.Source) string {
	if s.Embedded {
		return "default: what is usual for such a place, until this fleet has taught better"
	}
	of := map[string]string{"fleet": "of the whole fleet", "class": "on vehicles of this class", "role": "on such axles of this class",
		"design": "of this tread design on such axles"}[s.Level]
	return fmt.Sprintf("learned from %s %s", plural(s.Fitments, "fitment", "fitments"), of)
}

// speaksAgainst says in words why a forecast should not be believed.
func speaksAgainst(f wear.Forecast, t models.TireState) []string {
	var out []string
	if f.PriorOnly {
		out = append(out, "No reading of this fitment says anything about its rate yet: the rate is what is usual. Read it again after some distance.")
	} else if f.TooEarly {
		out = append(out, "Too little wear has been seen for this gauge (2.5 mm with a gauge in 32nds, 1.6 mm with one in tenths): the rate is still mostly what is usual.")
	}
	if f.LackOfFit {
		out = append(out, "The readings do not follow a line within the error of the gauge: the route, load or tire has changed, or readings are mixed up.")
	}
	if f.Suspect {
		out = append(out, "Some readings are suspect: far from what was expected, or deeper than before. Measure again before you rely on the date.")
	}
	return append(out, t.Doubts...)
}
