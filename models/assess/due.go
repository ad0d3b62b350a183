package assess

import (
	"fmt"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// due is when work comes due after a point: first of distance and time.
type due struct {
	at        time.Time
	odometer  *units.Distance
	reason    string
	estimated bool // at rests on use per day, or the distance is not known
}

// dueAfter computes when work that was last done at from is due again; ok is
// false if both intervals are off.
func (c *checker) dueAfter(from models.Point, km, days int) (d due, ok bool) {
	if days > 0 {
		d = due{at: from.At.AddDate(0, 0, days), reason: fmt.Sprintf("every %d days", days)}
		ok = true
	}
	if km <= 0 {
		return d, ok
	}
	now, _, known := c.along()
	if !from.Odometer.Known || !known {
		if !ok {
			// No distance is known: the class's usual use per day stands in.
			perDay := c.State.Use.PerDay().Median.Value
			if perDay > 0 {
				d = due{at: from.At.Add(span(float64(km) / perDay)), reason: fmt.Sprintf("every %d km, by usual use a day", km), estimated: true}
				ok = true
			}
		}
		return d, ok
	}
	at := from.Odometer.Value + units.Distance(km)*units.Kilometre
	left := at.Kilometres() - now
	perDay := max(c.State.Use.PerDay().Median.Value, 0.1)
	by := c.Now.Add(span(left / perDay))
	if !ok || by.Before(d.at) {
		d = due{at: by, odometer: &at, reason: fmt.Sprintf("every %s", c.distance(units.Distance(km)*units.Kilometre)), estimated: true}
		if left <= 0 {
			_, d.estimated, _ = c.along()
		}
	}
	return d, true
}

// span is a number of days as a duration, bounded so that it stays a date.
func span(days float64) time.Duration {
	return time.Duration(min(max(days, -36500), 36500) * 24 * float64(time.Hour))
}

// overdue adds f as due or overdue, or notes when it will be.
func (c *checker) overdue(t *models.TireWithState, d due, f models.Finding, what string, late models.Urgency) {
	ahead := time.Duration(c.Policy.DueDays) * 24 * time.Hour
	c.flipsAt(d.at)
	c.flipsAt(d.at.Add(-ahead))
	if d.at.After(c.Now.Add(ahead)) {
		return
	}
	at := d.at.Truncate(time.Hour)
	f.DueAt, f.DueOdometer, f.Estimated = &at, d.odometer, f.Estimated || d.estimated
	estimate := ""
	if f.Estimated {
		estimate = " (estimated)"
	}
	f.Evidence = append(f.Evidence, policyLine("%s%s", d.reason, estimate))
	if d.at.After(c.Now) {
		f.Urgency, f.Since = models.Plan, c.Now.Truncate(24*time.Hour)
		f.Title = fmt.Sprintf("%s due on %s%s", what, c.date(d.at), estimate)
		f.Since = d.at.Add(-ahead)
	} else {
		f.Urgency, f.Since = late, d.at
		f.Title = fmt.Sprintf("%s overdue since %s%s", what, c.date(d.at), estimate)
	}
	c.add(t, f)
}

// lastDone is the evidence of when work was last done.
func (c *checker) lastDone(what string, p models.Point) models.Evidence {
	s := fmt.Sprintf("last %s on %s", what, c.date(p.At))
	if p.Odometer.Known {
		s += " at " + c.distance(p.Odometer.Value)
	}
	return models.Evidence{Text: s}
}

// vehicle checks what is due on the vehicle as a whole.
func (c *checker) vehicle() {
	c.inspected()
	c.rotated()
	c.aligned()
	c.retorqued()
	for _, o := range c.State.Complaints {
		c.add(nil, models.Finding{Code: models.VibrationOpen, Urgency: models.DoNow, Since: o.At,
			Title:    fmt.Sprintf("driver reports a shake, worst at %.0f km/h", o.Report.WorstKMH),
			Evidence: []models.Evidence{{Text: fmt.Sprintf("reported on %s by %s; felt at: %s", c.date(o.At), o.Report.Person, words(o.Report.FeltAt))}},
			FirstJob: "Pressures, looseness and dampers first; then spin the wheels, front pair first if the steering wheel shakes.",
			Safety:   "If anything is loose, bulged or cut, do not drive it to find out."})
		break
	}
}

func (c *checker) inspected() {
	if len(c.Tires) == 0 {
		return
	}
	if c.State.LastInspection == nil {
		since := c.Vehicle.CreatedAt
		c.add(nil, models.Finding{Code: models.NeverInspected, Urgency: models.DoNow, Since: since,
			Title: "never measured", Evidence: []models.Evidence{{Text: "in the record since " + c.date(since) + ", no depths read"}},
			FirstJob: "Walk around it and read every wheel once."})
		return
	}
	if d, ok := c.dueAfter(*c.State.LastInspection, 0, c.Policy.InspectDays); ok {
		c.overdue(nil, d, models.Finding{Code: models.InspectionOverdue, Evidence: []models.Evidence{c.lastDone("inspection", *c.State.LastInspection)},
			FirstJob: "Walk around it and read every wheel."}, "inspection", models.DoNow)
	}
	if c.State.LastPressure != nil && c.Policy.PressureDays > 0 {
		if d, ok := c.dueAfter(*c.State.LastPressure, 0, c.Policy.PressureDays); ok && !d.at.After(c.Now) {
			c.overdue(nil, d, models.Finding{Code: models.PressureOverdue, Evidence: []models.Evidence{c.lastDone("pressure check", *c.State.LastPressure)},
				FirstJob: "Check the pressures cold.", Safety: "Treat 80 % of the target or less as run flat."}, "pressure check", models.Plan)
		} else if ok {
			c.flipsAt(d.at)
		}
	}
}

func (c *checker) rotated() {
	from := c.State.LastRotation
	for _, t := range c.Tires { // tires fitted since count as rotated
		if p := t.State.PlacedAt; p != nil && !t.State.Position.IsSpare() && (from == nil || p.At.After(from.At)) {
			from = p
		}
	}
	if from == nil {
		return
	}
	if d, ok := c.dueAfter(*from, c.Policy.RotateKM, c.Policy.RotateDays); ok {
		c.overdue(nil, d, models.Finding{Code: models.RotationOverdue, Evidence: []models.Evidence{c.lastDone("rotation or fitting", *from)},
			FirstJob: "Rotate by the pattern for its axles; directional tires stay on their side.", Safety: cautionWheelOff}, "rotation", models.Plan)
	}
}

func (c *checker) aligned() {
	if c.State.LastAlignment == nil {
		return // a fleet that records no alignments is not told of them
	}
	if d, ok := c.dueAfter(*c.State.LastAlignment, c.Policy.AlignKM, c.Policy.AlignDays); ok {
		c.overdue(nil, d, models.Finding{Code: models.AlignmentOverdue, Evidence: []models.Evidence{c.lastDone("alignment", *c.State.LastAlignment)},
			FirstJob: "Have all axles aligned."}, "alignment", models.Plan)
	}
}

func (c *checker) retorqued() {
	from := c.State.RetorqueFrom
	if from == nil || c.Policy.RetorqueKM == 0 {
		return
	}
	d, ok := c.dueAfter(*from, c.Policy.RetorqueKM, c.Policy.RetorqueDays)
	if !ok {
		return
	}
	torque := "the maker's torque"
	if c.Vehicle.TorqueNM > 0 {
		torque = fmt.Sprintf("%.0f N m", c.Vehicle.TorqueNM)
	}
	c.overdue(nil, d, models.Finding{Code: models.RetorqueDue, Evidence: []models.Evidence{c.lastDone("work with wheels off", *from)},
		FirstJob: "Check the wheel nuts with a torque wrench to " + torque + ", without slackening first.",
		Safety:   "A wheel that comes off kills. Clean faces, nuts run on by hand, star order, torque wrench, no impact gun for the last turn."},
		"re-torque of the wheel nuts", models.DoNow)
}

// balance checks the assembly: fitted and not balanced, over its limit, due again.
func (c *checker) balance(t models.TireWithState) {
	p := t.State.Position
	b := t.State.Balance
	if since := t.State.UnbalancedSince; since != nil {
		f := models.Finding{Code: models.NotBalanced, Urgency: models.Plan, Since: since.At,
			Title:    fmt.Sprintf("tire at %s fitted or repaired and not balanced since", p),
			Evidence: []models.Evidence{{Text: "wheel off its tire or newly fitted on " + c.date(since.At)}},
			FirstJob: "Balance the assembly at " + string(p) + ".", Safety: "Hood down, eye protection, stones and mud out before the spin."}
		if b != nil && !b.WithinLimit && !b.At.Before(since.At) {
			f.Code, f.Title = models.BalanceOverLimit, fmt.Sprintf("balance at %s is still over its limit (%s)", p, b.Limit)
			f.Evidence = []models.Evidence{{Text: fmt.Sprintf("job of %s asked for %s", c.date(b.At), units.FormatMass(b.Demand, c.Depot.Units.Mass))}}
			f.FirstJob = "Do not add weight: remount, check the bead seat and the run-out, then balance again."
		}
		c.add(&t, f)
		return
	}
	if b == nil || c.Vehicle.Class.Heavy() && !c.Vehicle.AxleAt(p).Steered {
		return // on heavy drive and trailer axles balance is checked on complaint, not by interval (common practice, no source)
	}
	if d, ok := c.dueAfter(b.Point, c.Policy.RebalanceKM, c.Policy.RebalanceDays); ok {
		c.overdue(&t, d, models.Finding{Code: models.RebalanceOverdue, Evidence: []models.Evidence{c.lastDone("balance", b.Point)},
			FirstJob: "Balance the assembly at " + string(p) + ".", Safety: "Hood down, eye protection, stones and mud out before the spin."},
			"balance at "+string(p), models.Plan)
	}
}

func words(s string) string {
	if s == "" {
		return "not said"
	}
	return s
}
