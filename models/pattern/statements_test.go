package pattern_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rimledger/models/pattern"
	"rimledger/models/units"
	"rimledger/models/vibration"
)

// low returns a groove of k stations at 6 mm with stations worn mm more.
func low(k int, mm float64, at ...int) []float64 {
	row := even(k, 6)
	for _, i := range at {
		row[i] -= mm
	}
	return row
}

// Patches that stand alone, and cups: told apart from eight stations up by
// whether the rest is worn alike and the spacing repeats (truck trade press:
// several irregular patches, unequal spacing); with fewer stations nothing is
// guessed. Thresholds in mm are ours, from gauge error.
func TestFlatSpotsAndCups(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name string
		row  []float64
		want string
		dips int
	}{
		{"one patch at one of 8 stations (truck)", low(8, 2.4, 3), pattern.FlatSpot, 1},
		{"one patch over two of 12 stations (truck)", low(12, 2.4, 3, 4), pattern.FlatSpot, 1},
		{"two patches a quarter turn apart (truck)", low(8, 2.4, 1, 3), pattern.FlatSpots, 2},
		{"two patches, 3 and 5 stations apart (truck)", low(8, 2.4, 0, 3), pattern.FlatSpots, 2},
		{"three patches, unequally spaced, 12 stations (truck)", low(12, 2.4, 0, 2, 7), pattern.FlatSpots, 3},
		{"three patches, unequally deep and spaced (truck)",
			func() []float64 { r := low(16, 2.4, 0, 3); r[9] -= 4; return r }(), pattern.FlatSpots, 3},
		{"two dips opposite each other repeat evenly: cups (truck)", low(8, 2.4, 0, 4), pattern.Cupping, 2},
		{"three dips a third of a turn apart, as 8 stations see them: cups (truck)", low(8, 2.4, 0, 3, 5),
			pattern.Cupping, 3},
		{"three cups of 2.5 mm on 12 stations (truck)", around(12, 10, cups(4, 2.5, 3, 0)), pattern.Cupping, 3},
		{"two cups of 2.5 mm on 8 stations (truck)", around(8, 10, cups(4, 2.5, 2, 0)), pattern.Cupping, 2},
		{"one side of the tire lower is neither (rib profiles)", around(8, 10, cups(4, 2.5, 1, 0)), pattern.OncePerTurn,
			0},
		{"two patches, but 6 stations cannot tell", low(6, 2.4, 0, 2), pattern.UnevenAround, 0},
		{"two patches, but 4 stations cannot tell", low(4, 2.4, 0, 1), pattern.UnevenAround, 0},
		{"one patch, but 3 stations cannot tell", low(3, 2.4, 1), pattern.UnevenAround, 0},
		{"patches of 1/32 in are gauge error (derived)", low(8, pattern.Step, 0, 3), "", 0},
	} {
		got, err := pattern.Read(pattern.Input{Tread: tread(c.row), Confirmed: true})
		if err != nil {
			t.Fatal(err)
		}

		var keys []string
		for _, p := range got.Patterns {
			keys = append(keys, p.Key)
		}

		counted := c.dips == 0 || got.Dips == c.dips || slices.Contains(got.Could, c.dips)
		if strings.Join(keys, " ") != c.want || !counted {
			t.Errorf("%s: %v with %v dips, want %q with %d", c.name, keys, got.Could, c.want, c.dips)
		}

		if c.want == pattern.UnevenAround &&
			!slices.ContainsFunc(got.Wanted, func(q pattern.Request) bool { return q.Code == "eight_stations" }) {
			t.Errorf("%s: eight stations are not asked for: %+v", c.name, got.Wanted)
		}
	}
}

// Each statement on what a pattern or a finding of the hand comes from and what
// to do first: the cause must have points for it, or the check must be asked.
// Source tags: F published (army, car maker, truck trade), M common practice.
func TestStatementsOnCauses(t *testing.T) {
	t.Parallel()
	hand := func(code string, more ...pattern.Observation) pattern.Input {
		return pattern.Input{Tread: found(evenTread(), append(more, pattern.Observation{Code: code})...)}
	}

	grooves := func(d ...float64) pattern.Input {
		var rows [][]float64
		for _, v := range d {
			rows = append(rows, []float64{v})
		}
		return pattern.Input{Tread: tread(rows...)}
	}

	spots := pattern.Input{Tread: tread(low(8, 2.4, 0, 3), even(8, 6), even(8, 6)), Confirmed: true}
	cup := pattern.Input{Tread: cupped()}

	for _, c := range []struct {
		says   string
		in     pattern.Input
		causes string // with points, any order
		check  string // code of a check that must be asked, "" for none
	}{
		{"cupping: unbalanced assembly, dampers, bearing, mis-mounted rim (F truck, car)", cup,
			"imbalance dampers looseness runout_or_seating", "balance"},
		{"cupping: look at bearing, kingpin, tie rod before balancing (F truck)", cup, "looseness", "looseness"},
		{"cupping: dampers before balancing (F truck)", cup, "dampers", "dampers"},
		{"cupping: bead seat and run-out before balancing (F car)", cup, "runout_or_seating", "bead_seat"},
		{"one shoulder: toe, camber, axle out of line (F car, truck)", grooves(3, 5, 6), "alignment", "alignment"},
		{"both shoulders: low pressure or overload (F army, car)", grooves(4, 6, 4), "pressure", "pressure"},
		{"center: too much pressure (F army, car)", grooves(6, 4, 6), "pressure", "pressure"},
		{"feather: toe (F car, alignment notes)", hand("feathering"), "alignment", "alignment"},
		{"heel and toe: duals unlike (F truck)", hand("heel_toe"), "dual_mismatch", "pressure"},
		{"alternate lugs: duals unlike (F truck)", hand("alternate_lug"), "dual_mismatch", "pressure"},
		{"diagonal: bearing, then toe (M)", hand("diagonal"), "looseness alignment", "looseness"},
		{"one flat spot: brakes (F truck, manual)", hand("flat_spot"), "brake_flat_spot", "brakes"},
		{"several flat spots: duals, dampers, bearing, imbalance (F truck)", spots,
			"dual_mismatch dampers looseness imbalance", "duals"},
		{"several flat spots: dampers looked at before balancing (F truck)", spots, "dampers", "dampers"},
		{"a rib low all round: pressure, worn parts (F truck)", grooves(6, 4, 6, 6), "pressure looseness", "looseness"},
		{"bulge: not wear, off the road (F car)", hand("bulge"), "", "off_road"},
		{"mud, ice, stones: clean and look again (F manual; ice M)", hand("dirt"), "", "clean"},
	} {
		a, err := pattern.Causes(c.in)
		if err != nil {
			t.Fatal(err)
		}

		for _, key := range strings.Fields(c.causes) {
			if a.Of(key).Score <= 0 {
				t.Errorf("%s: %s has %d points", c.says, key, a.Of(key).Score)
			}
		}

		if !slices.ContainsFunc(a.ChecksFirst, func(k pattern.Check) bool { return k.Code == c.check }) {
			t.Errorf("%s: %q is not among the checks %+v", c.says, c.check, a.ChecksFirst)
		}
	}
}

// What is normal or harmless says so, and what it looks like decides the words.
func TestStatementsOnWords(t *testing.T) {
	t.Parallel()
	hand := func(code, direction string, mm float64) pattern.Tread {
		return found(tread([]float64{6}, []float64{6}, []float64{6}),
			pattern.Observation{Code: code, Direction: direction, SizeMM: mm})
	}

	with := func(t pattern.Tread, mate pattern.Tread) pattern.Input {
		return pattern.Input{Tread: t, AxleMate: &mate}
	}

	for _, c := range []struct {
		says string
		in   pattern.Input
		want string
	}{
		{"sharp edges inward: too much toe-in (F car)", pattern.Input{Tread: hand("feathering", "inward", 0)},
			"toe-in"},
		{"sharp edges outward: toe-out (F car)", pattern.Input{Tread: hand("feathering", "outward", 0)}, "toe-out"},
		{"same way on both steers: thrust of a rear axle (F alignment notes)",
			with(hand("feathering", "inward", 0), hand("feathering", "outward", 0)), "thrust line"},
		{"opposite ways on both steers: toe or camber (F alignment notes)",
			with(hand("feathering", "inward", 0), hand("feathering", "inward", 0)), "toe or camber"},
		{"erosion of a free-rolling tire is normal (F army)", pattern.Input{Tread: hand("erosion", "", 1)}, "normal"},
		{"erosion of 1/16 in: move to a drive axle (F army)", pattern.Input{Tread: hand("erosion", "", 1.6)},
			"drive axle"},
		{"a shoulder step is not harmful (F truck)", pattern.Input{Tread: hand("shoulder_step", "", 0)}, "not harmful"},
		{"both shoulders alike may be normal (F car)",
			pattern.Input{Tread: tread([]float64{4}, []float64{6}, []float64{4})}, "may be normal"},
		{"a gauge does not see a low rib, a straight edge does (M)",
			pattern.Input{Tread: tread([]float64{6}, []float64{4}, []float64{6}, []float64{6})}, "straight edge"},
		{"even, but 1.6 times as fast as usual (F truck; 1.5 ours)",
			pattern.Input{Tread: evenTread(), RateToMedian: 1.6}, "1.6 times as fast"},
		{"bulge: off the road now (F car)", pattern.Input{Tread: hand("bulge", "", 0)}, "off the road now"},
	} {
		got, err := pattern.Read(c.in)
		if err != nil || len(got.Patterns) == 0 || !strings.Contains(metric.Render(got.Patterns[0].Text), c.want) {
			t.Errorf("%s: %+v, %v; want %q in the text", c.says, got.Patterns, err, c.want)
		}
	}

	if got, _ := pattern.Read(pattern.Input{Tread: evenTread(), RateToMedian: 1.5}); len(got.Patterns) != 0 {
		t.Errorf("1.5 times the median is not yet fast: %+v", got.Patterns)
	}

	unlike := tread([]float64{4.4}, []float64{6}, []float64{3.5})
	got, _ := pattern.Read(pattern.Input{Tread: unlike})
	if len(got.Patterns) != 1 || strings.Contains(got.Patterns[0].Text, "may be normal") {
		t.Errorf("shoulders 0.9 mm apart are not alike (0.8 ours): %+v", got.Patterns)
	}
}

// Both sides of every threshold of the evidence. Sources in names as in
// TestEvidence.
func TestEvidenceThresholds(t *testing.T) {
	t.Parallel()
	even := evenTread()
	bad := cupped()
	facts := func(f pattern.Facts) pattern.Input { return pattern.Input{Tread: even, Facts: f} }

	worst := func(kmh float64) *vibration.Report {
		return &vibration.Report{
			Class: vibration.Car, WorstKMH: kmh, Neutral: "same", Throttle: "same", Braking: "same",
		}
	}
	both := func(f pattern.Facts) pattern.Input { return pattern.Input{Tread: bad, AxleMate: &bad, Facts: f} }
	counted := func(n int) pattern.Input {
		return pattern.Input{Tread: found(even, pattern.Observation{Code: "cupping", Count: n})}
	}

	for _, c := range []struct {
		name     string
		id       string
		cause    string
		not, yes pattern.Input
	}{
		{"young: under a quarter worn (practice)", "young_cups", pattern.RunoutOrSeating,
			pattern.Input{Tread: bad, Facts: pattern.Facts{WornShare: 0.25}},
			pattern.Input{Tread: bad, Facts: pattern.Facts{WornShare: 0.24}}},
		{"dampers over ten years (damper makers)", "both_ends_dampers", pattern.Dampers,
			both(pattern.Facts{DampersYears: 10}), both(pattern.Facts{DampersYears: 10.1})},
		{"dampers over 240,000 km (damper makers)", "both_ends_dampers", pattern.Dampers,
			both(pattern.Facts{DampersKM: 240_000}), both(pattern.Facts{DampersKM: 240_001})},
		{"duals more than 5 psi apart (survey)", "dual_apart", pattern.DualMismatch,
			facts(pattern.Facts{DualPressureKPa: 5 * 6.894757}), facts(pattern.Facts{DualPressureKPa: 5.1 * 6.894757})},
		{"duals more than 1/4 in apart (survey)", "dual_apart", pattern.DualMismatch,
			facts(pattern.Facts{DualDiameterMM: 6.35}), facts(pattern.Facts{DualDiameterMM: 6.4})},
		{"bead gap over 2/32 in (truck)", "bead_gap", pattern.RunoutOrSeating,
			facts(pattern.Facts{BeadGapVariationMM: 2 * pattern.Step}), facts(pattern.Facts{BeadGapVariationMM: 1.6})},
		{"run-out over its limit (limits)", "runout_over", pattern.RunoutOrSeating,
			facts(pattern.Facts{RunoutMM: 1.27, RunoutLimitMM: 1.27}),
			facts(pattern.Facts{RunoutMM: 1.28, RunoutLimitMM: 1.27})},
		{"five dips (polygon)", "many_dips", pattern.SelfExcited, counted(4), counted(5)},
		{"a shake that brake changes is not a rising one (manual)", "vibration_rises", pattern.Imbalance,
			facts(pattern.Facts{Vibration: &vibration.Report{Class: vibration.Car, WorstKMH: 95, Braking: "worse"}}),
			facts(pattern.Facts{Vibration: rising()})},
		{"outside the band nothing points to imbalance (manual)", "vibration_rises", pattern.Imbalance,
			facts(pattern.Facts{Vibration: worst(110.5)}), facts(pattern.Facts{Vibration: worst(110)})},
		{"below the band nothing points to imbalance (manual)", "vibration_rises", pattern.Imbalance,
			facts(pattern.Facts{Vibration: worst(64.5)}), facts(pattern.Facts{Vibration: worst(65)})},
	} {
		for want, in := range map[bool]pattern.Input{false: c.not, true: c.yes} {
			a, err := pattern.Causes(in)
			if err != nil {
				t.Fatal(err)
			}
			got := slices.ContainsFunc(a.Of(c.cause).Lines, func(l pattern.Evidence) bool { return l.ID == c.id })
			if got != want {
				t.Errorf("%s: %v, want %v; %+v", c.name, got, want, a.Of(c.cause))
			}
		}
	}

	// Likely from 6, possible from 3 points (ours), on causes that need no readings around.
	for _, c := range []struct {
		facts  pattern.Facts
		points int
		want   pattern.Verdict
	}{
		{pattern.Facts{Pulls: true}, 2, pattern.Unlikely},
		{pattern.Facts{PressureToTarget: 0.8}, 3, pattern.Possible},
		{pattern.Facts{DualPressureKPa: 60}, 6, pattern.Likely},
	} {
		a, err := pattern.Causes(facts(c.facts))
		if err != nil || a.Ranked[0].Score != c.points || a.Ranked[0].Verdict != c.want {
			t.Errorf("%d points: %+v, %v; want %s", c.points, a.Ranked[0], err, c.want)
		}
	}
}

var metric = units.Style{Set: units.Metric}

// The account shows the measured number behind its line.
func TestAccountShowsItsNumbers(t *testing.T) {
	t.Parallel()

	a, err := pattern.Causes(pattern.Input{Tread: evenTread(), Facts: pattern.Facts{BeadGapVariationMM: 3,
		BeadGapNote: "outer side", RunoutMM: 2.5, RunoutLimitMM: 2.413, RunoutNote: "0.095 in"}})
	if err != nil {
		t.Fatal(err)
	}

	for _, want := range []string{"(varies by 3 mm, limit 1.59 mm; outer side)", "(2.5 mm, limit 2.41 mm; 0.095 in)"} {
		ends := func(l pattern.Evidence) bool { return strings.HasSuffix(metric.Render(l.Text), want) }
		if !slices.ContainsFunc(a.Of(pattern.RunoutOrSeating).Lines, ends) {
			t.Errorf("no line ends in %q: %+v", want, a.Of(pattern.RunoutOrSeating).Lines)
		}
	}

	for _, bad := range []pattern.Facts{{BeadGapVariationMM: math.NaN()}, {BeadGapVariationMM: -1},
		{BeadGapVariationMM: 51}, {RunoutMM: math.Inf(1)}, {BeadGapNote: strings.Repeat("x", 301)}} {
		if _, err := pattern.Causes(pattern.Input{Tread: evenTread(), Facts: bad}); err == nil {
			t.Errorf("accepted %+v", bad)
		}
	}
}
