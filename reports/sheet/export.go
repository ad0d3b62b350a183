package sheet

import (
	"context"
	"io"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// ExportKinds lists the sheets that Export makes.
var ExportKinds = []string{"vehicles", "tires", "inspections", "findings"}

// Formats are how a sheet is written, by the end of its file's name, with the
// media type of each.
var Formats = map[string]string{
	"csv":  "text/csv; charset=utf-8",
	"xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}

// perRead is how much is read from the record at once.
const perRead = 500

// Export reads one kind of sheet of a depot as a sees it: vehicles that are not
// retired, all tires, the inspections that are not superseded, or the open findings in the
// order of their urgency with distances in unit. It returns Invalid for another
// kind, and TooLarge for more than MaxRows.
func Export(
	ctx context.Context,
	f *fleet.Service,
	a fleet.Actor,
	kind string,
	depot models.DepotID,
	unit units.Unit,
) (Table, error) {
	if !slices.Contains(ExportKinds, kind) {
		return Table{}, models.Errorf(
			models.Invalid, "there is no sheet of %q; only of %s", kind, strings.Join(ExportKinds, ", "),
		)
	}

	d, err := f.Depot(ctx, a, depot)
	if err != nil {
		return Table{}, err
	}
	zone, err := d.Zone()
	if err != nil {
		return Table{}, err
	}

	only := []models.DepotID{depot}

	// A tire may be on no vehicle, so tires are not found through vehicles.
	if kind == "tires" {
		tires, err := all(func(p models.Page) ([]models.Tire, string, error) {
			list, next, err := f.Tires(ctx, a, models.TireFilter{Depots: only}, p)
			tires := make([]models.Tire, len(list)) // without their states, which are large
			for i, t := range list {
				tires[i] = t.Tire
			}
			return tires, next, err
		})

		return Tires(tires), err
	}

	// All other kinds are about vehicles.
	rows, err := all(func(p models.Page) ([]models.VehicleRow, string, error) {
		return f.Vehicles(ctx, a, models.VehicleFilter{Depots: only}, p)
	})
	if err != nil {
		return Table{}, err
	}

	switch kind {
	case "vehicles":
		var list []models.Vehicle
		for _, r := range rows {
			list = append(list, r.Vehicle)
		}
		return Vehicles(list), nil
	case "inspections":
		return inspections(ctx, f, a, rows, zone)
	default:
		return findings(ctx, f, a, rows, only, zone, unit)
	}
}

// all reads every page of a list.
func all[T any](read func(models.Page) ([]T, string, error)) ([]T, error) {
	var out []T

	p := models.Page{Limit: perRead}
	for {
		list, next, err := read(p)
		if err != nil {
			return nil, err
		}

		out = append(out, list...)
		if len(out) > MaxRows {
			return nil, models.Errorf(
				models.TooLarge, "that is more than %d rows; read it page by page through the API", MaxRows,
			)
		}

		if next == "" {
			return out, nil
		}

		p.After = next
	}
}

func inspections(
	ctx context.Context,
	f *fleet.Service,
	a fleet.Actor,
	rows []models.VehicleRow,
	zone *time.Location,
) (Table, error) {
	var list []*models.Inspection
	numbers := map[models.VehicleID]string{}

	readings := 0
	for _, r := range rows {
		numbers[r.Vehicle.ID] = r.Vehicle.Number

		events, err := all(func(p models.Page) ([]models.Event, string, error) {
			return f.Events(
				ctx,
				a,
				models.EventFilter{
					VehicleID: r.Vehicle.ID,
					Kinds:     []models.EventKind{models.KindInspection},
					Ascending: true,
				},
				p,
			)
		})
		if err != nil {
			return Table{}, err
		}

		for _, e := range events {
			if in, ok := e.(*models.Inspection); ok {
				list = append(list, in)
				readings += len(in.Readings)
			}
		}

		// The sheet has a row for each reading, so they are counted, not the visits.
		if readings > MaxRows {
			return Table{}, models.Errorf(
				models.TooLarge, "that is more than %d rows; read it page by page through the API", MaxRows,
			)
		}
	}

	return Readings(list, numbers, zone), nil
}

func findings(
	ctx context.Context,
	f *fleet.Service,
	a fleet.Actor,
	rows []models.VehicleRow,
	only []models.DepotID,
	zone *time.Location,
	unit units.Unit,
) (Table, error) {
	vehicles := map[models.VehicleID]models.Vehicle{}
	for _, r := range rows {
		vehicles[r.Vehicle.ID] = r.Vehicle
	}

	list, err := all(func(p models.Page) ([]models.Finding, string, error) {
		return f.Findings(ctx, a, models.FindingFilter{Depots: only}, p)
	})

	var lines []fleet.DigestLine
	for _, x := range list {
		v := vehicles[x.VehicleID]
		lines = append(lines, fleet.DigestLine{Finding: x, VehicleNumber: v.Number, Class: v.Class, Row: v.ParkingRow})
	}

	return Findings(lines, zone, unit), err
}

// Write writes t in one of Formats.
func (t Table) Write(format string, w io.Writer) error {
	switch format {
	case "csv":
		return t.WriteCSV(w)
	case "xlsx":
		return t.WriteXLSX(w)
	}
	return models.Errorf(models.Invalid, "a sheet is written as csv or xlsx, not as %.20q", format)
}
