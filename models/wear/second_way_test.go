package wear_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rimledger/models/wear"
)

// TestForecastIsWhatTiresDo: a hundred thousand tires are drawn from an estimate (the depth
// normal, the rate lognormal; mean and covariance are checked by the matrix filter) and
// driven in steps of 1000 km while the rate drifts, until they reach the limit. The median
// and the ends of the intervals of distance and of days are the quantiles of what the tires
// did, to 4 %; the upper ends, where a low rate drifts for longer, to 8 % (chosen by us).
func TestForecastIsWhatTiresDo(t *testing.T) {
	t.Parallel()
	s := read(t, start(t), [2]float64{5000, 7.2}, [2]float64{12000, 6.4}, [2]float64{20000, 5.5},
		[2]float64{27000, 4.7})
	use := wear.StartUse(50)
	for day := 0.0; day <= 400; day += 40 {
		var err error
		if use, err = use.Update(day, 60*day); err != nil {
			t.Fatal(err)
		}
	}

	f, err := s.Forecast(wear.Ahead{LimitMM: 1.6, NowKM: s.XKM, Use: use})
	if err != nil {
		t.Fatal(err)
	}

	rng := rand.New(rand.NewPCG(7, 11))
	slope := s.LagMm // of depth on rate
	rateSD, restSD := 1/math.Sqrt(s.RateInfo), 1/math.Sqrt(s.DepthInfo)
	kms, times := make([]float64, 100_000), make([]float64, 100_000)
	for i := range kms {
		z := rng.NormFloat64()
		depth := s.DepthMM + slope*rateSD*z + restSD*rng.NormFloat64()
		rate := lognormal(s.RateMM, rateSD, z)
		kms[i] = driven(rng, depth-1.6, rate, s.Prior.DriftSD)

		// So is the mean distance a day over the way.
		way := math.Max(kms[i]/use.KMPerDay, 1)
		sd := math.Sqrt(1/use.Info + use.DriftSDKM*use.DriftSDKM*way/3 + use.DailySDKM*use.DailySDKM/way)
		times[i] = kms[i] / lognormal(use.KMPerDay, sd, rng.NormFloat64())
	}

	for _, c := range []struct {
		name string
		got  wear.Span
		did  []float64
	}{{"distance", f.Distance, kms}, {"days", f.Days, times}} {
		slices.Sort(c.did)
		for _, q := range []struct {
			share float64
			end   wear.Bound
		}{{0.05, c.got.Lo90}, {0.1, c.got.Lo80}, {0.5, c.got.Median}, {0.9, c.got.Hi80}, {0.95, c.got.Hi90}} {
			want, band := quantile(c.did, q.share), 0.04
			if q.share > 0.5 {
				band = 0.08
			}
			if q.end.Beyond || math.Abs(q.end.Value-want) > band*want {
				t.Errorf("%s, %g %%: %.0f, of tires driven %.0f", c.name, 100*q.share, q.end.Value, want)
			}
		}
	}
}

// lognormal returns the value of that mean and standard deviation which is z above the median.
func lognormal(mean, sd, z float64) float64 {
	square := math.Log(1 + sd*sd/mean/mean)
	return mean * math.Exp(z*math.Sqrt(square)-square/2)
}

// driven returns the km after which a tire with so many mm left has none.
func driven(rng *rand.Rand, left, rate, drift float64) float64 {
	km := 0.0
	for left > 0 && km < 1e6 {
		next := math.Max(rate+drift*rng.NormFloat64(), 0.001)
		step := (rate + next) / 2
		if step >= left {
			return km + 1000*left/step
		}
		left, rate, km = left-step, next, km+1000
	}
	return km
}

// quantile of sorted values.
func quantile(sorted []float64, share float64) float64 {
	return sorted[int(share*float64(len(sorted)))]
}

// TestUseIsAKalmanFilter: the use per day is the scalar Kalman filter of a mean that
// drifts: a stretch of n days shows it with the variance of a day over n (textbook form,
// with the gain, written apart from the estimator, which keeps information).
func TestUseIsAKalmanFilter(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(5, 8))
	for range 50 {
		u := wear.StartUse(200)
		mean, variance := 200.0, math.Pow(0.6*200, 2)
		daily, drift := 1.2*mean, 0.02*mean
		day, km := float64(rng.IntN(20_000)), float64(rng.IntN(1_000_000))
		u, err := u.Update(day, km)
		if err != nil {
			t.Fatal(err)
		}

		for range 20 {
			n := 0.1 + 60*rng.Float64()
			far := n * 300 * rng.Float64()
			day, km = day+n, km+far
			if u, err = u.Update(day, km); err != nil {
				t.Fatal(err)
			}

			variance += drift * drift * n
			gain := variance / (variance + daily*daily/n)
			mean += gain * (far/n - mean)
			variance *= 1 - gain
			daily, drift = 1.2*mean, 0.02*mean

			ahead := 30 * rng.Float64()
			x, sd, ok := u.At(day + ahead)
			wantSD := ahead * math.Sqrt(variance+drift*drift*ahead/3+daily*daily/ahead)
			if !ok || !closeTo(u.KMPerDay, mean) || !closeTo(1/u.Info, variance) || !closeTo(x, km+mean*ahead) ||
				!closeTo(sd, wantSD) {
				t.Fatalf("%.9g ± %.9g km a day, %.9g ± %.9g km; want %.9g, %.9g, %.9g, %.9g", u.KMPerDay,
					1/math.Sqrt(u.Info), x, sd, mean, math.Sqrt(variance), km+mean*ahead, wantSD)
			}
		}

		// A lognormal of that mean and variance: its median, and 90 % of it within.
		s := math.Sqrt(math.Log(1 + variance/mean/mean))
		per := u.PerDay()
		median := mean / math.Sqrt(1+variance/mean/mean)
		if !closeTo(per.Median.Value, median) || !closeTo(per.Hi90.Value, median*math.Exp(1.6448536269514722*s)) ||
			!closeTo(per.Lo80.Value, median*math.Exp(-1.2815515655446004*s)) {
			t.Fatalf("km a day %+v, want a median of %g and %g on the log scale", per, median, s)
		}
	}
}

// TestUseRefuses: 5000 km a day and as much within one is the most (two drivers at 210 km/h
// could not do more); a stretch of less than an hour says nothing and is joined to the next.
func TestUseRefuses(t *testing.T) {
	t.Parallel()
	u, err := wear.StartUse(100).Update(10, 1000)
	if err != nil {
		t.Fatal(err)
	}

	for _, c := range []struct {
		name    string
		day, km float64
		want    error
		counts  int // stretches
	}{
		{"a day's most", 11, 6000, nil, 1},
		{"a little more", 11, 6000.001, wear.ErrOutOfRange, 0},
		{"a day's most within an hour", 10 + 1.0/16, 6000, nil, 1},
		{"more within an hour", 10 + 1.0/16, 6000.001, wear.ErrOutOfRange, 0},
		{"two days' most", 12, 11000, nil, 1},
		{"more in two days", 12, 11000.001, wear.ErrOutOfRange, 0},
		{"no distance", 11, 1000, nil, 1},
		{"back", 11, 999.999, wear.ErrGoesBack, 0},
		{"the day before", 9.999, 1000, wear.ErrTimeGoesBack, 0},
		{"less than an hour", 10 + 1.0/32, 1001, nil, 0},
	} {
		next, err := u.Update(c.day, c.km)
		if !errors.Is(err, c.want) || next.Readings != c.counts {
			t.Errorf("%s: %v, %d stretches; want %v, %d", c.name, err, next.Readings, c.want, c.counts)
		}
		if c.counts == 0 && next != u {
			t.Errorf("%s: the use changed", c.name)
		}
	}

	// What is expected lies between 0.1 and 5000 km a day.
	for expected, want := range map[float64]float64{0: 0.1, -5: 0.1, 0.1: 0.1, 5000: 5000, 6000: 5000} {
		if got := wear.StartUse(expected).KMPerDay; got != want {
			t.Errorf("expected %g: %g, want %g", expected, got, want)
		}
	}
}

// TestDefaultPriorSays: what the words of the table say, in numbers. Line-haul drive tires
// lose 16 mm in 230,000 km (common practice). The rate drifts by a quarter of itself over
// that life, break-in takes 3 % of the tread with three quarters of that as its standard
// deviation, and the rate is known to 45 % (chosen by us).
func TestDefaultPriorSays(t *testing.T) {
	t.Parallel()
	p := wear.DefaultPrior("tractor", "drive")
	within(t, "rate", p.RateMean, 16.0/230, 0.001)
	within(t, "its standard deviation", p.RateSD, 0.45*p.RateMean, 1e-12)
	life := 16 / p.RateMean // 1000 km
	within(t, "drift over a life", p.DriftSD*math.Sqrt(life), 0.25*p.RateMean, 1e-12)
	within(t, "break-in", p.BreakInMM, 0.03*16, 1e-12)
	within(t, "break-in, standard deviation", p.BreakInSDMM, 0.75*0.03*16, 1e-12)

	within(t, "line-haul steer: 10 mm in 150,000 km", wear.DefaultPrior("tractor", "steer").RateMean, 10.0/150, 0.002)
	if other := wear.DefaultPrior("tractor", "none"); other.RateMean != wear.DefaultPrior("", "").RateMean {
		t.Errorf("a role that is not in the table: %+v", other)
	}
	town, line := wear.DefaultPrior("bus", "drive").RateMean, p.RateMean
	within(t, "town buses wear about twice as fast", town/line, 2, 0.25)
}
