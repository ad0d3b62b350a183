package sheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"unicode/utf8"

	"rimledger/models"
)

// readCSV hands the records of data to c. Text that is not UTF-8, holds NUL or
// breaks the rules of quoting is an Invalid error that names the line.
func readCSV(data []byte, c *collector) error {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if i := badByte(data); i >= 0 {
		line := 1 + bytes.Count(data[:i], []byte("\n"))
		if data[i] == 0 {
			return models.Errorf(models.Invalid, "line %d holds a NUL byte; save the sheet as CSV in UTF-8, not UTF-16 or a spreadsheet's own format", line)
		}
		return models.Errorf(models.Invalid, "line %d is not UTF-8 text; save the sheet as CSV in UTF-8", line)
	}
	r := reader(data, separator(data, c))
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		var p *csv.ParseError
		if errors.As(err, &p) {
			return models.Errorf(models.Invalid, "line %d, character %d: %v; a cell with quotes is written \"like \"\"this\"\"\", and a quote that opens must close (it opened on line %d)", p.Line, p.Column, p.Err, p.StartLine)
		}
		if err != nil {
			return err
		}
		line, _ := r.FieldPos(0)
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

func reader(data []byte, comma rune) *csv.Reader {
	r := csv.NewReader(bytes.NewReader(data))
	r.Comma = comma
	r.FieldsPerRecord = -1 // a short row has empty cells at its end
	r.ReuseRecord = true
	return r
}

// separator returns which of comma, semicolon and tab parts the header into
// the most columns that are known, and among equals into the most at all.
func separator(data []byte, c *collector) rune {
	best, most := ',', -1
	for _, comma := range []rune{',', ';', '\t'} {
		cells, err := reader(data, comma).Read()
		if err != nil {
			continue
		}
		score := min(len(cells), maxWidth)
		for _, text := range cells {
			if c.index(text) >= 0 {
				score += maxWidth
			}
		}
		if score > most {
			best, most = comma, score
		}
	}
	return best
}
