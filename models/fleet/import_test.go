package fleet_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/store"
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
		t.Errorf("%q with %d fields; want the first 200 of 5000 rows and that the rest was not tried",
			e.Msg, len(e.Fields))
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
	modeltest.Long(t)
	t.Parallel()
	w := newWorld(t)
	w.after(100 * day)

	b := w.odometers(20_000)
	for _, b.DryRun = range []bool{true, false} {
		if res, err := w.fleet.Import(w.ctx, w.boss, b); err != nil || res.Created != 20_000 {
			t.Fatalf("dry run %t: %+v, %v", b.DryRun, res, err)
		}

		modeltest.Eventually(t, fmt.Sprintf("dry run %t: the log is short", b.DryRun), func() bool {
			f, err := os.Stat(w.path + "-wal")
			if err != nil {
				t.Fatal(err)
			}
			return f.Size() <= 8<<20
		})
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
			"depths": "23/32 23/32 23/32"}),
		row("inspections", 3, map[string]string{"vehicle": "T-01", "at": w.now.Add(-2 * time.Hour).Format(time.RFC3339),
			"position": "9L", "depths": "9/32"}),
	}}

	_, err := w.fleet.Import(w.ctx, w.boss, b)
	e := wantKind(t, err, models.Invalid)

	all := e.Error()
	for _, want := range []string{"line 2", "23/32", "confirmation", "line 3", "9L"} {
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

// watched is a store that counts what an import asks of it, and lets a test act
// before one of its writes.
type watched struct {
	models.Store
	before          func(write int) // counted from 1
	writes, lookups int
}

func (s *watched) Write(ctx context.Context, fn func(models.Tx) error) error {
	s.writes++
	if s.before != nil {
		s.before(s.writes)
	}
	return s.Store.Write(ctx, fn)
}

func (s *watched) Read(ctx context.Context, fn func(models.Reader) error) error {
	return s.Store.Read(ctx, func(r models.Reader) error { return fn(watchedReader{r, s}) })
}

type watchedReader struct {
	models.Reader
	s *watched
}

func (r watchedReader) VehicleByNumber(ctx context.Context, d models.DepotID, n string) (models.Vehicle, error) {
	r.s.lookups++
	return r.Reader.VehicleByNumber(ctx, d, n)
}

func (r watchedReader) TireByNumber(ctx context.Context, d models.DepotID, n string) (models.Tire, error) {
	r.s.lookups++
	return r.Reader.TireByNumber(ctx, d, n)
}

// watch returns use-cases over the store of w that are watched.
func (w *world) watch() (*fleet.Service, *watched) {
	s := &watched{Store: w.store}
	return fleet.New(s, fleet.Options{Now: func() time.Time { return w.now }}), s
}

// TestImportLooksNumbersUpOnce: a number is looked up once, whether it is there or
// not, and neither a dry run nor a refused sheet begins a write.
func TestImportLooksNumbersUpOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(10 * day)
	at := w.now.Add(-time.Hour).Format(time.RFC3339)

	for _, c := range []struct {
		kind  string
		cells map[string]string
		most  int
		kinds models.Kind
	}{
		{"odometers", map[string]string{"vehicle": "T-99", "at": at, "odometer": "1 km"}, 1, models.Invalid},
		{"odometers", map[string]string{"vehicle": "T-01", "at": at, "odometer": "200,500 mi"}, 1, ""},
		{"fitments", map[string]string{"vehicle": "T-01", "at": at, "position": "1L", "tire": "R99"}, 2, models.Invalid},
	} {
		f, s := w.watch()
		b := fleet.ImportBatch{Kind: c.kind, DepotID: w.depot.ID, DryRun: true}
		for i := range 300 {
			b.Rows = append(b.Rows, row(c.kind, i+2, c.cells))
		}

		_, err := f.Import(w.ctx, w.boss, b)
		if c.kinds == "" && err != nil || c.kinds != "" && !errors.Is(err, c.kinds) {
			t.Errorf("%s: %v", c.kind, err)
		}
		if s.lookups != c.most || s.writes != 0 {
			t.Errorf("%s of %s: %d look-ups and %d writes, want %d and none", c.kind, c.cells["vehicle"], s.lookups,
				s.writes, c.most)
		}
	}
}

// TestImportOfOneRow: what is counted is named in the singular, too.
func TestImportOfOneRow(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := fleet.ImportBatch{Kind: "odometers", DepotID: w.depot.ID, Rows: []fleet.ImportRow{
		row("odometers", 2, map[string]string{"vehicle": "T-99", "at": "2026-03-01", "odometer": "1 km"})}}
	_, err := w.fleet.Import(w.ctx, w.boss, b)
	if e := wantKind(t, err, models.Invalid); e.Msg != "1 problem in 1 row; nothing was imported" {
		t.Errorf("says %q", e.Msg)
	}
}

// TestImportChecksAgain: what changed between the trial of a sheet and its record
// is seen. A part that is refused leaves nothing; the error says what the parts before
// it left, and the same sheet again records the rest.
func TestImportChecksAgain(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(10 * day)
	home, other := w.depot.ID, w.otherDepot("Birch Yard")
	lee := w.as(models.Technician, home)
	f, s := w.watch()

	s.before = func(int) { w.move(other) }
	res, err := f.Import(w.ctx, lee, w.odometers(3))
	if e := wantKind(t, err, models.Invalid); !strings.Contains(e.Msg, "nothing was imported") || res.Created != 0 {
		t.Errorf("the vehicle is gone before the first part: %+v, %v", res, err)
	}

	w.move(home)
	w.after(time.Minute)
	s.writes, s.before = 0, func(n int) {
		if n == 2 {
			w.move(other)
		}
	}
	b := w.odometers(600)
	res, err = f.Import(w.ctx, lee, b)
	e := wantKind(t, err, models.Conflict)
	if !strings.Contains(e.Msg, "100 of 600 entries are recorded") || len(e.Fields) == 0 || res.Created != 100 {
		t.Errorf("the vehicle is gone before the second part: %+v, %v", res, err)
	}

	w.move(home)
	ctx, stop := context.WithCancel(w.ctx)
	defer stop()
	s.writes, s.before = 0, func(n int) {
		if n == 2 {
			stop()
		}
	}
	if _, err = f.Import(ctx, lee, b); !errors.Is(err, models.Unavailable) ||
		!strings.Contains(err.Error(), "100 of 600 entries are recorded") || models.WaitOf(err) == 0 {
		t.Errorf("the request ends before the second part: %v", err)
	}

	s.before = nil
	want := fleet.ImportResult{Rows: 600, Created: 500, Unchanged: 100}
	if res, err := f.Import(w.ctx, lee, b); err != nil || res != want {
		t.Errorf("once more: %+v, %v; want %+v", res, err, want)
	}
}

// TestImportLateAsRecorded: late and other rows, read at known and unknown
// odometers, also of a tire that is on another vehicle by now, leave what the same
// entries leave that are recorded one after another.
func TestImportLateAsRecorded(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	begin := w.now
	vehicles := []models.Vehicle{w.vehicle}
	for _, number := range []string{"T-02", "T-03"} {
		v := w.vehicle
		v.ID, v.Number, v.Stamp = newID[models.VehicleID](), number, models.Stamp{}
		vehicles = append(vehicles, must(w.fleet.CreateVehicle(w.ctx, w.boss, v))(t))
	}
	for _, number := range []string{"X1", "X2"} {
		must(w.fleet.CreateTire(w.ctx, w.boss, w.tire(number)))(t)
	}

	on := func(v int, m models.Meta) models.Meta {
		m.VehicleID = vehicles[v].ID
		return m
	}
	w.after(30 * day)
	w.record(w.inspection("205,000 mi", all("18/32")))
	w.record(&models.OdometerEntry{Meta: on(2, w.meta("90,000 mi"))})
	w.after(10 * day)
	w.record(takeOff1L(w.meta("206,000 mi")))
	w.after(time.Hour)
	w.record(&models.Fit{Meta: on(1, w.meta("50,000 mi")), Existing: true,
		Fittings: []models.Fitting{{TireID: w.tires["1L"], Position: "1L"}}})
	w.after(10 * day)
	w.record(&models.Retorque{Meta: w.meta("unknown"), TorqueNM: 600})
	w.after(20 * day)

	// The other record is a copy of the file.
	path := filepath.Join(t.TempDir(), "copy.sqlite")
	if err := w.store.Backup(w.ctx, path); err != nil {
		t.Fatal(err)
	}
	copied := must(store.Open(w.ctx, path, store.Options{}))(t)
	t.Cleanup(func() { copied.Close() })
	one := fleet.New(copied, fleet.Options{Now: func() time.Time { return w.now }})

	inspections := fleet.ImportBatch{Kind: "inspections", DepotID: w.depot.ID}
	for i, r := range []struct {
		days                   int
		vehicle, at, odo, read string
	}{
		{10, "T-01", "1L", "202,000 mi", "19/32 19/32 19/32"},
		{10, "T-01", "2LO", "202,000 mi", "19/32 19/32 19/32"},
		{20, "T-01", "1L", "unknown", "19/32 18/32 19/32"},
		{35, "T-01", "1R", "205,500 mi", "17/32 17/32 17/32"},
		{44, "T-01", "2LO", "unknown", "17/32 18/32 17/32"},
		{46, "T-01", "1R", "206,900 mi", "17/32 17/32 16/32"},
		{48, "T-01", "2LO", "unknown", "17/32 17/32 17/32"},
		{55, "T-01", "1R", "208,000 mi", "16/32 16/32 16/32"},
		{60, "T-01", "2LO", "unknown", "16/32 17/32 16/32"},
		{60, "T-02", "1L", "51,000 mi", "17/32 17/32 17/32"},
	} {
		inspections.Rows = append(inspections.Rows, row("inspections", i+2, map[string]string{"vehicle": r.vehicle,
			"at": begin.Add(time.Duration(r.days) * day).Format(time.RFC3339), "odometer": r.odo, "position": r.at,
			"depths": r.read}))
	}

	fits := fleet.ImportBatch{Kind: "fitments", DepotID: w.depot.ID}
	for i, r := range [][]string{{"5", "1L", "X1", "88,000 mi"}, {"6", "1R", "X2", "unknown"}} {
		days := must(time.ParseDuration(r[0]+"h"))(t) * 24
		fits.Rows = append(fits.Rows, row("fitments", i+2, map[string]string{"vehicle": "T-03",
			"at": begin.Add(days).Format(time.RFC3339), "position": r[1], "tire": r[2], "odometer": r[3]}))
	}

	for _, b := range []fleet.ImportBatch{fits, inspections} {
		must(w.fleet.Import(w.ctx, w.boss, b))(t)
	}

	importing := w.boss
	importing.Source = models.FromImport
	for _, v := range []int{2, 0, 1} {
		for _, e := range must(eventsOf(w, w.fleet, vehicles[v].ID))(t) {
			if e.Header().Source == models.FromImport {
				must(one.Record(w.ctx, importing, e))(t)
			}
		}
	}

	for _, v := range vehicles {
		if diff := cmp.Diff(told(w, one, v.ID), told(w, w.fleet, v.ID)); diff != "" {
			t.Errorf("%s (-recorded +imported):\n%s", v.Number, diff)
		}
	}
}

// eventsOf lists the events of a vehicle, oldest first.
func eventsOf(w *world, f *fleet.Service, v models.VehicleID) ([]models.Event, error) {
	list, _, err := f.Events(w.ctx, w.boss, models.EventFilter{VehicleID: v, Ascending: true}, models.Page{})
	return list, err
}

// told is everything that the record says of a vehicle, its tires and its events, as
// text: apart from ids of findings, and since when they hold, which a finding keeps
// from an assessment between two entries.
func told(w *world, f *fleet.Service, id models.VehicleID) string {
	w.t.Helper()
	v := must(f.Vehicle(w.ctx, w.boss, id))(w.t)
	v.Standing.Since = time.Time{}
	for i := range v.Findings {
		v.Findings[i].ID, v.Findings[i].Since = "", time.Time{}
	}
	slices.SortFunc(v.Findings, func(x, y models.Finding) int {
		return strings.Compare(fmt.Sprint(x.Key()), fmt.Sprint(y.Key()))
	})

	tires := []fleet.TireView{}
	for _, t := range v.Tires {
		tires = append(tires, must(f.Tire(w.ctx, w.boss, t.Tire.ID))(w.t))
	}

	text, err := json.MarshalIndent([]any{v, tires, must(eventsOf(w, f, id))(w.t)}, "", " ")
	if err != nil {
		w.t.Fatal(err)
	}
	return string(text)
}

// TestImportOfAChangedRow: a row that was imported before with other content is refused
// in words of the sheet, which has no ids.
func TestImportOfAChangedRow(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := fleet.ImportBatch{Kind: "vehicles", DepotID: w.depot.ID, Rows: []fleet.ImportRow{
		{Line: 2, Cells: []string{"B-9", "bus", "city bus", "", "S2 D4"}},
	}}
	must(w.fleet.Import(w.ctx, w.boss, b))(t)

	b.Rows[0].Cells[2] = "coach"
	_, err := w.fleet.Import(w.ctx, w.boss, b)
	e := wantKind(t, err, models.Invalid)
	if len(e.Fields) != 1 || e.Fields[0].Name != "line 2, column number" ||
		!strings.Contains(e.Fields[0].Remedy, "in the record already, with other content") ||
		strings.Contains(e.Fields[0].Remedy, "id ") {
		t.Errorf("got %+v", e.Fields)
	}
}
