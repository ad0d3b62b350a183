package assess_test

import (
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/units"
)

// said reports whether a line of the evidence of f holds text, for a reader in mm and km/h.
func said(f models.Finding, text string) bool {
	for _, e := range f.Evidence {
		if strings.Contains(units.Style{Set: units.Metric}.Render(e.Text), text) {
			return true
		}
	}
	return false
}

// TestShakeInWords: the title repeats what the driver reported and no more; what was not
// answered is not said.
func TestShakeInWords(t *testing.T) {
	t.Parallel()
	bands := func(b ...models.SpeedBand) models.Vibration { return models.Vibration{Bands: b} }
	felt := func(at ...string) models.Vibration { return models.Vibration{Places: at} }

	twice := bands(models.SpeedBand{WorstKMH: 50}, models.SpeedBand{FromKMH: 85})
	for _, row := range []struct {
		want   string
		report models.Vibration
	}{
		{"speed not said", models.Vibration{Since: "pothole"}},
		{"worst at 95 km/h", bands(models.SpeedBand{FromKMH: 80, WorstKMH: 95, ToKMH: 110})},
		{"80 km/h to 110 km/h", bands(models.SpeedBand{FromKMH: 80, ToKMH: 110})},
		{"from 80 km/h on", bands(models.SpeedBand{FromKMH: 80})},
		{"up to 110 km/h", bands(models.SpeedBand{ToKMH: 110})},
		{"worst at 95 km/h (strong)", bands(models.SpeedBand{WorstKMH: 95, Strength: "strong"})},
		{"worst at 50 km/h and again from 85 km/h on", twice},
		{"speed not said, felt at the seat", felt("seat")},
		{"speed not said, felt at the seat and floor", felt("seat", "floor")},
		{"speed not said, felt at the steering wheel, seat and floor", felt("steering_wheel", "seat", "floor")},
		{"speed not said, worse under braking", models.Vibration{Braking: "worse"}},
		{"speed not said, better under throttle, same in neutral", models.Vibration{Throttle: "better", Neutral: "same"}},
	} {
		s := tractor()
		s.State.Complaints = []models.Complaint{{EventID: "c", At: ago(day), Report: row.report}}
		f := one(t, s, models.VibrationOpen)
		if got := (units.Style{Set: units.Metric}).Render(f.Title); got != "driver reports a shake, "+row.want {
			t.Errorf("%q, want %q", got, row.want)
		}
	}

	// A report on a vehicle without tires in the record is shown, too.
	s := tractor()
	s.Tires = nil
	s.State.Complaints = []models.Complaint{{EventID: "c", At: ago(day), Report: models.Vibration{Braking: "worse"}}}
	one(t, s, models.VibrationOpen)
}

// TestNewestVisits: a visit for the pressure alone hides neither depths nor what was seen
// before it, and one that only looked counts as having looked.
func TestNewestVisits(t *testing.T) {
	t.Parallel()
	run(t, []row{
		{"seen, then a pressure", tractor().observe("1L", models.ObsNail).with(pressureOnly("1L")),
			[]string{"1L damage_minor: plan"}},
		{"seen without depths", tractor().with(pressureOnly("1L")).observe("1L", models.ObsNail),
			[]string{"1L damage_minor: plan"}},
		{"seen, then looked at again and gone", tractor().observe("1L", models.ObsNail).with(pressureOnly("1L")).
			observe("1L", models.ObsSmooth), nil},
	})
}

// TestEvidenceOfLimits: evidence names what set a limit, and only that.
func TestEvidenceOfLimits(t *testing.T) {
	t.Parallel()
	aged := func(limit int) models.Finding {
		s := plain(models.RigidTruck, "CA-ON", models.Axle{Steered: true}).with(set("2026-07-01"))
		s.at("1L").Tire.TIN, s.Policy.AgeLimitYears = "B9JAXK22716", limit
		return one(t, s, models.AgeLimit)
	}
	if f := aged(0); said(f, "replace at") {
		t.Errorf("no policy: %+v", f.Evidence)
	}
	if f := aged(9); !said(f, "replace at 9 years") {
		t.Errorf("a policy of nine years: %+v", f.Evidence)
	}

	over := func(demand units.Mass) models.Finding {
		s := tractor()
		s.at("1L").State.Balance = &models.BalanceRecord{Point: models.Point{At: ago(day)}, Demand: demand,
			Verdict: models.BalanceVerdict{Proven: true}}
		return one(t, s, models.BalanceOverLimit)
	}
	if f := over(0); said(f, "asked for") {
		t.Errorf("nothing was shown: %+v", f.Evidence)
	}
	if f := over(340); !said(f, "asked for 340 g") {
		t.Errorf("340 g were shown: %+v", f.Evidence)
	}

	// Where no balance is in the record the interval counts from the fitting: an estimate.
	again := func(b *models.BalanceRecord) models.Finding {
		s := plain(models.Car, "GB", models.Axle{Steered: true}, models.Axle{}).with(func(s *scene) {
			s.Policy.RebalanceDays = 20
			for i := range s.Tires {
				if s.Tires[i].State.Position != "1L" {
					s.Tires[i].State.FittedOn, s.Tires[i].State.Balance = nil, nil
				}
			}
		})
		s.at("1L").State.Balance = b
		return one(t, s, models.RebalanceOverdue)
	}
	if f := again(nil); !f.Estimated {
		t.Errorf("never balanced: %+v", f)
	}
	if f := again(&models.BalanceRecord{Point: models.Point{At: ago(20 * day)}, VehicleID: "v"}); f.Estimated {
		t.Errorf("balanced: %+v", f)
	}
}

// TestRetorqueInWords: nuts are checked to the vehicle's own torque where it is known,
// between half the distance of the policy and all of it, or by days without an odometer.
func TestRetorqueInWords(t *testing.T) {
	t.Parallel()
	due := func(torque float64, o models.Odometer) models.Finding {
		s := tractor().with(fresh)
		s.Vehicle.TorqueNM = torque
		s.State.RetorqueFrom = &models.Point{At: ago(3 * day), Odometer: o}
		return one(t, s, models.RetorqueDue)
	}

	f := due(0, km(103_600))
	if !strings.Contains(f.FirstJob, "to the maker's torque") || !said(f, "once, 80 km to 160 km after") {
		t.Errorf("by distance: %q, %+v", f.FirstJob, f.Evidence)
	}
	f = due(600, models.Odometer{})
	if job := (units.Style{Set: units.Metric}).Render(f.FirstJob); !strings.Contains(job, "to 600 N") || !f.Estimated ||
		!said(f, "once, within 3 days after") {
		t.Errorf("by days: %q, %+v", job, f.Evidence)
	}
}

// TestWhereTheThinnestIs: evidence names the groove from outboard and the station, from 1.
func TestWhereTheThinnestIs(t *testing.T) {
	t.Parallel()
	s := tractor()
	s.reading("1L").Depths = grid(14*in32, 4, 3)
	s.reading("1L").Depths[2][1] = depth(3 * in32)
	s.reading("1L").Depths[0][0] = nil
	if f := one(t, s, models.BelowLegal); !said(f, "groove 3 of 4 from outboard, station 2") {
		t.Errorf("evidence %+v", f.Evidence)
	}

	// A spare at the number is to be planned for, no more.
	run(t, []row{{"a spare at the number", spare(2 * in32), []string{"SP1 near_legal: plan"}}})
}

// TestNotAboveTheNumber: Russia refuses a depth that is equal to its number (second-hand).
func TestNotAboveTheNumber(t *testing.T) {
	t.Parallel()
	s := plain(models.Car, "RU", models.Axle{}).all(units.LengthFromMillimetres(1.6))
	for _, f := range assess.Assess(s.Snapshot).Findings {
		title := units.Style{Set: units.Metric}.Render(f.Title)
		if f.Code == models.BelowLegal && !strings.Contains(title, "not above the legal 1.6 mm") {
			t.Errorf("title %q", title)
		}
	}
	lawless := tractor().with(func(s *scene) { s.Depot.Jurisdiction = "" })
	if m := assess.Assess(lawless.Snapshot).LegalMinimum; len(m) > 0 {
		t.Errorf("no rules, and yet minimums %v", m)
	}
}

// TestDueSince: work that is due is found from as many days ahead as the policy says.
func TestDueSince(t *testing.T) {
	t.Parallel()
	s := tractor().with(func(s *scene) { s.State.LastInspection = &models.Point{At: ago(20 * day)} })
	if f := one(t, s, models.InspectionOverdue); !f.Since.Equal(ago(4 * day)) {
		t.Errorf("since %v, want 14 days before the 30 are over", f.Since)
	}
}
