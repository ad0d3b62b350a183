package wear

import (
	"math"

	"rimledger/models/badinput"
)

// Two-sided normal quantiles of the intervals.
const (
	z80 = 1.2815515655446004
	z90 = 1.6448536269514722
)

// The horizon beyond which a result has no number. Judged: no tire covers two million
// km or lasts twenty years.
const (
	HorizonKM   = 2e6
	HorizonDays = 20 * 365.25
)

// Bound is one end of an interval. Where Beyond is set the end is open: it lies
// past the horizon, and Value is the horizon.
type Bound struct {
	Value  float64
	Beyond bool
}

// Span is a median with the ends of an 80 % and a 90 % interval.
type Span struct {
	Median, Lo80, Hi80, Lo90, Hi90 Bound
}

// Before returns the chance that the limit is reached before v, in the unit of sp. The
// expected number of tires to order for a time is the sum of their chances. It is 1
// from zero on if the limit is reached already, and 0 if the median is beyond the
// horizon.
func (sp Span) Before(v float64) float64 {
	switch {
	case math.IsNaN(v) || v < 0 || sp.Median.Beyond:
		return 0
	case sp.Median.Value <= 0:
		return 1
	case v == 0:
		return 0
	}

	// Two half lognormals that meet at the median.
	end := sp.Hi80
	if v < sp.Median.Value {
		end = sp.Lo80
	}
	sd := math.Abs(math.Log(math.Max(end.Value, sp.Median.Value*1e-6)/sp.Median.Value)) / z80
	if sd < 1e-9 {
		sd = 1e-9
	}

	return math.Erfc(-math.Log(v/sp.Median.Value)/sd/math.Sqrt2) / 2
}

// Ahead says from where and to which limit to forecast.
type Ahead struct {
	LimitMM float64
	NowKM   float64 // distance now, at or past the last reading, km
	NowSDKM float64 // standard deviation of NowKM, where it was estimated (Use.At)
	Use     Use     // of the vehicle; the zero Use gives no days
}

// Forecast says where a tire is and when it reaches a limit.
type Forecast struct {
	LimitMM   float64
	DepthMM   float64 // now
	DepthSDMM float64
	RateMM    float64 // median, mm per 1000 km; 0 if nothing is known of it
	RateLo90  float64
	RateHi90  float64
	Reached   bool // the expected depth is at or below the limit
	Distance  Span // km from now
	Days      Span // days from now; all beyond if the use is not known

	TooEarly  bool // too little wear seen for this gauge
	LackOfFit bool // the readings do not follow a line within the gauge's error
	Suspect   bool // outliers among the readings, or depths that rose
	PriorOnly bool // no reading of this fitment says anything about the rate
}

// Forecast returns the distance and the time to a limit. It returns an
// badinput.Error that wraps ErrNotFinite, ErrOutOfRange or ErrGoesBack (now before
// the last reading), or that wraps ErrTooFew if nothing is known of the depth.
//
// The depth is normal and the rate lognormal with the moments of the state; the
// ends of the distance, a quotient, come from the ends of the two by the method
// of variance estimates recovery (Zou and Donner, Stat. Med. 27 (2008) 1693),
// which for equal tails is Fieller's. If the readings scatter more than the
// gauge explains, the intervals widen by as much.
func (s State) Forecast(a Ahead) (Forecast, error) {
	if err := s.ahead(a.NowKM); err != nil {
		return Forecast{}, err
	}
	if err := badinput.Within("limit_mm", a.LimitMM, 0, maxDepthMM, "a limit is a depth of 0 to 26 mm"); err != nil {
		return Forecast{}, err
	}
	if err := badinput.Within("now_sd_km", a.NowSDKM, 0, maxKM, "the doubt of a distance is 0 or more"); err != nil {
		return Forecast{}, err
	}

	t, breakIn := s.at(a.NowKM)
	depthVar, ok := t.depthVar()
	if !ok {
		return Forecast{}, badinput.Number("readings", float64(s.Count), ErrTooFew,
			"a forecast needs a known new depth or one reading here")
	}

	scale := s.scatter()
	byDistance := t.rate * a.NowSDKM / 1000
	depthVar = scale*depthVar + byDistance*byDistance

	f := s.flags()
	f.LimitMM = a.LimitMM
	f.DepthMM, f.DepthSDMM = math.Max(t.depth, 0), math.Sqrt(depthVar)
	f.Reached = t.depth <= a.LimitMM

	q := quotient{left: t.depth - a.LimitMM, leftVar: depthVar}
	if breakIn > 0 { // the rest of break-in takes its wear on top of the rate
		share := breakIn / s.Prior.BreakInKM
		q.left -= s.Prior.BreakInMM * share
		q.leftVar += s.Prior.BreakInSDMM * s.Prior.BreakInSDMM * share
	}

	median, logSD, known := t.positiveRate(scale, 0)
	if known {
		f.RateMM, f.RateLo90, f.RateHi90 = median, median*math.Exp(-z90*logSD), median*math.Exp(z90*logSD)
		q.cov = scale * t.lag / t.rateInfo
		// The rate goes on drifting: its mean over the way to the limit is less
		// sure than its value now.
		way := math.Max(q.left, 0) / median
		q.rate, q.logSD, known = t.positiveRate(scale, s.Prior.DriftSD*s.Prior.DriftSD*way/3)
	}

	f.Distance = beyond(HorizonKM)
	if known || f.Reached {
		f.Distance = q.span(f.Reached)
	}
	f.Days = a.Use.days(f.Distance, f.Reached)
	return f, nil
}

// flags returns a forecast with only the warnings against believing it.
func (s State) flags() Forecast {
	return Forecast{
		TooEarly:  s.TooEarly(),
		LackOfFit: s.lackOfFit(),
		Suspect:   s.Pending || s.Shifts > 0 || 5*s.Outliers > s.Count || s.WearSeen() < -minRiseMM,
		PriorOnly: s.Places == 0,
	}
}

// TooEarly reports whether the gauge has seen too little wear for a rate.
func (s State) TooEarly() bool {
	return s.WearSeen() < enoughWear(s.ResolutionMM)-1e-9 // depths are decimal
}

// minRiseMM is the rise of a depth that is more than gauge noise: two 32nds, chosen
// by us.
const minRiseMM = 1.5875

// enoughWear returns the wear in mm that a gauge must see before a rate is
// known to 20 %: derived from gauge noise.
func enoughWear(resolutionMM float64) float64 {
	if resolutionMM > 0.2 {
		return 2.5
	}
	return 1.6
}

// scatter returns the ratio of the readings' variance to the gauge's, at least 1. The
// gauge counts as five readings that scatter as expected (chosen by us), so that a few
// readings do not widen every interval.
func (s State) scatter() float64 {
	const trust = 5.0
	if s.Prior.OutlierZ == 0 && s.DF > 2 {
		return math.Max(1, s.ChiSq/float64(s.DF))
	}
	return math.Max(1, (trust+s.ChiSq)/(trust+float64(s.DF)))
}

// lackOfFit tests the standardized surprises at about 1 %: their size (Wilson and
// Hilferty's cube root) and whether neighbors agree, as residuals about a bent line do.
func (s State) lackOfFit() bool {
	if s.DF < 4 {
		return false
	}
	n := float64(s.DF)
	size := (math.Cbrt(s.ChiSq/n) - (1 - 2/(9*n))) / math.Sqrt(2/(9*n))
	return size > 2.33 || s.Runs > 2.33*math.Sqrt(n)
}

// quotient is the distance left: depth over the limit, divided by the rate.
type quotient struct {
	left, leftVar float64 // mm, mm²
	rate, logSD   float64 // median mm per 1000 km, lognormal
	cov           float64 // of left and rate
}

// span returns the distance in km with its intervals.
func (q quotient) span(reached bool) Span {
	if reached {
		return Span{} // nothing is left, whatever the intervals say
	}

	median := HorizonKM * 2
	if q.left <= 0 {
		median = 0
	} else if q.rate > 0 {
		median = q.left / q.rate * 1000
	}

	// The ends are found apart from the median and must not pass it.
	lo := func(z float64) Bound { return bounded(math.Min(q.end(-z), median), HorizonKM) }
	hi := func(z float64) Bound { return bounded(math.Max(q.end(z), median), HorizonKM) }
	return Span{Median: bounded(median, HorizonKM), Lo80: lo(z80), Hi80: hi(z80), Lo90: lo(z90), Hi90: hi(z90)}
}

// end returns the distance in km that is z standard deviations from the median:
// the root of left - t rate = ±√(A + 2 t B + t² C).
func (q quotient) end(z float64) float64 {
	// A long distance comes from a low rate, so z takes the opposite end of the rate.
	low := math.Abs(q.rate - q.rate*math.Exp(-z*q.logSD))
	a := z * z * q.leftVar
	c := low * low
	b := 0.0
	if q.leftVar > 0 && q.logSD > 0 {
		rho := q.cov / math.Sqrt(q.leftVar) / (q.rate * math.Sqrt(math.Expm1(q.logSD*q.logSD)))
		b = -math.Max(-1, math.Min(1, rho)) * math.Sqrt(a*c)
	}

	p := q.left*q.rate + b
	s := q.rate*q.rate - c
	rest := q.left*q.left - a
	root := math.Sqrt(math.Max(p*p-s*rest, 0))
	if z > 0 {
		return 1000 * (p + root) / s // s > 0: the low end of the rate is above zero
	}
	if rest <= 0 {
		return 0
	}
	return 1000 * rest / (p + root)
}

// days returns the time for a distance: both are taken as lognormal on each
// side of the median.
func (u Use) days(km Span, reached bool) Span {
	if reached {
		return Span{}
	}
	if u.KMPerDay < minUseKM || km.Median.Beyond {
		return beyond(HorizonDays)
	}

	// KMPerDay is the mean of a lognormal; the days take its median.
	logSD := u.logSD(math.Max(km.Median.Value/u.KMPerDay, 1))
	median := km.Median.Value / u.KMPerDay * math.Exp(logSD*logSD/2)
	end := func(b Bound, z float64) Bound {
		if b.Beyond || b.Value <= 0 || km.Median.Value <= 0 {
			return bounded(b.Value/u.KMPerDay, HorizonDays).orBeyond(b.Beyond, HorizonDays)
		}
		far := math.Hypot(math.Log(b.Value/km.Median.Value), z*logSD)
		return bounded(median*math.Exp(math.Copysign(far, z)), HorizonDays)
	}

	return Span{
		Median: bounded(median, HorizonDays),
		Lo80:   end(km.Lo80, -z80), Hi80: end(km.Hi80, z80),
		Lo90: end(km.Lo90, -z90), Hi90: end(km.Hi90, z90),
	}
}

// beyond returns a span that lies beyond the horizon as a whole.
func beyond(horizon float64) Span {
	b := Bound{Value: horizon, Beyond: true}
	return Span{Median: b, Lo80: b, Hi80: b, Lo90: b, Hi90: b}
}

// bounded returns v, or an open bound if it is past the horizon.
func bounded(v, horizon float64) Bound {
	if !(v <= horizon) {
		return Bound{Value: horizon, Beyond: true}
	}
	return Bound{Value: math.Max(v, 0)}
}

// orBeyond returns b, or an open bound at the horizon if open is set.
func (b Bound) orBeyond(open bool, horizon float64) Bound {
	if open {
		return Bound{Value: horizon, Beyond: true}
	}
	return b
}
