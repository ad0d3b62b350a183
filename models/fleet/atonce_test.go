package fleet_test

import (
	"strings"
	"testing"

	"rimledger/models"
)

// TestTypoNeverHidesDamage: what takes a tire off the road is recorded at once, and only
// the doubtful numbers of the visit wait; when they are settled the visit is one entry.
func TestTypoNeverHidesDamage(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)
	w.confirm(w.inspection("200,500 mi", all("18/32")))
	w.after(10 * day)

	visit := w.inspection("203,000 mi", all("17/32"))
	visit.Readings[0].Depths = w.grooves("", "17 7 17").Readings[0].Depths
	visit.Readings[1].Observations = []models.Observation{{Code: models.ObsBulge}}
	_, err := w.fleet.Record(w.ctx, w.boss, visit)
	held := wantKind(t, err, models.Held)
	if held.Recorded == "" || !strings.Contains(held.Msg, "bulge") || len(held.Fields) != 1 {
		t.Fatalf("the answer %+v", held)
	}

	damaged := visit.Readings[1].Position
	open := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
	if codes(open.Findings)[models.Damage] == nil || open.Standing.Worst != models.OffTheRoad {
		t.Errorf("the bulge at %s is not shown: %+v", damaged, open.Standing)
	}
	first := must(w.fleet.Tire(w.ctx, w.boss, w.tires["1L"]))(t)
	if d, _ := first.State.LastRead().Reading.Min(); d.Text != "18/32" {
		t.Errorf("the doubtful depth was recorded: %s", d.Text)
	}

	// The same again changes nothing; the right depth closes the matter.
	_, err = w.fleet.Record(w.ctx, w.boss, visit)
	if again := wantKind(t, err, models.Held); again.Recorded != held.Recorded {
		t.Errorf("the same again is recorded as %s, first as %s", again.Recorded, held.Recorded)
	}
	visit.Readings[0].Depths = w.grooves("", "17 17 17").Readings[0].Depths
	done := w.record(visit)
	if done.Event.Header().Supersedes != held.Recorded {
		t.Errorf("the visit does not take the place of what was recorded at once: %+v", done.Event.Header())
	}
	visit.Supersedes, visit.Reason = "", "" // as the phone sends it
	if again := w.record(visit); !again.Repeated {
		t.Error("the visit is recorded twice")
	}

	events, _, err := w.fleet.Events(w.ctx, w.boss, models.EventFilter{VehicleID: w.vehicle.ID,
		Kinds: []models.EventKind{models.KindInspection}}, models.Page{Limit: 10})
	if err != nil || len(events) != 2 {
		t.Errorf("%d inspections, %v; want 2", len(events), err)
	}
}

// TestHeldVisitsWaitWhole: a held visit that takes nothing off the road leaves no entry.
func TestHeldVisitsWaitWhole(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)
	w.confirm(w.inspection("200,500 mi", all("18/32")))
	w.after(10 * day)

	for name, change := range map[string]func(*models.Inspection){
		"nothing seen": func(*models.Inspection) {},
		"a nail":       func(e *models.Inspection) { see(e, 1, models.ObsNail) },
		"a correction": func(e *models.Inspection) { see(e, 1, models.ObsBulge) },
		"depths below legal": func(e *models.Inspection) {
			e.Readings[1].Depths = w.grooves("", "1 1 1").Readings[0].Depths
		},
	} {
		visit := w.inspection("203,000 mi", all("17/32"))
		visit.Readings[0].Depths = w.grooves("", "17 7 17").Readings[0].Depths
		change(visit)
		if name == "a correction" {
			visit = correction(w, w.inspections()[0], func(e *models.Inspection) {
				e.Readings = visit.Readings
			})
		}
		_, err := w.fleet.Record(w.ctx, w.boss, visit)
		if held := wantKind(t, err, models.Held); held.Recorded != "" {
			t.Errorf("%s: recorded at once: %s", name, held.Msg)
		}
	}
	if n := len(w.inspections()); n != 1 {
		t.Errorf("%d inspections, want 1", n)
	}
}

func see(e *models.Inspection, i int, code models.ObservationCode) {
	e.Readings[i].Observations = []models.Observation{{Code: code}}
}

// inspections lists the inspections that stand.
func (w *world) inspections() []*models.Inspection {
	w.t.Helper()
	events, _, err := w.fleet.Events(w.ctx, w.boss, models.EventFilter{VehicleID: w.vehicle.ID,
		Kinds: []models.EventKind{models.KindInspection}}, models.Page{Limit: 10})
	if err != nil {
		w.t.Fatal(err)
	}
	var out []*models.Inspection
	for _, e := range events {
		out = append(out, e.(*models.Inspection))
	}
	return out
}
