package balance

import (
	"fmt"
	"math"

	"rimledger/models/badinput"
)

// Mode is the part of the unbalance that is corrected.
type Mode string

// The modes.
const (
	TwoPlane Mode = "two-plane" // hop and wobble: both planes count
	Static   Mode = "static"    // hop only: the sum of both planes counts
)

// Problem is a wheel to be balanced, with the weights and places there are.
type Problem struct {
	Measured  Planes    // the planes of Unbalance and of the limits
	Unbalance Unbalance // heavy sides; see FromShown, HalfEach
	Mode      Mode      // empty is two-plane

	Stock  []Weight
	Places []Place // a set uses at most two of them

	MaxMassG  float64 // in all; 0 is no limit
	MaxPieces int     // in all; 0 is no limit

	// What may be left: grams at the measured radius in each plane, and of the
	// static part at the mean of both radii. 0 is no limit.
	LimitInnerG, LimitOuterG, LimitStaticG float64

	// SlackG is how many grams of residual, both planes together, are not worth
	// a heavier set: sets that leave at most this much more than the best count
	// as equally good. 0 leaves the least whatever it weighs.
	SlackG float64
}

// Piece is one weight in its place.
type Piece struct {
	Place    string
	Spot     string // name of the spot, empty on an open circle
	Weight   string // name in the stock
	Segments int    // 1 for a clip
	MassG    float64
	LengthMM float64
	Deg      float64 // of its middle
}

// Left is what a set of weights leaves on the wheel.
type Left struct {
	Unbalance Unbalance // in the measured planes
	InnerG    float64   // grams still needed at the measured radius
	OuterG    float64
	Static    Vector
	StaticG   float64 // grams at the mean of the measured radii
	Couple    Couple
	ScoreG    float64 // what Choose compares: InnerG + OuterG, or StaticG in mode static
	MassG     float64 // all pieces together
	Pieces    int
	Meets     bool // every limit of the problem that applies to its mode is met
}

// Set is weights and what they leave.
type Set struct {
	Pieces []Piece
	Left   Left
}

// Proposal is the best set, and other results to compare it with.
type Proposal struct {
	Set
	Before  Left    // nothing fitted
	Rounded Set     // the exact weights in the same places, each rounded to the nearest size, limits ignored
	ExactG  float64 // mass of the exact weights in the measured planes
	ExtraG  float64 // mass of the set above ExactG, from hiding, sizes, and planes off the measured ones
	Notes   []Note
	Advice  []string // what to do before more weight; empty when the limits are met
}

// Choose returns the best set of weights for a problem. Of all sets that use at
// most two places, keep to the mass and piece limits, do not overlap and stay
// off blocked arcs, it takes, in this order,
//
//  1. those that meet the residual limits, if any does,
//  2. those whose score (ScoreG) is within SlackG of the least,
//  3. the lightest, 4. with the fewest pieces, 5. with the least score.
//
// The result is exact: it equals trying every set. On an open circle the
// positions tried are steps of StepDeg from the exact correction's angle: that of
// both places together, or, with one place in use, that of the measured plane on
// which it acts most. A strip acts a little less than its mass because it is bent
// around the rim; this is counted.
//
// Errors wrap ErrEmptyStock, ErrNoPlace, ErrTooManyChoices (raise StepDeg or
// lower MaxPieces), ErrUnknownChoice, ErrZeroRadius, ErrZeroDistance,
// ErrTooHeavy, ErrOutOfRange or ErrNotFinite.
func Choose(p Problem) (Proposal, error) {
	s, notes, err := newSearch(p)
	if err != nil {
		return Proposal{}, err
	}
	best, err := s.run()
	if err != nil {
		return Proposal{}, err
	}

	out := Proposal{
		Set:     best.set,
		Before:  s.left(nil),
		Rounded: s.rounded(best.pair),
		Notes:   notes,
	}

	out.ExactG = out.Before.ScoreG
	out.ExtraG = out.Left.MassG - out.ExactG
	if !out.Left.Meets {
		out.Advice = TakeApart()
	}

	return out, nil
}

// Evaluate returns what the technician's own pieces leave, with a note for each angle
// outside 0-360. Only Place, MassG, LengthMM and Deg of a piece count; limits on mass and
// pieces are not enforced.
// Errors as of Choose, and ErrUnknownPlace.
func Evaluate(p Problem, pieces []Piece) (Left, []Note, error) {
	s, notes, err := newSearch(p)
	if err != nil {
		return Left{}, nil, err
	}

	n := notebook(notes)
	own := make([]Piece, len(pieces))
	for i, w := range pieces {
		field := fmt.Sprintf("piece %d", i+1)
		if s.placeOf(w.Place) < 0 {
			return Left{}, nil, badinput.New(field+" place", w.Place, ErrUnknownPlace,
				"give one of %s", joined(s.placeNames()))
		}
		if err := checkMass(field+" mass g", w.MassG); err != nil {
			return Left{}, nil, err
		}
		if err := within(field+" length mm", w.LengthMM, 0, 500); err != nil {
			return Left{}, nil, err
		}
		if w.Deg, err = n.angle(field+" angle", w.Deg); err != nil {
			return Left{}, nil, err
		}
		own[i] = w
	}

	return s.left(own), n, nil
}

// left computes what pieces leave; their places must be known.
func (s *search) left(pieces []Piece) Left {
	u := s.p.Unbalance
	var mass float64
	for _, w := range pieces {
		at := s.p.Places[s.placeOf(w.Place)].Plane
		moment := w.MassG * at.RadiusMM * slump(arcHalf(w.LengthMM, at.RadiusMM))
		u = u.plus(polar(moment, w.Deg), at.OffsetMM, s.p.Measured)
		mass += w.MassG
	}

	m := s.p.Measured
	l := Left{
		Unbalance: u,
		InnerG:    u.Inner.At(m.Inner.RadiusMM),
		OuterG:    u.Outer.At(m.Outer.RadiusMM),
		Static:    u.Static(),
		Couple:    u.Couple(m),
		MassG:     mass,
		Pieces:    len(pieces),
	}
	l.StaticG = l.Static.At(m.meanRadius())
	l.ScoreG = l.InnerG + l.OuterG
	if s.p.Mode == Static {
		l.ScoreG = l.StaticG
	}
	l.Meets = s.meets(l.InnerG, l.OuterG, l.StaticG)
	return l
}

// meets reports whether what is left, in grams, is within the limits. In mode
// static only the static limit applies.
func (s *search) meets(inner, outer, static float64) bool {
	ok := func(v, limit float64) bool { return limit == 0 || v <= limit+massSlack }
	if s.p.Mode == Static {
		return ok(static, s.p.LimitStaticG)
	}
	return ok(inner, s.p.LimitInnerG) && ok(outer, s.p.LimitOuterG) && ok(static, s.p.LimitStaticG)
}

// massSlack is the rounding error allowed between grams that are equal.
const massSlack = 1e-9

// meanRadius returns the mean of both radii in mm, the radius of static masses.
func (p Planes) meanRadius() float64 { return (p.Inner.RadiusMM + p.Outer.RadiusMM) / 2 }

// checked returns p with angles normalised and defaults filled in, or why it is refused.
func (p Problem) checked() (Problem, []Note, error) {
	var n notebook
	var err error

	if p.Mode == "" {
		p.Mode = TwoPlane
	}
	if p.Mode != TwoPlane && p.Mode != Static {
		return p, nil, badinput.New("mode", string(p.Mode), ErrUnknownChoice, "give two-plane or static")
	}
	if err := p.Measured.Check("measured"); err != nil {
		return p, nil, err
	}

	if p.Unbalance.Inner, err = n.vector("inner unbalance g mm", p.Unbalance.Inner); err != nil {
		return p, nil, err
	}
	if p.Unbalance.Outer, err = n.vector("outer unbalance g mm", p.Unbalance.Outer); err != nil {
		return p, nil, err
	}

	// No limit: as much as two places can take.
	if p.MaxMassG == 0 {
		p.MaxMassG = 2 * maxWeightG
	}
	if p.MaxPieces == 0 {
		p.MaxPieces = 2 * maxPieces
	}

	for _, b := range []struct {
		what  string
		v, hi float64
	}{
		{"max mass g", p.MaxMassG, 2 * maxWeightG}, {"max pieces", float64(p.MaxPieces), 2 * maxPieces},
		{"inner limit g", p.LimitInnerG, maxWeightG}, {"outer limit g", p.LimitOuterG, maxWeightG},
		{"static limit g", p.LimitStaticG, maxWeightG}, {"slack g", p.SlackG, maxWeightG},
	} {
		if err := within(b.what, b.v, 0, b.hi); err != nil {
			return p, nil, err
		}
	}

	if len(p.Stock) == 0 {
		return p, nil, badinput.New("stock", "(none)", ErrEmptyStock, "list at least one weight")
	}
	for i, w := range p.Stock {
		if err := w.check(i); err != nil {
			return p, nil, err
		}
	}

	p.Places, err = n.places(p.Places, p.Stock)
	return p, n, err
}

// places checks all places; at least one must take a weight of the stock.
func (n *notebook) places(given []Place, stock []Weight) ([]Place, error) {
	places := make([]Place, len(given))
	usable, names := false, map[string]bool{}
	for i, q := range given {
		var err error
		if places[i], err = n.place(i, q); err != nil {
			return nil, err
		}
		if names[q.Name] {
			return nil, badinput.New(fmt.Sprintf("place %d name", i+1), q.Name, ErrUnknownPlace,
				"give every place its own name")
		}

		names[q.Name] = true
		usable = usable || places[i].takesAny(stock)
	}

	if !usable {
		return nil, badinput.New("places", fmt.Sprintf("(%d)", len(given)), ErrNoPlace,
			"free an arc or a spoke, or add stock that fits: "+
				"clips of the flange's type, or adhesive weights for a band")
	}

	return places, nil
}

// takesAny reports whether a weight of the stock fits anywhere on p.
func (p Place) takesAny(stock []Weight) bool {
	for _, z := range sizesFor(stock, p) {
		for _, s := range p.spotsAt(0) {
			if s.fits(z) && z.massG <= p.MaxMassG {
				return true
			}
		}
	}
	return false
}

// rounded returns the exact weights of the places in pair, each rounded to the
// nearest size; a weight between two named spots is first split between them.
func (s *search) rounded(pr pair) Set {
	var pieces []Piece
	for side := range pr.sides() {
		sd := pr.side[side]
		want, at := pr.ideal(side), s.p.Places[sd.place]
		for _, part := range sd.spread(want, at) {
			if z, ok := nearest(sd.sizes, part.GMM); ok {
				pieces = append(pieces, s.piece(sd.place, z, spot{name: sd.spotName(part.Deg), deg: part.Deg}))
			}
		}
	}
	return Set{pieces, s.left(pieces)}
}

// spread splits want between the two spots next to it; on an open circle it returns want.
func (sd side) spread(want complex128, p Place) []Vector {
	v := fromComplex(want)
	if len(p.Spots) == 0 || len(sd.spots) == 0 {
		return []Vector{v}
	}

	before, after := sd.spots[0], sd.spots[0]
	for _, q := range sd.spots {
		if clockwise(q.deg, v.Deg) < clockwise(before.deg, v.Deg) {
			before = q
		}
		if clockwise(v.Deg, q.deg) < clockwise(v.Deg, after.deg) {
			after = q
		}
	}

	a, b, err := Split(v.GMM, v.Deg, before.deg, after.deg)
	if err != nil { // a single spot, or half a turn between the two: the nearer takes all
		if apart(after.deg, v.Deg) < apart(before.deg, v.Deg) {
			before = after
		}
		return []Vector{{v.GMM, before.deg}}
	}

	return []Vector{{a, before.deg}, {b, after.deg}}
}

// spotName returns the name of the spot at an angle, empty if there is none.
func (sd side) spotName(deg float64) string {
	for _, q := range sd.spots {
		if q.deg == deg {
			return q.name
		}
	}
	return ""
}

// nearest returns the size whose moment is nearest to want; ok is false if no weight at all
// is nearer.
func nearest(sizes []size, want float64) (z size, ok bool) {
	err := want
	for _, q := range sizes {
		if d := math.Abs(q.moment - want); d < err {
			z, err, ok = q, d, true
		}
	}
	return z, ok
}
