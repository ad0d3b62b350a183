package wear_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rimledger/models/modeltest"
	"rimledger/models/wear"
)

// The simulated fleet: a test helper, invented. What it assumes:
//
//   - each tire's rate is lognormal about the fleet's mean with a coefficient of
//     variation of 0.27 (best and worst tenth differ twofold on one site: Tire
//     Sci. Technol. 1(2) 202, abstract); the fleet's mean is a factor off the
//     embedded table;
//   - the logarithm of the rate drifts as a random walk, 0.2 over a life, and for
//     a third of the tires the route changes once, by a factor of 0.75 to 1.33;
//   - a deep tread squirms more: it wears 15 % faster new than worn out;
//   - break-in takes 1 to 4 % of the usable tread more within the first 4000 km;
//   - a new tread is within 0.3 mm (two standard deviations) of its nominal depth;
//   - a reading scatters by 0.2 mm, one of the depot's three people reads each
//     time, each with a bias of 0.15 mm (standard deviation), and the gauge rounds
//     to its scale; every tire stands for a depot of its own;
//   - two readings in a hundred were taken at another tire, whose depth is
//     anywhere between the limit and new;
//   - a tire is read 8 to 16 times in its life, at uneven distances: a car of
//     50 km a day every three months, a tractor's steer tire every month.
//
// What the estimator knows: nominal depth, gauge, and the fleet's priors.
type fleet struct {
	rng         *rand.Rand
	class, role string
	factor      float64 // of the fleet to the embedded rate
	gauge       wear.Gauge
	newMM       float64
	limitMM     float64
	people      [3]float64
}

// life is one simulated tire.
type life struct {
	readings []wear.Reading
	endKM    float64 // where its true depth is at the limit
}

func newFleet(seed uint64, class, role string, factor float64, gauge wear.Gauge, newMM, limitMM float64) *fleet {
	return &fleet{rand.New(rand.NewPCG(seed, 1)), class, role, factor, gauge, newMM, limitMM, [3]float64{}}
}

// tire wears one tire down to the limit.
func (f *fleet) tire() life {
	for i := range f.people {
		f.people[i] = 0.15 * f.rng.NormFloat64()
	}

	usable := f.newMM - f.limitMM
	rate := wear.DefaultPrior(f.class, f.role).RateMean * f.factor * math.Exp(0.265*f.rng.NormFloat64()-0.035)
	expected := usable / rate * 1000
	step := expected / 400
	depth := f.newMM + 0.15*f.rng.NormFloat64()
	breakIn := usable * (0.01 + 0.03*f.rng.Float64())

	change := math.Inf(1)
	if f.rng.Float64() < 1.0/3 {
		change = expected * f.rng.Float64()
	}

	every := expected / (8 + 8*f.rng.Float64())
	next := every * (0.5 + f.rng.Float64())

	var l life
	for x := 0.0; ; x += step {
		if x >= change {
			rate *= math.Exp((2*f.rng.Float64() - 1) * math.Log(1.33))
			change = math.Inf(1)
		}

		if x >= next {
			l.readings = append(l.readings, wear.Reading{XKM: x, DepthMM: f.read(depth), Gauge: f.gauge})
			next = x + every*(0.5+f.rng.Float64())
		}

		lost := rate * step / 1000 * (0.925 + 0.15*(depth-f.limitMM)/usable)
		if x < 4000 {
			lost += breakIn * math.Min(step, 4000-x) / 4000
		}
		if depth-lost <= f.limitMM {
			l.endKM = x + step*(depth-f.limitMM)/lost
			return l
		}

		depth -= lost
		rate *= math.Exp(0.2 / math.Sqrt(400) * f.rng.NormFloat64())
	}
}

// read returns what a person writes down for a tire that is depth deep.
func (f *fleet) read(depth float64) float64 {
	if f.rng.Float64() < 0.02 {
		depth = f.limitMM + (f.newMM-f.limitMM)*f.rng.Float64()
	}
	depth += f.people[f.rng.IntN(3)] + 0.2*f.rng.NormFloat64()
	depth = math.Round(depth/f.gauge.ResolutionMM) * f.gauge.ResolutionMM
	return math.Max(0, math.Min(depth, f.newMM+0.79))
}

// follow returns the state after the readings up to x.
func (f *fleet) follow(t testing.TB, p wear.Prior, l life, x float64) wear.State {
	t.Helper()
	s, err := wear.Start(p, wear.Fitting{NewMM: f.newMM, Fresh: true})
	for _, r := range l.readings {
		if err != nil || r.XKM > x {
			break
		}
		s, _, err = s.Update(r)
	}
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// learn returns the prior that n worn-out or running tires of the fleet teach.
func (f *fleet) learn(t testing.TB, n int) wear.Prior {
	t.Helper()

	var seen []wear.Summary
	for range n {
		l := f.tire()
		s := f.follow(t, wear.DefaultPrior(f.class, f.role), l, l.endKM*(0.4+0.6*f.rng.Float64()))
		if rate, se, ok := s.Summary(); ok {
			seen = append(seen, wear.Summary{Class: f.class, Role: f.role, RateMM: rate, SEMM: se})
		}
	}

	priors, err := wear.Learn(all(seen))
	if err != nil {
		t.Fatal(err)
	}

	return priors.For(f.class, f.role, "")
}

// straightLine returns the distance left from x by a line through the readings,
// the nominal new depth included as the first; a line that does not fall is the
// horizon.
func (f *fleet) straightLine(l life, x float64) float64 {
	xs, ys := []float64{0}, []float64{f.newMM}
	for _, r := range l.readings {
		if r.XKM <= x {
			xs, ys = append(xs, r.XKM), append(ys, r.DepthMM)
		}
	}
	line, err := wear.Fit(xs, ys)
	if err != nil || line.Slope >= 0 {
		return wear.HorizonKM
	}
	return math.Max((f.limitMM-line.Intercept)/line.Slope-x, 0)
}

// score is what the forecasts of one fleet came to at one part of life.
type score struct {
	in90, in80, n   int
	errors, byLines []float64 // of the distance left, as a share of the life
}

func middle(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[len(v)/2]
}

// judge follows n tires and scores the forecast at a part of their life.
func (f *fleet) judge(t testing.TB, p wear.Prior, n int, part float64) score {
	t.Helper()

	var sc score
	for range n {
		l := f.tire()
		x := part * l.endKM
		s := f.follow(t, p, l, x)
		fc, err := s.Forecast(wear.Ahead{LimitMM: f.limitMM, NowKM: x})
		if err != nil {
			t.Fatal(err)
		}
		left := l.endKM - x

		sc.n++
		if holds(fc.Distance.Lo90, fc.Distance.Hi90, left) {
			sc.in90++
		}
		if holds(fc.Distance.Lo80, fc.Distance.Hi80, left) {
			sc.in80++
		}
		sc.errors = append(sc.errors, math.Abs(fc.Distance.Median.Value-left)/l.endKM)
		sc.byLines = append(sc.byLines, math.Abs(f.straightLine(l, x)-left)/l.endKM)
	}

	return sc
}

func holds(lo, hi wear.Bound, v float64) bool { return lo.Value <= v && (hi.Beyond || v <= hi.Value) }

// fleetKinds are the fleets that are simulated: how far each is from the
// embedded table, and both gauges.
var fleetKinds = []struct {
	name        string
	class, role string
	factor      float64
	gauge       wear.Gauge
	newMM       float64
	limitMM     float64
}{
	{"car drive, 32nds", "car", "drive", 1.25, wear.Gauge32nd, 8.0, 1.6},
	{"car steer, tenths", "car", "steer", 0.8, wear.GaugeTenth, 8.0, 1.6},
	{"tractor steer, 32nds", "tractor", "steer", 1.15, wear.Gauge32nd, 14.3, 4.8},
	{"tractor drive, tenths", "tractor", "drive", 0.85, wear.GaugeTenth, 20.6, 3.2},
	{"trailer, 32nds", "trailer", "free", 1.1, wear.Gauge32nd, 10.3, 3.2},
}

// TestForecastsHoldOnSimulatedFleets: 90 % intervals hold the truth in 85 to 95 %
// of cases at 20, 40, 60 and 80 % of life; the median error over 20 and 40 % is
// at most 0.85 of that of a straight line, and at no part of life is the line
// better.
func TestForecastsHoldOnSimulatedFleets(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	for i, k := range fleetKinds {
		for seed := range uint64(3) {
			t.Run(fmt.Sprintf("%s, fleet %d", k.name, seed+1), func(t *testing.T) {
				t.Parallel()
				f := newFleet(1000*uint64(i)+seed, k.class, k.role, k.factor, k.gauge, k.newMM, k.limitMM)
				p := f.learn(t, 200)

				var early score
				for _, part := range []float64{0.2, 0.4, 0.6, 0.8} {
					sc := f.judge(t, p, 1000, part)
					sc.check(t, part)
					if part <= 0.4 {
						early.errors = append(early.errors, sc.errors...)
						early.byLines = append(early.byLines, sc.byLines...)
					}
				}

				if ratio := middle(early.errors) / middle(early.byLines); ratio > 0.85 {
					t.Errorf("at 20 and 40 %% of life the error is %.2f of a straight line's; want at most 0.85", ratio)
				}
			})
		}
	}
}

// check fails if the 90 % interval holds too few or too many, or a line is better.
func (sc score) check(t *testing.T, part float64) {
	t.Helper()

	cover, cover80 := float64(sc.in90)/float64(sc.n), float64(sc.in80)/float64(sc.n)
	ratio := middle(sc.errors) / middle(sc.byLines)
	t.Logf("at %2.0f %%: 90 %% holds %.3f, 80 %% holds %.3f, median error %.3f of life, %.2f of a line's",
		100*part, cover, cover80, middle(sc.errors), ratio)

	if cover < 0.85 || cover > 0.95 {
		t.Errorf("at %.0f %% of life the 90 %% interval holds %.3f; want 0.85 to 0.95", 100*part, cover)
	}
	if ratio > 1.01 {
		t.Errorf("at %.0f %% of life the error is %.2f of a straight line's", 100*part, ratio)
	}
}

// TestEmbeddedPriorIsHonest: before the fleet has taught anything the embedded
// table may be a quarter off, and the 90 % intervals still hold at least 85 %.
func TestEmbeddedPriorIsHonest(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	for i, k := range fleetKinds {
		t.Run(k.name, func(t *testing.T) {
			t.Parallel()
			f := newFleet(7000+uint64(i), k.class, k.role, k.factor, k.gauge, k.newMM, k.limitMM)
			for _, part := range []float64{0.05, 0.2, 0.6} {
				sc := f.judge(t, wear.DefaultPrior(k.class, k.role), 400, part)
				if cover := float64(sc.in90) / float64(sc.n); cover < 0.85 {
					t.Errorf("at %.0f %% of life the 90 %% interval holds %.3f; want at least 0.85", 100*part, cover)
				}
			}
		})
	}
}

// TestLearnFindsTheFleet: the simulated fleet's factor comes back, and the
// spread between its tires.
func TestLearnFindsTheFleet(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	for i, k := range fleetKinds {
		t.Run(k.name, func(t *testing.T) {
			t.Parallel()
			f := newFleet(9000+uint64(i), k.class, k.role, k.factor, k.gauge, k.newMM, k.limitMM)
			p := f.learn(t, 300)
			mean := wear.DefaultPrior(k.class, k.role).RateMean * k.factor
			within(t, "mean", p.RateMean/mean, 1, 0.08)
			// 0.27 between tires; drift and route changes of 0.1 to 0.2 add to it,
			// and 300 tires tell it to 4 %.
			within(t, "coefficient of variation", p.RateSD/p.RateMean, 0.28, 0.05)
		})
	}
}
