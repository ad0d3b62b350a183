package pattern

import (
	"fmt"
	"math"
	"slices"

	"rimledger/models/units"
)

// around adds the patterns around the tire, from the groove with the greatest spread
// and from the cups and flat spots found by hand, and sets Around.
func (r *reader) around() {
	worst, full := -1, true
	for g, row := range r.grid.wear {
		n := spanOf(row).n
		full = full && (n >= MinHarmonicStations || n == 0)
		if n >= 2 && (worst < 0 || r.out.SpreadMM[g] > r.out.SpreadMM[worst]+1e-9) {
			worst = g
		}
	}

	if worst < 0 {
		r.out.Around = AroundNotRead
		r.ask(Request{Code: "three_stations",
			Text: "3 equally spaced stations, the first at the valve; 8 where cups are felt"})
		r.cupsByHand(0)
		return
	}

	r.out.Groove = worst + 1
	spread := r.out.SpreadMM[worst]
	r.harmonics(worst)
	r.cupsByHand(spread)

	// Each case adds its own pattern; the first that does decides.
	switch {
	case r.flatPatches(worst, spread), r.oncePerTurn(worst, spread):
		r.out.Around = AroundUneven
	case steps(spread, 2):
		r.out.Around = AroundUneven
		r.otherUneven(worst, spread)
	case len(r.out.Patterns) > 0: // the hand found what the gauge does not show
		r.out.Around = AroundUneven
	case full:
		r.out.Around = AroundEven
	default:
		r.out.Around = AroundNotProven
	}

	if r.out.Around == AroundUneven && len(r.out.Harmonics) == 0 {
		r.askEightStations(worst)
	}
}

// askEightStations asks for the readings that show how the wear of a groove repeats.
func (r *reader) askEightStations(groove int) {
	name := fmt.Sprintf("groove %d", groove+1)
	switch groove {
	case 0:
		name = "the outer groove"
	case len(r.grid.wear) - 1:
		name = "the inner groove"
	}

	r.ask(Request{Code: "eight_stations", Groove: groove + 1, Text: "8 stations on " + name})
	r.ask(Request{Code: "lowest_and_crest", Groove: groove + 1, Text: lowestAndCrest})
}

// lowestAndCrest asks for what the hand can add to a gauge.
const lowestAndCrest = "the lowest dip and the nearest crest, dips counted by hand, their spacing in mm"

// harmonics sets the harmonics of the groove with the greatest spread, from eight
// stations up, and the unbalance of the wear. The unbalance takes the mean of the
// first harmonics of all grooves, added as vectors.
func (r *reader) harmonics(worst int) {
	if r.grid.stations < MinHarmonicStations {
		return
	}

	hs, err := Harmonics(r.grid.wear[worst])
	if err != nil {
		return // too many stations were not read
	}
	r.out.Harmonics = hs

	var a, b float64
	n := 0
	for _, row := range r.grid.wear {
		h, err := Harmonics(row)
		if err != nil {
			continue
		}
		s, c := math.Sincos(h[0].AngleDeg * math.Pi / 180)
		a, b, n = a+h[0].AmplitudeMM*c, b+h[0].AmplitudeMM*s, n+1
	}

	mean := newHarmonic(1, a/float64(n), b/float64(n))
	m := wearUnbalance(mean.AmplitudeMM, mean.AngleDeg, r.in.Wheel)
	r.out.Missing = &m
}

// firstHarmonicMM returns the amplitude above which a first harmonic is more than
// gauge noise: 0.5 mm on a 1/32 in gauge, 0.35 mm on a 0.1 mm gauge. Derived: about
// the 99 % point of an even groove at eight stations.
func (r *reader) firstHarmonicMM() float64 {
	if r.in.ResolutionMM > 0.25 {
		return 0.5
	}
	return 0.35
}

// oncePerTurn adds once_per_turn and returns true if the first harmonic is above
// noise, at least 60 % of half the spread (chosen by us) and larger than every other.
// A single low station also has a first harmonic, but is a flat spot.
func (r *reader) oncePerTurn(groove int, spread float64) bool {
	if len(r.out.Harmonics) == 0 || r.singleDip(groove) >= 0 {
		return false
	}

	h := r.out.Harmonics[0]
	if h.AmplitudeMM < r.firstHarmonicMM()-1e-9 || h.AmplitudeMM < 0.6*spread/2 {
		return false
	}

	for _, o := range r.out.Harmonics[1:] {
		if o.AmplitudeMM > h.AmplitudeMM {
			return false
		}
	}

	s, graded := grade(spread)
	if !graded {
		s = Watch
	}

	p := r.gauged(OncePerTurn, s, groove, spread)
	p.Numbers = append(p.Numbers, Number{"first harmonic", h.AmplitudeMM, "mm zero to peak"},
		Number{"worn most at", h.AngleDeg, "degrees from the valve"},
		Number{"unbalance by wear", r.out.Missing.UnbalanceGMM, "g·mm"},
		Number{"the same at the rim", r.out.Missing.GramsAtRim, "g"})
	p.Text = fmt.Sprintf(
		"one side of the tire is worn more, most at %.0f degrees from the valve; this alone weighs about %s at the rim",
		math.Mod(math.Round(h.AngleDeg), 360),
		units.MarkMass(units.Mass(math.Round(r.out.Missing.GramsAtRim))),
	)
	r.add(p)

	return true
}

// otherUneven adds flat_spot, cupping or uneven_around for a spread that is no gauge
// error and no once-per-turn wear.
func (r *reader) otherUneven(groove int, spread float64) {
	// The hand follows the tread all round; fixed stations can miss or double dips.
	if r.foundByHand() {
		return
	}

	severity, _ := grade(spread)
	if len(r.out.Harmonics) == 0 {
		p := r.gauged(UnevenAround, severity, groove, spread)
		p.Text = fmt.Sprintf(
			"%s between stations; %d stations cannot say how it repeats",
			units.MarkEstimate(spread),
			r.grid.stations,
		)
		r.add(p)
		return
	}

	if k := r.singleDip(groove); k >= 0 {
		p := r.gauged(FlatSpot, severity, groove, spread)
		p.Text = fmt.Sprintf("one dip, at %.0f degrees from the valve", 360*float64(k)/float64(r.grid.stations))
		r.out.Dips = 1
		r.add(p)
		return
	}

	if n := r.countDips(groove, spread); n >= 2 {
		p := r.gauged(Cupping, severity, groove, spread)
		p.Numbers = append(p.Numbers, Number{"dips", float64(n), "around the tire"})
		p.Text = fmt.Sprintf("%d dips around the tire", n)
		r.out.Dips = n
		r.add(p)
		return
	}

	p := r.gauged(UnevenAround, severity, groove, spread)
	p.Text = fmt.Sprintf("%s between stations, without a clear repeat", units.MarkEstimate(spread))
	r.add(p)
}

// gauged returns a pattern that rests on the spread of one groove, with no text yet.
// A spread of 2/32 in that was read only once may be gauge error: its severity is
// watch, and gauged asks for a second reading.
func (r *reader) gauged(key string, s Severity, groove int, spread float64) Pattern {
	p := Pattern{Key: key, Severity: s, Confidence: Measured,
		Numbers: []Number{{"groove", float64(groove + 1), "from outboard"}, {"spread", spread, "mm"}}}
	p.Basis = fmt.Sprintf("%d stations, read once", r.grid.stations)
	if key == UnevenAround {
		p.Confidence = Suspected
	}

	if !steps(spread, 2) {
		return p
	}

	if r.in.Confirmed {
		p.Basis = fmt.Sprintf("%d stations, lowest and highest read twice", r.grid.stations)
		if p.Confidence == Measured {
			p.Confidence = Confirmed
		}
		return p
	}

	if !steps(spread, 3) {
		p.Severity = Watch
	}

	lo, hi := r.lowestHighest(groove)
	r.ask(Request{Code: "remeasure", Groove: groove + 1, Stations: []int{lo + 1, hi + 1},
		Text: fmt.Sprintf("groove %d again at stations %d and %d; keep both readings", groove+1, lo+1, hi+1)})
	return p
}

// lowestHighest returns the stations of a groove worn least and most, counted from 0;
// of equal stations the last.
func (r *reader) lowestHighest(groove int) (lo, hi int) {
	s := spanOf(r.grid.wear[groove])
	for k, w := range r.grid.wear[groove] {
		if w != nil && *w == s.lo {
			lo = k
		}
		if w != nil && *w == s.hi {
			hi = k
		}
	}
	return lo, hi
}

// singleDip returns the station, counted from 0, of the only dip of a groove, -1 if
// there is none. The dip is a run of at most one station in six that is worn 2/32 in
// more than the rest, with the rest worn alike (chosen by us). A lone dip makes the
// first three harmonics alike, so none of them may be twice the other two.
func (r *reader) singleDip(groove int) int {
	if len(r.out.Harmonics) < 3 {
		return -1
	}

	var h [3]float64
	for i := range h {
		h[i] = r.out.Harmonics[i].AmplitudeMM
	}
	slices.Sort(h[:])
	if h[2] >= 2*h[1] {
		return -1
	}

	row := r.grid.wear[groove]
	_, deepest := r.lowestHighest(groove)
	for width := 1; width <= max(1, r.grid.stations/6); width++ {
		for start := deepest - width + 1; start <= deepest; start++ {
			if r.standsAlone(row, start, width) {
				return deepest
			}
		}
	}

	return -1
}

// standsAlone reports whether the run of width stations from start is worn at least
// 2/32 in more than the rest, and the rest is worn alike.
func (r *reader) standsAlone(row []*float64, start, width int) bool {
	k := len(row)
	leastOfRun := math.Inf(1)

	var rest []float64
	for i := range row {
		w := row[(start+i+k)%k]
		switch {
		case w == nil:
		case i < width:
			leastOfRun = math.Min(leastOfRun, *w)
		default:
			rest = append(rest, *w)
		}
	}

	if len(rest) < 3 {
		return false
	}

	slices.Sort(rest)
	between := rest[len(rest)-1] - rest[0]
	return between <= r.evenSpanMM()+1e-6 && steps(leastOfRun-rest[len(rest)/2], 2)
}

// evenSpanMM returns the spread that gauge noise gives stations worn alike: one step
// of a 1/32 in gauge, 1.0 mm of a finer one. Derived: the 99 % point of eight stations.
func (r *reader) evenSpanMM() float64 {
	if r.in.ResolutionMM > 0.25 {
		return Step
	}
	return 1.0
}

// flatPatches adds flat_spot_multiple and returns true if two or more short runs of
// stations are low, the rest is worn alike, and the runs are unequally spaced.
func (r *reader) flatPatches(groove int, spread float64) bool {
	if len(r.out.Harmonics) == 0 || !steps(spread, 2) || r.foundByHand() {
		return false
	}

	starts, widest := r.lowRuns(r.grid.wear[groove])
	if len(starts) < 2 || widest > max(1, r.grid.stations/6) {
		return false
	}

	least, most := r.grid.stations, 0
	for i, s := range starts {
		gap := (starts[(i+1)%len(starts)] - s + r.grid.stations) % r.grid.stations
		least, most = min(least, gap), max(most, gap)
	}

	// Evenly spaced dips fall on the stations with gaps at most one apart.
	if most-least < 2 {
		return false
	}

	severity, _ := grade(spread)
	p := r.gauged(FlatSpots, severity, groove, spread)
	p.Numbers = append(p.Numbers, Number{"patches", float64(len(starts)), "around the tire"})
	p.Text = fmt.Sprintf("%d flat patches around the tire, unequally spaced; the rest is worn alike", len(starts))
	r.out.Dips = len(starts)
	r.add(p)

	return true
}

// foundByHand reports whether cups or flat spots are among the patterns already.
func (r *reader) foundByHand() bool {
	return slices.ContainsFunc(r.out.Patterns, func(p Pattern) bool {
		return p.Key == Cupping || p.Key == FlatSpot || p.Key == FlatSpots
	})
}

// lowRuns returns the first stations, counted from 0, of the runs that are worn at
// least 2/32 in more than the rest, and the width of the widest run in stations. It
// returns none if a station was not read, or if the rest is less than half of all
// stations or not worn alike.
func (r *reader) lowRuns(row []*float64) (starts []int, widest int) {
	k := len(row)

	var read []float64
	for _, w := range row {
		if w != nil {
			read = append(read, *w)
		}
	}
	if len(read) < k {
		return nil, 0
	}

	// The less worn half is taken as the rest; its median is the level of the tread.
	slices.Sort(read)
	base := read[:k/2+1]
	middle := base[len(base)/2]
	low := func(i int) bool { return steps(*row[(i+k)%k]-middle, 2) }

	for i := range k {
		switch {
		case low(i) && !low(i-1):
			starts = append(starts, i)
		case !low(i) && *row[i]-base[0] > r.evenSpanMM()+1e-6:
			return nil, 0
		}
	}

	for _, s := range starts {
		n := 1
		for low(s+n) && n < k {
			n++
		}
		widest = max(widest, n)
	}

	return starts, widest
}

// countDips returns how many dips a groove shows. That is the order of the strongest
// harmonic if it is at least the second, below half the stations and at least 60 % of
// half the spread (chosen by us). Otherwise it is the number of runs of stations that
// are clearly more worn than those between.
func (r *reader) countDips(groove int, spread float64) int {
	best := Harmonic{}
	for _, h := range r.out.Harmonics {
		if h.AmplitudeMM > best.AmplitudeMM {
			best = h
		}
	}

	if best.N >= 2 && 2*best.N < r.grid.stations && best.AmplitudeMM >= 0.6*spread/2 {
		return best.N
	}

	s := spanOf(r.grid.wear[groove])
	deep, crest := s.hi-s.spread()/3, s.lo+s.spread()/3

	var dips []bool // true: clearly a dip; false: clearly a crest; those between are left out
	for _, w := range r.grid.wear[groove] {
		switch {
		case w == nil:
		case *w >= deep:
			dips = append(dips, true)
		case *w <= crest:
			dips = append(dips, false)
		}
	}

	n := 0
	for i, dip := range dips {
		if dip && !dips[(i+len(dips)-1)%len(dips)] {
			n++
		}
	}

	return n
}

// cupsByHand adds the cups and flat spots that the hand found, and sets Dips. Its
// count is believed over the stations.
func (r *reader) cupsByHand(spread float64) {
	severity, graded := grade(spread)
	confidence, basis := Felt, "found by hand"
	if graded {
		confidence, basis = Confirmed, "found by hand and by gauge"
	} else {
		severity = Mild
	}
	found := Pattern{Severity: severity, Confidence: confidence, Basis: basis}

	if o, ok := r.in.observed("flat_spot"); ok {
		r.flatSpotsByHand(o, found, spread)
	}
	if o, ok := r.in.observed("cupping"); ok {
		r.countedCups(o, found, spread)
	}
}

// flatSpotsByHand completes p as one flat spot or several and adds it.
func (r *reader) flatSpotsByHand(o Observation, p Pattern, spread float64) {
	p.Key, p.Text = FlatSpot, "one flat spot"
	p.Numbers = []Number{{"spread", spread, "mm"}}
	r.out.Dips = 1

	if o.Count >= 2 {
		p.Key, p.Text = FlatSpots, fmt.Sprintf("%d flat spots counted by hand", o.Count)
		p.Numbers = []Number{{"patches", float64(o.Count), "around the tire"}, {"spread", spread, "mm"}}
		r.out.Dips = o.Count
	}

	r.add(p)
}

// countedCups completes p as cupping and adds it. A count of one is a flat spot, and
// a spacing gives the count through the circumference.
func (r *reader) countedCups(o Observation, p Pattern, spread float64) {
	n := o.Count
	if n == 0 && o.SpacingMM > 0 {
		n = int(math.Round(r.in.Wheel.withUsualSizes().CircumferenceMM / o.SpacingMM))
	}

	if n == 1 {
		if _, known := r.out.Find(FlatSpot); !known {
			p.Key, p.Text = FlatSpot, "one dip found by hand"
			p.Numbers = []Number{{"spread", spread, "mm"}}
			r.out.Dips = 1
			r.add(p)
		}
		return
	}

	p.Key, p.Text = Cupping, fmt.Sprintf("%d cups counted by hand", n)
	p.Numbers = []Number{{"dips", float64(n), "around the tire"}, {"spread", spread, "mm"}}
	if n == 0 {
		p.Confidence, p.Text = Suspected, "cups felt by hand, not counted"
		r.ask(Request{Code: "lowest_and_crest", Text: lowestAndCrest})
	}

	r.out.Dips = n
	r.add(p)
}
