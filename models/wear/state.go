package wear

import (
	"math"

	"rimledger/models/badinput"
)

// The widest values that are accepted.
const (
	maxDepthMM   = 26   // deepest tread a gauge reads
	maxKM        = 1e7  // an odometer with seven digits
	aboveNewMM   = 0.8  // a reading may pass the nominal depth by one 32nd
	minScatterMM = 1e-6 // no gauge is finer
	maxSDMM      = maxDepthMM
)

// Gauge is how a depth was measured.
type Gauge struct {
	ResolutionMM float64 // step of its scale
	ScatterMM    float64 // standard deviation of repeated readings
	OperatorMM   float64 // standard deviation between visits that averaging does not reduce
}

// The common gauges. The scatter of 0.2 mm and the part between visits are judged:
// common practice, no source.
var (
	Gauge32nd  = Gauge{ResolutionMM: 25.4 / 32, ScatterMM: 0.2, OperatorMM: 0.15}
	GaugeTenth = Gauge{ResolutionMM: 0.1, ScatterMM: 0.2, OperatorMM: 0.15}
)

// variance returns the variance in mm² of the mean of n readings: rounding to
// the scale is uniform over one step.
func (g Gauge) variance(n int) float64 {
	each := g.ResolutionMM*g.ResolutionMM/12 + g.ScatterMM*g.ScatterMM
	return each/float64(max(n, 1)) + g.OperatorMM*g.OperatorMM
}

// Reading is one depth taken of the tire.
type Reading struct {
	XKM          float64 // distance of the fitment, on the caller's scale, km
	DepthMM      float64
	Gauge        Gauge
	Count        int     // readings that DepthMM is the mean of; 0 counts as 1
	ExtraSDMM    float64 // further standard deviation, such as 0.5 after a change of person or gauge
	DistanceSDKM float64 // standard deviation of XKM where the odometer was estimated
}

// Fitting is how a fitment begins.
type Fitting struct {
	XKM   float64 // distance on the scale that readings will use, km
	NewMM float64 // nominal depth of this groove when new; 0 if not known
	Fresh bool    // the tread is new here: NewMM counts as known and break-in lies ahead
}

// State is the estimate for one tire on one position. It is plain data: store it as
// it is and replace it by the result of Update. Replaying the same readings gives the
// same State, bit for bit.
type State struct {
	Prior Prior
	XKM   float64 // distance of the last reading or start

	DepthMM   float64 // expected at XKM
	RateMM    float64 // mm per 1000 km
	DepthInfo float64 // mm⁻²; see DepthSD
	RateInfo  float64 // (1000 km/mm)²; zero while nothing is known of the rate
	LagMm     float64 // thousand km (megameters); see trend

	NewMM     float64 // nominal new depth, 0 if not known
	BreakInKM float64 // distance of break-in still ahead

	BreakInMM float64 // extra wear of break-in allowed for in this fitment

	StartKM      float64 // where this fitment began
	Count        int     // readings in this fitment
	Places       int     // readings at a distance of their own, past the start
	FirstMM      float64 // first depth of this fitment: read, or nominal when new
	FirstVar     float64 // mm²
	FirstKM      float64
	LastMM       float64 // last depth read
	ResolutionMM float64 // coarsest gauge used

	ChiSq    float64 // sum of squared standardized surprises
	DF       int     // how many of them
	Runs     float64 // sum of products of neighboring surprises
	LastZ    float64 // last surprise, in standard deviations; positive: deeper than expected
	Outliers int
	Shifts   int  // times two outliers in a row agreed and were believed
	Pending  bool // the last reading was an outlier
}

// Verdict compares one reading with what was expected before it.
type Verdict struct {
	ExpectedMM float64
	SDMM       float64 // of reading minus expectation; 0 if nothing was expected
	Z          float64 // surprise in standard deviations; positive: deeper than expected
	Weight     float64 // 1, or less for an outlier
	Outlier    bool    // ask to measure again
	Shift      bool    // the second outlier in a row on one side: believed
}

// Start returns the state of a tire that begins a fitment. It returns an
// badinput.Error for a prior or a fitting that is not finite or out of range.
func Start(p Prior, f Fitting) (State, error) {
	if err := p.validate(); err != nil {
		return State{}, err
	}
	if err := badinput.Within("distance_km", f.XKM, -maxKM, maxKM, "a distance is at most ten million km"); err != nil {
		return State{}, err
	}
	if err := badinput.Within("new_mm", f.NewMM, 0, maxDepthMM, "a new depth is 0 (not known) to 26 mm"); err != nil {
		return State{}, err
	}

	s := State{XKM: f.XKM, StartKM: f.XKM, NewMM: f.NewMM}
	if f.Fresh && f.NewMM > 0 && p.NewDepthSD > 0 {
		v := p.NewDepthSD * p.NewDepthSD
		s.DepthMM, s.DepthInfo = f.NewMM, 1/v
		s.FirstMM, s.FirstVar, s.FirstKM = f.NewMM, v, f.XKM
		s.LastMM = f.NewMM
	}
	if f.Fresh {
		s.BreakInKM = p.BreakInKM
	}

	return s.withRate(p), nil
}

// withRate returns s with the prior p and the rate that it expects.
func (s State) withRate(p Prior) State {
	s.Prior = p
	s.RateMM, s.RateInfo, s.LagMm = 0, 0, 0
	if p.RateSD > 0 {
		s.RateMM, s.RateInfo = p.RateMean, 1/(p.RateSD*p.RateSD)
	}
	return s
}

// Moved returns the state after the tire went from one position to another: it keeps
// the depth and starts the rate and the count of readings anew from p.
// leftKM is the distance on the old scale, startKM the same moment on the new
// one. It returns ErrGoesBack if leftKM lies before the last reading.
func (s State) Moved(leftKM, startKM float64, p Prior) (State, error) {
	if err := p.validate(); err != nil {
		return State{}, err
	}
	if err := s.ahead(leftKM); err != nil {
		return State{}, err
	}
	if err := badinput.Within("start_km", startKM, -maxKM, maxKM, "a distance is at most ten million km"); err != nil {
		return State{}, err
	}

	then, breakIn := s.at(leftKM)
	n := State{XKM: startKM, StartKM: startKM, NewMM: s.NewMM, BreakInKM: math.Min(breakIn, p.BreakInKM),
		ResolutionMM: s.ResolutionMM}
	if v, ok := then.depthVar(); ok {
		n.DepthMM, n.DepthInfo = then.depth, 1/v
		n.FirstMM, n.FirstVar, n.FirstKM = then.depth, v, startKM
		n.LastMM = then.depth
	}

	return n.withRate(p), nil
}

// Update returns the state after one reading, and how the reading compares with it.
// Readings come in order of distance; one at the distance of the last is a
// repeat and counts. It returns a badinput.Error that wraps ErrNotFinite,
// ErrOutOfRange, ErrAboveNew (deeper than new by more than one 32nd) or
// ErrGoesBack; the state is then unchanged.
func (s State) Update(r Reading) (State, Verdict, error) {
	if err := s.check(r); err != nil {
		return s, Verdict{}, err
	}

	t, breakIn := s.at(r.XKM)
	noise := s.noise(r)

	v := Verdict{Weight: 1}
	if dv, ok := t.depthVar(); ok {
		v.ExpectedMM, v.SDMM = t.depth, math.Sqrt(dv+noise)
		v.Z = (r.DepthMM - t.depth) / v.SDMM
	}

	// Two outliers in a row on one side are a change of the tire, not a mistake: the
	// estimate is loosened until the reading is no surprise.
	if k := s.Prior.OutlierZ; k > 0 && math.Abs(v.Z) > k {
		if s.Pending && s.LastZ*v.Z > 0 {
			v.Shift = true
			t = t.loosen(v.Z * v.Z)
		} else {
			v.Outlier = true
			v.Weight = math.Pow(k/math.Abs(v.Z), 4)
		}
	}

	// The weight acts on the whole surprise, so that a far reading moves the
	// state less the farther it is, however little was known before.
	t = t.observe(r.DepthMM, noise+v.SDMM*v.SDMM*(1/v.Weight-1))

	// Break-in wear before the first known depth is not part of the wear that was seen.
	if began := s.FirstVar > 0; began && s.BreakInKM > breakIn {
		s.BreakInMM += s.Prior.BreakInMM * (s.BreakInKM - breakIn) / s.Prior.BreakInKM
	}
	s.count(r, v, noise)

	s.XKM, s.BreakInKM = r.XKM, breakIn
	s.DepthMM, s.RateMM = t.depth, t.rate
	s.DepthInfo, s.RateInfo, s.LagMm = t.depthInfo, t.rateInfo, t.lag

	return s, v, nil
}

// count updates the statistics of the fit with a reading and its verdict.
func (s *State) count(r Reading, v Verdict, noise float64) {
	if s.FirstVar == 0 {
		s.FirstMM, s.FirstVar, s.FirstKM = r.DepthMM, noise, r.XKM
	}
	if r.XKM > s.XKM && r.XKM > s.FirstKM {
		s.Places++
	}
	s.Count++
	s.LastMM = r.DepthMM
	s.ResolutionMM = math.Max(s.ResolutionMM, r.Gauge.ResolutionMM)

	if v.SDMM > 0 {
		z := v.Z
		if k := s.Prior.OutlierZ; k > 0 {
			z = math.Max(-k, math.Min(k, z))
		}
		s.ChiSq += z * z
		s.DF++
		s.Runs += z * math.Max(-outlierZ, math.Min(outlierZ, s.LastZ))
	}

	if v.Outlier {
		s.Outliers++
	}
	if v.Shift {
		s.Shifts++
	}

	s.Pending, s.LastZ = v.Outlier, v.Z
}

// check returns a badinput.Error for the first part of r that is refused: distance,
// depth, gauge, count.
func (s State) check(r Reading) error {
	if err := s.ahead(r.XKM); err != nil {
		return err
	}
	if err := badinput.Within("depth_mm", r.DepthMM, 0, maxDepthMM, "a tread depth is 0 to 26 mm"); err != nil {
		return err
	}
	if allow := math.Max(aboveNewMM, r.Gauge.ResolutionMM); s.NewMM > 0 && r.DepthMM > s.NewMM+allow {
		return badinput.Number("depth_mm", r.DepthMM, ErrAboveNew, "the new depth is %g mm", s.NewMM)
	}

	const gauge = "a gauge has a resolution and a scatter of 0 to 26 mm, not both 0"
	for _, f := range []struct {
		name string
		v    float64
	}{
		{"gauge.resolution_mm", r.Gauge.ResolutionMM}, {"gauge.scatter_mm", r.Gauge.ScatterMM},
		{"gauge.operator_mm", r.Gauge.OperatorMM}, {"extra_sd_mm", r.ExtraSDMM},
	} {
		if err := badinput.Within(f.name, f.v, 0, maxSDMM, gauge); err != nil {
			return err
		}
	}

	all := math.Hypot(r.Gauge.ResolutionMM, r.Gauge.ScatterMM)
	if err := badinput.Within("gauge", all, minScatterMM, 2*maxSDMM, gauge); err != nil {
		return err
	}
	if err := badinput.Within("count", float64(r.Count), 0, 10_000, "0 to 10,000 readings make one mean"); err != nil {
		return err
	}
	return badinput.Within("distance_sd_km", r.DistanceSDKM, 0, maxKM, "the doubt of a distance is 0 or more")
}

// ahead returns an error unless x is a distance at or past the last one.
func (s State) ahead(x float64) error {
	if err := badinput.Within("distance_km", x, -maxKM, maxKM, "a distance is at most ten million km"); err != nil {
		return err
	}
	if x < s.XKM {
		return badinput.Number("distance_km", x, ErrGoesBack, "the last one was %g km", s.XKM)
	}
	return nil
}

// noise returns the variance of r in mm². An uncertain distance adds depth variance
// through the wear rate.
func (s State) noise(r Reading) float64 {
	byDistance := s.RateMM * r.DistanceSDKM / 1000
	return r.Gauge.variance(r.Count) + r.ExtraSDMM*r.ExtraSDMM + byDistance*byDistance
}

// at returns the estimate at distance x, at or past the last, and the break-in
// distance then still ahead in km.
func (s State) at(x float64) (trend, float64) {
	t := trend{depth: s.DepthMM, rate: s.RateMM, depthInfo: s.DepthInfo, rateInfo: s.RateInfo, lag: s.LagMm}
	km, left := x-s.XKM, s.BreakInKM

	// Break-in takes its wear evenly over its distance.
	var extra float64
	if left > 0 && km > 0 {
		run := math.Min(km, left)
		left -= run
		share := run / s.Prior.BreakInKM
		t.depth -= s.Prior.BreakInMM * share
		extra = s.Prior.BreakInSDMM * s.Prior.BreakInSDMM * share
	}

	return t.advance(km/1000, s.Prior.DriftSD*s.Prior.DriftSD, extra), left
}

// DepthSD returns the standard deviation of the depth at XKM in mm, and false
// if nothing is known of it.
func (s State) DepthSD() (float64, bool) {
	t, _ := s.at(s.XKM)
	v, ok := t.depthVar()
	return math.Sqrt(v), ok
}

// DepthAt returns the expected depth in mm, not below 0, with its standard
// deviation at xKM, at or past the last reading; false before it or if nothing is
// known of the depth.
func (s State) DepthAt(xKM float64) (mm, sd float64, ok bool) {
	if s.ahead(xKM) != nil {
		return 0, 0, false
	}
	t, _ := s.at(xKM)
	v, ok := t.depthVar()
	return math.Max(t.depth, 0), math.Sqrt(v), ok
}

// WearSeen returns the depth lost between the first and the last depth of this
// fitment in mm; it is negative if the last was read deeper.
func (s State) WearSeen() float64 { return s.FirstMM - s.LastMM }
