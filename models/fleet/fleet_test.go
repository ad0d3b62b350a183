package fleet_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/store"
	"rimledger/models/units"
)

// world is a depot with one tractor on ten tires, and a clock that tests move.
type world struct {
	path    string // of the database
	t       *testing.T
	ctx     context.Context
	store   *store.Store
	fleet   *fleet.Service
	now     time.Time
	boss    fleet.Actor
	depot   models.Depot
	vehicle models.Vehicle
	tires   map[models.Position]models.TireID
}

func newID[T ~string]() T { return modeltest.NewID[T]() }

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{t: t, ctx: context.Background(), now: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)}
	var err error
	w.path = filepath.Join(t.TempDir(), "t.sqlite")
	if w.store, err = store.Open(w.ctx, w.path, store.Options{Migrate: true}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.store.Close() })

	w.fleet = fleet.New(w.store, fleet.Options{Now: func() time.Time { return w.now }})
	w.boss = fleet.Actor{
		User:   models.User{ID: newID[models.UserID](), Name: "Mara Quill", Role: models.Manager},
		Source: models.FromAPI,
	}

	w.depot = must(
		w.fleet.CreateDepot(
			w.ctx,
			w.boss,
			models.Depot{ID: newID[models.DepotID](), Name: "Alder Yard", TimeZone: "America/Chicago",
				Jurisdiction: "US", Units: units.US, Currency: "USD", DigestCron: "0 6 * * 1", Recipients: []string{"yard@larkfield.example"}},
		),
	)(
		t,
	)

	psi := func(s string) models.Pressure { return must(models.ParsePressure(s, units.BareNone))(t) }
	w.vehicle = must(
		w.fleet.CreateVehicle(
			w.ctx,
			w.boss,
			models.Vehicle{ID: newID[models.VehicleID](), DepotID: w.depot.ID, Number: "T-01", Class: models.Tractor,
				MaxMassKG: 23600, Axles: []models.Axle{{Steered: true, Pressure: psi("110 psi")}, {Driven: true, Dual: true, Pressure: psi("100 psi")}, {Driven: true, Dual: true, Pressure: psi("100 psi")}}},
		),
	)(
		t,
	)

	w.tires = map[models.Position]models.TireID{}
	fit := &models.Fit{Meta: w.meta("200,000 mi")}
	for i, p := range w.vehicle.Positions() {
		tire := must(w.fleet.CreateTire(w.ctx, w.boss, w.tire(fmt.Sprintf("R%03d", i))))(t)
		w.tires[p] = tire.ID
		fit.Fittings = append(fit.Fittings, models.Fitting{TireID: tire.ID, Position: p})
	}

	w.record(fit)
	return w
}

func (w *world) tire(number string) models.Tire {
	return models.Tire{ID: newID[models.TireID](), DepotID: w.depot.ID, Number: number, Size: "295/75R22.5",
		NewDepths: []units.Length{20 * units.ThirtySecond, 20 * units.ThirtySecond, 20 * units.ThirtySecond}}
}

func must[T any](v T, err error) func(testing.TB) T { return modeltest.Must(v, err) }

func (w *world) meta(odometer string) models.Meta {
	w.t.Helper()
	o := must(models.ParseOdometer(odometer, units.BareNone))(w.t)
	return models.Meta{ID: newID[models.EventID](), VehicleID: w.vehicle.ID, At: w.now, Odometer: o}
}

// after moves the clock on.
func (w *world) after(d time.Duration) { w.now = w.now.Add(d) }

func (w *world) record(e models.Event) fleet.Recorded {
	w.t.Helper()
	return must(w.fleet.Record(w.ctx, w.boss, e))(w.t)
}

// inspection reads every position as depth says, in 32nds, evenly.
func (w *world) inspection(odometer string, depth func(models.Position) string) *models.Inspection {
	w.t.Helper()
	e := &models.Inspection{Meta: w.meta(odometer), Gauge: models.Gauge{Name: "G1", Resolution: units.ThirtySecond}}
	for _, p := range w.vehicle.WalkingOrder() {
		r := models.Reading{Position: p}
		for range 3 {
			d := must(models.ParseDepth(depth(p), units.BareNone))(w.t)
			r.Depths = append(r.Depths, []*models.Depth{&d})
		}
		e.Readings = append(e.Readings, r)
	}
	return e
}

func all(depth string) func(models.Position) string {
	return func(models.Position) string { return depth }
}

func codes(list []models.Finding) map[models.FindingCode][]models.Position {
	out := map[models.FindingCode][]models.Position{}
	for _, f := range list {
		out[f.Code] = append(out[f.Code], f.Position)
	}
	return out
}

func wantKind(t *testing.T, err error, k models.Kind) *models.Error {
	t.Helper()
	var e *models.Error
	if !errors.As(err, &e) || e.Kind != k {
		t.Fatalf("got error %v, want kind %q", err, k)
	}
	return e
}

const day = 24 * time.Hour

// TestSteerBelowLegal: 3/32 in on a tractor's front axle is below the 4/32 in
// of 49 CFR 393.75(b), 4/32 is not.
func TestSteerBelowLegal(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(30 * day)

	got := w.record(w.inspection("210,000 mi", func(p models.Position) string {
		switch p {
		case "1L":
			return "3/32"
		case "1R":
			return "4/32"
		}
		return "12/32"
	}))

	found := codes(got.Open)
	if diff := cmp.Diff([]models.Position{"1L"}, found[models.BelowLegal]); diff != "" {
		t.Errorf("below legal (-want +got):\n%s", diff)
	}

	for _, f := range got.Open {
		if f.Code == models.BelowLegal &&
			(f.Urgency != models.OffTheRoad || f.Notice == "" || !strings.Contains(f.Title, "3/32")) {
			t.Errorf("finding says urgency %q, title %q, notice %q", f.Urgency, f.Title, f.Notice)
		}
	}

	// A new tire closes it.
	w.after(time.Hour)

	w.record(
		&models.Removal{
			Meta:    w.meta("210,000 mi"),
			Removed: []models.Removed{{Position: "1L", Reason: models.WornEven, To: models.Scrapped}},
		},
	)

	fresh := must(w.fleet.CreateTire(w.ctx, w.boss, w.tire("R900")))(t)
	w.after(time.Hour)
	got = w.record(
		&models.Fit{Meta: w.meta("210,000 mi"), Fittings: []models.Fitting{{TireID: fresh.ID, Position: "1L"}}},
	)
	if p := codes(got.Open)[models.BelowLegal]; p != nil {
		t.Errorf("still below legal at %v after a new tire was fitted", p)
	}
}

// TestPressureVisitsKeepDepths: visits that only check pressures do not push a
// worn tire's depth out of sight.
func TestPressureVisitsKeepDepths(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(30 * day)

	w.record(w.inspection("210,000 mi", func(p models.Position) string {
		if p == "1L" {
			return "3/32"
		}
		return "12/32"
	}))

	for range 3 {
		w.after(day)
		e := &models.Inspection{Meta: w.meta("unknown")}
		for _, p := range w.vehicle.WalkingOrder() {
			psi := must(models.ParsePressure("100 psi", units.BareNone))(t)
			e.Readings = append(e.Readings, models.Reading{Position: p, Pressure: &psi})
		}

		got := w.record(e)
		if diff := cmp.Diff([]models.Position{"1L"}, codes(got.Open)[models.BelowLegal]); diff != "" {
			t.Fatalf("below legal after a pressure check (-want +got):\n%s", diff)
		}
	}
}

func TestRepeatedWrite(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)
	e, again := w.inspection("200,300 mi", all("19/32")), w.inspection("200,300 mi", all("19/32"))
	again.ID = e.ID
	w.record(e)
	w.after(time.Minute)

	got := w.record(again)
	if !got.Repeated {
		t.Error("the same inspection again was not recognised")
	}

	events, _, err := w.fleet.Events(
		w.ctx,
		w.boss,
		models.EventFilter{VehicleID: w.vehicle.ID, Kinds: []models.EventKind{models.KindInspection}},
		models.Page{Limit: 10},
	)
	if err != nil || len(events) != 1 {
		t.Errorf("%d inspections in the record, %v; want 1", len(events), err)
	}

	other := w.inspection("200,300 mi", all("18/32"))
	other.ID = e.ID
	_, err = w.fleet.Record(w.ctx, w.boss, other)
	wantKind(t, err, models.Conflict)
}

func TestHeldValues(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(10 * day)
	w.record(w.inspection("203,000 mi", all("12/32")))
	w.after(10 * day)

	for _, tc := range []struct {
		name, odometer string
		depth          func(models.Position) string
		code           string
		numbers        []string // both must stand in the message
	}{
		{"a depth that rises by 2/32", "206,000 mi", func(p models.Position) string {
			if p == "2LO" {
				return "14/32"
			}
			return "11/32"
		}, "depth_rise:2LO", []string{"14/32", "does not grow"}},
		{"a depth that falls by 9/32 in ten days", "206,000 mi", func(p models.Position) string {
			if p == "2LO" {
				return "3/32"
			}
			return "11/32"
		}, "depth_drop:2LO", []string{"3/32", "11.6"}},
		{"a depth above new", "206,000 mi", func(p models.Position) string {
			if p == "2LO" {
				return "23/32"
			}
			return "11/32"
		}, "above_new:2LO", []string{"23/32", "20/32"}},
		{"same as last time on four or more wheels", "206,000 mi", all("12/32"), "same_as_last", []string{"10"}},
		{"a number that looks like the other unit", "206,000 mi", func(p models.Position) string {
			if p == "1L" {
				return "12 mm"
			}
			return "11/32"
		}, "unit:1L", []string{"12 mm", "11.6"}},
		{"an odometer that runs back", "199,000 mi", all("11/32"), "odometer_back", []string{"199,000", "203,000"}},
		{"an odometer that leaps", "240,000 mi", all("11/32"), "odometer_leap", []string{"240,000", "203,000"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			e := w.inspection(tc.odometer, tc.depth)
			_, err := w.fleet.Record(w.ctx, w.boss, e)
			held := wantKind(t, err, models.Held)

			found := false
			for _, f := range held.Fields {
				if f.Code == tc.code {
					found = true
					for _, n := range tc.numbers {
						if !strings.Contains(f.Remedy, n) {
							t.Errorf("message %q does not say %s", f.Remedy, n)
						}
					}
				}
			}

			if !found {
				t.Fatalf("held for %v, want %s", held.Fields, tc.code)
			}

			view := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
			if n := view.State.Odometer.Text; n != "203,000 mi" {
				t.Errorf("a held inspection changed the record: odometer %s", n)
			}
		})
	}

	// Confirmed, it is recorded.
	e := w.inspection("206,000 mi", all("12/32"))
	e.Confirmed = []string{"same_as_last"}
	w.record(e)
}

func TestRotationIsAPermutation(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)

	_, err := w.fleet.Record(
		w.ctx,
		w.boss,
		&models.Rotation{
			Meta:  w.meta("200,500 mi"),
			Moves: []models.Move{{From: "1L", To: "2LO"}, {From: "1R", To: "1L"}},
		},
	)

	e := wantKind(t, err, models.Invalid)
	if len(e.Fields) == 0 || !strings.Contains(e.Error(), "2LO") {
		t.Errorf("error %v does not name 2LO", e)
	}

	w.record(
		&models.Rotation{
			Meta:  w.meta("200,500 mi"),
			Moves: []models.Move{{From: "1L", To: "1R"}, {From: "1R", To: "1L"}},
		},
	)

	view := must(w.fleet.Tire(w.ctx, w.boss, w.tires["1L"]))(t)
	if view.State.Position != "1R" || len(view.Fitments) != 2 || view.Fitments[0].To == nil ||
		view.Fitments[1].To != nil {
		t.Errorf(
			"tire is at %s with fitments %+v; want 1R, one ended and one lasting",
			view.State.Position,
			view.Fitments,
		)
	}
}

func TestOnePlaceOneTire(t *testing.T) {
	t.Parallel()
	w := newWorld(t)

	tire := must(w.fleet.CreateTire(w.ctx, w.boss, w.tire("R901")))(t)
	_, err := w.fleet.Record(
		w.ctx,
		w.boss,
		&models.Fit{Meta: w.meta("unknown"), Fittings: []models.Fitting{{TireID: tire.ID, Position: "1L"}}},
	)

	wantKind(t, err, models.Invalid)
	_, err = w.fleet.Record(
		w.ctx,
		w.boss,
		&models.Fit{Meta: w.meta("unknown"), Fittings: []models.Fitting{{TireID: w.tires["1L"], Position: "1R"}}},
	)

	wantKind(t, err, models.Invalid)
}

// TestCorrectionReplays: after a wrong inspection is corrected, everything is as
// if the right one had been recorded first.
func TestCorrectionReplays(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(20 * day)

	wrong := w.inspection("204,000 mi", func(p models.Position) string {
		if p == "1L" {
			return "3/32"
		}
		return "17/32"
	})

	w.record(wrong)
	w.after(20 * day)
	later := w.inspection("208,000 mi", all("16/32"))
	later.Confirmed = []string{"depth_rise:1L"}
	w.record(later)
	w.after(time.Hour)
	right := w.inspection("204,000 mi", all("17/32"))
	right.At, right.Supersedes, right.Reason = wrong.At, wrong.ID, "1L was read on the wear bar"

	got := w.record(right)
	if p := codes(got.Open)[models.BelowLegal]; p != nil {
		t.Errorf("still below legal at %v", p)
	}

	view := must(w.fleet.Tire(w.ctx, w.boss, w.tires["1L"]))(t)
	if view.State.MinWear == nil || view.State.MinWear.FirstMM != (20*units.ThirtySecond).Millimetres() {
		t.Errorf("wear state %+v was not rebuilt", view.State.MinWear)
	}
	if n := len(view.Readings); n != 2 {
		t.Errorf("%d readings count, want 2: the superseded one must not", n)
	}

	old := must(w.fleet.Event(w.ctx, w.boss, wrong.ID))(t)
	if old.Header().SupersededBy != right.ID {
		t.Error("the wrong inspection is not kept as superseded")
	}

	_, err := w.fleet.Record(
		w.ctx,
		w.boss,
		&models.Void{
			Meta: models.Meta{
				ID:         newID[models.EventID](),
				VehicleID:  w.vehicle.ID,
				At:         w.now,
				Supersedes: wrong.ID,
				Reason:     "again",
			},
		},
	)

	wantKind(t, err, models.Conflict)
}

func TestPermissions(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	viewer := fleet.Actor{User: models.User{ID: newID[models.UserID](), Name: "Vic Harrow", Role: models.Viewer}}

	stranger := fleet.Actor{
		User: models.User{
			ID:     newID[models.UserID](),
			Name:   "Tilda Brandt",
			Role:   models.Manager,
			Depots: []models.DepotID{newID[models.DepotID]()},
		},
	}

	readOnly := w.boss
	readOnly.Token = &models.Token{Name: "board", ReadOnly: true}
	e := func() models.Event { return &models.OdometerEntry{Meta: w.meta("200,100 mi")} }
	_, err := w.fleet.Record(w.ctx, viewer, e())
	wantKind(t, err, models.Forbidden)
	_, err = w.fleet.Record(w.ctx, readOnly, e())
	wantKind(t, err, models.Forbidden)
	_, err = w.fleet.Record(w.ctx, stranger, e())

	wantKind(t, err, models.NotFound)
	_, err = w.fleet.Record(w.ctx, fleet.Actor{}, e())
	wantKind(t, err, models.Unauthenticated)
	_, err = w.fleet.Vehicle(w.ctx, stranger, w.vehicle.ID)
	wantKind(t, err, models.NotFound)

	if _, err := w.fleet.Vehicle(w.ctx, viewer, w.vehicle.ID); err != nil {
		t.Error(err)
	}
}

func TestStaleEdit(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	v := w.vehicle
	v.ParkingRow = "B"
	saved := must(w.fleet.EditVehicle(w.ctx, w.boss, v))(t)
	if saved.Version != 2 {
		t.Errorf("version %d, want 2", saved.Version)
	}
	v.ParkingRow = "C"
	_, err := w.fleet.EditVehicle(w.ctx, w.boss, v)
	wantKind(t, err, models.Stale)
}

func TestTimeMakesOverdue(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)
	w.record(w.inspection("200,300 mi", all("19/32")))
	w.after(40 * day) // a tractor is inspected monthly by the default policy

	n, err := w.fleet.AssessDue(w.ctx)
	if err != nil || n != 1 {
		t.Fatalf("%d vehicles assessed, %v; want 1", n, err)
	}

	view := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
	if _, ok := codes(view.Findings)[models.InspectionOverdue]; !ok {
		t.Errorf("40 days after the last inspection the findings are %v", codes(view.Findings))
	}

	if n, err = w.fleet.AssessDue(w.ctx); err != nil || n != 0 {
		t.Errorf("a second run assessed %d vehicles, %v; want none", n, err)
	}
}

func TestAcknowledge(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)
	e := w.inspection("200,300 mi", all("19/32"))
	e.Readings[0].Observations = []models.Observation{{Code: models.ObsBulge, Place: "sidewall_outer"}}
	rec := w.record(e)

	f := rec.Open[0]
	if f.Code != models.Damage || f.Urgency != models.OffTheRoad {
		t.Fatalf("first finding is %s, %s; want damage, off the road", f.Code, f.Urgency)
	}
	_, err := w.fleet.Acknowledge(w.ctx, w.boss, f.ID, w.now.Add(30*day), "parts ordered")
	wantKind(t, err, models.Invalid) // what is off the road: a week at most

	if _, err := w.fleet.Acknowledge(w.ctx, w.boss, f.ID, w.now.Add(2*day), "parked, tire ordered"); err != nil {
		t.Fatal(err)
	}

	view := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
	if view.Findings[0].Ack == nil {
		t.Error("the acknowledgement was lost by the next assessment")
	}

	// The bulge stays, whatever a later inspection does not see, until somebody clears it.
	w.after(day)
	rec = w.record(w.inspection("200,400 mi", all("18/32")))
	if _, ok := codes(rec.Open)[models.Damage]; !ok {
		t.Error("damage vanished because a later inspection did not name it")
	}

	clearance := &models.Clearance{
		Meta:     w.meta("unknown"),
		Position: "1L",
		Codes:    []models.ObservationCode{models.ObsBulge},
	}
	clearance.Note = "inspected inside by the retreader's man: a splice, no separation"

	rec = w.record(clearance)
	if _, ok := codes(rec.Open)[models.Damage]; ok {
		t.Error("cleared damage is still open")
	}
}
