package assess_test

import (
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/units"
)

// TestDamage: what takes a tire off the road at once (49 CFR 393.75(a) as quoted
// in public texts, second-hand; state inspection rules, read; roadside practice, second-hand or common practice).
func TestDamage(t *testing.T) {
	t.Parallel()

	damaged := func(p models.Position, codes ...models.ObservationCode) *scene {
		s := tractor()
		for _, c := range codes {
			st := &s.at(p).State
			st.Damage = append(st.Damage,
				models.ActiveDamage{Point: models.Point{At: ago(3 * day)}, Observation: models.Observation{Code: c}})
		}

		return s
	}

	var rows []row
	for _, c := range models.PositionCodes {
		if c.TakesOffRoad() {
			rows = append(rows,
				row{string(c) + " takes it off the road", damaged("2RI", c), []string{"2RI damage: off the road"}})
		}
	}

	run(t, append(rows, []row{
		{
			"two damages are one finding",
			damaged("2RI", models.ObsBulge, models.ObsLeak),
			[]string{"2RI damage: off the road"},
		},
		{"seen and cleared", tractor().observe("2RI", models.ObsBulge), nil},
		{
			"a cut, a nail, cracks and a valve are looked at",
			tractor().observe("1R", models.ObsCut, models.ObsNail, models.ObsCracks, models.ObsValve),
			[]string{"1R damage_minor: plan"},
		},
		{"smooth and dirt are no damage", tractor().observe("1R", models.ObsSmooth, models.ObsDirt), nil},
		{"a damaged spare must not be fitted", spare(14 * in32).with(func(s *scene) {
			s.at("SP1").State.Damage = []models.ActiveDamage{
				{Point: models.Point{At: ago(day)}, Observation: models.Observation{Code: models.ObsBulge}},
			}
		}), []string{"SP1 damage: do now"}},
		{"readings that do not fit", tractor().with(func(s *scene) {
			s.at("1L").State.Doubts = []string{"thinnest groove: read 9.0 mm where 6.0 mm was expected"}
		}), []string{"1L suspect_data: watch"}},
		{
			"a place without a tire",
			tractor().with(func(s *scene) { s.Tires = s.Tires[1:] }),
			[]string{"1L empty_position: watch"},
		},
		{"a spare place without a spare", tractor().with(func(s *scene) { s.Vehicle.Spares = 2 }), nil},
	}...))

	s := damaged("2RI", models.ObsBulge, models.ObsLeak)
	s.at("2RI").State.Damage[1].At = ago(5 * day)
	f := one(t, s, models.Damage)
	if f.Title != "bulge; leak at 2RI" || !f.Since.Equal(ago(5*day)) || f.Safety == "" || f.Notice == "" ||
		len(f.Evidence) != 2 {
		t.Errorf("damage finding %+v: want both damages, since the first, caution and notice", f)
	}
}

// TestPressure: 80 % counts as run flat (29 CFR 1910.177, read); low is a setting;
// 5 psi between duals is a trade rule (read).
func TestPressure(t *testing.T) {
	t.Parallel()
	at := func(p float64) *scene { return tractor().with(func(s *scene) { s.reading("1L").Pressure = psi(p) }) }
	dual := func(outer, inner float64) *scene {
		return tractor().with(func(s *scene) {
			s.reading("2LO").Pressure, s.reading("2LI").Pressure = psi(outer), psi(inner)
		})
	}

	run(t, []row{
		{"80 % of the target is run flat", at(80), []string{"1L run_flat: off the road"}},
		{"just above 80 % is low", at(80.001), []string{"1L pressure_low: do now"}},
		{"just below 90 % is low", at(89.999), []string{"1L pressure_low: do now"}},
		{"90 % is enough", at(90), nil},
		{"a warm tire at 95 % is not called low", at(95).with(func(s *scene) { s.reading("1L").Hot = true }), nil},
		{
			"a warm tire that is low even so",
			at(85).with(func(s *scene) { s.reading("1L").Hot = true }),
			[]string{"1L pressure_low: do now"},
		},
		{"no target is set", at(40).with(func(s *scene) { s.Vehicle.Axles[0].Pressure = models.Pressure{} }), nil},
		{
			"the valve could not be reached",
			tractor().with(func(s *scene) { s.reading("1L").Pressure, s.reading("1L").NotReached = nil, true }),
			nil,
		},
		{
			"the pressure was taken before it was fitted here",
			at(40).with(func(s *scene) { s.at("1L").State.FittedOn.At = ago(day) }),
			nil,
		},
		{
			"a car at 80 % is looked at inside, not parked",
			car("GB").with(func(s *scene) { s.reading("1L").Pressure = psi(80) }),
			[]string{"1L run_flat: do now"},
		},
		{
			"a spare at 80 % stops nobody",
			spare(14 * in32).with(func(s *scene) { s.reading("SP1").Pressure = psi(80) }),
			[]string{"SP1 run_flat: plan"},
		},
		{"a pair 5 psi apart", dual(100, 95), nil},
		{"a pair more than 5 psi apart", dual(100, 94.999), []string{"2LO dual_pressure_apart: do now"}},
		{"the inner one is higher", dual(95, 100.001), []string{"2LO dual_pressure_apart: do now"}},
		{"one of the pair is low: that says it", dual(100, 85), []string{"2LI pressure_low: do now"}},
		{"one of the pair ran flat: that says it", dual(80, 100), []string{"2LO run_flat: off the road"}},
		{"one of the pair was warm", dual(100, 92).with(func(s *scene) { s.reading("2LO").Hot = true }), nil},
		{
			"the pair was read on different days",
			dual(100, 92).with(func(s *scene) { s.at("2LI").State.Last.At = ago(4 * day) }),
			nil,
		},
	})

	f := one(t, at(80), models.RunFlat)
	for _, want := range []string{"Never just top it up", "valve core", "looked at inside", "restraint"} {
		if !strings.Contains(f.Safety, want) {
			t.Errorf("run-flat caution %q lacks %q", f.Safety, want)
		}
	}
}

// TestMatch: 4/32 in depth and 1/4 in diameter in a pair (trade press and a tire
// maker's data sheet of 2011, read); 5 mm across an axle in France (read); one
// construction on an axle (19VAC30-70-500, read).
func TestMatch(t *testing.T) {
	t.Parallel()
	pair := func(outer, inner units.Length) *scene {
		return tractor().with(func(s *scene) {
			s.axle(2, outer)
			s.reading("2LI").Depths, s.reading("2RI").Depths = grid(inner, 3, 1), grid(inner, 3, 1)
		})
	}

	ends := func(jurisdiction string, left, right units.Length) *scene {
		return car(
			jurisdiction,
		).with(func(s *scene) { s.reading("2L").Depths, s.reading("2R").Depths = grid(left, 3, 1), grid(right, 3, 1) })
	}

	mm := units.LengthFromMillimetres
	size := func(p models.Position, text string) *scene {
		return tractor().with(func(s *scene) { s.at(p).Tire.Size = text })
	}

	run(t, []row{
		{"a pair at 14/32 and 10/32 is at the limit (sanity case e)", pair(14*in32, 10*in32), nil},
		{
			"a pair more than 4/32 apart",
			pair(14*in32, 10*in32-1),
			[]string{"2LO dual_mismatch: plan", "2RO dual_mismatch: plan"},
		},
		{"a pair of two sizes: 49 CFR 570.62(b) refuses more than 1/2 in, and 1050 - 1014 mm is 1.4 in",
			size("3LO", "11R22.5"), []string{"3LO dual_mismatch: do now"}},
		{
			"where no law is known, the trade's rule",
			size("3LO", "11R22.5").with(func(s *scene) { s.Depot.Jurisdiction = "DE" }),
			[]string{"3LO dual_mismatch: plan"},
		},
		{"sizes that cannot be read are not compared", size("3LO", "made up"), nil},
		{
			"Maryland refuses more than 1/2 in between duals",
			size("3LO", "11R22.5").with(func(s *scene) { s.Depot.Jurisdiction = "US-MD" }),
			[]string{"3LO dual_mismatch: do now"},
		},
		{"an axle 4/32 apart", ends("US", 14*in32, 10*in32), nil},
		{"an axle more than 4/32 apart", ends("US", 10*in32-1, 14*in32), []string{"2L axle_mismatch: plan"}},
		{
			"an axle 5.0 mm apart in France passes the law, not the policy",
			ends("FR", mm(11), mm(6)),
			[]string{"2L axle_mismatch: plan"},
		},
		{"an axle more than 5 mm apart in France", ends("FR", mm(11), mm(6)-1), []string{"2L axle_mismatch: do now"}},
		{"radial and bias on one axle", size("1R", "295/75D22.5"), []string{"1L axle_mismatch: do now"}},
		{"a spare is nobody's mate", spare(6 * in32), nil},
	})
}

// TestTurnedTires: a retread on the front of a bus (49 CFR 393.75(d), read) and age
// (GB from 1 Feb 2021, second-hand; makers' advice of 6 and 10 years, common practice). 2716 is week 27
// of 2016, which begins on 1 January plus 26 weeks, 1 July.
func TestTurnedTires(t *testing.T) {
	t.Parallel()
	bus := func(jurisdiction string, p models.Position) *scene {
		s := healthy(models.Bus, jurisdiction, models.Axle{Steered: true}, models.Axle{Driven: true})
		s.Vehicle.MaxMassKG, s.Vehicle.Seats = 18_000, 45
		s.at(p).Tire.LifeIndex = 1
		return s
	}

	made := func(jurisdiction string, p models.Position, tin string) *scene {
		s := healthy(models.RigidTruck, jurisdiction, models.Axle{Steered: true}, models.Axle{Driven: true})
		s.Vehicle.MaxMassKG = 18_000
		s.at(p).Tire.TIN = tin
		return s
	}

	run(t, []row{
		{"retread in front of a bus", bus("US", "1L"), []string{"1L retread_barred: off the road"}},
		{"retread at the back of a bus", bus("US", "2L"), nil},
		{"retread in front of a bus elsewhere", bus("DE", "1L"), []string{"1L retread_barred: plan"}},
		{
			"regrooved in front of a bus",
			bus("US-MD", "2L").with(func(s *scene) { s.at("1R").Tire.Regrooved = true }),
			[]string{"1R retread_barred: off the road"},
		},
		{
			"retread in front of a truck",
			made("US", "1L", "").with(func(s *scene) { s.at("1L").Tire.LifeIndex = 2 }),
			nil,
		},
		{
			"ten years in two weeks and two days",
			made("GB", "1L", "B9JAXK22716").with(set("2026-06-15")),
			[]string{"1L age_watch: watch"},
		},
		{
			"ten years in two weeks",
			made("GB", "1L", "B9JAXK22716").with(set("2026-06-17")),
			[]string{"1L age_limit: plan"},
		},
		{
			"the day before ten years",
			made("GB", "1L", "B9JAXK22716").with(set("2026-06-30")),
			[]string{"1L age_limit: plan"},
		},
		{
			"ten years, front axle of a truck in Britain",
			made("GB", "1L", "B9JAXK22716").with(set("2026-07-01")),
			[]string{"1L age_limit: off the road"},
		},
		{
			"a policy of eight years, stricter than the law",
			made("GB", "1L", "B9JAXK22718").with(set("2026-07-10")).with(func(s *scene) { s.Policy.AgeLimitYears = 8 }),
			[]string{"1L age_limit: plan"},
		},
		{
			"ten years, drive axle",
			made("GB", "2L", "B9JAXK22716").with(set("2026-07-01")),
			[]string{"2L age_limit: plan"},
		},
		{"ten years, no law", made("US", "1L", "B9JAXK22716").with(set("2026-07-01")), []string{"1L age_limit: plan"}},
		{
			"a retread's casing is ten years old in Britain",
			made("GB", "1L", "B9JAXK22716").with(set("2026-07-01")).
				with(func(s *scene) { s.at("1L").Tire.LifeIndex = 1 }),
			[]string{"1L age_limit: plan"},
		},
		{"six years tomorrow", made("US", "1L", "B9JAXK22720").with(set("2026-06-30")), nil},
		{"six years", made("US", "1L", "B9JAXK22720").with(set("2026-07-01")), []string{"1L age_watch: watch"}},
		{"a code of before 2000", made("US", "1L", "B9JAXK2LM509"), []string{"1L age_limit: plan"}},
		{"361 is week 36 of a year before 2000", made("US", "1L", "B9JA XK2 361"), []string{"1L age_limit: plan"}},
		{"so it is in one run: no tire is of 2061", made("US", "1L", "B9JAXK2361"), []string{"1L age_limit: plan"}},
		{"week 1 of 2026 or week 12 of before 2000", made("US", "1L", "B9JAXK20126"), []string{"1L age_watch: watch"}},
		{"the same, where the law has a limit", made("GB", "1L", "B9JAXK20126"), []string{"1L age_watch: plan"}},
		{"its date written apart", made("GB", "1L", "B9JA XK2 0126"), nil},
		{"a date that is yet to come", made("GB", "1L", "B9JAXK2LM2361"), []string{"1L age_watch: watch"}},
		{"a number that cannot be read", made("US", "1L", "nonsense"), nil},
	})

	f := one(t, made("US", "1L", "B9JAXK20126"), models.AgeWatch)
	want := "tire at 1L was made in week 1 of 2026, or in week 12 of a year before 2000 that ends in 6"
	if f.Title != want {
		t.Errorf("title %q, want %q", f.Title, want)
	}
	over := one(t, made("US", "1L", "B9JAXK20109"), models.AgeLimit)
	want = "week 10 of a year before 2000 that ends in 9"
	if len(over.Evidence) < 2 || !strings.Contains(over.Evidence[1].Text, want) {
		t.Errorf("evidence %+v; want that the number has a second meaning", over.Evidence)
	}
}
