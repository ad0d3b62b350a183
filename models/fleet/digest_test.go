package fleet_test

import (
	"fmt"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// A digest counts every vehicle once and lists all that are off the road; of the others
// it lists the oldest. The numbers wanted are those of what is put in here.
func TestDigestCountsVehicles(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.putOpen(nil)
	from, to := w.now.AddDate(0, 0, -7), w.now
	const offRoad, doNow, planned, suspects = 45, fleet.DigestListed + 7, 9, 3

	old, lately := from.AddDate(0, 0, -20), from.AddDate(0, 0, 1)
	soon, later := to.AddDate(0, 0, 3), to.AddDate(0, 0, 9)
	var all []models.Finding
	add := func(n int, prefix string, findings ...models.Finding) {
		for i := range n {
			v := w.vehicle
			v.ID, v.Number, v.Version = newID[models.VehicleID](), fmt.Sprintf("%s-%02d", prefix, i), 0
			v = must(w.fleet.CreateVehicle(w.ctx, w.boss, v))(t)
			for _, f := range findings {
				f.ID, f.DepotID, f.VehicleID = newID[models.FindingID](), w.depot.ID, v.ID
				f.Since = old.Add(time.Duration(-i) * time.Hour)
				all = append(all, f)
			}
		}
	}
	damage := models.Finding{Code: models.Damage, Urgency: models.OffTheRoad, OpenedAt: old}
	retorque := models.Finding{Code: models.RetorqueDue, Urgency: models.DoNow, OpenedAt: lately, DueAt: &soon}
	rotation := models.Finding{Code: models.RotationOverdue, Urgency: models.Plan, OpenedAt: old, DueAt: &later}
	closed := models.Finding{Code: models.BelowPull, Urgency: models.DoNow, OpenedAt: old, ClosedAt: &lately}
	before := closed
	before.ClosedAt = &old
	add(offRoad, "A", damage, retorque, retorque, closed, closed)
	add(doNow, "B", rotation, retorque, before)
	add(planned, "C", rotation)
	add(suspects, "D", models.Finding{Code: models.SuspectImbalance, Urgency: models.Plan, OpenedAt: old})
	w.closeOpen()
	if err := w.store.Write(w.ctx, func(tx models.Tx) error { return tx.PutFindings(w.ctx, all) }); err != nil {
		t.Fatal(err)
	}

	d := must(w.fleet.DigestOf(w.ctx, w.boss, w.depot.ID, from, to))(t)
	type counts struct{ offRoad, doNow, due, listed, rest, opened, closed int }
	got := counts{d.Now.OffRoad, d.Now.DoNow, d.Now.DueThisWeek, len(d.Vehicles), d.Rest, d.Opened, d.Closed}
	want := counts{
		offRoad: offRoad,
		doNow:   doNow,
		due:     offRoad + doNow,
		listed:  offRoad + fleet.DigestListed,
		rest:    doNow - fleet.DigestListed + planned + suspects,
		opened:  offRoad + doNow,
		closed:  offRoad,
	}
	if got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if len(d.Due) != 1 || d.Due[0] != (fleet.DigestDue{Code: models.RetorqueDue, Vehicles: offRoad + doNow}) {
		t.Errorf("due %+v", d.Due)
	}

	for i, v := range d.Vehicles {
		code := models.Damage
		if i >= offRoad {
			code = models.RetorqueDue
		}
		if v.Group.Code != code || v.New != (i >= offRoad) || v.More != map[bool]int{true: 1}[i < offRoad] {
			t.Fatalf("row %d: %+v", i, v)
		}
	}
	if first := d.Vehicles[0].Number; first != fmt.Sprintf("A-%02d", offRoad-1) {
		t.Errorf("the first row is %s, not the oldest", first)
	}
}

// closeOpen closes what is open on every vehicle.
func (w *world) closeOpen() {
	w.t.Helper()
	for {
		open, _, err := w.fleet.Findings(w.ctx, w.boss, models.FindingFilter{}, models.Page{Limit: 500})
		if err != nil {
			w.t.Fatal(err)
		}
		if len(open) == 0 {
			return
		}
		closed := w.now.AddDate(0, 0, -60) // long before any week that a test looks at
		for i := range open {
			open[i].OpenedAt, open[i].ClosedAt = closed, &closed
		}
		if err := w.store.Write(w.ctx, func(tx models.Tx) error { return tx.PutFindings(w.ctx, open) }); err != nil {
			w.t.Fatal(err)
		}
	}
}

// Wear that points to imbalance is listed behind what is to do now, and a row about a
// depth has the depths across the shallowest tread beside the law, which is 4/32 in on
// the front wheels of a truck tractor (49 CFR 393.75(b)).
func TestDigestRows(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.now = w.now.AddDate(0, 0, 10)
	inspection := &models.Inspection{Meta: w.meta("201,000 mi")}
	depths := func(p models.Position, texts ...string) {
		r := models.Reading{Position: p}
		for _, text := range texts {
			d := must(models.ParseDepth(text, units.BareNone))(t)
			r.Depths = append(r.Depths, []*models.Depth{&d})
		}
		inspection.Readings = append(inspection.Readings, r)
	}
	depths("1L", "9/32 in", "3/32 in", "9/32 in")
	depths("1R", "3/32 in", "2/32 in", "4/32 in")
	w.record(inspection)

	d := must(w.fleet.DigestOf(w.ctx, w.boss, w.depot.ID, w.now.AddDate(0, 0, -7), w.now.Add(time.Second)))(t)
	if len(d.Vehicles) != 1 || d.Vehicles[0].Tread == nil || d.Before != nil {
		t.Fatalf("%+v", d)
	}
	v := d.Vehicles[0]
	if v.Group.Code != models.BelowLegal || len(v.Group.Findings) != 2 || !v.New {
		t.Errorf("%+v", v)
	}
	got := fmt.Sprint(v.Tread.Position, " ", d.Style.WriteTread(v.Tread.Across), ", ",
		d.Style.WriteDepth(v.Tread.Legal))
	if want := "1R 3/32 | 2/32 | 4/32 in, 4/32 in"; got != want {
		t.Errorf("tread %q, want %q", got, want)
	}
}

// The week is compared with the figures of the day on which it began, or of one of the
// three days before.
func TestDigestComparesWithTheWeekBefore(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	from, to := w.now.AddDate(0, 0, -7), w.now // from 23 February
	for _, c := range []struct {
		kept string
		want bool
	}{{"2026-02-19", false}, {"2026-02-20", true}, {"2026-02-23", true}, {"2026-02-24", true}} {
		f := models.Figures{DepotID: w.depot.ID, Day: c.kept, OffRoad: 3}
		if err := w.store.Write(w.ctx, func(tx models.Tx) error { return tx.PutFigures(w.ctx, f) }); err != nil {
			t.Fatal(err)
		}
		d := must(w.fleet.DigestOf(w.ctx, w.boss, w.depot.ID, from, to))(t)
		if (d.Before != nil) != c.want || d.Before != nil && d.Before.Day > "2026-02-23" {
			t.Errorf("kept on %s: compared with %+v", c.kept, d.Before)
		}
	}
}
