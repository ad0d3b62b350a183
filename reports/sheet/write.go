package sheet

import (
	"encoding/csv"
	"io"
	"strings"

	"github.com/xuri/excelize/v2"
)

// Table is what is written: columns and rows of text.
type Table struct {
	Name    string // of the worksheet
	Columns []string
	Rows    [][]string
}

// WriteCSV writes t with commas, in UTF-8 with a byte order mark, which
// spreadsheets need, and with line ends of RFC 4180.
func (t Table) WriteCSV(w io.Writer) error {
	if _, err := io.WriteString(w, "\xef\xbb\xbf"); err != nil {
		return err
	}

	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(t.Columns); err != nil {
		return err
	}

	for _, row := range t.Rows {
		if err := out.Write(guarded(row)); err != nil {
			return err
		}
	}

	out.Flush()
	return out.Error()
}

// WriteXLSX writes t as a workbook with one worksheet, every cell as text.
func (t Table) WriteXLSX(w io.Writer) error {
	f := excelize.NewFile()
	defer f.Close()
	if err := f.SetSheetName("Sheet1", t.Name); err != nil {
		return err
	}
	s, err := f.NewStreamWriter(t.Name)
	if err != nil {
		return err
	}

	for i, row := range append([][]string{t.Columns}, t.Rows...) {
		at, err := excelize.CoordinatesToCellName(1, i+1)
		if err != nil {
			return err
		}

		cells := make([]any, len(row))
		for j, text := range guarded(row) {
			cells[j] = text
		}

		if err := s.SetRow(at, cells); err != nil {
			return err
		}
	}

	if err := s.Flush(); err != nil {
		return err
	}
	return f.Write(w)
}

// guarded returns the row with an apostrophe before every cell that a
// spreadsheet would take for a formula (OWASP, "CSV Injection"), and before
// one that has such an apostrophe already, so that Read gets the same back.
func guarded(row []string) []string {
	out := make([]string, len(row))
	for i, s := range row {
		if formula(s) {
			s = "'" + s
		}
		out[i] = s
	}
	return out
}

// unguard takes the apostrophe of guarded away again.
func unguard(s string) string {
	if rest, ok := strings.CutPrefix(s, "'"); ok && formula(rest) {
		return rest
	}
	return s
}

// formula reports whether s begins like a formula, behind any apostrophes.
func formula(s string) bool {
	s = strings.TrimLeft(s, "'")
	return s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0]))
}
