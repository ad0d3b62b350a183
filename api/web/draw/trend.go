package draw

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"rimledger/api/web/say"
	"rimledger/models/fleet"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Trend is the shallowest depth of a tire over its tread life: the curve that
// static/trend.js draws, and the same numbers for a table.
type Trend struct {
	Data  trendData
	Alt   string
	Rows  []trendRow  // what was read, and where the tire went, oldest first
	Ahead []trendStep // when each depth on the way is reached
	// What the legend has to explain.
	Doubtful, Forecast, Moved bool
}

// trendData is the curve in the person's units, the way that goes farther down
// with its bands. Axes are by distance run since the first reading, where that
// is known, and by date.
type trendData struct {
	Depth    string       `json:"depth"`    // unit of depths: mm, or 32nds of an inch
	Travel   string       `json:"travel"`   // unit of distances: km or mi
	Limits   []trendLimit `json:"limits"`   // the legal minimum and the pull point
	Date     trendAxis    `json:"date"`     // x in ms since 1970, on the depot's clock
	Distance *trendAxis   `json:"distance"` // x in Travel; nil where it is not known
}

type trendLimit struct {
	Name  string  `json:"name"`
	Legal bool    `json:"legal"`
	At    float64 `json:"at"`
}

type trendAxis struct {
	Read   []trendDot   `json:"read"`
	Line   [][2]float64 `json:"line"`   // the estimate after each reading, and now
	Median [][2]float64 `json:"median"` // from now on
	Band80 [][3]float64 `json:"band80"` // x, least and greatest depth
	Band90 [][3]float64 `json:"band90"`
	Turns  []trendTurn  `json:"turns"`
	Now    *float64     `json:"now"` // nil where nothing is forecast
	End    float64      `json:"end"`
}

type trendDot struct {
	At       [2]float64 `json:"at"`
	Text     string     `json:"text"`
	Doubtful bool       `json:"doubtful"`
}

type trendTurn struct {
	X    float64 `json:"x"`
	Text string  `json:"text"`
}

// trendRow is a reading or, where Text alone is set, a change of place.
type trendRow struct{ Day, Ran, Read, Estimate, Text string }

type trendStep struct{ Depth, Day, Day80, Day90, Ran, Ran80, Ran90 string }

// trendScale converts the values of the models to the units of the axes.
type trendScale struct {
	units.Style
	now time.Time // on the depot's clock
}

func (s trendScale) depth(mm float64) float64 {
	if s.Depth == units.In32 {
		return round(units.LengthFromMillimetres(mm).ThirtySeconds(), 2)
	}
	return round(mm, 2)
}

func (s trendScale) travel(km float64) float64 {
	if s.Distance == units.Mi {
		return round(units.DistanceFromKilometres(km).Miles(), 0)
	}
	return round(km, 0)
}

func (s trendScale) date(t time.Time) float64 {
	_, offset := t.In(s.now.Location()).Zone()
	return float64(t.UnixMilli() + int64(offset)*1000)
}

func (s trendScale) day(t time.Time) string {
	return s.WriteDate(t.In(s.now.Location()))
}

func (s trendScale) ran(km float64) string {
	return s.WriteDistance(units.DistanceFromKilometres(km))
}

func round(v float64, places int) float64 {
	p := math.Pow10(places)
	return math.Round(v*p) / p
}

// NewTrend draws one reading with a forecast, or two readings, at least; else it
// returns nil.
func NewTrend(o fleet.Outlook, u units.Style, now time.Time) *Trend {
	way := further(o)
	if len(o.Track) < 2 && (len(o.Track) == 0 || way == nil) {
		return nil
	}

	s := trendScale{u, now}
	t := &Trend{
		Data:     trendData{Depth: "mm", Travel: "km", Date: s.byDate(o, way)},
		Alt:      trendAlt(o, s),
		Rows:     s.rows(o),
		Forecast: way != nil,
		Moved:    len(o.Turns) > 0,
	}

	if u.Depth == units.In32 {
		t.Data.Depth = "32nds of an inch"
	}
	if u.Distance == units.Mi {
		t.Data.Travel = "mi"
	}

	for _, p := range o.Track {
		t.Doubtful = t.Doubtful || len(p.Doubts) > 0
	}

	for _, l := range []struct {
		name string
		a    *fleet.Ahead
	}{{"Pull point", o.Pull}, {"Legal minimum", o.Legal}} {
		if l.a != nil {
			t.Data.Limits = append(
				t.Data.Limits,
				trendLimit{l.name + " " + u.WriteDepth(l.a.Limit), l.a == o.Legal, s.depth(l.a.Limit.Millimetres())},
			)
		}
	}

	// An axis by distance needs the distance of every reading.
	t.Data.Distance = s.byDistance(o, way)
	if way != nil {
		t.Ahead = s.steps(way)
	}

	return t
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

// horizon is how many days ahead the curve goes: to the late end of the 80 % interval, but
// not so far that the past is squeezed into a corner. It always reaches the last limit, so
// that both crossings are seen.
func horizon(a *fleet.Ahead, first, now time.Time) float64 {
	ahead := min(a.Days.Hi80.Value, 1.6*a.Days.Median.Value+30)
	past := now.Sub(first).Hours() / 24
	return max(min(ahead, 4*past+180), 1.1*a.Days.Median.Value, 14)
}

func (s trendScale) byDate(o fleet.Outlook, way *fleet.Ahead) trendAxis {
	first, last := o.Track[0].At, o.Track[len(o.Track)-1].At
	x := axisOf{scale: s, end: s.date(last),
		read: func(p fleet.Tracked) (float64, bool) { return s.date(p.At), true },
		turn: func(t fleet.Turn) (float64, bool) { return s.date(t.At), true }}
	if way != nil {
		x.now, x.ahead = s.date(s.now), func(p fleet.Step) wear.Span { return p.Days }
		x.along = func(days float64) float64 { return x.now + days*24*3600*1000 }
		x.end = x.along(horizon(way, first, s.now))
	}
	return x.draw(o, way)
}

// byDistance is the same over what the tire ran; nil where some of it is not known.
func (s trendScale) byDistance(o fleet.Outlook, way *fleet.Ahead) *trendAxis {
	first, last := o.Track[0], o.Track[len(o.Track)-1]
	if !first.RanKnown || !last.RanKnown || last.RanKM <= 0 && way == nil ||
		way != nil && (!o.NowKnown || way.Distance.Median.Beyond) {
		return nil
	}
	x := axisOf{scale: s, end: s.travel(last.RanKM),
		read: func(p fleet.Tracked) (float64, bool) { return s.travel(p.RanKM), p.RanKnown },
		turn: func(t fleet.Turn) (float64, bool) { return s.travel(t.RanKM), t.RanKnown }}

	if way != nil {
		x.now, x.ahead = s.travel(o.NowKM), func(p fleet.Step) wear.Span { return p.Distance }
		x.along = func(km float64) float64 { return s.travel(o.NowKM + km) }
		x.end = x.along(horizon(way, first.At, s.now) * way.Distance.Median.Value / max(way.Days.Median.Value, 1))
	}
	a := x.draw(o, way)

	return &a
}

// axisOf draws a track along one axis.
type axisOf struct {
	scale trendScale
	read  func(fleet.Tracked) (x float64, known bool)
	turn  func(fleet.Turn) (x float64, known bool)
	ahead func(fleet.Step) wear.Span
	along func(fromNow float64) float64
	now   float64
	end   float64
}

func (x axisOf) draw(o fleet.Outlook, way *fleet.Ahead) trendAxis {
	a := trendAxis{End: x.end}
	for _, p := range o.Track {
		at, known := x.read(p)
		if !known {
			continue
		}
		d, _ := p.Reading.Min()
		a.Read = append(
			a.Read,
			trendDot{[2]float64{at, x.scale.depth(d.Value.Millimetres())}, readText(p, x.scale), len(p.Doubts) > 0},
		)

		if p.Known {
			a.Line = append(a.Line, [2]float64{at, x.scale.depth(p.DepthMM)})
		}
	}

	for _, t := range o.Turns {
		if at, known := x.turn(t); known {
			a.Turns = append(a.Turns, trendTurn{at, turnText(t)})
		}
	}

	if way == nil {
		return a
	}

	// The forecast begins at today's estimate, not at the last reading.
	start := [2]float64{x.now, x.scale.depth(way.DepthMM)}
	a.Now, a.Line = &x.now, append(a.Line, start)

	path := func(end func(wear.Span) wear.Bound) [][2]float64 {
		out := [][2]float64{start}
		for _, p := range way.Way {
			out = append(out, [2]float64{x.along(end(x.ahead(p)).Value), x.scale.depth(p.DepthMM)})
		}
		return out
	}

	a.Median = until(path(func(s wear.Span) wear.Bound { return s.Median }), x.end)
	a.Band80 = between(
		path(func(s wear.Span) wear.Bound { return s.Lo80 }),
		path(func(s wear.Span) wear.Bound { return s.Hi80 }),
		x.end,
	)

	a.Band90 = between(
		path(func(s wear.Span) wear.Bound { return s.Lo90 }),
		path(func(s wear.Span) wear.Bound { return s.Hi90 }),
		x.end,
	)

	return a
}

// depthAt is how deep a path that goes down is at x. Past its end it stays at
// the limit; where it falls at once, it is at the foot of the fall.
func depthAt(path [][2]float64, x float64) float64 {
	i := len(path) - 1
	for i > 0 && path[i][0] > x {
		i--
	}
	if i == len(path)-1 || x <= path[i][0] {
		return path[i][1]
	}
	a, b := path[i], path[i+1]
	return round(a[1]+(b[1]-a[1])*(x-a[0])/(b[0]-a[0]), 2)
}

// until cuts a path off at x = end.
func until(path [][2]float64, end float64) [][2]float64 {
	for i, p := range path {
		if p[0] > end {
			return append(slices.Clone(path[:i]), [2]float64{end, depthAt(path, end)})
		}
	}
	return path
}

// between is what lies between the early and the late path to each depth, up to
// end: at every x where either bends, the least and the greatest depth.
func between(early, late [][2]float64, end float64) [][3]float64 {
	var xs []float64
	for _, p := range slices.Concat(early, late, [][2]float64{{end}}) {
		if p[0] <= end {
			xs = append(xs, p[0])
		}
	}
	slices.Sort(xs)
	var out [][3]float64
	for _, x := range slices.Compact(xs) {
		out = append(out, [3]float64{x, depthAt(early, x), depthAt(late, x)})
	}
	return out
}

func readText(p fleet.Tracked, s trendScale) string {
	d, _ := p.Reading.Min()
	text := s.day(p.At) + ": " + s.WriteTypedDepth(d.Value, d.Text) + " at " + string(p.Reading.Position)
	if len(p.Doubts) > 0 {
		text += ", doubtful"
	}
	return text
}

func turnText(t fleet.Turn) string {
	switch {
	case t.Position == "":
		return "taken off"
	case t.Other:
		return "to " + string(t.Position) + " of another vehicle"
	default:
		return "to " + string(t.Position)
	}
}

func (s trendScale) rows(o fleet.Outlook) []trendRow {
	var out []trendRow
	turns := o.Turns

	move := func(t fleet.Turn) {
		row := trendRow{Day: s.day(t.At), Text: turnText(t)}
		if t.RanKnown {
			row.Ran = s.ran(t.RanKM)
		}
		out = append(out, row)
	}

	// Changes of place come before the first reading after them.
	for _, p := range o.Track {
		for len(turns) > 0 && turns[0].At.Before(p.At) {
			move(turns[0])
			turns = turns[1:]
		}

		d, _ := p.Reading.Min()
		row := trendRow{
			Day:  s.day(p.At),
			Read: s.WriteTypedDepth(d.Value, d.Text),
			Text: "at " + string(p.Reading.Position),
		}

		if p.RanKnown {
			row.Ran = s.ran(p.RanKM)
		}
		if p.Known {
			row.Estimate = s.WriteDepth(units.LengthFromMillimetres(max(round(p.DepthMM, 1), 0)))
		}
		if len(p.Doubts) > 0 {
			row.Text += ", doubtful: " + s.Render(strings.Join(p.Doubts, "; "))
		}

		out = append(out, row)
	}

	for _, t := range turns {
		move(t)
	}
	return out
}

func (s trendScale) steps(way *fleet.Ahead) []trendStep {
	km := func(b wear.Bound) string {
		if b.Beyond {
			return "not known"
		}
		return s.ran(b.Value)
	}
	kmSpan := func(lo, hi wear.Bound) string { return km(lo) + " to " + km(hi) }
	daySpan := func(lo, hi wear.Bound) string { return day(s.Style, s.now, lo) + " to " + day(s.Style, s.now, hi) }

	var out []trendStep
	for _, p := range way.Way {
		d, k := p.Days, p.Distance
		out = append(out, trendStep{
			Depth: s.WriteDepth(units.LengthFromMillimetres(max(round(p.DepthMM, 1), 0))),
			Day:   day(s.Style, s.now, d.Median),
			Day80: daySpan(d.Lo80, d.Hi80),
			Day90: daySpan(d.Lo90, d.Hi90),
			Ran:   km(k.Median),
			Ran80: kmSpan(k.Lo80, k.Hi80),
			Ran90: kmSpan(k.Lo90, k.Hi90),
		})
	}

	return out
}

func trendAlt(o fleet.Outlook, s trendScale) string {
	first, last := o.Track[0], o.Track[len(o.Track)-1]
	a, _ := first.Reading.Min()

	b, _ := last.Reading.Min()
	return fmt.Sprintf(
		"Shallowest depth over %s, from %s on %s to %s on %s, with the estimate and the way to the limit; the same "+
			"numbers are in the table below.",
		say.Plural(len(o.Track), "reading", "readings"),
		s.WriteTypedDepth(a.Value, a.Text),
		s.day(first.At),
		s.WriteTypedDepth(b.Value, b.Text),
		s.day(last.At),
	)
}
