package fleet

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/units"
)

// balance checks a job, brings its angles into a turn with a note, finds its
// wheel and judges what was left. What a client says of the verdict counts for nothing.
func (c *checker) balance(ctx context.Context, tx models.Tx, e *models.BalanceJob) error {
	e.Verdict, e.Notes = models.BalanceVerdict{}, nil
	t, err := c.assembly(ctx, tx, e.Position, &e.TireID)
	if err != nil {
		return err
	}
	if _, err := c.wheelOf(ctx, tx, e.Position, &e.WheelID, t); err != nil {
		return err
	}

	// Words first: what follows reads them.
	oneOf(&c.faults, "why", string(e.Why), models.BalanceWhys...)
	oneOf(&c.faults, "mode", e.Mode, models.BalanceModes...)
	if e.Planes != "" {
		oneOf(&c.faults, "planes", e.Planes, models.BalancePlanes...)
	}

	for i, k := range e.Checks {
		oneOf(&c.faults, fmt.Sprintf("checks[%d]", i), k, models.BalanceChecks...)
	}

	c.torque(e.TorqueNM)
	if e.CheckSpin && len(e.Fitted)+len(e.Removed) > 0 {
		c.faults.Add("check_spin", "true", "nothing is removed or fitted on a check spin; record a balance job instead")
	}
	if e.CheckSpin && len(e.Shown)+len(e.ShownAfter) == 0 {
		c.faults.Add("shown", "", "a check spin is what was shown: give at least one plane")
	}

	c.shown(e)
	c.weights(e)
	if e.SelfCheck != nil && e.SelfCheck.After(e.At) {
		c.faults.Add("self_check", e.SelfCheck.Format(time.DateOnly), "must not be after the job")
	}

	c.media(e.Media, e.At)
	if e.Geometry != nil {
		c.geometry(e)
	}

	// Without a tire there is nothing to judge; that is a fault already.
	if t != nil {
		e.Verdict = assess.JudgeBalance(e, c.sc.assembly(t, e.Position))
	}

	return nil
}

// assembly resolves the tire of work on one assembly: the one at p, or the loose one it names.
func (c *checker) assembly(
	ctx context.Context,
	tx models.Tx,
	p models.Position,
	id *models.TireID,
) (*models.TireWithState, error) {
	if p != "" {
		t := c.tireAt("position", p)
		c.fillTireID("tire_id", id, t)
		return t, nil
	}
	if *id == "" {
		c.faults.Add("tire_id", "", "must name the tire of a loose assembly")
		return nil, nil
	}
	return c.stock(ctx, tx, "tire_id", *id)
}

// assembly says what limits depend on for tire t at p.
func (sc *scene) assembly(t *models.TireWithState, p models.Position) assess.Assembly {
	a := assess.Assembly{Class: sc.vehicle.Class, Size: t.Tire.Size}
	if p != "" && !p.IsSpare() {
		a.Role = sc.vehicle.AxleAt(p).Role()
	}
	return a
}

// wheelOf fills in the wheel that the record has under the tire at p, and returns
// the one that is named; the zero Wheel if it is not known.
func (c *checker) wheelOf(
	ctx context.Context,
	tx models.Tx,
	p models.Position,
	id *models.WheelID,
	t *models.TireWithState,
) (models.Wheel, error) {
	named := *id != ""
	if !named && t != nil && p != "" {
		*id = t.State.WheelID
	}
	if *id == "" {
		return models.Wheel{}, nil
	}

	// A wheel that the record filled in needs no check against itself.
	w, err := tx.Wheel(ctx, *id)
	if !named {
		return w, err
	}
	if err == nil && w.DepotID != c.sc.depot.ID {
		c.faults.Add("wheel_id", string(*id), "is not a wheel in the record of depot %s", c.sc.depot.Name)
		return models.Wheel{}, nil
	}

	if err == nil && t != nil && p != "" && t.State.WheelID != "" && t.State.WheelID != *id {
		c.faults.Add(
			"wheel_id",
			w.Number,
			"is not the wheel that the record has at %s; leave it out, or correct the fitting",
			p,
		)
	}

	return w, err
}

// shown checks what the balancer showed; paths count shown before shown_after.
func (c *checker) shown(e *models.BalanceJob) {
	for _, list := range []struct {
		name   string
		planes []models.PlaneUnbalance
	}{{"shown", e.Shown}, {"shown_after", e.ShownAfter}} {
		seen := map[string]bool{}
		for i := range list.planes {
			p := &list.planes[i]
			at := fmt.Sprintf("%s[%d]", list.name, i)
			if seen[p.Plane] {
				c.faults.Add(at+".plane", p.Plane, "is given twice")
			}
			seen[p.Plane] = true
			oneOf(&c.faults, at+".plane", p.Plane, "outer", "inner", "single")
			c.weight(at, p.Mass.Value)

			if p.Unrounded != nil {
				c.weight(at+".unrounded", p.Unrounded.Value)
			}

			c.turn(e, at+".angle", strings.ReplaceAll(list.name, "_", " ")+", "+p.Plane+" plane", &p.Angle)
		}
	}
}

func (c *checker) weights(e *models.BalanceJob) {
	for _, list := range []struct {
		name    string
		weights []models.FittedWeight
	}{{"removed", e.Removed}, {"fitted", e.Fitted}} {
		for i := range list.weights {
			w := &list.weights[i]
			at := fmt.Sprintf("%s[%d]", list.name, i)
			oneOf(&c.faults, at+".plane", w.Plane, models.WeightPlanes...)
			c.weight(at, w.Mass.Value)
			oneOf(&c.faults, at+".type", w.Type, "clip", "adhesive")
			c.line(at+".place", w.Place, 80)
			c.turn(e, at+".angle", list.name+", "+w.Plane+" plane", &w.Angle)
		}
	}

	c.line("machine", e.Machine, 80)
}

func (c *checker) weight(at string, m units.Mass) {
	if !(m >= 0 && m <= models.MaxWeight) {
		c.faults.Add(
			at+".mass",
			fmt.Sprintf("%g g", float64(m)),
			"must be 0 to 2000 g: no wheel takes more in one plane",
		)
	}
}

// turn brings the angle at a path, which is what in plain words, into [0, 360)
// and says so in the job's notes.
func (c *checker) turn(e *models.BalanceJob, at, what string, a *units.Angle) {
	v := float64(*a)
	if math.IsNaN(v) || math.Abs(v) > 36_000 {
		c.faults.Add(at, fmt.Sprint(v), "must be degrees clockwise from the valve seen from outside")
		return
	}
	if n := a.Normal(); n != *a {
		e.Notes = append(e.Notes, fmt.Sprintf("%s: %g° taken as %g°", what, v, float64(n)))
		*a = n
	}
}

// line checks a text of one line of at most n characters.
func (c *checker) line(at, text string, n int) {
	if why := models.CleanText(text); why != "" {
		c.faults.Add(at, fmt.Sprintf("%q", text), "%s", why)
	} else if len(text) > n {
		c.faults.Add(at, text, "must have at most %d characters", n)
	}
}

func (c *checker) media(m *models.BalanceMedia, done time.Time) {
	if m == nil {
		return
	}
	c.line("media.type", m.Type, 80)
	c.line("media.dose", m.Dose, 80)
	if m.Type == "" || m.Dose == "" {
		c.faults.Add("media.dose", m.Dose, "give the type and the dose by the maker's chart; none is computed here")
	}
	if m.In.IsZero() || m.In.After(done) {
		c.faults.Add("media.in", m.In.Format(time.DateOnly), "must say when it was put in, not after the job")
	}
}

// geometry checks the wheel as measured; angles of spokes and arcs are brought into a turn.
func (c *checker) geometry(e *models.BalanceJob) {
	g := e.Geometry
	for i := range g.Spokes {
		a := units.Angle(g.Spokes[i])
		c.turn(e, fmt.Sprintf("geometry.spokes[%d]", i), "spoke", &a)
		g.Spokes[i] = float64(a)
	}

	for i := range g.Blocked {
		from, to := units.Angle(g.Blocked[i].From), units.Angle(g.Blocked[i].To)
		c.turn(e, fmt.Sprintf("geometry.blocked[%d].from", i), "nothing fits from", &from)
		c.turn(e, fmt.Sprintf("geometry.blocked[%d].to", i), "nothing fits to", &to)
		g.Blocked[i].From, g.Blocked[i].To = float64(from), float64(to)
	}

	var bad *models.Error
	if errors.As(g.Validate("geometry."), &bad) {
		for _, f := range bad.Fields {
			c.faults.Add(f.Name, f.Value, "%s", f.Remedy)
		}
	}
}

// keepGeometry writes a wheel's geometry, as measured at a job, back to the
// wheel. The job of the latest time counts, whenever it was recorded; where e
// corrects or withdraws that job, the newest of the wheel that is not superseded.
func (s *Service) keepGeometry(ctx context.Context, tx models.Tx, a Actor, e, old models.Event, now time.Time) error {
	if was, ok := old.(*models.BalanceJob); ok && was.Geometry != nil && was.WheelID != "" {
		w, err := tx.Wheel(ctx, was.WheelID)
		if err != nil {
			return err
		}

		if w.MeasuredBy == was.ID {
			newest, err := measuredAt(ctx, tx, w.ID)
			if err != nil {
				return err
			}
			if err := s.measured(ctx, tx, a, w, newest, now); err != nil {
				return err
			}
		}
	}

	job, ok := e.(*models.BalanceJob)
	if !ok || job.Geometry == nil || job.WheelID == "" {
		return nil
	}
	w, err := tx.Wheel(ctx, job.WheelID)
	if err != nil || w.MeasuredBy == job.ID || job.At.Before(w.MeasuredAt) {
		return err
	}

	return s.measured(ctx, tx, a, w, job, now)
}

// measuredAt returns the newest job that measured a wheel, nil if there is none.
func measuredAt(ctx context.Context, tx models.Tx, w models.WheelID) (*models.BalanceJob, error) {
	events, _, err := tx.Events(
		ctx,
		models.EventFilter{WheelID: w, Kinds: []models.EventKind{models.KindBalance}, Ascending: true},
		models.Page{},
	)
	for _, e := range slices.Backward(events) {
		if job, ok := e.(*models.BalanceJob); ok && job.Geometry != nil {
			return job, err
		}
	}
	return nil, err
}

// measured saves the geometry of a job on wheel w; without a job what is there
// stays, measured at no job.
func (s *Service) measured(
	ctx context.Context,
	tx models.Tx,
	a Actor,
	w models.Wheel,
	job *models.BalanceJob,
	now time.Time,
) error {
	before := w
	w.MeasuredAt, w.MeasuredBy = time.Time{}, ""
	if job != nil {
		w.WheelGeometry, w.MeasuredAt, w.MeasuredBy = *job.Geometry, job.At, job.ID
	}
	if same(before.WheelGeometry, w.WheelGeometry) {
		return tx.PutWheel(ctx, w) // as it was, measured again
	}

	w.Version, w.UpdatedAt, w.UpdatedBy = w.Version+1, now, a.User.ID
	if err := tx.PutWheel(ctx, w); err != nil {
		return err
	}

	return s.audit(
		ctx,
		tx,
		a,
		now,
		models.Change{Entity: "wheel", ID: string(w.ID), What: "measured", Depots: []models.DepotID{w.DepotID}},
		before,
		w,
	)
}

// same compares two geometries; no list and an empty one are the same.
func same(a, b models.WheelGeometry) bool { return fmt.Sprint(a) == fmt.Sprint(b) }
