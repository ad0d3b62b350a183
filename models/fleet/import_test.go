package fleet_test

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// row is a row of a sheet with these cells by column.
func row(kind string, line int, cells map[string]string) fleet.ImportRow {
	r := fleet.ImportRow{Line: line}
	for _, c := range fleet.ImportColumns(kind) {
		r.Cells = append(r.Cells, cells[c.Name])
	}
	return r
}

func (w *world) odometers(n int) fleet.ImportBatch {
	b := fleet.ImportBatch{Kind: "odometers", DepotID: w.depot.ID}
	for i := range n {
		b.Rows = append(b.Rows, row("odometers", i+2, map[string]string{"vehicle": "T-01",
			"at": w.now.Add(-time.Duration(n-i) * time.Minute).Format(time.RFC3339), "odometer": fmt.Sprintf("%d mi",
				200_001+i/60)}))
	}
	return b
}

// TestImportOneBadOfMany: one bad cell in 100,000 rows is named with its line,
// and nothing is recorded.
func TestImportOneBadOfMany(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(100 * day)
	b := w.odometers(100_000)
	b.Rows[77_000] = row("odometers", 77_002, map[string]string{"vehicle": "T-01", "at": w.now.Format(time.RFC3339),
		"odometer": "many"})
	_, err := w.fleet.Import(w.ctx, w.boss, b)

	e := wantKind(t, err, models.Invalid)
	if len(e.Fields) != 1 || e.Fields[0].Name != "line 77002, column odometer" || e.Fields[0].Value != "many" ||
		e.Fields[0].Remedy == "" {
		t.Errorf("faults %+v; want the one cell of line 77002", e.Fields)
	}

	events, _, err := w.fleet.Events(w.ctx, w.boss, models.EventFilter{VehicleID: w.vehicle.ID}, models.Page{Limit: 10})
	if err != nil || len(events) != 1 {
		t.Errorf("%d events after a refused import, %v; want the fitting only", len(events), err)
	}
}

// TestImportStopsAtManyFaults: a sheet whose rows are all refused is not tried to
// its end, since every other write waits for it.
func TestImportStopsAtManyFaults(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(100 * day)

	// The odometer runs backward from row to row.
	b := fleet.ImportBatch{Kind: "odometers", DepotID: w.depot.ID, DryRun: true}
	for i := range 5000 {
		b.Rows = append(b.Rows, row("odometers", i+2, map[string]string{"vehicle": "T-01",
			"at":       w.now.Add(-time.Duration(5000-i) * time.Minute).Format(time.RFC3339),
			"odometer": fmt.Sprintf("%d mi", 900_000-10*i)}))
	}
	_, err := w.fleet.Import(w.ctx, w.boss, b)

	e := wantKind(t, err, models.Invalid)
	if !strings.HasPrefix(e.Msg, "at least 200 problems in 5000 rows") || len(e.Fields) != 200 {
		t.Errorf("%q with %d fields; want the first 200 of 5000 rows and that the rest was not tried", e.Msg, len(e.Fields))
	}
}

func TestImportRepeats(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(10 * day)
	dry := w.odometers(50)
	dry.DryRun = true
	if res, err := w.fleet.Import(w.ctx, w.boss, dry); err != nil || res.Created != 50 || !res.DryRun {
		t.Fatalf("dry run %+v, %v", res, err)
	}

	for _, want := range []fleet.ImportResult{{Rows: 50, Created: 50}, {Rows: 50, Unchanged: 50}} {
		if res, err := w.fleet.Import(w.ctx, w.boss, w.odometers(50)); err != nil || res != want {
			t.Errorf("import %+v, %v; want %+v", res, err, want)
		}
	}

	view := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
	if view.State.Odometer.Text != "200001 mi" {
		t.Errorf("odometer %q after the import", view.State.Odometer.Text)
	}
}

// TestImportLeavesAShortLog: neither a dry run of 20,000 rows nor their import
// leaves a long write-ahead log beside the database. 8 MB is chosen by us.
func TestImportLeavesAShortLog(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(100 * day)

	b := w.odometers(20_000)
	for _, b.DryRun = range []bool{true, false} {
		if res, err := w.fleet.Import(w.ctx, w.boss, b); err != nil || res.Created != 20_000 {
			t.Fatalf("dry run %t: %+v, %v", b.DryRun, res, err)
		}

		for end := time.Now().Add(20 * time.Second); ; time.Sleep(5 * time.Millisecond) {
			f, err := os.Stat(w.path + "-wal")
			if err != nil {
				t.Fatal(err)
			}
			if f.Size() <= 8<<20 {
				break
			}
			if time.Now().After(end) {
				t.Fatalf("dry run %t: the log has %d bytes", b.DryRun, f.Size())
			}
		}
	}
}

// TestImportFaults: faults of the domain are reported by line, all at once, and
// held values say that they can be confirmed.
func TestImportFaults(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(10 * day)

	at := w.now.Add(-time.Hour).Format(time.RFC3339)
	b := fleet.ImportBatch{Kind: "inspections", DepotID: w.depot.ID, Rows: []fleet.ImportRow{
		row("inspections", 2, map[string]string{"vehicle": "T-01", "at": at, "odometer": "unknown", "position": "1L",
			"depths": "22/32 22/32 22/32"}),
		row("inspections", 3, map[string]string{"vehicle": "T-01", "at": w.now.Add(-2 * time.Hour).Format(time.RFC3339),
			"position": "9L", "depths": "9/32"}),
	}}

	_, err := w.fleet.Import(w.ctx, w.boss, b)
	e := wantKind(t, err, models.Invalid)

	all := e.Error()
	for _, want := range []string{"line 2", "22/32", "confirmation", "line 3", "9L"} {
		if !strings.Contains(all, want) {
			t.Errorf("faults %q do not say %q", all, want)
		}
	}

	b.Rows, b.Confirm = b.Rows[:1], true
	if res, err := w.fleet.Import(w.ctx, w.boss, b); err != nil || res.Created != 1 {
		t.Errorf("confirmed import %+v, %v", res, err)
	}
	if res, err := w.fleet.Import(w.ctx, w.boss, b); err != nil || res.Unchanged != 1 {
		t.Errorf("confirmed import again %+v, %v", res, err)
	}
}
