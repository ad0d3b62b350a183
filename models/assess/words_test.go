package assess_test

import (
	"strings"
	"testing"

	"rimledger/models"
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

	for want, report := range map[string]models.Vibration{
		"speed not said":                                             {Since: "pothole"},
		"worst at 95 km/h":                                           bands(models.SpeedBand{FromKMH: 80, WorstKMH: 95, ToKMH: 110}),
		"80 km/h to 110 km/h":                                        bands(models.SpeedBand{FromKMH: 80, ToKMH: 110}),
		"from 80 km/h on":                                            bands(models.SpeedBand{FromKMH: 80}),
		"up to 110 km/h":                                             bands(models.SpeedBand{ToKMH: 110}),
		"worst at 95 km/h (strong)":                                  bands(models.SpeedBand{WorstKMH: 95, Strength: "strong"}),
		"worst at 50 km/h and again from 85 km/h on":                 bands(models.SpeedBand{WorstKMH: 50}, models.SpeedBand{FromKMH: 85}),
		"speed not said, felt at the seat":                           felt("seat"),
		"speed not said, felt at the seat and floor":                 felt("seat", "floor"),
		"speed not said, felt at the steering wheel, seat and floor": felt("steering_wheel", "seat", "floor"),
		"speed not said, worse under braking":                        {Braking: "worse"},
		"speed not said, better under throttle, same in neutral":     {Throttle: "better", Neutral: "same"},
	} {
		s := tractor()
		s.State.Complaints = []models.Complaint{{EventID: "c", At: ago(day), Report: report}}
		f := one(t, s, models.VibrationOpen)
		if got := (units.Style{Set: units.Metric}).Render(f.Title); got != "driver reports a shake, "+want {
			t.Errorf("%q, want %q", got, want)
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
