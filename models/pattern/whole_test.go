package pattern_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"rimledger/models/pattern"
	"rimledger/models/vibration"
)

// told is a reading in lines: what is shown around, each pattern, each comparison and each
// request, with the numbers to the thousandth.
func told(r pattern.Result) string {
	number := func(ns []pattern.Number) (out string) {
		for _, n := range ns {
			out += fmt.Sprintf(" (%s %.2f %s)", n.Name, n.Value+0, n.Unit)
		}
		return out
	}

	lines := []string{fmt.Sprintf("%s, groove %d, %d dips, could be %v", r.Around, r.Groove, r.Dips, r.Could)}
	for _, p := range r.Patterns {
		lines = append(lines, fmt.Sprintf("%s, %s, %s by %s:%s %s", p.Key, p.Severity, p.Confidence, p.Basis,
			number(p.Numbers), metric.Render(p.Text)))
	}
	for _, m := range r.Mates {
		lines = append(lines, fmt.Sprintf("%s, alike %v:%s %s", m.With, m.Alike, number(m.Numbers),
			metric.Render(m.Text)))
	}
	for _, w := range r.Wanted {
		line := "ask " + w.Code
		if w.Groove > 0 || w.Code == "check_entry" {
			line += fmt.Sprintf(", groove %d, stations %v: %s", w.Groove, w.Stations, metric.Render(w.Text))
		}
		lines = append(lines, line)
	}

	return strings.Join(lines, "\n")
}

// step32 is a depth or a difference of n thirty-seconds of an inch, in mm.
func step32(n float64) float64 { return n * pattern.Step }

// flat is a tread of grooves read once each, new at 10 mm, worn mm.
func flat(worn ...float64) pattern.Tread {
	var rows [][]float64
	for _, w := range worn {
		rows = append(rows, []float64{10 - w})
	}
	return tread(rows...)
}

// What is said where nothing hangs on a number.
const (
	notRead    = "not_read, groove 0, 0 dips, could be []"
	askThree   = "ask three_stations"
	askGrooves = "ask more_grooves"
	askCount   = "ask count_dips"
	askNew     = "ask new_depths"
)

// Whole readings, every line and number of them. The treads are in whole 32nds and in waves
// of known height, so that each number follows by hand; the rules are those of the tests
// above, their thresholds chosen by us. 1 dip on 8 stations looks like 7 and 9 (sampling
// theorem); a wave of 1.19 mm on a usual car tire weighs 52,085 g·mm (U = ρ s b r² A π).
func TestWholeReadings(t *testing.T) {
	t.Parallel()
	s := step32
	in := func(t pattern.Tread) pattern.Input { return pattern.Input{Tread: t} }
	conf := func(t pattern.Tread) pattern.Input { return pattern.Input{Tread: t, Confirmed: true} }
	unknownNew := func(t pattern.Tread) pattern.Tread { t.NewMM = nil; return t }
	quarter, threeQuarters := around(8, 10, cups(4, s(3), 1, math.Pi/2)), around(8, 10, cups(4, s(3), 1, -math.Pi/2))

	flatMate := func(worn ...float64) *pattern.Tread { t := flat(worn...); return &t }

	for _, c := range []struct {
		name string
		in   pattern.Input
		want []string
	}{
		{
			"one groove shows nothing across",
			in(flat(2)),
			[]string{
				notRead,
				askThree,
				askGrooves,
			},
		},
		{
			"outer shoulder 2/32 in more worn: watch",
			in(flat(s(4), s(3), s(2))),
			[]string{
				notRead,
				"shoulder_one_side, watch, measured by 1 reading a groove: three would make it sure: " +
					"(outer minus inner wear 1.59 mm) the outer shoulder is worn more",
				askThree,
			},
		},
		{
			"inner shoulder 3/32 in more worn: moderate",
			in(flat(s(2), s(3), s(5))),
			[]string{
				notRead,
				"shoulder_one_side, moderate, measured by 1 reading a groove: three would make it sure: " +
					"(outer minus inner wear -2.38 mm) the inner shoulder is worn more",
				askThree,
			},
		},
		{
			"shoulders less than 2/32 in apart: none",
			in(flat(s(2), s(3), s(3.9))),
			[]string{
				notRead,
				askThree,
			},
		},
		{
			"two grooves are two shoulders",
			in(flat(s(2), s(4))),
			[]string{
				notRead,
				"shoulder_one_side, watch, measured by 1 reading a groove: three would make it sure: " +
					"(outer minus inner wear -1.59 mm) the inner shoulder is worn more",
				askThree,
			},
		},
		{
			"shoulders 1/32 in apart are alike",
			in(flat(s(6), s(3), s(5))),
			[]string{
				notRead,
				"shoulder_both, watch, measured by 1 reading a groove: three would make it sure: (outer " +
					"shoulder minus center wear 2.38 mm) (inner shoulder minus center wear 1.59 mm) both " +
					"shoulders are worn more than the center, alike: may be normal on some radial designs",
				askThree,
			},
		},
		{
			"shoulders 1.2/32 in apart are not",
			in(flat(s(6.2), s(3), s(5))),
			[]string{
				notRead,
				"shoulder_both, watch, measured by 1 reading a groove: three would make it sure: (outer " +
					"shoulder minus center wear 2.54 mm) (inner shoulder minus center wear 1.59 mm) both " +
					"shoulders are worn more than the center",
				askThree,
			},
		},
		{
			"the shoulder worn less grades both: 2.9/32 in",
			in(flat(s(6), s(3), s(5.9))),
			[]string{
				notRead,
				"shoulder_both, watch, measured by 1 reading a groove: three would make it sure: (outer " +
					"shoulder minus center wear 2.38 mm) (inner shoulder minus center wear 2.30 mm) both " +
					"shoulders are worn more than the center, alike: may be normal on some radial designs",
				askThree,
			},
		},
		{
			"center of four grooves against the mean of the shoulders",
			in(flat(s(1.4), s(3), s(3), s(0.6))),
			[]string{
				notRead,
				"center, watch, measured by 1 reading a groove: three would make it sure: (outer " +
					"shoulder minus center wear -1.27 mm) (inner shoulder minus center wear -1.90 mm) the " +
					"center is worn more than the shoulders",
				askThree,
			},
		},
		{
			"center less than 2/32 in more worn: none",
			in(flat(s(1.4), s(3), s(3), s(0.8))),
			[]string{
				notRead,
				askThree,
			},
		},
		{
			"the first inner groove of four 2/32 in lower than all: a rib",
			in(flat(s(1), s(3), s(1), s(1))),
			[]string{
				notRead,
				"rib_depression, watch, measured by 1 reading a groove: three would make it sure: " +
					"(groove 2.00 from outboard) (more worn than its neighbors by 1.59 mm) groove 2 is worn " +
					"more than its neighbors; a straight edge shows a low rib, a gauge does not",
				askThree,
			},
		},
		{
			"the last inner groove of five 3/32 in lower than the next",
			in(flat(s(1), s(1), s(1.5), s(4.5), s(0.5))),
			[]string{
				notRead,
				"rib_depression, moderate, measured by 1 reading a groove: three would make it sure: " +
					"(groove 4.00 from outboard) (more worn than its neighbors by 2.38 mm) groove 4 is worn " +
					"more than its neighbors; a straight edge shows a low rib, a gauge does not",
				askThree,
			},
		},
		{
			"three grooves have no single rib",
			in(flat(s(1), s(3), s(1))),
			[]string{
				notRead,
				"center, watch, measured by 1 reading a groove: three would make it sure: (outer " +
					"shoulder minus center wear -1.59 mm) (inner shoulder minus center wear -1.59 mm) the " +
					"center is worn more than the shoulders",
				askThree,
			},
		},
		{
			"depths compared where no new depth is known",
			in(unknownNew(flat(s(4), s(3), s(2)))),
			[]string{
				notRead,
				"shoulder_one_side, watch, suspected by new depths not known: depths compared, as if all " +
					"grooves were molded alike: (outer minus inner wear 1.59 mm) the outer shoulder is worn " +
					"more",
				askThree,
				askNew,
			},
		},
		{
			"three readings make it sure",
			in(tread(even(3, 6), even(3, 6+s(1)), even(3, 6+s(2)))),
			[]string{
				"not_proven, groove 1, 0 dips, could be []",
				"shoulder_one_side, watch, measured by mean of 3 readings a groove: (outer minus inner " +
					"wear 1.59 mm) the outer shoulder is worn more",
			},
		},
		{
			"shoulders whose difference varies by 3/32 in",
			in(tread(even(3, 6), even(3, 8), []float64{8 + s(1.5), 8, 8 - s(1.5)})),
			[]string{
				"uneven, groove 3, 0 dips, could be [1 2 4 5 7 8 10 11]",
				"uneven_around, moderate, suspected by 3 stations, read once: (groove 3.00 from " +
					"outboard) (spread 2.38 mm) uneven around: 1, 2, 4, 5, 7, 8, 10 or 11 dips fit these " +
					"stations alike",
				"shoulder_one_side, watch, suspected by differs from station to station: (outer minus " +
					"inner wear 2.00 mm) the outer shoulder is worn more",
				askCount,
				"ask remeasure, groove 3, stations [1 3]: groove 3 again at stations 1 and 3; keep both " +
					"readings",
				"ask eight_stations, groove 3, stations []: 8 stations on the inner groove",
				"ask lowest_and_crest, groove 3, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"shoulders whose difference varies by 2.8/32 in",
			in(tread(even(3, 6), even(3, 8), []float64{8 + s(1.4), 8, 8 - s(1.4)})),
			[]string{
				"uneven, groove 3, 0 dips, could be [1 2 4 5 7 8 10 11]",
				"uneven_around, watch, suspected by 3 stations, read once: (groove 3.00 from outboard) " +
					"(spread 2.22 mm) uneven around: 1, 2, 4, 5, 7, 8, 10 or 11 dips fit these stations alike",
				"shoulder_one_side, watch, measured by mean of 3 readings a groove: (outer minus inner " +
					"wear 2.00 mm) the outer shoulder is worn more",
				askCount,
				"ask remeasure, groove 3, stations [1 3]: groove 3 again at stations 1 and 3; keep both " +
					"readings",
				"ask eight_stations, groove 3, stations []: 8 stations on the inner groove",
				"ask lowest_and_crest, groove 3, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"both shoulders vary alike: their difference does not",
			in(tread([]float64{6 + s(1.5), 6, 6 - s(1.5)}, even(3, 8), []float64{8 + s(1.5), 8, 8 - s(1.5)})),
			[]string{
				"uneven, groove 1, 0 dips, could be [1 2 3 4 5 6 7 8 9 10 11 12]",
				"uneven_around, moderate, suspected by 3 stations, read once: (groove 1.00 from " +
					"outboard) (spread 2.38 mm) uneven around: 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 or 12 dips " +
					"fit these stations alike",
				"shoulder_one_side, watch, measured by mean of 3 readings a groove: (outer minus inner " +
					"wear 2.00 mm) the outer shoulder is worn more",
				askCount,
				"ask remeasure, groove 1, stations [1 3]: groove 1 again at stations 1 and 3; keep both " +
					"readings",
				"ask eight_stations, groove 1, stations []: 8 stations on the outer groove",
				"ask lowest_and_crest, groove 1, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"only places where all grooves were read are compared",
			in(tread([]float64{6, hole, 6}, []float64{8, 2, 8}, []float64{8, 8, 8})),
			[]string{
				"uneven, groove 2, 0 dips, could be [1 2 4 5 7 8 10 11]",
				"uneven_around, severe, suspected by 3 stations, read once: (groove 2.00 from outboard) " +
					"(spread 6.00 mm) uneven around: 1, 2, 4, 5, 7, 8, 10 or 11 dips fit these stations alike",
				"shoulder_one_side, watch, measured by 2 readings a groove: three would make it sure: " +
					"(outer minus inner wear 2.00 mm) the outer shoulder is worn more",
				askCount,
				"ask remeasure, groove 2, stations [3 2]: groove 2 again at stations 3 and 2; keep both " +
					"readings",
				"ask eight_stations, groove 2, stations []: 8 stations on groove 2",
				"ask lowest_and_crest, groove 2, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"no such place: each groove by itself",
			in(tread([]float64{6, hole, hole}, []float64{hole, 8, hole}, []float64{hole, hole, 9})),
			[]string{
				notRead,
				"shoulder_one_side, moderate, measured by 1 reading a groove: three would make it sure: " +
					"(outer minus inner wear 3.00 mm) the outer shoulder is worn more",
				askThree,
			},
		},
		{
			"a groove that was not read is left out",
			in(tread([]float64{6}, []float64{hole}, []float64{8})),
			[]string{
				notRead,
				"shoulder_one_side, watch, measured by 1 reading a groove: three would make it sure: " +
					"(outer minus inner wear 2.00 mm) the outer shoulder is worn more",
				askThree,
			},
		},
		{
			"one patch, confirmed",
			conf(tread(even(8, 6), low(8, s(3), 3), even(8, 6))),
			[]string{
				"uneven, groove 2, 1 dips, could be []",
				"flat_spot, moderate, confirmed by 8 stations, lowest and highest read twice: (groove " +
					"2.00 from outboard) (spread 2.38 mm) one dip, at 135 degrees from the valve",
			},
		},
		{
			"one patch read once: again at the lowest and the highest",
			in(tread(even(8, 6), low(8, s(3), 3), even(8, 6))),
			[]string{
				"uneven, groove 2, 1 dips, could be []",
				"flat_spot, moderate, measured by 8 stations, read once: (groove 2.00 from outboard) " +
					"(spread 2.38 mm) one dip, at 135 degrees from the valve",
				"ask remeasure, groove 2, stations [8 4]: groove 2 again at stations 8 and 4; keep both " +
					"readings",
			},
		},
		{
			"2/32 in once on 24 readings may be the gauge",
			in(tread(even(8, 6), low(8, s(2), 3), even(8, 6))),
			[]string{
				"not_proven, groove 2, 0 dips, could be []",
				"ask remeasure, groove 2, stations [8 4]: groove 2 again at stations 8 and 4; keep both " +
					"readings",
			},
		},
		{
			"two patches, 3 and 5 stations apart",
			conf(tread(low(8, s(3), 0, 3), even(8, 6))),
			[]string{
				"uneven, groove 1, 2 dips, could be []",
				"flat_spot_multiple, moderate, confirmed by 8 stations, lowest and highest read twice: " +
					"(groove 1.00 from outboard) (spread 2.38 mm) (patches 2.00 around the tire) 2 flat " +
					"patches around the tire, unequally spaced; the rest is worn alike",
			},
		},
		{
			"two patches, one two stations wide of 12",
			conf(tread(low(12, s(3), 0, 1, 5), even(12, 6))),
			[]string{
				"uneven, groove 1, 2 dips, could be []",
				"flat_spot_multiple, moderate, confirmed by 12 stations, lowest and highest read twice: " +
					"(groove 1.00 from outboard) (spread 2.38 mm) (patches 2.00 around the tire) 2 flat " +
					"patches around the tire, unequally spaced; the rest is worn alike",
			},
		},
		{
			"4 dips on 16 stations look like 12",
			conf(grooves3(16, cups(4, s(3), 4, 0))),
			[]string{
				"uneven, groove 1, 0 dips, could be [4 12]",
				"cupping, moderate, suspected by 16 stations, lowest and highest read twice: (groove " +
					"1.00 from outboard) (spread 2.38 mm) 4 or 12 dips around the tire",
				askCount,
			},
		},
		{
			"one a turn on 8 stations looks like 7 and 9",
			conf(grooves3(8, cups(4, s(3), 1, math.Pi/2))),
			[]string{
				"uneven, groove 1, 0 dips, could be [1 7 9]",
				"once_per_turn, moderate, suspected by 8 stations, lowest and highest read twice: " +
					"(groove 1.00 from outboard) (spread 2.38 mm) (first harmonic 1.19 mm zero to peak) " +
					"(worn most at 90.00 degrees from the valve) one side of the tire may be worn more, most " +
					"at 90 degrees from the valve: 1, 7 or 9 dips look alike at these stations",
				askCount,
			},
		},
		{
			"one a turn, smooth: 1.19 mm of 46 g·m",
			conf(smooth(grooves3(8, cups(4, s(3), 1, math.Pi/2)))),
			[]string{
				"uneven, groove 1, 0 dips, could be [1]",
				"once_per_turn, moderate, confirmed by 8 stations, lowest and highest read twice: " +
					"(groove 1.00 from outboard) (spread 2.38 mm) (first harmonic 1.19 mm zero to peak) " +
					"(worn most at 90.00 degrees from the valve) (unbalance by wear 52085.48 g·mm) (the same " +
					"at the rim 256.58 g) one side of the tire is worn more, most at 90 degrees from the " +
					"valve; this alone weighs about 257 g at the rim",
			},
		},
		{
			"opposite on the shoulders: a couple",
			conf(smooth(tread(quarter, even(8, 6), threeQuarters))),
			[]string{
				"uneven, groove 1, 0 dips, could be [1]",
				"once_per_turn_couple, moderate, confirmed by 8 stations, lowest and highest read twice: " +
					"(groove 1.00 from outboard) (spread 2.38 mm) (first harmonic at the shoulders 1.19 mm " +
					"zero to peak) (outer shoulder worn most at 90.00 degrees from the valve) the outer " +
					"shoulder is worn most at 90 and the inner one at 270 degrees from the valve: a couple, " +
					"which one plane cannot correct; balance in two planes",
			},
		},
		{
			"the same, cups not denied",
			conf(tread(quarter, even(8, 6), threeQuarters)),
			[]string{
				"uneven, groove 1, 0 dips, could be [1 7 9]",
				"once_per_turn_couple, moderate, suspected by 8 stations, lowest and highest read twice: " +
					"(groove 1.00 from outboard) (spread 2.38 mm) (first harmonic at the shoulders 1.19 mm " +
					"zero to peak) (outer shoulder worn most at 90.00 degrees from the valve) the outer " +
					"shoulder is worn most at 90 and the inner one at 270 degrees from the valve: a couple, " +
					"which one plane cannot correct; balance in two planes; 1, 7 or 9 dips look alike at " +
					"these stations",
				askCount,
			},
		},
		{
			"one a turn on 5 stations cannot be told from many",
			conf(grooves3(5, cups(4, s(3), 1, 0))),
			[]string{
				"uneven, groove 1, 0 dips, could be [1 4 6 9 11]",
				"uneven_around, mild, suspected by 5 stations, lowest and highest read twice: (groove " +
					"1.00 from outboard) (spread 2.15 mm) uneven around: 1, 4, 6, 9 or 11 dips fit these " +
					"stations alike",
				askCount,
				"ask eight_stations, groove 1, stations []: 8 stations on the outer groove",
				"ask lowest_and_crest, groove 1, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"one low of three stations, inner groove",
			in(tread(even(3, 6), even(3, 6), []float64{6, 6 - s(3), 6})),
			[]string{
				"uneven, groove 3, 0 dips, could be [1 2 4 5 7 8 10 11]",
				"uneven_around, moderate, suspected by 3 stations, read once: (groove 3.00 from " +
					"outboard) (spread 2.38 mm) uneven around: 1, 2, 4, 5, 7, 8, 10 or 11 dips fit these " +
					"stations alike",
				askCount,
				"ask remeasure, groove 3, stations [3 2]: groove 3 again at stations 3 and 2; keep both " +
					"readings",
				"ask eight_stations, groove 3, stations []: 8 stations on the inner groove",
				"ask lowest_and_crest, groove 3, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"one low of three stations, middle groove",
			in(tread(even(3, 6), []float64{6, 6 - s(3), 6}, even(3, 6))),
			[]string{
				"uneven, groove 2, 0 dips, could be [1 2 3 4 5 6 7 8 9 10 11 12]",
				"uneven_around, moderate, suspected by 3 stations, read once: (groove 2.00 from " +
					"outboard) (spread 2.38 mm) uneven around: 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 or 12 dips " +
					"fit these stations alike",
				askCount,
				"ask remeasure, groove 2, stations [3 2]: groove 2 again at stations 3 and 2; keep both " +
					"readings",
				"ask eight_stations, groove 2, stations []: 8 stations on groove 2",
				"ask lowest_and_crest, groove 2, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"two low of six stations, outer groove",
			in(tread([]float64{6, 6 - s(3), 6 - s(3), 6, 6, 6}, even(6, 6), even(6, 6))),
			[]string{
				"uneven, groove 1, 0 dips, could be [1 5 7 11]",
				"once_per_turn, moderate, suspected by 6 stations, read once: (groove 1.00 from " +
					"outboard) (spread 2.38 mm) (first harmonic 0.46 mm zero to peak) (worn most at 90.00 " +
					"degrees from the valve) one side of the tire may be worn more, most at 90 degrees from " +
					"the valve: 1, 5, 7 or 11 dips look alike at these stations",
				askCount,
				"ask remeasure, groove 1, stations [6 3]: groove 1 again at stations 6 and 3; keep both " +
					"readings",
				"ask eight_stations, groove 1, stations []: 8 stations on the outer groove",
				"ask lowest_and_crest, groove 1, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"cups felt, not counted: 3, 5 or 11",
			in(found(grooves3(8, cups(4, s(3), 3, 0)), pattern.Observation{Code: "cupping"})),
			[]string{
				"uneven, groove 1, 0 dips, could be [3 5 11]",
				"cupping, moderate, suspected by found by hand and by gauge: (dips 0.00 around the tire) " +
					"(spread 2.38 mm) cups felt by hand, not counted",
				askCount,
			},
		},
		{
			"cups 650 mm apart on 1950 mm: 3",
			in(found(grooves3(3, cups(4, 0, 1, 0)), pattern.Observation{Code: "cupping", SpacingMM: 650})),
			[]string{
				"uneven, groove 1, 3 dips, could be []",
				"cupping, mild, felt by found by hand: (dips 3.00 around the tire) (spread 0.00 mm) 3 " +
					"cups counted by hand",
				"ask eight_stations, groove 1, stations []: 8 stations on the outer groove",
				"ask lowest_and_crest, groove 1, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"cups 1950 mm apart: one dip",
			in(found(flat(4, 4), pattern.Observation{Code: "cupping", SpacingMM: 1950})),
			[]string{
				"not_read, groove 0, 1 dips, could be []",
				"flat_spot, mild, felt by found by hand: (spread 0.00 mm) one dip found by hand",
				askThree,
			},
		},
		{
			"two flat spots by hand",
			in(found(flat(4, 4), pattern.Observation{Code: "flat_spot", Count: 2})),
			[]string{
				"not_read, groove 0, 2 dips, could be []",
				"flat_spot_multiple, mild, felt by found by hand: (patches 2.00 around the tire) (spread " +
					"0.00 mm) 2 flat spots counted by hand",
				askThree,
			},
		},
		{
			"one dip by hand that is a flat spot already",
			in(found(flat(4, 4), pattern.Observation{Code: "flat_spot", Count: 1},
				pattern.Observation{Code: "cupping", Count: 1})),
			[]string{
				"not_read, groove 0, 1 dips, could be []",
				"flat_spot, mild, felt by found by hand: (spread 0.00 mm) one flat spot",
				askThree,
			},
		},
		{
			"2/32 in once at four stations: watch",
			in(tread([]float64{6, 6 - s(2), 6, 6}, even(4, 6))),
			[]string{
				"uneven, groove 1, 0 dips, could be [1 2 3 4 5 6 7 8 9 10 11 12]",
				"uneven_around, watch, suspected by 4 stations, read once: (groove 1.00 from outboard) " +
					"(spread 1.59 mm) uneven around: 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 or 12 dips fit these " +
					"stations alike",
				askCount,
				"ask remeasure, groove 1, stations [4 2]: groove 1 again at stations 4 and 2; keep both " +
					"readings",
				"ask eight_stations, groove 1, stations []: 8 stations on the outer groove",
				"ask lowest_and_crest, groove 1, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"three dips and a smooth tread do not agree",
			in(smooth(grooves3(8, cups(4, s(3), 3, 0)))),
			[]string{
				"uneven, groove 1, 0 dips, could be [3 5 11]",
				"cupping, moderate, suspected by 8 stations, read once: (groove 1.00 from outboard) " +
					"(spread 2.38 mm) 3, 5 or 11 dips around the tire",
				"ask remeasure, groove 1, stations [5 1]: groove 1 again at stations 5 and 1; keep both " +
					"readings",
				askCount,
			},
		},
		{
			"the last visit confirms",
			pattern.Input{Tread: tread(even(8, 6), low(8, s(2), 3)),
				Previous: &pattern.Visit{Tread: tread(even(8, 7), low(8, s(2), 3))}},
			[]string{
				"uneven, groove 2, 1 dips, could be []",
				"flat_spot, mild, confirmed by 8 stations, lowest and highest read twice: (groove 2.00 " +
					"from outboard) (spread 1.59 mm) one dip, at 135 degrees from the valve",
				"last_visit, alike true: (worn since 0.50 mm) (spread now minus then 0.00 mm) spread " +
					"around as at the last visit",
			},
		},
		{
			"the last visit, less than 2/32 in: not confirmed",
			pattern.Input{Tread: tread(even(8, 6), low(8, s(2), 3)),
				Previous: &pattern.Visit{Tread: tread(even(8, 7), low(8, s(1.9), 3))}},
			[]string{
				"not_proven, groove 2, 0 dips, could be []",
				"last_visit, alike true: (worn since 0.50 mm) (spread now minus then 0.08 mm) spread " +
					"around as at the last visit",
				"ask remeasure, groove 2, stations [8 4]: groove 2 again at stations 8 and 4; keep both " +
					"readings",
			},
		},
		{
			"1 mm shallower at all places and 2/32 in more uneven since",
			pattern.Input{Tread: tread(even(3, 5), []float64{5, 5 - s(2), 5}),
				Previous: &pattern.Visit{Tread: tread(even(3, 6), even(3, 6))}},
			[]string{
				"uneven, groove 2, 0 dips, could be [1 2 4 5 7 8 10 11]",
				"uneven_around, watch, suspected by 3 stations, read once: (groove 2.00 from outboard) " +
					"(spread 1.59 mm) uneven around: 1, 2, 4, 5, 7, 8, 10 or 11 dips fit these stations alike",
				"last_visit, alike false: (worn since 1.26 mm) (spread now minus then 1.59 mm) more " +
					"uneven around than at the last visit",
				askCount,
				"ask remeasure, groove 2, stations [3 2]: groove 2 again at stations 3 and 2; keep both " +
					"readings",
				"ask eight_stations, groove 2, stations []: 8 stations on the inner groove",
				"ask lowest_and_crest, groove 2, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"as uneven, another gauge",
			pattern.Input{Tread: tread(even(3, 5), []float64{5, 5 - s(2), 5}),
				Previous: &pattern.Visit{Tread: tread(even(3, 6), even(3, 6)), OtherGauge: true}},
			[]string{
				"uneven, groove 2, 0 dips, could be [1 2 4 5 7 8 10 11]",
				"uneven_around, watch, suspected by 3 stations, read once: (groove 2.00 from outboard) " +
					"(spread 1.59 mm) uneven around: 1, 2, 4, 5, 7, 8, 10 or 11 dips fit these stations alike",
				"last_visit, alike true: (worn since 1.26 mm) (spread now minus then 1.59 mm) spread " +
					"around as at the last visit",
				askCount,
				"ask remeasure, groove 2, stations [3 2]: groove 2 again at stations 3 and 2; keep both " +
					"readings",
				"ask eight_stations, groove 2, stations []: 8 stations on the inner groove",
				"ask lowest_and_crest, groove 2, stations []: the lowest dip and the nearest crest, dips " +
					"counted by hand, their spacing in mm",
			},
		},
		{
			"one groove deeper by 2/32 in",
			pattern.Input{Tread: tread(even(3, 5), even(3, 6)),
				Previous: &pattern.Visit{Tread: tread(even(3, 6), even(3, 6-s(2)))}},
			[]string{
				"not_proven, groove 1, 0 dips, could be []",
				"last_visit, alike false: (worn since -0.29 mm) (spread now minus then 0.00 mm) (deeper " +
					"by 1.59 mm) deeper than at the last visit",
				"ask check_entry, groove 0, stations []: deeper by 1.6 mm than at the last visit: right " +
					"position, tire and unit?",
			},
		},
		{
			"deeper by 2/32 in and 0.9 mm, another gauge",
			pattern.Input{Tread: tread(even(3, 6)),
				Previous: &pattern.Visit{Tread: tread(even(3, 6-s(2)-0.9)), OtherGauge: true}},
			[]string{
				"not_proven, groove 1, 0 dips, could be []",
				"last_visit, alike true: (worn since -2.49 mm) (spread now minus then 0.00 mm) spread " +
					"around as at the last visit",
				askGrooves,
			},
		},
		{
			"deeper by 2/32 in and 1 mm, another gauge",
			pattern.Input{Tread: tread(even(3, 6)),
				Previous: &pattern.Visit{Tread: tread(even(3, 6-s(2)-1)), OtherGauge: true}},
			[]string{
				"not_proven, groove 1, 0 dips, could be []",
				"last_visit, alike false: (worn since -2.59 mm) (spread now minus then 0.00 mm) (deeper " +
					"by 2.59 mm) deeper than at the last visit",
				askGrooves,
				"ask check_entry, groove 0, stations []: deeper by 2.6 mm than at the last visit: right " +
					"position, tire and unit?",
			},
		},
		{
			"another number of grooves: means compared",
			pattern.Input{Tread: tread(even(3, 6), even(3, 6)),
				Previous: &pattern.Visit{Tread: tread(even(3, 6-s(2)))}},
			[]string{
				"not_proven, groove 1, 0 dips, could be []",
				"last_visit, alike false: (worn since -1.59 mm) (spread now minus then 0.00 mm) (deeper " +
					"by 1.59 mm) deeper than at the last visit",
				"ask check_entry, groove 0, stations []: deeper by 1.6 mm than at the last visit: right " +
					"position, tire and unit?",
			},
		},
		{
			"duals 4/32 in apart",
			pattern.Input{Tread: flat(s(6), s(6)), DualMate: flatMate(s(2), s(2))},
			[]string{
				notRead,
				"dual, alike true: (mean depth minus the mate's -3.17 mm) (greatest spread around 0.00 " +
					"mm) (the mate's 0.00 mm) within the limit for duals, 3.18 mm",
				askThree,
			},
		},
		{
			"duals 4.1/32 in apart",
			pattern.Input{Tread: flat(s(6.1), s(6.1)), DualMate: flatMate(s(2), s(2))},
			[]string{
				notRead,
				"dual, alike false: (mean depth minus the mate's -3.25 mm) (greatest spread around 0.00 " +
					"mm) (the mate's 0.00 mm) 3.3 mm apart from its dual: more than 3.18 mm",
				askThree,
			},
		},
		{
			"ends of the axle less than 2/32 in apart",
			pattern.Input{Tread: flat(s(3), s(4)), AxleMate: flatMate(s(2), s(1.1))},
			[]string{
				notRead,
				"axle, alike true: (mean depth minus the mate's -1.55 mm) (greatest spread around 0.00 " +
					"mm) (the mate's 0.00 mm) worn like the other end of the axle",
				askThree,
			},
		},
		{
			"ends of the axle 2/32 in apart",
			pattern.Input{Tread: flat(s(3), s(4)), AxleMate: flatMate(s(2), s(1))},
			[]string{
				notRead,
				"axle, alike false: (mean depth minus the mate's -1.59 mm) (greatest spread around 0.00 " +
					"mm) (the mate's 0.00 mm) worn otherwise than the other end of the axle",
				askThree,
			},
		},
		{
			"20 mm is no car tread more than 20",
			in(pattern.Tread{DepthsMM: grid([]float64{20}, []float64{20}), NewMM: []float64{22}}),
			[]string{
				notRead,
				askThree,
			},
		},
		{
			"20.5 mm on a car: 32nds",
			in(pattern.Tread{DepthsMM: grid([]float64{20}, []float64{20.5}), NewMM: []float64{22}}),
			[]string{
				notRead,
				askThree,
				"ask check_entry, groove 0, stations []: 20.5 mm is deep for a car: were 32nds read?",
			},
		},
		{
			"20.5 mm on a truck",
			pattern.Input{Tread: pattern.Tread{DepthsMM: grid([]float64{20}, []float64{20.5}), NewMM: []float64{22}},
				Wheel: pattern.Wheel{Class: vibration.Heavy}},
			[]string{
				notRead,
				askThree,
			},
		},
		{
			"damage",
			in(found(flat(4, 4), pattern.Observation{Code: "cut_to_cord"},
				pattern.Observation{Code: "rib_depression", SizeMM: s(3)},
				pattern.Observation{Code: "shoulder_step", SizeMM: 2})),
			[]string{
				notRead,
				"separation_suspect, severe, felt by found by hand or eye: cut to cord: not wear, off " +
					"the road now",
				"rib_depression, moderate, felt by found by hand or eye: (step 2.38 mm) an inner rib " +
					"lower all round",
				"shoulder_step, watch, felt by found by hand or eye: (step 2.00 mm) step on the outer " +
					"part of the shoulder rib: slow wear, not harmful",
				askThree,
			},
		},
	} {
		got, err := pattern.Read(c.in)
		if want := strings.Join(c.want, "\n"); err != nil || told(got) != want {
			t.Errorf("%s, %v:\n%s\nwant\n%s", c.name, err, told(got), want)
		}
	}
}
