package fleet_test

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"rimledger/models"
	"rimledger/models/fleet"
)

// A sweep can be stopped between batches: what was settled stays, the rest is as
// it was, and the next sweep settles them all.
func TestSweepStopsAndGoesOn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)

	batch := fleet.ImportBatch{Kind: "vehicles", DepotID: w.depot.ID}
	for i := range 150 {
		batch.Rows = append(batch.Rows, row("vehicles", i+2, map[string]string{"number": fmt.Sprintf("C-%03d", i),
			"class": "car", "axles": "S2 D2"}))
	}

	must(w.fleet.Import(w.ctx, w.boss, batch))(t)

	w.now = w.now.AddDate(0, 3, 0)
	overdue := func() (n int) {
		t.Helper()

		for after := ""; ; {
			rows, next, err := w.fleet.Vehicles(
				w.ctx,
				w.boss,
				models.VehicleFilter{Code: models.EmptyPosition},
				models.Page{Limit: 100, After: after},
			)
			if err != nil {
				t.Fatal(err)
			}

			if n += len(rows); next == "" {
				return n
			}

			after = next
		}
	}

	before := overdue()
	ctx, cancel := context.WithCancel(w.ctx)
	done, err := w.fleet.AssessAll(ctx, func(int) { cancel() })
	if !errors.Is(err, context.Canceled) || done != 100 {
		t.Errorf("stopped sweep: %d done, %v; want the first 100 and canceled", done, err)
	}
	if done, err = w.fleet.AssessAll(w.ctx, nil); err != nil || done != 151 {
		t.Errorf("whole sweep: %d done, %v; want 151", done, err)
	}

	if after := overdue(); after != before || before != 150 {
		t.Errorf("%d vehicles lack a tire, %d before, want 150", after, before)
	}
}
