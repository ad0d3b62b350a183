package pattern

import (
	"fmt"
	"math"
	"slices"

	"rimledger/models/units"
)

// around adds the patterns around the tire, from the gauge and from the cups and flat
// spots found by hand, and sets Around. The number of dips is known once they are
// counted by hand, or once the hand finds the tread smooth: stations see some numbers
// of dips alike, so without the hand a repeating pattern is at most suspected.
func (r *reader) around() {
	worst, full := r.mostUneven()
	if worst < 0 {
		r.out.Around = AroundNotRead
		r.ask(Request{Code: "three_stations",
			Text: "3 equally spaced stations, the first at the valve; 8 where cups are felt"})
		r.cupsByHand(0)
		return
	}

	r.out.Groove = worst + 1
	spread := r.out.SpreadMM[worst]
	r.real = r.isReal(worst, spread)
	seen := r.readOrders()
	r.cupsByHand(spread)
	r.cupsByGauge(seen)

	r.out.Around = r.addAround(seen, worst, spread)
	if r.out.Around == AroundNotProven && full && r.deniedByHand() {
		r.out.Around = AroundEven
	}

	switch {
	case r.out.Around == AroundUneven && r.grid.stations < MinHarmonicStations:
		r.askEightStations(worst)
	case r.out.Around == AroundNotProven && steps(spread, 2):
		r.askAgain(worst)
	}
}

// mostUneven returns the groove, counted from 0, with the greatest spread, -1 if none was
// read at two stations; full says that every groove that was read has eight stations.
func (r *reader) mostUneven() (worst int, full bool) {
	worst, full = -1, true
	for g, row := range r.grid.wear {
		n := spanOf(row).n
		full = full && (n >= MinHarmonicStations || n == 0)
		if n >= 2 && (worst < 0 || r.out.SpreadMM[g] > r.out.SpreadMM[worst]+1e-9) {
			worst = g
		}
	}
	return worst, full
}

// addAround adds the pattern that the readings show, unless the hand found one, and
// returns uneven if there is one. Each case adds its own pattern; the first that does
// decides.
func (r *reader) addAround(seen orders, worst int, spread float64) Around {
	switch {
	case r.foundByHand():
	case r.flatPatches(worst, spread), r.singlePatch(worst, spread), r.repeats(seen, worst, spread):
	case r.real:
		r.otherUneven(worst, spread)
	default:
		return AroundNotProven
	}
	return AroundUneven
}

// cupsByGauge sets Could to the numbers of dips that the readings fit, for cups that the
// hand felt without counting them.
func (r *reader) cupsByGauge(seen orders) {
	if p, felt := r.out.Find(Cupping); !felt || p.Confidence != Suspected || !seen.found {
		return
	}
	r.out.Could = slices.DeleteFunc(slices.Clone(seen.could), func(n int) bool { return n < 2 })
}

// isReal reports whether the spread of a groove is more than gauge noise: 2/32 in or
// more, and either read a second time or too large for an even tire with as many
// readings (in one of 50 such tires a groove shows as much; chosen by us).
func (r *reader) isReal(groove int, spread float64) bool {
	if !steps(spread, 2) {
		return false
	}
	if r.confirmed(groove) {
		return true
	}

	grooves, most := 0, 0
	for _, row := range r.grid.wear {
		if n := spanOf(row).n; n >= 2 {
			grooves, most = grooves+1, max(most, n)
		}
	}

	return float64(grooves)*chanceOfSpread(most, r.in.ResolutionMM, spread) <= spreadChance
}

// confirmed reports whether the lowest and the highest station of a groove were read a
// second time: at once, or at the last visit, when the same two stations of the same
// groove were at least 2/32 in apart in the same sense.
func (r *reader) confirmed(groove int) bool {
	if r.in.Confirmed {
		return true
	}
	if r.in.Previous == nil {
		return false
	}

	then := r.in.Previous.Tread.DepthsMM
	if len(then) != len(r.in.DepthsMM) || len(then[groove]) != r.grid.stations ||
		!r.in.Previous.Tread.sameStations(r.in.Tread) {
		return false
	}

	least, most := r.lowestHighest(groove)
	high, low := then[groove][least], then[groove][most]
	return high != nil && low != nil && steps(*high-*low, 2)
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

// askCount asks for the surest answer to how many dips there are.
func (r *reader) askCount() {
	r.ask(Request{Code: "count_dips",
		Text: "the dips around the tire counted by hand, or that the tread feels smooth all round"})
}

// readOrders fits the numbers of dips to the readings and sets Harmonics: of the wear
// that all grooves share, the orders that the stations tell apart from lower ones.
func (r *reader) readOrders() orders {
	p := r.newProfile()
	if p.free < 1 {
		return orders{}
	}

	seen := p.readOrders()
	for n := 1; n <= min(p.distinct(), (r.grid.stations-1)/2); n++ {
		r.out.Harmonics = append(r.out.Harmonics, p.fit(n).static)
	}
	return seen
}

// deniedByHand reports whether the hand found no cups.
func (r *reader) deniedByHand() bool {
	_, smooth := r.in.observed("smooth")
	_, cups := r.in.observed("cupping")
	return smooth && !cups
}

// denied is the least number of dips that the hand feels on a tread of any size: one
// or two waves around a tire are too long (chosen by us).
const denied = 3

// repeats adds once_per_turn, once_per_turn_couple or cupping, and returns true, if the
// readings of all grooves together repeat around the tire by more than gauge noise, or
// if one number of dips rules a spread that is more than noise.
func (r *reader) repeats(seen orders, groove int, spread float64) bool {
	if !seen.found && !(r.real && seen.rules) {
		return false
	}

	open := r.narrow(seen.could, groove)
	severity, graded := grade(spread)
	if !graded {
		severity = Watch
	}

	// So few stations see a lone dip like one a turn.
	few := r.grid.stations < 6 && open

	least := r.out.Could[0]
	switch {
	case few || least == 1 && len(r.out.Could) > 1 && r.out.Could[1] == 2:
		p := r.gauged(UnevenAround, severity, groove, spread)
		p.Text = fmt.Sprintf("uneven around: %s fit these stations alike", r.out.CouldBe())
		r.add(p)
	case least == 1 && seen.pair:
		r.addCouple(seen.best, severity, groove, spread, open)
	case least == 1:
		r.addOncePerTurn(seen.best, severity, groove, spread, open)
	default:
		p := r.gauged(Cupping, severity, groove, spread)
		p.Text = r.out.CouldBe() + " around the tire"
		if open {
			p.Confidence = Suspected
		} else {
			r.out.Dips = least
		}
		r.add(p)
	}

	return true
}

// narrow sets Could to the numbers of dips that fit the readings and the hand, and reports
// whether the count is still open; it is then asked for.
func (r *reader) narrow(could []int, groove int) (open bool) {
	r.out.Could = could
	if r.deniedByHand() {
		short := slices.DeleteFunc(slices.Clone(could), func(n int) bool { return n >= denied })
		switch len(short) {
		case 0:
			r.askAgain(groove) // the hand and the gauge do not agree: both are asked for again
		case 1:
			r.out.Could = short
			return false
		default:
			r.out.Could = short
		}
	}

	r.askCount()
	return true
}

// dipsText returns a number of dips in words.
func dipsText(n int) string {
	if n == 1 {
		return "1 dip"
	}
	return fmt.Sprintf("%d dips", n)
}

// addOncePerTurn adds once_per_turn. What the missing rubber weighs is given once the
// hand has denied cups: until then it may be a row of dips, which weighs nothing.
func (r *reader) addOncePerTurn(f orderFit, s Severity, groove int, spread float64, open bool) {
	h := f.static
	p := r.gauged(OncePerTurn, s, groove, spread)
	p.Numbers = append(p.Numbers, Number{"first harmonic", h.AmplitudeMM, "mm zero to peak"},
		Number{"worn most at", h.AngleDeg, "degrees from the valve"})

	where := math.Mod(math.Round(h.AngleDeg), 360)
	if open {
		p.Confidence = Suspected
		p.Text = fmt.Sprintf("one side of the tire may be worn more, most at %.0f degrees from the valve: "+
			"%s look alike at these stations", where, r.out.CouldBe())
		r.add(p)
		return
	}

	m := wearUnbalance(h.AmplitudeMM, h.AngleDeg, r.in.Wheel)
	r.out.Missing = &m
	p.Numbers = append(p.Numbers, Number{"unbalance by wear", m.UnbalanceGMM, "g·mm"},
		Number{"the same at the rim", m.GramsAtRim, "g"})
	p.Text = fmt.Sprintf(
		"one side of the tire is worn more, most at %.0f degrees from the valve; this alone weighs about %s at the rim",
		where, units.MarkMass(units.Mass(math.Round(m.GramsAtRim))))
	r.add(p)
}

// addCouple adds once_per_turn_couple: the two shoulders are worn at opposite sides, so
// the wear weighs nothing in one plane and still shakes.
func (r *reader) addCouple(f orderFit, s Severity, groove int, spread float64, open bool) {
	p := r.gauged(OncePerTurnCouple, s, groove, spread)
	p.Numbers = append(p.Numbers, Number{"first harmonic at the shoulders", f.couple.AmplitudeMM, "mm zero to peak"},
		Number{"outer shoulder worn most at", f.couple.AngleDeg, "degrees from the valve"})

	outer := math.Mod(math.Round(f.couple.AngleDeg), 360)
	p.Text = fmt.Sprintf("the outer shoulder is worn most at %.0f and the inner one at %.0f degrees from the valve: "+
		"a couple, which one plane cannot correct; balance in two planes", outer, math.Mod(outer+180, 360))
	if open {
		p.Confidence = Suspected
		p.Text += fmt.Sprintf("; %s look alike at these stations", r.out.CouldBe())
	}
	r.add(p)
}

// singlePatch adds flat_spot and returns true if one short run of stations is low and
// the rest is worn alike.
func (r *reader) singlePatch(groove int, spread float64) bool {
	if !steps(spread, 2) || !r.real {
		return false
	}

	k := r.singleDip(groove)
	if k < 0 {
		return false
	}

	severity, _ := grade(spread)
	p := r.gauged(FlatSpot, severity, groove, spread)
	p.Text = fmt.Sprintf("one dip, at %.0f degrees from the valve", r.in.angles()[k]*180/math.Pi)
	r.out.Dips = 1
	r.add(p)
	return true
}

// otherUneven adds uneven_around for a spread that is no gauge error and no clear
// pattern.
func (r *reader) otherUneven(groove int, spread float64) {
	severity, _ := grade(spread)
	p := r.gauged(UnevenAround, severity, groove, spread)
	p.Text = fmt.Sprintf("%s between stations, without a clear repeat", units.MarkEstimate(spread))
	if r.grid.stations < MinHarmonicStations {
		p.Text = fmt.Sprintf("%s between stations; %d stations cannot say how it repeats",
			units.MarkEstimate(spread), r.grid.stations)
	}
	r.askCount()
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

	if r.confirmed(groove) {
		p.Basis = fmt.Sprintf("%d stations, lowest and highest read twice", r.grid.stations)
		if p.Confidence == Measured {
			p.Confidence = Confirmed
		}
		return p
	}

	if !steps(spread, 3) {
		p.Severity = Watch
	}

	r.askAgain(groove)
	return p
}

// askAgain asks for a second reading of the two stations that a spread rests on.
func (r *reader) askAgain(groove int) {
	lo, hi := r.lowestHighest(groove)
	r.ask(Request{Code: "remeasure", Groove: groove + 1, Stations: []int{lo + 1, hi + 1},
		Text: fmt.Sprintf("groove %d again at stations %d and %d; keep both readings", groove+1, lo+1, hi+1)})
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
// first three harmonics of equally spaced stations alike, so none of them may be twice
// the other two.
func (r *reader) singleDip(groove int) int {
	if r.grid.stations < MinHarmonicStations {
		return -1
	}

	if hs, err := Harmonics(r.grid.wear[groove]); r.in.equalStations() && err == nil && len(hs) >= 3 {
		h := []float64{hs[0].AmplitudeMM, hs[1].AmplitudeMM, hs[2].AmplitudeMM}
		slices.Sort(h)
		if h[2] >= 2*h[1] {
			return -1
		}
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
	if r.grid.stations < MinHarmonicStations || !r.in.equalStations() || !r.real {
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
		r.askCount()
	}

	r.out.Dips = n
	r.add(p)
}
