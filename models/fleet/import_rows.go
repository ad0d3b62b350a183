package fleet

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// row reads the cells of one row and reports what is wrong with them.
type row struct {
	im  *importer
	raw ImportRow
}

func (r *row) fault(column, value, remedy string) { r.im.fault(r.raw.Line, column, value, remedy) }

// cell returns the text of a column, which must be one of the kind of the sheet.
func (r *row) cell(column string) string {
	for i, c := range ImportColumns(r.im.b.Kind) {
		if c.Name == column && i < len(r.raw.Cells) {
			return strings.TrimSpace(r.raw.Cells[i])
		}
	}
	return ""
}

func (r *row) number(column string) int {
	text := r.cell(column)
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		r.fault(column, text, "must be a whole number")
	}
	return n
}

func (r *row) boolean(column string) bool {
	switch text := strings.ToLower(r.cell(column)); text {
	case "yes", "y", "true", "1":
		return true
	case "", "no", "n", "false", "0":
	default:
		r.fault(column, text, "must be yes or no")
	}
	return false
}

func (r *row) time(column string) (time.Time, bool) {
	text := r.cell(column)
	for _, layout := range []string{time.RFC3339, "2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", time.DateOnly} {
		if t, err := time.ParseInLocation(layout, text, r.im.zone); err == nil {
			return t.UTC(), true
		}
	}
	r.fault(column, text, "must be a time such as 2026-03-02 14:10 (in the depot's time zone) or 2026-03-02T14:10:00Z")
	return time.Time{}, false
}

// eventID returns the id under which an export wrote the row; empty if there is none, or
// after a fault.
func (r *row) eventID() models.EventID {
	id := models.EventID(r.cell("id"))
	if id != "" && !models.ValidID(id) {
		r.fault("id", string(id), "must be an id as an export writes it; leave it empty for a new visit")
		return ""
	}
	return id
}

func (r *row) odometer() (models.Odometer, bool) {
	o, err := models.ParseOdometer(r.cell("odometer"), units.BareNone)
	if err != nil {
		r.fault("odometer", r.cell("odometer"), reason(err))
	}
	return o, err == nil
}

// reason returns what a refused quantity says without the quantity itself.
func reason(err error) string {
	var p *units.ParseError
	if errors.As(err, &p) {
		return p.Reason
	}
	return err.Error()
}

// vehicle returns the vehicle that the row names, nil after a fault. A number is
// looked up once.
func (r *row) vehicle(ctx context.Context) (*models.Vehicle, error) {
	im, number := r.im, r.cell("vehicle")
	v, known := im.vehicles[number]
	if !known {
		found, err := im.reader.VehicleByNumber(ctx, im.depot.ID, number)
		switch {
		case err == nil:
			v = &found
		case !errors.Is(err, models.NotFound):
			return nil, err
		}
		im.vehicles[number] = v
	}

	if v == nil {
		r.fault("vehicle", number, "is not a vehicle of depot "+im.depot.Name+"; import vehicles first")
	}
	return v, nil
}

// tire returns the tire that the row names, empty after a fault. A number is
// looked up once.
func (r *row) tire(ctx context.Context) (models.TireID, error) {
	im, number := r.im, r.cell("tire")
	id, known := im.tires[number]
	if !known {
		found, err := im.reader.TireByNumber(ctx, im.depot.ID, number)
		if err != nil && !errors.Is(err, models.NotFound) {
			return "", err
		}
		id = found.ID
		im.tires[number] = id
	}

	if id == "" {
		r.fault("tire", number, "is not a tire of depot "+im.depot.Name+"; import tires first")
	}
	return id, nil
}

func (r *row) axles() []models.Axle {
	out, err := models.ParseAxles(r.cell("axles"))
	if err != nil {
		r.fault("axles", r.cell("axles"), err.Error())
	}
	return out
}

func (im *importer) vehicle(r *row) importItem {
	v := models.Vehicle{ID: models.VehicleID(im.id(r.cell("number"))), DepotID: im.depot.ID, Number: r.cell("number"),
		Class: models.Class(r.cell("class")), Description: r.cell("description"), ParkingRow: r.cell("parking_row"),
		Axles: r.axles(), Spares: r.number("spares"), MaxMassKG: r.number("max_mass_kg"), Seats: r.number("seats"),
		TorqueNM: float64(r.number("torque_nm")), NoOdometer: r.boolean("no_odometer")}
	if words := strings.Fields(r.cell("target_pressure")); len(words) == 1 || len(words) == len(v.Axles) {
		for i := range v.Axles {
			p, err := models.ParsePressure(words[min(i, len(words)-1)], units.BareNone)
			if err != nil {
				r.fault("target_pressure", r.cell("target_pressure"), reason(err))
				break
			}
			v.Axles[i].Pressure = p
		}
	} else if len(words) > 0 {
		r.fault("target_pressure", r.cell("target_pressure"), "must be one pressure, or one for each axle, without "+
			"a space before the unit")
	}

	k := im.s.vehicleEntity()
	k.after = func(_ context.Context, _ models.Tx, v models.Vehicle, _ time.Time) error {
		im.part.fresh = append(im.part.fresh, models.VehicleRow{Vehicle: v})
		return nil
	}
	return create(im, r.raw.Line, k, v)
}

func (im *importer) tire(r *row) importItem {
	t := models.Tire{
		ID:          models.TireID(im.id(r.cell("number"))),
		DepotID:     im.depot.ID,
		Number:      r.cell("number"),
		TIN:         r.cell("tin"),
		Size:        r.cell("size"),
		Design:      r.cell("design"),
		LifeIndex:   r.number("life_index"),
		Directional: r.boolean("directional"),
		Winter:      r.boolean("winter"),
	}

	for _, word := range strings.Fields(r.cell("new_depths")) {
		d, err := units.ParseDepth(word, units.BareNone)
		if err != nil {
			r.fault("new_depths", word, reason(err))
			break
		}
		t.NewDepths = append(t.NewDepths, d)
	}

	if text := r.cell("price"); text != "" {
		price, err := strconv.ParseFloat(text, 64)
		if err != nil || !(price >= 0 && price < 1e7) {
			r.fault("price", text, "must be an amount such as 412.50")
		} else {
			t.PriceCents = int64(price*100 + 0.5)
		}
	}

	k := im.s.tireEntity()
	k.after = func(context.Context, models.Tx, models.Tire, time.Time) error { return nil } // it is on no vehicle yet
	return create(im, r.raw.Line, k, t)
}

func (im *importer) odometer(_ context.Context, g visit) (models.Event, error) {
	if !g.odometer.Known {
		g.rows[0].fault("odometer", g.rows[0].cell("odometer"), "must be given: that is all the row says")
	}
	return &models.OdometerEntry{Meta: im.meta(g)}, nil
}

func (im *importer) fit(ctx context.Context, g visit) (models.Event, error) {
	e := &models.Fit{Meta: im.meta(g)}
	for _, r := range g.rows {
		e.Existing = e.Existing || r.boolean("existing")
		p, err := models.ParsePosition(r.cell("position"))
		if err != nil {
			r.fault("position", r.cell("position"), err.Error())
		}
		id, err := r.tire(ctx)
		if err != nil {
			return nil, err
		}
		e.Fittings = append(e.Fittings, models.Fitting{Position: p, TireID: id})
	}
	return e, nil
}

func (im *importer) inspection(_ context.Context, g visit) (models.Event, error) {
	e := &models.Inspection{Meta: im.meta(g), Gauge: models.Gauge{Name: g.rows[0].cell("gauge")}}
	for _, r := range g.rows {
		p, err := models.ParsePosition(r.cell("position"))
		if err != nil {
			r.fault("position", r.cell("position"), err.Error())
			continue
		}

		rd := models.Reading{Position: p, Depths: r.depths(), Observations: r.observations()}
		switch text := r.cell("pressure"); text {
		case "":
		case "not_reached", "not reached":
			rd.NotReached = true
		default:
			pr, err := models.ParsePressure(text, units.BareNone)
			if err != nil {
				r.fault("pressure", text, reason(err))
			}
			rd.Pressure = &pr
		}

		if note := r.cell("note"); note != "" {
			e.Note = strings.TrimSpace(e.Note + "\n" + string(p) + ": " + note)
		}
		e.Readings = append(e.Readings, rd)
	}

	return e, nil
}

// depths reads grooves parted by spaces, each with its stations parted by |.
func (r *row) depths() [][]*models.Depth {
	bare := units.Unit(r.cell("depth_unit"))
	if bare != units.BareNone && bare != units.MM && bare != units.In32 {
		r.fault("depth_unit", string(bare), "must be mm or 32nd")
		return nil
	}

	var grid [][]*models.Depth
	for _, groove := range strings.Fields(r.cell("depths")) {
		var stations []*models.Depth
		for _, text := range strings.Split(groove, "|") {
			if text == "" || text == "-" {
				stations = append(stations, nil)
				continue
			}

			d, err := models.ParseDepth(text, bare)
			if err != nil {
				r.fault("depths", text, reason(err))
				return nil
			}
			stations = append(stations, &d)
		}

		grid = append(grid, stations)
	}

	return grid
}

// observations reads codes parted by spaces, each with a count or a direction.
func (r *row) observations() []models.Observation {
	var out []models.Observation
	for _, word := range strings.Fields(r.cell("observations")) {
		code, detail, _ := strings.Cut(word, ":")

		o := models.Observation{Code: models.ObservationCode(code)}
		if n, err := strconv.Atoi(detail); err == nil {
			o.Count = n
		} else if detail == "inward" || detail == "outward" {
			o.Direction = detail
		} else if detail != "" {
			r.fault("observations", word, fmt.Sprintf("after %s: must be a count, inward or outward", code))
		}

		out = append(out, o)
	}

	return out
}
