package fleet

import (
	"context"
	"fmt"
	"slices"

	"rimledger/models"
	"rimledger/models/units"
)

func (c *checker) fit(ctx context.Context, tx models.Tx, e *models.Fit) error {
	if len(e.Fittings) == 0 {
		c.faults.Add("fittings", "", "must name at least one tire and its position")
	}

	c.torque(e.TorqueNM)

	places, tires := map[models.Position]bool{}, map[models.TireID]bool{}
	for i, f := range e.Fittings {
		at := fmt.Sprintf("fittings[%d]", i)
		if !c.sc.vehicle.Has(f.Position) {
			c.tireAt(at+".position", f.Position)
			continue
		}
		if there := c.places[f.Position]; there != nil {
			c.faults.Add(at+".position", string(f.Position), "is taken by %s; take that off first", c.nameOf(there))
		}
		if places[f.Position] {
			c.faults.Add(at+".position", string(f.Position), "is named twice; one place has one tire")
		}

		if tires[f.TireID] {
			c.faults.Add(at+".tire_id", string(f.TireID), "is named twice; one tire is in one place")
		}

		places[f.Position], tires[f.TireID] = true, true
		if err := c.fitting(ctx, tx, at, &e.Fittings[i]); err != nil {
			return err
		}
	}

	return nil
}

// fitting adds a fault unless the tire of f is in stock, and copies the run-out
// of its wheel: the tire's state must not change when the wheel is measured anew.
func (c *checker) fitting(ctx context.Context, tx models.Tx, at string, f *models.Fitting) error {
	t, err := c.stock(ctx, tx, at+".tire_id", f.TireID)
	if err != nil {
		return err
	}

	switch {
	case t == nil:
	case t.State.Status == models.Mounted:
		c.faults.Add(at+".tire_id", t.Tire.Number,
			"is mounted at %s of another vehicle or place; take it off there first", t.State.Position)
	case t.State.Status == models.Scrapped, t.State.Status == models.AtRetreader:
		c.faults.Add(at+".tire_id", t.Tire.Number, "is %s; only a tire in stock can be fitted", t.State.Status)
	}

	if f.WheelID == "" {
		return nil
	}
	w, err := tx.Wheel(ctx, f.WheelID)
	f.Rim = w.RunOut
	return err
}

// stock returns a tire that an event names, or adds a fault.
func (c *checker) stock(
	ctx context.Context,
	tx models.Tx,
	name string,
	id models.TireID,
) (*models.TireWithState, error) {
	if id == "" {
		c.faults.Add(name, "", "must name a tire")
		return nil, nil
	}
	return c.tire(ctx, tx, id)
}

func (c *checker) removal(e *models.Removal) {
	if len(e.Removed) == 0 {
		c.faults.Add("removed", "", "must name at least one position")
	}

	seen := map[models.Position]bool{}
	for i := range e.Removed {
		r := &e.Removed[i]
		at := fmt.Sprintf("removed[%d]", i)
		if seen[r.Position] {
			c.faults.Add(at+".position", string(r.Position), "is named twice")
		}
		seen[r.Position] = true
		c.fillTireID(at+".tire_id", &r.TireID, c.tireAt(at+".position", r.Position))

		if !slices.Contains(models.RemovalReasons, r.Reason) {
			c.faults.Add(at+".reason", string(r.Reason), "must be one of %v", models.RemovalReasons)
		}

		switch r.To {
		case models.InStock, models.AtRetreader, models.Scrapped:
		default:
			c.faults.Add(at+".to", string(r.To), "must be stock, at_retreader or scrapped")
		}
	}
}

// rotation requires a permutation: every place that a tire leaves is filled by
// another of the moves, unless the place it goes to was empty.
func (c *checker) rotation(e *models.Rotation) {
	if len(e.Moves) < 2 {
		c.faults.Add("moves", fmt.Sprint(len(e.Moves)), "must be at least two: a rotation changes tires between places")
	}

	c.torque(e.TorqueNM)

	from, to := map[models.Position]bool{}, map[models.Position]bool{}
	for i := range e.Moves {
		m := &e.Moves[i]
		at := fmt.Sprintf("moves[%d]", i)
		if from[m.From] {
			c.faults.Add(at+".from", string(m.From), "is left twice; one tire is in one place")
		}
		if to[m.To] {
			c.faults.Add(at+".to", string(m.To), "is filled twice; two tires cannot be in one place")
		}
		if m.From == m.To {
			c.faults.Add(at+".to", string(m.To), "is where the tire already is; leave it out")
		}

		from[m.From], to[m.To] = true, true
		t := c.tireAt(at+".from", m.From)
		c.fillTireID(at+".tire_id", &m.TireID, t)

		if !c.sc.vehicle.Has(m.To) {
			c.tireAt(at+".to", m.To)
		}
	}

	// A place that is filled must be left by another move, or be empty before.
	for i, m := range e.Moves {
		if !from[m.To] {
			c.faults.Add(
				fmt.Sprintf("moves[%d].to", i),
				string(m.To),
				"is not left by any of the moves; a rotation is a permutation: name where the tire there goes",
			)
		}
	}
}

func (c *checker) repair(ctx context.Context, tx models.Tx, e *models.Repair) error {
	if e.What == "" || models.CleanText(e.What) != "" || len(e.What) > 500 {
		c.faults.Add("what", e.What, "must say what was repaired, in at most 500 characters")
	}
	if e.CostCents < 0 {
		c.faults.Add("cost_cents", fmt.Sprint(e.CostCents), "must not be negative")
	}

	if e.Position != "" {
		c.fillTireID("tire_id", &e.TireID, c.tireAt("position", e.Position))
		return nil
	}

	if e.TireID == "" {
		c.faults.Add("tire_id", "", "must name the tire, or the position it is on")
		return nil
	}

	_, err := c.stock(ctx, tx, "tire_id", e.TireID)
	return err
}

func (c *checker) tireMove(ctx context.Context, tx models.Tx, e *models.TireMove) error {
	t, err := c.stock(ctx, tx, "tire_id", e.TireID)
	if err != nil || t == nil {
		return err
	}

	switch {
	case t.State.Status == models.Mounted:
		c.faults.Add("tire_id", t.Tire.Number, "is mounted; record a removal")
	case t.State.Status == models.Scrapped:
		c.faults.Add("tire_id", t.Tire.Number, "is scrapped; nothing moves it any more")
	}

	switch e.To {
	case models.InStock, models.AtRetreader:
	case models.Scrapped:
		if !slices.Contains(models.RemovalReasons, e.Scrap) {
			c.faults.Add("scrap", string(e.Scrap), "must be one of %v", models.RemovalReasons)
		}
	default:
		c.faults.Add("to", string(e.To), "must be stock, at_retreader or scrapped")
	}

	if len(e.NewDepths) > 0 && (e.To != models.InStock || t.State.Status != models.AtRetreader) {
		c.faults.Add("new_depths", "", "belong to a tire that comes back from the retreader to stock")
	}
	c.newDepths(e)

	return nil
}

// newDepths checks the depths of the new tread of a retread.
func (c *checker) newDepths(e *models.TireMove) {
	if len(e.NewDepths) > 8 {
		c.faults.Add("new_depths", fmt.Sprint(len(e.NewDepths)), "must be given for 1 to 8 grooves")
	}

	for i, d := range e.NewDepths {
		if d <= 0 || d > units.MaxDepth {
			c.faults.Add(
				fmt.Sprintf("new_depths[%d]", i),
				units.FormatLength(d, units.MM),
				"must be above 0 and at most 26 mm",
			)
		}
	}
}
