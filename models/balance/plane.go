package balance

import (
	"fmt"
	"math"

	"rimledger/models/badinput"
)

// Plane is a circle around the wheel on which weights sit: a rim flange or an
// adhesive band.
type Plane struct {
	RadiusMM float64 // from the axis to the middle of the weight
	OffsetMM float64 // from the mounting face, positive away from the vehicle
}

// Planes are the two planes in which a balancer shows unbalance.
type Planes struct {
	Inner Plane // nearer the vehicle
	Outer Plane
}

// Check refuses radii and offsets out of range, and planes less than minDistMM apart.
func (p Planes) Check(field string) error {
	for _, q := range []struct {
		name  string
		plane Plane
	}{{"inner", p.Inner}, {"outer", p.Outer}} {
		if err := q.plane.Check(field + " " + q.name); err != nil {
			return err
		}
	}

	if d := p.Outer.OffsetMM - p.Inner.OffsetMM; math.Abs(d) < minDistMM {
		return badinput.Number(field+" plane distance mm", d, ErrZeroDistance,
			"give two planes at least %g mm apart, or balance in one plane (mode static)", minDistMM)
	}
	return nil
}

// Check refuses a radius or an offset out of range.
func (p Plane) Check(field string) error {
	if err := checkRadius(field+" radius mm", p.RadiusMM); err != nil {
		return err
	}
	return within(field+" offset mm", p.OffsetMM, -maxOffsetMM, maxOffsetMM)
}

// share returns which parts of an unbalance at an offset act in the inner and
// the outer plane; they add up to one and either may be negative.
func (p Planes) share(offsetMM float64) (inner, outer float64) {
	outer = (offsetMM - p.Inner.OffsetMM) / (p.Outer.OffsetMM - p.Inner.OffsetMM)
	return 1 - outer, outer
}

// Unbalance is the heavy side of an assembly in two planes.
type Unbalance struct {
	Inner Vector
	Outer Vector
}

// Static returns the sum of both planes, which makes a wheel hop.
func (u Unbalance) Static() Vector { return Sum(u.Inner, u.Outer) }

// Couple is a moment of unbalance, which makes a wheel wobble.
type Couple struct {
	GMM2 float64 // g mm2
	Deg  float64 // of the outer plane's heavy side
}

// Couple returns the couple of u about the middle between the planes,
// (outer - inner) times half the distance.
func (u Unbalance) Couple(p Planes) Couple {
	half := (p.Outer.OffsetMM - p.Inner.OffsetMM) / 2
	v := fromComplex((u.Outer.complex() - u.Inner.complex()) * complex(half, 0))
	return Couple{v.GMM, v.Deg}
}

// HalfEach returns a static unbalance divided evenly between both planes: what a
// single-plane balancer shows, for Choose; and the rule for static corrections
// above 85 g (3 oz), published in makers' workshop manuals.
func HalfEach(static Vector) Unbalance {
	return Unbalance{static.Scaled(0.5), static.Scaled(0.5)}
}

// Shown is what a balancer shows in one plane: the weight that corrects it, and where.
type Shown struct {
	MassG float64
	Deg   float64 // where to put the weight
}

// FromShown returns the unbalance behind what a balancer shows in two planes,
// with a note for each angle that lay outside 0-360. Errors wrap ErrZeroRadius,
// ErrZeroDistance, ErrTooHeavy, ErrOutOfRange or ErrNotFinite.
func FromShown(p Planes, inner, outer Shown) (Unbalance, []Note, error) {
	var n notebook
	if err := p.Check("measured"); err != nil {
		return Unbalance{}, nil, err
	}

	read := func(field string, s Shown, r float64) (Vector, error) {
		if err := checkMass(field+" mass g", s.MassG); err != nil {
			return Vector{}, err
		}
		deg, err := n.angle(field+" angle", s.Deg)
		return Mass(s.MassG, r, deg).Opposite(), err
	}

	in, err := read("inner", inner, p.Inner.RadiusMM)
	if err != nil {
		return Unbalance{}, nil, err
	}
	out, err := read("outer", outer, p.Outer.RadiusMM)
	if err != nil {
		return Unbalance{}, nil, err
	}
	return Unbalance{in, out}, n, nil
}

// FromSingle returns the unbalance behind what a single-plane balancer shows: a weight at
// the radius of the outer plane, divided evenly between both planes. Notes and errors as of FromShown.
func FromSingle(p Planes, s Shown) (Unbalance, []Note, error) {
	if err := p.Check("measured"); err != nil {
		return Unbalance{}, nil, err
	}
	if err := checkMass("single mass g", s.MassG); err != nil {
		return Unbalance{}, nil, err
	}

	var n notebook
	deg, err := n.angle("single angle", s.Deg)
	if err != nil {
		return Unbalance{}, nil, err
	}

	return HalfEach(Mass(s.MassG, p.Outer.RadiusMM, deg).Opposite()), n, nil
}

// Correction returns the exact weights that correct u in planes p, which must be valid.
func (u Unbalance) Correction(p Planes) (inner, outer Shown) {
	in, out := u.Inner.Opposite(), u.Outer.Opposite()
	return Shown{in.At(p.Inner.RadiusMM), in.Deg}, Shown{out.At(p.Outer.RadiusMM), out.Deg}
}

// Transfer returns u, known in planes from, as it acts in planes to: from clip
// flanges to adhesive bands and back. Static unbalance and moment stay the same; radii
// matter only once masses are computed. Errors as of FromShown.
func Transfer(u Unbalance, from, to Planes) (Unbalance, error) {
	if err := from.Check("from"); err != nil {
		return Unbalance{}, err
	}
	if err := to.Check("to"); err != nil {
		return Unbalance{}, err
	}

	var n notebook
	for _, v := range []Vector{u.Inner, u.Outer} {
		if _, err := n.vector("unbalance", v); err != nil {
			return Unbalance{}, err
		}
	}

	return Unbalance{}.
		plus(u.Inner.complex(), from.Inner.OffsetMM, to).
		plus(u.Outer.complex(), from.Outer.OffsetMM, to), nil
}

// plus returns u with an unbalance at an offset added in planes p.
func (u Unbalance) plus(c complex128, offsetMM float64, p Planes) Unbalance {
	in, out := p.share(offsetMM)
	return Unbalance{
		fromComplex(u.Inner.complex() + complex(in, 0)*c),
		fromComplex(u.Outer.complex() + complex(out, 0)*c),
	}
}

// Lump is a mass somewhere on the assembly.
type Lump struct {
	MassG    float64
	RadiusMM float64
	Deg      float64
	OffsetMM float64
}

// Resolve returns the unbalance of heavy spots in planes p, with notes on
// angles. Errors as of FromShown.
func Resolve(p Planes, spots ...Lump) (Unbalance, []Note, error) {
	if err := p.Check("planes"); err != nil {
		return Unbalance{}, nil, err
	}

	var n notebook
	var u Unbalance
	for i, s := range spots {
		field := fmt.Sprintf("spot %d", i+1)
		if err := checkMass(field+" mass g", s.MassG); err != nil {
			return Unbalance{}, nil, err
		}
		if err := (Plane{s.RadiusMM, s.OffsetMM}).Check(field); err != nil {
			return Unbalance{}, nil, err
		}

		deg, err := n.angle(field+" angle", s.Deg)
		if err != nil {
			return Unbalance{}, nil, err
		}
		u = u.plus(polar(s.MassG*s.RadiusMM, deg), s.OffsetMM, p)
	}

	return u, n, nil
}
