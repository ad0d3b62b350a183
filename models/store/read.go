package store

import (
	"context"
	"slices"
	"time"

	"gorm.io/gorm"

	"rimledger/models"
)

// view reads within one transaction.
type view struct {
	g *gorm.DB
	s *Store
}

// within returns the context of one statement. SQLite answers within the
// process: what would watch for the end of the request costs more than most
// statements take, and the transaction itself is begun with the request's ctx.
func (v *view) within(ctx context.Context) context.Context {
	if v.s.dialect == SQLite {
		return context.WithoutCancel(ctx)
	}
	return ctx
}

// on returns the transaction for one statement of gorm's.
func (v *view) on(ctx context.Context) *gorm.DB { return v.g.WithContext(v.within(ctx)) }

func (v *view) Depot(ctx context.Context, id models.DepotID) (models.Depot, error) {
	return entity[models.Depot](ctx, v, "depot", "depots WHERE id = ?", string(id))
}

func (v *view) Depots(ctx context.Context) ([]models.Depot, error) {
	return entities[models.Depot](ctx, v, "depots ORDER BY name, id")
}

func (v *view) DepotPolicies(ctx context.Context, id models.DepotID) ([]models.DepotPolicy, error) {
	return entities[models.DepotPolicy](ctx, v, "depot_policies WHERE depot_id = ? ORDER BY class", string(id))
}

func decodeVehicle(r vehicleRecord) (models.VehicleRow, error) {
	var row models.VehicleRow
	var err error
	if row.Vehicle, err = decode[models.Vehicle](r.Doc); err != nil {
		return row, err
	}
	if row.State, err = decode[models.VehicleState](r.State); err != nil {
		return row, err
	}

	row.Standing = models.Standing{
		Worst:     models.Urgency(r.Worst),
		Since:     fromMicros(r.Since),
		Findings:  int(r.Findings),
		DueAt:     fromMicrosOf(r.DueAt),
		NextCheck: fromMicrosOf(r.NextCheck),
		PullAt:    fromMicrosOf(r.PullAt),
	}
	if row.Standing.Worst == quiet {
		row.Standing.Worst = models.None
	}

	return row, nil
}

// quiet is how "no urgency" is kept, so that it sorts behind every urgency.
const quiet = 9

func (v *view) Vehicle(ctx context.Context, id models.VehicleID) (models.Vehicle, models.VehicleState, error) {
	r, err := first[vehicleRecord](ctx, v, "vehicle", "id = ?", string(id))
	if err != nil {
		return models.Vehicle{}, models.VehicleState{}, err
	}
	row, err := decodeVehicle(r)
	return row.Vehicle, row.State, err
}

func (v *view) VehicleByNumber(ctx context.Context, d models.DepotID, number string) (models.Vehicle, error) {
	return entity[models.Vehicle](ctx, v, "vehicle", "vehicles WHERE depot_id = ? AND number = ?", string(d), number)
}

// found narrows the vehicles to those that f finds.
func (v *view) found(ctx context.Context, f models.VehicleFilter) *gorm.DB {
	q := among(v.on(ctx).Where("retired = ?", f.Retired), f.Depots)
	if f.Class != "" {
		q = q.Where("class = ?", string(f.Class))
	}
	if f.Urgency != models.None {
		q = q.Where("worst = ?", int64(f.Urgency))
	}
	if f.Code != "" {
		q = q.Where("id IN (SELECT vehicle_id FROM findings WHERE code = ? AND closed_at IS NULL)", string(f.Code))
	}

	if !f.DueBefore.IsZero() {
		q = q.Where("due_at < ?", micros(f.DueBefore))
	}

	if f.Text != "" {
		// The search text of a tire begins with its number.
		q = q.Where(
			`(search LIKE ? ESCAPE '\' OR id IN (SELECT vehicle_id FROM tires WHERE vehicle_id IS NOT NULL AND substr(search, 1, length(number)) LIKE ? ESCAPE '\'))`,
			like(f.Text),
			like(f.Text),
		)
	}

	if f.Attention {
		q = q.Where("findings > 0")
	}
	if f.ByPull {
		q = q.Where("pull_at IS NOT NULL")
	}

	return q
}

func (v *view) CountVehicles(ctx context.Context, f models.VehicleFilter, most int) (int, error) {
	var n int64
	matching := v.found(ctx, f).Model(&vehicleRecord{}).Select("1").Limit(most)
	err := v.on(ctx).Table("(?) AS matching", matching).Count(&n).Error
	return int(n), err
}

func (v *view) Vehicles(
	ctx context.Context,
	f models.VehicleFilter,
	p models.Page,
) ([]models.VehicleRow, string, error) {
	q := v.found(ctx, f)
	order := "number, id"
	if f.Attention {
		order = "worst, since, number, id"
	}
	if f.ByPull {
		order = "pull_at, number, id"
	}

	if p.After != "" {
		var worst, since int64
		var number, id string
		if err := readCursor(p.After, &worst, &since, &number, &id); err != nil {
			return nil, "", err
		}

		if f.ByPull {
			q = q.Where("(pull_at, number, id) > (?, ?, ?)", since, number, id)
		} else if f.Attention {
			q = q.Where("(worst, since, number, id) > (?, ?, ?, ?)", worst, since, number, id)
		} else {
			q = q.Where("(number, id) > (?, ?)", number, id)
		}
	}

	// One row more than asked for shows whether there is a next page.
	var r []vehicleRecord
	if err := q.Order(order).Limit(limit(p) + 1).Find(&r).Error; err != nil {
		return nil, "", err
	}

	next := ""
	if len(r) > limit(p) {
		r = r[:limit(p)]
		last := r[len(r)-1]
		if f.ByPull {
			last.Since = *last.PullAt
		}
		next = cursor(last.Worst, last.Since, last.Number, last.ID)
	}

	rows, err := decodeAll(r, decodeVehicle)
	return rows, next, err
}

// among narrows q to depots, if any are named. One is found through its own
// index; several are picked while walking the index of all in the order of the
// list, since going depot by depot would mean sorting everything (the
// concatenation keeps SQLite from it).
func among(q *gorm.DB, depots []models.DepotID) *gorm.DB {
	switch len(depots) {
	case 0:
		return q
	case 1:
		return q.Where("depot_id = ?", string(depots[0]))
	default:
		return q.Where("depot_id || '' IN ?", texts(depots))
	}
}

func texts[T ~string](ids []T) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return out
}

func (v *view) VehiclesToCheck(ctx context.Context, now time.Time, n int) ([]models.VehicleID, error) {
	var ids []models.VehicleID
	err := v.on(ctx).Model(&vehicleRecord{}).Where("next_check IS NOT NULL AND next_check <= ?", micros(now)).
		Order("next_check").Limit(n).Pluck("id", &ids).Error
	return ids, err
}

func decodeTire(r tireRecord) (models.TireWithState, error) {
	var t models.TireWithState
	var err error
	if t.Tire, err = decode[models.Tire](r.Doc); err != nil {
		return t, err
	}
	t.State, err = decode[models.TireState](r.State)
	return t, err
}

func (v *view) Tire(ctx context.Context, id models.TireID) (models.Tire, models.TireState, error) {
	r, err := first[tireRecord](ctx, v, "tire", "id = ?", string(id))
	if err != nil {
		return models.Tire{}, models.TireState{}, err
	}
	t, err := decodeTire(r)
	return t.Tire, t.State, err
}

func (v *view) TireByNumber(ctx context.Context, d models.DepotID, number string) (models.Tire, error) {
	return entity[models.Tire](ctx, v, "tire", "tires WHERE depot_id = ? AND number = ?", string(d), number)
}

func (v *view) TiresOn(ctx context.Context, vehicles ...models.VehicleID) ([]models.TireWithState, error) {
	if len(vehicles) == 0 { // PostgreSQL refuses an empty list
		return nil, nil
	}

	var r []tireRecord
	err := v.each(ctx, func(row []string) error {
		r = append(r, tireRecord{Doc: row[0], State: row[1]})
		return nil
	}, "SELECT doc, state FROM tires WHERE vehicle_id IN ? ORDER BY vehicle_id, position", texts(vehicles))
	if err != nil {
		return nil, err
	}
	return decodeAll(r, decodeTire)
}

func (v *view) Tires(ctx context.Context, f models.TireFilter, p models.Page) ([]models.TireWithState, string, error) {
	q := among(v.on(ctx), f.Depots)
	if f.Status != "" {
		q = q.Where("status = ?", string(f.Status))
	}
	if f.Text != "" {
		q = q.Where(`search LIKE ? ESCAPE '\'`, like(f.Text))
	}

	r, next, err := byNumber(q, p, func(r tireRecord) (string, string) { return r.Number, r.ID })
	if err != nil {
		return nil, "", err
	}
	list, err := decodeAll(r, decodeTire)
	return list, next, err
}

// byNumber reads one page of a list that is sorted by number and id.
func byNumber[R any](q *gorm.DB, p models.Page, key func(R) (number, id string)) ([]R, string, error) {
	if p.After != "" {
		var number, id string
		if err := readCursor(p.After, &number, &id); err != nil {
			return nil, "", err
		}
		q = q.Where("(number, id) > (?, ?)", number, id)
	}

	var r []R
	if err := q.Order("number, id").Limit(limit(p) + 1).Find(&r).Error; err != nil {
		return nil, "", err
	}
	if len(r) <= limit(p) {
		return r, "", nil
	}
	r = r[:limit(p)]
	number, id := key(r[len(r)-1])

	return r, cursor(number, id), nil
}

func (v *view) Wheel(ctx context.Context, id models.WheelID) (models.Wheel, error) {
	return entity[models.Wheel](ctx, v, "wheel", "wheels WHERE id = ?", string(id))
}

func (v *view) Photo(ctx context.Context, id models.PhotoID) (models.Photo, error) {
	r, err := first[photoRecord](ctx, v, "photo", "id = ?", string(id))
	if err != nil {
		return models.Photo{}, err
	}
	p, err := decode[models.Photo](r.Doc)
	p.Data = r.Data
	return p, err
}

func (v *view) Wheels(ctx context.Context, d models.DepotID, p models.Page) ([]models.Wheel, string, error) {
	r, next, err := byNumber(
		v.on(ctx).Where("depot_id = ?", string(d)),
		p,
		func(r wheelRecord) (string, string) { return r.Number, r.ID },
	)
	if err != nil {
		return nil, "", err
	}
	list, err := decodeAll(r, func(r wheelRecord) (models.Wheel, error) { return decode[models.Wheel](r.Doc) })
	return list, next, err
}

func (v *view) Event(ctx context.Context, id models.EventID) (models.Event, error) {
	r, err := first[eventRecord](ctx, v, "event", "id = ?", string(id))
	if err != nil {
		return nil, err
	}
	return decodeEvent(r)
}

func (v *view) Events(ctx context.Context, f models.EventFilter, p models.Page) ([]models.Event, string, error) {
	q := v.on(ctx)
	if f.VehicleID != "" {
		q = q.Where("vehicle_id = ?", string(f.VehicleID))
	}
	if f.TireID != "" {
		q = q.Where("id IN (SELECT event_id FROM event_tires WHERE tire_id = ?)", string(f.TireID))
	}
	if f.WheelID != "" {
		q = q.Where("id IN (SELECT event_id FROM event_wheels WHERE wheel_id = ?)", string(f.WheelID))
	}

	if len(f.Kinds) > 0 {
		q = q.Where("kind IN ?", texts(f.Kinds))
	}
	if !f.Superseded {
		q = q.Where("superseded_by = '' AND kind <> ?", string(models.KindVoid))
	}

	order, sign := "at DESC, recorded_at DESC, id DESC", "<"
	if f.Ascending {
		order, sign = "at, recorded_at, id", ">"
	}

	if p.After != "" {
		var at, recorded int64
		var id string
		if err := readCursor(p.After, &at, &recorded, &id); err != nil {
			return nil, "", err
		}
		q = q.Where("(at, recorded_at, id) "+sign+" (?, ?, ?)", at, recorded, id)
	}

	// A replay needs every event, so it asks for no page.
	whole := f.Ascending && p.Limit == 0
	if !whole {
		q = q.Limit(limit(p) + 1)
	}
	var r []eventRecord
	if err := q.Order(order).Find(&r).Error; err != nil {
		return nil, "", err
	}

	next := ""
	if !whole && len(r) > limit(p) {
		r = r[:limit(p)]
		last := r[len(r)-1]
		next = cursor(last.At, last.RecordedAt, last.ID)
	}

	list, err := decodeAll(r, decodeEvent)
	return list, next, err
}

func (v *view) Fitments(ctx context.Context, f models.FitmentFilter) ([]models.Fitment, error) {
	q := v.on(ctx)
	if f.TireID != "" {
		q = q.Where("tire_id = ?", string(f.TireID))
	}
	if f.VehicleID != "" {
		q = q.Where("vehicle_id = ?", string(f.VehicleID))
	}
	if !f.At.IsZero() {
		q = q.Where("from_at <= ? AND (to_at IS NULL OR to_at > ?)", micros(f.At), micros(f.At))
	}

	var r []fitmentRecord
	if err := q.Order("from_at, id").Find(&r).Error; err != nil {
		return nil, err
	}

	return decodeAll(r, func(r fitmentRecord) (models.Fitment, error) { return decode[models.Fitment](r.Doc) })
}

func decodeFinding(r findingRecord) (models.Finding, error) { return decode[models.Finding](r.Doc) }

func (v *view) Finding(ctx context.Context, id models.FindingID) (models.Finding, error) {
	return entity[models.Finding](ctx, v, "finding", "findings WHERE id = ?", string(id))
}

func (v *view) OpenFindings(ctx context.Context, vehicles ...models.VehicleID) ([]models.Finding, error) {
	if len(vehicles) == 0 { // PostgreSQL refuses an empty list
		return nil, nil
	}
	return entities[models.Finding](
		ctx,
		v,
		"findings WHERE vehicle_id IN ? AND closed_at IS NULL ORDER BY urgency, since, id",
		texts(vehicles),
	)
}

func (v *view) Findings(ctx context.Context, f models.FindingFilter, p models.Page) ([]models.Finding, string, error) {
	q, err := afterFinding(findingsLike(v.on(ctx), f), f.Closed, p.After)
	if err != nil {
		return nil, "", err
	}

	order := "urgency, since, id"
	if f.Closed {
		order = "closed_at DESC, id DESC"
	}

	var r []findingRecord
	if err := q.Order(order).Limit(limit(p) + 1).Find(&r).Error; err != nil {
		return nil, "", err
	}

	next := ""
	if len(r) > limit(p) {
		r = r[:limit(p)]
		last := r[len(r)-1]
		if f.Closed {
			next = cursor(*last.ClosedAt, 0, last.ID)
		} else {
			next = cursor(last.Urgency, last.Since, last.ID)
		}
	}

	list, err := decodeAll(r, decodeFinding)
	return list, next, err
}

// findingsLike narrows q to the findings that f asks for.
func findingsLike(q *gorm.DB, f models.FindingFilter) *gorm.DB {
	q = among(q, f.Depots)
	if f.VehicleID != "" {
		q = q.Where("vehicle_id = ?", string(f.VehicleID))
	}
	if f.Class != "" {
		q = q.Where("vehicle_id IN (SELECT id FROM vehicles WHERE class = ?)", string(f.Class))
	}
	if f.Urgency != models.None {
		q = q.Where("urgency = ?", int64(f.Urgency))
	}

	if len(f.Codes) > 0 {
		q = q.Where("code IN ?", texts(f.Codes))
	}
	if !f.DueBefore.IsZero() {
		q = q.Where("due_at < ?", micros(f.DueBefore))
	}

	if !f.ChangedSince.IsZero() && f.Closed {
		q = q.Where("closed_at >= ?", micros(f.ChangedSince))
	} else if !f.ChangedSince.IsZero() {
		q = q.Where("(opened_at >= ? OR worse_at >= ?)", micros(f.ChangedSince), micros(f.ChangedSince))
	}

	if f.Text != "" {
		q = q.Where(
			`(search LIKE ? ESCAPE '\' OR vehicle_id IN (SELECT id FROM vehicles WHERE search LIKE ? ESCAPE '\'))`,
			like(f.Text),
			like(f.Text),
		)
	}

	if f.Closed {
		return q.Where("closed_at IS NOT NULL")
	}
	return q.Where("closed_at IS NULL")
}

// afterFinding narrows q to the findings after the last one of the page that
// cursor ends; an empty cursor is the first page. It returns an Invalid error for
// a cursor that cannot be read.
func afterFinding(q *gorm.DB, closed bool, cursor string) (*gorm.DB, error) {
	if cursor == "" {
		return q, nil
	}

	// Open findings are sorted by urgency and age, closed ones by when they closed.
	var urgencyOrClosed, since int64
	var id string
	if err := readCursor(cursor, &urgencyOrClosed, &since, &id); err != nil {
		return nil, err
	}

	if closed {
		return q.Where("(closed_at, id) < (?, ?)", urgencyOrClosed, id), nil
	}
	return q.Where("(urgency, since, id) > (?, ?, ?)", urgencyOrClosed, since, id), nil
}

func (v *view) CountOpen(ctx context.Context, depots []models.DepotID) ([]models.UrgencyCount, error) {
	q := among(v.on(ctx).Model(&findingRecord{}).Where("closed_at IS NULL"), depots)
	var out []models.UrgencyCount
	err := q.Select("depot_id, urgency, COUNT(*) AS findings, COUNT(DISTINCT vehicle_id) AS vehicles").
		Group("depot_id, urgency").Order("depot_id, urgency").Scan(&out).Error
	return out, err
}

func (v *view) CountChanged(
	ctx context.Context,
	depots []models.DepotID,
	since time.Time,
) (models.ChangedCount, error) {
	var out models.ChangedCount

	from := micros(since)
	for _, c := range []struct {
		where string
		args  []any
		to    *int
	}{
		{"closed_at IS NULL AND opened_at >= ?", []any{from}, &out.New},
		{"closed_at IS NULL AND worse_at >= ? AND opened_at < ?", []any{from, from}, &out.Worse},
		{"closed_at >= ?", []any{from}, &out.Closed},
	} {
		var n int64
		rows := v.on(ctx).Model(&findingRecord{}).Where(c.where, c.args...)
		if err := among(rows, depots).Count(&n).Error; err != nil {
			return out, err
		}
		*c.to = int(n)
	}

	return out, nil
}

func (v *view) User(ctx context.Context, id models.UserID) (models.User, error) {
	return entity[models.User](ctx, v, "person", "users WHERE id = ?", string(id))
}

func (v *view) UserByEmail(ctx context.Context, email string) (models.User, error) {
	return entity[models.User](ctx, v, "person", "users WHERE email = ?", email)
}

func (v *view) Users(ctx context.Context) ([]models.User, error) {
	return entities[models.User](ctx, v, "users ORDER BY name, id")
}

func (v *view) Token(ctx context.Context, hash string) (models.Token, error) {
	return entity[models.Token](ctx, v, "token", "tokens WHERE hash = ?", hash)
}

func (v *view) TokenByID(ctx context.Context, id models.TokenID) (models.Token, error) {
	return entity[models.Token](ctx, v, "token", "tokens WHERE id = ?", string(id))
}

func (v *view) Tokens(ctx context.Context, u models.UserID) ([]models.Token, error) {
	return entities[models.Token](ctx, v, "tokens WHERE user_id = ? ORDER BY created_at, id", string(u))
}

func (v *view) Changes(ctx context.Context, f models.ChangeFilter, p models.Page) ([]models.Change, string, error) {
	q := v.on(ctx)
	if f.Entity != "" {
		q = q.Where("entity = ?", f.Entity)
	}
	if f.ID != "" {
		q = q.Where("entity_id = ?", f.ID)
	}
	if f.By != "" {
		q = q.Where("changed_by = ?", string(f.By))
	}

	if len(f.Within) > 0 {
		within := texts(f.Within)
		q = q.Where("seq IN (SELECT seq FROM change_depots WHERE depot_id IN ?)", within).
			Where("NOT EXISTS (SELECT 1 FROM change_depots AS other WHERE other.seq = changes.seq AND "+
				"other.depot_id NOT IN ?)", within)
	}

	if p.After != "" {
		var seq int64
		if err := readCursor(p.After, &seq); err != nil {
			return nil, "", err
		}
		q = q.Where("seq < ?", seq)
	}

	var r []changeRecord
	if err := q.Order("seq DESC").Limit(limit(p) + 1).Find(&r).Error; err != nil {
		return nil, "", err
	}
	next := ""
	if len(r) > limit(p) {
		r = r[:limit(p)]
		next = cursor(r[len(r)-1].Seq)
	}

	list, err := decodeAll(r, func(r changeRecord) (models.Change, error) { return decode[models.Change](r.Doc) })
	return list, next, err
}

func (v *view) Receipts(ctx context.Context, ids ...string) (map[string]models.Fingerprint, error) {
	out := map[string]models.Fingerprint{}
	for some := range slices.Chunk(ids, batch) {
		err := v.each(ctx, func(row []string) error {
			out[row[0]] = models.Fingerprint(row[1])
			return nil
		}, "SELECT id, fingerprint FROM receipts WHERE id IN ?", some)
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (v *view) DigestSlot(ctx context.Context, d models.DepotID, slot string) (models.DigestSlot, error) {
	return entity[models.DigestSlot](ctx, v, "digest", "digest_slots WHERE depot_id = ? AND slot = ?", string(d), slot)
}

func (v *view) DigestSlots(ctx context.Context, d models.DepotID, n int) ([]models.DigestSlot, error) {
	return entities[models.DigestSlot](
		ctx, v, "digest_slots WHERE depot_id = ? ORDER BY slot DESC LIMIT ?", string(d), n,
	)
}
