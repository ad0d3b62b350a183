package balance_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models/balance"
	"rimledger/models/modeltest"
)

// exhaustive has every set of a problem whose places all have spots, listed by
// definition and without any short cut.
type exhaustive struct {
	p    balance.Problem
	sets [][]balance.Piece // of each place
}

// newExhaustive lists the sets of a problem.
func newExhaustive(p balance.Problem) exhaustive {
	e := exhaustive{p: p}
	for _, place := range p.Places {
		e.sets = append(e.sets, setsOn(place, p.Stock)...)
	}
	return e
}

// setsOn lists every set of pieces that a place can carry, the empty one too.
func setsOn(place balance.Place, stock []balance.Weight) [][]balance.Piece {
	most := place.MaxPieces
	if most == 0 {
		most = min(2, len(place.Spots))
	}

	sets := [][]balance.Piece{nil}
	for _, spot := range place.Spots {
		pieces := piecesOn(place, spot, stock)
		for _, set := range sets { // those without a piece on this spot
			for _, piece := range pieces {
				if len(set) < most && fitsOn(place, spot, piece, set) {
					sets = append(sets, append(append([]balance.Piece{}, set...), piece))
				}
			}
		}
	}
	return sets
}

// piecesOn lists the clips or strips of the stock that go on a spot.
func piecesOn(place balance.Place, spot balance.Spot, stock []balance.Weight) []balance.Piece {
	var out []balance.Piece
	for _, w := range stock {
		for n := 1; w.Kind == place.Kind && n <= max(1, w.MaxSegments); n++ {
			out = append(out, balance.Piece{
				Place:    place.Name,
				MassG:    float64(n) * w.MassG,
				LengthMM: float64(n) * w.LengthMM,
				Deg:      spot.Deg,
			})
		}
	}
	return out
}

// fitsOn reports whether a piece fits on a spot beside the pieces of a set.
func fitsOn(place balance.Place, spot balance.Spot, piece balance.Piece, set []balance.Piece) bool {
	perDeg := place.Plane.RadiusMM * math.Pi / 180
	half := piece.LengthMM / perDeg / 2
	if spot.WidthMM > 0 && piece.LengthMM > spot.WidthMM+1e-9 {
		return false
	}

	for d := -half; d <= half+1e-12; d += math.Max(half/50, 0.01) { // walk along the piece
		for _, a := range place.Blocked {
			from, to := turn(spot.Deg+d-a.FromDeg), turn(a.ToDeg-a.FromDeg)
			if from > 1e-6 && from < to-1e-6 {
				return false
			}
		}
	}

	total := piece.MassG
	for _, q := range set {
		total += q.MassG
		gap := math.Min(turn(q.Deg-piece.Deg), turn(piece.Deg-q.Deg))
		if gap*perDeg < (q.LengthMM+piece.LengthMM)/2-1e-9 {
			return false
		}
	}

	return place.MaxMassG == 0 || total <= place.MaxMassG+1e-9
}

func turn(deg float64) float64 { return math.Mod(math.Mod(deg, 360)+360, 360) }

// lefts evaluates every pair of sets on two places that keeps to the limits on mass and
// pieces.
func (e exhaustive) lefts(t rapid.TB) []balance.Left {
	var out []balance.Left
	for i, a := range e.sets {
		for _, b := range e.sets[i:] {
			samePlace := len(a) > 0 && len(b) > 0 && a[0].Place == b[0].Place
			repeated := len(a) == 0 && len(b) > 0 && i > 0 // each place lists an empty set
			if samePlace || repeated {
				continue
			}

			left, _, err := balance.Evaluate(e.p, append(append([]balance.Piece{}, a...), b...))
			if err != nil {
				t.Fatal(err)
			}
			if (e.p.MaxMassG == 0 || left.MassG <= e.p.MaxMassG+1e-9) &&
				(e.p.MaxPieces == 0 || left.Pieces <= e.p.MaxPieces) {
				out = append(out, left)
			}
		}
	}
	return out
}

// bestSet is the mass and pieces of the best set, and the least score of all.
type bestSet struct {
	score, mass float64
	pieces      int
	meets       bool // the limits
}

// best returns the best set by the order that Choose promises, with a slack on each
// comparison.
func (e exhaustive) best(t rapid.TB, slack float64) bestSet {
	lefts := e.lefts(t)
	best := bestSet{score: math.Inf(1), mass: math.Inf(1)}
	best.meets = slices.ContainsFunc(lefts, func(l balance.Left) bool { return l.Meets })

	for _, l := range lefts {
		if l.Meets == best.meets {
			best.score = math.Min(best.score, l.ScoreG)
		}
	}

	for _, l := range lefts {
		if l.Meets != best.meets || l.ScoreG > best.score+slack {
			continue
		}
		if l.MassG < best.mass-1e-9 || l.MassG < best.mass+1e-9 && l.Pieces < best.pieces {
			best.mass, best.pieces = l.MassG, l.Pieces
		}
	}
	return best
}

// smallProblem draws a problem that is small enough to try everything.
func smallProblem(t *rapid.T) balance.Problem {
	offset := rapid.Float64Range(-80, 80)
	radius := rapid.Float64Range(150, 300)

	vector := rapid.Custom(func(t *rapid.T) balance.Vector {
		return balance.Vector{
			GMM: rapid.Float64Range(0, 15000).Draw(t, "g mm"),
			Deg: rapid.Float64Range(0, 360).Draw(t, "deg"),
		}
	})

	modes := []balance.Mode{balance.TwoPlane, balance.TwoPlane, balance.Static}
	kinds := []balance.Kind{balance.Clip, balance.Adhesive, balance.Adhesive}
	p := balance.Problem{
		Measured: balance.Planes{
			Inner: balance.Plane{RadiusMM: radius.Draw(t, "inner radius"), OffsetMM: -90},
			Outer: balance.Plane{RadiusMM: radius.Draw(t, "outer radius"), OffsetMM: 90},
		},
		Unbalance: balance.Unbalance{Inner: vector.Draw(t, "inner"), Outer: vector.Draw(t, "outer")},
		Mode:      rapid.SampledFrom(modes).Draw(t, "mode"),
		Stock: []balance.Weight{
			{Name: "segment", Kind: balance.Adhesive, MassG: rapid.SampledFrom([]float64{5, 10, 14}).Draw(t, "segment"),
				LengthMM:    rapid.SampledFrom([]float64{0, 14, 20}).Draw(t, "length"),
				MaxSegments: rapid.IntRange(0, 4).Draw(t, "segments")},
			{Name: "clip", Kind: balance.Clip, MassG: 20, LengthMM: 30},
			{Name: "big clip", Kind: balance.Clip, MassG: 45, LengthMM: 50},
		},
		SlackG: rapid.SampledFrom([]float64{0, 1, 5}).Draw(t, "slack"),
	}

	if rapid.Bool().Draw(t, "limited") {
		p.LimitInnerG = rapid.Float64Range(1, 15).Draw(t, "inner limit")
		p.LimitOuterG = rapid.Float64Range(1, 15).Draw(t, "outer limit")
		p.LimitStaticG = rapid.SampledFrom([]float64{0, 3, 12}).Draw(t, "static limit")
	}

	if rapid.Bool().Draw(t, "bounded") {
		p.MaxMassG = rapid.Float64Range(10, 120).Draw(t, "total")
		p.MaxPieces = rapid.IntRange(1, 4).Draw(t, "pieces")
	}

	for i := range rapid.IntRange(1, 3).Draw(t, "places") {
		place := balance.Place{
			Name:      string(rune('a' + i)),
			Kind:      rapid.SampledFrom(kinds).Draw(t, "kind"),
			Plane:     balance.Plane{RadiusMM: radius.Draw(t, "radius"), OffsetMM: offset.Draw(t, "offset")},
			MaxPieces: rapid.IntRange(0, 3).Draw(t, "place pieces"),
			MaxMassG:  rapid.SampledFrom([]float64{0, 40}).Draw(t, "place mass"),
		}

		if rapid.Bool().Draw(t, "blocked") {
			from := rapid.Float64Range(0, 359).Draw(t, "from")
			place.Blocked = []balance.Arc{
				{FromDeg: from, ToDeg: turn(from + rapid.Float64Range(1, 120).Draw(t, "arc"))},
			}
		}

		spokes, first := rapid.IntRange(1, 3).Draw(t, "spokes"), rapid.Float64Range(0, 90).Draw(t, "first spoke")
		for k := range spokes {
			place.Spots = append(place.Spots, balance.Spot{
				Deg:     turn(first + float64(k)*360/float64(spokes)),
				WidthMM: rapid.SampledFrom([]float64{0, 35}).Draw(t, "width"),
			})
		}
		p.Places = append(p.Places, place)
	}

	return p
}

func TestChooseEqualsExhaustiveSearch(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		p := smallProblem(t)
		got, err := balance.Choose(p)
		if errors.Is(err, balance.ErrNoPlace) {
			t.Skip("nothing fits")
		}
		if err != nil {
			t.Fatal(err)
		}

		e := newExhaustive(p)
		wide, narrow := e.best(t, p.SlackG+1e-6), e.best(t, p.SlackG-1e-6)
		if got.Left.Meets != wide.meets {
			t.Fatalf("meets the limits: %v, exhaustive search %v", got.Left.Meets, wide.meets)
		}
		if got.Left.ScoreG > wide.score+p.SlackG+1e-6 {
			t.Fatalf("leaves %g g, the least is %g g with slack %g g", got.Left.ScoreG, wide.score, p.SlackG)
		}

		// Sets just at the edge of the slack may fall on either side of it.
		if p.SlackG > 0 && (got.Left.MassG > narrow.mass+1e-6 || got.Left.MassG < wide.mass-1e-6) {
			t.Fatalf("weighs %g g, exhaustive search %g g", got.Left.MassG, narrow.mass)
		}
		if p.SlackG > 0 && wide.mass == narrow.mass && got.Left.Pieces > narrow.pieces {
			t.Fatalf("%d pieces, exhaustive search %d", got.Left.Pieces, narrow.pieces)
		}
	})
}

// On open circles the positions are steps from the exact angle of the correction: with
// these positions given as spots, exhaustive search leaves no less.
func TestChooseOnOpenCirclesEqualsExhaustiveSearch(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		planes, bands := drawPlanes(t, "measured"), drawPlanes(t, "bands")
		u := balance.Unbalance{Inner: drawVector(t, "inner"), Outer: drawVector(t, "outer")}
		moved, err := balance.Transfer(u, planes, bands)
		if err != nil {
			t.Fatal(err)
		}

		const step = 90.0
		pieces := rapid.IntRange(1, 2).Draw(t, "pieces")
		open := balance.Problem{
			Measured:  planes,
			Unbalance: u,
			Stock:     []balance.Weight{{Kind: balance.Clip, MassG: 15}, {Kind: balance.Clip, MassG: 50}},
			Places: []balance.Place{
				{Name: "inner", Kind: balance.Clip, Plane: bands.Inner, StepDeg: step, MaxPieces: pieces},
				{Name: "outer", Kind: balance.Clip, Plane: bands.Outer, StepDeg: step, MaxPieces: pieces},
			},
		}

		spots := open
		spots.Places = append([]balance.Place{}, open.Places...)
		for i, v := range []balance.Vector{moved.Inner, moved.Outer} {
			for d := 0.0; d < 360; d += step {
				spots.Places[i].Spots = append(spots.Places[i].Spots, balance.Spot{Deg: turn(v.Deg + 180 + d)})
			}
		}

		got, err := balance.Choose(open)
		if err != nil {
			t.Fatal(err)
		}

		least := newExhaustive(spots).best(t, 0).score
		both := false
		for _, w := range got.Pieces {
			both = both || w.Place != got.Pieces[0].Place
		}

		if got.Left.ScoreG > least+1e-6 || both && got.Left.ScoreG < least-1e-6 {
			t.Errorf("leaves %g g, exhaustive search %g g", got.Left.ScoreG, least)
		}
	})
}

// 20 g as one piece or as 10 g in each of two like places: the same residual and
// mass, so the one piece is taken, in whichever order the places are listed.
func TestChooseTakesFewestPieces(t *testing.T) {
	t.Parallel()

	spot := []balance.Spot{{Deg: 180}}
	p := balance.Problem{
		Measured: wheelPlanes, Mode: balance.Static, Unbalance: balance.HalfEach(balance.Mass(20, 200, 0)),
		Stock: []balance.Weight{{Kind: balance.Clip, MassG: 20, Clip: "P"}, {Kind: balance.Clip, MassG: 10}},
		Places: []balance.Place{
			{Name: "inner", Kind: balance.Clip, Plane: wheelPlanes.Inner, Spots: spot, Clips: []string{"C"}},
			{Name: "outer", Kind: balance.Clip, Plane: wheelPlanes.Outer, Spots: spot},
		},
	}

	for range 2 {
		got, err := balance.Choose(p)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Pieces) != 1 || got.Pieces[0].MassG != 20 || got.Pieces[0].Place != "outer" {
			t.Errorf("pieces %+v, want one of 20 g outside, where clip P fits", got.Pieces)
		}
		p.Places[0], p.Places[1] = p.Places[1], p.Places[0]
	}
}

// Weights of the box that correct a wheel exactly are found, whatever the angle:
// 35 g and 20 g needed, 35 g and 20 g fitted there, nothing left.
func TestChooseFindsTheExactCure(t *testing.T) {
	t.Parallel()
	planes := balance.Planes{
		Inner: balance.Plane{RadiusMM: 203.2, OffsetMM: -178},
		Outer: balance.Plane{RadiusMM: 203.2},
	}

	for deg := range 360 {
		p := balance.Problem{Measured: planes, Mode: balance.TwoPlane, LimitInnerG: 7, LimitOuterG: 7,
			Unbalance: balance.Unbalance{
				Outer: balance.Mass(35, 203.2, float64(deg)+180),
				Inner: balance.Mass(20, 203.2, float64(deg)),
			},
			Stock: []balance.Weight{{Kind: balance.Clip, MassG: 20}, {Kind: balance.Clip, MassG: 35}},
			Places: []balance.Place{{Name: "outer", Kind: balance.Clip, Plane: planes.Outer, MaxPieces: 1},
				{Name: "inner", Kind: balance.Clip, Plane: planes.Inner, MaxPieces: 1}}}

		got, err := balance.Choose(p)
		if err != nil {
			t.Fatalf("at %d°: %v", deg, err)
		}
		if len(got.Pieces) != 2 || got.Left.MassG != 55 || got.Left.ScoreG > 1e-6 {
			t.Errorf("at %d°: %+v leaves %g g", deg, got.Pieces, got.Left.ScoreG)
		}
	}
}
