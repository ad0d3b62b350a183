package sheet

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"io"
	"unicode/utf8"

	"rimledger/models"
)

// readCSV hands the records of data to c. Text that is not UTF-8, contains NUL or
// breaks the rules of quoting is an Invalid error that names the line; a record
// of more than maxRecord bytes is TooLarge.
func readCSV(ctx context.Context, data []byte, c *collector) error {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if i := badByte(data); i >= 0 {
		line := 1 + bytes.Count(data[:i], []byte("\n"))
		if data[i] == 0 {
			return models.Errorf(
				models.Invalid,
				"line %d has a NUL byte; save the sheet as CSV in UTF-8, not UTF-16 or a spreadsheet's own format",
				line,
			)
		}

		return models.Errorf(models.Invalid, "line %d is not UTF-8 text; save the sheet as CSV in UTF-8", line)
	}

	// Spreadsheets in some countries write semicolons, others tabs.
	r := newRecords(data, separator(data, c))
	for {
		if err := ended(ctx); err != nil {
			return err
		}

		cells, err := r.next()
		if errors.Is(err, io.EOF) {
			return nil
		}

		var p *csv.ParseError
		if errors.As(err, &p) {
			return models.Errorf(
				models.Invalid,
				"line %d, character %d: %v; a cell with quotes is written \"like \"\"this\"\"\", and a quote that "+
					"opens must close (it opened on line %d)",
				p.Line,
				p.Column,
				p.Err,
				p.StartLine,
			)
		}

		if err != nil {
			return err
		}

		// A record can span lines; people look for the first of them.
		line, _ := r.csv.FieldPos(0)
		if err := c.count(line, len(cells)); err != nil {
			return err
		}
		if err := c.add(line, cells); err != nil {
			return err
		}
	}
}

// badByte returns where data stops being text, -1 if nowhere.
func badByte(data []byte) int {
	if bytes.IndexByte(data, 0) < 0 && utf8.Valid(data) {
		return -1
	}

	for i := 0; i < len(data); {
		if data[i] == 0 {
			return i
		}
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}

	return -1
}

// records reads the records of CSV text. The package csv keeps a whole record
// in memory, and three words for each of its cells, so the bytes of one are limited.
type records struct {
	csv  *csv.Reader
	data []byte
	in   *bytes.Reader
	left int // bytes that the record may still have
}

func newRecords(data []byte, comma rune) *records {
	r := &records{data: data, in: bytes.NewReader(data)}
	r.csv = csv.NewReader(r)
	r.csv.Comma = comma
	r.csv.FieldsPerRecord = -1 // a short row has empty cells at its end
	r.csv.ReuseRecord = true
	return r
}

// Read is part of io.Reader, for the package csv.
func (r *records) Read(p []byte) (int, error) {
	if r.left <= 0 {
		line := 1 + bytes.Count(r.data[:r.csv.InputOffset()], []byte("\n"))
		return 0, models.Errorf(models.TooLarge, "the row at line %d has more than %d KB; shorten it, or close the "+
			"quote that opens in it",
			line, maxRecord>>10)
	}
	n, err := r.in.Read(p[:min(len(p), r.left)])
	r.left -= n
	return n, err
}

func (r *records) next() ([]string, error) {
	r.left = maxRecord
	return r.csv.Read()
}

// separator returns which of comma, semicolon and tab parts the header into
// the most columns that are known, and among equals into the most at all.
func separator(data []byte, c *collector) rune {
	best, most := ',', -1
	for _, comma := range []rune{',', ';', '\t'} {
		cells, err := newRecords(data, comma).next()
		if err != nil {
			continue
		}

		score := min(len(cells), maxColumns)
		for _, text := range cells {
			if c.index(text) >= 0 {
				score += maxColumns
			}
		}

		if score > most {
			best, most = comma, score
		}
	}

	return best
}
