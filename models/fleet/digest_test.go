package fleet_test

import (
	"context"
	"testing"

	"rimledger/models"
	"rimledger/models/fleet"
)

// A digest counts every finding, however many there are, and lists the first of
// them. The numbers wanted are those of what is put in here.
func TestDigestCountsAll(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	from, to := w.now.AddDate(0, 0, -7), w.now
	before := must(w.fleet.DigestOf(w.ctx, w.boss, w.depot.ID, from, to))(t)

	const offRoad, doNow, due, suspects, far = 41, 5300, 2100, 700, 600

	var all []models.Finding
	add := func(n int, f models.Finding) {
		for range n {
			f.ID, f.DepotID, f.VehicleID = newID[models.FindingID](), w.depot.ID, w.vehicle.ID
			all = append(all, f)
		}
	}

	old, lately, soon, later := w.now.AddDate(
		0,
		-2,
		0,
	), w.now.AddDate(
		0,
		0,
		-3,
	), w.now.AddDate(
		0,
		0,
		5,
	), w.now.AddDate(
		0,
		2,
		0,
	)

	add(offRoad, models.Finding{Code: models.BelowLegal, Urgency: models.OffTheRoad, OpenedAt: lately})
	add(doNow, models.Finding{Code: models.InspectionOverdue, Urgency: models.DoNow, OpenedAt: old})
	add(due, models.Finding{Code: models.PullForecast, Urgency: models.Plan, OpenedAt: old, DueAt: &soon})
	add(far, models.Finding{Code: models.PullForecast, Urgency: models.Plan, OpenedAt: old, DueAt: &later})
	add(suspects, models.Finding{Code: models.SuspectImbalance, Urgency: models.Plan, OpenedAt: lately})

	add(
		5100,
		models.Finding{Code: models.BelowPull, Urgency: models.DoNow, OpenedAt: old.AddDate(0, -1, 0), ClosedAt: &old},
	) // long done

	add(800, models.Finding{Code: models.BelowPull, Urgency: models.DoNow, OpenedAt: old, ClosedAt: &lately})
	add(90, models.Finding{Code: models.BelowPull, Urgency: models.DoNow, OpenedAt: lately, ClosedAt: &lately})
	add(
		7,
		models.Finding{Code: models.BelowPull, Urgency: models.DoNow, OpenedAt: lately, ClosedAt: &to},
	) // closed as the week ended

	if err := w.store.Write(w.ctx, func(tx models.Tx) error { return tx.PutFindings(context.Background(), all) }); err != nil {
		t.Fatal(err)
	}

	d := must(w.fleet.DigestOf(w.ctx, w.boss, w.depot.ID, from, to))(t)
	for _, c := range []struct {
		what      string
		got, was  fleet.DigestPart
		more      int
		listedMin int
	}{
		{"off the road", d.OffRoad, before.OffRoad, offRoad, fleet.DigestListed}, {"do now", d.DoNow, before.DoNow, doNow, fleet.DigestListed},
		{"due", d.DueSoon, before.DueSoon, due, fleet.DigestListed}, {"suspects", d.Suspects, before.Suspects, suspects, fleet.DigestListed},
		{"never measured", d.NeverMeasured, before.NeverMeasured, 0, len(before.NeverMeasured.Lines)},
	} {
		if c.got.Count != c.was.Count+c.more || len(c.got.Lines) != c.listedMin {
			t.Errorf(
				"%s: %d counted, %d listed; want %d and %d",
				c.what,
				c.got.Count,
				len(c.got.Lines),
				c.was.Count+c.more,
				c.listedMin,
			)
		}
	}

	if got, want := d.OpenedSince-before.OpenedSince, offRoad+suspects+90+7; got != want {
		t.Errorf("%d opened in the week, want %d", got, want)
	}
	if got, want := d.ClosedSince-before.ClosedSince, 800+90; got != want {
		t.Errorf("%d closed in the week, want %d", got, want)
	}

	for _, l := range d.OffRoad.Lines {
		if l.VehicleNumber != w.vehicle.Number {
			t.Errorf("a line is about vehicle %q", l.VehicleNumber)
		}
	}
}
