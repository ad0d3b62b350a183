package sheet

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"rimledger/models"
)

// Limits that the form itself has (ECMA-376; from memory).
const (
	lastLine   = 1_048_576
	lastColumn = 16_384 // XFD
	longest    = 32_767 // characters of one cell
)

// readXLSX hands the rows of the first worksheet to c. Cells give their raw
// values, not what a number format makes of them; in columns of times a
// spreadsheet's own day numbers are turned into dates. Styles, formulas,
// pictures and other worksheets are never unpacked.
func readXLSX(ctx context.Context, data []byte, c *collector) error {
	w, err := openWorkbook(ctx, data)
	if err != nil {
		return err
	}
	main, err := w.related("", "officeDocument", "xl/workbook.xml")
	if err != nil {
		return err
	}

	s, err := w.firstSheet(main)
	if err != nil {
		return err
	}
	if s.shared, err = w.sharedTexts(main); err != nil {
		return err
	}

	s.c = c
	if s.part, err = w.open(s.path); err != nil {
		return err
	}
	defer s.part.Close()

	return s.read()
}

// related returns the part of a kind that the part of that name refers to.
func (w *workbook) related(name, kind, otherwise string) (string, error) {
	relations, err := w.relations(name)
	if err != nil {
		return "", err
	}
	for _, r := range relations {
		if r.kind == kind {
			return r.target, nil
		}
	}
	return otherwise, nil
}

// worksheet is a worksheet and what its cells need to be understood.
type worksheet struct {
	name     string
	path     string
	from1904 bool // days are counted from 1904
	shared   []string
	part     *part
	c        *collector
}

// firstSheet finds the first worksheet that the main part names.
func (w *workbook) firstSheet(main string) (*worksheet, error) {
	relations, err := w.relations(main)
	if err != nil {
		return nil, err
	}

	p, err := w.open(main)
	if err != nil {
		return nil, err
	}
	defer p.Close()

	s := &worksheet{}
	for {
		token, err := p.next()
		if errors.Is(err, io.EOF) {
			break
		}

		if err != nil {
			return nil, err
		}

		t, ok := token.(xml.StartElement)

		// A workbook may count its days from 1904 instead of 1900, and then says so.
		switch {
		case !ok:
		case t.Name.Local == "workbookPr":
			date := attr(t, "date1904")
			s.from1904 = date == "1" || date == "true"
		case t.Name.Local == "sheet" && s.path == "":
			if r := relations[attr(t, "id")]; r.kind == "worksheet" {
				s.name, s.path = attr(t, "name"), r.target
			}
		}
	}

	if s.path == "" {
		return nil, models.Errorf(models.Invalid, "the workbook has no worksheet")
	}
	return s, nil
}

// sharedTexts reads the table of texts that cells refer to by number.
func (w *workbook) sharedTexts(main string) ([]string, error) {
	name, err := w.related(main, "sharedStrings", "")
	if err != nil || name == "" {
		return nil, err
	}
	p, err := w.open(name)
	if err != nil {
		return nil, err
	}
	defer p.Close()

	var out []string

	size := 0
	for {
		token, err := p.next()
		if errors.Is(err, io.EOF) {
			return out, nil
		}

		if err != nil {
			return nil, err
		}
		if t, ok := token.(xml.StartElement); !ok || t.Name.Local != "si" {
			continue
		}

		text, err := p.text(place{part: "shared text", line: len(out)})
		if err != nil {
			return nil, err
		}

		// Both limits are checked while reading, so that the whole table is never in memory.
		size += len(text)
		if len(out) == maxStrings || size > maxText {
			return nil, models.Errorf(models.TooLarge, "the workbook has more than %d different texts, or more than "+
				"%d MB of them; split the sheet",
				maxStrings, maxText>>20)
		}

		out = append(out, text)
	}
}

// place names a shared text or a cell in an error.
type place struct {
	part         string // or the name of the worksheet
	line, column int
}

func (p place) String() string {
	if p.column == 0 {
		return fmt.Sprintf("%s %d", p.part, p.line)
	}
	return fmt.Sprintf("worksheet %.40q, row %d, column %s", p.part, p.line, columnName(p.column))
}

func columnName(column int) string {
	name, err := excelize.ColumnNumberToName(column)
	if err != nil {
		return strconv.Itoa(column)
	}
	return name
}

// text reads to the end of the element that was just begun and returns what
// its elements t and v say, without the pronunciation (rPh) that may be
// beside it.
func (p *part) text(where place) (string, error) {
	collected := textCollector{text: p.buffer[:0]}
	for end := p.depth - 1; p.depth > end; {
		token, err := p.next()
		if errors.Is(err, io.EOF) {
			err = io.ErrUnexpectedEOF
		}
		if err != nil {
			return "", p.fault(err)
		}

		collected.take(token, p.depth)
		if len(collected.text) > longest*4 { // bytes of the longest character in UTF-8
			return "", models.Errorf(models.TooLarge, "%s has more than %d characters, the most that a cell of a "+
				"workbook has; shorten it",
				where, longest)
		}
	}

	p.buffer = collected.text
	return unescape(string(collected.text)), nil
}

// textCollector collects the text of an element, without how it is pronounced (rPh).
type textCollector struct {
	text          []byte
	inText        bool // in an element whose characters are text
	pronunciation int  // depth of the open rPh, 0 if none is
}

// take reads the next token, at a depth.
func (c *textCollector) take(token xml.Token, depth int) {
	switch t := token.(type) {
	case xml.StartElement:
		if t.Name.Local == "rPh" && c.pronunciation == 0 {
			c.pronunciation = depth
		}
		c.inText = c.pronunciation == 0 && (t.Name.Local == "t" || t.Name.Local == "v")
	case xml.EndElement:
		if depth < c.pronunciation {
			c.pronunciation = 0
		}
		c.inText = false
	case xml.CharData:
		if c.inText {
			c.text = append(c.text, t...)
		}
	}
}

// escaped is how a workbook writes a character that XML cannot contain.
var escaped = regexp.MustCompile(`_x[0-9A-Fa-f]{4}_`)

func unescape(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	return escaped.ReplaceAllStringFunc(s, func(code string) string {
		n, err := strconv.ParseUint(code[2:6], 16, 16)
		if err != nil {
			return code
		}
		return string(rune(n))
	})
}

// read hands the rows to the collector and the rest of the part to its checksum.
func (s *worksheet) read() error {
	line := 0
	for {
		token, err := s.part.next()
		if errors.Is(err, io.EOF) {
			return nil
		}

		if err != nil {
			return err
		}
		if t, ok := token.(xml.EndElement); ok && t.Name.Local == "sheetData" {
			return s.part.finish()
		}

		t, ok := token.(xml.StartElement)
		if !ok || t.Name.Local != "row" {
			continue
		}

		if line, err = s.nextLine(t, line); err != nil {
			return err
		}
		if err := s.row(line); err != nil {
			return err
		}
	}
}

// nextLine returns the number of a row that follows row line: what it says of itself,
// else the next one.
func (s *worksheet) nextLine(row xml.StartElement, line int) (int, error) {
	number := attr(row, "r")
	if number == "" {
		number = strconv.Itoa(line + 1)
	}

	next, err := strconv.Atoi(number)
	if err != nil || next <= line || next > lastLine {
		return 0, models.Errorf(models.Invalid, "worksheet %.40q has a row %.20q after row %d; rows must follow "+
			"each other and end at %d; save it again as XLSX, or as CSV",
			s.name, attr(row, "r"), line, lastLine)
	}
	return next, nil
}

// row reads the cells of the row that was just begun.
func (s *worksheet) row(line int) error {
	var cells []string

	column := 0
	for end := s.part.depth - 1; s.part.depth > end; {
		token, err := s.part.next()
		if err != nil {
			return err // the end of the part cannot come within an element
		}
		t, ok := token.(xml.StartElement)
		if !ok || t.Name.Local != "c" {
			continue
		}

		if err := s.c.count(line, 1); err != nil {
			return err
		}
		if column, err = s.column(line, column, attr(t, "r")); err != nil {
			return err
		}

		text, err := s.cell(t, line, column)
		if err != nil {
			return err
		}

		// Empty cells are left out of the file, so the gaps are filled here.
		switch {
		case strings.TrimSpace(text) == "":
		case column > maxColumns:
			s.c.tooFar(line, column, text)
		default:
			for len(cells) < column-1 {
				cells = append(cells, "")
			}
			cells = append(cells, text)
		}
	}

	return s.c.add(line, cells)
}

// column returns the column of the cell that calls itself ref, such as B7, and
// comes after the cell in column before. Cells without a name follow each other.
func (s *worksheet) column(line, before int, ref string) (int, error) {
	letters := strings.TrimRight(ref, "0123456789")
	next := before + 1
	if ref != "" {
		var err error
		if next, err = excelize.ColumnNameToNumber(letters); err != nil {
			next = 0
		}
	}

	if next <= before || next > lastColumn {
		return 0, models.Errorf(models.Invalid, "worksheet %.40q, row %d has a cell %.20q after column %d; cells "+
			"must follow each other and end at XFD; save it again as XLSX, or as CSV",
			s.name, line, ref, before)
	}

	return next, nil
}

// cell reads the value of the cell that was just begun.
func (s *worksheet) cell(t xml.StartElement, line, column int) (string, error) {
	where := place{s.name, line, column}
	text, err := s.part.text(where)
	if err != nil {
		return "", err
	}

	switch attr(t, "t") {
	case "s":
		if text == "" {
			return "", nil
		}

		n, err := strconv.Atoi(strings.TrimSpace(text))
		if err != nil || n < 0 || n >= len(s.shared) {
			return "", models.Errorf(models.Invalid, "%s refers to shared text %.20q, and there are %d; save the "+
				"workbook again as XLSX, or as CSV",
				where, text, len(s.shared))
		}

		return s.shared[n], nil
	case "", "n":
		if s.c.isTime(column - 1) {
			return date(text, s.from1904), nil
		}
	}

	return text, nil
}

// date turns a spreadsheet's day number into a civil date and time to the
// minute; other text stays as it is.
func date(text string, from1904 bool) string {
	days, err := strconv.ParseFloat(text, 64)
	if err != nil || !(days > 1 && days < 200_000) {
		return text
	}
	t, err := excelize.ExcelDateToTime(days, from1904)
	if err != nil {
		return text
	}
	return t.Round(time.Minute).Format("2006-01-02 15:04")
}
