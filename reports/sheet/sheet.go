// Package sheet reads import sheets (CSV and XLSX) into rows by column name,
// and writes tables as CSV and XLSX for other programs.
//
// It has the form of a sheet: its columns, how cells are parted, where a
// fault is. What cells mean is decided by fleet.Import. CSV is RFC 4180
// with commas, semicolons or tabs, in UTF-8 with or without a byte order mark.
//
// # Cells of a row are in the order of the columns (2026-11-30)
//
// Choice: fleet.ImportRow.Cells is a slice in the order of fleet.ImportColumns. Rejected:
// a map by column name for each row, which takes three times the memory at 200,000 rows.
package sheet

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"rimledger/models"
	"rimledger/models/fleet"
)

// Limits of one sheet, chosen by us: each is above what a yard sends, and
// together they bound the memory and the time that one sheet takes.
const (
	MaxBytes   = 32 << 20         // of the file
	MaxRows    = 200_000          // with text, below the header
	maxColumns = 100              // from the left
	maxCells   = 2_500_000        // with or without text: MaxRows of the widest kind, and some
	maxCell    = 2000             // characters of one cell
	maxText    = 32 << 20         // bytes of text in all cells
	maxRecord  = 256 << 10        // bytes of one row of CSV
	maxTime    = 30 * time.Second // for reading one sheet
	maxAtOnce  = 2                // imports of one program at the same time
	maxFault   = 200              // faults that one answer lists
)

// places bounds how many sheets are in memory: imports are written one after
// another anyway, so one is read while another is written.
var places = make(chan struct{}, maxAtOnce)

// Import reads a sheet of b.Kind and records it with fleet.Import; b.Rows come
// from the sheet. It waits while maxAtOnce other sheets are imported. Errors
// are those of Read and of fleet.Import.
func Import(ctx context.Context, f *fleet.Service, a fleet.Actor, b fleet.ImportBatch, name string,
	in io.Reader) (fleet.ImportResult, error) {
	select {
	case places <- struct{}{}:
		defer func() { <-places }()
	case <-ctx.Done():
		return fleet.ImportResult{}, ended(ctx)
	}

	c, err := read(ctx, b.Kind, name, in)
	if err != nil {
		return fleet.ImportResult{}, err
	}
	b.Rows, b.Headings = c.rows, c.headings
	return f.Import(ctx, a, b)
}

// Read reads a sheet of a kind that fleet.Import takes (vehicles, tires, ...).
// XLSX is recognised by its content; name is for messages only. Columns are matched
// by name or alias in any letter case, "tyre" for "tire". Lines are counted as
// an editor or a spreadsheet shows them. Blank rows are left out.
//
// It returns TooLarge above the limits, Unavailable when ctx ends, and Invalid
// with every fault it found: what cannot be read, columns that are unknown,
// missing or there twice, empty cells of required columns.
func Read(ctx context.Context, kind, name string, in io.Reader) ([]fleet.ImportRow, error) {
	c, err := read(ctx, kind, name, in)
	if err != nil {
		return nil, err
	}
	return c.rows, nil
}

// read reads a sheet as Read does, with what it calls its columns.
func read(ctx context.Context, kind, name string, in io.Reader) (*collector, error) {
	columns := fleet.ImportColumns(kind)
	if columns == nil {
		return nil, models.Errorf(
			models.Invalid, "%q cannot be imported; only %s", kind, strings.Join(fleet.ImportKinds, ", "),
		)
	}

	data, err := io.ReadAll(io.LimitReader(in, MaxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	if len(data) > MaxBytes {
		return nil, models.Errorf(models.TooLarge, "%s is larger than %d MB; split it", name, MaxBytes>>20)
	}

	ctx, stop := context.WithTimeoutCause(ctx, maxTime,
		models.Errorf(models.TooLarge, "%s takes longer than %s to read; split it", name, maxTime))
	defer stop()

	c := &collector{kind: kind, columns: columns, headings: make([]string, len(columns))}
	if bytes.HasPrefix(data, []byte("PK\x03\x04")) {
		err = readXLSX(ctx, data, c)
	} else {
		err = readCSV(ctx, data, c)
	}

	if err != nil {
		return nil, err
	}
	return c, c.err(name)
}

// ended returns nil while ctx runs, then an error that says why it ended.
func ended(ctx context.Context) error {
	if ctx.Err() == nil {
		return nil
	}
	var e *models.Error
	if cause := context.Cause(ctx); errors.As(cause, &e) {
		return cause
	}
	return &models.Error{
		Kind: models.Unavailable,
		Msg: "the request ended before the sheet was read; nothing was " +
			"recorded",
		Err: ctx.Err(),
	}
}

// collector turns lines of cells into rows. The first line with any text is the header.
type collector struct {
	kind     string
	columns  []fleet.ImportColumn
	header   []int    // index into columns for each cell; -1: no heading
	headings []string // as they are written, in the order of columns
	must     []int    // columns that are there and must not be empty
	seen     bool     // header seen
	cells    int      // so far, with or without text
	text     int      // bytes of text so far
	rows     []fleet.ImportRow
	faults   models.Faults
}

func (c *collector) fault(line int, column, value, format string, args ...any) {
	if len(c.faults) < maxFault {
		c.faults.Add(fmt.Sprintf("line %d, column %s", line, column), value, format, args...)
	}
}

// count adds n cells; it returns TooLarge above the limit of cells.
func (c *collector) count(line, n int) error {
	if c.cells += n; c.cells > maxCells {
		return models.Errorf(models.TooLarge, "the sheet has more than %d cells by line %d, empty ones counted; "+
			"split it, or delete its empty rows and columns",
			maxCells, line)
	}
	return nil
}

// tooFar reports a cell right of maxColumns; column counts from 1.
func (c *collector) tooFar(line, column int, text string) {
	c.fault(line, fmt.Sprintf("%d (%s)", column, columnName(column)), text,
		"is too far right; a sheet of %s has %d columns, and %d are read",
		c.kind, len(c.columns), maxColumns)
}

// isTime reports whether the cells at index i of a row are times.
func (c *collector) isTime(i int) bool {
	return i < len(c.header) && c.header[i] >= 0 && c.columns[c.header[i]].Name == "at"
}

// add takes one line of cells; it returns TooLarge above the limits of rows and text.
func (c *collector) add(line int, cells []string) error {
	if !slices.ContainsFunc(cells, func(s string) bool { return strings.TrimSpace(s) != "" }) {
		return nil
	}

	if !c.seen {
		c.seen = true
		c.readHeader(line, cells)
		return nil
	}

	// Empty lines and the header do not count.
	if len(c.rows) == MaxRows {
		return models.Errorf(models.TooLarge, "the sheet has more than %d rows; split it", MaxRows)
	}

	row := fleet.ImportRow{Line: line, Cells: make([]string, len(c.columns))}
	for i, text := range cells {
		text = strings.ReplaceAll(strings.ReplaceAll(unguard(text), "\r\n", "\n"), "\r", "\n")
		if text = strings.TrimSpace(text); text != "" {
			c.cell(row, i, text)
		}
	}

	if c.text > maxText {
		return models.Errorf(models.TooLarge, "the sheet has more than %d MB of text by line %d; split it", maxText>>20,
			line)
	}

	// What must be there is asked for by name, with what would be right.
	for _, i := range c.must {
		if col := c.columns[i]; row.Cells[i] == "" {
			c.fault(line, c.headings[i], "", "must not be empty: %s", help(col))
		}
	}

	c.rows = append(c.rows, row)
	return nil
}

func (c *collector) cell(row fleet.ImportRow, i int, text string) {
	c.text += len(text)
	if i >= maxColumns {
		c.tooFar(row.Line, i+1, text)
		return
	}
	if i >= len(c.header) || c.header[i] < 0 {
		c.fault(row.Line, fmt.Sprint(i+1), text, "has no heading in the first line")
		return
	}

	at := c.header[i]
	name := c.headings[at]
	if why := models.CleanText(text); why != "" {
		c.fault(row.Line, name, fmt.Sprintf("%q", text), "%s", why)
	} else if n := utf8.RuneCountInString(text); n > maxCell {
		c.fault(row.Line, name, text, "must have at most %d characters, has %d", maxCell, n)
		return
	}

	row.Cells[at] = text
}

// readHeader matches headings to columns and reports every one that is wrong.
func (c *collector) readHeader(line int, cells []string) {
	if len(cells) > maxColumns {
		c.tooFar(line, maxColumns+1, cells[maxColumns])
		cells = cells[:maxColumns]
	}

	for i, text := range cells {
		at := c.index(text)
		switch {
		case strings.TrimSpace(text) == "":
		case at < 0:
			c.fault(line, fmt.Sprint(i+1), text, "is not a column of a sheet of %s; there are: %s", c.kind, c.names())
		case slices.Contains(c.header, at):
			c.fault(
				line,
				fmt.Sprint(i+1),
				text,
				"is there twice, as column %d and column %d; keep one",
				slices.Index(c.header, at)+1,
				i+1,
			)
		}

		c.header = append(c.header, at)
		if at >= 0 && c.headings[at] == "" {
			c.headings[at] = strings.TrimSpace(text)
		}
	}

	// A required column that is missing is one fault, not one in each row.
	for i, col := range c.columns {
		switch {
		case !col.Required:
		case slices.Contains(c.header, i):
			c.must = append(c.must, i)
		default:
			c.fault(line, col.Name, "", "is missing: %s", help(col))
		}
	}
}

// index returns the column that a heading means, -1 if none.
func (c *collector) index(heading string) int {
	want := fold(heading)
	return slices.IndexFunc(c.columns, func(col fleet.ImportColumn) bool {
		return fold(col.Name) == want ||
			slices.ContainsFunc(col.Aliases, func(a string) bool { return fold(a) == want })
	})
}

func (c *collector) names() string {
	var names []string
	for _, col := range c.columns {
		names = append(names, col.Name)
	}
	return strings.Join(names, ", ")
}

// err returns what is wrong with the sheet of a name, nil if nothing is.
func (c *collector) err(name string) error {
	if !c.seen {
		return models.Errorf(
			models.Invalid, "%s is empty; the first line must name the columns: %s", name, c.names(),
		)
	}
	return c.faults.Err(name)
}

// fold makes headings that mean the same equal: "Tyre Size" and "tire_size".
func fold(heading string) string {
	s := strings.ToLower(strings.TrimSpace(heading))
	s = strings.NewReplacer(" ", "_", "-", "_").Replace(s)
	return strings.ReplaceAll(s, "tyre", "tire")
}

func help(c fleet.ImportColumn) string {
	if c.Example == "" {
		return c.Help
	}
	return c.Help + ", such as " + c.Example
}
