package assess_test

import (
	"slices"
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/assess"
)

// TestFindWheel: the front pair first when the steering wheel shakes, rear
// wheels first when the seat does (workshop manuals on vibration); a wheel with a
// reason before its mate; all clear leads to a check under load.
func TestFindWheel(t *testing.T) {
	t.Parallel()

	report := func(felt string) func(*scene) {
		return func(s *scene) {
			s.State.Complaints = []models.Complaint{
				{
					EventID: "c",
					At:      ago(day),
					Report: models.Vibration{
						Meta:      models.Meta{At: ago(day)},
						StartsKMH: 70,
						WorstKMH:  95,
						FeltAt:    felt,
					},
				},
			}
		}
	}

	spun := func(spin, within bool) func(*models.TireState) {
		return func(st *models.TireState) {
			st.UnbalancedSince, st.MissingWeight = nil, nil
			st.Balance = &models.BalanceRecord{
				Point:     models.Point{At: ago(day / 2)},
				VehicleID: "v",
				CheckSpin: spin,
				Verdict:   models.BalanceVerdict{Proven: true, Within: within},
			}
		}
	}

	all := func(s *scene, do func(*models.TireState)) {
		for i := range s.Tires {
			do(&s.Tires[i].State)
		}
	}

	for _, row := range []struct {
		name    string
		change  func(*scene)
		next    models.Position
		balance bool
		clear   bool
		then    string
	}{
		{"steering wheel shakes", report("steering_wheel"), "1L", false, false, "nothing removed"},
		{"seat shakes", report("seat"), "2LO", false, false, "nothing removed"},
		{"a missing weight first", func(s *scene) {
			report("steering_wheel")(s)
			s.at("1R").State.MissingWeight = &models.Point{At: ago(2 * day)}
		}, "1R", false, false, "1R"},
		{"one cleared", func(s *scene) {
			report("steering_wheel")(s)
			spun(true, true)(&s.at("1L").State)
		}, "1R", false, false, "1R"},
		{"a spin before the report clears nothing", func(s *scene) {
			report("steering_wheel")(s)
			spun(true, true)(&s.at("1L").State)
			s.at("1L").State.Balance.At = ago(3 * day)
		}, "1L", false, false, ""},
		{"the culprit", func(s *scene) {
			report("steering_wheel")(s)
			spun(true, false)(&s.at("1R").State)
		}, "1R", true, false, "all weights off"},
		{"balanced", func(s *scene) {
			report("steering_wheel")(s)
			spun(false, true)(&s.at("1R").State)
		}, "1L", false, false, "settle the report"},
		{"all clear", func(s *scene) {
			report("steering_wheel")(s)
			all(s, spun(true, true))
		}, "", false, true, "under load"},
	} {
		s := tractor().with(row.change)
		got, ok := assess.FindWheel(s.Snapshot)
		if !ok || got.Next != row.next || got.Balance != row.balance || got.AllClear != row.clear ||
			!strings.Contains(got.Then, row.then) {
			t.Errorf("%s: next %q, balance %t, clear %t, %q", row.name, got.Next, got.Balance, got.AllClear, got.Then)
		}
		if slices.ContainsFunc(got.Wheels, func(w assess.SearchWheel) bool { return w.Position.IsSpare() }) {
			t.Errorf("%s: a spare is spun", row.name)
		}
	}

	if _, ok := assess.FindWheel(tractor().Snapshot); ok {
		t.Error("a search without a complaint")
	}
}
