package pattern

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rimledger/models/units"
	"rimledger/models/vibration"
)

// The patterns, as the trade names them.
const (
	Cupping     = "cupping"       // two or more dips around
	OncePerTurn = "once_per_turn" // one side of the tire more worn
	// OncePerTurnCouple is wear at opposite sides of the two shoulders.
	OncePerTurnCouple = "once_per_turn_couple"
	FlatSpot          = "flat_spot"          // one dip
	FlatSpots         = "flat_spot_multiple" // several patches, unequally spaced
	UnevenAround      = "uneven_around"      // uneven, in which way is open
	ShoulderOneSide   = "shoulder_one_side"  // one shoulder more worn
	ShoulderBoth      = "shoulder_both"
	Center            = "center"
	RibDepression     = "rib_depression"
	Feather           = "feather"
	HeelToe           = "heel_toe"
	Diagonal          = "diagonal"
	Erosion           = "erosion"
	ShoulderStep      = "shoulder_step"
	DepressionLocal   = "depression_local"
	AlternateLug      = "alternate_lug"
	UniformFast       = "uniform_fast"
	Separation        = "separation_suspect" // bulge, separation or cord that shows, not wear: off the road
)

// Severity is how deep a pattern is worn.
type Severity string

// The severities.
const (
	Watch    Severity = "watch"
	Mild     Severity = "mild"
	Moderate Severity = "moderate"
	Severe   Severity = "severe"
)

// How sure a pattern is.
const (
	Confirmed = "confirmed" // gauge and a second reading or the hand agree
	Measured  = "measured"  // by the gauge, once
	Felt      = "felt"      // by hand or eye alone
	Suspected = "suspected" // the readings cannot tell it from others, or no hand counted the dips
)

// Number is one figure behind a pattern.
type Number struct {
	Name  string
	Value float64
	Unit  string
}

// String returns the name and the value of n, with marks (see units.Style.Render).
func (n Number) String() string {
	decimals := 2
	if n.Value == math.Trunc(n.Value) {
		decimals = 0
	}
	value := units.MarkNumber(n.Value, decimals) + " " + n.Unit
	if n.Unit == "mm" {
		value = units.MarkEstimate(n.Value)
	}
	return strings.TrimSpace(n.Name + " " + value)
}

// Pattern is one way in which the tire is worn.
type Pattern struct {
	Key        string
	Severity   Severity
	Confidence string
	Basis      string // what the confidence rests on
	Numbers    []Number
	Text       string
}

// Request is a further reading that would decide.
type Request struct {
	// Code is remeasure, three_stations, eight_stations, count_dips, lowest_and_crest,
	// more_grooves, new_depths or check_entry.
	Code     string
	Stations []int // for remeasure: which, from 1
	Groove   int   // from 1; 0 if any
	Text     string
}

// Around says what the readings prove around the tire.
type Around string

// What readings can prove around the tire.
const (
	AroundNotRead   Around = "not_read"   // one station says nothing
	AroundNotProven Around = "not_proven" // too few stations to call it even, or cups not denied by hand
	AroundEven      Around = "even"       // eight or more stations within gauge error and smooth to the hand
	AroundUneven    Around = "uneven"
)

// Result is what the readings of a tread show.
type Result struct {
	Patterns  []Pattern
	Around    Around
	Stations  int
	SpreadMM  []float64  // highest minus lowest of each groove; 0 where not read twice
	WearMM    []float64  // mean wear of each groove; with unknown new depths minus the depth
	Harmonics []Harmonic // of the wear that all grooves share, as many as the stations tell apart
	Groove    int        // most uneven around, from 1; 0 if none
	Missing   *Missing   // what the once-per-turn wear weighs; nil until the hand denies cups
	Dips      int        // around the tire, counted; 0 if none or not known
	Could     []int      // numbers of dips from 1 to 12 that fit the readings alike; empty if they show no repeat
	Mates     []Comparison
	Wanted    []Request
}

// Find returns the pattern with key.
func (r Result) Find(key string) (Pattern, bool) {
	for _, p := range r.Patterns {
		if p.Key == key {
			return p, true
		}
	}
	return Pattern{}, false
}

// DipsOpen reports whether a repeating pattern was read by gauge and the dips are
// neither counted nor denied by hand.
func (r Result) DipsOpen() bool {
	return slices.ContainsFunc(r.Patterns, func(p Pattern) bool {
		return p.Confidence == Suspected &&
			slices.Contains([]string{OncePerTurn, OncePerTurnCouple, Cupping, UnevenAround}, p.Key)
	})
}

// CouldBe names the numbers of dips that fit the readings alike, such as "1, 7 or 9 dips";
// "" if they show no repeat.
func (r Result) CouldBe() string {
	last := len(r.Could) - 1
	if last < 0 {
		return ""
	}

	var before []string
	for _, n := range r.Could[:last] {
		before = append(before, fmt.Sprint(n))
	}
	if last == 0 {
		return dipsText(r.Could[0])
	}
	return strings.Join(before, ", ") + " or " + dipsText(r.Could[last])
}

// CountQuestion asks for the dips to be counted by hand and says which numbers of them the
// stations cannot tell apart; "" if the count is not open.
func (r Result) CountQuestion() string {
	switch {
	case !r.DipsOpen():
		return ""
	case len(r.Could) > 1:
		return fmt.Sprintf("%s look alike at these %d places: %s", r.CouldBe(), r.Stations, countByHand)
	}
	return countByHand
}

// countByHand asks for the surest answer to how many dips there are.
const countByHand = "count the dips around the tire by hand, or note that the tread feels smooth"

// MinHarmonicStations is the least number of stations that can show a tread even around
// or tell a lone dip from a row of dips.
const MinHarmonicStations = 8

// reader builds the Result of one Read.
type reader struct {
	in   Input
	grid grid
	out  Result
	real bool // the greatest spread around is more than gauge noise
}

// Read returns the patterns of one tire, its mates compared, and which readings
// would decide what these cannot. Checks, in order: sizes and facts, then the
// shape, stations, observations and depths of the tread, its mates and the
// previous visit. Errors: ErrNoReadings, ErrRagged, ErrTooMany, ErrNotFinite,
// ErrOutOfRange, ErrAboveNew, ErrNewCount, ErrStationTwice, ErrStations, ErrWord.
func Read(in Input) (Result, error) {
	if err := in.check(); err != nil {
		return Result{}, err
	}

	g, err := in.grid("tread")
	if err != nil {
		return Result{}, err
	}

	if in.ResolutionMM == 0 {
		in.ResolutionMM = Step
	}

	r := &reader{in: in, grid: g}
	r.out.Stations = g.stations
	for _, row := range g.wear {
		s := spanOf(row)
		r.out.SpreadMM = append(r.out.SpreadMM, s.spread())
		r.out.WearMM = append(r.out.WearMM, s.mean)
	}

	// What follows looks at the patterns added before it, so the order matters.
	r.around()
	r.across()
	r.byHand()
	r.wholeTire()
	if err := r.mates(); err != nil {
		return Result{}, err
	}
	return r.out, nil
}

func (r *reader) add(p Pattern) { r.out.Patterns = append(r.out.Patterns, p) }

// ask adds a request unless one with the same code was added before.
func (r *reader) ask(q Request) {
	if !slices.ContainsFunc(r.out.Wanted, func(w Request) bool { return w.Code == q.Code }) {
		r.out.Wanted = append(r.out.Wanted, q)
	}
}

// steps reports whether mm is at least n steps of 1/32 in, rounding errors aside.
func steps(mm, n float64) bool { return mm >= n*Step-1e-6 }

// grade returns the severity of a spread around the tire: mild from 2/32 in, moderate
// from 3/32, severe from 4/32 (chosen by us from gauge noise); false below.
func grade(spread float64) (Severity, bool) {
	switch {
	case steps(spread, 4):
		return Severe, true
	case steps(spread, 3):
		return Moderate, true
	case steps(spread, 2):
		return Mild, true
	}
	return "", false
}

// gradeAcross returns the severity of a difference across the tread: watch from
// 2/32 in, moderate from 3/32, severe from 4/32 (chosen by us); false below.
func gradeAcross(mm float64) (Severity, bool) {
	s, ok := grade(mm)
	if s == Mild {
		s = Watch
	}
	return s, ok
}

// span is the values of one groove that were read: how many, and what they span.
type span struct {
	n            int
	lo, hi, mean float64 // 0 if n is 0
}

// spread returns the greatest minus the least value.
func (s span) spread() float64 { return s.hi - s.lo }

// spanOf returns the span of the values that were read.
func spanOf(values []*float64) span {
	var out span

	for _, v := range values {
		if v == nil {
			continue
		}
		if out.n == 0 {
			out.lo, out.hi = *v, *v
		}

		out.lo, out.hi = math.Min(out.lo, *v), math.Max(out.hi, *v)
		out.mean += *v
		out.n++
	}

	if out.n > 0 {
		out.mean /= float64(out.n)
	}
	return out
}

// byHand adds the patterns that hand and eye find and no gauge shows.
func (r *reader) byHand() {
	for _, o := range r.in.Observations {
		if p, ok := r.patternFelt(o); ok && !r.has(p) {
			p.Confidence, p.Basis = Felt, "found by hand or eye"
			r.add(p)
		}
	}
}

// has reports whether the same pattern with the same text was added before.
func (r *reader) has(p Pattern) bool {
	return slices.ContainsFunc(r.out.Patterns, func(q Pattern) bool { return q.Key == p.Key && q.Text == p.Text })
}

// patternFelt returns the pattern that an observation is by itself; ok is false for
// one that around handles or that is no pattern.
func (r *reader) patternFelt(o Observation) (p Pattern, ok bool) {
	p = Pattern{Severity: Mild, Numbers: stepNumber(o)}

	// The severity of a step is that of its height; without a size the pattern is mild.
	switch o.Code {
	case "feathering":
		p.Key, p.Severity, p.Text = Feather, stepSeverity(o.SizeMM), featherText(o)+r.featherPair(o)
	case "heel_toe":
		p.Key, p.Severity = HeelToe, heelToeSeverity(o.SizeMM)
		p.Text = "each block high at one edge and low at the other"
	case "alternate_lug":
		p.Key, p.Severity, p.Text = AlternateLug, stepSeverity(o.SizeMM), "neighboring lugs worn differently"
	case "diagonal":
		p.Key, p.Text = Diagonal, "slanted flat patches"
	case "erosion":
		p.Key, p.Severity = Erosion, Watch
		p.Text = "step at the rib edges all round: slow wear of a free-rolling tire, normal"
		if steps(o.SizeMM, 2) {
			p.Severity, p.Text = Mild, "step at the rib edges of 1/16 in or more: move to a drive axle"
		}
	case "shoulder_step":
		p.Key, p.Severity = ShoulderStep, Watch
		p.Text = "step on the outer part of the shoulder rib: slow wear, not harmful"
	case "depression_local":
		p.Key, p.Text = DepressionLocal, "local patch on a shoulder"
	case "rib_depression":
		if _, measured := r.out.Find(RibDepression); measured {
			return Pattern{}, false
		}
		p.Key, p.Severity, p.Text = RibDepression, stepSeverity(o.SizeMM), "an inner rib lower all round"
	case "bulge", "separation", "exposed_cord", "cut_to_cord":
		p.Key, p.Severity, p.Numbers = Separation, Severe, nil
		p.Text = strings.ReplaceAll(o.Code, "_", " ") + ": not wear, off the road now"
	default:
		return Pattern{}, false
	}

	return p, true
}

// featherText says what the direction of feather edges points to.
func featherText(o Observation) string {
	switch o.Direction {
	case "inward":
		return "sharp edges toward the vehicle's center: too much toe-in"
	case "outward":
		return "sharp edges outward: toe-out"
	}
	return "saw-tooth across the ribs: toe"
}

// featherPair says what the feather edges at both ends of an axle point to together;
// "" unless both directions are known. Direction is relative to the vehicle's center,
// so two edges that both point inward, or both outward, point opposite ways.
func (r *reader) featherPair(o Observation) string {
	if r.in.AxleMate == nil || o.Direction == "" {
		return ""
	}
	switch other, ok := r.in.AxleMate.observed("feathering"); {
	case !ok || other.Direction == "":
		return ""
	case other.Direction == o.Direction:
		return "; edges on both ends of the axle point opposite ways: toe or camber of this axle"
	}
	return "; edges on both ends of the axle point the same way: thrust line, a rear axle out of line"
}

// stepNumber returns the height of a step as the figure behind its pattern; nil if it
// was not measured.
func stepNumber(o Observation) []Number {
	if o.SizeMM == 0 {
		return nil
	}
	return []Number{{"step", o.SizeMM, "mm"}}
}

// stepSeverity grades a step across the tread by its height in mm; one that was only
// felt is mild, one below 2/32 in is watched.
func stepSeverity(mm float64) Severity {
	if mm == 0 {
		return Mild
	}
	if s, ok := gradeAcross(mm); ok {
		return s
	}
	return Watch
}

// heelToeSeverity grades a step between the edges of a block by its height in mm:
// mild from 2/32 in, moderate from 3/32 (chosen by us); one below is watched.
func heelToeSeverity(mm float64) Severity {
	if s, ok := grade(mm); ok {
		return s
	}
	return Watch
}

// wholeTire adds uniform_fast for a tire without another pattern that wears more than
// 1.5 times as fast as usual (chosen by us), and asks for entries that look wrong.
func (r *reader) wholeTire() {
	if r.in.RateToMedian > 1.5 && len(r.out.Patterns) == 0 {
		r.add(Pattern{UniformFast, Mild, Measured, "wear rate over the fleet's median for the place",
			[]Number{{"rate over median", r.in.RateToMedian, ""}},
			fmt.Sprintf("even, but wearing %s times as fast as usual for this place",
				units.MarkNumber(r.in.RateToMedian, 1))})
	}

	if d, deep := r.deeperThanCarTread(); deep {
		r.ask(Request{Code: "check_entry",
			Text: fmt.Sprintf("%s is deep for a car: were 32nds read?", units.MarkEstimate(d))})
	}

	if !r.grid.newKnown {
		r.ask(Request{Code: "new_depths",
			Text: "the new depth of each groove: many tires are molded shallower at the shoulder"})
	}
}

// deeperThanCarTread returns the first depth over 20 mm on a car (chosen by us): a
// number of 32nds that was entered as mm.
func (r *reader) deeperThanCarTread() (depthMM float64, found bool) {
	if r.in.Wheel.withUsualSizes().Class != vibration.Car {
		return 0, false
	}

	for _, row := range r.in.DepthsMM {
		for _, d := range row {
			if d != nil && *d > 20 {
				return *d, true
			}
		}
	}

	return 0, false
}
