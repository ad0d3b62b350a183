package fleet

import (
	"context"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/history"
)

// scene is a vehicle with everything that recording and assessing need.
type scene struct {
	depot   models.Depot
	zone    *time.Location
	policy  models.Policy
	vehicle models.Vehicle
	state   models.VehicleState
	tires   map[models.TireID]*models.TireWithState // mounted, and those an event brings in
	changed map[models.TireID]bool                  // whose state is to be saved
	moved   bool                                    // one of them has another status or place

	// In an import also:
	shared   map[models.TireID]*models.TireWithState // tires of all its vehicles, each once
	fitments map[models.FitmentID]models.Fitment     // of the vehicle; before the first late event those of the import
	allRead  bool                                    // fitments has all of them
	behind   bool                                    // state is to be rebuilt: something late was recorded
	staleUse bool                                    // an odometer before the newest is not in the use per day yet
}

func loadScene(ctx context.Context, r models.Reader, id models.VehicleID) (*scene, error) {
	v, state, err := r.Vehicle(ctx, id)
	if err != nil {
		return nil, err
	}
	all, err := loadScenes(ctx, r, []models.VehicleRow{{Vehicle: v, State: state}})
	if err != nil {
		return nil, err
	}
	return all[0], nil
}

// loadScenes loads what belongs to rows, in their order.
func loadScenes(ctx context.Context, r models.Reader, rows []models.VehicleRow) ([]*scene, error) {
	ids := make([]models.VehicleID, len(rows))
	for i, row := range rows {
		ids[i] = row.Vehicle.ID
	}

	mounted, err := r.TiresOn(ctx, ids...)
	if err != nil {
		return nil, err
	}

	on := map[models.VehicleID]map[models.TireID]*models.TireWithState{}
	for _, id := range ids {
		on[id] = map[models.TireID]*models.TireWithState{}
	}

	for _, t := range mounted {
		on[t.State.VehicleID][t.Tire.ID] = &t
	}

	// Vehicles of one depot share its policy, which is read once.
	shared := map[models.DepotID]depotScene{}

	var out []*scene
	for _, row := range rows {
		v := row.Vehicle
		d, known := shared[v.DepotID]
		if !known {
			if d, err = loadDepotScene(ctx, r, v.DepotID); err != nil {
				return nil, err
			}
			shared[v.DepotID] = d
		}

		out = append(out, &scene{
			depot:   d.depot,
			zone:    d.zone,
			policy:  policyOf(v.Class, d.depot.Units, d.patches, v.Patch),
			vehicle: v,
			state:   row.State,
			tires:   on[v.ID],
			changed: map[models.TireID]bool{},
		})
	}

	return out, nil
}

// depotScene is what the scenes of the vehicles of one depot share.
type depotScene struct {
	depot   models.Depot
	zone    *time.Location
	patches []models.DepotPolicy
}

func loadDepotScene(ctx context.Context, r models.Reader, id models.DepotID) (d depotScene, err error) {
	if d.depot, err = r.Depot(ctx, id); err != nil {
		return d, err
	}
	if d.zone, err = d.depot.Zone(); err != nil {
		return d, err
	}
	d.patches, err = r.DepotPolicies(ctx, id)
	return d, err
}

// tire returns a tire by id, reading it if it is not on the vehicle.
func (sc *scene) tire(ctx context.Context, r models.Reader, id models.TireID) (*models.TireWithState, error) {
	if t, ok := sc.tires[id]; ok {
		return t, nil
	}
	if t, ok := sc.shared[id]; ok {
		sc.tires[id] = t
		return t, nil
	}

	t, st, err := r.Tire(ctx, id)
	if err != nil {
		return nil, err
	}
	sc.tires[id] = &models.TireWithState{Tire: t, State: st}
	if sc.shared != nil {
		sc.shared[id] = sc.tires[id]
	}
	return sc.tires[id], nil
}

// fitmentsAt lists the fitments of the vehicle that lasted at a time. In an import
// they are read once.
func (sc *scene) fitmentsAt(ctx context.Context, r models.Reader, at time.Time) ([]models.Fitment, error) {
	if sc.shared == nil {
		return r.Fitments(ctx, models.FitmentFilter{VehicleID: sc.vehicle.ID, At: at})
	}

	if !sc.allRead {
		recorded, err := r.Fitments(ctx, models.FitmentFilter{VehicleID: sc.vehicle.ID})
		if err != nil {
			return nil, err
		}
		for _, f := range recorded {
			if _, newer := sc.fitments[f.ID]; !newer {
				sc.fitments[f.ID] = f
			}
		}
		sc.allRead = true
	}

	var out []models.Fitment
	for _, f := range sc.fitments {
		if !f.From.At.After(at) && (f.To == nil || f.To.At.After(at)) {
			out = append(out, f)
		}
	}

	return out, nil
}

// at returns the tire that is at p now, or nil.
func (sc *scene) at(p models.Position) *models.TireWithState {
	for _, t := range sc.tires {
		if t.State.VehicleID == sc.vehicle.ID && t.State.Position == p {
			return t
		}
	}
	return nil
}

// mounted lists the tires on the vehicle in the order of its positions.
func (sc *scene) mounted() []models.TireWithState {
	var out []models.TireWithState
	for _, p := range sc.vehicle.Positions() {
		if t := sc.at(p); t != nil {
			out = append(out, *t)
		}
	}
	return out
}

func (sc *scene) assess(now time.Time) assess.Result { return assess.Assess(sc.snapshot(now)) }

func (sc *scene) snapshot(now time.Time) assess.Snapshot {
	return assess.Snapshot{Now: now, Zone: sc.zone, Depot: sc.depot, Policy: sc.policy,
		Vehicle: sc.vehicle, State: sc.state, Tires: sc.mounted()}
}

// apply folds e into the states of the vehicle and of the tires it names, and
// returns the fitments that it opens and closes.
func (sc *scene) apply(e models.Event) []models.Fitment {
	var fitments []models.Fitment
	for _, id := range e.TireIDs() {
		fitments = append(fitments, sc.applyToTire(id, e)...)
	}
	if sc.vehicle.ID != "" {
		history.Vehicle(&sc.state, sc.vehicle, e)
	}
	return fitments
}

// applyToTire is the part of apply that is about one tire.
func (sc *scene) applyToTire(id models.TireID, e models.Event) []models.Fitment {
	t := sc.tires[id]
	was := t.State
	fitments := history.Fitments(t.Tire, sc.vehicle, was, e)
	history.Tire(&t.State, t.Tire, sc.vehicle, e)

	sc.changed[id] = true
	sc.moved = sc.moved || t.State.Status != was.Status || t.State.VehicleID != was.VehicleID ||
		t.State.Position != was.Position
	return fitments
}

// save writes the states that changed.
func (sc *scene) save(ctx context.Context, tx models.Tx) error {
	states := map[models.TireID]models.TireState{}
	for id := range sc.changed {
		states[id] = sc.tires[id].State
	}
	if len(states) == 0 {
		return nil
	}
	return tx.PutTireStates(ctx, states, sc.moved)
}

// assessment is what an assessment changed, and all that is open after it.
type assessment struct{ opened, closed, open []models.Finding }

// assessAndSave assesses the vehicle and saves its state, its standing and the
// findings that opened, changed or closed. cause describes what closes findings.
func (s *Service) assessAndSave(
	ctx context.Context, tx models.Tx, sc *scene, cause string, now time.Time) (assessment, error) {
	result := sc.assess(now)
	before, err := tx.OpenFindings(ctx, sc.vehicle.ID)
	if err != nil {
		return assessment{}, err
	}

	out, changed := s.compare(before, result.Findings, cause, now)
	if len(changed) > 0 {
		if err := tx.PutFindings(ctx, changed); err != nil {
			return assessment{}, err
		}
	}

	return out, tx.PutVehicleState(ctx, sc.vehicle.ID, sc.state, standing(out.open, now, result))
}

// compare matches what is found now with what was open before: the same finding
// keeps its id, its age and its acknowledgement (unless it got more urgent).
func (s *Service) compare(
	before, found []models.Finding,
	cause string,
	now time.Time,
) (out assessment, changed []models.Finding) {
	booking := models.StandingBooking(before, now)
	old := map[models.FindingKey]models.Finding{}

	// What was open and is not found any more is closed.
	for _, f := range before {
		old[f.Key()] = f
	}

	for _, f := range found {
		was, known := old[f.Key()]
		delete(old, f.Key())

		if !known {
			f.ID, f.Booking = models.FindingID(s.newID()), booking
			f.OpenedAt, f.UpdatedAt = now, now
			out.opened, changed = append(out.opened, f), append(changed, f)
		} else {
			f.ID, f.Ack, f.Booking = was.ID, was.Ack, was.Booking
			f.OpenedAt, f.UpdatedAt = was.OpenedAt, was.UpdatedAt
			f.WorseAt, f.WorseFrom = was.WorseAt, was.WorseFrom
			if was.Since.Before(f.Since) {
				f.Since = was.Since
			}
			if f.Urgency < was.Urgency {
				f.Ack, f.Booking = nil, booking
				f.WorseAt, f.WorseFrom = &now, was.Urgency
			}

			if !sameFinding(f, was) {
				f.UpdatedAt = now
				changed = append(changed, f)
			}
		}

		out.open = append(out.open, f)
	}

	for _, f := range before {
		if _, gone := old[f.Key()]; gone {
			f.ClosedAt, f.ClosedBy, f.UpdatedAt = &now, cause, now
			out.closed, changed = append(out.closed, f), append(changed, f)
		}
	}

	// Most urgent first, as every list shows them.
	slices.SortStableFunc(out.open, byUrgency)
	return out, changed
}

func sameFinding(a, b models.Finding) bool {
	return a.DepotID == b.DepotID &&
		a.Urgency == b.Urgency &&
		a.Title == b.Title &&
		slices.Equal(a.Evidence, b.Evidence) &&
		a.FirstJob == b.FirstJob &&
		a.Since.Equal(b.Since) &&
		sameTime(a.DueAt, b.DueAt) &&
		(a.Ack == nil) == (b.Ack == nil) &&
		a.Safety == b.Safety &&
		a.Notice == b.Notice &&
		a.Estimated == b.Estimated
}

func sameTime(a, b *time.Time) bool {
	return a == nil && b == nil || a != nil && b != nil && a.Equal(*b)
}

func byUrgency(a, b models.Finding) int {
	if a.Urgency != b.Urgency {
		return int(a.Urgency - b.Urgency)
	}
	return a.Since.Compare(b.Since)
}

// standing is what lists need to know of a vehicle with these open findings.
func standing(open []models.Finding, now time.Time, found assess.Result) models.Standing {
	st := models.Standing{Findings: len(open), NextCheck: found.NextCheck, PullAt: found.PullAt}
	st.Worst, st.Since = models.WorstOf(open, now)
	for _, f := range open {
		if f.DueAt != nil && (st.DueAt == nil || f.DueAt.Before(*st.DueAt)) {
			st.DueAt = f.DueAt
		}
		if f.Quiet(now) && (st.NextCheck == nil || f.Ack.Until.Before(*st.NextCheck)) {
			st.NextCheck = &f.Ack.Until
		}
	}

	return st
}
