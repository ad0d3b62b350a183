package wear

import (
	"math"
	"slices"
)

// Holding is the table of figures by which a reading is asked about before it is
// recorded. The server and the phone judge by the same table: the phone is sent this
// one. All figures are chosen by us, on simulated readings (TestHoldRates): what is
// usual for gauge, person, wear and place is never asked about.
type Holding struct {
	ScatterMM  float64 // standard deviation of repeated readings of one place
	OperatorMM float64 // standard deviation of a person and gauge against the usual
	UnevenWear float64 // standard deviation of a groove's wear, as a share of the wheel's
	NewMM      float64 // a depth may pass the nominal new depth by this much

	FarMM      float64 // a groove nearer than this to what is expected is not asked about
	FarSD      float64 // and none nearer than this many standard deviations
	GrownSD    float64 // a wheel that grew as a whole by FarMM, and by this many of them, is asked about
	ApartMM    float64 // the same against the other grooves of the wheel
	ApartSD    float64
	UnitSD     float64 // a wheel is this many standard deviations off before its unit is asked about
	UnitNear   float64 // and at most this many, and FarMM, in the other unit
	UnitFits   float64 // how much better it fits in the other unit: twice the logarithm of the likelihood ratio
	UnitTenths float64 // what tenths of a 32nd add to that where last time's were whole: a gauge in mm shows tenths
	UnitWhole  float64 // what whole mm add where last time's had tenths: a gauge in 32nds shows whole numbers
	SameWheels int     // so many wheels that read exactly as last time are asked about

	// A pressure outside these shares of its target is far from it; the same number in
	// another unit is near it inside those.
	PressureFar, PressureNear [2]float64
}

// Hold is the table in force.
var Hold = Holding{
	ScatterMM:    0.2,
	OperatorMM:   0.35,
	UnevenWear:   0.35,
	NewMM:        2 * in32MM,
	FarMM:        1.58, // two 32nds
	FarSD:        5,
	GrownSD:      3.5,
	ApartMM:      2.3,
	ApartSD:      4.5,
	UnitSD:       1.5,
	UnitNear:     2.5,
	UnitFits:     5,
	UnitTenths:   8,
	UnitWhole:    3,
	SameWheels:   4,
	PressureFar:  [2]float64{0.4, 2},
	PressureNear: [2]float64{0.75, 1.25},
}

// in32MM is 1/32 in.
const in32MM = 25.4 / 32

// Course is the mean depth that is expected of a tire, from a distance onward.
type Course struct {
	DepthMM float64
	RateMM  float64 // mm per 1000 km
	// Var gives the variance of the depth h thousand km on, mm²: Var[0] + Var[1] h +
	// Var[2] h² + Var[3] h³.
	Var [4]float64
	// Break-in still ahead: thousand km, the extra wear over it and its variance.
	BreakInMm, BreakInMM, BreakInVar float64
}

// Course returns what s expects from its last reading on; false if nothing is known of
// the depth or the rate.
func (s State) Course() (Course, bool) {
	t, left := s.at(s.XKM)
	v, ok := t.depthVar()
	if !ok || t.rateInfo == 0 {
		return Course{}, false
	}

	scale := s.scatter()
	rateVar := scale / t.rateInfo
	c := Course{
		DepthMM: t.depth,
		RateMM:  t.rate,
		Var:     [4]float64{scale * v, -2 * t.lag * rateVar, rateVar, s.Prior.DriftSD * s.Prior.DriftSD / 3},
	}
	if left > 0 {
		share := left / s.Prior.BreakInKM
		c.BreakInMm = left / 1000
		c.BreakInMM = s.Prior.BreakInMM * share
		c.BreakInVar = s.Prior.BreakInSDMM * s.Prior.BreakInSDMM * share
	}

	return c, true
}

// CourseFrom returns the course of a tire of which only one depth and its variance are
// known, and the usual wear.
func CourseFrom(p Prior, depthMM, variance float64) Course {
	return Course{
		DepthMM: depthMM,
		RateMM:  p.RateMean,
		Var:     [4]float64{variance, 0, p.RateSD * p.RateSD, p.DriftSD * p.DriftSD / 3},
	}
}

// CourseUnknown returns the course of a tire that was never measured: only that its depths
// were those of the new tread once.
func CourseUnknown(newMM float64) Course {
	return Course{DepthMM: newMM, Var: [4]float64{unknownVar, 0, 0, 0}}
}

// unknownVar is the variance in mm² of a depth of which nothing is known.
const unknownVar = 1e6

// At returns the mean depth km further on in mm, and its variance. sdKM is the
// standard deviation of the distance.
func (c Course) At(km, sdKM float64) (mm, variance float64) {
	h := math.Max(km, 0) / 1000
	mm = c.DepthMM - c.RateMM*h
	variance = c.Var[0] + h*(c.Var[1]+h*(c.Var[2]+h*c.Var[3]))

	if c.BreakInMm > 0 {
		share := math.Min(h/c.BreakInMm, 1)
		mm -= c.BreakInMM * share
		variance += c.BreakInVar * share
	}

	doubt := c.RateMM * sdKM / 1000
	return mm, variance + doubt*doubt
}

// Cell is one depth of a grid, or a place that was not read.
type Cell struct {
	MM   float64
	In32 bool // written in 32nds of an inch, else in mm
	Read bool
}

// step returns the step of the scale that a depth is written in, in mm.
func (c Cell) step() float64 {
	if c.In32 {
		return in32MM
	}
	return 0.1
}

// otherUnit returns the depth in mm that the same number is in the other unit.
func (c Cell) otherUnit() float64 {
	if c.In32 {
		return c.MM / in32MM
	}
	return c.MM * in32MM
}

// Grid is what was read of one wheel: grooves from the outboard to the inboard
// shoulder, each with the same stations.
type Grid [][]Cell

// Mean returns the mean over grooves of each groove's mean; false if nothing was read.
func (g Grid) Mean() (float64, bool) {
	var sum, grooves float64
	for _, row := range g {
		if depths := read(row); len(depths) > 0 {
			sum, grooves = sum+mean(depths), grooves+1
		}
	}
	if grooves == 0 {
		return 0, false
	}
	return sum / grooves, true
}

// middle returns the median of values, and the median distance from it; 0 for none.
func middle(values []float64) (median, spread float64) {
	n := len(values)
	if n == 0 {
		return 0, 0
	}

	half := func(v []float64) float64 {
		slices.Sort(v)
		return (v[(n-1)/2] + v[n/2]) / 2
	}
	sorted := slices.Clone(values)
	median = half(sorted)
	for i, v := range sorted {
		sorted[i] = math.Abs(v - median)
	}
	return median, half(sorted)
}

// read returns the depths of a groove that were read.
func read(row []Cell) []float64 {
	var depths []float64
	for _, c := range row {
		if c.Read {
			depths = append(depths, c.MM)
		}
	}
	return depths
}

// Expected is what a wheel is expected to read: the course of its mean depth, and how
// its grooves differed when they were read last.
type Expected struct {
	Course Course
	Last   Grid
	// NeverRead says that Last are the depths of the new tread. The tire may have been worn
	// when it came into the record, so that only its unit and its grooves are compared.
	NeverRead bool
	// Elsewhere says that the reading has other places around the tire than Last.
	Elsewhere bool
}

// Doubt says which depth of a reading cannot be right.
type Doubt struct {
	What            DoubtWhat
	Groove, Station int
	ExpectedMM      float64 // of that groove
	Grew            bool    // it is deeper than it was read last
}

// DoubtWhat names what is asked about a reading.
type DoubtWhat string

// What is asked. The words are the codes that a person confirms.
const (
	DoubtUnit DoubtWhat = "unit"       // the numbers fit the other unit
	DoubtRise DoubtWhat = "depth_rise" // deeper than it can be
	DoubtDrop DoubtWhat = "depth_drop" // shallower than wear explains
)

// offset is how far one depth is from what is expected of it, in mm.
type offset struct {
	groove, station int
	off, other      float64 // as written, and in the other unit
	sinceLast       float64 // against the last reading of the same place
	around          float64 // against the other stations of its groove
	aroundVar       float64
	expected        float64
	variance        float64 // of this depth by itself: gauge, rounding, uneven wear
}

// Doubt judges a reading km after the course began, whose distance has the standard
// deviation sdKM. It returns false if the reading may be right: only what usual wear,
// gauges and people do not explain is asked about. The unit is asked about first.
func (r Holding) Doubt(e Expected, now Grid, km, sdKM float64) (Doubt, bool) {
	mean, known := e.Last.Mean()
	seen, read := now.Mean()
	if !known || !read {
		return Doubt{}, false
	}

	depth, variance := e.Course.At(km, sdKM)
	worn := math.Max(e.Course.DepthMM-depth, 0)
	if e.NeverRead { // what is read says how much it has worn
		worn = math.Max(mean-seen, 0)
	}
	all := r.offsets(e, now, depth-mean, worn)
	shared := variance + r.OperatorMM*r.OperatorMM

	if r.isOtherUnit(all, shared, r.digits(e.Last, now)) {
		return Doubt{What: DoubtUnit, ExpectedMM: all[0].expected}, true
	}
	return r.farthest(all, shared, e.NeverRead)
}

// offsets compares every depth with what is expected at its place. Where the places
// around the tire differ, a groove's median stands for each of its places, which is as sure as
// the groove is even. Where the number of grooves differs, the thinnest are compared.
func (r Holding) offsets(e Expected, now Grid, shift, worn float64) []offset {
	last := e.Last
	if len(last) != len(now) {
		last, now = Grid{{last.thinnest()}}, Grid{{now.thinnest()}}
	}

	var all []offset
	uneven := r.UnevenWear * worn
	common := commonDips(now)
	for g, row := range now {
		before, spread := middle(read(last[g]))
		if len(read(last[g])) == 0 {
			continue
		}

		typical, spreadNow := middle(read(row))
		alike := len(row) == len(last[g]) && !e.Elsewhere
		for k, c := range row {
			if !c.Read {
				continue
			}

			was, extra := before, spread*spread+spreadNow*spreadNow
			if alike && last[g][k].Read {
				was, extra = last[g][k].MM, 0
			}
			steps := c.step()*c.step() + last.step()*last.step()
			noise := 2*r.ScatterMM*r.ScatterMM + steps/12
			all = append(all, offset{
				groove:    g,
				station:   k,
				off:       c.MM - was - shift,
				other:     c.otherUnit() - was - shift,
				sinceLast: c.MM - was,
				around:    c.MM - typical - common[k],
				aroundVar: noise + spreadNow*spreadNow,
				expected:  was + shift,
				variance:  noise + extra + uneven*uneven,
			})
		}
	}

	return all
}

// commonDips returns how far each station is from the others in most of the grooves, such
// as at a flat spot; all 0 for fewer than three grooves or stations.
func commonDips(now Grid) []float64 {
	dips := make([]float64, len(now[0]))
	if len(now) < 3 || len(dips) < 3 {
		return dips
	}

	for k := range dips {
		var apart []float64
		for _, row := range now {
			if row[k].Read {
				typical, _ := middle(read(row))
				apart = append(apart, row[k].MM-typical)
			}
		}
		dips[k], _ = middle(apart)
	}
	return dips
}

// thinnest returns the shallowest depth of g.
func (g Grid) thinnest() Cell {
	var least Cell
	for _, row := range g {
		for _, c := range row {
			if c.Read && (!least.Read || c.MM < least.MM) {
				least = c
			}
		}
	}
	return least
}

// step returns the coarsest step of the depths of g.
func (g Grid) step() float64 {
	var step float64
	for _, row := range g {
		for _, c := range row {
			if c.Read {
				step = math.Max(step, c.step())
			}
		}
	}
	return step
}

// isOtherUnit reports whether the wheel as a whole is unlikely in the unit as written
// and fits in the other one. Depths of one wheel share the doubt of the course.
func (r Holding) isOtherUnit(all []offset, shared, digits float64) bool {
	if len(all) == 0 {
		return false
	}

	// misfit is that of a hypothesis: by how much the numbers are more, or less, than they are as written.
	misfit := func(more func(offset) float64) (total, mean, sd float64) {
		var weight, grown float64
		for _, o := range all {
			mean, weight = mean+(o.off+more(o))/o.variance, weight+1/o.variance
			grown += (o.sinceLast + more(o)) / o.variance
		}
		mean, grown = mean/weight, grown/weight

		for _, o := range all {
			d := o.off + more(o) - mean
			total += d * d / o.variance
		}

		v := shared + 1/weight
		far := mean * mean / v
		if grown > 0 { // tread does not grow, however little is known of its wear
			far = math.Max(far, grown*grown/(r.OperatorMM*r.OperatorMM+1/weight))
		}
		return total + far, mean, math.Sqrt(v)
	}

	written, mean, sd := misfit(func(offset) float64 { return 0 })
	other, otherMean, _ := misfit(func(o offset) float64 { return o.other - o.off })
	near := math.Min(r.UnitNear*sd, r.FarMM)
	return math.Abs(mean) > r.UnitSD*sd && math.Abs(otherMean) < near && written-other+digits > r.UnitFits
}

// digits returns what the way of writing says for the other unit: a gauge in 32nds shows
// whole numbers, one in mm shows tenths. It says something where the numbers of last time
// were written in the same unit and the other way.
func (r Holding) digits(last, now Grid) float64 {
	wholeNow, in32, cells := now.whole()
	wholeLast, in32Last, _ := last.whole()
	switch {
	case cells < 3 || in32 != in32Last || wholeNow == wholeLast:
		return 0
	case in32 && wholeLast:
		return r.UnitTenths
	case !in32 && wholeNow:
		return r.UnitWhole
	}
	return 0
}

// whole reports whether all numbers of g are whole, whether they are in 32nds, and how
// many there are.
func (g Grid) whole() (whole, in32 bool, n int) {
	whole = true
	for _, row := range g {
		for _, c := range row {
			if !c.Read {
				continue
			}
			number := c.MM
			if in32 = c.In32; in32 {
				number /= in32MM
			}
			whole = whole && math.Abs(number-math.Round(number)) < 0.01
			n++
		}
	}
	return whole, in32, n
}

// farthest returns the depth that is farthest from what can be, if any is: against the
// forecast, against the other grooves and stations of the wheel, and, since tread does not
// grow however little is known of its wear, against the last reading.
func (r Holding) farthest(all []offset, shared float64, neverRead bool) (Doubt, bool) {
	offs := make([]float64, len(all))
	stations := 0
	for i, o := range all {
		offs[i], stations = o.off, max(stations, o.station+1)
	}
	usual, _ := middle(offs)
	grown := r.grown(all, neverRead)

	var worst suspect
	for _, o := range all {
		if !neverRead {
			worst.compare(o, o.off, r.FarMM, r.FarSD, shared+o.variance)
		}
		if len(all) > 2 {
			worst.compare(o, o.off-usual, r.ApartMM, r.ApartSD, o.variance)
		}
		if stations > 2 {
			worst.compare(o, o.around, r.ApartMM, r.ApartSD, o.aroundVar)
		}
		if o.sinceLast > 0 {
			worst.compare(o, o.sinceLast, r.FarMM, r.FarSD, r.OperatorMM*r.OperatorMM+o.variance)
		}
		if grown && o.sinceLast > 0 {
			worst.compare(o, o.sinceLast, 0, 0, o.variance)
		}
	}

	return worst.doubt, worst.far > 0
}

// suspect is the depth that is farthest from what can be, so far.
type suspect struct {
	far   float64 // standard deviations
	doubt Doubt
}

// compare takes o if it is apart from what is expected by leastMM and by more than leastSD
// standard deviations, and farther than the one before.
func (s *suspect) compare(o offset, apart, leastMM, leastSD, variance float64) {
	far := math.Abs(apart) / math.Sqrt(variance)
	if math.Abs(apart) < leastMM || far <= leastSD || far <= s.far {
		return
	}

	s.far = far
	s.doubt = Doubt{What: DoubtDrop, Groove: o.groove, Station: o.station, ExpectedMM: o.off + o.expected - apart}
	if apart > 0 {
		s.doubt.What, s.doubt.Grew = DoubtRise, o.sinceLast > 0
	}
}

// grown reports whether the wheel as a whole is deeper than it was read last.
func (r Holding) grown(all []offset, neverRead bool) bool {
	if neverRead || len(all) == 0 {
		return false
	}

	var rise, variance float64
	for _, o := range all {
		rise, variance = rise+o.sinceLast, variance+o.variance
	}
	n := float64(len(all))
	rise, variance = rise/n, variance/(n*n)
	return rise >= r.FarMM && rise > r.GrownSD*math.Sqrt(r.OperatorMM*r.OperatorMM+variance)
}
