package pattern

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
)

// waves is a tread of three grooves, ragged where hole says so, at given angles (degrees):
// a level for each groove, a wave shared by all and one that is opposite at the shoulders.
func waves(rng *rand.Rand, deg []float64, n int, shared, opposite, noise float64) *reader {
	r := &reader{in: Input{Tread: Tread{StationsDeg: deg}, ResolutionMM: 0.1}}
	r.grid.stations = len(deg)
	phase := 2 * math.Pi * rng.Float64()

	for g := range 3 {
		row, depths := make([]*float64, len(deg)), make([]*float64, len(deg))
		for k, d := range deg {
			wave := (shared + opposite*float64(1-g)) * math.Cos(float64(n)*d*math.Pi/180-phase)
			w := 3 + float64(g) + wave + noise*rng.NormFloat64()
			if depth := 10 - w; rng.Float64() > 0.08 {
				row[k], depths[k] = &w, &depth
			}
		}
		r.grid.wear, r.in.DepthsMM = append(r.grid.wear, row), append(r.in.DepthsMM, depths)
	}

	return r
}

// second is a fit of n dips by QR of the whole design matrix: a column for each groove and
// the waves themselves. It shares nothing with profile.fit, which takes the levels out first.
type second struct {
	slope        [4]float64
	left         [3]float64 // sums of squares left by levels, by static waves, by all
	reads, level int
	even         float64
}

func secondFit(r *reader, n int) second {
	var out second
	var at []float64
	for _, d := range r.in.StationsDeg {
		at = append(at, d*math.Pi/180)
	}

	sums, counts := map[int]float64{}, map[int]float64{}
	for _, row := range r.grid.wear {
		s := spanOf(row)
		out.reads += s.n
		out.level++
		for k, w := range row {
			if w != nil {
				sums[k], counts[k] = sums[k]+*w-s.mean, counts[k]+1
			}
		}
	}
	for k, sum := range sums {
		out.even += sum * sum / counts[k]
	}

	for step, terms := range []int{0, 2, 4} {
		x, y := mat.NewDense(out.reads, out.level+terms, nil), mat.NewVecDense(out.reads, nil)
		i := 0
		for g, row := range r.grid.wear {
			for k, w := range row {
				if w == nil {
					continue
				}
				x.Set(i, g, 1)
				c, s := math.Cos(float64(n)*at[k]), math.Sin(float64(n)*at[k])
				for t, v := range []float64{c, s, c * float64(1-g), s * float64(1-g)}[:terms] {
					x.Set(i, out.level+t, v)
				}
				y.SetVec(i, *w)
				i++
			}
		}

		var qr mat.QR
		qr.Factorize(x)
		var b, fitted mat.VecDense
		if err := qr.SolveVecTo(&b, false, y); err != nil {
			panic(err)
		}
		fitted.MulVec(x, &b)
		fitted.SubVec(y, &fitted)
		out.left[step] = mat.Dot(&fitted, &fitted)
		for t := range terms {
			out.slope[t] = b.AtVec(out.level + t)
		}
	}

	return out
}

// chanceF is the chance of an F of two and free degrees beyond ratio, by the incomplete beta
// function (Abramowitz & Stegun 26.6.2).
func chanceF(ratio, free float64) float64 {
	return mathext.RegIncBeta(free/2, 1, free/(free+2*ratio))
}

// The fit of every number of dips agrees with a second way: slopes, what is left, the
// F-tests of both parts (extra sums of squares, Draper & Smith) and the part that all
// grooves share.
func TestFitASecondWay(t *testing.T) {
	t.Parallel()

	rng := rand.New(rand.NewPCG(77, 1))
	near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-7*(1+math.Abs(b)) }

	for round := range 40 {
		truth := 1 + round%5
		r := waves(rng, UnequalStations(), truth, []float64{0.2, 0.6, 0}[round%3], []float64{0, 0.3, 0.7}[round%3], 0.2)
		p := r.newProfile()
		floor := 0.1*0.1/12 + 0.2*0.2/4

		for n := 1; n <= 6; n++ {
			f, s := p.fit(n), secondFit(r, n)
			free := float64(s.reads - s.level - 4)
			noise := math.Max(s.left[2]/free, floor)
			amplitude, phase := cmplx.Polar(complex(s.slope[0], s.slope[1]))
			angle := math.Mod(phase*180/math.Pi+360, 360) / float64(n)
			couple := math.Hypot(s.slope[2], s.slope[3])

			for what, v := range map[string][2]float64{
				"shared":       {f.static.AmplitudeMM, amplitude},
				"shared at":    {f.static.AngleDeg, angle},
				"opposite":     {f.couple.AmplitudeMM, couple},
				"left":         {f.left, s.left[2]},
				"free":         {float64(f.free), free},
				"explained":    {f.staticMM2, s.left[0] - s.left[1]},
				"noise":        {p.noise(f), noise},
				"chance":       {f.staticChance, chanceF((s.left[0]-s.left[1])/2/noise, free)},
				"other chance": {f.coupleChance, chanceF((s.left[1]-s.left[2])/2/noise, free)},
				"total":        {p.total, s.left[0]},
				"even":         {p.even, s.even},
			} {
				if !near(v[0], v[1]) {
					t.Fatalf("round %d, %d dips: %s %g, want %g", round, n, what, v[0], v[1])
				}
			}
		}
	}
}

// What the fits show of the number of dips, by the rule of its comment and fits of a second
// way: once a turn stands if it fits nearly as well as the best; a pattern is found if its
// chance is small enough and it makes half of what the grooves share, or if it is a couple.
func TestOrdersASecondWay(t *testing.T) {
	t.Parallel()

	rng := rand.New(rand.NewPCG(78, 1))
	seen := map[string]int{}

	for round := range 300 {
		shared := 0.6 * rng.Float64()
		r := waves(rng, UnequalStations(), 1+round%4, shared, []float64{0, 0.9 * rng.Float64()}[round%2], 0.25)
		p := r.newProfile()
		got := p.readOrders()

		var fits []second
		best := 0
		for n := 1; n <= 12; n++ {
			fits = append(fits, secondFit(r, n))
			if fits[n-1].left[2] < fits[best].left[2]-1e-6 {
				best = n - 1
			}
		}

		free := float64(fits[0].reads - fits[0].level - 4)
		noise := func(s second) float64 { return math.Max(s.left[2]/free, 0.1*0.1/12+0.01) }
		chances := func(s second) (static, couple float64) {
			return chanceF((s.left[0]-s.left[1])/2/noise(s), free), chanceF((s.left[1]-s.left[2])/2/noise(s), free)
		}

		once, _ := chances(fits[0])
		if once <= 0.025 && fits[0].left[2]-fits[best].left[2] <= 4.61*noise(fits[best]) {
			best = 0
		}

		// Eight places show at most four numbers of dips; the chance is shared among them.
		b := fits[best]
		static, couple := chances(b)
		allowed := 0.005 / 4
		if best == 0 {
			allowed = 0.025
		}
		found := static <= allowed && b.left[0]-b.left[1] >= 0.45*b.even || couple <= 0.005/4

		var could []int
		for i, s := range fits {
			if s.left[2]-b.left[2] <= 4.61*noise(b) {
				could = append(could, i+1)
			}
		}

		rules := b.left[0]-b.left[1] >= 0.6*b.even
		if got.best.n != best+1 || got.found != found || got.rules != rules || !slices.Equal(got.could, could) {
			t.Fatalf("round %d: %d dips, found %v, rules %v, could be %v; want %d, %v, %v, %v", round, got.best.n,
				got.found, got.rules, got.could, best+1, found, rules, could)
		}

		for name, is := range map[string]bool{"found": found, "rules": rules, "once": best == 0,
			"couple": couple <= 0.005/4} {
			if is {
				seen[name]++
			}
		}
	}

	for _, name := range []string{"found", "rules", "once", "couple"} {
		if seen[name] < 20 || seen[name] > 280 {
			t.Errorf("%s in %d of 300: the rounds do not test it", name, seen[name])
		}
	}
}

// Two shoulders are opposite from 120 to 240 degrees apart and if neither wave is less than
// half the other (chosen by us).
func TestOppositeShoulders(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		n            int
		inner, apart float64 // mm; degrees of the wave
		want         bool
	}{
		{1, 1, 180, true}, {1, 1, 121, true}, {1, 1, 119, false}, {1, 1, 239, true}, {1, 1, 241, false},
		{1, 0.51, 180, true}, {1, 0.49, 180, false}, {1, 1.99, 180, true}, {1, 2.01, 180, false},
		{2, 1, 180, true}, {2, 1, 119, false}, {3, 1, 121, true}, {3, 0.8, 0, false}, {3, 0.8, 150, true},
		{1, 0.6, 125, true}, {1, 0.6, 115, false}, {1, 1.7, 125, true}, {1, 1.7, 115, false},
	} {
		// Shared is half the sum of the two waves, opposite half their difference.
		outer := cmplx.Rect(1, 0.3)
		inner := cmplx.Rect(c.inner, 0.3+c.apart*math.Pi/180)
		shared, opposite := (outer+inner)/2, (outer-inner)/2
		f := orderFit{n: c.n, static: newHarmonic(c.n, real(shared), imag(shared)),
			couple: newHarmonic(c.n, real(opposite), imag(opposite))}
		if f.opposite() != c.want {
			t.Errorf("%+v: %v", c, !c.want)
		}
	}
}

// The chance of a spread on an even groove against drawing it: readings with 0.2 mm of
// scatter, rounded to the step, the depth anywhere between two steps. Four standard errors.
func TestChanceOfSpreadAgainstDrawing(t *testing.T) {
	t.Parallel()

	const rounds = 40_000
	for i, c := range []struct {
		k            int
		step, spread float64
	}{{2, Step, Step}, {3, Step, Step}, {8, Step, Step}, {8, Step, 2 * Step}, {2, 0.1, 0.5}, {5, 0.1, 0.4}, {8, 0.1, 0.7},
		{12, 0.25, 0.75}} {
		rng := rand.New(rand.NewPCG(79, uint64(i)))
		wide := 0
		for range rounds {
			depth := 8 + c.step*rng.Float64()
			lo, hi := math.Inf(1), math.Inf(-1)
			for range c.k {
				v := math.Round((depth + 0.2*rng.NormFloat64()) / c.step)
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
			if (hi-lo)*c.step >= c.spread-1e-9 {
				wide++
			}
		}

		want := float64(wide) / rounds
		tolerance := 4*math.Sqrt(want*(1-want)/rounds) + 1e-4
		if got := chanceOfSpread(c.k, c.step, c.spread); math.Abs(got-want) > tolerance {
			t.Errorf("%+v: %.4f, drawn %.4f, give or take %.4f", c, got, want, tolerance)
		}
	}

	if chanceOfSpread(8, Step, 0) != 1 || chanceOfSpread(1, Step, 5) != 1 || chanceOfSpread(8, 0.1, 9) > 1e-4 {
		t.Error("a spread of none is certain, as is one of one reading; 9 mm hardly happens")
	}
}

// So many numbers of dips can places show: half of the places, at most 12, at least one.
func TestDistinctOrders(t *testing.T) {
	t.Parallel()

	for places, want := range map[int]int{1: 1, 2: 1, 3: 1, 4: 2, 7: 3, 8: 4, 23: 11, 24: 12, 40: 12} {
		var p profile
		for range 3 { // grooves at the same places
			for k := range places {
				p.angle = append(p.angle, 2*math.Pi*float64(k)/float64(places))
			}
		}
		if got := p.distinct(); got != want {
			t.Errorf("%d places show %d, want %d", places, got, want)
		}
	}
}
