package sheet_test

import (
	"errors"
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
	"rimledger/reports/sheet"
)

// faultsOf imports a sheet, which must be refused, and returns its faults.
func (y *emptyRecord) faultsOf(t *testing.T, kind, text string) []models.Field {
	t.Helper()

	b := fleet.ImportBatch{Kind: kind, DepotID: y.depot.ID}
	_, err := sheet.Import(t.Context(), y.fleet, boss, b, kind, strings.NewReader(text))
	var e *models.Error
	if !errors.As(err, &e) || e.Kind != models.Invalid {
		t.Fatalf("%s: %v, want faults", kind, err)
	}
	return e.Fields
}

// TestFaultsSpeakOfTheSheet: a fault stands at the line and under the heading that the
// sheet shows, whether a cell cannot be read or the record refuses what it says, and
// speaks in the units of the sheet.
func TestFaultsSpeakOfTheSheet(t *testing.T) {
	t.Parallel()

	y := newEmptyRecord(t)
	y.samples(t)
	d := y.depot
	d.Units = units.US
	if _, err := y.fleet.EditDepot(t.Context(), boss, d); err != nil {
		t.Fatal(err)
	}

	for _, c := range []struct {
		kind, text  string
		name, value string
		remedy      string // part of it
	}{
		{"odometers", "Unit,Date,Odometer\nT-104,soon,5 km\n", "line 2, column Date", "soon", "must be a time"},
		{"odometers", "Unit,Date,Odometer\nT-104,,5 km\n", "line 2, column Date", "", "must not be empty"},
		{"odometers", "Unit,Date,Odometer\nT-104,2031-03-01,900000 km\n", "line 2, column Date", "2031-02-28T23:00:00Z", "future"},
		{"odometers", "unit,time,odometer\nT-104,2026-03-02 11:00,20 km\n", "line 2, column odometer", "20 km", "20 km is less than"},
		{
			"fitments", "Unit,Date,Position,Tyre\nT-104,2026-03-01,2LI,R001\nT-104,2026-03-01,9L,R002\n",
			"line 3, column Position", "9L", "is not a position",
		},
		{
			"fitments", "Unit,Date,Position,Tyre\nT-104,2026-03-01,1L,R001\n",
			"line 2, column Tyre", "R001", "is mounted at 1L",
		},
		{
			"inspections", "Unit,Date,Position,Tread\nT-104,2026-03-01,1R,9mm\nT-104,2026-03-01,1L,\"25mm 25mm 25mm\"\n",
			"line 3, column Tread", "25mm", "25mm is deeper than the 14.29 mm",
		},
		{
			"vehicles", "number,class,axles,GVWR kg\nB-1,bus,S2 D4,900000\n",
			"line 2, column GVWR kg", "900000", "500000 kg",
		},
		{"tires", "number,size,New Depth,price\nX1,295/75R22.5,20/32,-1\n", "line 2, column price", "-1", "must be an amount"},
	} {
		fields := y.faultsOf(t, c.kind, c.text)
		found := false
		for _, f := range fields {
			found = found || f.Name == c.name && f.Value == c.value && strings.Contains(f.Remedy, c.remedy)
		}
		if !found {
			t.Errorf("%s: got %+v, want %s %q: %s", c.kind, fields, c.name, c.value, c.remedy)
		}
	}
}
