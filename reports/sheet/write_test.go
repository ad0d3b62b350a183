package sheet_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/store"
	"rimledger/models/units"
	"rimledger/reports/sheet"
)

// The characters are those of OWASP's page on CSV injection (from memory).
func TestFormulaGuard(t *testing.T) {
	t.Parallel()
	table := sheet.Table{Name: "findings", Columns: []string{"a", "b", "c", "d", "e", "f", "g"},
		Rows: [][]string{{"=1+1", "+49", "-2", "@SUM(A1)", "\tx", "7/32 = low", "'=1"}}}
	want := []string{"'=1+1", "'+49", "'-2", "'@SUM(A1)", "'\tx", "7/32 = low", "''=1"}
	var b bytes.Buffer
	if err := table.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}

	text, ok := strings.CutPrefix(b.String(), "\ufeff")
	if !ok || !strings.Contains(text, "\r\n") {
		t.Errorf("no byte order mark or no CRLF: %q", b.String())
	}
	got, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}

	if diff := cmp.Diff(want, got[1]); diff != "" {
		t.Errorf("CSV (-want +got):\n%s", diff)
	}

	b.Reset()
	if err := table.WriteXLSX(&b); err != nil {
		t.Fatal(err)
	}

	f, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("findings")
	if err != nil {
		t.Fatal(err)
	}

	if diff := cmp.Diff([][]string{table.Columns, want}, rows); diff != "" {
		t.Errorf("XLSX (-want +got):\n%s", diff)
	}
	if formula, err := f.GetCellFormula("findings", "A2"); err != nil || formula != "" {
		t.Errorf("A2 is a formula: %q, %v", formula, err)
	}
}

// What is written as CSV or XLSX is read as it was, whatever the text.
func TestWriteRead(t *testing.T) {
	t.Parallel()

	text := rapid.StringMatching(`[A-Za-z0-9='+@,;"|/ü -]{0,12}`)
	rapid.Check(t, func(rt *rapid.T) {
		var want []fleet.ImportRow
		for i := range rapid.IntRange(1, 5).Draw(rt, "rows") {
			r := fleet.ImportRow{Line: i + 2, Cells: make([]string, len(fleet.ImportColumns("vehicles")))}
			r.Cells[0], r.Cells[1], r.Cells[4] = fmt.Sprint("N", i), "car", "S2 D2"
			if s := strings.TrimSpace(text.Draw(rt, "description")); s != "" {
				r.Cells[2] = s
			}
			want = append(want, r)
		}

		got, err := sheet.Read(t.Context(), "vehicles", "again.csv", bytes.NewReader(written(t, "vehicles", want)))
		if err != nil {
			rt.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			rt.Fatalf("(-want +got):\n%s", diff)
		}
	})
}

// emptyRecord is a depot in an empty record.
type emptyRecord struct {
	fleet *fleet.Service
	depot models.Depot
}

var boss = fleet.System(models.FromImport)

func newEmptyRecord(t *testing.T) *emptyRecord {
	t.Helper()

	st, err := store.Open(
		t.Context(),
		filepath.Join(t.TempDir(), "record.sqlite"),
		store.Options{Migrate: true, Volatile: true},
	)
	if err != nil {
		t.Fatal(err)
	}

	t.Cleanup(func() { st.Close() })
	now := func() time.Time { return time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC) }

	y := &emptyRecord{fleet: fleet.New(st, fleet.Options{Now: now})}
	y.depot, err = y.fleet.CreateDepot(
		t.Context(),
		boss,
		models.Depot{ID: models.DepotID(uuid.Must(uuid.NewV7()).String()), Name: "Hof Erlengrund",
			TimeZone: "Europe/Berlin", Jurisdiction: "DE", Units: units.Metric, Currency: "EUR"},
	)
	if err != nil {
		t.Fatal(err)
	}

	return y
}

func (y *emptyRecord) load(t *testing.T, kind string, rows []fleet.ImportRow) fleet.ImportResult {
	t.Helper()
	res, err := y.fleet.Import(
		context.Background(),
		boss,
		fleet.ImportBatch{Kind: kind, DepotID: y.depot.ID, Rows: rows},
	)
	if err != nil {
		t.Fatalf("%s: %v", kind, err)
	}
	return res
}

// samples imports all good samples; the numbers are counted in the files by hand.
func (y *emptyRecord) samples(t *testing.T) {
	t.Helper()

	for _, tt := range []struct {
		kind          string
		rows, created int
	}{{"vehicles", 3, 3}, {"tires", 6, 6}, {"fitments", 6, 1}, {"odometers", 3, 3}, {"inspections", 6, 1}} {
		rows := read(t, tt.kind, tt.kind+".csv")
		if res := y.load(t, tt.kind, rows); res.Rows != tt.rows || res.Created != tt.created {
			t.Errorf("%s: got %+v, want %d rows and %d new", tt.kind, res, tt.rows, tt.created)
		}
		if res := y.load(t, tt.kind, rows); res.Created != 0 || res.Unchanged != tt.created {
			t.Errorf("%s again: got %+v, want nothing new", tt.kind, res)
		}
	}
}

func TestSamplesImport(t *testing.T) {
	t.Parallel()
	y := newEmptyRecord(t)
	y.samples(t)
	bad := bytes.Replace(sample(t, "bad-one-row.csv"), []byte(",,24/32"), []byte(",2LO,24/32"), 1)
	rows, err := sheet.Read(t.Context(), "inspections", "bad-one-row.csv", bytes.NewReader(bad))
	if err != nil {
		t.Fatal(err)
	}
	_, err = y.fleet.Import(t.Context(), boss, fleet.ImportBatch{Kind: "inspections", DepotID: y.depot.ID, Rows: rows})
	if !errors.Is(err, models.Invalid) || !strings.Contains(err.Error(), "line 6, column depths") {
		t.Errorf("got %v, want the fault of line 6", err)
	}
}

// What is exported can be imported into an empty record, and exported again is
// the same, through CSV and XLSX.
func TestExportImport(t *testing.T) {
	t.Parallel()
	from, to := newEmptyRecord(t), newEmptyRecord(t)
	from.samples(t)
	to.load(t, "vehicles", reread(t, "vehicles", vehicles(t, from), sheet.Table.WriteCSV))
	to.load(t, "tires", reread(t, "tires", tires(t, from), sheet.Table.WriteXLSX))
	to.load(t, "fitments", read(t, "fitments", "fitments.csv"))
	to.load(t, "inspections", reread(t, "inspections", readings(t, from), sheet.Table.WriteXLSX))
	for name, table := range map[string]func(*testing.T, *emptyRecord) sheet.Table{"vehicles": vehicles, "tires": tires, "inspections": readings} {
		if diff := cmp.Diff(table(t, from), table(t, to)); diff != "" {
			t.Errorf("%s (-exported +exported again):\n%s", name, diff)
		}
	}
}

func reread(t *testing.T, kind string, table sheet.Table, write func(sheet.Table, io.Writer) error) []fleet.ImportRow {
	t.Helper()
	var b bytes.Buffer
	if err := write(table, &b); err != nil {
		t.Fatal(err)
	}
	rows, err := sheet.Read(t.Context(), kind, kind, &b)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func vehicles(t *testing.T, y *emptyRecord) sheet.Table {
	t.Helper()
	rows, _, err := y.fleet.Vehicles(t.Context(), boss, models.VehicleFilter{}, models.Page{Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	var list []models.Vehicle
	for _, r := range rows {
		list = append(list, r.Vehicle)
	}
	return sheet.Vehicles(list)
}

func tires(t *testing.T, y *emptyRecord) sheet.Table {
	t.Helper()
	rows, _, err := y.fleet.Tires(t.Context(), boss, models.TireFilter{}, models.Page{Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	var list []models.Tire
	for _, r := range rows {
		list = append(list, r.Tire)
	}
	return sheet.Tires(list)
}

func readings(t *testing.T, y *emptyRecord) sheet.Table {
	t.Helper()
	v, err := y.fleet.VehicleByNumber(t.Context(), boss, y.depot.ID, "T-104")
	if err != nil {
		t.Fatal(err)
	}

	events, _, err := y.fleet.Events(
		t.Context(),
		boss,
		models.EventFilter{VehicleID: v.ID, Kinds: []models.EventKind{models.KindInspection}},
		models.Page{Limit: 100},
	)
	if err != nil {
		t.Fatal(err)
	}

	var list []*models.Inspection
	for _, e := range events {
		list = append(list, e.(*models.Inspection))
	}

	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}

	return sheet.Readings(list, map[models.VehicleID]string{v.ID: v.Number}, berlin)
}

func TestFindings(t *testing.T) {
	t.Parallel()
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}

	due, at := time.Date(2026, 4, 7, 5, 0, 0, 0, time.UTC), 210_000*units.Mile
	got := sheet.Findings(
		[]fleet.DigestLine{{VehicleNumber: "T-104", Class: models.Tractor, Row: "B", Finding: models.Finding{
			Position: "1L", Code: models.BelowLegal, Urgency: models.OffTheRoad, Title: "3/32 in at 1L, below the " +
				"legal 4/32 in", FirstJob: "Change the tire.",
			Evidence: []models.Evidence{
				{Text: "measured 3/32 in"},
				{Text: "gauge steps of 1/32 in"},
			}, Since: time.Date(2026, 3, 28, 3, 0, 0, 0, time.UTC),
			DueAt: &due, DueOdometer: &at, Estimated: true}}},
		chicago,
		units.Mi,
	)

	want := []string{
		"T-104",
		"tractor",
		"B",
		"1L",
		"off the road",
		"below_legal",
		"3/32 in at 1L, below the legal 4/32 in",
		"measured 3/32 in; gauge steps of 1/32 in",
		"Change the tire.",
		"",
		"",
		"2026-03-27 22:00",
		"2026-04-07 00:00",
		"210,000 mi",
		"yes",
		"",
	}

	if diff := cmp.Diff([][]string{want}, got.Rows); diff != "" || len(got.Columns) != len(want) {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestExportedVisitsAreKnownAgain: a sheet of visits that this record wrote records none
// of them twice, whatever is confirmed and corrected since; a changed row is refused.
func TestExportedVisitsAreKnownAgain(t *testing.T) {
	t.Parallel()
	y := newEmptyRecord(t)
	y.samples(t)
	v, err := y.fleet.VehicleByNumber(t.Context(), boss, y.depot.ID, "T-104")
	if err != nil {
		t.Fatal(err)
	}

	// By a phone, in the midst of a minute, with what a sheet cannot say.
	depth, err := models.ParseDepth("13.5/32", units.In32)
	if err != nil {
		t.Fatal(err)
	}
	visit := &models.Inspection{
		Meta: models.Meta{ID: models.EventID(uuid.NewString()), VehicleID: v.ID, Note: "wet",
			At: time.Date(2026, 3, 2, 10, 30, 17, 0, time.UTC)},
		Readings: []models.Reading{{Position: "1L", Depths: [][]*models.Depth{{&depth}, {&depth}, {&depth}}, Hot: true,
			Observations: []models.Observation{{Code: models.ObsCut, Place: "outer", Size: units.Millimetre}}}},
	}
	if _, err := y.fleet.Record(t.Context(), boss, visit); err != nil {
		t.Fatal(err)
	}

	again := func(rows []fleet.ImportRow) (fleet.ImportResult, error) {
		return y.fleet.Import(t.Context(), boss, fleet.ImportBatch{Kind: "inspections", DepotID: y.depot.ID,
			Confirm: true, Rows: rows})
	}
	exported := reread(t, "inspections", readings(t, y), sheet.Table.WriteCSV)
	if res, err := again(exported); err != nil || res.Created != 0 || res.Unchanged != 2 {
		t.Errorf("imported again: %+v, %v; want 2 unchanged", res, err)
	}

	right := *visit
	right.ID, right.Supersedes, right.Reason = models.EventID(uuid.NewString()), visit.ID, "another day"
	right.At, right.Note = visit.At.Add(-time.Minute), ""
	if _, err := y.fleet.Record(t.Context(), boss, &right); err != nil {
		t.Fatal(err)
	}
	if res, err := again(exported); err != nil || res.Created != 0 || res.Unchanged != 2 {
		t.Errorf("imported again after a correction: %+v, %v; want 2 unchanged", res, err)
	}

	for name, change := range map[string][2]string{
		"a changed depth": {"13.5/32", "13/32"},
		"no id":           {string(visit.ID), "4 March"},
	} {
		var b bytes.Buffer
		if err := readings(t, y).WriteCSV(&b); err != nil {
			t.Fatal(err)
		}
		text := strings.ReplaceAll(b.String(), string(right.ID), string(visit.ID))
		rows, err := sheet.Read(t.Context(), "inspections", "changed.csv",
			strings.NewReader(strings.ReplaceAll(text, change[0], change[1])))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := again(rows); models.KindOf(err) != models.Invalid {
			t.Errorf("%s: %v, want a refusal", name, err)
		}
	}
}
