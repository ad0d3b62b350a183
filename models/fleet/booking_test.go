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
	b := fleet.Booking{
		ID:       newID[string](),
		Vehicles: []models.VehicleID{w.vehicle.ID, idle.ID},
		Day:      day,
		Note:     "bay 2",
	}

	bad := b
	bad.ID, bad.Day = newID[string](), "2026-02-28" // the day before yesterday
	_, err := w.fleet.BookIn(w.ctx, w.boss, bad)

	if e := wantKind(t, err, models.Invalid); !strings.Contains(e.Fields[0].Remedy, "T-0") ||
		e.Fields[0].Name != "day" {
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
		if f.Ack == nil || f.Ack.Booked != day || f.Ack.By != w.boss.User.ID || f.Ack.Why != "bay 2" ||
			!f.Ack.At.Equal(w.now) {
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

	b = fleet.Booking{
		ID:       newID[string](),
		Vehicles: []models.VehicleID{w.vehicle.ID},
		Day:      w.now.AddDate(0, 0, 9).Format(time.DateOnly),
	}
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

// A vehicle that was never measured is booked in for the day after tomorrow; that is the
// only thing open. A check of the next morning finds a tire below the legal 4/32 in of 49 CFR
// 393.75(b), which closes what was booked: the new finding says that it is not part of it,
// until somebody says something to it or the day is over.
func TestNewSinceBooking(t *testing.T) {
	t.Parallel()

	w := newWorld(t)
	find := func() (out models.Finding, all []models.Finding) {
		t.Helper()

		all, _, err := w.fleet.Findings(
			w.ctx,
			w.boss,
			models.FindingFilter{VehicleID: w.vehicle.ID},
			models.Page{Limit: 100},
		)
		if err != nil {
			t.Fatal(err)
		}

		for _, f := range all {
			if f.Code == models.BelowLegal {
				out = f
			}
		}

		return out, all
	}

	book := func(id string) {
		t.Helper()

		must(
			w.fleet.BookIn(
				w.ctx,
				w.boss,
				fleet.Booking{
					ID:       id,
					Vehicles: []models.VehicleID{w.vehicle.ID},
					Day:      w.now.AddDate(0, 0, 2).Format(time.DateOnly),
					Note:     "bay 2",
				},
			),
		)(
			t,
		)
	}

	book(newID[string]())
	if _, all := find(); len(all) == 0 || models.StandingBooking(all, w.now) == nil {
		t.Fatal("it is not booked in")
	} else if all[0].NewSinceBooking(w.now) {
		t.Error("what was booked is new since booking")
	}

	w.after(day)
	w.record(w.inspection("200,500 mi", func(p models.Position) string {
		if p == "1L" {
			return "3/32"
		}
		return "12/32"
	}))

	f, all := find()
	if f.ID == "" || !f.NewSinceBooking(w.now) || f.Booking.Why != "bay 2" || f.Ack != nil {
		t.Errorf("the new finding: acknowledged %v, booking %+v", f.Ack, f.Booking)
	}
	if b := models.StandingBooking(all, w.now); b == nil || b.Booked != w.now.AddDate(0, 0, 1).Format(time.DateOnly) {
		t.Errorf("the booking that stands: %+v", b)
	}

	// The day ends at midnight in Chicago.
	if over := w.now.AddDate(0, 0, 2); f.NewSinceBooking(over) || models.StandingBooking(all, over) != nil {
		t.Error("a booking stands after its day")
	}

	book(newID[string]())
	if f, _ = find(); f.Ack == nil || f.NewSinceBooking(w.now) {
		t.Error("booked anew, it is still new since booking")
	}
}

// What was booked as "plan" and turns "off the road" loses its acknowledgement and is
// new since booking, too: the shop was informed of something lesser.
func TestWorseSinceBooking(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(10 * day)

	w.record(w.inspection("203,000 mi", func(p models.Position) string {
		if p == "2LO" {
			return "4/32" // at the pull point, above the legal 2/32 in
		}
		return "18/32"
	}))

	must(
		w.fleet.BookIn(
			w.ctx,
			w.boss,
			fleet.Booking{
				ID:       newID[string](),
				Vehicles: []models.VehicleID{w.vehicle.ID},
				Day:      w.now.AddDate(0, 0, 3).Format(time.DateOnly),
			},
		),
	)(
		t,
	)

	w.after(day)
	got := w.record(w.inspection("203,500 mi", func(p models.Position) string {
		if p == "2LO" {
			return "1/32"
		}
		return "17/32"
	}))

	fresh := 0
	for _, f := range got.Open {
		if f.NewSinceBooking(w.now) {
			fresh++
			if f.Urgency != models.OffTheRoad && f.WorseAt == nil && !f.OpenedAt.Equal(w.now) {
				t.Errorf("%s is new since booking, opened %v", f.Title, f.OpenedAt)
			}
		}
	}

	if fresh == 0 {
		t.Error("1/32 in, found after the booking, is not new since booking")
	}
}

// TestOffTheRoadIsNotQuietened: booked in, a vehicle that must not run is off the
// road in every list all the same, until the tire is changed.
func TestOffTheRoadIsNotQuietened(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(10 * day)

	w.record(w.inspection("203,000 mi", func(p models.Position) string {
		if p == "2LO" {
			return "1/32" // the law asks for 2/32 in
		}
		return "18/32"
	}))

	must(
		w.fleet.BookIn(
			w.ctx,
			w.boss,
			fleet.Booking{
				ID:       newID[string](),
				Vehicles: []models.VehicleID{w.vehicle.ID},
				Day:      w.now.AddDate(0, 0, 3).Format(time.DateOnly),
			},
		),
	)(
		t,
	)

	rows, _, err := w.fleet.Vehicles(
		w.ctx,
		w.boss,
		models.VehicleFilter{Urgency: models.OffTheRoad, Attention: true},
		models.Page{Limit: 5},
	)
	if err != nil || len(rows) != 1 || rows[0].Standing.Worst != models.OffTheRoad {
		t.Errorf("booked in, the list of what is off the road has %+v, %v", rows, err)
	}
}
