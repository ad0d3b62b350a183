package pattern_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rimledger/models/modeltest"
	"rimledger/models/pattern"
)

const trials = 2000

// The gauge that these simulations rest on: standard error of the mean of n readings
// with 0.2 mm of scatter, derived apart from this code: 0.31, 0.18 and 0.11 mm for 1,
// 3 and 9 readings in 32nds, 0.20, 0.12 and 0.07 mm in tenths. Tolerance 0.01 mm.
func TestGaugeOfTheSimulations(t *testing.T) {
	t.Parallel()

	for step, want := range map[float64]map[int]float64{pattern.Step: {1: 0.31, 3: 0.18, 9: 0.11},
		0.1: {1: 0.20, 3: 0.12, 9: 0.07}} {
		for n, sd := range want {
			rng := rand.New(rand.NewPCG(4, uint64(n)))
			sum := 0.0
			for range trials {
				depth, mean := 8+step*rng.Float64(), 0.0
				for range n {
					mean += (gauge(rng, depth, step, 0.2) - depth) / float64(n)
				}
				sum += mean * mean
			}

			if got := math.Sqrt(sum / trials); math.Abs(got-sd) > 0.01 {
				t.Errorf("step %.2f, %d readings: %.3f mm, want %.2f", step, n, got, sd)
			}
		}
	}
}

// Spread of a perfectly even groove, 95 % and 99 % points in mm, derived apart
// from this code by a simulation of 8000 trials (true depth anywhere between two
// steps, normal scatter, rounding): the thresholds rest on it. Tolerance: one
// step of the fine gauge; the coarse gauge may fall on the next step where the
// point lies on the edge of one, so it is checked by the share of trials instead.
func TestSpreadOfAnEvenGroove(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	for i, c := range []struct {
		step, scatter float64
		k             int
		p95, p99      float64
	}{
		{pattern.Step, 0.2, 3, 0.79, 0.79}, {pattern.Step, 0.2, 4, 0.79, 0.79},
		{pattern.Step, 0.2, 8, 0.79, 1.59}, {pattern.Step, 0.2, 12, 0.79, 1.59},
		{pattern.Step, 0.3, 3, 0.79, 1.59}, {pattern.Step, 0.3, 4, 1.59, 1.59},
		{pattern.Step, 0.3, 8, 1.59, 1.59}, {pattern.Step, 0.3, 12, 1.59, 1.59},
		{0.1, 0.2, 3, 0.7, 0.8}, {0.1, 0.2, 4, 0.7, 0.9}, {0.1, 0.2, 8, 0.9, 1.0}, {0.1, 0.2, 12, 0.9, 1.1},
		{0.1, 0.3, 3, 1.0, 1.2}, {0.1, 0.3, 4, 1.1, 1.3}, {0.1, 0.3, 8, 1.3, 1.5}, {0.1, 0.3, 12, 1.4, 1.6},
	} {
		rng := rand.New(rand.NewPCG(1, uint64(i)))

		spreads := make([]float64, trials)
		for j := range spreads {
			depth := 8 + c.step*rng.Float64()
			row := make([]float64, c.k)
			for k := range row {
				row[k] = gauge(rng, depth, c.step, c.scatter)
			}
			spreads[j] = read(t, row, c.step).SpreadMM[0]
		}

		slices.Sort(spreads)
		for _, q := range []struct{ p, want float64 }{{0.95, c.p95}, {0.99, c.p99}} {
			// The quantile, give or take 1 % of the trials.
			lo, hi := spreads[int((q.p-0.012)*trials)], spreads[min(trials-1, int((q.p+0.008)*trials))]
			if q.want < lo-0.11 || q.want > hi+0.11 {
				t.Errorf("step %.2f scatter %.1f K %d: %.0f %% point %.2f to %.2f, want %.2f", c.step, c.scatter, c.k,
					100*q.p, lo, hi, q.want)
			}
		}
	}
}

// First harmonic of an even groove, 99 % point: 0.48-0.56 mm on a 1/32 in gauge
// with eight stations, 0.38-0.48 with twelve; 0.31 and 0.25 mm on a 0.1 mm
// gauge. Tolerance 0.03 mm, the scatter of a 99 % point of 2000 trials.
func TestHarmonicOfAnEvenGroove(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	for i, c := range []struct {
		step   float64
		k      int
		lo, hi float64
	}{
		{pattern.Step, 8, 0.48, 0.56}, {pattern.Step, 12, 0.38, 0.48}, {0.1, 8, 0.31, 0.31}, {0.1, 12, 0.25, 0.25},
	} {
		rng := rand.New(rand.NewPCG(2, uint64(i)))

		amplitudes := make([]float64, trials)
		for j := range amplitudes {
			depth := 8 + c.step*rng.Float64()
			row := make([]float64, c.k)
			for k := range row {
				row[k] = gauge(rng, depth, c.step, 0.2)
			}
			amplitudes[j] = read(t, row, c.step).Harmonics[0].AmplitudeMM
		}

		slices.Sort(amplitudes)
		if got := amplitudes[trials*99/100]; got < c.lo-0.03 || got > c.hi+0.03 {
			t.Errorf("step %.2f K %d: 99 %% point %.3f mm, want %.2f to %.2f", c.step, c.k, got, c.lo, c.hi)
		}
	}
}

// Chance that cups of 2 mm peak to peak show a spread of 2/32 in on a 1/32 in
// gauge with 0.2 mm scatter. Zero where every station lands on the same phase of
// a cup: why three stations never prove a tread even around. Tolerance 0.05: three
// standard errors of 800 rounds.
func TestDetectionOfCups(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	counts := []int{1, 2, 3, 4, 5, 6, 8, 12}
	for _, c := range []struct {
		k    int
		want []float64
	}{
		{3, []float64{.91, .92, .00, .91, .91, .00, .91, .00}},
		{4, []float64{.96, .67, .96, .00, .96, .67, .00, .00}},
		{6, []float64{.99, .99, .73, .99, .99, .01, .98, .01}},
		{8, []float64{1, 1, 1, .75, 1, 1, .01, .75}},
		{12, []float64{1, 1, 1, 1, 1, .78, 1, .02}},
	} {
		for i, n := range counts {
			const rounds = 800
			rng := rand.New(rand.NewPCG(3, uint64(100*c.k+n)))

			seen := 0
			for range rounds {
				worn := cups(2+pattern.Step*rng.Float64(), 2, n, 2*math.Pi*rng.Float64())
				row := around(c.k, 10, worn)
				for k := range row {
					row[k] = gauge(rng, row[k], pattern.Step, 0.2)
				}
				if read(t, row, pattern.Step).SpreadMM[0] > 1.99*pattern.Step {
					seen++
				}
			}

			got := float64(seen) / rounds
			if math.Abs(got-c.want[i]) > 0.05 {
				t.Errorf("%d stations, %d cups: seen in %.2f, want %.2f", c.k, n, got, c.want[i])
			}
		}
	}
}

func read(t *testing.T, row []float64, step float64) pattern.Result {
	t.Helper()
	got, err := pattern.Read(pattern.Input{Tread: pattern.Tread{DepthsMM: grid(row), NewMM: []float64{12}},
		ResolutionMM: step})
	if err != nil {
		t.Fatal(err)
	}
	return got
}
