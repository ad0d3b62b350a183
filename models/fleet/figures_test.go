package fleet_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/demo"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/store"
	"rimledger/models/units"
)

// A vehicle counts under its worst finding, work by its day, tires by their newest
// depth. Each case puts findings on the one vehicle of the world; the figures wanted
// follow from the comments at models.Figures. The day is 2 March, the depot's zone is
// America/Chicago, where it is 03:00.
func TestFigures(t *testing.T) {
	t.Parallel()
	day := func(n int) *time.Time {
		at := time.Date(2026, 3, 2+n, 6, 0, 0, 0, time.UTC) // midnight in Chicago
		return &at
	}
	ack := func(booked string) *models.Ack {
		return &models.Ack{Until: *day(20), Why: "known", Booked: booked}
	}

	for name, c := range map[string]struct {
		findings []models.Finding
		want     models.Figures
	}{
		"nothing open": {nil, models.Figures{InTime: 1}},
		"off the road, acknowledged all the same": {
			[]models.Finding{{Code: models.Damage, Urgency: models.OffTheRoad, Ack: ack("")}},
			models.Figures{OffRoad: 1, InTime: 1}},
		"off the road and do now": {
			[]models.Finding{{Code: models.RetorqueDue, Urgency: models.DoNow}, {Code: models.Damage, Urgency: models.OffTheRoad}},
			models.Figures{OffRoad: 1, InTime: 1}},
		"do now, twice": {
			[]models.Finding{{Code: models.RetorqueDue, Urgency: models.DoNow}, {Code: models.RunFlat, Urgency: models.DoNow}},
			models.Figures{DoNow: 1, InTime: 1}},
		"do now, acknowledged": {
			[]models.Finding{{Code: models.RetorqueDue, Urgency: models.DoNow, DueAt: day(-3), Ack: ack("")}},
			models.Figures{InTime: 1}},
		"never measured": {
			[]models.Finding{{Code: models.NeverInspected, Urgency: models.DoNow}}, models.Figures{DoNow: 1}},
		"inspection overdue since yesterday": {
			[]models.Finding{{Code: models.InspectionOverdue, Urgency: models.DoNow, DueAt: day(-1)}},
			models.Figures{DoNow: 1, Overdue: 1}},
		"due at the first moment of the day": {
			[]models.Finding{{Code: models.RotationOverdue, Urgency: models.Plan, DueAt: day(0)}},
			models.Figures{DueThisWeek: 1, InTime: 1}},
		"due on the last day of the week, and overdue": {
			[]models.Finding{
				{Code: models.RotationOverdue, Urgency: models.Plan, DueAt: day(6)},
				{Code: models.PressureOverdue, Urgency: models.Plan, DueAt: day(-9)}},
			models.Figures{Overdue: 1, DueThisWeek: 1, InTime: 1}},
		"due in a week": {
			[]models.Finding{{Code: models.RotationOverdue, Urgency: models.Plan, DueAt: day(7)}},
			models.Figures{InTime: 1}},
		"booked in for the last day of the week": {
			[]models.Finding{{Code: models.RotationOverdue, Urgency: models.Plan, Ack: ack("2026-03-08")}},
			models.Figures{InShop: 1, InTime: 1}},
		"booked in for the day after": {
			[]models.Finding{{Code: models.RotationOverdue, Urgency: models.Plan, Ack: ack("2026-03-09")}},
			models.Figures{InTime: 1}},
		"tires at the pull point": {
			[]models.Finding{
				{Code: models.BelowPull, Urgency: models.DoNow, Position: "1L"},
				{Code: models.NearLegal, Urgency: models.DoNow, Position: "1L"},
				{Code: models.BelowPull, Urgency: models.DoNow, Position: "2LO"},
				{Code: models.PullForecast, Urgency: models.Plan, Position: "2LI", DueAt: day(models.PullAheadDays)},
				{Code: models.PullForecast, Urgency: models.Plan, Position: "2RI", DueAt: day(models.PullAheadDays + 1)}},
			models.Figures{DoNow: 1, AtPull: 3, InTime: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			w.putOpen(c.findings)

			if n, err := w.fleet.KeepFigures(w.ctx); n != 1 || err != nil {
				t.Fatalf("%d depots kept, %v", n, err)
			}

			c.want.DepotID, c.want.Day, c.want.Vehicles = w.depot.ID, "2026-03-02", 1
			got := must(w.fleet.Figures(w.ctx, w.boss, nil, "", ""))(t)
			if diff := cmp.Diff([]models.Figures{c.want}, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// putOpen leaves only these findings open on the vehicle of the world.
func (w *world) putOpen(list []models.Finding) {
	w.t.Helper()
	w.closeOpen()
	var open []models.Finding
	for _, f := range list {
		f.ID, f.DepotID, f.VehicleID = newID[models.FindingID](), w.depot.ID, w.vehicle.ID
		open = append(open, f)
	}
	if err := w.store.Write(w.ctx, func(tx models.Tx) error { return tx.PutFindings(w.ctx, open) }); err != nil {
		w.t.Fatal(err)
	}
}

// The median is over the newest depths of the tires on the vehicles: of 8 and 12 mm it
// is 10 mm.
func TestFiguresMedianDepth(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	inspection := &models.Inspection{Meta: w.meta("200,050 mi")}
	for p, text := range map[models.Position]string{"1L": "8.0 mm", "1R": "12.0 mm"} {
		d := must(models.ParseDepth(text, units.BareNone))(t)
		inspection.Readings = append(inspection.Readings, models.Reading{Position: p, Depths: [][]*models.Depth{{&d}}})
	}
	w.record(inspection)

	must(w.fleet.KeepFigures(w.ctx))(t)
	got := must(w.fleet.Figures(w.ctx, w.boss, nil, "", ""))(t)[0]
	if got.Tires != 2 || got.MedianDepth != units.LengthFromMillimetres(10) {
		t.Errorf("%d tires, median %v; want 2 and 10 mm", got.Tires, got.MedianDepth.Millimetres())
	}
}

// Figures are kept once a day, and once more in its last hour, by the clock of the depot.
func TestFiguresOfTheEvening(t *testing.T) {
	t.Parallel()
	w := newWorld(t) // 03:00 in Chicago

	for _, c := range []struct {
		hour, kept int
	}{{0, 1}, {1, 0}, {19, 0}, {20, 1}, {21, 1}} { // 22:00, 23:00 and midnight in Chicago
		w.now = time.Date(2026, 3, 2, 9+c.hour, 0, 0, 0, time.UTC)
		if n, err := w.fleet.KeepFigures(w.ctx); n != c.kept || err != nil {
			t.Errorf("%s: %d kept, %v; want %d", w.now, n, err, c.kept)
		}
	}
	if days := must(w.fleet.Figures(w.ctx, w.boss, nil, "", ""))(t); len(days) != 2 || days[1].Day != "2026-03-03" {
		t.Errorf("figures of days %+v", days)
	}

	stranger := w.boss
	stranger.User.Depots = []models.DepotID{newID[models.DepotID]()}
	if got, err := w.fleet.Figures(w.ctx, stranger, nil, "", ""); len(got) != 0 || err != nil {
		t.Errorf("a person of another depot sees %v, %v", got, err)
	}
}

// Rebuilt from the record for this moment, the figures are those that are counted from
// the open findings, as long as nothing was acknowledged.
func TestPastFiguresOfNow(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	ctx := t.Context()
	path := filepath.Join(t.TempDir(), "demo.sqlite")
	st := must(store.Open(ctx, path, store.Options{Migrate: true, Volatile: true}))(t)
	defer st.Close()

	until := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	if err := demo.Build(ctx, st, until, nil); err != nil {
		t.Fatal(err)
	}
	f := fleet.New(st, fleet.Options{Now: func() time.Time { return until }})
	boss := fleet.System(models.FromDemo)
	must(f.AssessAll(ctx, func(int) {}))(t)
	if n, err := f.KeepFigures(ctx); n != 3 || err != nil {
		t.Fatal(n, err)
	}

	all := must(f.Figures(ctx, boss, nil, "", ""))(t)
	counted := all[len(all)-3:]
	if len(all) != 3*28 || counted[0].Day != "2026-11-25" || counted[0].Vehicles < 10 || counted[0].Tires < 50 {
		t.Fatalf("%d figures, the last %+v", len(all), counted)
	}
	if err := f.KeepPastFigures(ctx, []time.Time{until}); err != nil {
		t.Fatal(err)
	}

	rebuilt := must(f.Figures(ctx, boss, nil, "2026-11-25", ""))(t)
	if diff := cmp.Diff(counted, rebuilt); diff != "" {
		t.Errorf("-counted +rebuilt:\n%s", diff)
	}
}
