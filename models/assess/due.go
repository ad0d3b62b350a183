package assess

import (
	"fmt"
	"time"

	"rimledger/models"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// due is when a job or a limit comes due.
type due struct {
	at        time.Time
	odometer  *units.Distance // where a known distance decides
	why       string          // the interval, or what the date rests on
	estimated bool            // at rests on use per day or on an estimated odometer
	limit     units.Length    // depth that is reached; 0: not about depth
	years     int             // age that is reached; 0: not about age
}

// dueAfter returns when work that was last done at from is due again: the first
// of distance and time, as far as they are set; false if neither is. A vehicle
// without an odometer goes by time alone where a time is set.
func (c *checker) dueAfter(from models.Point, km float64, dayCount int) (due, bool) {
	var d due
	timed := dayCount > 0
	if timed {
		d = due{at: from.At.In(c.Zone).AddDate(0, 0, dayCount), why: fmt.Sprintf("every %d days", dayCount)}
	}
	if km <= 0 || timed && c.Vehicle.NoOdometer {
		return d, timed
	}

	byDistance := c.dueByDistance(from, km)
	byDistance.at = instant(byDistance.at)
	if !timed || byDistance.at.Before(d.at) {
		return byDistance, true
	}
	return d, true
}

// dueByDistance returns when the vehicle has covered km since from: between two known
// odometers by linear interpolation, past the last one by use per day, and without
// known odometers by use per day alone.
func (c *checker) dueByDistance(from models.Point, km float64) due {
	interval := units.DistanceFromKilometres(km)
	d := due{why: "every " + units.MarkDistance(interval), estimated: true}

	last := c.State.Odometer
	if !from.Odometer.Known || !last.Known || last.Value < from.Odometer.Value || c.State.OdometerAt.Before(from.At) {
		d.at = from.At.Add(days(interval.Kilometres() / c.perDay()))
		d.why += ", by usual use per day: the odometer is not known"
		return d
	}

	// The odometer at which it is due is known; only its date may lie ahead.
	at := from.Odometer.Value + interval
	d.odometer = &at
	if last.Value < at {
		d.at = c.State.OdometerAt.Add(days((at - last.Value).Kilometres() / c.perDay()))
		return d
	}

	// Both odometers are known, so the date lies between the two readings.
	share := interval.Kilometres() / (last.Value - from.Odometer.Value).Kilometres()
	d.at = from.At.Add(time.Duration(share * float64(c.State.OdometerAt.Sub(from.At))))
	d.estimated = from.Odometer.Estimated || last.Estimated
	return d
}

// perDay returns the distance in km that the vehicle covers a day, at least 0.1 so that
// the date of a vehicle that does not move stays finite.
func (c *checker) perDay() float64 {
	if c.State.Use.KMPerDay <= 0 {
		return wear.DefaultUse(string(c.Vehicle.Class))
	}
	return max(c.State.Use.KMPerDay, 0.1)
}

// dueSoon reports whether d is near enough to be shown, and schedules a recheck for
// when it will be.
func (c *checker) dueSoon(d due) bool {
	ahead := d.at.AddDate(0, 0, -c.Policy.DueDays)
	c.scheduleRecheck(d.at)
	c.scheduleRecheck(ahead)
	return !ahead.After(c.Now)
}

// addDue adds f as due or overdue at d, which is due soon. late is the urgency once it
// is overdue; what names the work.
func (c *checker) addDue(p *place, d due, f models.Finding, what string, late models.Urgency) {
	f.DueAt, f.DueOdometer, f.Estimated = &d.at, d.odometer, d.estimated

	f.Evidence = append(f.Evidence, policyLine("%s", d.why))
	if d.odometer != nil {
		f.Evidence = append(f.Evidence, line("due at %s, odometer last %s on %s", units.MarkDistance(*d.odometer),
			units.MarkDistance(c.State.Odometer.Value), c.date(c.State.OdometerAt)))
	}

	suffix := ""
	if d.estimated {
		suffix = " (estimated)"
	}

	// The finding begins when it first could be shown, not when somebody looked.
	if d.at.After(c.Now) {
		f.Urgency, f.Since = models.Plan, d.at.AddDate(0, 0, -c.Policy.DueDays)
		f.Title = fmt.Sprintf("%s due on %s%s", what, c.date(d.at), suffix)
	} else {
		f.Urgency, f.Since = late, d.at
		f.Title = fmt.Sprintf("%s overdue since %s%s", what, c.date(d.at), suffix)
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

// inspected reports a vehicle that was never measured or is due for an inspection. One
// that was never measured is not reported for its pressures as well.
func (c *checker) inspected() {
	last := c.State.LastInspection
	if last == nil {
		begin := c.Vehicle.CreatedAt
		c.add(nil, models.Finding{
			Code:     models.NeverInspected,
			Urgency:  models.DoNow,
			Since:    begin,
			Title:    "never measured",
			Evidence: []models.Evidence{line("in the record since %s, no depths read", c.date(begin))},
			FirstJob: "Walk around it and read every wheel once.",
			Safety:   "Damage that takes a tire off the road is not known until somebody has looked.",
		})

		d := due{at: begin, why: "in the record since then, no depths read"}
		c.listAhead(nil, models.NeverInspected, d, "first inspection")
		return
	}

	d, ok := c.dueAfter(*last, 0, c.Policy.InspectDays)
	if ok && c.listDue(nil, models.InspectionOverdue, d, "inspection") {
		f := models.Finding{
			Code:     models.InspectionOverdue,
			Evidence: []models.Evidence{c.lastDone("inspection", *last)},
			FirstJob: "Walk around it and read every wheel.",
		}
		c.addDue(nil, d, f, "inspection", models.DoNow)
	}

	c.pressuresTaken()
}

// pressuresTaken reports that a check of the pressures is overdue.
func (c *checker) pressuresTaken() {
	f := models.Finding{
		Code:     models.PressureOverdue,
		FirstJob: "Check the pressures cold.",
		Safety: fmt.Sprintf("Treat %d%% of the target or less as run flat. %s", c.Policy.RunFlatPercent,
			cautionInflate),
	}

	from := models.Point{At: c.Vehicle.CreatedAt}
	if p := c.State.LastPressure; p != nil {
		from, f.Evidence = *p, []models.Evidence{c.lastDone("pressure check", *p)}
	} else {
		f.Evidence = []models.Evidence{line("in the record since %s, no pressure taken", c.date(from.At))}
	}

	d, ok := c.dueAfter(from, 0, c.Policy.PressureDays)
	if !ok {
		return
	}

	// The interval is too short to announce its end ahead.
	c.listAhead(nil, models.PressureOverdue, d, "pressure check")
	c.scheduleRecheck(d.at)
	if !d.at.After(c.Now) {
		c.addDue(nil, d, f, "pressure check", models.Plan)
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

	// A tire without a reading at all is reported at once, one that was left out after the interval.
	switch {
	case p.read == nil && p.State.PlacedAt.At.Before(visit.At):
		f.Code, f.Since = models.NeverInspected, visit.At
		f.Title = fmt.Sprintf("%s was never measured", p.at)
		f.Evidence = []models.Evidence{
			line("the vehicle was inspected on %s without a depth at %s", c.date(visit.At), p.at),
		}
	case p.read != nil && p.read.At.Before(visit.At):
		late := p.read.At.In(c.Zone).AddDate(0, 0, c.Policy.InspectDays)
		c.listAhead(p, models.InspectionOverdue, due{at: late, why: "left out of the last inspection"}, "inspection")
		c.scheduleRecheck(late)
		if late.After(c.Now) {
			return
		}

		f.Code, f.Since, f.DueAt = models.InspectionOverdue, late, &late
		f.Title = fmt.Sprintf("%s left out of the last inspections, read last on %s", p.at, c.date(p.read.At))
		f.Evidence = []models.Evidence{
			c.thinnestLine(p),
			line("the vehicle was inspected on %s", c.date(visit.At)),
			policyLine("every %d days", c.Policy.InspectDays),
		}
	default:
		return
	}

	c.add(p, f)
}

// rotated reports a rotation that is due. One tire that is fitted does not start the
// interval anew; when every tire has moved since the last rotation, the move of the
// one that is longest in its place does.
func (c *checker) rotated() {
	from, what := c.State.LastRotation, "rotation"

	var oldest *models.Point
	for _, p := range c.places {
		if at := p.State.PlacedAt; !p.spare && at != nil && (oldest == nil || at.At.Before(oldest.At)) {
			oldest = at
		}
	}

	// When every tire has moved since, the vehicle is as good as rotated.
	if oldest != nil && (from == nil || oldest.At.After(from.At)) {
		from, what = oldest, "move of the tire that is longest in its place"
	}
	if from == nil {
		return
	}

	d, ok := c.dueAfter(*from, c.Policy.RotateKM, c.Policy.RotateDays)
	if ok && c.listDue(nil, models.RotationOverdue, d, "rotation") {
		f := models.Finding{
			Code:     models.RotationOverdue,
			Evidence: []models.Evidence{c.lastDone(what, *from)},
			FirstJob: "Rotate by the pattern for its axles; directional tires stay on their side.",
			Safety:   cautionWheels,
		}
		c.addDue(nil, d, f, "rotation", models.Plan)
	}
}

// aligned reports an alignment that is due. It reports none for a vehicle whose
// alignments are not recorded.
func (c *checker) aligned() {
	last := c.State.LastAlignment
	if last == nil {
		return
	}

	d, ok := c.dueAfter(*last, c.Policy.AlignKM, c.Policy.AlignDays)
	if ok && c.listDue(nil, models.AlignmentOverdue, d, "alignment") {
		f := models.Finding{
			Code:     models.AlignmentOverdue,
			Evidence: []models.Evidence{c.lastDone("alignment", *last)},
			FirstJob: "Have all axles aligned; looseness and pressures first.",
		}
		c.addDue(nil, d, f, "alignment", models.Plan)
	}
}

// settling is the evidence of how far nuts settle, in round numbers of the depot's unit.
func (c *checker) settling() models.Evidence {
	from, to := 80*units.Kilometre, 160*units.Kilometre
	if c.Depot.Units.Distance == units.Mi {
		from, to = 50*units.Mile, 100*units.Mile
	}
	return sourced("industry re-torque practice, read 2026-11", "nuts settle in the first %s to %s",
		units.MarkDistance(from), units.MarkDistance(to))
}

// retorqued reports wheel nuts to check after wheels were off. The text asks for the
// check between half the policy's distance and all of it; the policy's days apply
// where no odometer is known.
func (c *checker) retorqued() {
	from := c.State.RetorqueFrom
	km, dayCount := c.Policy.RetorqueKM, c.Policy.RetorqueDays
	if from == nil {
		return
	}

	// One of the two: distance settles the nuts, days only estimate the distance.
	if from.Odometer.Known && !c.Vehicle.NoOdometer && km > 0 {
		dayCount = 0
	} else if dayCount > 0 {
		km = 0
	}
	d, ok := c.dueAfter(*from, km, dayCount)
	if !ok {
		return
	}

	d.why = fmt.Sprintf("once, %s to %s after wheels were off", kilometres(km/2), kilometres(km))
	if km == 0 {
		d.why = fmt.Sprintf("once, within %d days after wheels were off: no odometer says the distance", dayCount)
		d.estimated = true
	}

	// A text with the policy's numbers, since the mechanic works by distance.
	if !c.listDue(nil, models.RetorqueDue, d, "re-torque of the wheel nuts") {
		return
	}

	torque := "the maker's torque"
	if c.Vehicle.TorqueNM > 0 {
		torque = units.MarkTorque(units.Torque(c.Vehicle.TorqueNM))
	}

	f := models.Finding{
		Code: models.RetorqueDue,
		Evidence: []models.Evidence{
			c.lastDone("work with wheels off", *from),
			c.settling(),
		},
		FirstJob: "Check the wheel nuts with a torque wrench to " + torque + ".",
		Safety:   cautionNuts,
	}
	c.addDue(nil, d, f, "re-torque of the wheel nuts", models.DoNow)
}
