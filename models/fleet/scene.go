package fleet

import (
	"context"
	"fmt"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/history"
)

// scene is a vehicle with everything that recording and assessing need.
type scene struct {
	depot   models.Depot
	policy  models.Policy
	vehicle models.Vehicle
	state   models.VehicleState
	tires   map[models.TireID]*models.TireWithState // mounted, and those an event brings in
	changed map[models.TireID]bool                  // whose state is to be saved
}

func loadScene(ctx context.Context, r models.Reader, id models.VehicleID) (*scene, error) {
	sc := &scene{tires: map[models.TireID]*models.TireWithState{}, changed: map[models.TireID]bool{}}
	var err error
	if sc.vehicle, sc.state, err = r.Vehicle(ctx, id); err != nil {
		return nil, err
	}
	if sc.depot, err = r.Depot(ctx, sc.vehicle.DepotID); err != nil {
		return nil, err
	}
	patches, err := r.DepotPolicies(ctx, sc.depot.ID)
	if err != nil {
		return nil, err
	}
	sc.policy = policyOf(sc.vehicle.Class, patches, sc.vehicle.Patch)
	mounted, err := r.TiresOn(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, t := range mounted {
		sc.tires[t.Tire.ID] = &t
	}
	return sc, nil
}

// tire returns a tire by id, reading it if it is not on the vehicle.
func (sc *scene) tire(ctx context.Context, r models.Reader, id models.TireID) (*models.TireWithState, error) {
	if t, ok := sc.tires[id]; ok {
		return t, nil
	}
	t, st, err := r.Tire(ctx, id)
	if err != nil {
		return nil, err
	}
	sc.tires[id] = &models.TireWithState{Tire: t, State: st}
	return sc.tires[id], nil
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

func (sc *scene) assess(now time.Time) (assess.Result, error) {
	zone, err := time.LoadLocation(sc.depot.TimeZone)
	if err != nil {
		return assess.Result{}, fmt.Errorf("time zone of depot %s: %w", sc.depot.Name, err)
	}
	return assess.Assess(assess.Snapshot{Now: now, Zone: zone, Depot: sc.depot, Policy: sc.policy,
		Vehicle: sc.vehicle, State: sc.state, Tires: sc.mounted()}), nil
}

// apply folds e into the states of the vehicle and of the tires it names, and
// returns the fitments that it opens and closes.
func (sc *scene) apply(e models.Event) []models.Fitment {
	var fitments []models.Fitment
	for _, id := range e.TireIDs() {
		t := sc.tires[id]
		fitments = append(fitments, history.Fitments(t.Tire, sc.vehicle, t.State, e)...)
		history.Tire(&t.State, t.Tire, sc.vehicle, e)
		sc.changed[id] = true
	}
	if sc.vehicle.ID != "" {
		history.Vehicle(&sc.state, sc.vehicle, e)
	}
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
	return tx.PutTireStates(ctx, states)
}

// settled is what an assessment changed.
type settled struct{ opened, closed, open []models.Finding }

// settle assesses the vehicle, saves its state and standing and the findings
// that opened, changed or closed. cause says in words what closes findings.
func (s *Service) settle(ctx context.Context, tx models.Tx, sc *scene, cause string, now time.Time) (settled, error) {
	result, err := sc.assess(now)
	if err != nil {
		return settled{}, err
	}
	before, err := tx.OpenFindings(ctx, sc.vehicle.ID)
	if err != nil {
		return settled{}, err
	}
	out, changed := s.compare(before, result.Findings, cause, now)
	if len(changed) > 0 {
		if err := tx.PutFindings(ctx, changed); err != nil {
			return settled{}, err
		}
	}
	return out, tx.PutVehicleState(ctx, sc.vehicle.ID, sc.state, standing(out.open, now, result.NextCheck))
}

// compare brings what is found now to what was open before: the same finding
// keeps its id, its age and its acknowledgement (unless it got more urgent).
func (s *Service) compare(before, found []models.Finding, cause string, now time.Time) (out settled, changed []models.Finding) {
	old := map[models.FindingKey]models.Finding{}
	for _, f := range before {
		old[f.Key()] = f
	}
	for _, f := range found {
		was, known := old[f.Key()]
		delete(old, f.Key())
		if !known {
			f.ID, f.OpenedAt, f.UpdatedAt = models.FindingID(s.newID()), now, now
			out.opened, changed = append(out.opened, f), append(changed, f)
		} else {
			f.ID, f.OpenedAt, f.UpdatedAt, f.Ack = was.ID, was.OpenedAt, was.UpdatedAt, was.Ack
			f.WorseAt, f.WorseFrom = was.WorseAt, was.WorseFrom
			if was.Since.Before(f.Since) {
				f.Since = was.Since
			}
			if f.Urgency < was.Urgency {
				f.Ack, f.WorseAt, f.WorseFrom = nil, &now, was.Urgency
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
	slices.SortStableFunc(out.open, byUrgency)
	return out, changed
}

func sameFinding(a, b models.Finding) bool {
	return a.Urgency == b.Urgency && a.Title == b.Title && slices.Equal(a.Evidence, b.Evidence) &&
		a.FirstJob == b.FirstJob && a.Since.Equal(b.Since) && sameTime(a.DueAt, b.DueAt) && (a.Ack == nil) == (b.Ack == nil) &&
		a.Safety == b.Safety && a.Notice == b.Notice && a.Estimated == b.Estimated
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

func standing(open []models.Finding, now time.Time, next *time.Time) models.Standing {
	st := models.Standing{Findings: len(open), NextCheck: next}
	for _, f := range open {
		if f.DueAt != nil && (st.DueAt == nil || f.DueAt.Before(*st.DueAt)) {
			st.DueAt = f.DueAt
		}
		if f.Quiet(now) {
			if st.NextCheck == nil || f.Ack.Until.Before(*st.NextCheck) {
				st.NextCheck = &f.Ack.Until
			}
			continue
		}
		if st.Worst == models.None || f.Urgency < st.Worst || f.Urgency == st.Worst && f.Since.Before(st.Since) {
			st.Worst, st.Since = f.Urgency, f.Since
		}
	}
	return st
}

// reassess loads and settles one vehicle.
func (s *Service) reassess(ctx context.Context, tx models.Tx, id models.VehicleID, cause string, now time.Time) (settled, error) {
	sc, err := loadScene(ctx, tx, id)
	if err != nil {
		return settled{}, err
	}
	return s.settle(ctx, tx, sc, cause, now)
}

// reassessDepot settles the vehicles of a depot, of one class if c is given.
func (s *Service) reassessDepot(ctx context.Context, tx models.Tx, d models.DepotID, c models.Class, now time.Time) error {
	page := models.Page{Limit: 500}
	for {
		rows, next, err := tx.Vehicles(ctx, models.VehicleFilter{Depots: []models.DepotID{d}, Class: c}, page)
		if err != nil {
			return err
		}
		for _, r := range rows {
			if _, err := s.reassess(ctx, tx, r.Vehicle.ID, "rules changed", now); err != nil {
				return err
			}
		}
		if next == "" {
			return nil
		}
		page.After = next
	}
}

// assessBatch is how many vehicles are settled in one transaction.
const assessBatch = 100

// AssessDue settles the vehicles for which time alone changes what is found.
func (s *Service) AssessDue(ctx context.Context) (checked int, err error) {
	for {
		n := 0
		err := s.write(ctx, func(tx models.Tx, now time.Time) error {
			ids, err := tx.VehiclesToCheck(ctx, now, assessBatch)
			if err != nil {
				return err
			}
			n = len(ids)
			for _, id := range ids {
				if _, err := s.reassess(ctx, tx, id, "time passed", now); err != nil {
					return err
				}
			}
			return nil
		})
		checked += n
		if err != nil || n < assessBatch {
			return checked, err
		}
	}
}

// AssessAll settles every vehicle, in batches, so that it can be stopped at any
// point and started again. progress may be nil.
func (s *Service) AssessAll(ctx context.Context, progress func(done int)) (checked int, err error) {
	page := models.Page{Limit: assessBatch}
	for {
		if err := ctx.Err(); err != nil {
			return checked, err
		}
		var next string
		n := 0
		err := s.write(ctx, func(tx models.Tx, now time.Time) error {
			rows, after, err := tx.Vehicles(ctx, models.VehicleFilter{}, page)
			if err != nil {
				return err
			}
			next, n = after, len(rows)
			for _, r := range rows {
				if _, err := s.reassess(ctx, tx, r.Vehicle.ID, "assessed again", now); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return checked, err
		}
		checked += n
		if progress != nil {
			progress(checked)
		}
		if next == "" {
			return checked, nil
		}
		page.After = next
	}
}
