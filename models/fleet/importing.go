package fleet

import (
	"cmp"
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

	// Headings are what the sheet calls its columns, in the order of ImportColumns; empty
	// where it calls one by its own name, or has it not.
	Headings []string
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

	// fields are those of the entry that the column fills, without indexes and beside the
	// one of its own name: a fault of one is a fault of this column.
	fields []string
}

// maxImportFaults bounds how many faults one answer lists. Rows are not tried
// further once so many were refused: each try costs the writers who wait.
const maxImportFaults = 200

// Import records a sheet: every row is checked, all that is wrong is reported with
// line, column, value and remedy, and then nothing is recorded. Ids derive from the
// content, so the same sheet again changes nothing.
//
// Rows are read and tried on a snapshot, while other people write. Only a sheet
// without a fault is recorded, in parts that take some tenths of a second, so
// that those who wait come in between. Each part checks its rows again, and is recorded whole or not
// at all. If one fails, because somebody changed the record meanwhile, the error says
// how many entries are recorded, and the result counts them.
func (s *Service) Import(ctx context.Context, a Actor, b ImportBatch) (ImportResult, error) {
	if !slices.Contains(ImportKinds, b.Kind) {
		return ImportResult{}, models.Errorf(models.Invalid,
			"%q cannot be imported; only %s", b.Kind, strings.Join(ImportKinds, ", "))
	}

	a.Source = models.FromImport
	p := permissionOf(b.Kind)
	if err := a.mayWrite(p); err != nil {
		return ImportResult{}, err
	}

	im := &importer{s: s, a: a, b: b}
	_, err := readAs(ctx, s, a, p, references(b.DepotID), func(r models.Reader) (struct{}, error) {
		return struct{}{}, im.try(ctx, r)
	})
	if err != nil || b.DryRun {
		return im.result(), err
	}

	im.created, im.unchanged = 0, 0
	size := firstPart
	for rest := im.items; len(rest) > 0; {
		part := rest[:min(size, len(rest))]
		rest = rest[len(part):]

		var began time.Time // when others begin to wait
		err := s.writeAs(ctx, a, p, references(b.DepotID), func(tx models.Tx, now time.Time) error {
			began = time.Now()
			return im.record(ctx, tx, now, part)
		})
		if err != nil {
			return im.result(), im.interrupted(err)
		}

		im.created, im.unchanged = im.created+im.part.created, im.unchanged+im.part.unchanged
		size = nextPart(len(part), time.Since(began))
	}

	return im.result(), nil
}

// How many entries of a sheet one transaction records. Other writers wait for it, and
// how long depends on the entries: one that is late rebuilds what came after it. So the
// first part is small, and each other one as large as partTime allows by the time that
// the part before it took. Chosen by us.
const (
	firstPart = 100
	leastPart = 10
	mostPart  = 500
	partTime  = 250 * time.Millisecond
)

// nextPart returns how many entries to record after a part of n that took this long.
func nextPart(n int, took time.Duration) int {
	fits := float64(n) * float64(partTime) / float64(max(took, time.Microsecond))
	return int(min(max(fits, leastPart), mostPart))
}

func (im *importer) result() ImportResult {
	return ImportResult{Rows: len(im.b.Rows), Created: im.created, Unchanged: im.unchanged, DryRun: im.b.DryRun}
}

// err returns an Invalid error with the faults of all rows in the order of their
// lines, nil if there are none.
func (im *importer) err() error {
	if len(im.faults) == 0 {
		return nil
	}

	slices.SortStableFunc(im.faults, func(x, y lineFault) int { return x.line - y.line })

	problems, rows := counted(im.found, "problem"), counted(len(im.b.Rows), "row")
	e := &models.Error{Kind: models.Invalid, Msg: fmt.Sprintf("%s in %s; nothing was imported", problems, rows)}
	if im.stopped {
		e.Msg = fmt.Sprintf("at least %s in %s, at which the check stopped; nothing was imported", problems, rows)
	}
	for _, f := range im.faults {
		e.Fields = append(e.Fields, f.Field)
	}

	return e
}

// interrupted is the err of a part that was not recorded, with what became of the
// parts before it.
func (im *importer) interrupted(err error) error {
	done := im.created + im.unchanged
	if done == 0 {
		return err
	}

	e := &models.Error{Kind: models.KindOf(err), Err: err}
	why := ""
	switch e.Kind {
	case models.Invalid:
		e.Kind, e.Fields = models.Conflict, fieldsOf(err)
		why = "; somebody changed the record meanwhile, see what is named here"
	case models.Unavailable, models.Internal:
		e.Kind, e.Wait = models.Unavailable, interruptedRetry
	}

	e.Msg = fmt.Sprintf("the import was interrupted: %d of %d entries are recorded, the others are not%s. Import the "+
		"same sheet again: what is there already is not recorded twice", done, len(im.items), why)
	return e
}

// interruptedRetry is when to try again what the store could not do; chosen by us.
const interruptedRetry = time.Minute

func fieldsOf(err error) []models.Field {
	var e *models.Error
	if errors.As(err, &e) {
		return e.Fields
	}
	return nil
}

// counted writes how many things there are, such as 1 row and 2 rows.
func counted(n int, thing string) string {
	if n != 1 {
		thing += "s"
	}
	return fmt.Sprintf("%d %s", n, thing)
}

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

// importer is one import: rows that are read once, tried, and then recorded.
type importer struct {
	s     *Service
	a     Actor
	b     ImportBatch
	depot models.Depot
	zone  *time.Location
	items []importItem

	// While rows are read:
	reader   models.Reader
	vehicles map[string]*models.Vehicle // by unit number; nil where the depot has none
	tires    map[string]models.TireID   // by number; empty where the depot has none

	part    *importPass
	faults  []lineFault
	found   int
	stopped bool // so many rows were refused that the rest was not tried

	created, unchanged int // by the parts that are recorded; in a dry run, what would be
}

// importPass is one transaction of an import, or the trial of all items.
type importPass struct {
	tx     models.Tx
	now    time.Time
	claims *claims
	batch  *batch
	fresh  []models.VehicleRow // new vehicles, to be assessed

	created, unchanged int
}

// importItem is what one row, or the rows of one visit, come to.
type importItem struct {
	id     string // under which it is recorded
	lines  []int  // of its rows
	record func(context.Context) (repeated bool, err error)
}

// fault adds a fault at a line of the sheet, and in a column of it if it is in one.
func (im *importer) fault(line int, column, value, remedy string) {
	im.found++
	if len(im.faults) < maxImportFaults {
		name := fmt.Sprintf("line %d", line)
		if column != "" {
			name += ", column " + im.b.heading(column)
		}
		im.faults = append(im.faults, lineFault{models.Field{Name: name, Value: value, Remedy: remedy}, line})
	}
}

// heading returns what the sheet calls a column.
func (b ImportBatch) heading(column string) string {
	i := slices.IndexFunc(ImportColumns(b.Kind), func(c ImportColumn) bool { return c.Name == column })
	if i < 0 || i >= len(b.Headings) {
		return column
	}
	return cmp.Or(b.Headings[i], column)
}

// domainFault adds the faults in err to those of the rows at lines. It returns an
// err that is not a fault of the rows, which ends the import.
func (im *importer) domainFault(lines []int, err error) error {
	var e *models.Error
	if !errors.As(err, &e) || e.Kind == models.Internal || e.Kind == models.Unavailable {
		return err
	}
	switch {
	case errors.Is(err, errIDUsed): // the ids of a sheet are ours, so its words say nothing to a reader
		im.fault(lines[0], im.rowKey(), "",
			"this row is in the record already, with other content. A sheet only adds: change what is there on its "+
				"own page")
	case len(e.Fields) == 0:
		im.fault(lines[0], "", "", e.Msg)
	}

	for _, f := range e.Fields {
		remedy := f.Remedy
		if e.Kind == models.Held {
			remedy += " (import with confirmation if it is right)"
		}

		row, column := cellOf(im.b.Kind, f.Name)
		im.fault(lines[min(row, len(lines)-1)], column, f.Value, remedy)
	}

	return nil
}

// rowKey is the column that identifies a row.
func (im *importer) rowKey() string { return importColumns[im.b.Kind][0].Name }

// importSpace is the name space of ids that derive from imported content.
var importSpace = uuid.MustParse("5f0c8d1e-7f0b-4b3f-9a63-3f4f1f0f7d11")

func (im *importer) id(parts ...string) string {
	key := im.b.Kind + "\x00" + string(im.depot.ID) + "\x00" + strings.Join(parts, "\x00")
	return uuid.NewSHA1(importSpace, []byte(key)).String()
}

// try reads every row, so that a bad cell anywhere is reported before anything
// is tried; then it tries them all, and writes nothing.
func (im *importer) try(ctx context.Context, r models.Reader) (err error) {
	if im.depot, err = r.Depot(ctx, im.b.DepotID); err != nil {
		return err
	}
	if im.zone, err = im.depot.Zone(); err != nil {
		return err
	}

	im.reader, im.vehicles, im.tires = r, map[string]*models.Vehicle{}, map[string]models.TireID{}
	if im.items, err = im.read(ctx); err != nil {
		return err
	}
	im.reader, im.vehicles, im.tires = nil, nil, nil
	if im.found > 0 {
		return im.err()
	}

	if err := im.run(ctx, newTrial(r), im.s.now(), im.items, true); err != nil {
		return err
	}
	im.created, im.unchanged = im.part.created, im.part.unchanged
	im.part = nil // with the states of all vehicles
	return nil
}

// record records items in tx: all, or none with the error of try.
func (im *importer) record(ctx context.Context, tx models.Tx, now time.Time, items []importItem) error {
	if err := im.run(ctx, tx, now, items, false); err != nil {
		return err
	}
	if err := im.part.claims.save(ctx, tx); err != nil {
		return err
	}

	for rows := range slices.Chunk(im.part.fresh, assessBatch) {
		if err := im.s.reassessAll(ctx, tx, rows, im.part.batch.cause(), now); err != nil {
			return err
		}
	}

	return im.part.batch.flush(ctx)
}

// run brings items to tx, one after another.
func (im *importer) run(ctx context.Context, tx models.Tx, now time.Time, items []importItem, trying bool) error {
	ids := make([]string, len(items))
	for i, item := range items {
		ids[i] = item.id
	}
	known, err := tx.Receipts(ctx, ids...)
	if err != nil {
		return err
	}

	p := &importPass{tx: tx, now: now, claims: &claims{known: known}}
	p.batch = &batch{service: im.s, tx: tx, actor: im.a, now: now, confirm: im.b.Confirm, trying: trying,
		claims: p.claims, scenes: map[models.VehicleID]*scene{}, late: map[models.TireID]bool{},
		tires: map[models.TireID]*models.TireWithState{}}
	im.part = p

	for _, item := range items {
		if err := ctx.Err(); err != nil {
			return err
		}

		repeated, err := item.record(ctx)
		switch {
		case err != nil:
			if err := im.domainFault(item.lines, err); err != nil {
				return err
			}
		case repeated:
			p.unchanged++
		default:
			p.created++
		}

		if im.stopped = im.found >= maxImportFaults; im.stopped {
			break
		}
	}

	return im.err()
}

// read returns what is to be recorded, in order.
func (im *importer) read(ctx context.Context) ([]importItem, error) {
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

func (im *importer) each(one func(*row) importItem) []importItem {
	var out []importItem
	for _, r := range im.b.Rows {
		out = append(out, one(&row{im, r}))
	}
	return out
}

// create is the item of a row that says what v is; k makes it.
func create[T any](im *importer, line int, k entity[T], v T) importItem {
	record := func(ctx context.Context) (bool, error) {
		p := im.part
		claim := func(id string, content any) (bool, error) { return p.claims.claim(id, content, p.now) }
		_, repeated, err := k.createIn(ctx, im.s, p.tx, im.a, v, p.now, claim)
		return repeated, err
	}
	return importItem{k.id(v), []int{line}, record}
}

// visits makes an event of each row, or with grouped of the rows of one vehicle,
// person and time: one vehicle after another, each in the order of time.
func (im *importer) visits(
	ctx context.Context,
	grouped bool,
	one func(context.Context, visit) (models.Event, error),
) ([]importItem, error) {
	type key struct {
		vehicle, person, id string
		at                  time.Time
	}

	groups := map[key]*visit{}

	var order []*visit
	for _, raw := range im.b.Rows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}

		r := &row{im, raw}
		v, err := r.vehicle(ctx)
		if err != nil {
			return nil, err
		}
		at, okT := r.time("at")

		odometer, okO := r.odometer()
		if v == nil || !okT || !okO {
			continue
		}

		id := r.eventID()
		k := key{v.Number, r.cell("person"), string(id), at}

		g := groups[k]
		if g == nil || !grouped {
			g = &visit{vehicle: v, at: at, odometer: odometer, person: r.cell("person"), id: id}
			groups[k] = g
			order = append(order, g)
		} else if odometer.Value != g.odometer.Value {
			r.fault("odometer", r.cell("odometer"), fmt.Sprintf("differs from line %d of the same visit",
				g.rows[0].raw.Line))
		}

		g.rows = append(g.rows, r)
	}

	slices.SortStableFunc(order, func(x, y *visit) int {
		return cmp.Or(strings.Compare(x.vehicle.Number, y.vehicle.Number), x.at.Compare(y.at))
	})
	var out []importItem
	for _, g := range order {
		e, err := one(ctx, *g)
		if err != nil {
			return nil, err
		}
		record := func(ctx context.Context) (bool, error) { return im.recordVisit(ctx, *g, e) }
		out = append(out, importItem{string(e.Header().ID), g.lines(), record})
	}

	return out, nil
}

// recordVisit records e, the event of g, unless it is there already.
func (im *importer) recordVisit(ctx context.Context, g visit, e models.Event) (repeated bool, err error) {
	if g.id != "" {
		if repeated, err = im.exported(ctx, e); repeated || err != nil {
			return repeated, err
		}
	}
	return im.part.batch.record(ctx, copyOf(e))
}

// copyOf returns an event of an import with everything that recording fills in.
func copyOf(e models.Event) models.Event {
	switch e := e.(type) {
	case *models.Inspection:
		c := *e
		c.Readings = slices.Clone(e.Readings)
		return &c
	case *models.Fit:
		c := *e
		c.Fittings = slices.Clone(e.Fittings)
		return &c
	case *models.OdometerEntry:
		c := *e
		return &c
	}
	return e
}

// visit is the rows of one event.
type visit struct {
	vehicle  *models.Vehicle
	at       time.Time
	odometer models.Odometer
	person   string
	id       models.EventID // as an export wrote it; empty: a new visit
	rows     []*row
}

// lines returns the lines of the sheet that the rows stand in.
func (v visit) lines() []int {
	var out []int
	for _, r := range v.rows {
		out = append(out, r.raw.Line)
	}
	return out
}

func (im *importer) meta(v visit) models.Meta {
	id := v.id
	if id == "" {
		id = models.EventID(im.id(v.vehicle.Number, v.at.UTC().Format(time.RFC3339), v.person))
	}
	return models.Meta{
		ID:        id,
		VehicleID: v.vehicle.ID,
		At:        v.at,
		Odometer:  v.odometer,
		Person:    v.person,
	}
}
