package pattern_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rimledger/models/pattern"
)

// raised is a groove of k stations at 6 mm, lower by mm at some stations and higher by more
// at one.
func raised(k int, mm float64, high int, more float64, at ...int) []float64 {
	row := low(k, mm, at...)
	row[high] += more
	return row
}

// A patch stands alone on at most one station in six, two thirty-seconds below the rest,
// which is worn alike to the error of the gauge: one step of 1/32 in, 1.0 mm of a finer
// one. Several are patches if their gaps differ by two stations or more. All chosen by us.
func TestBothSidesOfPatches(t *testing.T) {
	t.Parallel()
	s := step32

	for _, c := range []struct {
		name       string
		row        []float64
		resolution float64
		want       string // flat_spot, flat_spot_multiple, or "" for neither
		dips       int
	}{
		{"one of 8", low(8, s(3), 0), 0, pattern.FlatSpot, 1},
		{"the last of 8", low(8, s(3), 7), 0, pattern.FlatSpot, 1},
		{"two of 8 side by side", low(8, s(3), 3, 4), 0, "", 0},
		{"one of 7: too few stations", low(7, s(3), 3), 0, "", 0},
		{"two of 12 side by side", low(12, s(3), 5, 6), 0, pattern.FlatSpot, 1},
		{"two of 12 across the valve", low(12, s(3), 11, 0), 0, pattern.FlatSpot, 1},
		{"two of 11 side by side", low(11, s(3), 5, 6), 0, "", 0},
		{"three of 12 side by side", low(12, s(3), 5, 6, 7), 0, "", 0},
		{"three of 18 side by side", low(18, s(3), 5, 6, 7), 0, pattern.FlatSpot, 1},
		{"three of 18, the middle deepest", func() []float64 { r := low(18, s(3), 5, 6, 7); r[6]--; return r }(), 0,
			pattern.FlatSpot, 1},
		{"three of 18, the first deepest", func() []float64 { r := low(18, s(3), 5, 6, 7); r[5]--; return r }(), 0,
			pattern.FlatSpot, 1},
		{"four of 18 side by side", low(18, s(3), 5, 6, 7, 8), 0, "", 0},
		{"2/32 in deep", low(8, s(2), 3), 0, pattern.FlatSpot, 1},
		{"less than 2/32 in deep", low(8, s(1.9), 3), 0, "", 0},
		{"another station 1/32 in higher, coarse gauge", raised(8, s(3), 6, s(1), 3), 0, pattern.FlatSpot, 1},
		{"another station 1.1/32 in higher, coarse gauge", raised(8, s(3), 6, s(1.1), 3), 0, "", 0},
		{"another station 1.0 mm higher, fine gauge", raised(8, s(3), 6, 1.0, 3), 0.1, pattern.FlatSpot, 1},
		{"another station 1.05 mm higher, fine gauge", raised(8, s(3), 6, 1.05, 3), 0.1, "", 0},
		{"another station 0.9 mm higher, steps of 0.25 mm", raised(8, s(3), 6, 0.9, 3), 0.25, pattern.FlatSpot, 1},
		{"another station 0.9 mm higher, steps of 0.26 mm", raised(8, s(3), 6, 0.9, 3), 0.26, "", 0},
		{"the lowest is 2/32 in below most, 1 mm below one", raised(8, s(2), 6, -0.7, 3), 0.1, pattern.FlatSpot, 1},
		{"two of 8, gaps 3 and 5", low(8, s(3), 1, 4), 0, pattern.FlatSpots, 2},
		{"two of 8, gaps 4 and 4", low(8, s(3), 1, 5), 0, "", 0},
		{"two of 9, gaps 4 and 5", low(9, s(3), 0, 4), 0, "", 0},
		{"two of 9, gaps 3 and 6", low(9, s(3), 0, 3), 0, pattern.FlatSpots, 2},
		{"two of 7, gaps 2 and 5: too few stations", low(7, s(3), 0, 2), 0, "", 0},
		{"three of 12, gaps 2, 4 and 6", low(12, s(3), 1, 3, 7), 0, pattern.FlatSpots, 3},
		{"three of 16, gaps 5, 5 and 6", low(16, s(3), 0, 5, 10), 0, "", 0},
		{"across the valve and one more of 12", low(12, s(3), 11, 0, 4), 0, pattern.FlatSpots, 2},
		{"one three wide of 12", low(12, s(3), 0, 1, 2, 6), 0, "", 0},
		{"one three wide of 18", low(18, s(3), 0, 1, 2, 8), 0, pattern.FlatSpots, 2},
		{"patches, another station 1/32 in lower", raised(8, s(3), 6, -s(1), 1, 4), 0, pattern.FlatSpots, 2},
		{"patches, another station 1.1/32 in lower", raised(8, s(3), 6, -s(1.1), 1, 4), 0, "", 0},
		{"patches 2/32 in deep", low(8, s(2), 1, 4), 0, pattern.FlatSpots, 2},
		{"patches, a station not read", raised(8, s(3), 6, math.NaN(), 1, 4), 0, "", 0},
	} {
		got, err := pattern.Read(pattern.Input{Tread: tread(c.row), Confirmed: true, ResolutionMM: c.resolution})
		if err != nil {
			t.Fatal(c.name, err)
		}

		key := ""
		for _, p := range got.Patterns {
			if strings.HasPrefix(p.Key, "flat_spot") {
				key = p.Key
			}
		}
		if key != c.want || c.dips > 0 && got.Dips != c.dips {
			t.Errorf("%s: %q with %d dips, want %q with %d; %+v", c.name, key, got.Dips, c.want, c.dips, got.Patterns)
		}
	}
}

// Until the dips are counted or denied by hand, what to do now is to count them: a gauge
// cannot tell one a turn from many (sampling theorem).
func TestCountComesFirst(t *testing.T) {
	t.Parallel()

	partner := tread(even(8, 6))
	uncounted := grooves3(8, cups(3, 2.5, 9, 0))
	facts := good()
	facts.BalanceOverdue = true

	for _, c := range []struct {
		name  string
		tread pattern.Tread
		count bool
	}{
		{"not counted", uncounted, true},
		{"cups felt", found(uncounted, pattern.Observation{Code: "cupping"}), true},
		{"nine counted", found(uncounted, pattern.Observation{Code: "cupping", Count: 9}), false},
		{"smooth", found(uncounted, pattern.Observation{Code: "smooth"}), false},
	} {
		a, err := pattern.Causes(pattern.Input{Tread: c.tread, AxleMate: &partner, Facts: facts})
		if err != nil || a.Ranked[0].Verdict == pattern.Unlikely {
			t.Fatalf("%s: %+v, %v", c.name, a.Ranked[0], err)
		}

		counts := strings.HasPrefix(a.NextStep, "count the dips around the tire by hand")
		if counts != c.count || slices.ContainsFunc(a.Result.Wanted, func(q pattern.Request) bool {
			return q.Code == "count_dips"
		}) != c.count {
			t.Errorf("%s: %q, %+v", c.name, a.NextStep, a.Result.Wanted)
		}
	}
}
