package wear

import "math"

// trend is the estimate of depth and wear rate at one distance: means, and the
// covariance in a form that only ever adds positive numbers. With P the
// covariance of (depth, rate),
//
//	P(rate, rate)   = 1/RateInfo
//	P(depth, rate)  = Lag/RateInfo
//	P(depth, depth) = 1/DepthInfo + Lag²/RateInfo
//
// so DepthInfo is the information on the depth were the rate known, and Lag is
// minus the distance from the readings' center of weight. Zero information is
// a flat prior. Without drift these are the count, the mean and the sum of
// squares of a straight-line fit (Bierman, Factorization Methods for Discrete
// Sequential Estimation, 1977, ch. 3, for the factors).
type trend struct {
	depth, rate         float64 // mm, mm per 1000 km
	depthInfo, rateInfo float64 // mm⁻², (1000 km/mm)²
	lag                 float64 // 1000 km
}

// depthVar returns the variance of the depth in mm²; ok is false if the depth
// is unknown.
func (t trend) depthVar() (v float64, ok bool) {
	if t.depthInfo == 0 || (t.rateInfo == 0 && t.lag != 0) {
		return 0, false
	}
	v = 1 / t.depthInfo
	if t.lag != 0 {
		v += t.lag * t.lag / t.rateInfo
	}
	return v, true
}

// advance returns the estimate h thousand km farther on. The rate drifts with variance q
// per thousand km; extra is depth variance gained on the way in mm².
//
// The uncertainty of the rate and its drift are combined by the parallel-axis rule:
// the drift of one step has its own information and its own lag, -h/2.
func (t trend) advance(h, q, extra float64) trend {
	t.depth -= t.rate * h
	t.lag -= h

	var gained float64
	if q > 0 && h > 0 {
		drift, lag := q*h, -h/2
		share := 1 + t.rateInfo*drift
		gained = drift*h*h/12 + drift/share*(t.lag-lag)*(t.lag-lag)
		if t.rateInfo > 0 {
			t.lag = (t.lag + lag*drift*t.rateInfo) / share
			t.rateInfo /= share
		}
	}

	if gained += extra; gained > 0 && t.depthInfo > 0 {
		t.depthInfo /= 1 + gained*t.depthInfo
	}
	return t
}

// observe returns the estimate after a depth was measured with variance r (mm²,
// positive).
func (t trend) observe(depth, r float64) trend {
	innovation := depth - t.depth

	known := t.depthInfo
	t.depthInfo += 1 / r
	left := known / t.depthInfo // share of the old information
	t.rateInfo += t.lag * t.lag * left / r
	t.lag *= left

	gain := 1 / t.depthInfo
	if t.rateInfo > 0 {
		gain += t.lag * t.lag / t.rateInfo
		t.rate += t.lag / t.rateInfo / r * innovation
	}
	t.depth += gain / r * innovation

	return t
}

// loosen returns the estimate with its covariance multiplied by factor.
func (t trend) loosen(factor float64) trend {
	t.depthInfo /= factor
	t.rateInfo /= factor
	return t
}

// positiveRate returns median and log standard deviation of the lognormal rate
// that has the mean and variance of the normal estimate cut off at zero, since rubber
// does not grow. extra is further variance of the rate. ok is false if the rate is
// unknown or its mean below minRate.
func (t trend) positiveRate(scale, extra float64) (median, logSD float64, ok bool) {
	if t.rateInfo == 0 {
		return 0, 0, false
	}

	v := scale/t.rateInfo + extra
	sd, mean := math.Sqrt(v), t.rate
	if a := -t.rate / sd; a > -6 { // else nothing of the normal is below zero
		var ratio float64 // phi(a)/(1-Phi(a)), the inverse Mills ratio
		if a < 30 {
			ratio = math.Exp(-a*a/2) / math.Sqrt(2*math.Pi) / (math.Erfc(a/math.Sqrt2) / 2)
		} else { // both vanish farther out; the asymptotic series is exact to ten digits of the variance
			b := 1 / (a * a)
			ratio = a + 1/a*(1+b*(-2+b*(10-74*b)))
		}
		mean = t.rate + sd*ratio
		v *= math.Max(1+a*ratio-ratio*ratio, 1e-6)
	}

	if !(mean > minRate) {
		return 0, 0, false
	}

	s2 := math.Log1p(v / (mean * mean))
	return mean * math.Exp(-s2/2), math.Sqrt(s2), true
}

// minRate is a rate, mm per 1000 km, below which no tire wears: 1 mm in a
// million km. Judged.
const minRate = 0.001
