package bench

import (
	"fmt"
	"math"
	"strings"

	"rimledger/api/web/say"
	"rimledger/models"
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

// drawing is what a dial shows.
type drawing struct {
	units   units.Style
	wheel   models.WheelGeometry
	pair    shownPair
	allowed []string // planes that weights may go into
	shown   []models.PlaneUnbalance
	kind    string // of the weights: own or proposed
	weights []dialWeight
	left    *dialLeft // nil where it is not known
}

// dialWeight is one weight of a drawing, in a plane of the form.
type dialWeight struct {
	plane string
	deg   float64
	mass  string
}

// dialLeft is what the weights of a drawing leave, and what it was before.
type dialLeft struct {
	now      balance.Left
	before   balance.Unbalance
	onePlane bool // only the sum of both planes counts
}

// drawDial draws what was typed: the technician's own weights, or else the proposal.
func (f *benchForm) drawDial(r benchResult, own []balance.Piece) dial {
	w := drawing{units: f.Units, wheel: f.geometry(), pair: f.pair(), allowed: f.allowed(),
		shown: f.shown("shown"), kind: "own", left: r.left}

	for _, x := range own {
		w.weights = append(w.weights, dialWeight{x.Place, x.Deg, x.Weight}) // as it was written
	}

	if len(own) == 0 {
		w.kind = "proposed"
		for _, x := range r.pieces {
			w.weights = append(w.weights, dialWeight{x.Place, x.Deg, f.shortMass(x.MassG)})
		}
	}

	return w.dial()
}

// dial lays the drawing out.
func (w drawing) dial() dial {
	var d dial
	d.rim(w)

	var alt []string
	for _, s := range w.shown {
		at := float64(s.Angle.Normal())
		if s.Mass.Value == 0 { // nothing is asked for, anywhere
			alt = append(alt, s.Plane+" plane asks for nothing")
			continue
		}
		d.mark("asked", ringOf(s.Plane), at, s.Mass.Text)
		alt = append(alt, fmt.Sprintf("%s plane asks for %s at %g°", s.Plane, s.Mass.Text, at))
	}

	for _, x := range w.weights {
		at := float64(units.Angle(x.deg).Normal())
		d.mark(w.kind, ringOf(x.plane), at, x.mass)
		alt = append(alt, fmt.Sprintf("%s %s, %s at %.0f°", w.kind, x.mass, say.PlaneName(x.plane), at))
	}

	d.Alt = "Wheel seen from outside, valve on top. " + strings.Join(alt, "; ")

	if w.left != nil {
		d.residual(w.units, *w.left)
	}

	return d
}

// rim draws the spokes, and where nothing fits of the planes that weights may go into.
func (d *dial) rim(w drawing) {
	for _, s := range w.wheel.Spokes {
		x1, y1 := onDial(24, s-14)
		x2, y2 := onDial(outerRing-14, s-3)
		x3, y3 := onDial(outerRing-14, s+3)
		x4, y4 := onDial(24, s+14)
		d.Spokes = append(d.Spokes, fmt.Sprintf("M%g %gL%g %gL%g %gL%g %gZ", x1, y1, x2, y2, x3, y3, x4, y4))
	}

	for _, a := range w.wheel.Blocked {
		for _, plane := range w.allowed {
			if a.At == "" || a.At == w.pair.place(plane) {
				d.Blocked = append(d.Blocked, arcPath(ringOf(plane), a.From, a.To))
			}
		}
	}
}

func (f *benchForm) shortMass(g float64) string {
	return f.Units.WriteMass(units.Mass(math.Round(g*100) / 100))
}

// mark adds a mark with its text: what is asked for is written outside its ring,
// before its angle; what is fitted inside, after it: a weight is drawn where it is asked for.
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

// residual draws what is still to add in each plane, and where, to the scale of the largest
// as it was before. In one plane's balance it is that of both planes together.
func (d *dial) residual(u units.Style, l dialLeft) {
	if l.onePlane {
		if most := l.before.Static().GMM; most > 0 {
			d.leftIn("outer", "one plane", u, l.now.StaticG, l.now.Static, most)
		}
		return
	}

	most := math.Max(l.before.Outer.GMM, l.before.Inner.GMM)
	if most == 0 {
		return
	}

	d.leftIn("outer", "outer plane", u, l.now.OuterG, l.now.Unbalance.Outer, most)
	d.leftIn("inner", "inner plane", u, l.now.InnerG, l.now.Unbalance.Inner, most)
}

func (d *dial) leftIn(plane, name string, u units.Style, g float64, heavy balance.Vector, most float64) {
	add := heavy.Opposite()
	deg := float64(units.Angle(math.Round(add.Deg)).Normal())
	line := dialLine{Plane: plane, Text: fmt.Sprintf("%s: still add %s at %.0f°", name, gramsText(u, g), deg)}
	if g < 0.05 { // rounding has no direction
		line.Text = name + ": nothing left"
	}

	line.X, line.Y = onDial(math.Min(dialScaleTo*add.GMM/most, dialScaleTo), add.Deg)
	d.Left = append(d.Left, line)
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
