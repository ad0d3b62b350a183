package legal_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"rimledger/models/legal"
	"rimledger/models/units"
)

// thinAt is a grid of grooves by n stations, 0.5 mm at some stations of the first thin grooves
// and 5 mm elsewhere.
func thinAt(grooves, thin, n int, stations ...int) legal.Grid {
	g := even(5*units.Millimetre, grooves, n)
	worn := units.Millimetre / 2
	for i := range thin {
		for _, k := range stations {
			g[i][k] = &worn
		}
	}
	return g
}

// TestHowFarApart: places that are evenly spaced lie 90 to 180 degrees apart, which is
// chosen by us; 8 in on a tire of 30 in is 360*8/(30*pi) = 31 degrees, and no text says a
// most. With 360 stations a station is a degree.
func TestHowFarApart(t *testing.T) {
	t.Parallel()

	for _, tc := range []struct {
		name, rule string
		stations   []int
		want       legal.Outcome
	}{
		{"90, 90 and 180", "US-VA-car", []int{0, 90, 180}, legal.Fails},
		{"90, 180 and 90", "US-VA-car", []int{0, 90, 270}, legal.Fails},
		{"180, 90 and 90", "US-VA-car", []int{0, 180, 270}, legal.Fails},
		{"thirds", "US-VA-car", []int{7, 127, 247}, legal.Fails},
		{"89, 91 and 180", "US-VA-car", []int{0, 89, 180}, legal.Passes},
		{"91, 89 and 180", "US-VA-car", []int{0, 91, 180}, legal.Passes},
		{"91, 180 and 89", "US-VA-car", []int{0, 91, 271}, legal.Passes},
		{"90, 181 and 89", "US-VA-car", []int{0, 90, 271}, legal.Passes},
		{"only the first gap", "US-VA-car", []int{0, 170, 180}, legal.Passes},
		{"only the last gap", "US-VA-car", []int{0, 10, 180}, legal.Passes},
		{"five in a row", "US-VA-car", []int{0, 1, 2, 3, 4}, legal.Passes},
		{"the three are not the first of five", "US-VA-car", []int{0, 5, 10, 120, 240}, legal.Fails},
		{"30, 30 and 300", "US-OOS-other", []int{0, 30, 60}, legal.Fails},
		{"29, 31 and 300", "US-OOS-other", []int{0, 29, 60}, legal.Passes},
		{"31, 29 and 300", "US-OOS-other", []int{0, 31, 60}, legal.Passes},
		{"300, 30 and 30", "US-OOS-other", []int{0, 300, 330}, legal.Fails},
		{"15 and 15", "US-OOS-other", []int{0, 15, 30}, legal.Passes},
	} {
		if got := rule(t, tc.rule).Check(thinAt(2, 2, 360, tc.stations...)); got != tc.want {
			t.Errorf("%s, %s: %s, want %s", tc.rule, tc.name, got, tc.want)
		}
	}
}

// TestReadFarEnoughApart: with one thin place, only readings at three places that are far
// enough apart say that the rule is kept.
func TestReadFarEnoughApart(t *testing.T) {
	t.Parallel()
	thin, deep := units.Millimetre/2, 5*units.Millimetre

	for _, tc := range []struct {
		rule     string
		stations []int
		want     legal.Outcome
	}{
		{"US-VA-car", []int{0, 90, 180}, legal.Passes},
		{"US-VA-car", []int{0, 89, 180}, legal.BelowNumber},
		{"US-VA-car", []int{0, 91, 180}, legal.BelowNumber},
		{"US-VA-car", []int{0, 180, 270}, legal.Passes},
		{"US-OOS-other", []int{0, 30, 60}, legal.Passes},
		{"US-OOS-other", []int{0, 29, 60}, legal.BelowNumber},
		{"US-OOS-other", []int{0, 31, 60}, legal.BelowNumber},
	} {
		g := legal.Grid{make([]*units.Length, 360), make([]*units.Length, 360)}
		for i := range g {
			for _, k := range tc.stations {
				g[i][k] = &deep
			}
			g[i][0] = &thin
		}
		if got := rule(t, tc.rule).Check(g); got != tc.want {
			t.Errorf("%s, read at %v, thin at 0: %s, want %s", tc.rule, tc.stations, got, tc.want)
		}
	}
}

// TestHowManyPlaces: what each way of sampling wants, on both sides. France: of four evenly
// spaced places one may be below (order of 24 October 1994); Maryland: any two grooves at
// three places; Virginia and Bettendorf: two adjacent ones; Britain: a band of three
// quarters of the breadth (reg. 27), where grooves part the breadth evenly.
func TestHowManyPlaces(t *testing.T) {
	t.Parallel()
	a, b := units.Millimetre/2, 5*units.Millimetre
	tenths := func(n int64) *units.Length { d := units.Length(n) * units.Millimetre / 10; return &d }

	for _, tc := range []struct {
		name, rule string
		grid       legal.Grid
		want       legal.Outcome
	}{
		{"four places, three thin", "FR-heavy", thinAt(1, 1, 4, 0, 1, 3), legal.Fails},
		{"two of three places leave the fourth open", "FR-heavy", thinAt(1, 1, 3, 0, 1), legal.BelowNumber},
		{"three of three", "FR-heavy", thinAt(1, 1, 3, 0, 1, 2), legal.Fails},
		{"three of four were read, one thin", "FR-heavy", legal.Grid{{&a, nil, &b, &b}}, legal.BelowNumber},
		{"a quarter turn apart among twelve", "FR-heavy", thinAt(1, 1, 12, 0, 3), legal.Fails},
		{"a third of a turn apart among twelve", "FR-heavy", thinAt(1, 1, 12, 0, 4), legal.Passes},

		{"one groove of two", "US-MD-transit", thinAt(2, 1, 3, 0, 1, 2), legal.Passes},
		{"two grooves of two", "US-MD-transit", thinAt(2, 2, 3, 0, 1, 2), legal.Fails},
		{"one groove, the only one read", "US-MD-transit", thinAt(1, 1, 3, 0, 1, 2), legal.BelowNumber},
		{"one groove, the only one read", "US-VA-car", thinAt(1, 1, 3, 0, 1, 2), legal.BelowNumber},
		{"the second groove was read at one place", "US-VA-car", legal.Grid{{&a, &a, &a}, {&a}}, legal.BelowNumber},
		{"two adjacent at one place", "US-IA-Bettendorf", legal.Grid{{&a}, {&a}}, legal.Fails},
		{"two adjacent at one of two", "US-IA-Bettendorf", legal.Grid{{&a, &b}, {&a, &b}}, legal.Fails},
		{"one groove, the only one read", "US-IA-Bettendorf", legal.Grid{{&a}}, legal.BelowNumber},

		{"three quarters to the inner side", "GB-27-heavy", legal.Grid{{&a}, {&b}, {&b}}, legal.BelowNumber},
		{"three quarters to the outer side", "GB-27-heavy", legal.Grid{{&b}, {&b}, {&a}}, legal.BelowNumber},
		{"two thirds", "GB-27-heavy", legal.Grid{{&a}, {&b}}, legal.Fails},
		{"four fifths to the outer side", "GB-27-heavy", legal.Grid{{&b}, {&b}, {&b}, {&a}}, legal.BelowNumber},
		{"three fifths to the outer side", "GB-27-heavy", legal.Grid{{&b}, {&b}, {&a}, {&a}}, legal.Fails},
		{"three fifths between", "GB-27-heavy", legal.Grid{{&a}, {&b}, {&b}, {&a}}, legal.Fails},
		{"exactly 1.0 mm is no thin groove", "GB-27-heavy", legal.Grid{{tenths(10)}, {&b}, {tenths(10)}}, legal.Passes},
		{"0.9 mm on both edges", "GB-27-heavy", legal.Grid{{tenths(9)}, {&b}, {tenths(9)}}, legal.Fails},
	} {
		if got := rule(t, tc.rule).Check(tc.grid); got != tc.want {
			t.Errorf("%s, %s: %s, want %s", tc.rule, tc.name, got, tc.want)
		}
	}
}

// TestMassBounds: "over" leaves the number itself out and "up to" holds it, for every row
// with a bound of mass, at a place that every scope of axles holds.
func TestMassBounds(t *testing.T) {
	t.Parallel()

	for _, r := range legal.All() {
		if !r.On() || len(r.Classes) == 0 {
			continue
		}

		class := r.Classes[len(r.Classes)-1]
		p := legal.Place{Winter: r.WinterOnly, Bias: r.BiasOnly}
		p.Steered = r.Axles == legal.SteerAxle
		p.Driven = r.Axles == legal.DriveAxle || r.Axles == legal.DrivenOnly
		covers := func(kg int) bool {
			v := legal.Vehicle{Class: class, MassKG: kg}
			day := legal.MonthDay{Year: 2026, Month: 6, Day: 1}
			if r.Season != nil {
				day.Month, day.Day = r.Season.From.Month, r.Season.From.Day
			}
			return slices.ContainsFunc(legal.For(r.Jurisdictions[0], v, p, day),
				func(x legal.Rule) bool { return x.ID == r.ID })
		}

		if n := r.MassOverKG; n > 0 && (covers(n) || !covers(n+1)) {
			t.Errorf("%s is about vehicles over %d kg: at it %v, above %v", r.ID, n, covers(n), covers(n+1))
		}
		if n := r.MassUptoKG; n > 0 && (!covers(n) || covers(n+1)) {
			t.Errorf("%s is about vehicles up to %d kg: at it %v, above %v", r.ID, n, covers(n), covers(n+1))
		}
		if !covers(max(r.MassOverKG+1, r.MassUptoKG)) {
			t.Errorf("%s covers no %s", r.ID, class)
		}
	}
}

// TestSeatBounds: the rule on the age of tires of a minibus in Britain is about 9 to 16
// passenger seats (reg. 27, as amended 2020), and a bus of unknown seats has more than 8
// (common practice).
func TestSeatBounds(t *testing.T) {
	t.Parallel()

	for seats, want := range map[int]int{8: 0, 9: 1, 16: 1, 17: 0} {
		v := legal.Vehicle{Class: "bus", MassKG: 3000, Seats: seats}
		if got := legal.OtherFor("GB", legal.AgeYears, v, legal.Place{Driven: true}); len(got) != want {
			t.Errorf("%d seats: %d rules, want %d", seats, len(got), want)
		}
	}
}

// TestUsualMass: a vehicle of unknown mass has the usual one of its class, which decides
// its category: common practice, no source. A light truck is one of 3.5 t.
func TestUsualMass(t *testing.T) {
	t.Parallel()

	for class, want := range map[string]legal.Category{"car": "M1", "light_truck": "N1", "rigid_truck": "N2",
		"tractor": "N3", "trailer": "O4", "bus": "M3"} {
		if got := (legal.Vehicle{Class: class}).Category(); got != want {
			t.Errorf("%s of unknown mass: %s, want %s", class, got, want)
		}
	}

	for v, want := range map[legal.Vehicle]legal.Category{
		{Class: "bus", Seats: 1}: "M1", {Class: "bus", Seats: 8}: "M1", {Class: "bus", Seats: 9}: "M3",
		{Class: "bus", Seats: 9, MassKG: 5000}: "M2", {Class: "trailer", MassKG: 10000}: "O3",
		{Class: "trailer", MassKG: 3500}: "O2", {Class: "trailer", MassKG: 1}: "O1",
		{Class: "light_truck", MassKG: 1}: "N1", {Class: "car", Seats: 9, MassKG: 5001}: "M3",
	} {
		if got := v.Category(); got != want {
			t.Errorf("%+v: %s, want %s", v, got, want)
		}
	}
}

// TestScopesOfAxles: which axles a row is about. A steered axle of a trailer is an other
// axle: the steer rules are about power units (49 CFR 393.75(b)). Finland parts driving
// axles that are not steered from all others (Road Traffic Act s. 105(2)).
func TestScopesOfAxles(t *testing.T) {
	t.Parallel()
	type seen struct{ plain, steered, driven, both bool }
	winter := legal.MonthDay{Year: 2026, Month: 12, Day: 1}

	for _, tc := range []struct {
		code, id, class string
		want            seen
	}{
		{"US", "US-393.75(b)", "tractor", seen{steered: true, both: true}},
		{"US", "US-393.75(c)", "tractor", seen{plain: true, driven: true}},
		{"US", "US-570.62(a)-other", "trailer", seen{true, true, true, true}},
		{"AT", "AT-winter-truck", "tractor", seen{driven: true, both: true}},
		{"FI", "FI-winter-drive", "tractor", seen{driven: true}},
		{"FI", "FI-winter-other", "tractor", seen{plain: true, steered: true, both: true}},
		{"FI", "FI-winter-other", "trailer", seen{plain: true, steered: true}},
		{"DE", "DE-winter-tires-heavy", "tractor", seen{steered: true, driven: true, both: true}},
		{"DE", "DE-36", "tractor", seen{true, true, true, true}},
	} {
		on := func(p legal.Place) bool {
			p.Winter = tc.id[:2] == "AT"
			v := legal.Vehicle{Class: tc.class, MassKG: 18000}
			rules := legal.For(tc.code, v, p, winter)
			for _, w := range legal.WinterFor(tc.code, v, p) {
				rules = append(rules, w.Rule)
			}
			return slices.ContainsFunc(rules, func(r legal.Rule) bool { return r.ID == tc.id })
		}

		got := seen{on(legal.Place{}), on(legal.Place{Steered: true}), on(legal.Place{Driven: true}),
			on(legal.Place{Steered: true, Driven: true})}
		if got != tc.want {
			t.Errorf("%s of a %s: %+v, want %+v", tc.id, tc.class, got, tc.want)
		}
	}
}

// TestOwnAgainstAdvice: a depot's own minimum is compared with what binds at all times, not
// with advice, nor with what holds in some weather only.
func TestOwnAgainstAdvice(t *testing.T) {
	t.Parallel()
	three, four := 3*units.Millimetre, 4*units.Millimetre
	own := legal.Own(three, "3 mm", "wet roads")

	for _, tc := range []struct {
		name string
		law  legal.Rule
		want error
	}{
		{"binding", legal.Rule{Min: four, Consequence: legal.Violation}, legal.ErrNotStricter},
		{"binding, as much", legal.Rule{Min: three, Consequence: legal.Violation}, legal.ErrNotStricter},
		{"binding, a little less", legal.Rule{Min: three - 1, Consequence: legal.Violation}, nil},
		{"in some weather", legal.Rule{Min: four, Consequence: legal.Violation, Situational: true}, nil},
		{"advice", legal.Rule{Min: four, Consequence: legal.Advisory}, nil},
		{"off the road", legal.Rule{Min: four, Consequence: legal.OutOfService}, nil},
	} {
		if err := own.StricterThan([]legal.Rule{tc.law}); !errors.Is(err, tc.want) {
			t.Errorf("%s: %v, want %v", tc.name, err, tc.want)
		}
	}
}

// TestFirstGuidance: the first row of the table is found like the others.
func TestFirstGuidance(t *testing.T) {
	t.Parallel()
	v := legal.Vehicle{Class: "tractor"}
	if got := legal.Guide("US", "exposed_cord", v, legal.Place{}); got.ID != "US-393.75(a)(1)" {
		t.Errorf("exposed cord of a tractor in the US: %q", got.ID)
	}
}

// TestEaster compares with the other usual way: the date of the paschal full moon from the
// epact (Clavius; Knuth, The Art of Computer Programming, vol. 1, 1.3.2, exercise 14), and
// the Sunday after it from the calendar of package time. Earliest and latest dates are
// published: 22 March 1818 and 2285, 25 April 1886, 1943 and 2038; 1954 and 1981 are the
// years in which the epact is moved.
func TestEaster(t *testing.T) {
	t.Parallel()
	afterEaster := func(year, days int) time.Time {
		d := legal.Season{DaysAfterEaster: days}.End(year)
		return time.Date(d.Year, time.Month(d.Month), d.Day, 0, 0, 0, 0, time.UTC)
	}

	for year := 1600; year <= 2600; year++ {
		golden, century := year%19+1, year/100+1
		epact := (11*golden + 20 + (8*century+5)/25 - 5 - (3*century/4 - 12)) % 30
		if epact < 0 {
			epact += 30
		}
		if epact == 25 && golden > 11 || epact == 24 {
			epact++
		}
		moon := 44 - epact
		if moon < 21 {
			moon += 30
		}
		full := time.Date(year, 3, moon, 0, 0, 0, 0, time.UTC)
		easter := full.AddDate(0, 0, 7-int(full.Weekday()))

		if got := afterEaster(year, 7).AddDate(0, 0, -7); !got.Equal(easter) {
			t.Errorf("Easter of %d: %s, want %s", year, got.Format(time.DateOnly), easter.Format(time.DateOnly))
		}
	}

	for _, day := range []string{"1818-03-22", "2285-03-22", "1886-04-25", "1943-04-25", "2038-04-25", "1954-04-18",
		"1981-04-19", "2026-04-05"} {
		want, _ := time.Parse(time.DateOnly, day)
		if got := afterEaster(want.Year(), 1).AddDate(0, 0, -1); !got.Equal(want) {
			t.Errorf("Easter of %d: %s, want %s", want.Year(), got.Format(time.DateOnly), day)
		}
	}
}

// TestEveryDayOfASeason walks from the first day of a season to its last by the calendar
// and compares every day of the year.
func TestEveryDayOfASeason(t *testing.T) {
	t.Parallel()

	for _, s := range []legal.Season{
		{From: legal.MonthDay{Month: 10, Day: 16}, To: legal.MonthDay{Month: 4, Day: 30}},
		{From: legal.MonthDay{Month: 11, Day: 1}, To: legal.MonthDay{Month: 3, Day: 15}},
		{From: legal.MonthDay{Month: 3, Day: 20}, To: legal.MonthDay{Month: 9, Day: 5}},
		{From: legal.MonthDay{Month: 6, Day: 1}, To: legal.MonthDay{Month: 6, Day: 1}},
	} {
		in := map[legal.MonthDay]bool{}
		for d := time.Date(2026, time.Month(s.From.Month), s.From.Day, 0, 0, 0, 0, time.UTC); ; d = d.AddDate(0, 0, 1) {
			in[legal.MonthDay{Month: int(d.Month()), Day: d.Day()}] = true
			if int(d.Month()) == s.To.Month && d.Day() == s.To.Day {
				break
			}
		}

		for d := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC); d.Year() == 2025; d = d.AddDate(0, 0, 1) {
			day := legal.MonthDay{Month: int(d.Month()), Day: d.Day()}
			want := in[day]
			day.Year = 2025
			if got := s.Contains(day); got != want {
				t.Errorf("%v to %v holds %v: %v, want %v", s.From, s.To, day, got, want)
			}
		}
	}
}

// TestPlacesAndParents: the member states of the union (Austria 1995, Germany, Finland, France,
// Sweden), the states and provinces of a country, and places of their own. Western Australia
// is not under the national heavy vehicle law, Norway's north has rules of its own.
func TestPlacesAndParents(t *testing.T) {
	t.Parallel()
	parents := map[string]string{"AT": "EU", "DE": "EU", "FI": "EU", "FR": "EU", "SE": "EU", "CA-BC": "CA",
		"CA-ON": "CA", "CA-QC": "CA", "US-IA": "US", "US-MD": "US", "US-VA": "US", "EU": "", "CA": "", "US": "",
		"AU": "", "AU-WA": "",
		"BR": "", "GB": "", "IN": "", "JP": "", "MX": "", "NO": "", "NO-N": "", "NZ": "", "RU": "", "ZA": ""}

	for _, j := range legal.Jurisdictions() {
		if parent, there := parents[j.Code]; !there || parent != j.Parent {
			t.Errorf("%s is under %q, want %q", j.Code, j.Parent, parent)
		}
	}
	if n := len(legal.Jurisdictions()); n != len(parents) {
		t.Errorf("%d places, want %d", n, len(parents))
	}
}
