package fleet

import (
	"context"
	"maps"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/units"
)

// batch records the events of an import one after another in one transaction.
// It keeps the states of their vehicles and tires, and the events that are not
// yet written, in memory until it is flushed.
//
// What is late changes the meaning of what came after it, and is replayed once,
// when the batch is flushed. Until then a state in memory has only what the checks of
// the next rows read: the newest odometer and the newest depths. The rows of a
// vehicle come in order of time.
type batch struct {
	service *Service
	tx      models.Tx
	actor   Actor
	now     time.Time
	confirm bool // held values are confirmed by whoever started the import
	trying  bool // nothing is written: the rows are only checked

	claims *claims
	scenes map[models.VehicleID]*scene
	tires  map[models.TireID]*models.TireWithState // of all scenes
	late   map[models.TireID]bool                  // their states are to be rebuilt
	events []models.Event
}

// record adds e, which names its vehicle and supersedes nothing, as Record does,
// and reports whether it was recorded before with the same content. The vehicle
// is saved and assessed when the batch is flushed.
func (b *batch) record(ctx context.Context, e models.Event) (repeated bool, err error) {
	n := &entry{actor: b.actor.asWritten(e), event: e, now: b.now, confirm: b.confirm}
	if err := b.service.prepare(n); err != nil {
		return false, err
	}
	if repeated, err = checkReceipt(b.claims.known, n.receipt); err != nil || repeated {
		return repeated, err
	}

	if n.scene, err = b.scene(ctx, e.Header().VehicleID); err != nil {
		return false, err
	}
	if err := b.renewUse(ctx, n); err != nil {
		return false, err
	}
	if err := n.complete(ctx, b.tx); err != nil {
		return false, err
	}
	if err := n.requireDepots(); err != nil {
		return false, err
	}

	b.claims.add(n.receipt)
	if !b.trying {
		b.events = append(b.events, e)
	}

	changed := b.apply(n)
	for _, f := range changed {
		n.scene.fitments[f.ID] = f
	}
	return false, b.tx.PutFitments(ctx, changed)
}

// requireDepots returns a NotFound error unless the person sees the vehicle, and
// the tires that a fit takes from a depot: they may belong to another one since
// their numbers were looked up.
func (n *entry) requireDepots() error {
	if err := n.actor.requireDepot(n.scene.vehicle.DepotID, "vehicle"); err != nil {
		return err
	}
	fit, ok := n.event.(*models.Fit)
	if !ok {
		return nil
	}

	for _, id := range fit.TireIDs() {
		if err := n.actor.requireDepot(n.scene.tires[id].Tire.DepotID, "tire"); err != nil {
			return err
		}
	}

	return nil
}

// scene returns what is in memory of a vehicle, loading it the first time.
func (b *batch) scene(ctx context.Context, id models.VehicleID) (*scene, error) {
	if sc := b.scenes[id]; sc != nil {
		return sc, nil
	}

	sc, err := loadScene(ctx, b.tx, id)
	if err != nil {
		return nil, err
	}

	sc.shared, sc.fitments = b.tires, map[models.FitmentID]models.Fitment{}
	for id, t := range sc.tires {
		if known := b.tires[id]; known != nil {
			sc.tires[id] = known
		} else {
			b.tires[id] = t
		}
	}

	b.scenes[id] = sc
	return sc, nil
}

// apply folds the event into the states in memory, as far as it is not late, and
// returns the fitments that it opens and closes.
func (b *batch) apply(n *entry) []models.Fitment {
	sc, e, h := n.scene, n.event, n.event.Header()
	if !n.needsReplay() {
		return sc.apply(e)
	}

	var fitments []models.Fitment
	for _, id := range e.TireIDs() {
		t := sc.tires[id]
		if !h.At.Before(t.State.LastEventAt) {
			fitments = append(fitments, sc.applyToTire(id, e)...)
			continue
		}

		b.late[id] = true
		if in, ok := e.(*models.Inspection); ok {
			noteReading(&t.State, in, id)
		}
	}

	if h.At.Before(sc.state.LastEventAt) {
		sc.behind = true
		sc.noteOdometer(h)
	} else {
		history.Vehicle(&sc.state, sc.vehicle, e)
	}

	return fitments
}

// noteReading makes the depths of a late reading the last ones of a tire if they
// are the newest. The rest of its state waits for the replay.
func noteReading(s *models.TireState, e *models.Inspection, id models.TireID) {
	for _, r := range e.Readings {
		_, measured := r.Min()
		if r.TireID != id || !measured {
			continue
		}
		if last := s.LastRead(); last == nil || !e.At.Before(last.At) {
			s.Last, s.Kept = nil, &models.Measured{
				Point:     models.Point{EventID: e.ID, At: e.At, Odometer: e.Odometer},
				VehicleID: e.VehicleID, Person: e.Person, Gauge: e.Gauge, Reading: r,
			}
		}
	}
}

// noteOdometer applies the odometer of a late event if it is the newest of the
// vehicle. Otherwise the replay applies it.
func (sc *scene) noteOdometer(h *models.Meta) {
	if !h.Odometer.Known {
		return
	}
	if h.At.Before(sc.state.OdometerAt) {
		sc.staleUse = true
		return
	}

	newest := sc.state.LastEventAt
	history.Vehicle(&sc.state, sc.vehicle, &models.OdometerEntry{Meta: *h})
	sc.state.LastEventAt = newest
}

// renewUse replays the vehicle where the odometer of n is to be estimated from a
// use per day in which earlier odometers of the batch are missing. Since rows come
// in order of time, that is once for a vehicle at most. No check reads the estimate.
func (b *batch) renewUse(ctx context.Context, n *entry) error {
	sc, h := n.scene, n.event.Header()
	if b.trying || !sc.staleUse || h.Odometer.Known || !h.At.After(sc.state.OdometerAt) {
		return nil
	}

	state, err := b.replayVehicle(ctx, sc)
	if err != nil {
		return err
	}
	sc.state, sc.staleUse = state, false
	return nil
}

// replayVehicle folds all events of a vehicle, those that are not yet written too.
func (b *batch) replayVehicle(ctx context.Context, sc *scene) (models.VehicleState, error) {
	events, err := eventsInOrder(ctx, b.tx, models.EventFilter{VehicleID: sc.vehicle.ID})
	if err != nil {
		return models.VehicleState{}, err
	}

	for _, e := range b.events {
		if e.Header().VehicleID == sc.vehicle.ID {
			events = append(events, e)
		}
	}

	slices.SortStableFunc(events, func(x, y models.Event) int { return x.Header().At.Compare(y.Header().At) })
	return history.ReplayVehicle(sc.vehicle, events), nil
}

// flush writes the events, replays what they are late for, saves and assesses the
// vehicles, and empties the batch.
func (b *batch) flush(ctx context.Context) error {
	if err := b.tx.AddEvents(ctx, b.events...); err != nil {
		return err
	}
	b.events = nil

	ids := slices.Sorted(maps.Keys(b.scenes))
	for _, id := range ids {
		if err := b.scenes[id].save(ctx, b.tx); err != nil {
			return err
		}
	}

	// Late events need the events of this batch, which are written by now.
	elsewhere, err := b.replayTires(ctx)
	if err != nil {
		return err
	}

	for _, id := range ids {
		sc, err := b.replayed(ctx, b.scenes[id])
		if err != nil {
			return err
		}
		if _, err := b.service.assessAndSave(ctx, b.tx, sc, b.cause(), b.now); err != nil {
			return err
		}
	}

	// A tire may have moved since to a vehicle that is not in the batch.
	for _, id := range elsewhere {
		if _, err := b.service.reassess(ctx, b.tx, id, b.cause(), b.now); err != nil {
			return err
		}
	}

	clear(b.scenes)
	clear(b.tires)
	clear(b.late)
	return nil
}

func (b *batch) cause() string { return "import of " + units.MarkDay(b.now) }

// replayTires rebuilds the tires that have something late. It returns the vehicles
// on which they are now that are not in memory, each once, in order.
func (b *batch) replayTires(ctx context.Context) ([]models.VehicleID, error) {
	var elsewhere []models.VehicleID
	for _, id := range slices.Sorted(maps.Keys(b.late)) {
		where, err := b.service.replayTire(ctx, b.tx, id)
		if err != nil {
			return nil, err
		}
		if where != "" && b.scenes[where] == nil {
			elsewhere = append(elsewhere, where)
		}
	}

	slices.Sort(elsewhere)
	return slices.Compact(elsewhere), nil
}

// replayed returns sc after the replay of its tires and, if something late was
// recorded on it, of its vehicle.
func (b *batch) replayed(ctx context.Context, sc *scene) (*scene, error) {
	late := false
	for id := range sc.tires {
		late = late || b.late[id]
	}
	if !late && !sc.behind {
		return sc, nil
	}

	fresh, err := loadScene(ctx, b.tx, sc.vehicle.ID)
	if err != nil {
		return nil, err
	}

	fresh.state = sc.state
	if sc.behind {
		fresh.state, err = b.replayVehicle(ctx, sc)
	}
	return fresh, err
}

// claims are the ids that an import writes under, with those written before.
type claims struct {
	known map[string]models.Fingerprint
	fresh []models.Receipt // to be written
}

func (c *claims) add(r models.Receipt) {
	c.known[r.ID] = r.Fingerprint
	c.fresh = append(c.fresh, r)
}

// claim is Service.claimID without a question to the store for each id.
func (c *claims) claim(id string, content any, now time.Time) (before bool, err error) {
	r, err := newReceipt(id, content, now)
	if err != nil {
		return false, err
	}
	if before, err = checkReceipt(c.known, r); err != nil || before {
		return before, err
	}
	c.add(r)
	return false, nil
}

// save writes the new claims.
func (c *claims) save(ctx context.Context, tx models.Tx) error {
	err := tx.AddReceipts(ctx, c.fresh...)
	c.fresh = nil
	return err
}
