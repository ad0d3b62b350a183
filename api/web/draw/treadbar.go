package draw

import (
	"fmt"
	"strconv"
	"strings"

	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/units"
)

// The tread bar: the grooves of a tire as bars that hang from one line, as long
// as the rubber that is left is deep, with the legal line and the pull line
// across them. Uneven wear is seen as a crooked edge.

// TreadBar is a tread bar laid out, in the units of its view box.
type TreadBar struct {
	Width, Height float64
	Top           float64 // the line that the bars hang from
	Right         float64 // where that line ends
	Grooves       []grooveBar
	Legal, Pull   *float64 // where the lines lie; nil if there is none
	LegalLabel    string
	PullLabel     string
	LabelY        float64
	Alt           string
}

// grooveBar is one groove.
type grooveBar struct {
	X, Width float64
	Depth    float64 // length of the bar: rubber left at the shallowest station
	Most     float64 // the same at the deepest station; equal to Depth with one station
	New      float64 // where the groove ended when new; 0 if not known
	Text     string  // as typed
	Middle   float64
	State    string // ok, pull, legal: which line it is at or above; none if not read
}

// Measures of the drawing.
const (
	barWidth   = 18.0
	barGap     = 5.0
	barMargin  = 3.0
	barTop     = 4.0
	barLongest = 62.0
	barText    = 14.0
)

// BarInput is what a tread bar shows.
type BarInput struct {
	Position models.Position
	Depths   [][]*models.Depth
	Stations []models.Station // where around the tire they were read; empty: evenly spaced
	New      []units.Length
	Legal    units.Length // 0: no number in force
	Pull     units.Length // 0: none
	Urgency  models.Urgency
	Units    units.Style
}

func NewTreadBar(in BarInput) TreadBar {
	n := len(in.Depths)
	if n == 0 {
		n = max(len(in.New), 1)
	}

	longest := max(in.Legal, in.Pull, units.Length(1))
	for _, d := range in.New {
		longest = max(longest, d)
	}

	for _, g := range in.Depths {
		for _, d := range g {
			if d != nil {
				longest = max(longest, d.Value)
			}
		}
	}

	// The longest depth fills the drawing, so that grooves can be compared.
	scale := func(l units.Length) float64 { return round1(float64(l) / float64(longest) * barLongest) }

	b := TreadBar{Top: barTop, Height: barTop + barLongest + barText, LabelY: barTop + barLongest + barText - 3}
	for i := range n {
		h := grooveBar{X: barMargin + float64(i)*(barWidth+barGap), Width: barWidth, State: "none", Text: "–"}
		h.Middle = h.X + barWidth/2
		if i < len(in.New) && (len(in.New) == n || i == 0) {
			h.New = scale(in.New[i])
		}

		if i < len(in.Depths) {
			least, most := extremes(in.Depths[i])
			if least != nil {
				h.Depth, h.Most = scale(least.Value), scale(most.Value)
				h.Text, h.State = shortDepth(*least, in.Units), grooveState(least.Value, in.Legal, in.Pull)
			}
		}

		b.Grooves = append(b.Grooves, h)
	}

	b.Right = barMargin*2 + float64(n)*barWidth + float64(n-1)*barGap
	b.Width = b.Right

	// The lines go across all grooves, at their own depth.
	if in.Legal > 0 {
		y := barTop + scale(in.Legal)
		b.Legal, b.LegalLabel = &y, in.Units.WriteDepth(in.Legal)
	}

	if in.Pull > 0 {
		y := barTop + scale(in.Pull)
		b.Pull, b.PullLabel = &y, in.Units.WriteDepth(in.Pull)
	}
	b.Alt = barAlt(in, b)
	return b
}

func round1(f float64) float64 { return float64(int(f*10+0.5)) / 10 }

// extremes returns the shallowest and the deepest station that was read, nil if none was.
func extremes(stations []*models.Depth) (least, most *models.Depth) {
	for _, d := range stations {
		if d == nil {
			continue
		}
		if least == nil || d.Value < least.Value {
			least = d
		}
		if most == nil || d.Value > most.Value {
			most = d
		}
	}
	return least, most
}

// grooveState compares exactly: a depth at a line is at it.
func grooveState(d, legal, pull units.Length) string {
	switch {
	case legal > 0 && d <= legal:
		return "legal"
	case pull > 0 && d <= pull:
		return "pull"
	default:
		return "ok"
	}
}

// shortDepth is a depth in the reader's unit without its name, for a narrow place.
func shortDepth(d models.Depth, u units.Style) string {
	own, _, _ := strings.Cut(u.WriteTypedDepth(d.Value, d.Text), " ")
	return strings.TrimSuffix(own, "/32")
}

func (in BarInput) typed(d *models.Depth) string { return in.Units.WriteTypedDepth(d.Value, d.Text) }

// barAlt says in words what the drawing shows.
func barAlt(in BarInput, b TreadBar) string {
	var parts []string

	names := say.GrooveNames(len(b.Grooves))
	for i := range b.Grooves {
		if i >= len(in.Depths) {
			continue
		}

		least, most := extremes(in.Depths[i])
		switch {
		case least == nil:
			parts = append(parts, names[i]+" not read")
		case least.Value == most.Value:
			parts = append(parts, names[i]+" "+in.typed(least))
		default:
			parts = append(parts, names[i]+" "+in.typed(least)+" to "+in.typed(most))
		}
	}

	if len(parts) == 0 {
		parts = []string{"not measured yet"}
	}
	s := fmt.Sprintf("%s: %s", in.Position, strings.Join(parts, ", "))
	if in.Legal > 0 {
		s += "; legal minimum " + b.LegalLabel
	}

	if in.Pull > 0 {
		s += "; pull point " + b.PullLabel
	}
	if in.Urgency != models.None {
		s += "; " + in.Urgency.String()
	}

	return s
}

// Strip is the tread of the last reading unrolled: stations left to right from
// the valve, one line a groove, hanging as in the tread bar.
type Strip struct {
	Width, Height float64
	Top           float64
	Lines         []stripLine
	Stations      []stripMark
	Legal, Pull   *float64
	Alt           string
}

type stripLine struct {
	Name   string
	Class  string // groove-1 and so on, differ by dash as well as by color
	Points string
	Dots   []dot
}

type stripMark struct {
	X, Y  float64 // of the label
	Label string
	Valve bool
}

type dot struct{ X, Y float64 }

// degrees returns where around the tire each of n stations lies.
func (in BarInput) degrees(n int) []float64 {
	out := make([]float64, n)
	for k := range out {
		out[k] = float64(k) * 360 / float64(n)
		if len(in.Stations) == n {
			out[k] = in.Stations[k].Deg
		}
	}
	return out
}

// NewStrip returns nil for fewer than three stations: nothing can be said of
// the way around.
func NewStrip(in BarInput) *Strip {
	stations := 0
	for _, g := range in.Depths {
		stations = max(stations, len(g))
	}

	if stations < 3 {
		return nil
	}

	const left, step, tall = 30.0, 60.0, 120.0
	top := 22.0
	if len(in.Stations) == stations {
		top = 36 // places that lie close have their labels in two rows
	}

	// Stations lie at their real angles; labels that would overlap move up.
	degrees := in.degrees(stations)
	across := func(k int) float64 { return round1(left + step*float64(stations)*degrees[k]/360) }

	longest := max(in.Legal, in.Pull, 1)
	for _, g := range in.Depths {
		if _, most := extremes(g); most != nil {
			longest = max(longest, most.Value)
		}
	}

	scale := func(l units.Length) float64 { return round1(top + float64(l)/float64(longest)*tall) }
	s := &Strip{Width: max(left*2+step*float64(stations-1), across(stations-1)+left), Height: top + tall + 12, Top: top}
	for k := range stations {
		y := top - 9
		if k > 0 && across(k)-across(k-1) < 30 && s.Stations[k-1].Y == y {
			y -= 14
		}
		s.Stations = append(s.Stations, stripMark{X: across(k), Y: y, Valve: degrees[k] == 0,
			Label: strconv.Itoa(int(degrees[k]+0.5)) + "°"})
	}

	// One line a groove; a station that was not read leaves a gap.
	names := say.GrooveNames(len(in.Depths))
	for g, row := range in.Depths {
		line := stripLine{Name: names[g], Class: "groove-" + strconv.Itoa(g%4+1)}

		var at []string
		for k, d := range row {
			if d == nil {
				continue
			}
			p := dot{across(k), scale(d.Value)}
			line.Dots = append(line.Dots, p)
			at = append(at, fmt.Sprintf("%g,%g", p.X, p.Y))
		}

		line.Points = strings.Join(at, " ")
		s.Lines = append(s.Lines, line)
	}

	if in.Legal > 0 {
		y := scale(in.Legal)
		s.Legal = &y
	}
	if in.Pull > 0 {
		y := scale(in.Pull)
		s.Pull = &y
	}

	b := TreadBar{
		Grooves:    make([]grooveBar, len(in.Depths)),
		LegalLabel: in.Units.WriteDepth(in.Legal),
		PullLabel:  in.Units.WriteDepth(in.Pull),
	}
	s.Alt = fmt.Sprintf("Unrolled tread, %d stations clockwise from the valve. %s", stations, barAlt(in, b))

	return s
}
