package fleet

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/history"
	"rimledger/models/units"
)

// Recorded is the answer to a recorded event.
type Recorded struct {
	Event    models.Event
	Opened   []models.Finding
	Closed   []models.Finding
	Open     []models.Finding // of the vehicle, most urgent first
	Repeated bool             // it had been recorded before with the same content
}

// Record adds e to the record, with the findings it causes, in one transaction.
//
// Its id is made by the client and makes the write repeatable; the tires that
// stand at the named positions are filled in. Values that are believable only
// if confirmed are answered with an error of kind Held whose fields carry the
// codes to put into Confirmed. A correction names the event it Supersedes and
// a Reason.
func (s *Service) Record(ctx context.Context, a Actor, e models.Event) (Recorded, error) {
	var out Recorded
	err := s.writeAs(ctx, a, access.Record, references(e), func(tx models.Tx, now time.Time) error {
		var err error
		out, err = s.recordIn(ctx, tx, a, e, now, nil)
		return err
	})
	return out, err
}

// recordIn records e in tx. In a batch the vehicle's state is kept in memory and
// saved, and the vehicle assessed, when the batch is flushed.
func (s *Service) recordIn(
	ctx context.Context,
	tx models.Tx,
	a Actor,
	e models.Event,
	now time.Time,
	b *batch,
) (Recorded, error) {
	h := e.Header()
	content, err := s.completeMeta(a, e, now)
	if err != nil {
		return Recorded{}, err
	}

	if err := checkMeta(e, now); err != nil {
		return Recorded{}, err
	}

	known, err := b.receipts(ctx, tx, string(h.ID))
	if err != nil {
		return Recorded{}, err
	}
	print, before, err := seen(known, string(h.ID), content)
	if err != nil {
		return Recorded{}, err
	}

	if before && b != nil {
		return Recorded{Event: e, Repeated: true}, nil
	}
	if before {
		return s.repeated(ctx, tx, a, h)
	}

	if _, fits := e.(*models.Fit); fits { // a tire of the batch may be elsewhere by now
		if err := s.flush(ctx, tx, b, now); err != nil {
			return Recorded{}, err
		}
	}

	old, err := superseded(ctx, tx, e)
	if err != nil {
		return Recorded{}, err
	}
	sc, err := s.sceneOf(ctx, tx, a, e, old, b)
	if err != nil {
		return Recorded{}, err
	}

	if err := supersedable(e, old); err != nil {
		return Recorded{}, err
	}

	h.DepotID, h.RecordedAt, h.RecordedBy, h.Source = sc.depot.ID, now, a.User.ID, a.Source
	if err := s.check(ctx, tx, sc, a, e, old, b != nil && b.confirm); err != nil {
		return Recorded{}, err
	}
	sc.locate(h)

	if err := sc.stampPriors(ctx, tx, e, old); err != nil {
		return Recorded{}, err
	}

	receipt := models.Receipt{ID: string(h.ID), Fingerprint: print, At: now}
	if b != nil {
		b.add(e, receipt)
	} else if err := errors.Join(tx.AddReceipts(ctx, receipt), tx.AddEvents(ctx, e)); err != nil {
		return Recorded{}, err
	}

	if old != nil {
		if err := tx.Supersede(ctx, h.Supersedes, h.ID); err != nil {
			return Recorded{}, err
		}
	}

	if old != nil || sc.isLate(e) {
		if err := s.flush(ctx, tx, b, now); err != nil {
			return Recorded{}, err
		}
		done, err := s.rebuild(ctx, tx, a, sc, e, old, now)
		if err != nil {
			return done, err
		}
		return done, s.keepWheel(ctx, tx, a, e, old, now)
	}

	if err := tx.PutFitments(ctx, sc.apply(e)); err != nil {
		return Recorded{}, err
	}
	if b != nil && sc.vehicle.ID != "" {
		return Recorded{Event: e}, nil
	}
	if err := sc.save(ctx, tx); err != nil {
		return Recorded{}, err
	}

	if err := s.keepWheel(ctx, tx, a, e, nil, now); err != nil {
		return Recorded{}, err
	}
	if err := s.followTread(ctx, tx, a, sc, e, now); err != nil {
		return Recorded{}, err
	}
	if sc.vehicle.ID == "" {
		return Recorded{Event: e}, nil
	}

	st, err := s.settle(ctx, tx, sc, causeOf(e), now)
	tellAll(a.Style(sc.depot), st.opened, st.closed, st.open)
	return Recorded{Event: e, Opened: st.opened, Closed: st.closed, Open: st.open}, err
}

// completeMeta clears what is not the client's and fills what may be left out.
// It returns the content as the client gave it, by which a repeat is known.
func (s *Service) completeMeta(a Actor, e models.Event, now time.Time) (content json.RawMessage, err error) {
	h := e.Header()
	h.DepotID, h.RecordedAt, h.RecordedBy, h.Source, h.SupersededBy = "", time.Time{}, "", "", ""
	h.AlongKM, h.AlongSDKM, h.AlongKnown, h.Priors = 0, 0, false, nil
	confirmed := h.Confirmed // what was confirmed does not make it another event
	h.Confirmed = nil

	if content, err = json.Marshal(e); err != nil {
		return nil, fmt.Errorf("fingerprint %s: %w", e.Kind(), err)
	}

	h.Confirmed = confirmed
	if h.ID == "" {
		h.ID = models.EventID(s.newID())
	}
	if h.At.IsZero() {
		h.At = now
	}

	h.At = h.At.UTC().Truncate(time.Microsecond)
	if h.Person == "" {
		h.Person = a.User.Name
	}

	return content, nil
}

// clockSkew is how far a phone's clock may run ahead.
const clockSkew = 10 * time.Minute

func checkMeta(e models.Event, now time.Time) error {
	h := e.Header()
	var f models.Faults
	if !models.ValidID(h.ID) {
		f.Add("id", string(h.ID), "must be a UUID in lower-case text")
	}
	if h.At.After(now.Add(clockSkew)) {
		f.Add("at", h.At.Format(time.RFC3339), "is in the future; it is %s now", now.Format(time.RFC3339))
	}
	if h.At.Year() < 1990 {
		f.Add("at", h.At.Format(time.RFC3339), "is before 1990")
	}

	for _, t := range []struct{ name, text string }{{"person", h.Person}, {"note", h.Note}, {"reason", h.Reason}} {
		if why := models.CleanText(t.text); why != "" {
			f.Add(t.name, fmt.Sprintf("%q", t.text), "%s", why)
		} else if len(t.text) > 2000 {
			f.Add(t.name, t.text, "must have at most 2000 characters")
		}
	}

	if h.VehicleID == "" && !looseKind(e) {
		f.Add("vehicle_id", "", "must name the vehicle")
	}
	if (h.Supersedes == "") != (h.Reason == "") {
		f.Add("reason", h.Reason, "a correction names the event it supersedes and the reason; give both or neither")
	}
	if e.Kind() == models.KindVoid && h.Supersedes == "" {
		f.Add("supersedes", "", "must name the event to withdraw")
	}

	return f.Err(string(e.Kind()))
}

// looseKind reports whether e may happen off any vehicle.
func looseKind(e models.Event) bool {
	switch e := e.(type) {
	case *models.TireMove, *models.Void:
		return true
	case *models.BalanceJob:
		return e.Position == ""
	case *models.WheelCheck:
		return e.Position == ""
	case *models.Repair:
		return e.Position == ""
	}
	return false
}

func (s *Service) repeated(ctx context.Context, tx models.Tx, a Actor, h *models.Meta) (Recorded, error) {
	e, err := tx.Event(ctx, h.ID)
	if err != nil {
		return Recorded{}, err
	}
	out := Recorded{Event: e, Repeated: true}
	if v := e.Header().VehicleID; v != "" {
		out.Open, err = tx.OpenFindings(ctx, v)
		slices.SortStableFunc(out.Open, byUrgency)
	}

	if err != nil {
		return out, err
	}
	return out, tell(ctx, tx, a, out.Open)
}

// sceneOf loads the vehicle of e, or for work off any vehicle the depot of its
// tire. Of e itself the tire must be loose; what old, which e supersedes, was
// about may be mounted by now.
func (s *Service) sceneOf(ctx context.Context, tx models.Tx, a Actor, e, old models.Event, b *batch) (*scene, error) {
	h := e.Header()
	if h.VehicleID != "" {
		if sc := b.scene(h.VehicleID); sc != nil {
			return sc, nil
		}

		sc, err := loadScene(ctx, tx, h.VehicleID)
		if err != nil {
			return nil, err
		}
		if b != nil {
			b.scenes[h.VehicleID] = sc
		}

		return sc, nil
	}

	sc := &scene{tires: map[models.TireID]*models.TireWithState{}, changed: map[models.TireID]bool{}}
	about, wasAbout := e.TireIDs(), []models.TireID(nil)
	if old != nil {
		wasAbout = old.TireIDs()
	}

	for _, id := range slices.Concat(about, wasAbout) {
		t, err := sc.tire(ctx, tx, id)
		if err != nil {
			return nil, err
		}

		if err := a.visible(ctx, tx, id); err != nil { // the tires of old are not named by the request
			return nil, err
		}

		if t.State.VehicleID != "" && !slices.Contains(wasAbout, id) {
			return nil, models.Errorf(
				models.Conflict,
				"tire %s is mounted at %s; take it off first, or name its vehicle",
				t.Tire.Number,
				t.State.Position,
			)
		}

		if sc.depot, err = tx.Depot(ctx, t.Tire.DepotID); err != nil {
			return nil, err
		}
	}

	return sc, nil
}

// batch is vehicles whose events are being recorded one after another in one
// transaction, with their states and what is not yet written in memory.
type batch struct {
	scenes  map[models.VehicleID]*scene
	confirm bool                          // held values are confirmed by whoever started the batch
	known   map[string]models.Fingerprint // receipts of all ids of the batch, so far
	events  []models.Event
	written []models.Receipt
}

// receipts returns the receipt of id, if there is one.
func (b *batch) receipts(ctx context.Context, r models.Reader, id string) (map[string]models.Fingerprint, error) {
	if b != nil {
		return b.known, nil
	}
	return r.Receipts(ctx, id)
}

func (b *batch) add(e models.Event, r models.Receipt) {
	b.events, b.written = append(b.events, e), append(b.written, r)
	b.known[r.ID] = r.Fingerprint
}

func (b *batch) scene(id models.VehicleID) *scene {
	if b == nil {
		return nil
	}
	return b.scenes[id]
}

// flush writes the events of a batch, saves and assesses its vehicles, and
// empties it.
func (s *Service) flush(ctx context.Context, tx models.Tx, b *batch, now time.Time) error {
	if b == nil {
		return nil
	}
	if err := errors.Join(tx.AddReceipts(ctx, b.written...), tx.AddEvents(ctx, b.events...)); err != nil {
		return err
	}

	b.written, b.events = nil, nil
	for _, id := range slices.Sorted(maps.Keys(b.scenes)) {
		sc := b.scenes[id]
		if err := sc.save(ctx, tx); err != nil {
			return err
		}
		if _, err := s.settle(ctx, tx, sc, "import of "+units.MarkDay(now), now); err != nil {
			return err
		}
	}

	clear(b.scenes)
	return nil
}

// superseded returns the event that e corrects or withdraws, nil if it does neither.
func superseded(ctx context.Context, tx models.Tx, e models.Event) (models.Event, error) {
	h := e.Header()
	if h.Supersedes == "" {
		return nil, nil
	}
	return tx.Event(ctx, h.Supersedes)
}

// supersedable refuses an e that may not take the place of old.
func supersedable(e, old models.Event) error {
	if old == nil {
		return nil
	}

	h, oh := e.Header(), old.Header()
	switch {
	case oh.VehicleID != h.VehicleID:
		return models.Errorf(models.Invalid, "event %s is of another vehicle; a correction stays on its vehicle", oh.ID)
	case oh.SupersededBy != "":
		return models.Errorf(
			models.Conflict,
			"event %s was already superseded by %s; correct that one",
			oh.ID,
			oh.SupersededBy,
		)
	case e.Kind() != models.KindVoid && e.Kind() != old.Kind():
		return models.Errorf(
			models.Invalid,
			"event %s is a %s, not a %s; withdraw it and record the right one",
			oh.ID,
			old.Kind(),
			e.Kind(),
		)
	case e.Kind() == models.KindVoid && old.Kind() == models.KindVoid:
		return models.Errorf(models.Invalid, "event %s already withdraws another; record the right thing anew", oh.ID)
	}

	return nil
}

// locate notes where the vehicle was on its odometer, read or judged.
func (sc *scene) locate(h *models.Meta) {
	if h.Odometer.Known {
		h.AlongKM, h.AlongKnown = h.Odometer.Value.Kilometres(), true
		if h.Odometer.Estimated {
			h.AlongSDKM = 500 // a person's guess at an odometer; chosen by us
		}
		return
	}
	if km, sd, ok := sc.state.Use.At(history.Day(h.At)); ok {
		h.AlongKM, h.AlongSDKM, h.AlongKnown = km, sd, true
	}
}

// isLate reports whether something newer is already recorded of what e is about.
func (sc *scene) isLate(e models.Event) bool {
	at := e.Header().At
	if at.Before(sc.state.LastEventAt) {
		return true
	}
	for _, id := range e.TireIDs() {
		if at.Before(sc.tires[id].State.LastEventAt) {
			return true
		}
	}
	return false
}

// rebuild replays the vehicle and every tire that e or the event it supersedes
// touches, and assesses again wherever those tires are now.
func (s *Service) rebuild(
	ctx context.Context,
	tx models.Tx,
	a Actor,
	sc *scene,
	e, old models.Event,
	now time.Time,
) (Recorded, error) {
	touched := e.TireIDs()
	if old != nil {
		touched = append(touched, old.TireIDs()...)
	}

	copies, err := rimCopies(ctx, tx, old)
	if err != nil {
		return Recorded{}, err
	}
	touched = append(touched, copies...)
	slices.Sort(touched)

	elsewhere := map[models.VehicleID]bool{}
	for _, id := range slices.Compact(touched) {
		where, err := s.replayTire(ctx, tx, id)
		if err != nil {
			return Recorded{}, err
		}
		if where != "" && where != sc.vehicle.ID {
			elsewhere[where] = true
		}
	}

	for v := range elsewhere {
		if _, err := s.reassess(ctx, tx, v, causeOf(e), now); err != nil {
			return Recorded{}, err
		}
	}

	if sc.vehicle.ID == "" {
		return Recorded{Event: e}, nil
	}

	events, _, err := tx.Events(ctx, models.EventFilter{VehicleID: sc.vehicle.ID, Ascending: true}, models.Page{})
	if err != nil {
		return Recorded{}, err
	}
	state := history.ReplayVehicle(sc.vehicle, events)

	if sc, err = loadScene(ctx, tx, sc.vehicle.ID); err != nil {
		return Recorded{}, err
	}
	sc.state = state
	st, err := s.settle(ctx, tx, sc, causeOf(e), now)
	tellAll(a.Style(sc.depot), st.opened, st.closed, st.open)

	return Recorded{Event: e, Opened: st.opened, Closed: st.closed, Open: st.open}, err
}

// lifeOf loads a tire with its events in order of time and the vehicles they name.
func lifeOf(
	ctx context.Context,
	r models.Reader,
	id models.TireID,
) (t models.Tire, vehicles map[models.VehicleID]models.Vehicle, events []models.Event, err error) {
	if t, _, err = r.Tire(ctx, id); err != nil {
		return t, nil, nil, err
	}
	if events, _, err = r.Events(ctx, models.EventFilter{TireID: id, Ascending: true}, models.Page{}); err != nil {
		return t, nil, nil, err
	}

	vehicles = map[models.VehicleID]models.Vehicle{}
	for _, e := range events {
		if err := rimsStand(ctx, r, e, id); err != nil {
			return t, nil, nil, err
		}
		if v := e.Header().VehicleID; v != "" && vehicles[v].ID == "" {
			if vehicles[v], _, err = r.Vehicle(ctx, v); err != nil {
				return t, nil, nil, err
			}
		}
	}

	return t, vehicles, events, nil
}

// replayTire rebuilds a tire's state and fitments and returns where it is mounted.
func (s *Service) replayTire(ctx context.Context, tx models.Tx, id models.TireID) (models.VehicleID, error) {
	t, vehicles, events, err := lifeOf(ctx, tx, id)
	if err != nil {
		return "", err
	}
	state, fitments := history.ReplayTire(t, vehicles, events)
	if err := tx.DeleteFitments(ctx, id); err != nil {
		return "", err
	}
	if err := tx.PutFitments(ctx, fitments); err != nil {
		return "", err
	}
	return state.VehicleID, tx.PutTireStates(ctx, map[models.TireID]models.TireState{id: state}, true)
}

// followTread brings a new tread from the retreader to the tire itself.
func (s *Service) followTread(
	ctx context.Context,
	tx models.Tx,
	a Actor,
	sc *scene,
	e models.Event,
	now time.Time,
) error {
	m, ok := e.(*models.TireMove)
	if !ok || len(m.NewDepths) == 0 {
		return nil
	}
	t := sc.tires[m.TireID].Tire
	before := t
	t.NewDepths, t.LifeIndex, t.Regrooved = m.NewDepths, t.LifeIndex+1, false

	t.Version, t.UpdatedAt, t.UpdatedBy = t.Version+1, now, a.User.ID
	if err := tx.PutTire(ctx, t); err != nil {
		return err
	}

	return s.audit(
		ctx,
		tx,
		a,
		now,
		models.Change{Entity: "tire", ID: string(t.ID), What: "retreaded", Depots: []models.DepotID{t.DepotID}},
		before,
		t,
	)
}

// causeOf says in words what closed a finding.
func causeOf(e models.Event) string {
	h := e.Header()
	name := map[models.EventKind]string{models.KindBalance: "balance job", models.KindTireMove: "tire moved", models.KindWheelCheck: "wheel check",
		models.KindVibration: "vibration report", models.KindVoid: "entry withdrawn"}[e.Kind()]
	if name == "" {
		name = string(e.Kind())
	}
	return fmt.Sprintf("%s of %s by %s", name, units.MarkDay(h.At), h.Person)
}

// Event returns one event, superseded or not.
func (s *Service) Event(ctx context.Context, a Actor, id models.EventID) (models.Event, error) {
	return readAs(
		ctx,
		s,
		a,
		access.View,
		references(id),
		func(r models.Reader) (models.Event, error) { return r.Event(ctx, id) },
	)
}

// Events lists what happened to a vehicle or a tire, newest first.
func (s *Service) Events(
	ctx context.Context,
	a Actor,
	f models.EventFilter,
	p models.Page,
) ([]models.Event, string, error) {
	if f.VehicleID == "" && f.TireID == "" {
		return nil, "", models.Errorf(models.Invalid, "name a vehicle or a tire whose events to list")
	}

	l, err := readAs(
		ctx,
		s,
		a,
		access.View,
		references(f.VehicleID, f.TireID),
		func(r models.Reader) (listed[models.Event], error) {
			events, next, err := r.Events(ctx, f, p)
			return listed[models.Event]{events, next}, err
		},
	)

	return l.items, l.next, err
}
