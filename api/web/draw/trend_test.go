package draw

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
	"rimledger/models/wear"
)

var trendStart = time.Date(2026, 1, 1, 8, 0, 0, 0, time.UTC)

func tracked(t *testing.T, days int, depth string, ranKM float64) fleet.Tracked {
	t.Helper()
	return fleet.Tracked{
		Measured: models.Measured{
			Point:   models.Point{At: trendStart.AddDate(0, 0, days)},
			Reading: models.Reading{Position: "1L", Depths: grid(t, depth)},
		},
		RanKM:    ranKM,
		RanKnown: true,
	}
}

func spanOf(median, lo80, hi80, lo90, hi90 float64) wear.Span {
	b := func(v float64) wear.Bound { return wear.Bound{Value: v} }
	return wear.Span{Median: b(median), Lo80: b(lo80), Hi80: b(hi80), Lo90: b(lo90), Hi90: b(hi90)}
}

func TestTrendNeedsTwoReadings(t *testing.T) {
	t.Parallel()
	if c := NewTrend(fleet.Outlook{Track: []fleet.Tracked{tracked(t, 0, "16", 0)}}, units.Style{Set: units.US}, trendStart); c != nil {
		t.Error("one reading makes a trend")
	}
}

// By hand: 16/32 in is 12.7 mm and 12/32 in 9.525 mm, 8/32 in 6.35 mm, since an inch is 25.4 mm;
// 16,093.44 km are 10,000 mi, since a mile is 1.609344 km (both exact by the
// international yard agreement of 1959).
func TestTrendUnits(t *testing.T) {
	t.Parallel()
	doubtful := tracked(t, 50, "14", 8046.72)

	doubtful.Doubts = []string{"far from what was expected"}
	o := fleet.Outlook{
		Track: []fleet.Tracked{tracked(t, 0, "16", 0), doubtful, tracked(t, 100, "12", 16093.44)},
		Legal: &fleet.Ahead{Limit: 8 * units.ThirtySecond},
		Turns: []fleet.Turn{{At: trendStart.AddDate(0, 0, 60), Position: "2LO", RanKM: 9656.064, RanKnown: true}},
	}

	for _, tt := range []struct {
		set    units.Set
		depths []float64
		ran    []float64
		turn   float64
		legal  trendLimit
	}{
		{units.US, []float64{16, 14, 12}, []float64{0, 5000, 10000}, 6000, trendLimit{"Legal minimum 8/32 in", true, 8}},
		{units.Metric, []float64{12.7, 11.11, 9.53}, []float64{0, 8047, 16093}, 9656, trendLimit{"Legal minimum 6.35 mm", true, 6.35}},
	} {
		c := NewTrend(o, units.Style{Set: tt.set}, trendStart.AddDate(0, 0, 100))
		if c == nil || c.Data.Distance == nil || !c.Doubtful || !c.Moved || c.Forecast {
			t.Fatalf("three readings make %+v", c)
		}

		for i, d := range c.Data.Distance.Read {
			if want := [2]float64{tt.ran[i], tt.depths[i]}; d.At != want || d.Doubtful != (i == 1) {
				t.Errorf("reading %d is at %v (doubtful: %v), want %v", i, d.At, d.Doubtful, want)
			}
		}

		if got := c.Data.Distance.Turns; len(got) != 1 || got[0] != (trendTurn{tt.turn, "to 2LO"}) {
			t.Errorf("moves %+v, want one at %g", got, tt.turn)
		}
		if d := cmp.Diff([]trendLimit{tt.legal}, c.Data.Limits); d != "" {
			t.Error(d)
		}
		if len(c.Rows) != 4 || c.Rows[2].Text != "to 2LO" || !strings.Contains(c.Rows[3].Read, "12/32 in") {
			t.Errorf("the table reads %+v", c.Rows)
		}
	}
}

// A tire at 8 mm goes down to 4 mm in two steps, 6 mm near day 100 and 4 mm near
// day 200, each early by a half or late by as much. By hand, on the straight lines
// between: on day 100 the early way is at the limit, 4 mm; the late one, 8 mm to
// 6 mm over 150 days, is two thirds of the way, 6.67 mm. The curve ends on the
// late end of the 80 % interval, day 300.
func TestTrendBands(t *testing.T) {
	t.Parallel()
	now := trendStart.AddDate(0, 0, 100)

	way := &fleet.Ahead{
		Limit: 4 * units.Millimetre,
		Forecast: wear.Forecast{
			DepthMM:  8,
			Days:     spanOf(200, 100, 300, 80, 400),
			Distance: spanOf(20000, 10000, 30000, 8000, 40000),
		},
		Way: []fleet.Step{
			{DepthMM: 6, Days: spanOf(100, 50, 150, 40, 200), Distance: spanOf(10000, 5000, 15000, 4000, 20000)},
			{DepthMM: 4, Days: spanOf(200, 100, 300, 80, 400), Distance: spanOf(20000, 10000, 30000, 8000, 40000)}},
	}

	o := fleet.Outlook{
		Track:    []fleet.Tracked{tracked(t, 0, "16", 0), tracked(t, 100, "10", 10000)},
		Pull:     way,
		NowKM:    10000,
		NowKnown: true,
	}

	c := NewTrend(o, units.Style{Set: units.Metric}, now)
	if c == nil || c.Data.Distance == nil {
		t.Fatalf("drawn as %+v", c)
	}

	for name, axis := range map[string]struct {
		trendAxis
		x func(days float64) float64
	}{
		"date":     {c.Data.Date, func(days float64) float64 { return float64(now.UnixMilli()) + days*86_400_000 }},
		"distance": {*c.Data.Distance, func(days float64) float64 { return 10000 + 100*days }},
	} {
		if axis.End != axis.x(300) || axis.Now == nil || *axis.Now != axis.x(0) {
			t.Errorf("%s ends at %v, today at %v; want %v and %v", name, axis.End, axis.Now, axis.x(300), axis.x(0))
		}
		if d := cmp.Diff([][2]float64{{axis.x(0), 8}, {axis.x(100), 6}, {axis.x(200), 4}}, axis.Median); d != "" {
			t.Errorf("%s, median: %s", name, d)
		}
		if d := cmp.Diff([][3]float64{{axis.x(0), 8, 8}, {axis.x(50), 6, 7.33}, {axis.x(100), 4, 6.67}, {axis.x(150), 4, 6}, {axis.x(300), 4, 4}}, axis.Band80); d != "" {
			t.Errorf("%s, 80 %%: %s", name, d)
		}

		// 400 days lie beyond the edge: on day 300 the late way is half of the way from 6 to 4 mm.
		if last := axis.Band90[len(axis.Band90)-1]; last != [3]float64{axis.x(300), 4, 5} {
			t.Errorf("%s, 90 %% ends with %v", name, last)
		}
	}

	if len(c.Ahead) != 2 || c.Ahead[1].Depth != "4.0 mm" ||
		c.Ahead[1].Day != now.AddDate(0, 0, 200).Format(time.DateOnly) ||
		c.Ahead[1].Ran80 != "10,000 km to 30,000 km" {
		t.Errorf("the table reads %+v", c.Ahead)
	}
}

// A tire that ran an unknown distance has no axis of distance, and keeps that of dates.
func TestTrendWithoutDistance(t *testing.T) {
	t.Parallel()
	last := tracked(t, 100, "12", 0)

	last.RanKnown = false
	c := NewTrend(
		fleet.Outlook{Track: []fleet.Tracked{tracked(t, 0, "16", 0), last}},
		units.Style{Set: units.US},
		trendStart,
	)
	if c == nil || c.Data.Distance != nil || len(c.Data.Date.Read) != 2 {
		t.Fatalf("drawn as %+v", c)
	}

	if slices.ContainsFunc(c.Rows[1:], func(r trendRow) bool { return r.Ran != "" }) {
		t.Errorf("the table claims a distance: %+v", c.Rows)
	}
}

// TestTrendReachesTheLastLimit: however short the past, the curve goes on to where its
// median meets the limit; a long past does not cut off the late end of the interval.
func TestTrendReachesTheLastLimit(t *testing.T) {
	t.Parallel()
	a := &fleet.Ahead{Forecast: wear.Forecast{Days: spanOf(900, 700, 1200, 600, 1500)}}
	for past, least := range map[int]float64{30: 900, 400: 1200} {
		now := trendStart.AddDate(0, 0, past)
		if got := horizon(a, trendStart, now); got < least {
			t.Errorf("after %d days of readings the curve ends in %g days, the limit is met in 900", past, got)
		}
	}
}
