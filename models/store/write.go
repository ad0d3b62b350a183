package store

import (
	"context"
	"maps"
	"slices"
	"time"

	"gorm.io/gorm/clause"

	"rimledger/models"
	"rimledger/models/units"
)

// batch is how many records one statement writes at most: both databases take
// some 32,000 variables in a statement.
const batch = 500

// tx writes within one transaction.
type tx struct{ *view }

func (t *tx) PutDepot(ctx context.Context, d models.Depot) error {
	text, err := encode(d)
	if err != nil {
		return err
	}
	return upsert(ctx, t, "a depot named "+d.Name, []string{"id"}, depotRecord{string(d.ID), d.Name, text})
}

func (t *tx) PutDepotPolicy(ctx context.Context, p models.DepotPolicy) error {
	text, err := encode(p)
	if err != nil {
		return err
	}
	return upsert(
		ctx,
		t,
		"policy",
		[]string{"depot_id", "class"},
		depotPolicyRecord{string(p.DepotID), string(p.Class), text},
	)
}

func (t *tx) PutVehicle(ctx context.Context, v models.Vehicle) error {
	text, err := encode(v)
	if err != nil {
		return err
	}

	r := vehicleRecord{
		ID:      string(v.ID),
		DepotID: string(v.DepotID),
		Number:  v.Number,
		Class:   string(v.Class),
		Retired: v.Retired,
		Search:  searchText(v.Number, v.Description, v.ParkingRow),
		Doc:     text,
		State:   "{}",
		Worst:   quiet,
		Since:   micros(time.Time{}),
	}

	err = t.on(ctx).Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "id"}},
		DoUpdates: clause.AssignmentColumns(
			[]string{"depot_id", "number", "class", "retired", "search", "doc"},
		)}).Create(&r).Error

	return keyError(err, "a vehicle with number "+v.Number+" in this depot")
}

func (t *tx) PutVehicleState(
	ctx context.Context,
	id models.VehicleID,
	s models.VehicleState,
	st models.Standing,
) error {
	text, err := encode(s)
	if err != nil {
		return err
	}

	worst := int64(st.Worst)
	if st.Worst == models.None {
		worst = quiet
	}

	n, err := t.exec(ctx, "UPDATE vehicles SET state = ?, due_at = ?, next_check = ?, pull_at = ? WHERE id = ?",
		text, microsOf(st.DueAt), microsOf(st.NextCheck), microsOf(st.PullAt), string(id))
	if err == nil && n == 0 {
		return models.Errorf(models.NotFound, "no such vehicle")
	}

	if err != nil {
		return err
	}
	return t.amend(
		ctx,
		"vehicles",
		string(id),
		[]string{"worst", "since", "findings"},
		worst,
		micros(st.Since),
		st.Findings,
	)
}

func (t *tx) PutTire(ctx context.Context, tire models.Tire) error {
	text, err := encode(tire)
	if err != nil {
		return err
	}

	state, err := encode(models.TireState{Status: models.InStock})
	if err != nil {
		return err
	}

	r := tireRecord{
		ID:      string(tire.ID),
		DepotID: string(tire.DepotID),
		Number:  tire.Number,
		Doc:     text,
		State:   state,
		Status:  string(models.InStock),
		Search:  searchText(tire.Number, tire.TIN, tire.Size, tire.Design),
	}

	err = t.on(ctx).Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "id"}},
		DoUpdates: clause.AssignmentColumns([]string{"depot_id", "number", "search", "doc"})}).Create(&r).Error
	return keyError(err, "a tire with number "+tire.Number+" in this depot")
}

func (t *tx) PutTireStates(ctx context.Context, states map[models.TireID]models.TireState, moved bool) error {
	for _, id := range slices.Sorted(maps.Keys(states)) {
		s := states[id]
		text, err := encode(s)
		if err != nil {
			return err
		}
		n, err := t.exec(ctx, "UPDATE tires SET state = ? WHERE id = ?", text, string(id))
		if err == nil && n == 0 {
			return models.Errorf(models.NotFound, "no such tire")
		}

		if err == nil && moved { // columns of an index are expensive to set
			_, err = t.exec(
				ctx,
				"UPDATE tires SET status = ?, vehicle_id = ?, position = ? WHERE id = ?",
				string(s.Status),
				nullable(s.VehicleID),
				string(s.Position),
				string(id),
			)
		}

		if err != nil {
			return keyError(err, "the state of a tire")
		}
	}

	return nil
}

func (t *tx) AddPhoto(ctx context.Context, p models.Photo) error {
	data := p.Data
	p.Data = nil // beside the document, not in it
	text, err := encode(p)
	if err != nil {
		return err
	}
	return insert(ctx, t, "photo "+string(p.ID), photoRecord{string(p.ID), string(p.VehicleID), text, data})
}

func (t *tx) PutWheel(ctx context.Context, w models.Wheel) error {
	text, err := encode(w)
	if err != nil {
		return err
	}
	return upsert(
		ctx,
		t,
		"a wheel with number "+w.Number+" in this depot",
		[]string{"id"},
		wheelRecord{string(w.ID), string(w.DepotID), w.Number, text},
	)
}

func (t *tx) AddEvents(ctx context.Context, all ...models.Event) error {
	var events []eventRecord
	var tires []eventTireRecord
	var wheels []eventWheelRecord

	var readings []readingRecord
	for _, e := range all {
		h := e.Header()
		text, err := encode(e)
		if err != nil {
			return err
		}

		events = append(
			events,
			eventRecord{
				ID:         string(h.ID),
				Kind:       string(e.Kind()),
				VehicleID:  nullable(h.VehicleID),
				At:         micros(h.At),
				RecordedAt: micros(h.RecordedAt),
				Doc:        text,
			},
		)

		for _, id := range e.TireIDs() {
			tires = append(tires, eventTireRecord{string(h.ID), string(id)})
		}

		for _, id := range models.WheelsOf(e) {
			wheels = append(wheels, eventWheelRecord{string(h.ID), string(id)})
		}

		if in, ok := e.(*models.Inspection); ok {
			readings = append(readings, readingRecords(in)...)
		}
	}

	what := "one of these events"
	if len(all) == 1 {
		what = "event " + string(all[0].Header().ID)
	}
	if err := insert(ctx, t, what, events...); err != nil {
		return err
	}
	if err := insert(ctx, t, "a tire of "+what, tires...); err != nil {
		return err
	}

	if err := insert(ctx, t, "a wheel of "+what, wheels...); err != nil {
		return err
	}
	return insert(ctx, t, "a reading of "+what, readings...)
}

func readingRecords(e *models.Inspection) []readingRecord {
	var out []readingRecord
	for _, rd := range e.Readings {
		if rd.TireID == "" {
			continue
		}

		r := readingRecord{
			EventID:   string(e.ID),
			TireID:    string(rd.TireID),
			VehicleID: string(e.VehicleID),
			Position:  string(rd.Position),
			At:        micros(e.At),
		}

		if e.Odometer.Known {
			mm := int64(e.Odometer.Value)
			r.OdometerMM = &mm
		}
		if least, ok := rd.Min(); ok {
			mean, _ := rd.Mean()
			nm, mean64 := int64(least.Value), int64(mean)
			r.MinNM, r.MeanNM = &nm, &mean64
		}

		if rd.Pressure != nil {
			kpa := float64(rd.Pressure.Value)
			r.PressureKPa = &kpa
		}
		out = append(out, r)
	}

	return out
}

func (t *tx) Supersede(ctx context.Context, old, by models.EventID) error {
	res := t.on(ctx).
		Model(&eventRecord{}).
		Where("id = ? AND superseded_by = ''", string(old)).
		Update("superseded_by", string(by))
	if res.Error == nil && res.RowsAffected == 0 {
		return models.Errorf(models.Conflict, "event %s is not there or was superseded already", old)
	}
	return res.Error
}

func (t *tx) PutFitments(ctx context.Context, all []models.Fitment) error {
	var records []fitmentRecord
	for _, f := range all {
		text, err := encode(f)
		if err != nil {
			return err
		}

		r := fitmentRecord{
			ID:        string(f.ID),
			TireID:    string(f.TireID),
			VehicleID: string(f.VehicleID),
			Position:  string(f.Position),
			FromAt:    micros(f.From.At),
			Doc:       text,
		}

		if f.To != nil {
			r.ToAt = microsOf(&f.To.At)
		}
		records = append(records, r)
	}

	return upsert(ctx, t, "a fitment", []string{"id"}, records...)
}

func (t *tx) DeleteFitments(ctx context.Context, id models.TireID) error {
	return t.on(ctx).Where("tire_id = ?", string(id)).Delete(&fitmentRecord{}).Error
}

// PutFindings writes findings, and the columns of their seven indexes only
// where they changed.
func (t *tx) PutFindings(ctx context.Context, all []models.Finding) error {
	var opened []findingRecord
	for _, f := range all {
		text, err := encode(f)
		if err != nil {
			return err
		}

		r := findingRecord{
			ID:        string(f.ID),
			DepotID:   string(f.DepotID),
			VehicleID: string(f.VehicleID),
			Code:      string(f.Code),
			Urgency:   int64(f.Urgency),
			Since:     micros(f.Since),
			OpenedAt:  micros(f.OpenedAt),
			WorseAt:   microsOf(f.WorseAt),
			DueAt:     microsOf(f.DueAt),
			ClosedAt:  microsOf(f.ClosedAt),
			Search: searchText(
				units.Style{Set: units.US}.Render(f.Title),
				units.Style{Set: units.Metric}.Render(f.Title),
				string(f.Position),
			),
			Doc: text,
		}

		n, err := t.exec(
			ctx,
			"UPDATE findings SET due_at = ?, search = ?, doc = ? WHERE id = ?",
			r.DueAt,
			r.Search,
			r.Doc,
			r.ID,
		)
		if err != nil {
			return err
		}

		if n == 0 {
			opened = append(opened, r)
			continue
		}

		err = t.amend(
			ctx,
			"findings",
			r.ID,
			[]string{"depot_id", "urgency", "since", "opened_at", "worse_at", "closed_at"},
			r.DepotID,
			r.Urgency,
			r.Since,
			r.OpenedAt,
			r.WorseAt,
			r.ClosedAt,
		)
		if err != nil {
			return err
		}
	}

	return insert(ctx, t, "a finding", opened...)
}

func (t *tx) PutUser(ctx context.Context, u models.User) error {
	text, err := encode(u)
	if err != nil {
		return err
	}
	return upsert(
		ctx,
		t,
		"a person who signs in as "+u.Email,
		[]string{"id"},
		userRecord{string(u.ID), u.Email, u.Name, text},
	)
}

func (t *tx) PutToken(ctx context.Context, k models.Token) error {
	text, err := encode(k)
	if err != nil {
		return err
	}
	return upsert(
		ctx,
		t,
		"this token",
		[]string{"id"},
		tokenRecord{string(k.ID), string(k.UserID), k.Hash, micros(k.CreatedAt), text},
	)
}

func (t *tx) AddChange(ctx context.Context, c models.Change) error {
	text, err := encode(c)
	if err != nil {
		return err
	}

	err = insert(
		ctx,
		t,
		"a change",
		changeRecord{At: micros(c.At), ChangedBy: string(c.By), Entity: c.Entity, EntityID: c.ID, Doc: text},
	)

	for _, d := range c.Depots {
		if err == nil { // writes run one after another, so the newest number is that of c
			_, err = t.exec(
				ctx,
				"INSERT INTO change_depots (depot_id, seq) VALUES (?, (SELECT MAX(seq) FROM changes)) ON CONFLICT "+
					"DO NOTHING",
				string(d),
			)
		}
	}

	return err
}

func (t *tx) AddReceipts(ctx context.Context, all ...models.Receipt) error {
	var records []receiptRecord
	for _, r := range all {
		records = append(records, receiptRecord{r.ID, string(r.Fingerprint), micros(r.At)})
	}
	return insert(ctx, t, "such an id", records...)
}

func (t *tx) ClaimDigestSlot(ctx context.Context, s models.DigestSlot) (bool, error) {
	text, err := encode(s)
	if err != nil {
		return false, err
	}
	res := t.on(ctx).Clauses(clause.OnConflict{DoNothing: true}).Create(&slotRecord{string(s.DepotID), s.Slot, text})
	return res.RowsAffected == 1, keyError(res.Error, "digest")
}

func (t *tx) PutDigestSlot(ctx context.Context, s models.DigestSlot) error {
	text, err := encode(s)
	if err != nil {
		return err
	}
	return upsert(ctx, t, "digest", []string{"depot_id", "slot"}, slotRecord{string(s.DepotID), s.Slot, text})
}
