package legal_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
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

// TestEveryLimit sits on both sides of every row: at the limit passes (where
// the text has equality fail: fails), one nanometre below fails, one above passes.
func TestEveryLimit(t *testing.T) {
	t.Parallel()

	seen := map[string]bool{}
	for _, r := range legal.All() {
		if seen[r.ID] {
			t.Errorf("two rules are called %s", r.ID)
		}
		seen[r.ID] = true

		atLimit := legal.Passes
		if r.EqualFails {
			atLimit = legal.Fails
		}

		wants := map[units.Length]legal.Outcome{r.Min + 1: legal.Passes, r.Min: atLimit, r.Min - 1: legal.Fails}
		for _, stations := range []int{4, 8, 12} {
			for depth, want := range wants {
				if got := r.Check(even(depth, 4, stations)); got != want {
					t.Errorf("%s: %d nm of %s at %d stations: %s, want %s", r.ID, depth-r.Min, r.MinText, stations, got,
						want)
				}
			}
		}

		if got := r.Check(even(0, 0, 0)); got != legal.NotRead {
			t.Errorf("%s: an empty grid %s", r.ID, got)
		}

		if s := r.Explain(); !strings.Contains(s, r.MinText) || !strings.Contains(s, r.Citation) ||
			!strings.Contains(s, legal.Notice) ||
			!strings.Contains(s, "2026-11") {
			t.Errorf("%s explains itself as %q", r.ID, s)
		}
	}

	if n := len(seen); n < 70 {
		t.Errorf("only %d rules", n)
	}
}

// TestEveryRow: each row says where it is from, and every word of it is one the
// package knows.
func TestEveryRow(t *testing.T) {
	t.Parallel()
	known := func(id, column string, ok bool) {
		t.Helper()
		if !ok {
			t.Errorf("%s: unknown or missing %s", id, column)
		}
	}

	both := func(r legal.Rule) {
		known(r.ID, "citation", r.Citation != "")
		known(r.ID, "text", r.Text != "")
		known(r.ID, "date read", r.Read == "2026-11")
		known(r.ID, "source", r.Source != "" || !r.On())
		known(r.ID, "status", slices.Contains([]legal.Status{legal.Read, legal.SecondHand, legal.Memory}, r.Status))

		known(r.ID, "axles",
			slices.Contains([]legal.Axles{legal.AnyAxle, legal.SteerAxle, legal.OtherAxles, legal.DriveAxle,
				legal.DrivenOnly, legal.NotDrivenOnly}, r.Axles))

		unknown := func(code string) bool { return !legal.Known(code) }
		known(r.ID, "jurisdiction", len(r.Jurisdictions) > 0 && !slices.ContainsFunc(r.Jurisdictions, unknown))
		known(r.ID, "classes", len(r.Classes)+len(r.Categories) > 0)

		for _, c := range r.Classes {
			known(r.ID, "class "+c, slices.Contains([]string{"car", "light_truck", "rigid_truck", "tractor", "trailer",
				"bus", "motorcycle", "moped"}, c))
		}

		for _, c := range r.Categories {
			known(r.ID, "category", slices.Contains(strings.Fields("M1 M2 M3 N1 N2 N3 O1 O2 O3 O4 L"), string(c)))
		}
	}

	for _, r := range legal.All() {
		both(r)
		known(r.ID, "consequence",
			slices.Contains([]legal.Consequence{legal.Violation, legal.OutOfService, legal.Advisory}, r.Consequence))

		known(r.ID, "grooves",
			slices.Contains([]legal.Grooves{legal.Major, legal.Central, legal.Band75, legal.Full}, r.Grooves))

		known(r.ID, "sampling", slices.Contains([]legal.Sampling{legal.AnyPoint, legal.Adjacent, legal.AdjacentThrice,
			legal.AnyTwoThrice, legal.AdjacentApart, legal.FourPoints}, r.Sampling))
	}

	for _, o := range legal.Others() {
		both(o.Rule)
		known(o.ID, "kind", slices.Contains(legal.OtherKinds, o.Kind))
	}

	for _, j := range legal.Jurisdictions() {
		known(j.Code, "name", j.Name != "")
		known(j.Code, "parent", j.Parent == "" || legal.Known(j.Parent))
	}

	// Texts nobody has read are in the table and off.
	for _, id := range []string{"IN", "IN-small", "MX-steer", "MX-other", "CA-NSC11-front", "CA-NSC11-other",
		"US-OOS-front", "US-570.9(a)"} {
		if rule(t, id).On() {
			t.Errorf("%s is switched on", id)
		}
	}
}

func rule(t *testing.T, id string) legal.Rule {
	t.Helper()
	i := slices.IndexFunc(legal.All(), func(r legal.Rule) bool { return r.ID == id })
	if i < 0 {
		t.Fatalf("no rule %s", id)
	}
	return legal.All()[i]
}

func TestUnitsOfTheLaw(t *testing.T) {
	t.Parallel()
	// 2/32 in is 1.5875 mm: a tire at exactly that passes the rule of inches and
	// fails the one of 1.6 mm.
	two := 2 * units.ThirtySecond
	if got := rule(t, "US-393.75(c)").Check(even(two, 3, 1)); got != legal.Passes {
		t.Errorf("2/32 in under the rule of 2/32 in: %s", got)
	}
	if got := rule(t, "DE-36").Check(even(two, 3, 1)); got != legal.Fails {
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
		{"van over 3.5 t in Britain", "GB", legal.Vehicle{Class: "light_truck", MassKG: 3501}, drive, mm(1)},
		{"car over 3.5 t in Britain", "GB", legal.Vehicle{Class: "car", MassKG: 4200, Seats: 4}, drive, mm(1.6)},
		{"9 seats in Britain, at any mass", "GB", legal.Vehicle{Class: "bus", MassKG: 3000, Seats: 9}, drive, mm(1)},
		{"8 seats in Britain", "GB", legal.Vehicle{Class: "bus", MassKG: 3000, Seats: 8}, drive, mm(1.6)},
		{"trailer in Finland", "FI", legal.Vehicle{Class: "trailer"}, legal.Place{}, mm(1.6)},
		{"front of a truck in Ontario", "CA-ON", legal.Vehicle{Class: "rigid_truck", MassKG: 12000}, steer, mm(3)},
		{"a car above 3.5 t is still M1 in France", "FR", legal.Vehicle{Class: "car", MassKG: 3600, Seats: 4}, drive,
			mm(1.6)},
		{"light trailer in France", "FR", legal.Vehicle{Class: "trailer", MassKG: 3500}, legal.Place{}, mm(1.6)},
		{"a member state has the union's rule", "SE", legal.Vehicle{Class: "car"}, drive, mm(1.6)},
		{"heavy truck in Sweden in summer has none", "SE", legal.Vehicle{Class: "tractor"}, drive, 0},
		{"small bus in Russia", "RU", legal.Vehicle{Class: "bus", MassKG: 3400}, drive, mm(2)},
		{"Western Australia, heavy", "AU-WA", legal.Vehicle{Class: "tractor"}, drive, mm(1.5)},
		{"South Africa: level with the indicator", "ZA", legal.Vehicle{Class: "tractor"}, drive, mm(1.6)},
		{"light truck of 10,000 lb is no commercial vehicle", "US", legal.Vehicle{Class: "light_truck", MassKG: 4536},
			steer, 0},
		{"light truck above 10,000 lb is", "US", legal.Vehicle{Class: "light_truck", MassKG: 4537}, steer,
			4 * units.ThirtySecond},
		{"an unknown place has no rules", "XX", legal.Vehicle{Class: "tractor"}, steer, 0},
		{"Mexico is switched off", "MX", legal.Vehicle{Class: "tractor"}, steer, 0},
	} {
		if got := strictest(tc.jurisdiction, tc.vehicle, tc.place, summer); got != tc.want {
			t.Errorf("%s: %s, want %s", tc.name, units.FormatLength(got, units.MM),
				units.FormatLength(tc.want, units.MM))
		}
	}
}

// TestSeason: Easter Sunday was 20 April 2025 and is 5 April 2026 and 28 March
// 2027 (published calendars). By Norway's road authority its winter begins on 1 November
// and ends on the first Sunday after Easter Monday, seven days after Easter Sunday; in the
// north it lasts from 16 October to 30 April. Sweden's for heavy vehicles lasts from 10
// November to 10 April (Traffic Ordinance ch. 4 s. 18 b).
func TestSeason(t *testing.T) {
	t.Parallel()

	truck := legal.Vehicle{Class: "tractor"}
	for _, tc := range []struct {
		code string
		day  legal.MonthDay
		want float64
	}{
		{"NO", legal.MonthDay{Year: 2025, Month: 10, Day: 31}, 1.6},
		{"NO", legal.MonthDay{Year: 2025, Month: 11, Day: 1}, 5},
		{"NO", legal.MonthDay{Year: 2026, Month: 1, Day: 10}, 5},
		{"NO", legal.MonthDay{Year: 2025, Month: 4, Day: 27}, 5},
		{"NO", legal.MonthDay{Year: 2025, Month: 4, Day: 28}, 1.6},
		{"NO", legal.MonthDay{Year: 2026, Month: 4, Day: 12}, 5},
		{"NO", legal.MonthDay{Year: 2026, Month: 4, Day: 13}, 1.6},
		{"NO", legal.MonthDay{Year: 2027, Month: 4, Day: 4}, 5},
		{"NO", legal.MonthDay{Year: 2027, Month: 4, Day: 5}, 1.6},
		{"NO", legal.MonthDay{Month: 5, Day: 2}, 5}, // year not known: the latest end
		{"NO", legal.MonthDay{Month: 5, Day: 3}, 1.6},
		{"NO-N", legal.MonthDay{Year: 2026, Month: 10, Day: 15}, 1.6},
		{"NO-N", legal.MonthDay{Year: 2026, Month: 10, Day: 16}, 5},
		{"NO-N", legal.MonthDay{Year: 2026, Month: 4, Day: 30}, 5},
		{"NO-N", legal.MonthDay{Year: 2026, Month: 5, Day: 1}, 1.6},
		{"SE", legal.MonthDay{Year: 2026, Month: 11, Day: 9}, 0},
		{"SE", legal.MonthDay{Year: 2026, Month: 11, Day: 10}, 5},
		{"SE", legal.MonthDay{Year: 2027, Month: 4, Day: 10}, 5},
		{"SE", legal.MonthDay{Year: 2027, Month: 4, Day: 11}, 0},
	} {
		got := strictest(tc.code, truck, legal.Place{Driven: true}, tc.day)
		if got != units.LengthFromMillimetres(tc.want) {
			t.Errorf("%s on %v: %s, want %v mm", tc.code, tc.day, units.FormatLength(got, units.MM), tc.want)
		}
	}
}

// TestWinterTires: Austria asks 4 mm of a radial and 5 mm of a bias tire to
// count as a winter tire up to 3.5 t, 5 and 6 mm above (KDV 1967 § 4); it asks
// nothing of a tire that is not marked as one.
func TestWinterTires(t *testing.T) {
	t.Parallel()

	day := legal.MonthDay{Year: 2026, Month: 12, Day: 1}
	for _, tc := range []struct {
		name    string
		vehicle legal.Vehicle
		place   legal.Place
		want    string
	}{
		{"car, radial", legal.Vehicle{Class: "car"}, legal.Place{Winter: true}, "4 mm"},
		{"car, bias", legal.Vehicle{Class: "car"}, legal.Place{Winter: true, Bias: true}, "5 mm"},
		{"car, not marked", legal.Vehicle{Class: "car"}, legal.Place{}, "1.6 mm"},
		{"truck, driven, radial", legal.Vehicle{Class: "tractor"}, legal.Place{Driven: true, Winter: true}, "5 mm"},
		{"truck, driven, bias", legal.Vehicle{Class: "tractor"}, legal.Place{Driven: true, Winter: true, Bias: true},
			"6 mm"},
		{"truck, steered", legal.Vehicle{Class: "tractor"}, legal.Place{Steered: true, Winter: true}, "2 mm"},
	} {
		if got := legal.For("AT", tc.vehicle, tc.place, day); got[0].MinText != tc.want {
			t.Errorf("%s: strictest is %s of %s, want %s", tc.name, got[0].MinText, got[0].ID, tc.want)
		}
	}

	if len(legal.Seasonal("AT", legal.Vehicle{Class: "car"}, legal.Place{Winter: true})) != 1 {
		t.Error("no winter season of cars in Austria")
	}
}

// TestCategory: bounds of R.E.3, from memory; both sides of each.
func TestCategory(t *testing.T) {
	t.Parallel()

	for _, tc := range []struct {
		vehicle legal.Vehicle
		want    legal.Category
	}{
		{legal.Vehicle{Class: "car", Seats: 8}, "M1"}, {legal.Vehicle{Class: "car", Seats: 9, MassKG: 5000}, "M2"},
		{legal.Vehicle{Class: "bus", Seats: 20, MassKG: 5001}, "M3"}, {legal.Vehicle{Class: "bus"}, "M3"},
		{legal.Vehicle{Class: "light_truck", MassKG: 3500}, "N1"},
		{legal.Vehicle{Class: "light_truck", MassKG: 3501}, "N2"},
		{legal.Vehicle{Class: "rigid_truck", MassKG: 12000}, "N2"},
		{legal.Vehicle{Class: "tractor", MassKG: 12001}, "N3"},
		{legal.Vehicle{Class: "trailer", MassKG: 750}, "O1"}, {legal.Vehicle{Class: "trailer", MassKG: 751}, "O2"},
		{legal.Vehicle{Class: "trailer", MassKG: 3501}, "O3"}, {legal.Vehicle{Class: "trailer", MassKG: 10001}, "O4"},
		{legal.Vehicle{Class: "boat"}, ""},
	} {
		if got := tc.vehicle.Category(); got != tc.want {
			t.Errorf("%+v is %s, want %s", tc.vehicle, got, tc.want)
		}
	}
}

func TestOwn(t *testing.T) {
	t.Parallel()
	law := legal.For("US", legal.Vehicle{Class: "tractor"}, legal.Place{Driven: true},
		legal.MonthDay{Year: 2026, Month: 7, Day: 1})

	own := func(d units.Length) legal.Rule { return legal.Own(d, units.FormatLength(d, units.In32), "wet roads") }
	if err := own(2 * units.ThirtySecond).StricterThan(law); !errors.Is(err, legal.ErrNotStricter) ||
		!strings.Contains(err.Error(), "393.75") {
		t.Errorf("the same as the law: %v", err)
	}
	if err := own(3 * units.ThirtySecond).StricterThan(law); err != nil {
		t.Errorf("above the law: %v", err)
	}
	if err := own(units.ThirtySecond).StricterThan(nil); err != nil {
		t.Errorf("where no law is known: %v", err)
	}
}

// TestSampling: what the texts ask to be read, and what too few readings say.
func TestSampling(t *testing.T) {
	t.Parallel()
	a, b := units.Millimetre/2, 5*units.Millimetre

	steer := 39 * units.ThirtySecond / 10 // 3.9/32 in
	for _, tc := range []struct {
		name string
		rule string
		grid legal.Grid
		want legal.Outcome
	}{
		{"one of four points below passes in France", "FR-heavy", legal.Grid{{&a, &b, &b, &b}}, legal.Passes},
		{"two of four points below fail in France", "FR-heavy", legal.Grid{{&a, &b, &a, &b}}, legal.Fails},
		{"one station cannot tell in France", "FR-heavy", legal.Grid{{&a}}, legal.BelowNumber},
		{"one groove of two below passes in Virginia", "US-VA-car", legal.Grid{{&a, &a, &a}, {&b, &b, &b}},
			legal.Passes},
		{"two adjacent at three places fail in Virginia", "US-VA-car", legal.Grid{{&a, &a, &a}, {&a, &a, &a}},
			legal.Fails},
		{"two adjacent at one place cannot tell in Virginia", "US-VA-car", legal.Grid{{&a}, {&a}}, legal.BelowNumber},
		{"two grooves that are not adjacent pass in Bettendorf", "US-IA-Bettendorf", legal.Grid{{&a}, {&b}, {&a}},
			legal.Passes},
		{"three places on one side of the tire are not evenly spaced", "US-VA-car",
			legal.Grid{{&a, &a, &a, &b, &b, &b, &b, &b}, {&a, &a, &a, &b, &b, &b, &b, &b}}, legal.Passes},
		{"three of eight evenly spaced", "US-VA-car",
			legal.Grid{{&a, &b, &b, &a, &b, &a, &b, &b}, {&a, &b, &b, &a, &b, &a, &b, &b}}, legal.Fails},
		{"roadside: three places 45 degrees apart", "US-OOS-other",
			legal.Grid{{&a, &a, &a, &b, &b, &b, &b, &b}, {&a, &a, &a, &b, &b, &b, &b, &b}}, legal.Fails},
		{"roadside: two places", "US-OOS-other",
			legal.Grid{{&a, &b, &a, &b, &b, &b, &b, &b}, {&a, &b, &a, &b, &b, &b, &b, &b}}, legal.Passes},
		{"any two grooves of a transit bus", "US-MD-transit", legal.Grid{{&a, &a, &a}, {&b, &b, &b}, {&a, &a, &a}},
			legal.Fails},
		{"two of eight that are not in one four", "FR-heavy", legal.Grid{{&a, &a, &b, &b, &b, &b, &b, &b}},
			legal.Passes},
		{"two of eight a half turn apart", "FR-heavy", legal.Grid{{&a, &b, &b, &b, &a, &b, &b, &b}}, legal.Fails},
		{"three of three thin", "FR-heavy", legal.Grid{{&a, &a, &a}}, legal.Fails},
		{"one edge thin may leave a band in Britain", "GB-27-heavy", legal.Grid{{&a}, {&b}, {&b}, {&b}},
			legal.BelowNumber},
		{"both edges thin leave none", "GB-27-heavy", legal.Grid{{&a}, {&b}, {&b}, {&a}}, legal.Fails},
		{"a thin middle leaves none", "GB-27-heavy", legal.Grid{{&b}, {&b}, {&a}, {&b}}, legal.Fails},
		{"steer, one thin point is enough", "US-393.75(b)", legal.Grid{{&b, &b, &b}, {&b, &steer, &b}}, legal.Fails},
		{"a shoulder groove without indicator is left out", "US-393.75(c)", legal.Grid{nil, {&b}, {&b}, nil},
			legal.Passes},
		{"holes are not read as worn", "US-VA-car", legal.Grid{{&a, nil, nil}, {nil, &a, nil}}, legal.BelowNumber},
	} {
		if got := rule(t, tc.rule).Check(tc.grid); got != tc.want {
			t.Errorf("%s: %s, want %s", tc.name, got, tc.want)
		}
	}
}

func TestJudge(t *testing.T) {
	t.Parallel()
	thin, deep := 3*units.ThirtySecond, 9*units.ThirtySecond
	got := rule(t, "US-393.75(b)").Judge(legal.Grid{{&deep, nil}, {&deep, &thin}})
	want := legal.Verdict{Outcome: legal.Fails, Below: []legal.Spot{{Groove: 1, Station: 1, Depth: thin}}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("one thin place (-want +got):\n%s", diff)
	}

	at := units.LengthFromMillimetres(1.6)
	if v := rule(t, "CA-QC").Judge(even(at, 3, 1)); v.Outcome != legal.Passes || !v.AtIndicator {
		t.Errorf("at 1.6 mm in Quebec: %+v; the indicators must be looked at", v)
	}
	if v := rule(t, "DE-36").Judge(even(at, 3, 1)); v.Outcome != legal.Passes || v.AtIndicator {
		t.Errorf("at 1.6 mm in Germany: %+v", v)
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
	bus := func(seats int) legal.Vehicle { return legal.Vehicle{Class: "bus", Seats: seats} }
	truck := legal.Vehicle{Class: "rigid_truck", MassKG: 18000}
	steer, drive, dual := legal.Place{Steered: true}, legal.Place{Driven: true}, legal.Place{Driven: true, Dual: true}

	for _, c := range []struct {
		name         string
		jurisdiction string
		kind         legal.OtherKind
		vehicle      legal.Vehicle
		place        legal.Place
		want         []float64 // the limits
	}{
		{"a drive tire of a truck in Britain has no limit of age", "GB", legal.AgeYears, truck, drive, nil},
		{"axle in France", "FR", legal.AxleDifferenceMM, legal.Vehicle{Class: "car"}, legal.Place{}, []float64{5}},
		{"8 seats are no minibus in Britain", "GB", legal.AgeYears, bus(8), drive, nil},
		{"9 seats are a minibus in Britain", "GB", legal.AgeYears, bus(9), drive, []float64{10}},
		{"a dual tire of a minibus has no limit of age", "GB", legal.AgeYears, bus(9), dual, nil},
		{"nor has one of a coach", "GB", legal.AgeYears, bus(17), dual, nil},
	} {
		var got []float64
		for _, o := range legal.OtherFor(c.jurisdiction, c.kind, c.vehicle, c.place) {
			got = append(got, o.Limit)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: limits %v, want %v", c.name, got, c.want)
		}
	}

	coach := legal.Vehicle{Class: "bus", MassKG: 18000, Seats: 45}
	if got := legal.OtherFor("GB", legal.AgeYears, coach, steer); len(got) == 0 || got[0].Limit != 10 {
		t.Errorf("front tire of a coach in Britain: %+v, want 10 years", got)
	}

	got := legal.OtherFor("US-MD", legal.RetreadBarred, legal.Vehicle{Class: "bus"}, steer)
	if len(got) != 1 || !strings.Contains(got[0].Explain(), legal.Notice) {
		t.Errorf("front of a bus in Maryland: %+v, want retreads barred", got)
	}
}
