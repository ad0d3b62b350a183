package assess

import (
	"slices"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/pattern"
	"rimledger/models/tiresize"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// day is a day of 24 hours.
const day = 24 * time.Hour

var noon = time.Date(2026, 6, 15, 12, 0, 0, 0, time.UTC)

func known(km float64) models.Odometer {
	return models.Odometer{Known: true, Value: units.DistanceFromKilometres(km)}
}

// standing is a checker of a tractor whose drive axle has one dual pair on its left side, at
// noon.
func standing() *checker {
	target := models.Pressure{Value: 100 * units.PSI}
	return &checker{
		Snapshot: Snapshot{
			Now: noon, Zone: time.UTC, Policy: models.DefaultPolicy(models.Tractor, units.US),
			Depot: models.Depot{ID: "d", Jurisdiction: "US", Units: units.US},
			Vehicle: models.Vehicle{ID: "v", Class: models.Tractor, Axles: []models.Axle{
				{Steered: true, Pressure: target}, {Driven: true, Dual: true, Pressure: target}}},
			State: models.VehicleState{Odometer: known(100_000), OdometerAt: noon,
				Use: wear.Use{KMPerDay: 100, Info: 1, DailySDKM: 120, Known: true,
					Day: float64(noon.Unix()) / 86400, XKM: 100_000}},
		},
		minimum: map[models.Position]units.Length{}, ask: map[models.Position][]string{},
		added: map[models.FindingKey]bool{}, laws: map[legal.Place]law{},
		sizes: map[string]tiresize.Designation{},
	}
}

// tire adds a tire with one depth in three grooves and a cold pressure of 90 psi.
func (c *checker) tire(at models.Position, depth units.Length) *place {
	m := &models.Measured{Point: models.Point{At: noon}, Person: "Odd Fennimore (invented)", Reading: models.Reading{
		Position: at, Depths: [][]*models.Depth{{{Value: depth}}, {{Value: depth}}, {{Value: depth}}},
		Pressure: &models.Pressure{Value: 90 * units.PSI}}}
	t := &models.TireWithState{
		Tire: models.Tire{ID: models.TireID("t" + at), Size: "295/75R22.5 144/141L",
			NewDepths: slices.Repeat([]units.Length{18 * units.ThirtySecond}, 3)},
		State: models.TireState{VehicleID: "v", Position: at, Last: m},
	}
	p := &place{TireWithState: t, at: at, axle: c.Vehicle.AxleAt(at), read: m, least: models.Depth{Value: depth},
		inspected: m}
	c.places = append(c.places, p)
	return p
}

// TestDampers: their age in years of 365.25 days and the distance since, both bounded to
// what an account takes; the age is looked at again when they are ten years old.
func TestDampers(t *testing.T) {
	t.Parallel()

	for _, row := range []struct {
		name  string
		at    time.Time
		from  models.Odometer
		now   models.Odometer
		years float64
		km    float64
	}{
		{"ten years of 365.25 days", noon.Add(-87660 * time.Hour), known(40_000), known(100_000), 10, 60_000},
		{"a year", noon.Add(-8766 * time.Hour), known(99_000), known(100_000), 1, 1000},
		{"a counter that was changed", noon.Add(-8766 * time.Hour), known(200_000), known(100_000), 1, 0},
		{"no odometer then", noon.Add(-8766 * time.Hour), models.Odometer{}, known(100_000), 1, 0},
		{"no odometer now", noon.Add(-8766 * time.Hour), known(1), models.Odometer{}, 1, 0},
		{"in the future", noon.Add(day), known(1), known(1), 0, 0},
		{"two centuries", noon.AddDate(-200, 0, 0), known(1), known(1), 100, 0},
	} {
		c := standing()
		c.State.Odometer = row.now
		c.State.LastDampers = &models.Point{At: row.at, Odometer: row.from}
		var f pattern.Facts
		c.serviceFacts(&f)
		if !near(f.DampersYears, row.years, 1e-9) || !near(f.DampersKM, row.km, 1e-6) {
			t.Errorf("%s: %g years, %g km; want %g, %g", row.name, f.DampersYears, f.DampersKM, row.years, row.km)
		}
	}

	c := standing()
	c.State.LastDampers = &models.Point{At: noon.Add(-3650 * day)}
	c.serviceFacts(new(pattern.Facts))
	if c.next == nil || !c.next.Equal(noon.Add(60*time.Hour)) { // 3652.5 days after
		t.Errorf("looked at again at %v, want %v", c.next, noon.Add(60*time.Hour))
	}
}

// TestAlignmentOverdue: at the end of its interval, not before.
func TestAlignmentOverdue(t *testing.T) {
	t.Parallel()
	for ago, want := range map[time.Duration]bool{100 * day: true, 100*day - time.Second: false, 101 * day: true} {
		c := standing()
		c.Policy.AlignKM, c.Policy.AlignDays = 0, 100
		c.State.LastAlignment = &models.Point{At: noon.Add(-ago)}
		var f pattern.Facts
		c.serviceFacts(&f)
		if f.AlignmentOverdue != want {
			t.Errorf("%v after the alignment: overdue %v, want %v", ago, f.AlignmentOverdue, want)
		}
	}
	c := standing()
	c.Policy.AlignKM, c.Policy.AlignDays = 0, 0
	c.State.LastAlignment = &models.Point{At: noon.Add(-1000 * day)}
	var f pattern.Facts
	if c.serviceFacts(&f); f.AlignmentOverdue {
		t.Error("overdue without an interval")
	}
}

// TestPressureFacts: a cold pressure as a share of its target, to ten times at most, and how
// far a pair is apart, both cold or both warm and taken within a day. 10 psi are 68.95 kPa.
func TestPressureFacts(t *testing.T) {
	t.Parallel()

	for _, row := range []struct {
		name   string
		change func(c *checker, outer, inner *place)
		share  float64
		apart  float64
	}{
		{"90 of 100 psi, and 80", func(_ *checker, _, _ *place) {}, 0.9, 68.9476},
		{"warm", func(_ *checker, o, _ *place) { o.State.Last.Reading.Hot = true }, 0, 0},
		{"both warm", func(_ *checker, o, i *place) {
			o.State.Last.Reading.Hot, i.State.Last.Reading.Hot = true, true
		}, 0, 68.9476},
		{"no target", func(_ *checker, o, _ *place) { o.axle.Pressure.Value = 0 }, 0, 68.9476},
		{"a target of 1 psi", func(_ *checker, o, _ *place) { o.axle.Pressure.Value = units.PSI }, 10, 68.9476},
		{"a target of 8 psi: more than ten times", func(_ *checker, o, _ *place) {
			o.axle.Pressure.Value = 8 * units.PSI
		}, 10, 68.9476},
		{"a day apart", func(_ *checker, _, i *place) { i.State.Last.At = noon.Add(-day) }, 0.9, 68.9476},
		{"more than a day", func(_ *checker, _, i *place) { i.State.Last.At = noon.Add(-day - 1) }, 0.9, 0},
		{"none taken", func(_ *checker, o, _ *place) { o.State.Last.Reading.Pressure = nil }, 0, 0},
		{"taken before it was fitted", func(_ *checker, o, _ *place) {
			o.State.FittedOn = &models.Point{At: noon.Add(time.Second)}
		}, 0, 0},
		{"taken as it was fitted", func(_ *checker, o, _ *place) { o.State.FittedOn = &models.Point{At: noon} },
			0.9, 68.9476},
	} {
		c := standing()
		outer, inner := c.tire("2LO", 14*units.ThirtySecond), c.tire("2LI", 14*units.ThirtySecond)
		inner.State.Last.Reading.Pressure.Value = 80 * units.PSI
		row.change(c, outer, inner)
		var f pattern.Facts
		c.pressureFacts(outer, &f)
		if !near(f.PressureToTarget, row.share, 1e-9) || !near(f.DualPressureKPa, row.apart, 1e-3) {
			t.Errorf("%s: share %g, apart %g kPa; want %g, %g", row.name, f.PressureToTarget, f.DualPressureKPa,
				row.share, row.apart)
		}
	}

	// 4/32 in of wear more make a diameter less by 8/32 in, 6.35 mm; without a size it is
	// not known.
	c := standing()
	outer, inner := c.tire("2LO", 14*units.ThirtySecond), c.tire("2LI", 10*units.ThirtySecond)
	var f pattern.Facts
	if c.pressureFacts(outer, &f); !near(f.DualDiameterMM, 6.35, 1e-6) {
		t.Errorf("diameters %g mm apart, want 6.35", f.DualDiameterMM)
	}
	inner.Tire.Size = "?"
	f = pattern.Facts{}
	if c.pressureFacts(outer, &f); f.DualDiameterMM != 0 {
		t.Errorf("diameters %g mm apart, of a size that cannot be read", f.DualDiameterMM)
	}
}

func near(a, b, tol float64) bool { return a-b <= tol && b-a <= tol }

// TestWornShare: from 18/32 in new to the pull point.
func TestWornShare(t *testing.T) {
	t.Parallel()
	for left, want := range map[units.Length]float64{18: 0, 19: 0, 12: 0.5, 9: 0.75, 6: 1, 3: 1} {
		c := standing()
		c.Policy.PullSteer = 6 * units.ThirtySecond
		p := c.tire("1L", left*units.ThirtySecond)
		if got := c.wornShare(p); !near(got, want, 1e-9) {
			t.Errorf("%d/32 in: worn %g, want %g", left, got, want)
		}
		p.Tire.NewDepths = nil
		if got := c.wornShare(p); got != 0 {
			t.Errorf("new depths not known: worn %g", got)
		}
	}
	c := standing()
	c.Policy.PullSteer = 18 * units.ThirtySecond
	if got := c.wornShare(c.tire("1L", 4*units.ThirtySecond)); got != 0 {
		t.Errorf("a pull point at the new depth: worn %g", got)
	}
	p := c.tire("1R", 4*units.ThirtySecond)
	p.read = nil
	if got := c.wornShare(p); got != 0 {
		t.Errorf("not read: worn %g", got)
	}
}

// TestWheelAndGauge: 295/75R22.5 is 571.5 + 2 x 221.25 = 1014 mm across (arithmetic of the
// designation); the step of a gauge is that of its scale, else that of the unit typed.
func TestWheelAndGauge(t *testing.T) {
	t.Parallel()
	c := standing()
	p := c.tire("1L", 14*units.ThirtySecond)
	if w := c.wheel(p); !near(w.RadiusMM, 507, 0.01) || !near(w.RimRadiusMM, 285.75, 1e-9) || w.CircumferenceMM < 3000 {
		t.Errorf("wheel %+v", w)
	}
	p.Tire.Size = "?"
	if w := c.wheel(p); w.RadiusMM != 0 || w.RimRadiusMM != 0 {
		t.Errorf("a wheel of no size: %+v", w)
	}

	for _, row := range []struct {
		step units.Length
		text string
		want float64
	}{
		{units.Millimetre / 2, "5/32", 0.5}, {0, "5/32", pattern.Step}, {0, "", pattern.Step}, {0, "4.0 mm", 0.1},
	} {
		m := &models.Measured{Gauge: models.Gauge{Resolution: row.step}}
		if got := resolution(m, models.Depth{Text: row.text}); !near(got, row.want, 1e-12) {
			t.Errorf("step %v, typed %q: %g mm, want %g", row.step, row.text, got, row.want)
		}
	}
}

// TestUnevenFrom: a difference of 2/32 in or six stations ask for an account.
func TestUnevenFrom(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name   string
		change func(*place)
		want   bool
	}{
		{"even", func(*place) {}, false},
		{"2/32 in apart", func(p *place) { p.read.Reading.Depths[0][0].Value -= 2 * units.ThirtySecond }, true},
		{"a nanometre less", func(p *place) { p.read.Reading.Depths[0][0].Value -= 2*units.ThirtySecond - 1 }, false},
		{"2/32 in apart when new", func(p *place) {
			p.read.Reading.Depths[0][0].Value -= 2 * units.ThirtySecond
			p.Tire.NewDepths[0] -= 2 * units.ThirtySecond
		}, false},
		{"new depths of other grooves", func(p *place) {
			p.read.Reading.Depths[0][0].Value -= 2 * units.ThirtySecond
			p.Tire.NewDepths = p.Tire.NewDepths[:1]
		}, true},
		{"six stations", func(p *place) {
			p.read.Reading.Depths[1] = slices.Repeat(p.read.Reading.Depths[1], 6)
		}, true},
		{"five stations", func(p *place) {
			p.read.Reading.Depths[1] = slices.Repeat(p.read.Reading.Depths[1], 5)
		}, false},
		{"not read", func(p *place) { p.read = nil }, false},
	} {
		c := standing()
		p := c.tire("1L", 14*units.ThirtySecond)
		row.change(p)

		if got := c.uneven(p); got != row.want {
			t.Errorf("%s: %v, want %v", row.name, got, row.want)
		}
	}
}

// TestPreviousVisit: the reading before the newest, of the same place and with a depth;
// another person or gauge is noted.
func TestPreviousVisit(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name         string
		change       func(p *place, m *models.Measured)
		there, other bool
	}{
		{"of the same place", func(*place, *models.Measured) {}, true, false},
		{"of another place", func(p *place, m *models.Measured) {
			p.State.PlacedAt = &models.Point{At: m.At.Add(time.Second)}
		}, false, false},
		{"read as it came there", func(p *place, m *models.Measured) { p.State.PlacedAt = &models.Point{At: m.At} },
			true, false},
		{"the newest itself", func(p *place, _ *models.Measured) { p.State.Previous = p.read }, false, false},
		{"none", func(p *place, _ *models.Measured) { p.State.Previous = nil }, false, false},
		{"without a depth", func(_ *place, m *models.Measured) { m.Reading.Depths = nil }, false, false},
		{"another person", func(_ *place, m *models.Measured) { m.Person = "Ann Example (invented)" }, true, true},
		{"another gauge", func(_ *place, m *models.Measured) { m.Gauge.Name = "other" }, true, true},
	} {
		c := standing()
		p := c.tire("1L", 14*units.ThirtySecond)
		before := *p.read
		before.At = noon.Add(-30 * day)
		p.State.Previous = &before
		row.change(p, &before)

		got := previousVisit(p)
		if (got != nil) != row.there || got != nil && got.OtherGauge != row.other {
			t.Errorf("%s: %+v", row.name, got)
		}
	}
}

// TestSameLine: dues are one line only if they differ in nothing but their places.
func TestSameLine(t *testing.T) {
	t.Parallel()
	km := units.DistanceFromKilometres(1000)
	other := units.DistanceFromKilometres(2000)
	same := Due{Code: models.BelowPull, What: "pull point", Positions: []models.Position{"1L"}, At: noon, Odometer: &km,
		Limit: units.Millimetre, Years: 3, Why: "as read"}

	for name, change := range map[string]func(*Due){
		"code": func(d *Due) { d.Code = models.NearPull }, "what": func(d *Due) { d.What = "age" },
		"no places": func(d *Due) { d.Positions = nil }, "time": func(d *Due) { d.At = noon.Add(1) },
		"odometer": func(d *Due) { d.Odometer = &other }, "no odometer": func(d *Due) { d.Odometer = nil },
		"limit": func(d *Due) { d.Limit++ }, "years": func(d *Due) { d.Years++ },
		"estimated": func(d *Due) { d.Estimated = true }, "why": func(d *Due) { d.Why = "by its wear" },
	} {
		d := same
		change(&d)
		if d.sameLine(same) || same.sameLine(d) {
			t.Errorf("another %s is the same line", name)
		}
	}

	d := same
	d.Positions = []models.Position{"1R"}
	again := km
	d.Odometer = &again
	if !d.sameLine(same) {
		t.Error("another place is another line")
	}
	d.Odometer, same.Odometer = nil, nil
	if !d.sameLine(same) {
		t.Error("without an odometer another place is another line")
	}
}

// TestSmallParts: bounds and orders that tables of findings hardly reach.
func TestSmallParts(t *testing.T) {
	t.Parallel()
	for n, want := range map[float64]time.Duration{1: day, 36500: 36500 * day, 36501: 36500 * day, -36501: -36500 * day,
		0.5: 12 * time.Hour} {
		if got := days(n); got != want {
			t.Errorf("%g days are %v, want %v", n, got, want)
		}
	}

	law, off := legal.Rule{ID: "a", Consequence: legal.Violation}, legal.Rule{ID: "b", Consequence: legal.OutOfService}
	if own := (legal.Rule{ID: ownID, Consequence: legal.Violation}); !(orderOfForce(law) < orderOfForce(off) &&
		orderOfForce(off) < orderOfForce(own)) {
		t.Error("law comes first, then what puts out of service, then the depot's own")
	}
	for want, r := range map[bool]legal.Rule{true: off, false: {Consequence: legal.Advisory}} {
		if binding(r) != want {
			t.Errorf("%+v binds: %v", r, !want)
		}
	}
	if binding(legal.Rule{Consequence: legal.Violation, Situational: true}) {
		t.Error("a rule for some weather binds in all")
	}

	for _, row := range []struct {
		f    wear.Forecast
		want string
	}{
		{wear.Forecast{}, ""}, {wear.Forecast{PriorOnly: true, TooEarly: true}, "usually do"},
		{wear.Forecast{TooEarly: true}, "too little"}, {wear.Forecast{LackOfFit: true}, "steady"},
		{wear.Forecast{Suspect: true}, "suspect"},
	} {
		got := doubtsOf(row.f)
		if text := strings.Join(got, "; "); len(got) > 1 || (row.want == "") != (text == "") ||
			!strings.Contains(text, row.want) {
			t.Errorf("%+v: %v, want %q", row.f, got, row.want)
		}
	}

	c := standing()
	us := c.settling().Text
	c.Depot.Units = units.Metric
	metric := c.settling().Text
	for text, want := range map[string][2]float64{us: {80.4672, 160.9344}, metric: {80, 160}} { // 50 and 100 miles
		from, to := units.DistanceFromKilometres(want[0]), units.DistanceFromKilometres(want[1])
		if !strings.Contains(text, units.MarkDistance(from)) || !strings.Contains(text, units.MarkDistance(to)) {
			t.Errorf("%q does not name %g and %g km", text, want[0], want[1])
		}
	}
}

// TestAboutOnePlace: what was found about another tire or another place says nothing of this
// one.
func TestAboutOnePlace(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name string
		f    models.Finding
		want bool
	}{
		{"here", models.Finding{TireID: "t1L", Position: "1L"}, true},
		{"of the tire elsewhere", models.Finding{TireID: "t1L", Position: "1R"}, false},
		{"of another tire here", models.Finding{TireID: "t1R", Position: "1L"}, false},
	} {
		c := standing()
		p := c.tire("1L", 14*units.ThirtySecond)
		row.f.Code, row.f.Urgency = models.NotBalanced, models.DoNow
		c.findings = []models.Finding{row.f}
		if c.unbalanced(p) != row.want || c.has(p, models.DoNow, models.NotBalanced) != row.want {
			t.Errorf("%s: %v, want %v", row.name, c.unbalanced(p), row.want)
		}
		if c.has(p, models.OffTheRoad, models.NotBalanced) {
			t.Errorf("%s: more urgent than it is", row.name)
		}
	}

	c := standing()
	p := c.tire("1L", 14*units.ThirtySecond)
	for axle, want := range map[int]bool{0: true, 1: true, 2: false} {
		c.State.Observations = []models.Observation{{Code: models.ObsLooseness, Axle: axle}}
		if c.noted(p, models.ObsLooseness) != want || c.noted(p, models.ObsDamperLeak) {
			t.Errorf("noted of axle %d: %v, want %v", axle, !want, want)
		}
	}
}

// TestFastFrom: wear is fast from one and a half times the usual rate on, by readings of this
// tire that can be trusted, the whole 90 % interval above the usual (chosen by us).
func TestFastFrom(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name   string
		change func(*wear.State)
		want   bool
	}{
		{"a little above", func(s *wear.State) { s.RateMM = 0.1502 }, true},
		{"a little below", func(s *wear.State) { s.RateMM = 0.1498 }, false},
		{"hardly known", func(s *wear.State) { s.RateMM, s.RateInfo = 0.16, 400 }, false},
		{"read at one place", func(s *wear.State) { s.RateMM, s.Places = 0.2, 0 }, false},
		{"too little wear", func(s *wear.State) { s.RateMM, s.LastMM = 0.2, 9.5 }, false},
		{"the last reading is suspect", func(s *wear.State) { s.RateMM, s.Pending = 0.2, true }, false},
		{"nothing is usual", func(s *wear.State) { s.RateMM, s.Prior.RateMean = 0.2, 0 }, false},
	} {
		c := standing()
		p := c.tire("1L", 14*units.ThirtySecond)
		p.State.MinWear = &wear.State{Prior: wear.Prior{RateMean: 0.1, RateSD: 0.05, OutlierZ: 3}, XKM: 100_000,
			DepthMM: 11, RateMM: 0.1, DepthInfo: 100, RateInfo: 1e8, Count: 9, Places: 8, FirstMM: 14, FirstVar: 0.1,
			LastMM: 11, ResolutionMM: 0.1}
		if row.name == "too little wear" {
			p.State.MinWear.FirstMM = 11
		}
		row.change(p.State.MinWear)

		if c.fastWear(p); (len(c.findings) == 1) != row.want {
			t.Errorf("%s: %d findings, want it %v", row.name, len(c.findings), row.want)
		}
		c.findings, c.added = nil, map[models.FindingKey]bool{}
		p.spare = true
		if c.fastWear(p); len(c.findings) != 0 {
			t.Errorf("%s: a spare wears", row.name)
		}
	}
}
