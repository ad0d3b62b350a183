package web

import (
	"fmt"
	"math"
	"strings"

	"rimledger/models/balance"
	"rimledger/models/units"
)

// The dial is the wheel seen from outside with the valve on top: the outer plane
// is the wide ring, the inner plane the narrow one inside it. What the machine
// asks for is an open ring, what is fitted a filled block, what is proposed an
// outlined block; a line from the center shows what is left.

// dial is the drawing laid out, in the units of its view box.
type dial struct {
	Spokes  []string // paths
	Blocked []string
	Marks   []dialMark
	Left    []dialLine
	Alt     string
}

type dialMark struct {
	Kind         string // asked, own, proposed
	X, Y, TX, TY float64
	Turn         float64 // degrees by which a block is turned
	Text         string
}

type dialLine struct {
	Plane  string
	X, Y   float64
	TX, TY float64
	Text   string
}

// Measures of the drawing.
const (
	dialMiddle  = 200.0
	outerRing   = 150.0
	innerRing   = 96.0
	dialScaleTo = 60.0 // length of the line for the largest unbalance as it is
)

// onDial returns where an angle lies on a ring.
func onDial(r, deg float64) (x, y float64) {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	return math.Round((dialMiddle+r*sin)*10) / 10, math.Round((dialMiddle-r*cos)*10) / 10
}

// ringOf is the ring of a plane; places that are not shown lie between the rings.
func ringOf(plane string) float64 {
	switch plane {
	case "inner", "inner_flange":
		return innerRing
	case "band":
		return outerRing - 16
	case "back_band":
		return innerRing + 16
	}
	return outerRing
}

func (f *benchForm) drawDial(p balance.Problem, solved bool, proposed, own []balance.Piece) dial {
	g := f.geometry()
	var d dial
	for _, s := range g.Spokes {
		x1, y1 := onDial(24, s-14)
		x2, y2 := onDial(outerRing-14, s-3)
		x3, y3 := onDial(outerRing-14, s+3)
		x4, y4 := onDial(24, s+14)
		d.Spokes = append(d.Spokes, fmt.Sprintf("M%g %gL%g %gL%g %gL%g %gZ", x1, y1, x2, y2, x3, y3, x4, y4))
	}
	for _, a := range g.Blocked {
		for _, plane := range f.allowed() {
			if a.At == "" || a.At == f.placeOf(plane) {
				d.Blocked = append(d.Blocked, arcPath(ringOf(plane), a.From, a.To))
			}
		}
	}
	var alt []string
	for _, s := range f.shown("shown") {
		at := float64(s.Angle.Normal())
		if s.Mass.Value == 0 { // nothing is asked for, anywhere
			alt = append(alt, s.Plane+" plane asks for nothing")
			continue
		}
		d.mark("asked", ringOf(s.Plane), at, s.Mass.Text)
		alt = append(alt, fmt.Sprintf("%s plane asks for %s at %g°", s.Plane, s.Mass.Text, at))
	}
	kind, pieces := "own", own
	if len(own) == 0 {
		kind, pieces = "proposed", proposed
	}
	for _, w := range pieces {
		at := float64(units.Angle(w.Deg).Normal())
		mass := f.shortMass(w.MassG)
		if kind == "own" {
			mass = w.Weight // as it was written
		}
		d.mark(kind, ringOf(w.Place), at, mass)
		alt = append(alt, fmt.Sprintf("%s %s, %s at %.0f°", kind, mass, planeName(w.Place), at))
	}
	if solved {
		d.residual(f, p, pieces)
	}
	d.Alt = "Wheel seen from outside, valve on top. " + strings.Join(alt, "; ")
	return d
}

// recordedDial draws a job as it stands in the record: without a proposal.
func (f *benchForm) recordedDial() dial {
	p, _, said := f.problem()
	return f.drawDial(p, said == "", nil, f.ownPieces())
}

func (f *benchForm) shortMass(g float64) string {
	return f.units.WriteMass(units.Mass(math.Round(g*100) / 100))
}

// mark adds a mark with its text: what is asked for is written outside its ring,
// before its angle; what is fitted inside, after it: a weight stands where it is asked for.
func (d *dial) mark(kind string, r, deg float64, text string) {
	m := dialMark{Kind: kind, Turn: math.Round(deg), Text: text}
	m.X, m.Y = onDial(r, deg)
	side, beside := 26.0, -12.0
	if kind != "asked" {
		side, beside = -24, 12
	}
	m.TX, m.TY = onDial(r+side, deg+beside)
	d.Marks = append(d.Marks, m)
}

// residual draws what is still heavy in each plane, to the scale of the largest as it is.
func (d *dial) residual(f *benchForm, p balance.Problem, pieces []balance.Piece) {
	left, _, err := balance.Evaluate(f.withOwn(p, pieces), pieces)
	most := math.Max(p.Unbalance.Outer.GMM, p.Unbalance.Inner.GMM)
	if err != nil || most == 0 {
		return
	}
	for _, l := range []struct {
		plane string
		v     balance.Vector
		g     float64
	}{{"outer", left.Unbalance.Outer, left.OuterG}, {"inner", left.Unbalance.Inner, left.InnerG}} {
		line := dialLine{Plane: l.plane, Text: fmt.Sprintf("%s plane: %s left, heavy at %.0f°", l.plane, f.gram(l.g), l.v.Deg)}
		if l.g < 0.05 { // rounding has no direction
			line.Text = l.plane + " plane: nothing left"
		}
		line.X, line.Y = onDial(math.Min(dialScaleTo*l.v.GMM/most, dialScaleTo), l.v.Deg)
		d.Left = append(d.Left, line)
	}
}

// arcPath draws an arc of a ring clockwise from one angle to another.
func arcPath(r, from, to float64) string {
	span := math.Mod(to-from+720, 360)
	large := 0
	if span > 180 {
		large = 1
	}
	x1, y1 := onDial(r, from)
	x2, y2 := onDial(r, from+span)
	return fmt.Sprintf("M%g %gA%g %g 0 %d 1 %g %g", x1, y1, r, r, large, x2, y2)
}
