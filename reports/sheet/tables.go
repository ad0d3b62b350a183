package sheet

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// stamp is how times are written: civil time of the depot, as Read's callers take it.
const stamp = "2006-01-02 15:04"

func importNames(kind string) []string {
	var names []string
	for _, c := range fleet.ImportColumns(kind) {
		names = append(names, c.Name)
	}
	return names
}

// rowOf puts values into the order of columns.
func rowOf(columns []string, values map[string]string) []string {
	row := make([]string, len(columns))
	for i, c := range columns {
		row[i] = values[c]
	}
	return row
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// positive writes a whole number, and nothing for zero, which means not known.
func positive(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// Vehicles is a sheet of vehicles that can be imported again.
func Vehicles(list []models.Vehicle) Table {
	t := Table{Name: "vehicles", Columns: importNames("vehicles")}
	for _, v := range list {
		t.Rows = append(t.Rows, rowOf(t.Columns, map[string]string{
			"number":          v.Number,
			"class":           string(v.Class),
			"description":     v.Description,
			"parking_row":     v.ParkingRow,
			"axles":           models.AxlesText(v.Axles),
			"spares":          strconv.Itoa(v.Spares),
			"max_mass_kg":     positive(v.MaxMassKG),
			"seats":           positive(v.Seats),
			"torque_nm":       positive(int(v.TorqueNM + 0.5)),
			"target_pressure": pressures(v.Axles),
			"no_odometer":     yesNo(v.NoOdometer),
		}))
	}
	return t
}

// pressures writes one target an axle; nothing if an axle has none, for a
// sheet cannot leave one out.
func pressures(list []models.Axle) string {
	var words []string
	for _, a := range list {
		if a.Pressure.Text == "" {
			return ""
		}
		words = append(words, strings.ReplaceAll(a.Pressure.Text, " ", ""))
	}
	return strings.Join(words, " ")
}

// Tires is a sheet of tires that can be imported again.
func Tires(list []models.Tire) Table {
	t := Table{Name: "tires", Columns: importNames("tires")}
	for _, tire := range list {
		var depths []string
		for _, d := range tire.NewDepths {
			depths = append(depths, depth(d))
		}

		t.Rows = append(t.Rows, rowOf(t.Columns, map[string]string{
			"number":      tire.Number,
			"tin":         tire.TIN,
			"size":        tire.Size,
			"design":      tire.Design,
			"new_depths":  strings.Join(depths, " "),
			"life_index":  strconv.Itoa(tire.LifeIndex),
			"price":       fmt.Sprintf("%d.%02d", tire.PriceCents/100, tire.PriceCents%100),
			"directional": yesNo(tire.Directional),
			"winter":      yesNo(tire.Winter),
		}))
	}

	return t
}

// depth writes a length exactly, without a space: in 32nds of an inch if it is
// a whole number of them, else in mm.
func depth(l units.Length) string {
	if l%units.ThirtySecond == 0 {
		return strconv.FormatInt(int64(l/units.ThirtySecond), 10) + "/32"
	}
	return strconv.FormatFloat(l.Millimetres(), 'f', -1, 64) + "mm"
}

// Readings is a sheet of inspections, one row a wheel, that can be imported
// again; numbers gives the number of each vehicle. Times are in zone.
func Readings(list []*models.Inspection, numbers map[models.VehicleID]string, zone *time.Location) Table {
	t := Table{Name: "inspections", Columns: importNames("inspections")}
	for _, e := range list {
		odometer := "unknown"
		if e.Odometer.Known {
			odometer = e.Odometer.Text
		}

		for i, r := range e.Readings {
			values := map[string]string{
				"vehicle":      numbers[e.VehicleID],
				"at":           e.At.In(zone).Format(stamp),
				"odometer":     odometer,
				"person":       e.Person,
				"id":           string(e.ID),
				"gauge":        e.Gauge.Name,
				"position":     string(r.Position),
				"depths":       grid(r.Depths),
				"observations": observations(r.Observations),
			}

			switch {
			case r.Pressure != nil:
				values["pressure"] = r.Pressure.Text
			case r.NotReached:
				values["pressure"] = "not_reached"
			}

			values["note"] = note(e, r.Position, i == 0)
			t.Rows = append(t.Rows, rowOf(t.Columns, values))
		}
	}

	return t
}

// note returns the lines of an inspection's note that begin with a position,
// as the import writes them, for its row, and all others for the first row.
func note(e *models.Inspection, p models.Position, first bool) string {
	var lines []string
	for _, line := range strings.Split(e.Note, "\n") {
		place, rest, _ := strings.Cut(line, ": ")
		about := slices.ContainsFunc(e.Readings, func(r models.Reading) bool { return string(r.Position) == place })
		switch {
		case about && place == string(p):
			lines = append(lines, rest)
		case !about && first:
			lines = append(lines, line)
		}
	}
	return strings.Join(lines, "\n")
}

// grid writes grooves parted by spaces, stations by |, and - where nothing was read.
func grid(depths [][]*models.Depth) string {
	var grooves []string
	for _, g := range depths {
		var stations []string
		for _, d := range g {
			if d == nil {
				stations = append(stations, "-")
			} else {
				stations = append(stations, strings.ReplaceAll(d.Text, " ", ""))
			}
		}

		grooves = append(grooves, strings.Join(stations, "|"))
	}

	return strings.Join(grooves, " ")
}

func observations(list []models.Observation) string {
	var words []string
	for _, o := range list {
		word := string(o.Code)
		switch {
		case o.Count > 0:
			word += ":" + strconv.Itoa(o.Count)
		case o.Direction != "":
			word += ":" + o.Direction
		}
		words = append(words, word)
	}
	return strings.Join(words, " ")
}

// Findings is a table of findings with the vehicles they are about, in the
// order given; times in zone, distances in unit.
func Findings(list []fleet.DigestLine, zone *time.Location, unit units.Unit) Table {
	t := Table{
		Name: "findings",
		Columns: []string{"vehicle", "class", "parking_row", "position", "urgency", "code", "title", "evidence",
			"first_job", "safety", "notice", "since", "due_at", "due_odometer", "estimated", "acknowledged_until"},
	}

	for _, l := range list {
		f := l.Finding
		values := map[string]string{
			"vehicle":     l.VehicleNumber,
			"class":       string(l.Class),
			"parking_row": l.Row,
			"position":    string(f.Position),
			"urgency":     f.Urgency.String(),
			"code":        string(f.Code),
			"title":       f.Title,
			"evidence":    evidence(f.Evidence),
			"first_job":   f.FirstJob,
			"safety":      f.Safety,
			"notice":      f.Notice,
			"since":       f.Since.In(zone).Format(stamp),
			"estimated":   yesNo(f.Estimated),
		}

		if f.DueAt != nil {
			values["due_at"] = f.DueAt.In(zone).Format(stamp)
		}
		if f.DueOdometer != nil {
			values["due_odometer"] = units.FormatDistance(*f.DueOdometer, unit)
		}
		if f.Ack != nil {
			values["acknowledged_until"] = f.Ack.Until.In(zone).Format(stamp)
		}

		t.Rows = append(t.Rows, rowOf(t.Columns, values))
	}

	return t
}

func evidence(list []models.Evidence) string {
	var texts []string
	for _, e := range list {
		texts = append(texts, e.Text)
	}
	return strings.Join(slices.Compact(texts), "; ")
}
