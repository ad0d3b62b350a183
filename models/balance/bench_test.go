package balance_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"rimledger/models/balance"
	"rimledger/models/modeltest"
)

// benchProblem is the agreed size: two adhesive bands away from the measured
// flanges, five spokes, 24 sizes, up to two pieces a band.
func benchProblem(inner, outer balance.Shown) balance.Problem {
	planes := balance.Planes{
		Inner: balance.Plane{RadiusMM: 203, OffsetMM: -110},
		Outer: balance.Plane{RadiusMM: 203, OffsetMM: 70},
	}
	u, _, err := balance.FromShown(planes, inner, outer)
	if err != nil {
		panic(err)
	}

	p := balance.Problem{Measured: planes, Unbalance: u, LimitInnerG: 7, LimitOuterG: 7, SlackG: 1}
	for i := range 24 {
		p.Stock = append(p.Stock, balance.Weight{Name: "strip", Kind: balance.Adhesive, MassG: float64(5 * (i + 1))})
	}

	var spokes []balance.Spot
	for i := range 5 {
		spokes = append(spokes, balance.Spot{Deg: float64(72 * i)})
	}

	p.Places = []balance.Place{
		{Name: "inner band", Kind: balance.Adhesive, Plane: balance.Plane{RadiusMM: 195, OffsetMM: -95}, Spots: spokes},
		{Name: "outer band", Kind: balance.Adhesive, Plane: balance.Plane{RadiusMM: 185, OffsetMM: 20}, Spots: spokes},
	}

	return p
}

// bare is a set on one place in the exhaustive baseline.
type bare struct {
	v      complex128
	mass   float64
	pieces int
}

func bareSets(p balance.Problem, place balance.Place) []bare {
	sets := []bare{{}}
	for _, s := range place.Spots {
		for _, b := range sets {
			for _, w := range p.Stock {
				if b.pieces < 2 {
					sets = append(sets, bare{
						b.v + cmplx.Rect(w.MassG*place.Plane.RadiusMM, s.Deg*math.Pi/180),
						b.mass + w.MassG,
						b.pieces + 1,
					})
				}
			}
		}
	}

	return sets
}

// tryAll tries every pair of sets of benchProblem's two places, twice over: once
// for the least score, once for the lightest set within the slack.
func tryAll(p balance.Problem) bestSet {
	best := bestSet{score: math.Inf(1), mass: math.Inf(1)}
	a, b := bareSets(p, p.Places[0]), bareSets(p, p.Places[1])
	in, out := p.Measured.Inner, p.Measured.Outer
	span := out.OffsetMM - in.OffsetMM
	shareA, shareB := (p.Places[0].Plane.OffsetMM-in.OffsetMM)/span, (p.Places[1].Plane.OffsetMM-in.OffsetMM)/span
	inner := cmplx.Rect(p.Unbalance.Inner.GMM, p.Unbalance.Inner.Deg*math.Pi/180)

	outer := cmplx.Rect(p.Unbalance.Outer.GMM, p.Unbalance.Outer.Deg*math.Pi/180)
	score := func(x, y bare) (float64, bool) {
		l := abs(inner+complex(1-shareA, 0)*x.v+complex(1-shareB, 0)*y.v) / in.RadiusMM
		r := abs(outer+complex(shareA, 0)*x.v+complex(shareB, 0)*y.v) / out.RadiusMM
		return l + r, l <= p.LimitInnerG && r <= p.LimitOuterG
	}

	leastAny := math.Inf(1)
	for _, x := range a {
		for _, y := range b {
			s, ok := score(x, y)
			leastAny = math.Min(leastAny, s)
			if ok {
				best.score, best.meets = math.Min(best.score, s), true
			}
		}
	}

	if !best.meets {
		best.score = leastAny
	}

	for _, x := range a {
		for _, y := range b {
			m, n := x.mass+y.mass, x.pieces+y.pieces
			if m > best.mass || m == best.mass && n >= best.pieces {
				continue
			}
			if s, ok := score(x, y); s <= best.score+p.SlackG && ok == best.meets {
				best.mass, best.pieces = m, n
			}
		}
	}
	return best
}

// abs is cmplx.Abs without its care for huge numbers, to give the baseline its best.
func abs(c complex128) float64 { return math.Sqrt(real(c)*real(c) + imag(c)*imag(c)) }

func TestChooseEqualsExhaustiveSearchAtFullSize(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	for name, p := range map[string]balance.Problem{
		"usual":            benchProblem(balance.Shown{MassG: 35, Deg: 130}, balance.Shown{MassG: 20, Deg: 310}),
		"beyond the stock": benchProblem(balance.Shown{MassG: 310, Deg: 20}, balance.Shown{MassG: 260, Deg: 250}),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := balance.Choose(p)
			if err != nil {
				t.Fatal(err)
			}

			l, want := got.Left, tryAll(p)
			if l.Meets != want.meets || l.ScoreG > want.score+p.SlackG+1e-9 ||
				math.Abs(l.MassG-want.mass) > 1e-9 || l.Pieces != want.pieces {
				t.Errorf("got %+v; exhaustive search %+v", l, want)
			}
		})
	}
}

// BenchmarkChoose sets the search against trying every pair of sets, in one run:
// go test -run none -bench Choose -benchtime 5x ./models/balance
func BenchmarkChoose(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	var problems []balance.Problem
	for range 64 {
		problems = append(problems, benchProblem(balance.Shown{MassG: 10 + 80*rng.Float64(), Deg: 360 * rng.Float64()},
			balance.Shown{MassG: 10 + 80*rng.Float64(), Deg: 360 * rng.Float64()}))
	}

	b.Run("search", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			if _, err := balance.Choose(problems[i%len(problems)]); err != nil {
				b.Fatal(err)
			}
		}
	})

	b.Run("search beyond the stock", func(b *testing.B) {
		p := benchProblem(balance.Shown{MassG: 310, Deg: 20}, balance.Shown{MassG: 260, Deg: 250})
		for b.Loop() {
			if _, err := balance.Choose(p); err != nil {
				b.Fatal(err)
			}
		}
	})

	b.Run("search on open flanges", func(b *testing.B) {
		p := problems[0]
		for i := range p.Places {
			p.Places[i].Spots, p.Places[i].MaxPieces = nil, 2
		}

		for b.Loop() {
			if _, err := balance.Choose(p); err != nil {
				b.Fatal(err)
			}
		}
	})

	b.Run("exhaustive", func(b *testing.B) {
		for i := range b.N {
			tryAll(problems[i%len(problems)])
		}
	})
}

// BenchmarkOnePlane is the widest choice of the bench in one plane: a heavy wheel, two
// weights side by side on each flange, ten sizes.
func BenchmarkOnePlane(b *testing.B) {
	p := openFlanges(wheelPlanes, nil)
	p.Mode, p.SlackG = balance.Static, 14
	p.Unbalance = balance.HalfEach(balance.Mass(60, 200, 33).Opposite())
	for i := range p.Places {
		p.Places[i].MaxPieces = 2
	}
	for _, g := range []float64{25, 50, 75, 100, 125, 150, 200, 250, 300, 350} {
		p.Stock = append(p.Stock, balance.Weight{Name: "clip", Kind: balance.Clip, MassG: g})
	}

	for b.Loop() {
		if _, err := balance.Choose(p); err != nil {
			b.Fatal(err)
		}
	}
}
