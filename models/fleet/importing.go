package fleet

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/access"
)

// ImportKinds lists what can be imported.
var ImportKinds = []string{"vehicles", "tires", "fitments", "inspections", "odometers"}

// ImportBatch is one sheet.
type ImportBatch struct {
	Kind    string
	DepotID models.DepotID
	DryRun  bool
	Confirm bool // confirms every value that would need a second look
	Rows    []ImportRow
}

// ImportRow is one row of a sheet. Cells are in the order of ImportColumns;
// those that are missing at the end are empty. A sheet has many rows, and a map
// for each would take several times the memory.
type ImportRow struct {
	Line  int
	Cells []string
}

// ImportResult says what an import did, or with DryRun would do.
type ImportResult struct {
	Rows      int
	Created   int // vehicles, tires, fittings, inspections or odometer entries
	Unchanged int // were there with the same content
	DryRun    bool
}

// ImportColumn describes one column of a sheet.
type ImportColumn struct {
	Name     string
	Aliases  []string
	Required bool
	Help     string
	Example  string
}

// maxImportFaults bounds how many faults one answer lists. Rows are not tried
// further once so many were refused: each try costs the writers who wait.
const maxImportFaults = 200

// Import records a sheet in one transaction: every row is checked, all that is
// wrong is reported with line, column, value and remedy, and then nothing is
// recorded. Ids derive from the content, so the same sheet again changes nothing.
func (s *Service) Import(ctx context.Context, a Actor, b ImportBatch) (ImportResult, error) {
	if !slices.Contains(ImportKinds, b.Kind) {
		return ImportResult{}, models.Errorf(models.Invalid,
			"%q cannot be imported; only %s", b.Kind, strings.Join(ImportKinds, ", "))
	}

	a.Source = models.FromImport

	out := ImportResult{Rows: len(b.Rows), DryRun: b.DryRun}
	err := s.writeAs(ctx, a, permissionOf(b.Kind), references(b.DepotID), func(tx models.Tx, now time.Time) error {
		depot, err := tx.Depot(ctx, b.DepotID)
		if err != nil {
			return err
		}
		im := &importer{s: s, tx: tx, a: a, b: b, now: now, depot: depot, numbers: map[string]models.Vehicle{}}
		if im.zone, err = depot.Zone(); err != nil {
			return err
		}

		if err := im.run(ctx); err != nil {
			return err
		}

		out.Created, out.Unchanged = im.created, im.unchanged

		if err := im.err(); err != nil {
			return err
		}

		if b.DryRun {
			return errDryRun
		}
		return nil
	})

	if errors.Is(err, errDryRun) {
		err = nil
	}
	return out, err
}

// err returns an Invalid error with the faults of all rows in the order of their
// lines, nil if there are none.
func (im *importer) err() error {
	if len(im.faults) == 0 {
		return nil
	}

	slices.SortStableFunc(im.faults, func(x, y lineFault) int { return x.line - y.line })
	e := &models.Error{
		Kind: models.Invalid,
		Msg:  fmt.Sprintf("%d problems in %d rows; nothing was imported", im.found, len(im.b.Rows)),
	}
	if im.stopped {
		e.Msg = fmt.Sprintf("at least %d problems in %d rows, at which the check stopped; nothing was imported",
			im.found, len(im.b.Rows))
	}
	for _, f := range im.faults {
		e.Fields = append(e.Fields, f.Field)
	}

	return e
}

// errDryRun rolls a dry run back.
var errDryRun = errors.New("dry run")

func permissionOf(kind string) access.Permission {
	if kind == "vehicles" || kind == "tires" {
		return access.Manage
	}
	return access.Record
}

type lineFault struct {
	models.Field
	line int
}

// importer is one run of an import.
type importer struct {
	s                  *Service
	tx                 models.Tx
	a                  Actor
	b                  ImportBatch
	now                time.Time
	depot              models.Depot
	zone               *time.Location
	numbers            map[string]models.Vehicle // by unit number
	ids                []string                  // of the events to be recorded
	batch              *batch
	faults             []lineFault
	found              int
	stopped            bool // so many rows were refused that the rest was not tried
	created, unchanged int
}

func (im *importer) fault(line int, column, value, remedy string) {
	im.found++
	if len(im.faults) < maxImportFaults {
		name := fmt.Sprintf("line %d, column %s", line, column)
		im.faults = append(im.faults, lineFault{models.Field{Name: name, Value: value, Remedy: remedy}, line})
	}
}

// domainFault adds the faults in err to those of the row at line. It returns an
// err that is not a fault of the row, which ends the import.
func (im *importer) domainFault(line int, err error) error {
	var e *models.Error
	if !errors.As(err, &e) || e.Kind == models.Internal || e.Kind == models.Unavailable {
		return err
	}
	if len(e.Fields) == 0 {
		im.fault(line, "-", "", e.Msg)
	}

	for _, f := range e.Fields {
		remedy := f.Remedy
		if e.Kind == models.Held {
			remedy += " (import with confirmation if it is right)"
		}
		im.fault(line, f.Name, f.Value, remedy)
	}

	return nil
}

func (im *importer) count(repeated bool) {
	if repeated {
		im.unchanged++
	} else {
		im.created++
	}
}

// importSpace is the name space of ids that derive from imported content.
var importSpace = uuid.MustParse("5f0c8d1e-7f0b-4b3f-9a63-3f4f1f0f7d11")

func (im *importer) id(parts ...string) string {
	key := im.b.Kind + "\x00" + string(im.depot.ID) + "\x00" + strings.Join(parts, "\x00")
	return uuid.NewSHA1(importSpace, []byte(key)).String()
}

// run reads every row first, so that a bad cell anywhere is reported before
// anything is recorded; then it records them all.
func (im *importer) run(ctx context.Context) error {
	record, err := im.read(ctx)
	if err != nil || im.found > 0 {
		return err
	}

	im.batch = &batch{service: im.s, tx: im.tx, actor: im.a, now: im.now, confirm: im.b.Confirm,
		scenes: map[models.VehicleID]*scene{}}
	if im.batch.known, err = im.tx.Receipts(ctx, im.ids...); err != nil {
		return err
	}

	for _, one := range record {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := one(ctx); err != nil {
			return err
		}
		if im.stopped = im.found >= maxImportFaults; im.stopped {
			return nil
		}
	}

	// What is left to be written cannot refuse a row, so a dry run does without it.
	if im.found > 0 || im.b.DryRun {
		return nil
	}
	return im.batch.flush(ctx)
}

// read returns what is to be recorded, in order.
func (im *importer) read(ctx context.Context) ([]func(context.Context) error, error) {
	switch im.b.Kind {
	case "vehicles":
		return im.each(im.vehicle), nil
	case "tires":
		return im.each(im.tire), nil
	case "odometers":
		return im.visits(ctx, false, im.odometer)
	case "fitments":
		return im.visits(ctx, true, im.fit)
	default:
		return im.visits(ctx, true, im.inspection)
	}
}

func (im *importer) each(one func(*row) func(context.Context) error) []func(context.Context) error {
	var out []func(context.Context) error
	for _, r := range im.b.Rows {
		out = append(out, one(&row{im, r}))
	}
	return out
}

// visits makes an event of each row, or with grouped of the rows of one vehicle,
// person and time, in the order of their times.
func (im *importer) visits(
	ctx context.Context,
	grouped bool,
	one func(context.Context, visit) func(context.Context) error,
) ([]func(context.Context) error, error) {
	type key struct {
		vehicle, person string
		at              time.Time
	}

	groups := map[key]*visit{}

	var order []*visit
	for _, raw := range im.b.Rows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}

		r := &row{im, raw}
		v, okV, err := r.vehicle(ctx)
		if err != nil {
			return nil, err
		}
		at, okT := r.time("at")

		odometer, okO := r.odometer()
		if !okV || !okT || !okO {
			continue
		}

		k := key{v.Number, r.cell("person"), at}

		g := groups[k]
		if g == nil || !grouped {
			g = &visit{vehicle: v, at: at, odometer: odometer, person: r.cell("person")}
			groups[k] = g
			order = append(order, g)
		} else if odometer.Value != g.odometer.Value {
			r.fault("odometer", r.cell("odometer"), fmt.Sprintf("differs from line %d of the same visit",
				g.rows[0].raw.Line))
		}

		g.rows = append(g.rows, r)
	}

	slices.SortStableFunc(order, func(x, y *visit) int { return x.at.Compare(y.at) })
	var out []func(context.Context) error
	for _, g := range order {
		out = append(out, one(ctx, *g))
	}

	return out, nil
}

// visit is the rows of one event.
type visit struct {
	vehicle  models.Vehicle
	at       time.Time
	odometer models.Odometer
	person   string
	rows     []*row
}

func (im *importer) meta(v visit) models.Meta {
	id := im.id(v.vehicle.Number, v.at.UTC().Format(time.RFC3339), v.person)
	im.ids = append(im.ids, id)
	return models.Meta{
		ID:        models.EventID(id),
		VehicleID: v.vehicle.ID,
		At:        v.at,
		Odometer:  v.odometer,
		Person:    v.person,
	}
}

// record records e for the row at line.
func (im *importer) record(ctx context.Context, line int, e models.Event) error {
	repeated, err := im.batch.record(ctx, e)
	if err != nil {
		return im.domainFault(line, err)
	}
	im.count(repeated)
	return nil
}
