package assess_test

import (
	"math"
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// worn gives the tire at p a history of steady wear up to its newest depth:
// eight readings 3,000 km apart, at mm per 1000 km.
func worn(t *testing.T, s *scene, p models.Position, last units.Length, rate float64) {
	t.Helper()
	const stretch, readings = 3000.0, 8
	mm := last.Millimetres()
	start := s.State.Odometer.Value.Kilometres() - readings*stretch

	first := mm + rate*readings*stretch/1000
	st, err := wear.Start(wear.DefaultPrior(string(s.Vehicle.Class), string(s.Vehicle.AxleAt(p).Role())),
		wear.Fitting{XKM: start, NewMM: first})
	if err != nil {
		t.Fatal(err)
	}

	for i := 1; i <= readings; i++ {
		next, _, err := st.Update(wear.Reading{
			XKM:     start + float64(i)*stretch,
			DepthMM: first - rate*float64(i)*stretch/1000,
			Gauge:   wear.GaugeTenth,
		})
		if err != nil {
			t.Fatal(err)
		}

		st = next
	}

	s.at(p).State.MinWear = &st
	s.reading(p).Depths = grid(last, 3, 1)
}

// pullAhead returns a tractor that covers 300 km a day, with the tire at 1L so many days
// above the pull point of a steer axle, 6/32 in = 4.7625 mm: 0.1 mm per 1000 km take
// 0.03 mm a day.
func pullAhead(t *testing.T, days float64) *scene {
	s := tractor()
	s.Policy.AxleDepth = 0
	s.State.OdometerAt, s.State.Use.Day = now, float64(now.Unix())/86400
	s.State.Use.KMPerDay, s.State.Use.DailySDKM, s.State.Use.DriftSDKM = 300, 360, 6
	worn(t, s, "1L", 6*in32+units.LengthFromMillimetres(days*0.03), 0.1)
	return s
}

// TestForecast: dates and findings by the hand arithmetic of pullAhead.
func TestForecast(t *testing.T) {
	t.Parallel()
	ahead := func(days float64) *scene { return pullAhead(t, days) }

	f := one(t, ahead(20), models.PullForecast)
	if got := f.DueAt.Sub(now).Hours() / 24; math.Abs(got-20) > 4 {
		t.Errorf("due in %.1f days, want about 20", got)
	}
	if got := assess.Assess(ahead(20).Snapshot).PullAt; got == nil || !got.Equal(*f.DueAt) {
		t.Errorf("the vehicle's first tire is at its limit at %v, want %v", got, f.DueAt)
	}
	if far := assess.Assess(ahead(100).Snapshot).PullAt; far == nil || math.Abs(far.Sub(now).Hours()/24-100) > 25 {
		t.Errorf("beyond what is planned: %v, want in about 100 days", far)
	}

	if f.Urgency != models.Plan || !f.Estimated || !strings.Contains(f.Title, "estimated") {
		t.Errorf("finding %+v: want a plan that says it is estimated", f)
	}

	all := ""
	for _, e := range f.Evidence {
		all += usStyle.Render(e.Text) + "\n"
	}

	for _, want := range []string{"80% interval", "90% interval", "/32 in per 10,000 mi"} {
		if !strings.Contains(all, want) {
			t.Errorf("evidence lacks %q:\n%s", want, all)
		}
	}

	run(t, []row{
		{"well within 30 days", ahead(20), []string{"1L pull_forecast: plan"}},
		{"well past 30 days and above the band of watching", ahead(70), nil},
		{"past 30 days, within the band of watching", ahead(45), []string{"1L near_pull: watch"}},
	})

	s := ahead(20)
	s.Policy.ForecastDays = 0
	run(t, []row{{"forecasts switched off", s, []string{"1L near_pull: watch"}}})

	next := assess.Assess(ahead(70).Snapshot).NextCheck
	if next == nil || next.Sub(now) > 30*day {
		t.Errorf("next check %v; want within 30 days where a forecast exists", next)
	}
}

// TestForecastReached: read 1 mm above the pull point 80 days ago, at 0.03 mm a day as in
// TestForecast, the tire has lost 2.4 mm since.
func TestForecastReached(t *testing.T) {
	t.Parallel()
	late := pullAhead(t, 1/0.03)
	late.State.OdometerAt, late.State.Use.Day = now.Add(-80*day), float64(now.Add(-80*day).Unix())/86400
	gone := one(t, late, models.PullForecast)
	if !strings.Contains(gone.Title, "by now (estimated)") || !strings.Contains(gone.FirstJob, "Measure it now") ||
		gone.DueAt.After(now) || now.Sub(*gone.DueAt) > day {
		t.Errorf("%q due %v, %q: want a tire that is at its pull point by now, and to measure it", gone.Title,
			gone.DueAt, gone.FirstJob)
	}

	for _, e := range gone.Evidence {
		if strings.Contains(e.Text, "80% interval") {
			t.Errorf("what is reached has no days ahead: %s", e.Text)
		}
	}
}

// TestFastWear: 1.5 times the usual rate (chosen by us, no source), from readings of the
// tire itself.
func TestFastWear(t *testing.T) {
	t.Parallel()

	usual := wear.DefaultPrior("tractor", "drive").RateMean
	at := func(times float64) *scene {
		s := tractor()
		s.State.OdometerAt, s.State.Use.Day = now, float64(now.Unix())/86400
		for _, p := range []models.Position{"2LO", "2LI", "2RO", "2RI"} {
			worn(t, s, p, 14*in32, usual)
		}
		worn(t, s, "2LO", 14*in32, times*usual)
		return s
	}

	run(t, []row{
		{"three times the usual", at(3), []string{"2LO fast_wear: plan"}},
		{"six times the usual, far from what was expected", at(6), []string{"2LO fast_wear: plan"}},
		{"as usual", at(1), nil},
		{"a third more", at(1.33), nil},
	})
}

// TestComplaint: an open report stays until it is settled.
func TestComplaint(t *testing.T) {
	t.Parallel()

	s := tractor()
	s.State.Complaints = []models.Complaint{
		{
			EventID: "a",
			At:      ago(3 * day),
			Report:  models.Vibration{WorstKMH: 95, FeltAt: "steering_wheel", Braking: "same"},
		},
		{EventID: "b", At: ago(5 * day), Report: models.Vibration{StartsKMH: 80}},
	}

	f := one(t, s, models.VibrationOpen)
	if f.Urgency != models.DoNow || !f.Since.Equal(ago(5*day)) || len(f.Evidence) < 2 {
		t.Errorf("finding %+v: want do now, since the older report, both as evidence", f)
	}

	// An order-1 shake in the band of imbalance, felt at the wheel: front pair (workshop manuals).
	if !strings.Contains(f.FirstJob, "front pair") {
		t.Errorf("first job %q; want the front pair named", f.FirstJob)
	}

	waddle := tractor()

	waddle.State.Complaints = []models.Complaint{{At: ago(day), Report: models.Vibration{StartsKMH: 15, WorstKMH: 35}}}
	run(t, []row{
		{
			"a waddle at low speed is looked at before it is driven (car maker's manual)",
			waddle,
			[]string{"vibration_open: off the road"},
		},
		{
			"a report that says nothing",
			tractor().with(func(s *scene) { s.State.Complaints = []models.Complaint{{At: ago(day)}} }),
			[]string{"vibration_open: do now"},
		},
	})

	if !strings.Contains(usStyle.Render(f.Title), "50 mph") { // 80 km/h is 49.7 mph
		t.Errorf("title %q; want the speed in the reader's unit", usStyle.Render(f.Title))
	}
}
