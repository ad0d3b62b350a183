package balance

import (
	"fmt"
	"math"
	"slices"

	"rimledger/models/badinput"
)

// Place is a rim flange or an adhesive band on which weights may go. If it has Spots,
// weights go only there (behind the named spokes); else anywhere on the circle that is
// not blocked.
type Place struct {
	Name    string
	Plane   Plane
	Kind    Kind     // the kind of weight that it takes
	Clips   []string // clip types that the flange takes; empty: any
	Spots   []Spot
	Blocked []Arc
	StepDeg float64 // step of the positions tried on an open circle; 0 is 5

	MaxMassG  float64 // 0 is no limit
	MaxPieces int     // 0 is 1 on an open circle, 2 on spots
}

// Spot is a named position, such as behind a spoke.
type Spot struct {
	Name    string
	Deg     float64
	WidthMM float64 // longest piece that stays hidden; 0 is no limit
}

// Arc is a stretch of the circle, clockwise from one angle to another, where
// nothing fits: the valve, a sensor, a weld.
type Arc struct {
	FromDeg float64
	ToDeg   float64
}

// The bounds of a place, chosen by us.
const (
	defaultStepDeg = 5.0
	maxPieces      = 6
	maxSpots       = 60
)

// place returns p with its angles normalised and its defaults filled in.
func (n *notebook) place(i int, p Place) (Place, error) {
	field := fmt.Sprintf("place %d (%s)", i+1, p.Name)
	if p.Kind != Clip && p.Kind != Adhesive {
		return p, badinput.New(field+" kind", string(p.Kind), ErrUnknownChoice, "give clip or adhesive")
	}
	if err := p.Plane.Check(field); err != nil {
		return p, err
	}

	// Zero means the usual value.
	if p.StepDeg == 0 {
		p.StepDeg = defaultStepDeg
	}
	if p.MaxPieces == 0 {
		p.MaxPieces = 1
		if len(p.Spots) > 1 {
			p.MaxPieces = 2
		}
	}
	if p.MaxMassG == 0 {
		p.MaxMassG = maxWeightG
	}

	for _, b := range []struct {
		what      string
		v, lo, hi float64
	}{
		{"step deg", p.StepDeg, 0.5, 90},
		{"max pieces", float64(p.MaxPieces), 1, maxPieces},
		{"max mass g", p.MaxMassG, 0, maxWeightG},
		{"number of spots", float64(len(p.Spots)), 0, maxSpots},
	} {
		if err := within(field+" "+b.what, b.v, b.lo, b.hi); err != nil {
			return p, err
		}
	}

	return n.placeAngles(field, p)
}

// placeAngles returns p with the angles of its spots and blocked arcs normalised, and
// names for spots that have none.
func (n *notebook) placeAngles(field string, p Place) (Place, error) {
	var err error
	spots, blocked := make([]Spot, len(p.Spots)), make([]Arc, len(p.Blocked))
	for i, s := range p.Spots {
		if spots[i] = s; s.Name == "" {
			spots[i].Name = fmt.Sprintf("spot %d", i+1)
		}
		if err := within(field+" spot width mm", s.WidthMM, 0, 500); err != nil {
			return p, err
		}
		if spots[i].Deg, err = n.angle(field+" spot "+s.Name, s.Deg); err != nil {
			return p, err
		}
	}

	// Both ends are normalised, and an arc may pass the valve.
	for i, a := range p.Blocked {
		if blocked[i].FromDeg, err = n.angle(field+" blocked from", a.FromDeg); err != nil {
			return p, err
		}
		if blocked[i].ToDeg, err = n.angle(field+" blocked to", a.ToDeg); err != nil {
			return p, err
		}
		if math.Abs(a.ToDeg-a.FromDeg) >= 360 { // normalised, a full turn would be nothing
			blocked[i] = Arc{0, fullTurn}
		}
	}

	p.Spots, p.Blocked = spots, blocked
	n.wideSpans(field, spots)
	return p, nil
}

// wideSpanDeg is the distance between two spokes from which hiding costs more
// than half as much weight again: 1/cos(50 deg) is 1.56 (derived; sine rule of Split).
const wideSpanDeg = 100.0

// wideSpans warns of spots so far apart that a weight split between them
// weighs much more than one in its place. One spot alone spans the whole turn.
func (n *notebook) wideSpans(field string, spots []Spot) {
	if len(spots) == 0 {
		return
	}

	angles := make([]float64, len(spots))
	for i, s := range spots {
		angles[i] = s.Deg
	}
	slices.Sort(angles)

	for i, a := range angles {
		next := angles[(i+1)%len(angles)]
		span := clockwise(a, next)
		if len(angles) == 1 {
			span = fullTurn
		}

		if span > wideSpanDeg {
			*n = append(*n, Note{field + " span", span, span,
				fmt.Sprintf("%s: from %g to %g deg there is no spot for %g deg; "+
					"over %g a weight split between its ends gets heavy", field, a, next, span, wideSpanDeg)})
		}
	}
}

const fullTurn = 360.0

// spot is a position a piece may be centered on.
type spot struct {
	name string
	deg  float64
	unit complex128
	room float64 // degrees that are free on either side of it; half of a piece must fit in
}

// spotsAt returns the positions of p that are not blocked. On an open circle
// they are steps counted from anchor, so that the exact angle is one of them.
func (p Place) spotsAt(anchor float64) []spot {
	positions := p.Spots
	if len(positions) == 0 {
		n := int(fullTurn/p.StepDeg + 1e-9)
		positions = make([]Spot, n)
		for i := range positions {
			positions[i].Deg = clockwise(0, anchor+float64(i)*p.StepDeg)
		}
	}

	var free []spot
	for _, s := range positions {
		room := p.room(s.Deg)
		if s.WidthMM > 0 {
			room = math.Min(room, arcHalf(s.WidthMM, p.Plane.RadiusMM))
		}
		if room >= 0 {
			free = append(free, spot{s.Name, s.Deg, polar(1, s.Deg), room})
		}
	}

	return free
}

// room returns how far from deg the nearest blocked arc is; negative inside
// one, zero at its edge.
func (p Place) room(deg float64) float64 {
	room := 180.0
	for _, a := range p.Blocked {
		in := clockwise(a.FromDeg, deg)
		if in > 0 && in < clockwise(a.FromDeg, a.ToDeg) || a.ToDeg == fullTurn {
			return -1
		}
		room = math.Min(room, math.Min(apart(deg, a.FromDeg), apart(deg, a.ToDeg)))
	}
	return room
}

// fits reports whether a piece of size z fits on s.
func (s spot) fits(z size) bool { return z.half <= s.room+angleSlack }

// angleSlack is the rounding error allowed where two angles just touch, degrees.
const angleSlack = 1e-9
