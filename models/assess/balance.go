package assess

import (
	"fmt"

	"rimledger/models"
	"rimledger/models/units"
)

// balance checks the assembly: a lost weight, over its limit, fitted and not
// balanced, due again.
func (c *checker) balance(p *place) {
	if p.spare {
		return
	}

	if lost := p.State.MissingWeight; lost != nil {
		c.add(p, models.Finding{
			Code:     models.WeightMissing,
			Urgency:  models.DoNow,
			Since:    lost.At,
			Title:    fmt.Sprintf("balance weight missing at %s", p.at),
			Evidence: []models.Evidence{line("clean mark, broken clip or adhesive print seen on %s", c.date(lost.At))},
			FirstJob: fmt.Sprintf("Balance the assembly at %s again, all weights off first.", p.at),
			Safety:   cautionBalancer + " " + cautionWheels,
		})
	}

	b, since := p.State.Balance, p.State.UnbalancedSince
	switch {
	case b != nil && b.Verdict.Proven && !b.Verdict.Within && (since == nil || !b.At.Before(since.At)):
		c.add(p, c.overLimit(p, b))
	case since != nil:
		c.add(p, models.Finding{
			Code:    models.NotBalanced,
			Urgency: c.balanceUrgency(p),
			Since:   since.At,
			Title:   fmt.Sprintf("tire at %s fitted or repaired on %s and not balanced since", p.at, c.date(since.At)),
			Evidence: append([]models.Evidence{c.lastDone("fitting or repair off the wheel", *since)},
				c.unproven(b, *since)...),
			FirstJob: fmt.Sprintf("Balance the assembly at %s.", p.at),
			Safety:   cautionBalancer + " " + cautionWheels,
		})
	default:
		c.rebalance(p, b)
	}
}

// unproven returns evidence why a job since the fitting does not close the finding;
// none if there is no such job or it was proven.
func (c *checker) unproven(b *models.BalanceRecord, since models.Point) []models.Evidence {
	if b == nil || b.Verdict.Proven || b.At.Before(since.At) {
		return nil
	}
	return []models.Evidence{line("balance job on %s does not settle it: %s", c.date(b.At), b.Verdict.Reason)}
}

// balanceUrgency is the urgency of an assembly that was never balanced or is due:
// drive and trailer wheels of heavy vehicles are balanced at mount only if a fleet
// chooses to (common practice, no source).
func (c *checker) balanceUrgency(p *place) models.Urgency {
	if c.Vehicle.Class.Heavy() && p.axle.Role() != models.RoleSteer {
		return models.Watch
	}
	return models.Plan
}

// overLimit is the finding of a job that left the assembly over its limit.
func (c *checker) overLimit(p *place, b *models.BalanceRecord) models.Finding {
	f := models.Finding{
		Code:    models.BalanceOverLimit,
		Urgency: models.Plan,
		Since:   b.At,
		Title:   fmt.Sprintf("balance at %s is over its limit since %s", p.at, c.date(b.At)),
		Evidence: []models.Evidence{
			c.lastDone("balance", b.Point),
			line("%s", b.Verdict.Reason),
			line("limit: %s", b.Verdict.Limit),
		},
		FirstJob: overJob(b),
		Safety:   cautionBalancer + " " + cautionWheels,
	}

	if b.Demand > 0 {
		f.Evidence = append(f.Evidence, line("the balancer asked for %s before the work", units.MarkMass(b.Demand)))
	}

	// A steered wheel that shakes is felt at once and wears its joints.
	if p.axle.Role() == models.RoleSteer {
		f.Urgency = models.DoNow
	}

	return f
}

// overJob is the job for a wheel over its limit: a wheel that was only spun is balanced; one
// that a balance job left over is not helped by more weight (workshop practice).
func overJob(b *models.BalanceRecord) string {
	if b.CheckSpin {
		return "Balance it, all weights off first. If it is over again, remount it and check bead seat and run-out."
	}
	return "Do not add more weight. Remount, check bead seat and run-out, then take all weights off and balance again."
}

// rebalance reports a balance that is due again. Where none is in the record,
// the interval counts from when the tire came onto the vehicle, except on drive and
// trailer wheels of heavy vehicles, which many fleets never balance.
func (c *checker) rebalance(p *place, b *models.BalanceRecord) {
	var from models.Point
	switch {
	case b != nil:
		from = b.Point
		if b.VehicleID != c.Vehicle.ID {
			from.Odometer = models.Odometer{} // it is that of another vehicle, or of none
		}
		if on := p.State.FittedOn; on != nil && on.At.After(from.At) {
			from = *on // an assembly that was balanced loose begins to run here
		}
	case p.State.FittedOn != nil && c.balanceUrgency(p) != models.Watch:
		from = *p.State.FittedOn
	default:
		return
	}

	// Without a job in the record the date rests on the fitting alone.
	d, ok := c.dueAfter(from, c.Policy.RebalanceKM, c.Policy.RebalanceDays)
	d.estimated = d.estimated || b == nil
	if !ok || !c.listDue(p, models.RebalanceOverdue, d, "balance") {
		return
	}

	known := c.lastDone("fitting, no balance in the record,", from)
	if b != nil {
		known = c.lastDone("balance", b.Point)
	}

	f := models.Finding{
		Code:     models.RebalanceOverdue,
		Evidence: []models.Evidence{known},
		FirstJob: fmt.Sprintf("Balance the assembly at %s.", p.at),
		Safety:   cautionBalancer + " " + cautionWheels,
	}
	c.addDue(p, d, f, fmt.Sprintf("balance at %s", p.at), c.balanceUrgency(p))
}

// A change of the unbalance of a bare assembly between two jobs on one mounting
// counts as drift from these values on, g: about three times the spread of two
// displays in steps of 5 g (heavy: 25 g) and a repeatability of 7 g (derived; chosen
// by us).
const (
	driftLightG = 20
	driftHeavyG = 60
)

// drifts reports whether the assembly has drifted since the job before.
func (c *checker) drifts(p *place) bool {
	b := p.State.Balance
	if b == nil || b.Drift == nil {
		return false
	}
	if c.Vehicle.Class.Heavy() {
		return b.Drift.WorstG >= driftHeavyG
	}
	return b.Drift.WorstG >= driftLightG
}

// assembly returns the facts that the limits at p depend on.
func (c *checker) assembly(p *place) Assembly {
	return Assembly{Class: c.Vehicle.Class, Role: p.axle.Role(), Size: p.Tire.Size}
}

// demand returns the weight that the bare assembly needed as a share of its limit; 0
// where there is no such limit or the weight is not known.
func (c *checker) demand(p *place) float64 {
	b := p.State.Balance
	n := c.assembly(p).Bench().Limits().Needed
	if b == nil || n == nil || p.spare {
		return 0
	}
	return b.Verdict.NeededG / n.Base()
}
