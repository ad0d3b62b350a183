package legal_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models/legal"
	"rimledger/models/units"
)

// even is a grid with one depth everywhere.
func even(d units.Length, grooves, stations int) legal.Grid {
	g := make(legal.Grid, grooves)
	for i := range g {
		for range stations {
			g[i] = append(g[i], &d)
		}
	}
	return g
}

// TestEveryLimit sits on both sides of every row: at the limit passes, one
// nanometre below fails.
func TestEveryLimit(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, r := range legal.All() {
		if seen[r.ID] {
			t.Errorf("two rules are called %s", r.ID)
		}
		seen[r.ID] = true
		if got := r.Check(even(r.Min, 3, 4)); got != legal.Passes {
			t.Errorf("%s: at %s it %s", r.ID, r.MinText, got)
		}
		if got := r.Check(even(r.Min-1, 3, 4)); got != legal.Fails {
			t.Errorf("%s: one nanometre below %s it %s", r.ID, r.MinText, got)
		}
		if got := r.Check(even(0, 0, 0)); got != legal.NotRead {
			t.Errorf("%s: an empty grid %s", r.ID, got)
		}
		if r.Citation == "" || r.Text == "" || r.Read != "2026-11" || r.On() && r.Source == "" {
			t.Errorf("%s lacks citation, text, source or date read", r.ID)
		}
		if r.Consequence != legal.Violation && r.Consequence != legal.OutOfService && r.Consequence != legal.Advisory {
			t.Errorf("%s has consequence %q", r.ID, r.Consequence)
		}
		if s := r.Explain(); !strings.Contains(s, r.MinText) || !strings.Contains(s, r.Citation) || !strings.Contains(s, legal.Notice) || !strings.Contains(s, "2026-11") {
			t.Errorf("%s explains itself as %q", r.ID, s)
		}
	}
	if n := len(seen); n < 60 {
		t.Errorf("only %d rules", n)
	}
}

func TestUnitsOfTheLaw(t *testing.T) {
	t.Parallel()
	// 2/32 in is 1.5875 mm: a tire at exactly that passes the rule of inches and
	// fails the one of 1.6 mm.
	two := 2 * units.ThirtySecond
	find := func(id string) legal.Rule {
		i := slices.IndexFunc(legal.All(), func(r legal.Rule) bool { return r.ID == id })
		return legal.All()[i]
	}
	if got := find("US-393.75(c)").Check(even(two, 3, 1)); got != legal.Passes {
		t.Errorf("2/32 in under the rule of 2/32 in: %s", got)
	}
	if got := find("DE-36").Check(even(two, 3, 1)); got != legal.Fails {
		t.Errorf("2/32 in under the rule of 1.6 mm: %s", got)
	}
}

func strictest(jurisdiction string, v legal.Vehicle, p legal.Place, on legal.MonthDay) units.Length {
	for _, r := range legal.For(jurisdiction, v, p, on) {
		if r.Consequence == legal.Violation && r.Sampling == legal.AnyPoint && !r.Situational {
			return r.Min
		}
	}
	return 0
}

// TestCases: the cases that follow from the texts read (49 CFR 393.75, KDV 4(4),
// reg. 27, the French tread article, Ontario's handbook).
func TestCases(t *testing.T) {
	t.Parallel()
	summer := legal.MonthDay{Month: 7, Day: 1}
	steer, drive := legal.Place{Steered: true}, legal.Place{Driven: true}
	mm := func(v float64) units.Length { return units.LengthFromMillimetres(v) }
	for _, tc := range []struct {
		name, jurisdiction string
		vehicle            legal.Vehicle
		place              legal.Place
		want               units.Length
	}{
		{"front of a tractor", "US", legal.Vehicle{Class: "tractor"}, steer, 4 * units.ThirtySecond},
		{"drive of a tractor", "US", legal.Vehicle{Class: "tractor"}, drive, 2 * units.ThirtySecond},
		{"front axle of a trailer", "US", legal.Vehicle{Class: "trailer"}, legal.Place{}, 2 * units.ThirtySecond},
		{"steered axle of a trailer", "US", legal.Vehicle{Class: "trailer"}, steer, 2 * units.ThirtySecond},
		{"front of a bus", "US", legal.Vehicle{Class: "bus"}, steer, 4 * units.ThirtySecond},
		{"a state adds to the country", "US-MD", legal.Vehicle{Class: "bus"}, drive, 2 * units.ThirtySecond},
		{"truck in Austria", "AT", legal.Vehicle{Class: "rigid_truck", MassKG: 18000}, drive, mm(2)},
		{"exactly 3.5 t in Austria", "AT", legal.Vehicle{Class: "light_truck", MassKG: 3500}, drive, mm(1.6)},
		{"just over 3.5 t in Austria", "AT", legal.Vehicle{Class: "light_truck", MassKG: 3501}, drive, mm(2)},
		{"van in Britain", "GB", legal.Vehicle{Class: "light_truck", MassKG: 3500}, drive, mm(1.6)},
		{"truck in Britain", "GB", legal.Vehicle{Class: "rigid_truck", MassKG: 18000}, steer, mm(1)},
		{"front of a truck in Ontario", "CA-ON", legal.Vehicle{Class: "rigid_truck", MassKG: 12000}, steer, mm(3)},
		{"drive of a truck in Ontario", "CA-ON", legal.Vehicle{Class: "rigid_truck", MassKG: 12000}, drive, mm(1.5)},
		{"Mexico is switched off", "MX", legal.Vehicle{Class: "tractor"}, steer, 0},
	} {
		if got := strictest(tc.jurisdiction, tc.vehicle, tc.place, summer); got != tc.want {
			t.Errorf("%s: %s, want %s", tc.name, units.FormatLength(got, units.MM), units.FormatLength(tc.want, units.MM))
		}
	}
}

func TestSeason(t *testing.T) {
	t.Parallel()
	truck := legal.Vehicle{Class: "tractor"}
	for day, want := range map[legal.MonthDay]float64{{10, 31}: 1.6, {11, 1}: 5, {1, 10}: 5, {4, 15}: 5, {4, 16}: 1.6} {
		if got := strictest("NO", truck, legal.Place{Driven: true}, day); got != units.LengthFromMillimetres(want) {
			t.Errorf("Norway on %v: %s, want %v mm", day, units.FormatLength(got, units.MM), want)
		}
	}
}

// TestSampling: what the texts ask to be read, and what too few readings say.
func TestSampling(t *testing.T) {
	t.Parallel()
	a, b := units.Millimetre/2, 5*units.Millimetre
	for _, tc := range []struct {
		name string
		rule string
		grid legal.Grid
		want legal.Outcome
	}{
		{"one of four points below passes in France", "FR-heavy", legal.Grid{{&a, &b, &b, &b}}, legal.Passes},
		{"two of four points below fail in France", "FR-heavy", legal.Grid{{&a, &b, &a, &b}}, legal.Fails},
		{"one station cannot tell in France", "FR-heavy", legal.Grid{{&a}}, legal.BelowNumber},
		{"one groove of two below passes in Virginia", "US-VA-car", legal.Grid{{&a, &a, &a}, {&b, &b, &b}}, legal.Passes},
		{"two adjacent at three places fail in Virginia", "US-VA-car", legal.Grid{{&a, &a, &a}, {&a, &a, &a}}, legal.Fails},
		{"two adjacent at one place cannot tell in Virginia", "US-VA-car", legal.Grid{{&a}, {&a}}, legal.BelowNumber},
		{"two grooves that are not adjacent pass in Bettendorf", "US-IA-Bettendorf", legal.Grid{{&a}, {&b}, {&a}}, legal.Passes},
		{"holes are not read as worn", "US-VA-car", legal.Grid{{&a, nil, nil}, {nil, &a, nil}}, legal.BelowNumber},
	} {
		i := slices.IndexFunc(legal.All(), func(r legal.Rule) bool { return r.ID == tc.rule })
		if got := legal.All()[i].Check(tc.grid); got != tc.want {
			t.Errorf("%s: %s, want %s", tc.name, got, tc.want)
		}
	}
}

// TestMonotone: more rubber never makes a tire worse under any rule.
func TestMonotone(t *testing.T) {
	t.Parallel()
	rank := map[legal.Outcome]int{legal.Fails: 0, legal.BelowNumber: 1, legal.Passes: 2}
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.SampledFrom(legal.All()).Draw(t, "rule")
		g, more := legal.Grid{}, legal.Grid{}
		for range rapid.IntRange(1, 4).Draw(t, "grooves") {
			var x, y []*units.Length
			for range 4 {
				d := units.Length(rapid.Int64Range(0, int64(8*units.Millimetre)).Draw(t, "depth"))
				e := d + units.Length(rapid.Int64Range(0, int64(units.Millimetre)).Draw(t, "more"))
				x, y = append(x, &d), append(y, &e)
			}
			g, more = append(g, x), append(more, y)
		}
		if rank[r.Check(more)] < rank[r.Check(g)] {
			t.Fatalf("%s: %s with less, %s with more", r.ID, r.Check(g), r.Check(more))
		}
	})
}

func TestOther(t *testing.T) {
	t.Parallel()
	if got := legal.OtherFor("GB", legal.AgeYears, legal.Vehicle{Class: "bus", MassKG: 18000, Seats: 45}, legal.Place{Steered: true}); len(got) == 0 || got[0].Limit != 10 {
		t.Errorf("front tire of a coach in Britain: %+v, want 10 years", got)
	}
	if got := legal.OtherFor("GB", legal.AgeYears, legal.Vehicle{Class: "rigid_truck", MassKG: 18000}, legal.Place{Driven: true}); len(got) != 0 {
		t.Errorf("drive tire of a truck in Britain: %+v, want no limit of age", got)
	}
	if got := legal.OtherFor("FR", legal.AxleDifferenceMM, legal.Vehicle{Class: "car"}, legal.Place{}); len(got) != 1 || got[0].Limit != 5 {
		t.Errorf("axle in France: %+v, want 5 mm", got)
	}
}
