package fleet

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
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
// The client makes its id, so that the same write again gives the first answer.
// Record fills in the tires at the named positions. Values that are believable only
// if confirmed are answered with an error of kind Held whose fields carry the codes
// to put into Confirmed. A correction names the event it Supersedes and a Reason.
//
// An inspection that is held is recorded at once as far as nothing of it is in doubt, if
// that takes a tire off the road; the error then says so.
func (s *Service) Record(ctx context.Context, a Actor, e models.Event) (Recorded, error) {
	given := *e.Header()
	out, err := s.record(ctx, a, e, func(Recorded) error { return nil })
	if err != nil {
		e.Header().Supersedes, e.Header().Reason = given.Supersedes, given.Reason
	}

	var held *models.Error
	if errors.As(err, &held) && held.Kind == models.Held {
		return out, s.recordAtOnce(ctx, a, e, held)
	}
	return out, err
}

// record records e unless keep returns an error about the outcome.
func (s *Service) record(ctx context.Context, a Actor, e models.Event, keep func(Recorded) error) (Recorded, error) {
	var out Recorded

	err := s.writeAs(ctx, a, access.Record, references(e), func(tx models.Tx, now time.Time) error {
		n := &entry{actor: a, event: e, now: now}
		if err := s.prepare(n); err != nil {
			return err
		}

		known, err := tx.Receipts(ctx, n.receipt.ID)
		if err != nil {
			return err
		}
		repeated, err := checkReceipt(known, n.receipt)
		if err != nil {
			return err
		}
		if repeated {
			out, err = s.repeated(ctx, tx, n)
			return err
		}

		if err := n.load(ctx, tx); err != nil {
			return err
		}
		if err := n.complete(ctx, tx); err != nil {
			return err
		}
		if err := n.save(ctx, tx); err != nil {
			return err
		}

		if out, err = s.take(ctx, tx, n); err != nil {
			return err
		}
		return keep(out)
	})

	return out, err
}

// take folds a saved entry into the states that it concerns, and assesses them.
func (s *Service) take(ctx context.Context, tx models.Tx, n *entry) (Recorded, error) {
	if n.needsReplay() {
		return s.replay(ctx, tx, n)
	}
	if err := n.apply(ctx, tx); err != nil {
		return Recorded{}, err
	}
	if err := s.saveApplied(ctx, tx, n); err != nil {
		return Recorded{}, err
	}
	return s.assessEntry(ctx, tx, n, n.scene)
}

// entry is one event on its way into the record, with what the steps of
// recording find out about it.
type entry struct {
	actor   Actor
	event   models.Event
	now     time.Time
	confirm bool // held values are confirmed by whoever started the import

	depot   models.DepotID // as sent: it must be the right one, or empty
	receipt models.Receipt
	old     models.Event // the event that this one supersedes; nil if it supersedes none
	scene   *scene
}

// prepare completes the header of the event and the receipt by which a repeat
// is recognised. It returns an Invalid error for a header that cannot be recorded.
func (s *Service) prepare(n *entry) error {
	n.depot = n.event.Header().DepotID
	content, err := s.completeMeta(n.actor, n.event, n.now)
	if err != nil {
		return err
	}
	if err := checkMeta(n.event, n.now); err != nil {
		return err
	}

	n.receipt, err = newReceipt(string(n.event.Header().ID), content, n.now)
	return err
}

// load reads the superseded event and what recording needs to know about the
// vehicle or the loose tires. It returns a NotFound, Invalid or Conflict error
// for an event that may not be recorded there.
func (n *entry) load(ctx context.Context, tx models.Tx) (err error) {
	if err = n.followAtOnce(ctx, tx); err != nil {
		return err
	}
	if n.old, err = superseded(ctx, tx, n.event); err != nil {
		return err
	}
	if n.scene, err = n.loadScene(ctx, tx); err != nil {
		return err
	}
	if err := supersedable(n.event, n.old); err != nil {
		return err
	}

	// A report stays settled by what settled the one that it corrects.
	report, isReport := n.event.(*models.Vibration)
	if was, corrects := n.old.(*models.Vibration); isReport && corrects {
		report.Corrects = append(slices.Clone(was.Corrects), was.ID)
	}
	return nil
}

// complete checks the event and fills in what the record knows: its depot, who
// recorded it, the tires at its positions, the odometer and the wear priors.
func (n *entry) complete(ctx context.Context, tx models.Tx) error {
	h := n.event.Header()
	if n.depot != "" && n.depot != n.scene.depot.ID {
		var f models.Faults
		f.Add("depot_id", string(n.depot), "is another depot than that of the vehicle or tire, %s; leave it out",
			n.scene.depot.ID)
		return f.Err(string(n.event.Kind()))
	}

	h.DepotID, h.RecordedAt = n.scene.depot.ID, n.now
	h.RecordedBy, h.Source = n.actor.User.ID, n.actor.Source

	if err := n.check(ctx, tx); err != nil {
		return err
	}
	return n.scene.stampPriors(ctx, tx, n.event, n.old)
}

// save writes the event and its receipt, and marks the event that it supersedes.
func (n *entry) save(ctx context.Context, tx models.Tx) error {
	if err := errors.Join(tx.AddReceipts(ctx, n.receipt), tx.AddEvents(ctx, n.event)); err != nil {
		return err
	}
	if n.old == nil {
		return nil
	}
	return tx.Supersede(ctx, n.old.Header().ID, n.event.Header().ID)
}

// needsReplay reports whether the event changes what later events meant: it
// supersedes one, or something newer is already recorded.
func (n *entry) needsReplay() bool { return n.old != nil || n.scene.isLate(n.event) }

// apply folds the event into the states in memory and saves the fitments that
// it opens and closes.
func (n *entry) apply(ctx context.Context, tx models.Tx) error {
	return tx.PutFitments(ctx, n.scene.apply(n.event))
}

// saveApplied saves the states that an applied event changed, and what it
// changes about the wheel and the tire themselves.
func (s *Service) saveApplied(ctx context.Context, tx models.Tx, n *entry) error {
	if err := n.scene.save(ctx, tx); err != nil {
		return err
	}
	if err := s.keepWheel(ctx, tx, n.actor, n.event, nil, n.now); err != nil {
		return err
	}
	return s.followTread(ctx, tx, n)
}

// assessEntry assesses the vehicle in sc, saves what that changes, and returns
// the answer to the entry. For work off any vehicle there is nothing to assess.
func (s *Service) assessEntry(ctx context.Context, tx models.Tx, n *entry, sc *scene) (Recorded, error) {
	if sc.vehicle.ID == "" {
		return Recorded{Event: n.event}, nil
	}

	found, err := s.assessAndSave(ctx, tx, sc, causeOf(n.event), n.now)
	if err != nil {
		return Recorded{}, err
	}

	renderFindings(n.actor.Style(sc.depot), found.opened, found.closed, found.open)
	return Recorded{Event: n.event, Opened: found.opened, Closed: found.closed, Open: found.open}, nil
}

// completeMeta clears the fields that a client may not set and fills those that
// it may leave out. It returns the content as the client gave it, before the
// filling, so that a repeat has the same content.
func (s *Service) completeMeta(a Actor, e models.Event, now time.Time) (content json.RawMessage, err error) {
	h := e.Header()
	h.DepotID, h.RecordedBy, h.Source = "", "", ""
	h.RecordedAt, h.SupersededBy = time.Time{}, ""
	h.AlongKM, h.AlongSDKM, h.AlongKnown = 0, 0, false
	h.Priors = nil
	if report, ok := e.(*models.Vibration); ok {
		report.Corrects = nil
	}

	// Confirmed values do not make it another event: who confirms sends the same again.
	confirmed := h.Confirmed
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

// repeated returns the answer to an event that was recorded before: the event as
// it is recorded, and what is open on its vehicle now.
func (s *Service) repeated(ctx context.Context, tx models.Tx, n *entry) (Recorded, error) {
	e, err := tx.Event(ctx, n.event.Header().ID)
	if err != nil {
		return Recorded{}, err
	}

	out := Recorded{Event: e, Repeated: true}
	v := e.Header().VehicleID
	if v == "" {
		return out, nil
	}

	if out.Open, err = tx.OpenFindings(ctx, v); err != nil {
		return out, err
	}
	slices.SortStableFunc(out.Open, byUrgency)
	return out, localizeFindings(ctx, tx, n.actor, out.Open)
}

// loadScene loads the vehicle of the event or, for work off any vehicle, its
// tires and their depot; and the tires of the superseded event, which may be off the vehicle now.
func (n *entry) loadScene(ctx context.Context, tx models.Tx) (*scene, error) {
	var replaced []models.TireID
	if n.old != nil {
		replaced = n.old.TireIDs()
	}

	if id := n.event.Header().VehicleID; id != "" {
		sc, err := loadScene(ctx, tx, id)
		if err != nil {
			return nil, err
		}
		for _, id := range replaced {
			if _, err := sc.tire(ctx, tx, id); err != nil {
				return nil, err
			}
		}
		return sc, nil
	}

	sc := &scene{tires: map[models.TireID]*models.TireWithState{}, changed: map[models.TireID]bool{}}
	for _, id := range slices.Concat(n.event.TireIDs(), replaced) {
		t, err := sc.tire(ctx, tx, id)
		if err != nil {
			return nil, err
		}

		// The request does not name the tires of the superseded event, so writeAs did not check them.
		if err := n.actor.visible(ctx, tx, id); err != nil {
			return nil, err
		}

		// The tires of the superseded event may be mounted by now.
		if t.State.VehicleID != "" && !slices.Contains(replaced, id) {
			return nil, models.Errorf(models.Conflict,
				"tire %s is mounted at %s; take it off first, or name its vehicle", t.Tire.Number, t.State.Position)
		}

		if sc.depot, err = tx.Depot(ctx, t.Tire.DepotID); err != nil {
			return nil, err
		}
	}

	return sc, nil
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
		return models.Errorf(models.Conflict,
			"event %s was already superseded by %s; correct that one", oh.ID, oh.SupersededBy)
	case e.Kind() != models.KindVoid && e.Kind() != old.Kind():
		return models.Errorf(models.Invalid,
			"event %s is a %s, not a %s; withdraw it and record the right one", oh.ID, old.Kind(), e.Kind())
	case e.Kind() == models.KindVoid && old.Kind() == models.KindVoid:
		return models.Errorf(models.Invalid, "event %s already withdraws another; record the right thing anew", oh.ID)
	}

	return nil
}

// locate notes the odometer of the vehicle at the time of h: as read, or else
// estimated from its use. It stays unknown if neither is there.
func locate(st models.VehicleState, h *models.Meta) {
	if h.Odometer.Known {
		h.AlongKM, h.AlongKnown = h.Odometer.Value.Kilometres(), true
		if h.Odometer.Estimated {
			h.AlongSDKM = 500 // a person's guess at an odometer; chosen by us
		}
		return
	}
	if km, sd, ok := st.Use.At(history.Day(h.At)); ok {
		h.AlongKM, h.AlongSDKM, h.AlongKnown = km, sd, true
	}
}

// isLate reports whether a newer event of the vehicle or of a tire of e is already recorded.
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

// replay rebuilds the states of the vehicle and of every tire that the event or
// the one it supersedes touches, and assesses every vehicle on which they are now.
func (s *Service) replay(ctx context.Context, tx models.Tx, n *entry) (Recorded, error) {
	vehicles, err := s.replayTires(ctx, tx, n)
	if err != nil {
		return Recorded{}, err
	}
	for _, v := range vehicles {
		if _, err := s.reassess(ctx, tx, v, causeOf(n.event), n.now); err != nil {
			return Recorded{}, err
		}
	}

	sc, err := n.replayVehicle(ctx, tx)
	if err != nil {
		return Recorded{}, err
	}
	out, err := s.assessEntry(ctx, tx, n, sc)
	if err != nil {
		return Recorded{}, err
	}

	return out, s.keepWheel(ctx, tx, n.actor, n.event, n.old, n.now)
}

// replayTires rebuilds the tires that n touches. It returns the other vehicles
// on which they are now, each once, in order.
func (s *Service) replayTires(ctx context.Context, tx models.Tx, n *entry) ([]models.VehicleID, error) {
	touched, err := rimCopies(ctx, tx, n.old)
	if err != nil {
		return nil, err
	}
	touched = append(touched, n.event.TireIDs()...)
	if n.old != nil {
		touched = append(touched, n.old.TireIDs()...)
	}
	slices.Sort(touched)

	touched = slices.Compact(touched)
	var elsewhere []models.VehicleID
	for _, id := range touched {
		where, err := s.replayTire(ctx, tx, id)
		if err != nil {
			return nil, err
		}
		if where != "" && where != n.scene.vehicle.ID {
			elsewhere = append(elsewhere, where)
		}
	}

	slices.Sort(elsewhere)
	return slices.Compact(elsewhere), oneAPlace(ctx, tx, n.scene.vehicle, touched)
}

// oneAPlace returns a Conflict error if one of some tires would have shared a place of a
// vehicle with another tire at any time.
func oneAPlace(ctx context.Context, r models.Reader, v models.Vehicle, touched []models.TireID) error {
	if v.ID == "" {
		return nil
	}
	all, err := r.Fitments(ctx, models.FitmentFilter{VehicleID: v.ID})
	if err != nil {
		return err
	}

	for i, a := range all {
		for _, b := range all[i+1:] {
			isTouched := slices.Contains(touched, a.TireID) || slices.Contains(touched, b.TireID)
			if !isTouched || !shared(a, b) {
				continue
			}
			first, _, errA := r.Tire(ctx, a.TireID)
			second, _, errB := r.Tire(ctx, b.TireID)
			if err := errors.Join(errA, errB); err != nil {
				return err
			}
			return models.Errorf(models.Conflict, "tires %s and %s would both be at %s of %s; withdraw the later "+
				"moves of that place first", first.Number, second.Number, a.Position, v.Number)
		}
	}
	return nil
}

// shared reports whether two tires were at one place at one time.
func shared(a, b models.Fitment) bool {
	isOver := func(x, y models.Fitment) bool { return x.To != nil && !x.To.At.After(y.From.At) }
	return a.Position == b.Position && a.TireID != b.TireID && !isOver(a, b) && !isOver(b, a)
}

// replayVehicle returns the scene of n with the state of its vehicle rebuilt
// from all its events, and with the tires that are on it after their own replay.
func (n *entry) replayVehicle(ctx context.Context, tx models.Tx) (*scene, error) {
	id := n.scene.vehicle.ID
	if id == "" {
		return n.scene, nil
	}

	events, err := eventsInOrder(ctx, tx, models.EventFilter{VehicleID: id})
	if err != nil {
		return nil, err
	}
	sc, err := loadScene(ctx, tx, id)
	if err != nil {
		return nil, err
	}

	sc.state = history.ReplayVehicle(sc.vehicle, events)
	return sc, nil
}

// tireRecord is a tire with its events in order of time and the vehicles they name.
type tireRecord struct {
	tire     models.Tire
	vehicles map[models.VehicleID]models.Vehicle
	events   []models.Event
}

// loadLife loads what is recorded of a tire. Fits carry the wheel's measurements as
// they are corrected now.
func loadLife(ctx context.Context, r models.Reader, id models.TireID) (tireRecord, error) {
	life := tireRecord{vehicles: map[models.VehicleID]models.Vehicle{}}
	var err error
	if life.tire, _, err = r.Tire(ctx, id); err != nil {
		return life, err
	}

	if life.events, err = eventsInOrder(ctx, r, models.EventFilter{TireID: id}); err != nil {
		return life, err
	}

	for _, e := range life.events {
		if err := refreshRims(ctx, r, e, id); err != nil {
			return life, err
		}
		if v := e.Header().VehicleID; v != "" && life.vehicles[v].ID == "" {
			if life.vehicles[v], _, err = r.Vehicle(ctx, v); err != nil {
				return life, err
			}
		}
	}

	return life, nil
}

// replayTire rebuilds a tire's state and fitments and returns where it is mounted.
func (s *Service) replayTire(ctx context.Context, tx models.Tx, id models.TireID) (models.VehicleID, error) {
	life, err := loadLife(ctx, tx, id)
	if err != nil {
		return "", err
	}

	state, fitments := history.ReplayTire(life.tire, life.vehicles, life.events)
	if err := tx.DeleteFitments(ctx, id); err != nil {
		return "", err
	}
	if err := tx.PutFitments(ctx, fitments); err != nil {
		return "", err
	}
	return state.VehicleID, tx.PutTireStates(ctx, map[models.TireID]models.TireState{id: state}, true)
}

// followTread gives the tire itself the new tread that a retreader put on.
func (s *Service) followTread(ctx context.Context, tx models.Tx, n *entry) error {
	m, ok := n.event.(*models.TireMove)
	if !ok || len(m.NewDepths) == 0 {
		return nil
	}

	t := n.scene.tires[m.TireID].Tire
	before := t
	t.NewDepths, t.LifeIndex, t.Regrooved = m.NewDepths, t.LifeIndex+1, false
	t.Version, t.UpdatedAt, t.UpdatedBy = t.Version+1, n.now, n.actor.User.ID
	if err := tx.PutTire(ctx, t); err != nil {
		return err
	}

	change := models.Change{Entity: "tire", ID: string(t.ID), What: "retreaded", Depots: []models.DepotID{t.DepotID}}
	return s.audit(ctx, tx, n.actor, n.now, change, before, t)
}

// causeNames name the kinds of event whose identifier is not plain words.
var causeNames = map[models.EventKind]string{
	models.KindBalance:    "balance job",
	models.KindTireMove:   "tire moved",
	models.KindWheelCheck: "wheel check",
	models.KindVibration:  "vibration report",
	models.KindVoid:       "entry withdrawn",
}

// causeOf describes e as the cause that closes a finding. Its date is marked for units.Style.
func causeOf(e models.Event) string {
	h := e.Header()
	name := causeNames[e.Kind()]
	if name == "" {
		name = string(e.Kind())
	}
	return fmt.Sprintf("%s of %s by %s", name, units.MarkDay(h.At), h.Person)
}

// Event returns one event, superseded or not.
func (s *Service) Event(ctx context.Context, a Actor, id models.EventID) (models.Event, error) {
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) (models.Event, error) {
		return r.Event(ctx, id)
	})
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

	about := references(f.VehicleID, f.TireID)
	l, err := readAs(ctx, s, a, access.View, about, func(r models.Reader) (listed[models.Event], error) {
		events, next, err := r.Events(ctx, f, p)
		return listed[models.Event]{events, next}, err
	})

	return l.items, l.next, err
}
