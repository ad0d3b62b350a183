package pattern

import (
	"bytes"
	_ "embed" // the table of evidence
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// evidenceCSV is the table of evidence. The points are chosen by us; basis and
// status say where each statement comes from.
//
//go:embed data/evidence.csv
var evidenceCSV []byte

// Row is one row of the table of evidence: what a finding adds to a cause.
type Row struct {
	ID     string
	Cause  string
	Points int
	Direct bool // seen on the vehicle itself, so it counts without readings around the tire
	Text   string
	Basis  string
	Status string // F found, M common practice, D derived, P proposed
}

var evidenceRows = mustRows(evidenceCSV)

// Rows returns a copy of the table of evidence.
func Rows() []Row { return slices.Clone(evidenceRows) }

// mustRows parses the embedded table. It panics if the table is malformed, which
// only a mistake in this package can cause.
func mustRows(data []byte) []Row {
	lines, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		panic(fmt.Sprintf("pattern: evidence.csv: %v", err))
	}
	if got := strings.Join(lines[0], ","); got != "id,cause,points,direct,text,basis,status" {
		panic("pattern: evidence.csv: header " + got)
	}

	var rows []Row
	for i, l := range lines[1:] {
		points, err := strconv.Atoi(l[2])
		if err != nil || !slices.Contains(CauseKeys, l[1]) || !strings.Contains("FMDP", l[6]) || len(l[6]) != 1 {
			panic(fmt.Sprintf("pattern: evidence.csv: row %d: %v", i+2, l))
		}
		rows = append(rows, Row{l[0], l[1], points, l[3] == "yes", l[4], l[5], l[6]})
	}

	return rows
}
