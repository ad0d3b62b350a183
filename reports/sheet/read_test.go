package sheet_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/reports/sheet"
)

func sample(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "sheets", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func read(t testing.TB, kind, name string) []fleet.ImportRow {
	t.Helper()
	rows, err := sheet.Read(t.Context(), kind, name, bytes.NewReader(sample(t, name)))
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func TestRead(t *testing.T) {
	t.Parallel()
	row := func(line int, cells ...string) fleet.ImportRow {
		return fleet.ImportRow{Line: line, Cells: cells}
	}
	want := []fleet.ImportRow{
		row(2, "T-104", "2026-01-26", "123,900 km", "Jo Marsh"),
		row(3, "T-104", "2026-02-09", "127,250 km", ""),
		row(5, "C-41", "2026-02-09 17:05", "41200 km", "Ada Fenn"),
	}
	if diff := cmp.Diff(want, read(t, "odometers", "odometers.csv")); diff != "" {
		t.Errorf("odometers (-want +got):\n%s", diff)
	}
}

// Files of other forms say the same.
func TestForms(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ kind, plain, other string }{
		{"vehicles", "vehicles.csv", "vehicles-semicolons.csv"},
		{"tires", "tires.csv", "tires-tabs.csv"},
	} {
		if diff := cmp.Diff(read(t, tt.kind, tt.plain), read(t, tt.kind, tt.other)); diff != "" {
			t.Errorf("%s against %s:\n%s", tt.plain, tt.other, diff)
		}
	}
}

func TestRefused(t *testing.T) {
	t.Parallel()

	wide := strings.Repeat("number,", 150)
	for _, tt := range []struct {
		name, kind, data string
		want             []string // in the error, all of them
		kindOf           models.Kind
	}{
		{"missing column", "tires", string(sample(t, "bad-missing-column.csv")), []string{"line 1, column size", "is missing", "295/75R22.5"}, models.Invalid},
		{"unknown and doubled column", "vehicles", string(sample(t, "bad-unknown-column.csv")),
			[]string{"line 1, column 4", "colour", "parking_row", "line 1, column 5", "twice, as column 1 and " +
				"column 5"}, models.Invalid},
		{"empty cell of a required column", "inspections", string(sample(t, "bad-one-row.csv")), []string{"line 4, column position", "must not be empty"}, models.Invalid},
		{"quote that does not close", "odometers", string(sample(t, "bad-quote.csv")), []string{"line 3", "quote"}, models.Invalid},
		{"NUL byte", "odometers", string(sample(t, "bad-nul.csv")), []string{"line 2", "NUL"}, models.Invalid},
		{"UTF-16", "odometers", "\xff\xfev\x00e\x00", []string{"line 1", "UTF-8"}, models.Invalid},
		{"Latin-1", "vehicles", "number,class,axles\nM\xfcll-1,tractor,S2 D4\n", []string{"line 2", "UTF-8"}, models.Invalid},
		{"control character", "vehicles", "number,class,axles\nT\x07,tractor,S2 D4\n", []string{"line 2, column number", "U+0007"}, models.Invalid},
		{"cell without heading", "odometers", "vehicle,at,odometer\nT-1,2026-01-01,5 km,extra\n", []string{"line 2, column 4", "no heading"}, models.Invalid},
		{"long cell", "vehicles", "number,class,axles,description\nT,tractor,S2 D4," + strings.Repeat("x", 2001) + "\n", []string{"line 2, column description", "2000"}, models.Invalid},
		{"too many columns", "vehicles", wide + "\n", []string{"too far right"}, models.Invalid},
		{"empty file", "vehicles", "", []string{"empty", "number, class"}, models.Invalid},
		{"blank lines only", "vehicles", "\n\n,,\n", []string{"empty"}, models.Invalid},
		{"unknown kind", "drivers", "number\n", []string{"drivers", "vehicles"}, models.Invalid},
		{"damaged workbook", "vehicles", "PK\x03\x04nothing", []string{"XLSX"}, models.Invalid},
		{"too many rows", "odometers", "vehicle,at,odometer\n" + strings.Repeat("T,2026-01-01,5 km\n", sheet.MaxRows+1), []string{"200000 rows"}, models.TooLarge},
		{"too large", "odometers", strings.Repeat(" ", sheet.MaxBytes+1), []string{"32 MB"}, models.TooLarge},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			rows, err := sheet.Read(t.Context(), tt.kind, "sheet.csv", strings.NewReader(tt.data))
			if !errors.Is(err, tt.kindOf) || rows != nil {
				t.Fatalf("got %d rows and %v, want an error of kind %s", len(rows), err, tt.kindOf)
			}

			text := err.Error()
			var e *models.Error
			if errors.As(err, &e) {
				for _, f := range e.Fields {
					text += " " + f.Value
				}
			}

			for _, want := range tt.want {
				if !strings.Contains(text, want) {
					t.Errorf("the error lacks %q: %s", want, text)
				}
			}
		})
	}
}

// One bad among 100,000 rows is found, and every fault is reported at once.
func TestManyRowsOneBad(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	b.WriteString("vehicle;at;odometer\n")

	for i := range 100_000 {
		if i == 77_776 {
			b.WriteString("T-1;;\n")
			continue
		}
		fmt.Fprintf(&b, "T-%d;2026-01-02;%d km\n", i, i)
	}

	_, err := sheet.Read(t.Context(), "odometers", "many.csv", strings.NewReader(b.String()))
	var e *models.Error
	if !errors.As(err, &e) || len(e.Fields) != 2 || e.Fields[0].Name != "line 77778, column at" ||
		e.Fields[1].Name != "line 77778, column odometer" {
		t.Errorf("got %v", err)
	}
}

func TestReadXLSX(t *testing.T) {
	t.Parallel()
	f := excelize.NewFile()
	defer f.Close()

	when := time.Date(2026, 2, 16, 7, 45, 0, 0, time.UTC)
	for cell, v := range map[string]any{"A1": "Vehicle", "B1": "Date", "C1": "Odometer", "A2": "T-104", "B2": when, "C2": "128,900 km",
		"A4": 104, "B4": "2026-02-17 08:00", "C4": "129100 km"} {
		if err := f.SetCellValue("Sheet1", cell, v); err != nil {
			t.Fatal(err)
		}
	}

	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	got, err := sheet.Read(t.Context(), "odometers", "odometers.xlsx", &b)
	if err != nil {
		t.Fatal(err)
	}

	want := []fleet.ImportRow{
		{Line: 2, Cells: []string{"T-104", "2026-02-16 07:45", "128,900 km", ""}},
		{Line: 4, Cells: []string{"104", "2026-02-17 08:00", "129100 km", ""}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// Whatever is read: errors are of a kind, rows fit the columns, and writing
// the rows and reading them again gives the same rows.
func FuzzReadCSV(f *testing.F) {
	for _, name := range []string{"vehicles.csv", "vehicles-semicolons.csv", "tires-tabs.csv", "inspections.csv", "bad-quote.csv", "bad-nul.csv", "bad-unknown-column.csv"} {
		f.Add(sample(f, name))
	}

	f.Add([]byte("number,class,axles\n1,\"a\rb\",c\n"))
	f.Add([]byte("number,class,axles\n'=1+1,\"a\nb\",' '@x\n"))

	f.Fuzz(func(t *testing.T, data []byte) {
		if bytes.HasPrefix(data, []byte("PK\x03\x04")) {
			t.Skip("not CSV")
		}

		for _, kind := range fleet.ImportKinds {
			rows, err := sheet.Read(t.Context(), kind, "fuzz.csv", bytes.NewReader(data))
			if err != nil {
				if k := models.KindOf(err); k != models.Invalid && k != models.TooLarge {
					t.Fatalf("error of kind %s: %v", k, err)
				}
				continue
			}

			again, err := sheet.Read(t.Context(), kind, "again.csv", bytes.NewReader(written(t, kind, rows)))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(cells(rows), cells(again)); diff != "" {
				t.Fatalf("read again:\n%s", diff)
			}
		}
	})
}

func cells(rows []fleet.ImportRow) (out [][]string) {
	for _, r := range rows {
		out = append(out, r.Cells)
	}
	return out
}

func written(t *testing.T, kind string, rows []fleet.ImportRow) []byte {
	t.Helper()
	table := sheet.Table{Name: kind}
	for _, c := range fleet.ImportColumns(kind) {
		table.Columns = append(table.Columns, c.Name)
	}

	for _, r := range rows {
		table.Rows = append(table.Rows, r.Cells)
	}

	var b bytes.Buffer
	if err := table.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}

	return b.Bytes()
}
