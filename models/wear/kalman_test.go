package wear_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"rimledger/models/wear"
)

// matrix is a plain 2 by 2 matrix over depth in mm and rate in mm per 1000 km.
type matrix [2][2]float64

func (a matrix) times(b matrix) (out matrix) {
	for i := range 2 {
		for j := range 2 {
			out[i][j] = a[i][0]*b[0][j] + a[i][1]*b[1][j]
		}
	}
	return out
}

func (a matrix) plus(b matrix) (out matrix) {
	for i := range 2 {
		for j := range 2 {
			out[i][j] = a[i][j] + b[i][j]
		}
	}
	return out
}

func (a matrix) turned() matrix { return matrix{{a[0][0], a[1][0]}, {a[0][1], a[1][1]}} }

// filter is the textbook Kalman filter of a local linear trend with covariance matrices
// (Harvey, Forecasting, Structural Time Series Models and the Kalman Filter, 1989,
// chapters 2 and 3), which shares neither code nor form with the estimator. In
// continuous distance a rate that drifts with variance q per 1000 km adds
// q [h³/3, -h²/2; -h²/2, h] over h thousand km (the integrated random walk).
type filter struct {
	prior      wear.Prior
	km         float64
	depth      float64
	rate       float64
	p          matrix
	known      bool    // something is known of the depth
	breakIn    float64 // km of break-in still ahead
	z          float64 // the last surprise
	pending    bool    // the last reading was an outlier
	chi, runs  float64
	n, shifted int
}

// begin starts the filter of a tire. Of one that is not fresh no depth is known.
func begin(p wear.Prior, f wear.Fitting) filter {
	k := filter{prior: p, km: f.XKM, rate: p.RateMean, p: matrix{{0, 0}, {0, p.RateSD * p.RateSD}}}
	if f.Fresh {
		k.known, k.depth, k.breakIn = true, f.NewMM, p.BreakInKM
		k.p[0][0] = p.NewDepthSD * p.NewDepthSD
	}
	return k
}

// predict goes on to a distance. New rubber wears the break-in evenly over its distance on top.
func (k filter) predict(km float64) filter {
	h := (km - k.km) / 1000
	q := k.prior.DriftSD * k.prior.DriftSD
	f := matrix{{1, -h}, {0, 1}}
	k.depth -= k.rate * h
	k.p = f.times(k.p).times(f.turned()).plus(matrix{{q * h * h * h / 3, -q * h * h / 2}, {-q * h * h / 2, q * h}})

	if run := math.Min(km-k.km, k.breakIn); run > 0 {
		share := run / k.prior.BreakInKM
		k.depth -= k.prior.BreakInMM * share
		k.p[0][0] += k.prior.BreakInSDMM * k.prior.BreakInSDMM * share
		k.breakIn -= run
	}

	k.km = km
	return k
}

// noise is the variance of a reading: rounding is uniform over a step, so its variance is
// step²/12; a mean of n readings has 1/n of what varies between readings; a doubt of the
// distance is one of the depth by the rate known so far.
func (k filter) noise(r wear.Reading) float64 {
	g := r.Gauge
	doubt := k.rate * r.DistanceSDKM / 1000
	return (g.ResolutionMM*g.ResolutionMM/12+g.ScatterMM*g.ScatterMM)/float64(max(1, r.Count)) +
		g.OperatorMM*g.OperatorMM + r.ExtraSDMM*r.ExtraSDMM + doubt*doubt
}

// update takes a reading. A surprise of more than k standard deviations counts for less,
// by the fourth power of how far it is beyond (chosen by us); a second one on the same
// side is believed, after the covariance is widened until it is one standard deviation.
func (k filter) update(r wear.Reading) (filter, wear.Verdict) {
	noise := k.noise(r)
	k = k.predict(r.XKM)
	v := wear.Verdict{Weight: 1}
	if !k.known { // all is known from the reading, and nothing of the rate
		k.known, k.depth = true, r.DepthMM
		k.pending, k.z = false, 0
		k.p = matrix{{noise, 0}, {0, k.p[1][1]}}
		return k, v
	}

	v.ExpectedMM, v.SDMM = k.depth, math.Sqrt(k.p[0][0]+noise)
	v.Z = (r.DepthMM - k.depth) / v.SDMM

	limit := k.prior.OutlierZ
	if far := limit > 0 && math.Abs(v.Z) > limit; far && k.pending && (k.z > 0) == (v.Z > 0) {
		v.Shift = true
		k.shifted++
		for i := range 2 {
			for j := range 2 {
				k.p[i][j] *= v.Z * v.Z
			}
		}
	} else if far {
		v.Outlier = true
		v.Weight = math.Pow(limit/math.Abs(v.Z), 4)
		noise = v.SDMM*v.SDMM/v.Weight - k.p[0][0] // the whole variance is that much larger
	}

	held := v.Z
	if limit > 0 {
		held = math.Max(-limit, math.Min(limit, held))
	}
	k.chi += held * held
	k.runs += held * math.Max(-3, math.Min(3, k.z))
	k.n++
	k.z, k.pending = v.Z, v.Outlier

	s := k.p[0][0] + noise
	gain := [2]float64{k.p[0][0] / s, k.p[1][0] / s}
	innovation := r.DepthMM - k.depth
	k.depth += gain[0] * innovation
	k.rate += gain[1] * innovation
	// Joseph's form keeps the covariance symmetric.
	left := matrix{{1 - gain[0], 0}, {-gain[1], 1}}
	k.p = left.times(k.p).times(left.turned()).plus(matrix{
		{gain[0] * gain[0] * noise, gain[0] * gain[1] * noise}, {gain[0] * gain[1] * noise, gain[1] * gain[1] * noise}})
	return k, v
}

// move goes to another position: the depth stays, the rate is that of the new place.
func (k filter) move(left, start float64, p wear.Prior) filter {
	k = k.predict(left)
	return filter{prior: p, km: start, depth: k.depth, rate: p.RateMean, known: k.known,
		p: matrix{{k.p[0][0], 0}, {0, p.RateSD * p.RateSD}}, breakIn: math.Min(k.breakIn, p.BreakInKM)}
}

// TestStateIsTheKalmanFilter: over random courses of readings, with drift, break-in, moves,
// doubtful distances, repeats, changes of gauge and person, wrong readings and shifts, the
// estimator gives what the matrix filter gives, to nine digits.
func TestStateIsTheKalmanFilter(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(1960, 35)) // Kalman's paper: 1960, volume 82, page 35
	roles := []string{"steer", "drive", "free"}
	var shifts, outliers, moves, unknown int

	for course := range 400 {
		p := wear.DefaultPrior("tractor", roles[course%3])
		switch course % 4 {
		case 1:
			p.DriftSD *= 10
		case 2:
			p.OutlierZ = 0
		case 3:
			p.DriftSD = 0
		}

		f := wear.Fitting{XKM: float64(rng.IntN(100_000)), NewMM: 16, Fresh: rng.IntN(3) > 0}
		if !f.Fresh {
			unknown++
		}
		s, err := wear.Start(p, f)
		if err != nil {
			t.Fatal(err)
		}
		k := begin(p, f)

		truth, rate := 16+0.3*rng.NormFloat64(), 0.05+0.1*rng.Float64()
		for range 3 + rng.IntN(25) {
			step := []float64{0, 300, 2000, 9000}[rng.IntN(4)] * rng.Float64()
			truth = math.Max(truth-rate*step/1000, 0)
			km := k.km + step
			if rng.IntN(12) == 0 {
				to, start := wear.DefaultPrior("tractor", roles[rng.IntN(3)]), float64(rng.IntN(400_000))
				to.BreakInKM *= 0.5 + rng.Float64()
				if s, err = s.Moved(km, start, to); err != nil {
					t.Fatal(err)
				}
				k = k.move(km, start, to)
				moves++
				continue
			}

			r := wear.Reading{XKM: km, Gauge: wear.Gauge32nd, Count: rng.IntN(5)}
			if rng.IntN(2) == 0 {
				r.Gauge = wear.GaugeTenth
			}
			if rng.IntN(4) == 0 {
				r.ExtraSDMM, r.DistanceSDKM = 0.5, float64(rng.IntN(3000))
			}
			if rng.IntN(10) == 0 {
				truth = math.Max(truth-2, 0) // rubber is lost at once
			}
			r.DepthMM = math.Min(math.Max(truth+0.3*rng.NormFloat64(), 0), 16.5)
			if rng.IntN(10) == 0 {
				r.DepthMM = math.Max(r.DepthMM-4, 0) // a wrong reading
			}

			var got, want wear.Verdict
			if s, got, err = s.Update(r); err != nil {
				t.Fatal(err)
			}
			k, want = k.update(r)
			if want.Outlier {
				outliers++
			}
			if want.Shift {
				shifts++
			}

			sameVerdict(t, course, got, want)
			sameEstimate(t, course, s, k)
			if t.Failed() {
				t.FailNow()
			}
		}
	}

	if shifts < 30 || outliers < 100 || moves < 100 || unknown < 50 {
		t.Errorf("%d shifts, %d outliers, %d moves, %d of unknown depth: the courses try too little", shifts, outliers,
			moves,
			unknown)
	}
}

func sameVerdict(t *testing.T, course int, got, want wear.Verdict) {
	t.Helper()
	if got.Outlier != want.Outlier || got.Shift != want.Shift {
		t.Errorf("course %d: verdict %+v, want %+v", course, got, want)
	}
	for _, c := range [][2]float64{{got.ExpectedMM, want.ExpectedMM}, {got.SDMM, want.SDMM}, {got.Z, want.Z},
		{got.Weight, want.Weight}} {
		if !closeTo(c[0], c[1]) {
			t.Errorf("course %d: verdict %+v, want %+v", course, got, want)
		}
	}
}

func sameEstimate(t *testing.T, course int, s wear.State, k filter) {
	t.Helper()
	sd, _ := s.DepthSD()
	ahead, aheadSD, _ := s.DepthAt(s.XKM + 5000)
	on := k.predict(k.km + 5000)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"distance", s.XKM, k.km}, {"depth", s.DepthMM, k.depth}, {"its sd", sd, math.Sqrt(k.p[0][0])},
		{"rate", s.RateMM, k.rate}, {"its variance", 1 / s.RateInfo, k.p[1][1]},
		{"covariance", s.LagMm / s.RateInfo, k.p[0][1]}, {"break-in ahead", s.BreakInKM, k.breakIn},
		{"depth 5000 km on", ahead, math.Max(on.depth, 0)}, {"its sd there", aheadSD, math.Sqrt(on.p[0][0])},
		{"squares", s.ChiSq, k.chi}, {"runs", s.Runs, k.runs}, {"surprises", float64(s.DF), float64(k.n)},
		{"shifts", float64(s.Shifts), float64(k.shifted)},
	} {
		if !closeTo(c.got, c.want) {
			t.Errorf("course %d at %.0f km: %s %.12g, want %.12g", course, k.km, c.what, c.got, c.want)
		}
	}
}

// closeTo compares to nine digits, or a billionth where the value is small.
func closeTo(a, b float64) bool { return math.Abs(a-b) <= 1e-9*(1+math.Abs(b)) }
