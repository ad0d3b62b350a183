package assess_test

import (
	"testing"
	"time"
	_ "time/tzdata" // the machine may have none

	"rimledger/models"
	"rimledger/models/assess"
)

// set returns a change that moves the clock to a date, and all that was done lately by as
// much.
func set(date string) func(*scene) {
	return func(s *scene) {
		at, err := time.Parse(time.DateOnly, date)
		if err != nil {
			panic(err)
		}

		by := at.Sub(s.Now)
		s.Now = at
		s.State.LastInspection.At = s.State.LastInspection.At.Add(by)
		s.State.LastPressure = s.State.LastInspection
		s.State.LastRotation.At = s.State.LastRotation.At.Add(by)
		s.State.OdometerAt = s.State.OdometerAt.Add(by)
		s.State.Use.Day += by.Hours() / 24

		for i := range s.Tires {
			st := &s.Tires[i].State
			st.Last.At = st.Last.At.Add(by)
			st.FittedOn.At = st.FittedOn.At.Add(by)
			st.Balance.At = st.Balance.At.Add(by)
		}
	}
}

// TestDue: intervals are the policy's own; work shows as due 14 days ahead and
// is overdue on the day, the first of distance and time (trade practice).
func TestDue(t *testing.T) {
	t.Parallel()
	inspected := func(before time.Duration) *scene {
		return tractor().with(func(s *scene) { s.State.LastInspection = &models.Point{At: ago(before)} })
	}

	rotated := func(atKM, nowKM float64) *scene {
		s := car("GB")
		s.Policy.RotateKM, s.Policy.RotateDays = 10_000, 0
		from := models.Point{At: ago(100 * day), Odometer: km(atKM)}
		s.State.LastRotation, s.State.Odometer, s.State.OdometerAt = &from, km(nowKM), now
		for i := range s.Tires {
			s.Tires[i].State.PlacedAt = &from
		}
		return s
	}

	torqued := func(p models.Point) *scene {
		return tractor().with(func(s *scene) { s.State.RetorqueFrom = &p })
	}

	run(t, []row{
		{"a tractor is read monthly: due in more than 14 days", inspected(16*day - time.Second), nil},
		{"due in 14 days", inspected(16 * day), []string{"inspection_overdue: plan"}},
		{"a second before it is overdue", inspected(30*day - time.Second), []string{"inspection_overdue: plan"}},
		{"overdue", inspected(30 * day), []string{"inspection_overdue: do now"}},
		{
			"never inspected",
			tractor().with(func(s *scene) { s.State.LastInspection = nil }),
			[]string{"never_inspected: do now"},
		},
		{
			"inspected, but one wheel never",
			tractor().with(func(s *scene) { s.at("3LI").State.Last = nil }),
			[]string{"3LI never_inspected: plan"},
		},
		{"one wheel left out for a month", tractor().with(func(s *scene) {
			st := &s.at("3LI").State
			st.Last.At = ago(30 * day)
			st.PlacedAt.At, st.FittedOn.At = ago(60*day), ago(60*day)
		}), []string{"3LI inspection_overdue: plan"}},
		{"fitted after the inspection: nothing was left out", tractor().with(func(s *scene) {
			s.at("3LI").State.Last, s.at("3LI").State.PlacedAt.At = nil, ago(day)
		}), nil},
		{"pressures a week old less a second", pressed(7*day - time.Second), nil},
		{"pressures a week old", pressed(7 * day), []string{"pressure_overdue: plan"}},
		{
			"pressures never taken",
			tractor().with(func(s *scene) { s.State.LastPressure = nil }),
			[]string{"pressure_overdue: plan"},
		},
		{"rotation due in more than 14 days of 100 km", rotated(90_000, 98_599), nil},
		{"rotation due in 14 days of 100 km", rotated(90_000, 98_600), []string{"rotation_overdue: plan"}},
		{"rotation due a kilometre on", rotated(90_000, 99_999), []string{"rotation_overdue: plan"}},
		{"rotation overdue", rotated(90_000, 100_000), []string{"rotation_overdue: plan"}},
		{"one tire fitted lately does not start the interval anew", rotated(90_000, 100_000).with(func(s *scene) {
			s.at("1L").State.PlacedAt = &models.Point{At: ago(day), Odometer: km(99_900)}
		}), []string{"rotation_overdue: plan"}},
		{"all tires fitted lately do", rotated(90_000, 100_000).with(func(s *scene) {
			for i := range s.Tires {
				s.Tires[i].State.PlacedAt = &models.Point{At: ago(day), Odometer: km(99_900)}
			}
		}), nil},
		{"an interval that is off", rotated(90_000, 100_000).with(func(s *scene) { s.Policy.RotateKM = 0 }), nil},
		{
			"the first of distance and time: time",
			rotated(90_000, 91_000).with(func(s *scene) { s.Policy.RotateDays = 100 }),
			[]string{"rotation_overdue: plan"},
		},
		{
			"alignment after a year",
			tractor().with(func(s *scene) { s.State.LastAlignment = &models.Point{At: now.AddDate(0, 0, -365)} }),
			[]string{"alignment_overdue: plan"},
		},
		{"alignment never recorded", tractor(), nil},
		{
			"re-torque due: 159 km driven (80 to 160 km, industry practice)",
			torqued(models.Point{At: ago(3 * day), Odometer: km(103_800 - 159 + 0)}).with(fresh),
			[]string{"retorque_due: plan"},
		},
		{
			"re-torque over: 160 km driven",
			torqued(models.Point{At: ago(3 * day), Odometer: km(103_800 - 160)}).with(fresh),
			[]string{"retorque_due: do now"},
		},
		{
			"re-torque without odometer, two days",
			torqued(models.Point{At: ago(3*day - time.Second)}),
			[]string{"retorque_due: plan"},
		},
		{
			"re-torque without odometer, three days",
			torqued(models.Point{At: ago(3 * day)}),
			[]string{"retorque_due: do now"},
		},
		{
			"no odometer at all: by days only (sanity case j)",
			rotated(90_000, 110_000).with(func(s *scene) { s.Vehicle.NoOdometer, s.Policy.RotateDays = true, 150 }),
			nil,
		},
	})
}

// fresh sets the time of the odometer to now.
func fresh(s *scene) { s.State.OdometerAt = now }

func pressed(before time.Duration) *scene {
	return tractor().with(func(s *scene) { s.State.LastPressure = &models.Point{At: ago(before)} })
}

// TestEstimated: a date that rests on use per day is marked as estimated, one that rests
// on odometers is not.
func TestEstimated(t *testing.T) {
	t.Parallel()
	s := car("GB")

	from := models.Point{At: ago(100 * day), Odometer: km(90_000)}
	for i := range s.Tires {
		s.Tires[i].State.PlacedAt = &from
	}

	s.State.LastRotation, s.State.Odometer, s.State.OdometerAt = &from, km(110_000), now
	f := one(t, s, models.RotationOverdue)
	// 10,000 km of the 20,000 km that were driven in 100 days: half of them.
	if want := ago(50 * day); f.Estimated || !f.DueAt.Equal(want) || !f.Since.Equal(want) {
		t.Errorf("due at %v, estimated %t; want %v by share, not estimated", f.DueAt, f.Estimated, want)
	}
	if f.DueOdometer == nil || f.DueOdometer.Kilometres() != 100_000 {
		t.Errorf("due at odometer %v, want 100,000 km", f.DueOdometer)
	}

	s.State.Odometer = models.Odometer{}

	f = one(t, s, models.RotationOverdue)
	if want := ago(0); !f.Estimated || f.DueOdometer != nil || !f.DueAt.Equal(want) { // 10,000 km at 100 km a day
		t.Errorf("due at %v, odometer %v, estimated %t; want %v, estimated by use per day", f.DueAt, f.DueOdometer,
			f.Estimated, want)
	}
}

// TestBalance: at mount, after a repair, on a lost weight and by interval
// (workshop manuals, read; intervals common practice); all weights off before it is done again (read).
func TestBalance(t *testing.T) {
	t.Parallel()
	state := func(p models.Position, change func(*models.TireState)) *scene {
		return tractor().with(func(s *scene) { change(&s.at(p).State) })
	}

	since := &models.Point{At: ago(4 * day)}
	over := func(st *models.TireState) {
		st.Balance = &models.BalanceRecord{
			Point:     models.Point{At: ago(3 * day)},
			VehicleID: "v",
			Verdict:   models.BalanceVerdict{Proven: true, Limit: "7 g a flange", Reason: "12 g is left"},
		}
	}

	run(t, []row{
		{
			"steer tire fitted and not balanced",
			state("1L", func(st *models.TireState) { st.UnbalancedSince = since }),
			[]string{"1L not_balanced: plan"},
		},
		{
			"drive tire fitted and not balanced",
			state("2LO", func(st *models.TireState) { st.UnbalancedSince = since }),
			[]string{"2LO not_balanced: watch"},
		},
		{
			"a spare is not balanced",
			spare(14 * in32).with(func(s *scene) { s.at("SP1").State.UnbalancedSince = since }),
			nil,
		},
		{
			"still over its limit",
			state("1L", func(st *models.TireState) { st.UnbalancedSince = since; over(st) }),
			[]string{"1L balance_over_limit: do now"},
		},
		{"over its limit at a check", state("2LO", over), []string{"2LO balance_over_limit: plan"}},
		{
			"over its limit before the tire was repaired",
			state("1L", func(st *models.TireState) { over(st); st.UnbalancedSince = &models.Point{At: ago(day)} }),
			[]string{"1L not_balanced: plan"},
		},
		{
			"lost weight",
			state("1L", func(st *models.TireState) { st.MissingWeight = since }),
			[]string{"1L weight_missing: do now"},
		},
		{"balance 80,000 km ago", state("1L", func(st *models.TireState) {
			st.Balance = &models.BalanceRecord{
				Point:     models.Point{At: ago(800 * day), Odometer: km(23_800)},
				VehicleID: "v",
				Verdict:   models.BalanceVerdict{Proven: true, Within: true},
			}
			st.FittedOn = nil
		}), []string{"1L rebalance_overdue: plan"}},
		{"balance in the record never, fitted 80,000 km ago", state("1L", func(st *models.TireState) {
			st.Balance, st.FittedOn = nil, &models.Point{At: ago(800 * day), Odometer: km(23_800)}
		}), []string{"1L rebalance_overdue: plan"}},
		{"drive wheels that were never balanced", state("2LO", func(st *models.TireState) {
			st.Balance, st.FittedOn = nil, &models.Point{At: ago(800 * day), Odometer: km(23_800)}
		}), nil},
	})
}

// TestNextCheck: time alone turns a healthy vehicle into one with findings, and
// the next check is the earliest such moment.
func TestNextCheck(t *testing.T) {
	t.Parallel()
	s := tractor()
	s.Policy.PressureDays = 0
	got := assess.Assess(s.Snapshot).NextCheck

	// Inspected two days ago, every 30 days, shown 14 days ahead.
	if want := now.Add(14 * day); got == nil || !got.Equal(want) {
		t.Fatalf("next check %v, want %v", got, want)
	}

	s.Now = got.Add(-time.Second)
	if f := assess.Assess(s.Snapshot).Findings; len(f) != 0 {
		t.Errorf("a second before the next check: %v", f)
	}
	s.Now = *got
	if f := assess.Assess(s.Snapshot).Findings; len(f) == 0 {
		t.Error("nothing is found at the next check")
	}

	s = tractor()
	s.Policy = models.Policy{}
	s.Depot.Jurisdiction = ""
	if got := assess.Assess(s.Snapshot).NextCheck; got != nil {
		t.Errorf("all intervals off: next check %v, want never", got)
	}
}

// TestDepotsDay: days are the depot's own, also over daylight saving.
func TestDepotsDay(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}

	s := car("GB")
	s.Zone = zone
	s.Now = time.Date(2026, 3, 30, 10, 0, 0, 0, zone)
	s.State.LastInspection.At = time.Date(2026, 3, 23, 10, 0, 0, 0, zone)
	s.Policy = models.Policy{InspectDays: 7}

	f := one(t, s, models.InspectionOverdue) // seven calendar days, though 167 hours
	if !f.DueAt.Equal(s.Now) || f.Urgency != models.DoNow {
		t.Errorf("due %v, %s; want at 10:00 of the seventh day", f.DueAt, f.Urgency)
	}
}
