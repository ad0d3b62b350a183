package assess_test

import (
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/units"
)

// plain is a vehicle for rows about one rule: no policy but the days ahead.
func plain(class models.Class, jurisdiction string, axles ...models.Axle) *scene {
	return healthy(class, jurisdiction, axles...).with(func(s *scene) {
		s.Policy = models.Policy{DueDays: 14, ForecastDays: 30}
	})
}

// own gives the depot a minimum of its own.
func own(class models.Class, role models.AxleRole, l units.Length) func(*scene) {
	return func(s *scene) {
		s.Depot.OwnRules = append(s.Depot.OwnRules, models.OwnRule{Class: class, Role: role, MinDepth: *depth(l),
			Reason: "wet roads"})
	}
}

// TestWhatBinds: advice and rules for some roads or weather ask for a plan and take nothing
// off the road (Japan's notice on expressways, 2.4 mm for light trucks; New Zealand's 4 mm
// for winter tires); a rule of season binds in its season (Sweden, 5 mm over 3.5 t from
// 10 November to 10 April; all read second-hand). The legal minimum is what binds.
func TestWhatBinds(t *testing.T) {
	t.Parallel()
	mm := units.LengthFromMillimetres
	light := func(l float64) *scene {
		return plain(models.LightTruck, "JP", models.Axle{Steered: true}, models.Axle{Driven: true}).all(mm(l))
	}
	mark := func(s *scene) {
		for i := range s.Tires {
			s.Tires[i].Tire.Winter = true
		}
	}
	summer := func(l float64) *scene { return plain(models.Car, "NZ", models.Axle{Steered: true}).all(mm(l)) }
	winter := func(l float64) *scene { return summer(l).with(mark) }
	sweden := func(date string) *scene {
		s := plain(models.RigidTruck, "SE", models.Axle{Steered: true}).all(mm(4)).with(set(date)).with(mark)
		s.Vehicle.MaxMassKG = 18_000
		return s
	}
	everywhere := func(word string, places ...string) []string {
		var out []string
		for _, p := range places {
			out = append(out, p+" "+word)
		}
		return out
	}

	run(t, []row{
		{"Japan, 2.4 mm", light(2.4), nil},
		{"Japan, 2.3 mm: no expressway", light(2.3), everywhere("near_legal: plan", "1L", "1R", "2L", "2R")},
		{"Japan, below 1.6 mm", light(1.5), everywhere("below_legal: off the road", "1L", "1R", "2L", "2R")},
		{"winter tires in New Zealand, 4 mm", winter(4), nil},
		{"winter tires in New Zealand, 3.9 mm", winter(3.9), everywhere("near_legal: plan", "1L", "1R")},
		{"other tires in New Zealand, 3.9 mm", summer(3.9), nil},
		{"Sweden on 10 November", sweden("2026-11-10"), everywhere("below_legal: off the road", "1L", "1R")},
		{"Sweden the day before", sweden("2026-11-09"), everywhere("near_legal: plan", "1L", "1R")},
		{"Sweden on 10 April", sweden("2026-04-10"), everywhere("below_legal: off the road", "1L", "1R")},
		{"Sweden on 11 April", sweden("2026-04-11"), nil},
		{"Sweden, 31 days before", sweden("2026-10-10"), nil},
		{"Sweden, 30 days before", sweden("2026-10-11"), everywhere("near_legal: plan", "1L", "1R")},
	})

	for name, row := range map[string]struct {
		of   *scene
		want units.Length
	}{
		"Japan: not the notice":               {light(8), mm(1.6)},
		"New Zealand: not the advice":         {winter(8), mm(1.5)},
		"Sweden in winter":                    {sweden("2026-12-01"), mm(5)},
		"the United States, steered":          {tractor(), 4 * in32},
		"the depot's own, above the law":      {tractor().with(own("", "", 5*in32)), 5 * in32},
		"the depot's own, below the law":      {tractor().with(own("", "", 3*in32)), 4 * in32},
		"the depot's own, for other vehicles": {tractor().with(own(models.Trailer, "", 5*in32)), 4 * in32},
		"the depot's own, two of them":        {tractor().with(own("", "", 5*in32)).with(own("", "", 6*in32)), 6 * in32},
	} {
		if got := assess.Assess(row.of.Snapshot).LegalMinimum["1L"]; got != row.want {
			t.Errorf("%s: legal minimum %v, want %v", name, got, row.want)
		}
	}
}

// TestOwnMinimum: a depot's own minimum counts for the class and the role that it names,
// every one where it names none, and never hides the law.
func TestOwnMinimum(t *testing.T) {
	t.Parallel()
	steer := []string{"1L below_legal: off the road", "1R below_legal: off the road"}
	worn := func() *scene { return tractor().axle(1, 11*in32).with(func(s *scene) { s.Policy.WatchAbove = 0 }) }

	run(t, []row{
		{"for every vehicle", worn().with(own("", "", 12*in32)), steer},
		{"at the number", worn().with(own("", "", 11*in32)),
			[]string{"1L near_legal: do now", "1R near_legal: do now"}},
		{"above the number", worn().with(own("", "", 11*in32-1)), nil},
		{"for tractors", worn().with(own(models.Tractor, "", 12*in32)), steer},
		{"for trailers", worn().with(own(models.Trailer, "", 12*in32)), nil},
		{"for the steered axles of tractors", worn().with(own(models.Tractor, models.RoleSteer, 12*in32)), steer},
		{"for the driven axles of tractors", worn().with(own(models.Tractor, models.RoleDrive, 12*in32)), nil},
		{"for the steered axles of trailers", worn().with(own(models.Trailer, models.RoleSteer, 12*in32)), nil},
	})

	for name, row := range map[string]struct {
		of   *scene
		want string
	}{
		"below both":    {tractor().with(own("", "", 12*in32)), "3/32 in at 1L, below the legal 4/32 in"},
		"below one":     {tractor().with(own("", "", 12*in32)), "9/32 in at 1L, below the depot's own 12/32 in"},
		"below the law": {tractor(), "3/32 in at 1L, below the legal 4/32 in"},
	} {
		l := 3 * in32
		if strings.HasPrefix(row.want, "9") {
			l = 9 * in32
		}
		row.of.reading("1L").Depths = grid(l, 3, 1)
		for _, f := range assess.Assess(row.of.Snapshot).Findings {
			if f.Code == models.BelowLegal && f.Position == "1L" && usStyle.Render(f.Title) != row.want {
				t.Errorf("%s: %q, want %q", name, usStyle.Render(f.Title), row.want)
			}
		}
	}
}

// TestAge: makers advise to watch from 6 years and to replace at 10 (common practice); an
// old code means 1999 or older; Ontario's handbook says 10 years for every tire
// (second-hand), whatever the policy. 2716 is week 27 of 2016, from 1 July.
func TestAge(t *testing.T) {
	t.Parallel()
	made := func(jurisdiction, tin, date string, limit int) *scene {
		return plain(models.RigidTruck, jurisdiction, models.Axle{Steered: true}).with(set(date)).with(func(s *scene) {
			s.at("1L").Tire.TIN = tin
			s.Policy.AgeWatchYears, s.Policy.AgeLimitYears = 6, limit
		})
	}
	const code = "B9JAXK22716"

	run(t, []row{
		{"six years tomorrow", made("US", code, "2022-06-30", 10), nil},
		{"six years", made("US", code, "2022-07-01", 10), []string{"1L age_watch: watch"}},
		{"six years, not watched", made("US", code, "2022-07-01", 10).with(func(s *scene) { s.Policy.AgeWatchYears = 0 }),
			nil},
		{"ten years in 15 days", made("US", code, "2026-06-16", 10), []string{"1L age_watch: watch"}},
		{"ten years in 14 days", made("US", code, "2026-06-17", 10), []string{"1L age_limit: plan"}},
		{"ten years, no limit", made("US", code, "2026-07-01", 0), []string{"1L age_watch: watch"}},
		{"ten years by law, no policy", made("CA-ON", code, "2026-07-01", 0), []string{"1L age_limit: off the road"}},
		{"ten years by law, twelve by policy", made("CA-ON", code, "2026-07-01", 12),
			[]string{"1L age_limit: off the road"}},
		{"a day before, by law", made("CA-ON", code, "2026-06-30", 12), []string{"1L age_limit: plan"}},
		{"eight by policy, ten by law, nine years old", made("CA-ON", code, "2025-07-01", 8),
			[]string{"1L age_limit: plan"}},
		{"eight by policy, ten by law, ten years old", made("CA-ON", code, "2026-07-01", 8),
			[]string{"1L age_limit: off the road"}},
		{"a code that cannot be read", made("US", "made up", "2026-07-01", 10), nil},
		{"a code of three digits: before 2000", made("US", "B9JAXKX279", "2009-12-31", 10),
			[]string{"1L age_limit: plan"}},
	})

	for date, want := range map[string]string{
		"2026-06-20": "tire at 1L reaches its limit of 10 years on ",
		"2026-07-01": "tire at 1L is over its limit of 10 years, made in ",
	} {
		f := one(t, made("CA-ON", code, date, 12), models.AgeLimit)
		ends := time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
		if !strings.HasPrefix(f.Title, want) || f.DueAt == nil || !f.DueAt.Equal(ends) {
			t.Errorf("on %s: %q, due %v", date, f.Title, f.DueAt)
		}
	}
}

// TestLoadIndices: New Zealand lets load indices on one axle of a bus differ by 6 (VIRM
// heavy PSV 10-1, read); where no rule says so, or one is not known, nothing is compared.
func TestLoadIndices(t *testing.T) {
	t.Parallel()
	bus := func(jurisdiction, left, right string) *scene {
		return plain(models.Bus, jurisdiction, models.Axle{Steered: true}).with(func(s *scene) {
			s.at("1L").Tire.Size, s.at("1R").Tire.Size = "295/75R22.5"+left, "295/75R22.5"+right
		})
	}
	apart := []string{"1L axle_mismatch: do now"}

	run(t, []row{
		{"6 apart", bus("NZ", " 144/141L", " 150/147L"), nil},
		{"7 apart, the right one larger", bus("NZ", " 144/141L", " 151/148L"), apart},
		{"7 apart, the left one larger", bus("NZ", " 151/148L", " 144/141L"), apart},
		{"7 apart where no rule is known", bus("DE", " 144/141L", " 151/148L"), nil},
		{"the right one not known", bus("NZ", " 144/141L", ""), nil},
		{"the left one not known", bus("NZ", "", " 144/141L"), nil},
	})
}

// TestDiameterByWear: a tire that has lost a depth all around is twice that smaller across.
// Duals of one size are compared by what was worn off, not by what is left: 1/4 in of
// diameter is 4/32 in of depth, 1/2 in is 8/32 (geometry; limits of the trade and of
// 49 CFR 570.62(b)).
func TestDiameterByWear(t *testing.T) {
	t.Parallel()
	pair := func(policy units.Length, outer, inner units.Length) *scene {
		s := plain(models.Tractor, "US", models.Axle{Steered: true}, models.Axle{Driven: true, Dual: true})
		s.Policy.DualDiameter = policy
		s.reading("2LO").Depths, s.reading("2LI").Depths = grid(outer, 3, 1), grid(inner, 3, 1)
		return s
	}
	newDepth := func(p models.Position, l units.Length) func(*scene) {
		return func(s *scene) { // grooves of three depths, worn evenly
			s.at(p).Tire.NewDepths = []units.Length{l - in32, l, l + in32}
			d := s.reading(p).Depths
			d[0][0], d[2][0] = depth(d[0][0].Value-in32), depth(d[2][0].Value+in32)
		}
	}
	const quarter = units.Inch / 4

	run(t, []row{
		{"4/32 apart", pair(quarter, 16*in32, 12*in32), nil},
		{"4/32 apart, the other worn", pair(quarter, 12*in32, 16*in32), nil},
		{"a micrometre more", pair(quarter, 16*in32, 12*in32-units.Micrometre), []string{"2LO dual_mismatch: plan"}},
		{"a micrometre more, the other worn", pair(quarter, 12*in32-units.Micrometre, 16*in32),
			[]string{"2LO dual_mismatch: plan"}},
		{"worn alike from other new depths", pair(quarter, 16*in32, 10*in32).with(newDepth("2LI", 12*in32)), nil},
		{"left alike from other new depths", pair(quarter, 12*in32, 12*in32).with(newDepth("2LI", 23*in32)),
			[]string{"2LO dual_mismatch: plan"}},
		{"no policy, 8/32 apart", pair(0, 16*in32, 8*in32), nil},
		{"no policy, two micrometres more", pair(0, 16*in32, 8*in32-2*units.Micrometre),
			[]string{"2LO dual_mismatch: do now"}},
		{"a new depth that is not known", pair(quarter, 16*in32, 8*in32).
			with(func(s *scene) { s.at("2LI").Tire.NewDepths = nil }), nil},
	})
}

// TestWhenDue: a distance that was covered between two odometers is dated between them in
// proportion, one ahead by the use per day (100 km here; of a car that never told, the 50
// km usual for a car).
func TestWhenDue(t *testing.T) {
	t.Parallel()
	rotated := func(interval float64, from models.Point, last models.Odometer, at time.Time,
		perDay float64) models.Finding {

		s := plain(models.Car, "GB", models.Axle{Steered: true}).with(func(s *scene) {
			s.Policy.RotateKM = interval
			s.State.LastRotation, s.State.Odometer, s.State.OdometerAt = &from, last, at
			s.State.Use.KMPerDay = perDay
			for i := range s.Tires {
				s.Tires[i].State.PlacedAt = &from
			}
		})
		return one(t, s, models.RotationOverdue)
	}
	from := models.Point{At: ago(100 * day), Odometer: km(90_000)}
	unread, guessed := models.Point{At: from.At}, km(110_000)
	guessed.Estimated = true

	for name, row := range map[string]struct {
		got       models.Finding
		at        time.Time
		odometer  float64 // km, 0: not known
		estimated bool
	}{
		"half of what was covered": {rotated(10_000, from, km(110_000), now, 100), ago(50 * day), 100_000, false},
		"exactly what was covered": {rotated(20_000, from, km(110_000), now, 100), now, 110_000, false},
		"between, to a guess":      {rotated(10_000, from, guessed, now, 100), ago(50 * day), 100_000, true},
		"ahead":                    {rotated(21_000, from, km(110_000), ago(day), 100), now.Add(9 * day), 111_000, true},
		"no odometer now":          {rotated(9_900, from, models.Odometer{}, time.Time{}, 100), ago(day), 0, true},
		"no odometer then":         {rotated(9_900, unread, km(110_000), now, 100), ago(day), 0, true},
		"an odometer from before":  {rotated(9_900, from, km(95_000), ago(101*day), 100), ago(day), 0, true},
		"a new counter":            {rotated(9_900, from, km(500), now, 100), ago(day), 0, true},
		"no use known":             {rotated(5_000, unread, km(1), now, 0), now, 0, true},
		"it stands still":          {rotated(10, unread, km(1), now, 0.0001), now, 0, true},
	} {
		f := row.got
		if f.DueAt == nil || f.DueAt.Sub(row.at).Abs() > time.Second || f.Estimated != row.estimated ||
			(f.DueOdometer == nil) != (row.odometer == 0) {
			t.Errorf("%s: due %v at %v, estimated %v; want %v", name, f.DueAt, f.DueOdometer, f.Estimated, row.at)
		}
		if f.DueOdometer != nil && f.DueOdometer.Kilometres() != row.odometer {
			t.Errorf("%s: due at %g km, want %g", name, f.DueOdometer.Kilometres(), row.odometer)
		}
	}
}
