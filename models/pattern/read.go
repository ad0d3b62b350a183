package pattern

import (
	"fmt"
	"math"
	"strings"

	"rimledger/models/units"
)

// The patterns, as the trade names them.
const (
	Cupping         = "cupping"            // two or more dips around
	OncePerTurn     = "once_per_turn"      // one side of the tire more worn
	FlatSpot        = "flat_spot"          // one dip
	FlatSpots       = "flat_spot_multiple" // several patches, unequally spaced
	UnevenAround    = "uneven_around"      // uneven, in which way is open
	ShoulderOneSide = "shoulder_one_side"  // one shoulder more worn
	ShoulderBoth    = "shoulder_both"
	Center          = "center"
	RibDepression   = "rib_depression"
	Feather         = "feather"
	HeelToe         = "heel_toe"
	Diagonal        = "diagonal"
	Erosion         = "erosion"
	ShoulderStep    = "shoulder_step"
	DepressionLocal = "depression_local"
	AlternateLug    = "alternate_lug"
	UniformFast     = "uniform_fast"
	Separation      = "separation_suspect" // not wear: off the road
)

// Severity says how far a pattern has gone.
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
	Suspected = "suspected" // too few readings to tell it from others
)

// Number is one figure behind a pattern.
type Number struct {
	Name  string
	Value float64
	Unit  string
}

// String writes the figure with its name; the value is marked, see units.Style.Tell.
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
	Code     string // remeasure, three_stations, eight_stations, lowest_and_crest, more_grooves, new_depths, check_entry
	Stations []int  // for remeasure: which, from 1
	Groove   int    // from 1; 0 if any
	Text     string
}

// Around says what the readings prove around the tire.
type Around string

// What readings can prove around the tire.
const (
	AroundNotRead   Around = "not_read"   // one station says nothing
	AroundNotProven Around = "not_proven" // too few stations to call it even
	AroundEven      Around = "even"       // eight or more stations within gauge error
	AroundUneven    Around = "uneven"
)

// Result is what a tread's readings say.
type Result struct {
	Patterns  []Pattern
	Around    Around
	Stations  int
	SpreadMM  []float64  // highest minus lowest of each groove; 0 where not read twice
	WearMM    []float64  // mean wear of each groove; with unknown new depths minus the depth
	Harmonics []Harmonic // of the groove most uneven around; empty below eight stations
	Groove    int        // that groove, from 1; 0 if none
	Missing   *Missing   // what the once-per-turn wear weighs; nil below eight stations
	Dips      int        // around the tire; 0 if none or not known
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

// MinHarmonicStations is the least number of stations of which harmonics are read.
const MinHarmonicStations = 8

// reader gathers a Result.
type reader struct {
	in   Input
	grid grid
	out  Result
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
		lo, hi, mean, _ := extremes(row)
		r.out.SpreadMM = append(r.out.SpreadMM, hi-lo)
		r.out.WearMM = append(r.out.WearMM, mean)
	}

	r.around()
	r.across()
	r.byHand()
	r.whole()

	if err := r.mates(); err != nil {
		return Result{}, err
	}
	return r.out, nil
}

func (r *reader) add(p Pattern) { r.out.Patterns = append(r.out.Patterns, p) }

func (r *reader) want(q Request) {
	for _, w := range r.out.Wanted {
		if w.Code == q.Code {
			return
		}
	}
	r.out.Wanted = append(r.out.Wanted, q)
}

// steps reports whether mm reaches n steps of 1/32 in, the rounding of floats aside.
func steps(mm float64, n float64) bool { return mm >= n*Step-1e-6 }

// grade returns the severity of a spread around the tire (rule M3), false below 2/32 in.
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

// gradeAcross returns the severity of a difference across the tread: 2/32 in is
// watched, 3/32 in acted on.
func gradeAcross(mm float64) (Severity, bool) {
	s, ok := grade(mm)
	if s == Mild {
		s = Watch
	}
	return s, ok
}

// extremes returns least, greatest and mean of what was read, and how many were.
func extremes(row []*float64) (lo, hi, mean float64, n int) {
	for _, w := range row {
		if w == nil {
			continue
		}
		if n == 0 {
			lo, hi = *w, *w
		}
		lo, hi = math.Min(lo, *w), math.Max(hi, *w)

		mean += *w
		n++
	}

	if n > 0 {
		mean /= float64(n)
	}
	return lo, hi, mean, n
}

// byHand adds the patterns that hand and eye find and no gauge shows.
func (r *reader) byHand() {
	for _, o := range r.in.Observations {
		basis := "found by hand or eye"
		switch o.Code {
		case "feathering":
			text := "saw-tooth across the ribs: toe"
			switch o.Direction {
			case "inward":
				text = "sharp edges toward the vehicle's center: too much toe-in"
			case "outward":
				text = "sharp edges outward: toe-out"
			}
			text += r.featherPair(o)
			r.add(Pattern{Feather, sized(o.SizeMM), Felt, basis, size(o), text})
		case "heel_toe":
			r.add(Pattern{HeelToe, sizedHeelToe(o.SizeMM), Felt, basis, size(o),
				"each block high at one edge and low at the other"})
		case "alternate_lug":
			r.add(Pattern{AlternateLug, sized(o.SizeMM), Felt, basis, size(o), "neighboring lugs worn differently"})
		case "diagonal":
			r.add(Pattern{Diagonal, Mild, Felt, basis, size(o), "slanted flat patches"})
		case "erosion":
			s := Watch
			text := "step at the rib edges all round: slow wear of a free-rolling tire, normal"
			if steps(o.SizeMM, 2) {
				s, text = Mild, "step at the rib edges of 1/16 in or more: move to a drive axle"
			}
			r.add(Pattern{Erosion, s, Felt, basis, size(o), text})
		case "shoulder_step":
			r.add(Pattern{ShoulderStep, Watch, Felt, basis, size(o),
				"step on the outer part of the shoulder rib: slow wear, not harmful"})
		case "depression_local":
			r.add(Pattern{DepressionLocal, Mild, Felt, basis, size(o), "local patch on a shoulder"})
		case "rib_depression":
			if _, ok := r.out.Find(RibDepression); !ok {
				r.add(Pattern{RibDepression, sized(o.SizeMM), Felt, basis, size(o), "an inner rib lower all round"})
			}
		case "bulge", "separation":
			r.add(Pattern{Separation, Severe, Felt, basis, nil, "bulge or separation: not wear, off the road now"})
		}
	}
}

// featherPair says what the edges on both ends of an axle point to together, seen
// on the vehicle: edges that both point inward, or both outward, point opposite ways.
func (r *reader) featherPair(o Observation) string {
	if r.in.AxleMate == nil || o.Direction == "" {
		return ""
	}
	switch other, ok := r.in.AxleMate.has("feathering"); {
	case !ok || other.Direction == "":
		return ""
	case other.Direction == o.Direction:
		return "; edges on both ends of the axle point opposite ways: toe or camber of this axle"
	}
	return "; edges on both ends of the axle point the same way: thrust line, a rear axle out of line"
}

func size(o Observation) []Number {
	if o.SizeMM == 0 {
		return nil
	}
	return []Number{{"step", o.SizeMM, "mm"}}
}

// sized grades a step by its height; one that was only felt is mild.
func sized(mm float64) Severity {
	if mm == 0 {
		return Mild
	}
	if s, ok := gradeAcross(mm); ok {
		return s
	}
	return Watch
}

// sizedHeelToe grades an edge step: 0.8 mm watch, 1.6 mild, 2.4 act.
func sizedHeelToe(mm float64) Severity {
	if s, ok := grade(mm); ok {
		return s
	}
	return Watch
}

// whole reads what concerns the tire as a whole: speed of wear, doubtful entries.
func (r *reader) whole() {
	if r.in.RateToMedian > 1.5 && len(r.out.Patterns) == 0 {
		r.add(Pattern{UniformFast, Mild, Measured, "wear rate over the fleet's median for the place",
			[]Number{{"rate over median", r.in.RateToMedian, ""}},
			fmt.Sprintf(
				"even, but wearing %s times as fast as usual for this place",
				units.MarkNumber(r.in.RateToMedian, 1),
			)})
	}

	if r.in.Wheel.filled().Class == "car" {
		for _, row := range r.in.DepthsMM {
			for _, d := range row {
				if d != nil && *d > 20 {
					r.want(Request{Code: "check_entry",
						Text: fmt.Sprintf("%s is deep for a car: were 32nds read?", units.MarkEstimate(*d))})
				}
			}
		}
	}

	if !r.grid.newKnown {
		r.want(Request{Code: "new_depths",
			Text: "the new depth of each groove: many tires are molded shallower at the shoulder"})
	}
}
