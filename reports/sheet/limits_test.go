package sheet_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/reports/sheet"
	"rimledger/reports/sheet/sheettest"
)

// Sheets that unpack to more than they should are refused early, by an error
// that says where and what to do. Not parallel, since it measures the heap.
func TestHostileSheets(t *testing.T) {
	for _, h := range sheettest.All() {
		t.Run(h.Name, func(t *testing.T) {
			data := h.Make()
			var err error
			cost := sheettest.Measure(func() {
				_, err = sheet.Read(t.Context(), "odometers", "the sheet",
					bytes.NewReader(data))
			})
			t.Logf("%d bytes: heap %.0f MB, %s: %v", len(data), cost.HeapMB, cost.CPU, err)

			refused(t, err, h.Want)
			if most := sheettest.MostCPU(); cost.HeapMB > sheettest.MostHeapMB() || cost.CPU > most {
				t.Errorf("took %.0f MB of heap and %s; at most %.0f MB and %s",
					cost.HeapMB, cost.CPU, sheettest.MostHeapMB(), most)
			}
		})
	}
}

// refused wants an error of a kind that says all the words.
func refused(t *testing.T, err error, words []string) {
	t.Helper()
	var e *models.Error
	if !errors.As(err, &e) || e.Kind != models.Invalid && e.Kind != models.TooLarge {
		t.Fatalf("got %v, want a refusal", err)
	}
	text := err.Error()
	for _, want := range words {
		if !strings.Contains(text, want) {
			t.Errorf("the error lacks %q: %s", want, text)
		}
	}
}

// stopping ends a context when it has been read.
type stopping struct {
	io.Reader
	stop context.CancelFunc
}

func (s stopping) Read(p []byte) (int, error) {
	n, err := s.Reader.Read(p)
	if err == io.EOF {
		s.stop()
	}
	return n, err
}

// Reading ends with the request that asks for it.
func TestReadEndsWithItsContext(t *testing.T) {
	t.Parallel()
	workbook := sheettest.Workbook(sheettest.Text("xl/sharedStrings.xml", "<sst/>"), sheettest.Rows(""))
	for name, data := range map[string][]byte{"CSV": sample(t, "odometers.csv"), "XLSX": workbook} {
		ctx, stop := context.WithCancel(t.Context())
		rows, err := sheet.Read(ctx, "odometers", name, stopping{bytes.NewReader(data), stop})
		if !errors.Is(err, models.Unavailable) || rows != nil || !strings.Contains(err.Error(),
			"nothing was recorded") {
			t.Errorf("%s: got %d rows and %v, want unavailable", name, len(rows), err)
		}
	}
}

// Texts in every form that ECMA-376 part 1, 18.4 and 18.3.1.4 describe (from
// memory): in runs, with a pronunciation beside them, with escapes, under a
// prefix, of a formula, truth values, and cells and rows without names.
func TestFormsOfText(t *testing.T) {
	t.Parallel()
	shared := sheettest.Text(
		"xl/sharedStrings.xml",
		`<x:sst xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main">
		<x:si><x:t xml:space="preserve"> T-1 </x:t></x:si>
		<x:si><x:r><x:rPr><x:b/></x:rPr><x:t>5,0</x:t></x:r><x:r><x:t>00 km</x:t></x:r><x:rPh sb="0" eb="1"><x:t>spoken</x:t></x:rPh><x:phoneticPr fontId="1"/></x:si>
		<x:si/></x:sst>`,
	)

	rows := sheettest.Rows(
		`<row><c t="s"><v>0</v></c><c t="str"><f>TEXT(A1,"yyyy")</f><v>2026-01-02</v></c><c t="s"><v>1</v></c><c t="inlineStr"><is><t>a_x005F_x000A_b &amp; c</t></is></c></row>
		<row r="9"><c r="A9" t="b"><v>1</v></c><c r="B9"><v>46000.5</v></c><c r="C9" t="e"><v>#N/A</v></c><c r="D9" t="s"><v>2</v></c></row>`,
	)
	workbook := sheettest.Workbook(shared, rows)
	got, err := sheet.Read(t.Context(), "odometers", "forms.xlsx", bytes.NewReader(workbook))

	want := []fleet.ImportRow{
		{Line: 2, Cells: []string{"T-1", "2026-01-02", "5,000 km", "a_x000A_b & c"}},
		{Line: 9, Cells: []string{"1", "2025-12-09 12:00", "#N/A", ""}}, // day 45658 is 2025-01-01
	}
	if diff := cmp.Diff(want, got); diff != "" || err != nil {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}

	// The workbooks of these tests are workbooks to another reader too.
	f, err := excelize.OpenReader(bytes.NewReader(workbook))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()

	other, err := f.GetRows("Invented", excelize.Options{RawCellValue: true})
	if err != nil || len(other) != 9 || strings.TrimSpace(other[1][0]) != "T-1" || other[1][2] != "5,000 km" {
		t.Errorf("another reader reads %q, %v", other, err)
	}
}

// What another reader (excelize) sees in a workbook is what is read, whatever the text.
func TestReadsAsAnotherReader(t *testing.T) {
	t.Parallel()

	text := rapid.StringMatching(`[A-Za-z0-9<>&"_x=+@'ü☃😀 -]{1,20}|_x00[0-9A-F]{2}_?`)
	rapid.Check(t, func(rt *rapid.T) {
		f := excelize.NewFile()
		defer f.Close()

		table := [][]string{{"number", "class", "axles", "description"}}
		for i := range rapid.IntRange(1, 4).Draw(rt, "rows") {
			table = append(table, []string{fmt.Sprint("N", i), "car", "S2 D2", text.Draw(rt, "description")})
		}

		for i, row := range table {
			if err := f.SetSheetRow("Sheet1", fmt.Sprint("A", 1+2*i), &row); err != nil {
				rt.Fatal(err)
			}
		}

		var b bytes.Buffer
		if err := f.Write(&b); err != nil {
			rt.Fatal(err)
		}

		again, err := excelize.OpenReader(bytes.NewReader(b.Bytes()), excelize.Options{RawCellValue: true})
		if err != nil {
			rt.Fatal(err)
		}
		defer again.Close()

		want, err := again.GetRows("Sheet1")
		if err != nil {
			rt.Fatal(err)
		}

		got, err := sheet.Read(t.Context(), "vehicles", "again.xlsx", &b)
		if models.KindOf(err) == models.Invalid { // a control character, which no record takes
			return
		}

		if err != nil {
			rt.Fatal(err)
		}

		for i, row := range got {
			// Read trims, and takes the apostrophe of a guarded formula away.
			text := strings.TrimSpace(want[2+2*i][3])
			if row.Line != 3+2*i || row.Cells[0] != want[2+2*i][0] || row.Cells[2] != text && "'"+row.Cells[2] != text {
				rt.Fatalf("row %d: got %q, want %q", row.Line, row.Cells, want[2+2*i])
			}
		}
	})
}
