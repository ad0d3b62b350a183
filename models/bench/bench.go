// Package bench chooses what a balance bench proposes for an assembly: which
// sizes there usually are, how long a strip may be, which limits apply, how much
// residual is not worth a heavier set, and what else could be done.
//
// It is a package beside balance, which solves the problem it is given and
// nothing else. This package puts the problem the way a shop would, in one place,
// so that the page, the API and the command line propose the same weights.
//
// Units and signs are those of package balance: grams, millimetres, degrees
// clockwise from the valve seen from outside.
package bench

import (
	"errors"
	"slices"

	"rimledger/models/badinput"
	"rimledger/models/balance"
	"rimledger/models/units"
)

// The reasons for which an input is refused, beside those of package balance; a
// badinput.Error wraps one of them.
var (
	ErrGivenTwice = errors.New("given twice")
	ErrOneOfTwo   = errors.New("one plane alone")
	ErrUnit       = errors.New("not a unit of weights")
	ErrWord       = errors.New("word not known")
)

// slackG is how much more than the best a heavy wheel's weights may leave to be
// lighter, both planes together: half of a clip of 1 oz (chosen by us). With two
// pieces a plane, large weights would else face each other to save a gram.
const slackG = 14

// heavyPieces is how many weights may be side by side in one place of a heavy
// wheel: it can need more than the heaviest clip (chosen by us).
const heavyPieces = 2

// spotPieces is how many weights share the spots of a place: the two on either
// side of where one would go in the open.
const spotPieces = 2

// Input is an assembly on the bench, what the machine shows, and what there is to
// cure it with.
type Input struct {
	Assembly

	Planes balance.Planes // where the machine shows

	// Inner and Outer are the weights that the machine asks for. A machine that
	// shows one plane gives Single instead, which goes with mode static: a weight
	// at the radius of the outer plane.
	Inner, Outer balance.Shown
	Single       *balance.Shown

	// WeightsOff is whether what the machine shows is of the bare assembly, all weights off.
	WeightsOff bool

	// Problem has the stock, the places, the mode and the limits. What is zero
	// in it is chosen by this package; Measured and Unbalance are always.
	Problem balance.Problem

	// UsualStock is a unit of mass, g or oz. The sizes that a box usually holds in
	// it are the stock where Problem lists none; empty: the list must not be.
	UsualStock units.Unit
}

// Result is the proposal and what it is weighed against.
type Result struct {
	balance.Proposal
	Problem balance.Problem // as it was solved

	Open     *balance.Set // the best set if no place were hidden behind spots; nil where none is
	OnePlane *OnePlane    // the best set in the first place alone; nil in mode static, or where there is none

	assembly   Assembly
	weightsOff bool
}

// OnePlane is a set that cures the hop in one place and leaves the wobble.
type OnePlane struct {
	Place string
	balance.Set
}

// Propose returns the best set of weights for in, and its alternatives. Errors are
// those of Problem and of balance.Choose.
func Propose(in Input) (Result, error) {
	p, notes, err := Problem(in)
	if err != nil {
		return Result{}, err
	}

	best, err := balance.Choose(p)
	if err != nil {
		return Result{}, err
	}
	best.Notes = append(notes, best.Notes...)

	r := Result{
		Proposal: best, Problem: p, Open: inTheOpen(p), OnePlane: inOnePlane(p),
		assembly: in.Assembly, weightsOff: in.WeightsOff,
	}
	r.Proposal.Advice = r.Advise(r.Left).Steps

	return r, nil
}

// Problem returns in as the problem that Propose solves, with notes on angles that
// were brought into a turn. What in gives is kept; what it leaves at zero is chosen:
//
//   - the stock, where UsualStock names a unit; the length and number of segments
//     of a strip (SegmentMM, StripMost);
//   - the weights in one place: two on spots and on heavy wheels, else one;
//   - the residual limit of the assembly, in each plane, or of the static part in
//     mode static; and for heavy wheels what is not worth a heavier set. An
//     assembly of which neither class nor size is known has neither.
//
// Errors wrap ErrGivenTwice, ErrOneOfTwo, ErrUnit, ErrWord or those of balance.FromShown.
func Problem(in Input) (balance.Problem, []balance.Note, error) {
	if err := in.check(); err != nil {
		return balance.Problem{}, nil, err
	}

	u, notes, err := in.Unbalance()
	if err != nil {
		return balance.Problem{}, nil, err
	}

	p := in.Problem
	p.Measured, p.Unbalance = in.Planes, u
	p.Stock = stock(in)
	p.Places = places(p.Places, in.Heavy())
	if in.known() {
		limit(&p, in.Assembly)
	}

	return p, notes, nil
}

// check refuses words that are not known and what contradicts itself.
func (in Input) check() error {
	if err := in.Assembly.check(); err != nil {
		return err
	}

	if m := in.Problem.Measured; m != (balance.Planes{}) && m != in.Planes {
		return badinput.New("problem.measured", "", ErrGivenTwice, "leave it out: planes says where the machine shows")
	}

	if in.Problem.Unbalance != (balance.Unbalance{}) {
		return badinput.New(
			"problem.unbalance",
			"",
			ErrGivenTwice,
			"leave it out: it is worked out from inner and outer",
		)
	}

	if in.Single != nil && in.Problem.Mode != balance.Static {
		return badinput.New("single", "", ErrOneOfTwo, "give inner and outer, or balance in one plane (mode static)")
	}
	if in.Single != nil && (in.Inner != (balance.Shown{}) || in.Outer != (balance.Shown{})) {
		return badinput.New("single", "", ErrGivenTwice, "give single alone, or inner and outer")
	}

	if in.UsualStock != "" && in.UsualStock != units.G && in.UsualStock != units.Oz {
		return badinput.New(
			"usual_stock",
			string(in.UsualStock),
			ErrUnit,
			"give g or oz, or leave it out and list the stock",
		)
	}

	return nil
}

// Unbalance returns the heavy side of the assembly behind what the machine shows, with
// notes on angles. Errors as of balance.FromShown.
func (in Input) Unbalance() (balance.Unbalance, []balance.Note, error) {
	if in.Single != nil {
		return balance.FromSingle(in.Planes, *in.Single)
	}
	return balance.FromShown(in.Planes, in.Inner, in.Outer)
}

// places returns the given places with the number of weights that each may take.
func places(given []balance.Place, heavy bool) []balance.Place {
	out := slices.Clone(given)
	for i, q := range out {
		switch {
		case q.MaxPieces > 0:
		case len(q.Spots) > 0:
			out[i].MaxPieces = spotPieces
		case heavy:
			out[i].MaxPieces = heavyPieces
		}
	}

	return out
}

// limit fills in what may be left on an assembly.
func limit(p *balance.Problem, a Assembly) {
	limits := a.Limits()
	set := func(g float64, to ...*float64) {
		for _, l := range to {
			if *l == 0 {
				*l = g
			}
		}
	}

	if p.Mode == balance.Static {
		set(limits.Residual.Base(), &p.LimitStaticG)
	} else {
		set(limits.Residual.Base(), &p.LimitInnerG, &p.LimitOuterG)
	}
	if limits.Sum != nil {
		set(limits.Sum.Base(), &p.LimitStaticG)
	}

	if a.Heavy() && p.SlackG == 0 {
		p.SlackG = slackG
	}
}

// inTheOpen returns the best set with the first place that has spots opened to the
// whole circle: what hiding costs. It is nil where no place has spots.
func inTheOpen(p balance.Problem) *balance.Set {
	i := slices.IndexFunc(p.Places, func(q balance.Place) bool { return len(q.Spots) > 0 })
	if i < 0 {
		return nil
	}

	p.Places = slices.Clone(p.Places)
	p.Places[i].Spots, p.Places[i].MaxPieces = nil, 0
	best, err := balance.Choose(p)
	if err != nil {
		return nil
	}

	return &best.Set
}

// inOnePlane returns the best set in the first place alone, which cures the static
// part and leaves the couple.
func inOnePlane(p balance.Problem) *OnePlane {
	if p.Mode == balance.Static || len(p.Places) == 0 {
		return nil
	}

	p.Mode, p.Places, p.LimitStaticG = balance.Static, p.Places[:1], p.LimitOuterG
	best, err := balance.Choose(p)
	if err != nil {
		return nil
	}

	return &OnePlane{p.Places[0].Name, best.Set}
}
