package pattern

import (
	"fmt"
	"math"
	"slices"

	"rimledger/models/units"
)

// around reads the tire around its turn: spread, harmonics, dips (rules M1 to
// M4 and M9), together with cups and flat spots found by hand.
func (r *reader) around() {
	worst, full := -1, true
	for g, row := range r.grid.wear {
		_, _, _, n := extremes(row)
		full = full && (n >= MinHarmonicStations || n == 0)
		if n >= 2 && (worst < 0 || r.out.SpreadMM[g] > r.out.SpreadMM[worst]+1e-9) {
			worst = g
		}
	}

	if worst < 0 {
		r.out.Around = AroundNotRead
		r.want(
			Request{
				Code: "three_stations",
				Text: "3 equally spaced stations, the first at the valve; 8 where cups are felt",
			},
		)

		r.cupsByHand(0)
		return
	}

	r.out.Groove = worst + 1
	spread := r.out.SpreadMM[worst]
	r.harmonics(worst)
	r.cupsByHand(spread)

	switch {
	case r.patches(worst, spread), r.once(worst, spread):
		r.out.Around = AroundUneven
	case steps(spread, 2):
		r.out.Around = AroundUneven
		r.uneven(worst, spread)
	case len(r.out.Patterns) > 0: // by hand
		r.out.Around = AroundUneven
	case full:
		r.out.Around = AroundEven
	default:
		r.out.Around = AroundNotProven
	}

	if r.out.Around == AroundUneven && len(r.out.Harmonics) == 0 {
		r.wantEight(worst)
	}
}

func (r *reader) wantEight(groove int) {
	name := fmt.Sprintf("groove %d", groove+1)
	switch groove {
	case 0:
		name = "the outer groove"
	case len(r.grid.wear) - 1:
		name = "the inner groove"
	}

	r.want(Request{Code: "eight_stations", Groove: groove + 1, Text: "8 stations on " + name})
	r.want(Request{Code: "lowest_and_crest", Groove: groove + 1,
		Text: "the lowest dip and the nearest crest, dips counted by hand, their spacing in mm"})
}

// harmonics reads harmonics from eight stations up, of the groove most uneven;
// the unbalance it makes is summed as vectors over all grooves read.
func (r *reader) harmonics(worst int) {
	if r.grid.stations < MinHarmonicStations {
		return
	}

	hs, err := Harmonics(r.grid.wear[worst])
	if err != nil {
		return // too many holes: told by the missing harmonics
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

	all := harmonic(1, a/float64(n), b/float64(n))
	m := missing(all.AmplitudeMM, all.AngleDeg, r.in.Wheel)
	r.out.Missing = &m
}

// firstHarmonicMM is the amplitude that gauge noise does not reach (derived):
// 0.5 mm on a 1/32 in gauge, 0.35 mm on a 0.1 mm gauge.
func (r *reader) firstHarmonicMM() float64 {
	if r.in.ResolutionMM > 0.25 {
		return 0.5
	}
	return 0.35
}

// once adds once_per_turn if the first harmonic rules: above noise, at least 60 %
// of half the spread, larger than every other; not if one station alone is low.
func (r *reader) once(groove int, spread float64) bool {
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

// uneven adds flat_spot, cupping or uneven_around for a spread that is no gauge error.
func (r *reader) uneven(groove int, spread float64) {
	severity, _ := grade(spread)
	if _, felt := r.out.Find(Cupping); felt {
		return // the count by hand beats a fixed grid
	}
	if _, felt := r.out.Find(FlatSpot); felt {
		return
	}
	if _, felt := r.out.Find(FlatSpots); felt {
		return
	}

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

// gauged starts a pattern that rests on the spread of one groove. A spread of
// 2/32 in that was not read twice is watched and asked for again (rule M2).
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
	r.want(Request{Code: "remeasure", Groove: groove + 1, Stations: []int{lo + 1, hi + 1},
		Text: fmt.Sprintf("groove %d again at stations %d and %d; keep both readings", groove+1, lo+1, hi+1)})
	return p
}

// lowestHighest returns the stations worn least and most.
func (r *reader) lowestHighest(groove int) (lo, hi int) {
	least, most, _, _ := extremes(r.grid.wear[groove])
	for k, w := range r.grid.wear[groove] {
		if w != nil && *w == least {
			lo = k
		}
		if w != nil && *w == most {
			hi = k
		}
	}
	return lo, hi
}

// singleDip returns the station of a dip that stands alone: a run of at most
// one station in six worn 1.6 mm more than the rest, the rest within one step,
// and none of the first three harmonics twice the other two, since a lone dip
// makes them alike; -1 if there is none.
func (r *reader) singleDip(groove int) int {
	row := r.grid.wear[groove]
	_, deepest := r.lowestHighest(groove)
	if len(r.out.Harmonics) < 3 {
		return -1
	}

	var h [3]float64
	for i := range h {
		h[i] = r.out.Harmonics[i].AmplitudeMM
	}

	if slices.Sort(h[:]); h[2] >= 2*h[1] {
		return -1
	}

	for width := 1; width <= max(1, r.grid.stations/6); width++ {
		for start := deepest - width + 1; start <= deepest; start++ {
			if r.standsAlone(row, start, width) {
				return deepest
			}
		}
	}

	return -1
}

func (r *reader) standsAlone(row []*float64, start, width int) bool {
	k := len(row)
	var rest []float64

	shallow := math.Inf(1)
	for i := range row {
		w := row[(start+i+k)%k]
		switch {
		case w == nil:
		case i < width:
			shallow = math.Min(shallow, *w)
		default:
			rest = append(rest, *w)
		}
	}

	if len(rest) < 3 {
		return false
	}

	slices.Sort(rest)
	span := rest[len(rest)-1] - rest[0]
	return span <= r.evenSpanMM()+1e-6 && steps(shallow-rest[len(rest)/2], 2)
}

// evenSpanMM is the spread that stations worn alike may show: one step of the
// 1/32 in gauge, 1.0 mm of the finer one (99 % point of eight stations, derived).
func (r *reader) evenSpanMM() float64 {
	if r.in.ResolutionMM > 0.25 {
		return Step
	}
	return 1.0
}

// patches adds flat_spot_multiple if two or more low runs stand out of stations
// that are worn alike, spaced as no even repeat would fall on these stations. Few
// stations cannot tell, nor can spacings that differ by one station alone.
func (r *reader) patches(groove int, spread float64) bool {
	row := r.grid.wear[groove]
	if len(r.out.Harmonics) == 0 || !steps(spread, 2) || r.felt() {
		return false
	}
	starts, widest := r.lowRuns(row)
	if len(starts) < 2 || widest > max(1, r.grid.stations/6) {
		return false
	}

	least, most := r.grid.stations, 0
	for i, s := range starts {
		gap := (starts[(i+1)%len(starts)] - s + r.grid.stations) % r.grid.stations
		least, most = min(least, gap), max(most, gap)
	}

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

// felt reports whether the hand found cups or flat spots already.
func (r *reader) felt() bool {
	return slices.ContainsFunc(
		r.out.Patterns,
		func(p Pattern) bool { return p.Key == Cupping || p.Key == FlatSpot || p.Key == FlatSpots },
	)
}

// lowRuns returns where the runs of stations begin that are worn at least 2/32 in
// more than the rest, and how wide the widest is; none unless the rest, at least
// half of all stations, is within what stations worn alike may show.
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

// countDips returns how many dips a groove shows: the order of the strongest
// harmonic from the second up to below half the stations, if it carries at least 60 % of half the
// spread; else the runs of stations that are clearly lower than those between.
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

	least, most, _, _ := extremes(r.grid.wear[groove])
	high, low := most-(most-least)/3, least+(most-least)/3

	var marks []bool // of stations clearly low (true) or clearly high (false)
	for _, w := range r.grid.wear[groove] {
		switch {
		case w == nil:
		case *w >= high:
			marks = append(marks, true)
		case *w <= low:
			marks = append(marks, false)
		}
	}

	n := 0
	for i, m := range marks {
		if m && !marks[(i+len(marks)-1)%len(marks)] {
			n++
		}
	}

	return n
}

// cupsByHand adds cupping and flat spots that the hand found (rule M4): a count
// of one is a flat spot, and a spacing gives the count through the circumference.
func (r *reader) cupsByHand(spread float64) {
	severity, graded := grade(spread)
	confidence, basis := Felt, "found by hand"
	if graded {
		confidence, basis = Confirmed, "found by hand and by gauge"
	} else {
		severity = Mild
	}

	if o, ok := r.in.has("flat_spot"); ok && o.Count < 2 {
		r.out.Dips = 1
		r.add(Pattern{FlatSpot, severity, confidence, basis, []Number{{"spread", spread, "mm"}}, "one flat spot"})
	}

	if o, ok := r.in.has("flat_spot"); ok && o.Count >= 2 {
		r.out.Dips = o.Count
		r.add(Pattern{FlatSpots, severity, confidence, basis,
			[]Number{{"patches", float64(o.Count), "around the tire"}, {"spread", spread, "mm"}},
			fmt.Sprintf("%d flat spots counted by hand", o.Count)})
	}

	o, ok := r.in.has("cupping")
	if !ok {
		return
	}
	n := o.Count
	if n == 0 && o.SpacingMM > 0 {
		n = int(math.Round(r.in.Wheel.filled().CircumferenceMM / o.SpacingMM))
	}

	if n == 1 {
		if _, known := r.out.Find(FlatSpot); !known {
			r.out.Dips = 1
			r.add(Pattern{FlatSpot, severity, confidence, basis, []Number{{"spread", spread, "mm"}},
				"one dip found by hand"})
		}

		return
	}

	if n == 0 {
		confidence = Suspected
		r.want(Request{Code: "lowest_and_crest",
			Text: "the lowest dip and the nearest crest, dips counted by hand, their spacing in mm"})
	}

	r.out.Dips = n

	p := Pattern{Cupping, severity, confidence, basis,
		[]Number{{"dips", float64(n), "around the tire"}, {"spread", spread, "mm"}}, "cups felt by hand, not counted"}

	if n > 0 {
		p.Text = fmt.Sprintf("%d cups counted by hand", n)
	}
	r.add(p)
}
