package fleet_test

import (
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// A booking notes its day and its person on everything open, once, for all
// vehicles or for none.
func TestBookIn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	idle := w.vehicle // it was never inspected, which is found
	idle.ID, idle.Number = newID[models.VehicleID](), "T-02"
	must(w.fleet.CreateVehicle(w.ctx, w.boss, idle))(t)
	open := func(v models.VehicleID) []models.Finding {
		t.Helper()
		list, _, err := w.fleet.Findings(w.ctx, w.boss, models.FindingFilter{VehicleID: v}, models.Page{Limit: 100})
		return must(list, err)(t)
	}
	before := len(open(w.vehicle.ID)) + len(open(idle.ID))
	if before == 0 {
		t.Fatal("nothing is open to book")
	}
	day := w.now.AddDate(0, 0, 3).Format(time.DateOnly)
	b := fleet.Booking{ID: newID[string](), Vehicles: []models.VehicleID{w.vehicle.ID, idle.ID}, Day: day, Note: "bay 2"}

	bad := b
	bad.ID, bad.Day = newID[string](), "2026-02-28" // the day before yesterday
	_, err := w.fleet.BookIn(w.ctx, w.boss, bad)
	if e := wantKind(t, err, models.Invalid); !strings.Contains(e.Fields[0].Remedy, "T-0") || e.Fields[0].Name != "day" {
		t.Errorf("a day that has passed: %+v", e.Fields)
	}
	bad.Day, bad.Vehicles = day, []models.VehicleID{w.vehicle.ID, newID[models.VehicleID]()}
	_, err = w.fleet.BookIn(w.ctx, w.boss, bad)
	wantKind(t, err, models.NotFound)
	viewer := fleet.Actor{User: models.User{ID: newID[models.UserID](), Role: models.Technician}}
	_, err = w.fleet.BookIn(w.ctx, viewer, b)
	wantKind(t, err, models.Forbidden)
	for _, f := range open(w.vehicle.ID) {
		if f.Ack != nil {
			t.Fatal("a refused booking left something behind", f.Title)
		}
	}

	done := must(w.fleet.BookIn(w.ctx, w.boss, b))(t)
	if done.Vehicles != 2 || done.Findings != before || done.Repeated {
		t.Errorf("booked %+v, want 2 vehicles with %d findings", done, before)
	}
	if again := must(w.fleet.BookIn(w.ctx, w.boss, b))(t); !again.Repeated {
		t.Error("the same booking again is a second one")
	}
	b.Note = "bay 3"
	_, err = w.fleet.BookIn(w.ctx, w.boss, b)
	wantKind(t, err, models.Conflict)
	for _, f := range open(w.vehicle.ID) {
		if f.Ack == nil || f.Ack.Booked != day || f.Ack.By != w.boss.User.ID || f.Ack.Why != "bay 2" || !f.Ack.At.Equal(w.now) {
			t.Errorf("%s: acknowledgement %+v", f.Title, f.Ack)
		}
	}
	// Booked for 5 March in Chicago (UTC-6): quiet until that day ends, 6 March 06:00 UTC.
	f := open(w.vehicle.ID)[0]
	if end := time.Date(2026, 3, 6, 6, 0, 0, 0, time.UTC); f.Quiet(end) || !f.Quiet(end.Add(-time.Second)) {
		t.Errorf("quiet until %v, want the end of 5 March in Chicago", f.Ack.Until)
	}

	// What is off the road is booked in for a week at most.
	w.after(time.Hour)
	w.record(w.inspection("200,500 mi", all("2/32")))
	b = fleet.Booking{ID: newID[string](), Vehicles: []models.VehicleID{w.vehicle.ID}, Day: w.now.AddDate(0, 0, 9).Format(time.DateOnly)}
	_, err = w.fleet.BookIn(w.ctx, w.boss, b)
	if e := wantKind(t, err, models.Invalid); !strings.Contains(e.Fields[0].Remedy, "off the road") {
		t.Errorf("off the road, nine days ahead: %+v", e.Fields)
	}
}

// What got more urgent says since when and from what.
func TestWorse(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.record(w.inspection("200,100 mi", all("5/32")))
	w.after(24 * time.Hour)
	start := w.now
	w.record(w.inspection("201,000 mi", func(p models.Position) string {
		if p == "1L" {
			return "2/32"
		}
		return "4/32"
	}))
	list, _, err := w.fleet.Findings(w.ctx, w.boss, models.FindingFilter{ChangedSince: start}, models.Page{Limit: 100})
	for _, f := range must(list, err)(t) {
		if f.WorseAt != nil && (!f.WorseAt.Equal(w.now) || f.WorseFrom <= f.Urgency) {
			t.Errorf("%s: worse at %v from %s", f.Title, f.WorseAt, f.WorseFrom)
		}
		if f.WorseAt == nil && f.OpenedAt.Before(start) {
			t.Errorf("%s did not change", f.Title)
		}
	}
	count := must(w.fleet.Changed(w.ctx, w.boss, nil, start))(t)
	if count.New == 0 {
		t.Errorf("a tire below the legal minimum is nothing new: %+v", count)
	}
}
