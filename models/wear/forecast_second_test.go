package wear_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"rimledger/models/wear"
)

// ahead is a forecast by a second way: the covariance matrix carried on by the matrix
// filter, the rate cut off at zero by numerical integration, the ends by bisection.
type ahead struct {
	depth, depthSD     float64
	median, lo90, hi90 float64 // of the rate, mm per 1000 km
	km                 [5]float64
	days               [5]float64
	reached, noDays    bool
}

// quantiles are 90 % and 80 % ends and the median, from low to high.
var quantiles = [5]float64{-1.6448536269514722, -1.2815515655446004, 0, 1.2815515655446004, 1.6448536269514722}

// filterOf is the matrix filter at the place of a state, whose fields are explained at trend.
func filterOf(s wear.State) filter {
	k := filter{prior: s.Prior, km: s.XKM, depth: s.DepthMM, rate: s.RateMM, known: true, breakIn: s.BreakInKM}
	k.p[1][1] = 1 / s.RateInfo
	k.p[0][1] = s.LagMm / s.RateInfo
	k.p[1][0] = k.p[0][1]
	k.p[0][0] = 1/s.DepthInfo + s.LagMm*s.LagMm/s.RateInfo
	return k
}

// cutOff returns the mean and the variance of a normal of which only what is above zero is
// left, by Simpson's rule. The weight is 1 at zero where
// the mean is below it, so that a normal far below does not vanish.
func cutOff(mean, sd float64) (float64, float64) {
	const steps = 20_000
	top := math.Max(mean+12*sd, 0)
	if mean < 0 {
		top = math.Min(12*sd, 40*sd*sd/-mean) // the tail falls at least as fast as exp(mean x/sd²)
	}
	h := top / steps

	var m0, m1, m2 float64
	for i := 0; i <= steps; i++ {
		x := float64(i) * h
		w := 2.0 + 2*float64(i%2)
		if i == 0 || i == steps {
			w = 1
		}
		w *= math.Exp((math.Min(mean, 0)*mean - (x-mean)*(x-mean)) / 2 / sd / sd)
		m0, m1, m2 = m0+w, m1+w*x, m2+w*x*x
	}
	m := m1 / m0
	return m, m2/m0 - m*m
}

// lognormalOf returns the median and the log standard deviation of the lognormal with the
// moments of a normal that is cut off at zero.
func lognormalOf(mean, variance float64) (median, logSD float64) {
	if mean < 6*math.Sqrt(variance) {
		mean, variance = cutOff(mean, math.Sqrt(variance))
	}
	s := math.Log(1 + variance/mean/mean)
	return mean / math.Sqrt(1+variance/mean/mean), math.Sqrt(s)
}

// lookAhead computes it. The rules: the gauge counts as five readings that scatter as
// expected, and with a flat prior the readings alone tell, from three surprises on; what is
// left of break-in is worn in proportion; over the way the mean of a rate that drifts with
// variance q per 1000 km gets q/3 of the way (the integrated random walk).
func lookAhead(s wear.State, a wear.Ahead) ahead {
	k := filterOf(s).predict(a.NowKM)
	scale := math.Max(1, (5+s.ChiSq)/(5+float64(s.DF)))
	if s.Prior.OutlierZ == 0 && s.DF >= 3 {
		scale = math.Max(1, s.ChiSq/float64(s.DF))
	}

	doubt := k.rate * a.NowSDKM / 1000
	variance := scale*k.p[0][0] + doubt*doubt
	out := ahead{depth: math.Max(k.depth, 0), depthSD: math.Sqrt(variance), reached: k.depth <= a.LimitMM}

	left := k.depth - a.LimitMM
	if k.breakIn > 0 {
		share := k.breakIn / s.Prior.BreakInKM
		left -= share * s.Prior.BreakInMM
		variance += share * math.Pow(s.Prior.BreakInSDMM, 2)
	}

	if most, _ := cutOff(k.rate, math.Sqrt(scale*k.p[1][1])); k.rate < 0 && most <= 0.001 {
		for i := range out.km { // 1 mm in a million km is no rate
			out.km[i], out.days[i] = math.Inf(1), math.Inf(1)
		}
		return out
	}
	median, logSD := lognormalOf(k.rate, scale*k.p[1][1])
	out.median = median
	out.lo90, out.hi90 = median*math.Exp(quantiles[0]*logSD), median*math.Exp(quantiles[4]*logSD)

	way := math.Max(left, 0) / median
	rate, logSD := lognormalOf(k.rate, scale*k.p[1][1]+s.Prior.DriftSD*s.Prior.DriftSD*way/3)
	sd := rate * math.Sqrt(math.Exp(logSD*logSD)-1)
	rho := math.Max(-1, math.Min(1, scale*k.p[0][1]/math.Sqrt(variance)/sd))

	middle := math.Max(1000*left/rate, 0)
	for i, z := range quantiles {
		// The distance t at which what is left less t times the rate is z standard
		// deviations off, where that of the rate is taken at its other end.
		off := math.Abs(z) * math.Sqrt(variance)
		slow := math.Abs(rate - rate*math.Exp(-z*logSD))
		g := func(t float64) float64 {
			band := math.Sqrt(math.Max(off*off-2*t*rho*off*slow+t*t*slow*slow, 0))
			return left - t*rate + math.Copysign(band, z)
		}
		end := 0.0
		if z == 0 {
			end = middle
		} else if g(0) > 0 {
			lo, hi := 0.0, 1e9
			for range 200 {
				if m := (lo + hi) / 2; g(m) > 0 {
					lo = m
				} else {
					hi = m
				}
			}
			end = 1000 * lo
		}
		if z < 0 {
			end = math.Min(end, middle)
		} else {
			end = math.Max(end, middle)
		}
		out.km[i] = end
	}

	out.spread(a.Use, middle)
	return out
}

// spread turns distances into days: the mean distance a day over the way is a lognormal.
func (a *ahead) spread(u wear.Use, middle float64) {
	if u.KMPerDay < 0.1 || middle > wear.HorizonKM {
		a.noDays = true
		return
	}

	n := math.Max(middle/u.KMPerDay, 1)
	variance := 1/u.Info + u.DriftSDKM*u.DriftSDKM*n/3 + u.DailySDKM*u.DailySDKM/n
	logSD := math.Sqrt(math.Log(1 + variance/u.KMPerDay/u.KMPerDay))
	median := middle / u.KMPerDay * math.Sqrt(1+variance/u.KMPerDay/u.KMPerDay)
	for i, km := range a.km {
		far := math.Log(km / middle)
		far = math.Sqrt(far*far + quantiles[i]*quantiles[i]*logSD*logSD)
		switch {
		case quantiles[i] == 0:
			a.days[i] = median
		case km == 0:
			a.days[i] = 0
		default:
			a.days[i] = median * math.Exp(math.Copysign(far, quantiles[i]))
		}
		if km > wear.HorizonKM {
			a.days[i] = math.Inf(1)
		}
	}
}

// TestForecastBySecondWay: over random states, with break-in, drift, doubtful distances,
// scatter, few readings and flat priors, the forecast is what the second way gives, to six
// digits.
func TestForecastBySecondWay(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(16, 1))
	var beyond, flat, broke, slow, none int

	for course := range 400 {
		s := randomState(t, rng, course)
		a := wear.Ahead{LimitMM: 1.6 + 2*rng.Float64(), NowKM: s.XKM + float64(rng.IntN(4))*700}
		if rng.IntN(2) == 0 {
			a.NowSDKM = 2000 * rng.Float64()
		}
		if a.Use = wear.StartUse(math.Pow(10, 3*rng.Float64())); rng.IntN(8) == 0 {
			a.Use = wear.Use{KMPerDay: 0.05, Info: 1, DailySDKM: 0.1}
		}

		got, err := s.Forecast(a)
		if err != nil {
			t.Fatal(err)
		}
		want := lookAhead(s, a)
		if want.median == 0 {
			none++
		}
		if s.Prior.OutlierZ == 0 {
			flat++
		}
		if s.BreakInKM > 700 {
			broke++
		}
		if s.RateMM < 2/math.Sqrt(s.RateInfo) {
			slow++
		}

		same := func(what string, g, w float64) {
			if !(math.Abs(g-w) <= 1e-6*(1e-3+math.Abs(w))) {
				t.Errorf("course %d: %s %.9g, want %.9g", course, what, g, w)
			}
		}
		same("depth", got.DepthMM, want.depth)
		same("its sd", got.DepthSDMM, want.depthSD)
		same("rate", got.RateMM, want.median)
		same("its low end", got.RateLo90, want.lo90)
		same("its high end", got.RateHi90, want.hi90)
		if got.Reached != want.reached {
			t.Errorf("course %d: reached %v, want %v", course, got.Reached, want.reached)
		}
		if got.Reached {
			continue
		}

		ends := func(sp wear.Span) [5]wear.Bound { return [5]wear.Bound{sp.Lo90, sp.Lo80, sp.Median, sp.Hi80, sp.Hi90} }
		for i, b := range ends(got.Distance) {
			if b.Beyond {
				beyond++
			}
			if b.Beyond != (want.km[i] > wear.HorizonKM) {
				t.Errorf("course %d: %+v, want %.9g km", course, b, want.km[i])
			} else if !b.Beyond {
				same("distance", b.Value, want.km[i])
			}
		}
		for i, b := range ends(got.Days) {
			if b.Beyond != (want.noDays || want.days[i] > wear.HorizonDays) {
				t.Errorf("course %d: %+v, want %.9g days", course, b, want.days[i])
			} else if !b.Beyond {
				same("days", b.Value, want.days[i])
			}
		}
		if t.Failed() {
			t.Logf("%+v %+v", s, a)
			t.FailNow()
		}
	}

	if beyond < 20 || flat < 40 || broke < 40 || slow < 40 || none < 5 {
		t.Errorf("%d ends beyond the horizon, %d flat priors, %d in break-in, %d of hardly known rate, %d of none: "+
			"too few",
			beyond, flat, broke, slow, none)
	}
}

// randomState is a tire after some readings, with the sums of the fit set freely.
func randomState(t *testing.T, rng *rand.Rand, course int) wear.State {
	t.Helper()
	p := wear.DefaultPrior("bus", []string{"steer", "drive", "free"}[course%3])
	p.DriftSD *= float64(course % 3)
	s, err := wear.Start(p, wear.Fitting{NewMM: 16, Fresh: true})
	if err != nil {
		t.Fatal(err)
	}

	km, depth := 0.0, 16.0
	for range rng.IntN(5) {
		km += 4000 * rng.Float64() * float64(1+course%2*4)
		depth = math.Max(depth-1.5*rng.Float64(), 0)
		r := wear.Reading{XKM: km, DepthMM: math.Max(depth+0.2*rng.NormFloat64(), 0), Gauge: wear.Gauge32nd}
		if s, _, err = s.Update(r); err != nil {
			t.Fatal(err)
		}
	}

	s.DF = rng.IntN(8)
	s.ChiSq = float64(s.DF) * 2 * rng.Float64()
	if course%4 == 0 {
		s.Prior.OutlierZ = 0
	}
	if course%5 == 0 { // a rate that the readings hardly tell, or tell to be nothing
		s.RateMM = 0.1 * rng.NormFloat64()
	}
	if course%20 == 0 {
		s.RateMM, s.RateInfo = -0.6, 100+700*rng.Float64() // a mean far below zero
		if course%40 == 0 {
			s.RateInfo *= 100 // and as good as none is above it
		}
		if course%60 == 0 {
			s.RateMM, s.RateInfo = -3.5, 80+40*rng.Float64()
		}
	}
	return s
}
