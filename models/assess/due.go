package assess

import (
	"fmt"
	"time"

	"rimledger/models"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// due is when work that was done at some point comes due again.
type due struct {
	at        time.Time
	odometer  *units.Distance // where a known distance decides
	why       string
	estimated bool         // at rests on use per day or on an estimated odometer
	limit     units.Length // depth that is reached; 0: not about depth
	years     int          // age that is reached; 0: not about age
}

// dueAfter returns when work that was last done at from is due again: the first
// of distance and time, as far as they are set; false if neither is. A vehicle
// without an odometer goes by time alone where a time is set.
func (c *checker) dueAfter(from models.Point, km, dayCount int) (due, bool) {
	var d due
	timed := dayCount > 0
	if timed {
		d = due{at: from.At.In(c.Zone).AddDate(0, 0, dayCount), why: fmt.Sprintf("every %d days", dayCount)}
	}
	if km <= 0 || timed && c.Vehicle.NoOdometer {
		return d, timed
	}

	byWay := c.dueByDistance(from, km)
	byWay.at = instant(byWay.at)
	if !timed || byWay.at.Before(d.at) {
		return byWay, true
	}

	return d, true
}

// dueByDistance returns when so many km after from are covered: between two
// known odometers by share, past the last one by use per day, and without
// known odometers by use per day alone.
func (c *checker) dueByDistance(from models.Point, km int) due {
	way := units.Distance(km) * units.Kilometre
	d := due{why: "every " + units.MarkDistance(way), estimated: true}

	last := c.State.Odometer
	if !from.Odometer.Known || !last.Known || last.Value < from.Odometer.Value || c.State.OdometerAt.Before(from.At) {
		d.at = from.At.Add(days(way.Kilometres() / c.perDay()))
		d.why += ", by usual use per day: the odometer is not known"
		return d
	}

	at := from.Odometer.Value + way
	d.odometer = &at
	if last.Value < at {
		d.at = c.State.OdometerAt.Add(days((at - last.Value).Kilometres() / c.perDay()))
		return d
	}

	share := way.Kilometres() / (last.Value - from.Odometer.Value).Kilometres()
	d.at = from.At.Add(time.Duration(share * float64(c.State.OdometerAt.Sub(from.At))))
	d.estimated = from.Odometer.Estimated || last.Estimated
	return d
}

// perDay is the distance in km that the vehicle covers a day, never below a
// tenth: one that stands still comes due by time.
func (c *checker) perDay() float64 {
	if c.State.Use.KMPerDay <= 0 {
		return wear.DefaultUse(string(c.Vehicle.Class))
	}
	return max(c.State.Use.KMPerDay, 0.1)
}

// shows reports whether d is near enough to be shown, and notes when it will be.
func (c *checker) shows(d due) bool {
	ahead := d.at.AddDate(0, 0, -c.Policy.DueDays)
	c.flipsAt(d.at)
	c.flipsAt(ahead)
	return !ahead.After(c.Now)
}

// overdue adds f as due or overdue with d, which shows. late is the urgency
// once it is overdue.
func (c *checker) overdue(p *place, d due, f models.Finding, what string, late models.Urgency) {
	f.DueAt, f.DueOdometer, f.Estimated = &d.at, d.odometer, d.estimated

	f.Evidence = append(f.Evidence, policyLine("%s", d.why))
	if d.odometer != nil {
		f.Evidence = append(
			f.Evidence,
			line(
				"due at %s, odometer last %s on %s",
				units.MarkDistance(*d.odometer),
				units.MarkDistance(c.State.Odometer.Value),
				c.date(c.State.OdometerAt),
			),
		)
	}

	mark := ""
	if d.estimated {
		mark = " (estimated)"
	}

	if d.at.After(c.Now) {
		f.Urgency, f.Since = models.Plan, d.at.AddDate(0, 0, -c.Policy.DueDays)
		f.Title = fmt.Sprintf("%s due on %s%s", what, c.date(d.at), mark)
	} else {
		f.Urgency, f.Since = late, d.at
		f.Title = fmt.Sprintf("%s overdue since %s%s", what, c.date(d.at), mark)
	}

	c.add(p, f)
}

// lastDone is the evidence of when work was last done.
func (c *checker) lastDone(what string, p models.Point) models.Evidence {
	s := fmt.Sprintf("last %s on %s", what, c.date(p.At))
	if p.Odometer.Known {
		s += " at " + units.MarkDistance(p.Odometer.Value)
	} else {
		s += ", odometer not known"
	}
	return line("%s", s)
}

// inspected reports a vehicle that was never or long not measured, and
// pressures that were long not taken.
func (c *checker) inspected() {
	begin := models.Point{At: c.Vehicle.CreatedAt}

	last := c.State.LastInspection
	if last == nil {
		f := models.Finding{Code: models.NeverInspected, Urgency: models.DoNow, Since: begin.At,
			Title:    "never measured",
			Evidence: []models.Evidence{line("in the record since %s, no depths read", c.date(begin.At))},
			FirstJob: "Walk around it and read every wheel once.", Safety: "Damage that takes a tire off the road is not known until somebody has looked."}
		c.add(nil, f)

		c.list(
			nil,
			models.NeverInspected,
			due{at: begin.At, why: "in the record since then, no depths read"},
			"first inspection",
		)

		return
	}

	if d, ok := c.dueAfter(*last, 0, c.Policy.InspectDays); ok &&
		c.comes(nil, models.InspectionOverdue, d, "inspection") {
		c.overdue(
			nil,
			d,
			models.Finding{Code: models.InspectionOverdue, Evidence: []models.Evidence{c.lastDone("inspection", *last)},
				FirstJob: "Walk around it and read every wheel."},
			"inspection",
			models.DoNow,
		)
	}

	f := models.Finding{Code: models.PressureOverdue, FirstJob: "Check the pressures cold.",
		Safety: fmt.Sprintf(
			"Treat %d%% of the target or less as run flat. %s",
			c.Policy.RunFlatPercent,
			cautionInflate,
		)}

	from := begin
	if p := c.State.LastPressure; p != nil {
		from, f.Evidence = *p, []models.Evidence{c.lastDone("pressure check", *p)}
	} else {
		f.Evidence = []models.Evidence{line("in the record since %s, no pressure taken", c.date(begin.At))}
	}

	d, ok := c.dueAfter(from, 0, c.Policy.PressureDays)
	if !ok {
		return
	}
	c.list(nil, models.PressureOverdue, d, "pressure check")
	c.flipsAt(d.at)

	if !d.at.After(c.Now) { // so short an interval is not announced ahead
		c.overdue(nil, d, f, "pressure check", models.Plan)
	}
}

// notRead reports a tire that was left out when its vehicle was inspected.
func (c *checker) notRead(p *place) {
	visit := c.State.LastInspection
	if p.spare || visit == nil || p.State.PlacedAt == nil || c.Policy.InspectDays <= 0 {
		return
	}

	f := models.Finding{
		Urgency:  models.Plan,
		FirstJob: fmt.Sprintf("Read %s at the next visit; inner wheels need a long gauge or the outer off.", p.at),
	}

	switch {
	case p.read == nil && p.State.PlacedAt.At.Before(visit.At):
		f.Code, f.Since = models.NeverInspected, visit.At
		f.Title = fmt.Sprintf("%s was never measured", p.at)
		f.Evidence = []models.Evidence{
			line("the vehicle was inspected on %s without a depth at %s", c.date(visit.At), p.at),
		}
	case p.read != nil && p.read.At.Before(visit.At):
		late := p.read.At.In(c.Zone).AddDate(0, 0, c.Policy.InspectDays)
		c.list(p, models.InspectionOverdue, due{at: late, why: "left out of the last inspection"}, "inspection")
		c.flipsAt(late)
		if late.After(c.Now) {
			return
		}
		f.Code, f.Since, f.DueAt = models.InspectionOverdue, late, &late

		f.Title = fmt.Sprintf("%s left out of the last inspections, read last on %s", p.at, c.date(p.read.At))
		f.Evidence = []models.Evidence{
			c.thinnest(p),
			line("the vehicle was inspected on %s", c.date(visit.At)),
			policyLine("every %d days", c.Policy.InspectDays),
		}
	default:
		return
	}

	c.add(p, f)
}

// rotated reports a rotation that is due. A tire fitted by itself does not
// start the interval anew; all of them together do.
func (c *checker) rotated() {
	from, what := c.State.LastRotation, "rotation"
	var oldest *models.Point
	for _, p := range c.places {
		if at := p.State.PlacedAt; !p.spare && at != nil && (oldest == nil || at.At.Before(oldest.At)) {
			oldest = at
		}
	}

	if oldest != nil && (from == nil || oldest.At.After(from.At)) {
		from, what = oldest, "move of the tire that is longest in its place"
	}
	if from == nil {
		return
	}

	if d, ok := c.dueAfter(*from, c.Policy.RotateKM, c.Policy.RotateDays); ok &&
		c.comes(nil, models.RotationOverdue, d, "rotation") {
		c.overdue(
			nil,
			d,
			models.Finding{Code: models.RotationOverdue, Evidence: []models.Evidence{c.lastDone(what, *from)},
				FirstJob: "Rotate by the pattern for its axles; directional tires stay on their side.", Safety: cautionWheels},
			"rotation",
			models.Plan,
		)
	}
}

// aligned reports an alignment that is due. A fleet that records no alignments
// is not told of them.
func (c *checker) aligned() {
	last := c.State.LastAlignment
	if last == nil {
		return
	}

	if d, ok := c.dueAfter(*last, c.Policy.AlignKM, c.Policy.AlignDays); ok &&
		c.comes(nil, models.AlignmentOverdue, d, "alignment") {
		c.overdue(
			nil,
			d,
			models.Finding{Code: models.AlignmentOverdue, Evidence: []models.Evidence{c.lastDone("alignment", *last)},
				FirstJob: "Have all axles aligned; looseness and pressures first."},
			"alignment",
			models.Plan,
		)
	}
}

// retorqued reports wheel nuts to check after wheels were off. The window is
// from half the policy's distance on; days stand in where no odometer says it.
func (c *checker) retorqued() {
	from := c.State.RetorqueFrom
	km, dayCount := c.Policy.RetorqueKM, c.Policy.RetorqueDays
	if from == nil {
		return
	}

	if from.Odometer.Known && !c.Vehicle.NoOdometer && km > 0 {
		dayCount = 0
	} else if dayCount > 0 {
		km = 0
	}
	d, ok := c.dueAfter(*from, km, dayCount)
	if !ok {
		return
	}

	d.why = "once, " + units.MarkDistance(
		units.Distance(km/2)*units.Kilometre,
	) + " to " + kilometres(
		km,
	) + " after wheels were off"
	if km == 0 {
		d.why = fmt.Sprintf("once, within %d days after wheels were off: no odometer says the distance", dayCount)
		d.estimated = true
	}

	if !c.comes(nil, models.RetorqueDue, d, "re-torque of the wheel nuts") {
		return
	}

	torque := "the maker's torque"
	if c.Vehicle.TorqueNM > 0 {
		torque = units.MarkTorque(units.Torque(c.Vehicle.TorqueNM))
	}

	c.overdue(nil, d, models.Finding{Code: models.RetorqueDue,
		Evidence: []models.Evidence{
			c.lastDone("work with wheels off", *from),
			practice(
				"industry re-torque practice, read 2026-11",
				"nuts settle in the first %s to %s",
				kilometres(80),
				kilometres(160),
			),
		},
		FirstJob: "Check the wheel nuts with a torque wrench to " + torque + ".", Safety: cautionNuts}, "re-torque of the wheel nuts", models.DoNow)
}
