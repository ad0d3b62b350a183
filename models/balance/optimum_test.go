package balance_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"rimledger/models/balance"
)

// complexOf returns a vector as a complex number.
func complexOf(v balance.Vector) complex128 { return cmplx.Rect(v.GMM, v.Deg*math.Pi/180) }

// vectorOf returns a complex number as a vector.
func vectorOf(c complex128) balance.Vector {
	r, a := cmplx.Polar(c)
	return balance.Vector{GMM: r, Deg: a * 180 / math.Pi}
}

// randomSpins is two spins of an assembly with the tire turned in between.
func randomSpins(rng *rand.Rand) balance.Spins {
	v := func() balance.Vector { return balance.Vector{GMM: 15_000 * rng.Float64(), Deg: 360 * rng.Float64()} }
	return balance.Spins{
		Planes: balance.Planes{Inner: balance.Plane{RadiusMM: 150 + 100*rng.Float64(), OffsetMM: -150},
			Outer: balance.Plane{RadiusMM: 150 + 100*rng.Float64()}},
		First: balance.Unbalance{Inner: v(), Outer: v()}, Second: balance.Unbalance{Inner: v(), Outer: v()},
		TurnDeg: 40 + 280*rng.Float64(), ResolutionG: 10 * rng.Float64(), ResolutionDeg: 6 * rng.Float64(),
	}
}

// TestSpreadByDifferences: the standard deviations to first order by a second way: each
// component of each reading is moved a little, and the change of the result, times the
// deviation of that component (a step over √12, of the amount and of the angle), is summed
// in squares.
func TestSpreadByDifferences(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(12, 1))
	worth := 0

	for range 60 {
		s := randomSpins(rng)
		got, err := balance.IndexBalance(s)
		if err != nil {
			t.Fatal(err)
		}

		// What the planes keep with the tire turned by the best turn.
		kept := func(r balance.Indexed, outer bool) complex128 {
			tire, rim, radius := r.Tire.Inner, r.Rim.Inner, s.Planes.Inner.RadiusMM
			if outer {
				tire, rim, radius = r.Tire.Outer, r.Rim.Outer, s.Planes.Outer.RadiusMM
			}
			e := cmplx.Rect(1, got.TurnDeg*math.Pi/180)
			return (complexOf(rim) + complexOf(tire)*e) / complex(radius, 0)
		}

		var predict, turn, inner, outer float64
		for i, read := range []func(*balance.Spins) *balance.Vector{
			func(s *balance.Spins) *balance.Vector { return &s.First.Inner },
			func(s *balance.Spins) *balance.Vector { return &s.First.Outer },
			func(s *balance.Spins) *balance.Vector { return &s.Second.Inner },
			func(s *balance.Spins) *balance.Vector { return &s.Second.Outer },
		} {
			radius := s.Planes.Inner.RadiusMM
			if i%2 == 1 {
				radius = s.Planes.Outer.RadiusMM
			}
			v := *read(&s)
			sd := math.Hypot(s.ResolutionG*radius, v.GMM*s.ResolutionDeg*math.Pi/180) / math.Sqrt(12)
			if i%2 == 0 {
				inner += sd * sd
			} else {
				outer += sd * sd
			}

			for part, step := range []complex128{1e-3, 1e-3i} {
				moved := s
				*read(&moved) = vectorOf(complexOf(v) + step)
				next, err := balance.IndexBalance(moved)
				if err != nil {
					t.Fatal(err)
				}
				if part == 0 { // a component of what is left depends on both alike
					d := cmplx.Abs(kept(next, i%2 == 1)-kept(got, i%2 == 1)) / 1e-3
					predict += d * d * sd * sd
				}
				by := math.Mod(next.StaticDeg-got.StaticDeg+540, 360) - 180
				turn += by * by / 1e-6 * sd * sd
			}
		}

		part := math.Sqrt(max(inner, outer)) / cmplx.Abs(1-cmplx.Rect(1, s.TurnDeg*math.Pi/180))
		near(t, "of a part", got.PartSD, part, 1e-6*part)
		near(t, "of the weight", got.PredictSDG, math.Sqrt(predict), 1e-3*math.Sqrt(predict))
		near(t, "of the turn", got.TurnSDDeg, math.Min(math.Sqrt(turn), 180), 1e-2*math.Sqrt(turn))
		if saves := got.FirstG - got.WeightG; got.Worthwhile != (saves > 2*got.PredictSDG) {
			t.Errorf("saves %g g with a deviation of %g g: worthwhile %v", saves, got.PredictSDG, got.Worthwhile)
		}
		if got.Worthwhile {
			worth++
		}
	}

	if worth < 5 || worth > 55 {
		t.Errorf("%d of 60 are worth it: the cases are all alike", worth)
	}

	// A tire without unbalance: every turn leaves the same.
	s := randomSpins(rng)
	s.Second = s.First
	if got, err := balance.IndexBalance(s); err != nil || got.TurnSDDeg != 180 {
		t.Errorf("a tire without unbalance: %+v, %v", got, err)
	}
}

// TestBestTurnIsBest: no turn, tried by hundredths of a degree, leaves less weight.
func TestBestTurnIsBest(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 60))

	for range 25 {
		s := randomSpins(rng)
		got, err := balance.IndexBalance(s)
		if err != nil {
			t.Fatal(err)
		}

		needs := func(deg float64) float64 {
			e := cmplx.Rect(1, deg*math.Pi/180)
			return cmplx.Abs(complexOf(got.Rim.Inner)+complexOf(got.Tire.Inner)*e)/s.Planes.Inner.RadiusMM +
				cmplx.Abs(complexOf(got.Rim.Outer)+complexOf(got.Tire.Outer)*e)/s.Planes.Outer.RadiusMM
		}
		least := math.Inf(1)
		for k := range 36_000 {
			least = math.Min(least, needs(float64(k)/100))
		}
		if got.WeightG > least+1e-7 || !(got.TurnDeg >= 0 && got.TurnDeg < 360) {
			t.Errorf("turn %g leaves %g g, another %g g", got.TurnDeg, got.WeightG, least)
		}
		near(t, "what the turn leaves", got.WeightG, needs(got.TurnDeg), 1e-9)
	}
}

// TestPositionsAreLeastSquares: with readings that do not agree, no correction near the one
// returned fits the amplitudes better, and the misfit is the root mean square of what is
// left. An amplitude is that of O + h e^id, the vibration as found and what the trial weight
// adds.
func TestPositionsAreLeastSquares(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(120, 240))

	for range 60 {
		heavy, effect := 360*rng.Float64(), 1+3*rng.Float64()
		test := balance.PositionTest{AsIs: 5, TrialG: 20}
		for k := range 4 + rng.IntN(4) {
			deg := 360*rng.Float64()/8 + 90*float64(k)
			truth := cmplx.Abs(5 + cmplx.Rect(effect, (deg-heavy)*math.Pi/180))
			test.Runs = append(test.Runs, balance.PositionRun{Deg: deg, Amplitude: truth + 0.3*rng.NormFloat64()})
		}
		for i := range test.Runs {
			test.Runs[i].Deg = math.Mod(test.Runs[i].Deg, 360)
			test.Runs[i].Amplitude = math.Max(test.Runs[i].Amplitude, 0)
		}

		got, err := balance.TrialPositions(test)
		if err != nil {
			t.Fatal(err)
		}
		misfit := func(heavy, effect float64) float64 {
			var square float64
			for _, r := range test.Runs {
				square += math.Pow(r.Amplitude-cmplx.Abs(5+cmplx.Rect(effect, (r.Deg-heavy)*math.Pi/180)), 2)
			}
			return math.Sqrt(square / float64(len(test.Runs)))
		}

		found, best := got.Deg+180, misfit(got.Deg+180, got.Effect)
		near(t, "misfit", got.Misfit, best, 1e-9)
		near(t, "weight", got.MassG, 20*5/got.Effect, 1e-9)
		for _, by := range [][2]float64{{0.05, 0}, {-0.05, 0}, {0, 1e-3}, {0, -1e-3}, {0.05, 1e-3}, {-0.05, 1e-3}} {
			if other := misfit(found+by[0], got.Effect*(1+by[1])); other < best-1e-9 {
				t.Errorf("heavy at %g°, effect %g: misfit %.9g, beside it %.9g", found, got.Effect, best, other)
			}
		}
	}
}
