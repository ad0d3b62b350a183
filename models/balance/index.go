package balance

import (
	"math"
	"math/cmplx"

	"rimledger/models/badinput"
)

// Spins is the input of index balancing: the assembly's unbalance before and after
// the tire was turned on the rim, both without weights or with the same weights
// on the wheel.
type Spins struct {
	Planes  Planes
	First   Unbalance
	Second  Unbalance
	TurnDeg float64 // how far the tire was turned clockwise in between; 180 measures best

	ResolutionG   float64 // step of what the balancer shows, grams; 0 if unrounded
	ResolutionDeg float64 // step of the angle it shows
}

// Indexed is the result of index balancing: the parts of tire and rim, and the best turn.
type Indexed struct {
	Tire Unbalance // of the tire alone, as it sat in the first spin
	Rim  Unbalance // of the wheel alone, with valve and any weights

	TurnDeg    float64   // turn the tire this far clockwise from its first seat
	FurtherDeg float64   // the same from where it sits now
	Predicted  Unbalance // with the tire turned so
	WeightG    float64   // weights it would then need, both planes together
	FirstG     float64   // weights that the first spin needed
	StaticDeg  float64   // the turn that leaves the least static part
	StaticLeft Vector    // what it leaves: the difference of the two static parts

	// Standard deviations from the balancer's resolution.
	PartSD     float64 // of each part and plane, g mm in any direction
	PredictSDG float64 // of WeightG, grams
	TurnSDDeg  float64 // of StaticDeg
	Worthwhile bool    // the turn saves more than twice PredictSDG
	Notes      []Note
}

// minTurnDeg is the smallest turn from which the parts are computed, chosen by us:
// errors grow as 1/(2 sin(turn/2)), which is 0.5 at a half turn and 2.9 here.
const minTurnDeg = 20.0

// IndexBalance splits an assembly's unbalance into the tire's and the rim's from
// two spins with the tire turned between them, and finds the turn that needs the
// least weight. With first A, second B and turn t,
//
//	tire = (A - B) / (1 - e^it), rim = A - tire,
//
// the three-run method of textbooks for any turn; at 180 degrees half the
// difference and half the sum. The standard deviations assume that errors are uniform
// within the balancer's steps. Errors wrap ErrTurnTooSmall, ErrZeroRadius,
// ErrZeroDistance, ErrTooHeavy, ErrOutOfRange or ErrNotFinite.
func IndexBalance(s Spins) (Indexed, error) {
	var n notebook
	if err := s.Planes.Check("planes"); err != nil {
		return Indexed{}, err
	}

	for _, v := range []struct {
		field string
		v     *Vector
	}{
		{"first inner", &s.First.Inner}, {"first outer", &s.First.Outer},
		{"second inner", &s.Second.Inner}, {"second outer", &s.Second.Outer},
	} {
		var err error
		if *v.v, err = n.vector(v.field, *v.v); err != nil {
			return Indexed{}, err
		}
	}

	// A turn near 0 or 360 degrees changes nothing, so the two parts cannot be separated.
	turn, err := n.turn(s.TurnDeg)
	if err != nil {
		return Indexed{}, err
	}
	if err := within("resolution g", s.ResolutionG, 0, 100); err != nil {
		return Indexed{}, err
	}
	if err := within("resolution deg", s.ResolutionDeg, 0, 45); err != nil {
		return Indexed{}, err
	}

	out := s.split(turn)
	out.Notes = n
	return out, nil
}

// turn checks how far a tire was turned.
func (n *notebook) turn(deg float64) (float64, error) {
	turn, err := n.degrees("turn", deg, "clockwise seen from outside")
	if err != nil {
		return 0, err
	}

	if apart(turn, 0) < minTurnDeg {
		return 0, badinput.Number("turn", deg, ErrTurnTooSmall,
			"turn the tire at least %g degrees on the rim, best 180, and spin again", minTurnDeg)
	}
	return turn, nil
}

// parts splits first and second, read with a part turned by deg in between, into
// the turned part and the part that stayed.
func parts(first, second complex128, deg float64) (turned, stayed complex128) {
	turned = (first - second) / (1 - polar(1, deg))
	return turned, first - turned
}

// split computes the parts, the best turns and what they leave.
func (s Spins) split(turn float64) Indexed {
	tireIn, rimIn := parts(s.First.Inner.complex(), s.Second.Inner.complex(), turn)
	tireOut, rimOut := parts(s.First.Outer.complex(), s.Second.Outer.complex(), turn)
	after := func(deg float64) Unbalance {
		e := polar(1, deg)
		return Unbalance{fromComplex(rimIn + tireIn*e), fromComplex(rimOut + tireOut*e)}
	}

	needed := func(u Unbalance) float64 {
		return u.Inner.At(s.Planes.Inner.RadiusMM) + u.Outer.At(s.Planes.Outer.RadiusMM)
	}
	best := lowest(func(deg float64) float64 { return needed(after(deg)) })

	// The static part is least with the tire's heavy side opposite the rim's.
	tire, rim := tireIn+tireOut, rimIn+rimOut
	staticDeg := clockwise(direction(tire), direction(-rim))

	out := Indexed{
		Tire:       Unbalance{fromComplex(tireIn), fromComplex(tireOut)},
		Rim:        Unbalance{fromComplex(rimIn), fromComplex(rimOut)},
		TurnDeg:    best,
		FurtherDeg: clockwise(turn, best),
		Predicted:  after(best),
		WeightG:    needed(after(best)),
		FirstG:     needed(s.First),
		StaticDeg:  staticDeg,
		StaticLeft: after(staticDeg).Static(),
	}

	s.spread(&out, turn, tire, rim)
	out.Worthwhile = out.FirstG-out.WeightG > 2*out.PredictSDG
	return out
}

// spread fills in the standard deviations that follow from the balancer's resolution, to
// first order.
func (s Spins) spread(out *Indexed, turn float64, tire, rim complex128) {
	e := polar(1, turn)
	scale := cmplx.Abs(1 - e)

	// Of one component of a reading: a uniform error within a step has the standard
	// deviation step/sqrt(12).
	sdOf := func(v Vector, radius float64) float64 {
		return math.Hypot(s.ResolutionG*radius, v.GMM*s.ResolutionDeg*math.Pi/180) / math.Sqrt(12)
	}

	var g2, first2, second2 float64
	for _, p := range []struct {
		first, second Vector
		radius        float64
	}{
		{s.First.Inner, s.Second.Inner, s.Planes.Inner.RadiusMM},
		{s.First.Outer, s.Second.Outer, s.Planes.Outer.RadiusMM},
	} {
		a, b := sdOf(p.first, p.radius), sdOf(p.second, p.radius)
		out.PartSD = math.Max(out.PartSD, math.Hypot(a, b)/scale)

		// After a turn f the plane has (A (f - e) + B (1 - f)) / (1 - e).
		f := polar(1, out.TurnDeg)
		left := math.Hypot(a*cmplx.Abs(f-e), b*cmplx.Abs(1-f)) / scale / p.radius
		g2 += left * left
		first2 += a * a
		second2 += b * b
	}

	out.PredictSDG = math.Sqrt(g2)
	if tire == 0 || rim == 0 { // every turn leaves the same
		out.TurnSDDeg = 180
		return
	}

	// The turn is the phase of -rim/tire; these are its derivatives by A and B.
	byFirst := cmplx.Abs(e/rim+1/tire) / scale
	bySecond := cmplx.Abs(1/rim+1/tire) / scale
	sd := math.Sqrt(first2*byFirst*byFirst+second2*bySecond*bySecond) * 180 / math.Pi
	out.TurnSDDeg = math.Min(sd, 180)
}

// lowest returns the angle in [0, 360) at which f, a sum of two amplitudes
// around a turn, is least: a scan by degrees, then a golden-section search around the
// best. Of equal angles it returns the smallest.
func lowest(f func(deg float64) float64) float64 {
	best := 0.0
	for deg := 1.0; deg < fullTurn; deg++ {
		if f(deg) < f(best)-massSlack {
			best = deg
		}
	}

	const golden = 0.6180339887498949
	lo, hi := best-1, best+1
	for range 60 {
		a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
		if f(a) < f(b) {
			hi = b
		} else {
			lo = a
		}
	}

	if mid := (lo + hi) / 2; f(mid) < f(best)-massSlack {
		best = mid
	}
	return clockwise(0, best)
}

// HalfTurnFault is the part that causes a run-out or force variation over its limit,
// found from the high spot before and after the tire was turned half around on the wheel.
type HalfTurnFault string

// The answers.
const (
	FaultTire   HalfTurnFault = "tire"   // the high spot stayed with the tire
	FaultWheel  HalfTurnFault = "wheel"  // it stayed with the wheel
	FaultUnsure HalfTurnFault = "unsure" // neither: turn the tire a quarter and measure again
)

// CountedFrom is what the angles of a tire's high spots are counted from.
type CountedFrom string

// The answers. A tire that is turned on its wheel takes its marks along and leaves the valve.
const (
	FromValve CountedFrom = "valve"
	FromMark  CountedFrom = "tire_mark" // a mark made on the tire
)

// HalfTurn compares the high spots of two measurements, the tire turned half around in
// between. Where both are counted from the valve, a high spot at the same angle stayed with
// the wheel, and one on the opposite side went with the tire; counted from a mark on the
// tire, it is the other way round. Within toleranceMM along the tread two places are the
// same; a car maker's manual gives 101.6 mm (4 in). tireRadiusMM is the tire's outer radius.
// Errors wrap ErrUnknownChoice, ErrZeroRadius, ErrOutOfRange or ErrNotFinite.
func HalfTurn(from CountedFrom, firstDeg, secondDeg, tireRadiusMM, toleranceMM float64) (HalfTurnFault, []Note, error) {
	if from != FromValve && from != FromMark {
		return "", nil, badinput.New("counted from", string(from), ErrUnknownChoice,
			"say whether the angles count from the valve (valve) or from a mark on the tire (tire_mark)")
	}

	var n notebook
	a, err := n.degrees("first high spot", firstDeg, "clockwise")
	if err != nil {
		return "", nil, err
	}
	b, err := n.degrees("second high spot", secondDeg, "clockwise")
	if err != nil {
		return "", nil, err
	}

	if err := checkRadius("tire radius mm", tireRadiusMM); err != nil {
		return "", nil, err
	}
	if err := within("tolerance mm", toleranceMM, 1, tireRadiusMM); err != nil {
		return "", nil, badinput.At("half turn", err)
	}

	// Counted from a mark on the tire, the wheel is what turns.
	same, opposite := FaultTire, FaultWheel
	if from == FromValve {
		same, opposite = opposite, same
	}

	// The tolerance is along the tread, the angles are not.
	reach := toleranceMM / tireRadiusMM * 180 / math.Pi
	switch gap := apart(a, b); {
	case gap <= reach:
		return same, n, nil
	case gap >= 180-reach:
		return opposite, n, nil
	}
	return FaultUnsure, n, nil
}
