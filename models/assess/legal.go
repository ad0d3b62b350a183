package assess

import (
	"fmt"
	"slices"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/units"
)

// law has the rules for tires at one sort of place.
type law struct {
	today    []legal.Rule // in force today, strictest first, the depot's own among them
	seasonal []legal.Rule // in a part of the year only, in force today or not
	age      legal.Other  // the strictest limit of age; a limit of 0: none
	winter   []legal.Winter
}

// strictest returns the largest minimum that applies in all conditions; 0: none.
func (l law) strictest() units.Length {
	for _, r := range l.today {
		if binding(r) {
			return r.Min
		}
	}
	return 0
}

// binding reports whether a rule must be kept in all conditions: it is no advice, and not
// only for some roads or weather.
func binding(r legal.Rule) bool { return r.Consequence != legal.Advisory && !r.Situational }

// ownID is the ID that legal.Own gives to a depot's own minimum.
const ownID = "own"

// lawAt returns the rules for p. A spare is judged as on an axle that is neither steered
// nor driven.
func (c *checker) lawAt(p *place) law {
	where := c.legalPlace(p)
	if l, known := c.laws[where]; known {
		return l
	}

	v := c.legalVehicle()
	l := law{
		today:    legal.For(c.Depot.Jurisdiction, v, where, c.today()),
		seasonal: legal.Seasonal(c.Depot.Jurisdiction, v, where),
		winter:   legal.WinterFor(c.Depot.Jurisdiction, v, where),
	}

	// A depot may be stricter than the law.
	for _, o := range c.Depot.OwnRules {
		if (o.Class == "" || o.Class == c.Vehicle.Class) && (o.Role == "" || o.Role == p.axle.Role()) {
			l.today = append(l.today, legal.Own(o.MinDepth.Value,
				units.Style{Set: c.Depot.Units}.WriteTypedDepth(o.MinDepth.Value, o.MinDepth.Text), o.Reason))
		}
	}

	slices.SortStableFunc(l.today, func(a, b legal.Rule) int { return int(b.Min - a.Min) })

	// Of several limits of age the lowest binds.
	for _, o := range legal.OtherFor(c.Depot.Jurisdiction, legal.AgeYears, v, where) {
		if l.age.Limit == 0 || o.Limit < l.age.Limit {
			l.age = o
		}
	}

	c.laws[where] = l
	return l
}

// legalVehicle returns the vehicle as the rules classify it.
func (c *checker) legalVehicle() legal.Vehicle {
	return legal.Vehicle{Class: string(c.Vehicle.Class), MassKG: c.Vehicle.MaxMassKG, Seats: c.Vehicle.Seats}
}

// legalPlace returns the place as the rules classify it.
func (c *checker) legalPlace(p *place) legal.Place {
	size, known := c.size(p)
	return legal.Place{
		Steered: p.axle.Steered,
		Driven:  p.axle.Driven,
		Dual:    p.at.IsDual(),
		Winter:  p.Tire.Winter,
		Bias:    known && size.Construction != 'R',
	}
}

// other returns the rules of one kind for p.
func (c *checker) other(kind legal.OtherKind, p *place) []legal.Other {
	return legal.OtherFor(c.Depot.Jurisdiction, kind, c.legalVehicle(), c.legalPlace(p))
}

// today returns the day in the depot's zone.
func (c *checker) today() legal.MonthDay {
	d := c.Now.In(c.Zone)
	return legal.MonthDay{Year: d.Year(), Month: int(d.Month()), Day: d.Day()}
}

// legal compares the newest depths with the rules in force, the depot's own among them,
// and with those of the season ahead. It reports the gravest result: below a rule, then
// below its number without enough readings to decide, then exactly at it.
func (c *checker) legal(p *place) {
	l := c.lawAt(p)
	if least := l.strictest(); least > 0 && !p.spare {
		c.minimum[p.at] = least
	}

	// level: someone saw the tread level with the wear indicator.
	_, level := p.observed(models.ObsWearBar)
	if p.read == nil && !level {
		c.seasons(l.seasonal, nil)
		return
	}

	v := c.verdicts(p, l.today, level)
	switch {
	case len(v.broken) > 0:
		c.add(p, c.belowLegal(p, v.broken, level))

	case len(v.undecided) > 0:
		r := v.undecided[0]
		f := c.nearLegal(p, v.undecided, models.DoNow)
		f.Title = fmt.Sprintf("%s at %s, below the number %s; more readings decide", typed(p.least), p.at, minimum(r))
		f.FirstJob = fmt.Sprintf("Read %s again, more grooves and places around the tire. The rule: %s.", p.at, r.Text)
		f.Safety = cautionPark
		c.add(p, f)

	case len(v.atNumber) > 0:
		f := c.nearLegal(p, v.atNumber, models.DoNow)
		f.Title = fmt.Sprintf("%s at %s, at the legal %s", typed(p.least), p.at, minimum(v.atNumber[0]))
		if v.atNumber[0].AtIndicatorFails {
			f.FirstJob = fmt.Sprintf("Look at the wear indicators at %s: level with them fails. "+
				"Fit another tire before the next trip.", p.at)
		}
		c.add(p, f)

	case len(v.indicator) > 0:
		c.add(p, c.indicatorSeen(p, v.indicator))

	case level:
		c.add(p, c.levelWithBar(p))
	}

	// A tire that is off the road anyway will not meet such conditions.
	if len(v.conditional) > 0 && len(v.broken) == 0 {
		r := v.conditional[0]
		f := c.nearLegal(p, v.conditional, models.Plan)
		f.Title = fmt.Sprintf("%s at %s, below %s that applies in some road or winter conditions", typed(p.least), p.at,
			minimum(r))
		f.FirstJob = fmt.Sprintf("Plan a tire with more tread at %s before the vehicle meets those conditions.", p.at)
		c.add(p, f)
	}

	c.seasons(l.seasonal, p)
}

// verdicts sorts the rules that a tire breaks or may break, each list strictest first.
type verdicts struct {
	broken      []legal.Rule // the law before the depot's own
	undecided   []legal.Rule // below the number, but the rule's band was not read everywhere
	atNumber    []legal.Rule // exactly at the number, which passes
	indicator   []legal.Rule // tread seen level with the indicator, where the rule wants more places
	conditional []legal.Rule // broken only in some road or winter conditions
}

// isAt reports whether the shallowest depth read at p is exactly limit.
func (p *place) isAt(limit units.Length) bool { return p.read != nil && p.least.Value == limit }

// verdicts judges p by rules. level is set if the tread was seen level with the wear
// indicator.
func (c *checker) verdicts(p *place, rules []legal.Rule, level bool) verdicts {
	var v verdicts
	grid := gridOf(p.read)
	for _, r := range rules {
		j := r.Judge(grid)
		seen := level && r.AtIndicatorFails // one look; a rule about several places needs more
		fails := j.Outcome == legal.Fails || seen && r.Sampling == legal.AnyPoint
		switch {
		case fails && binding(r):
			v.broken = append(v.broken, r)
		case fails:
			v.conditional = append(v.conditional, r)
		case j.Outcome == legal.BelowNumber && binding(r):
			v.undecided = append(v.undecided, r)
		case seen && binding(r):
			v.indicator = append(v.indicator, r)
		case j.Outcome == legal.Passes && p.isAt(r.Min) && binding(r):
			v.atNumber = append(v.atNumber, r)
		}
	}

	// The finding names the first: the law must not be hidden by a larger number that
	// the depot has chosen.
	slices.SortStableFunc(v.broken, func(a, b legal.Rule) int { return orderOfForce(a) - orderOfForce(b) })
	return v
}

// orderOfForce ranks rules, lowest first: other law, then limits that put a vehicle out
// of service, then the depot's own.
func orderOfForce(r legal.Rule) int {
	switch {
	case r.ID == ownID:
		return 2
	case r.Consequence == legal.OutOfService:
		return 1
	}
	return 0
}

// belowLegal is the finding of a tire that breaks rules, the first of which is named.
func (c *checker) belowLegal(p *place, broken []legal.Rule, level bool) models.Finding {
	r := broken[0]
	f := c.nearLegal(p, broken, models.OffTheRoad)
	f.Code = models.BelowLegal

	kind := "legal"
	if r.ID == ownID {
		kind = "depot's own"
	}

	// The first broken rule gives the title; the others are in the evidence.
	switch {
	case p.read != nil && p.least.Value < r.Min:
		f.Title = fmt.Sprintf("%s at %s, below the %s %s", typed(p.least), p.at, kind, minimum(r))
	case p.read != nil && p.least.Value == r.Min && r.EqualFails:
		f.Title = fmt.Sprintf("%s at %s, not above the %s %s", typed(p.least), p.at, kind, minimum(r))
	case level:
		f.Title = fmt.Sprintf("tread level with the wear indicator at %s, which the law does not allow", p.at)
	}

	f.FirstJob = fmt.Sprintf("Take the vehicle off the road and fit another tire at %s.", p.at)
	f.Safety = cautionPark + " " + cautionWheels
	if p.spare {
		f.Urgency, f.Safety = models.Plan, cautionWheels
		f.FirstJob = fmt.Sprintf("Do not fit the spare %s; replace it.", p.at)
	}

	return f
}

// indicatorSeen is the finding of a tread seen level with the wear indicator where the
// law forbids that at more grooves or places than one look shows.
func (c *checker) indicatorSeen(p *place, rules []legal.Rule) models.Finding {
	f := c.nearLegal(p, rules, models.DoNow)
	f.Title = fmt.Sprintf("tread level with the wear indicator at %s; more places decide", p.at)
	f.FirstJob = fmt.Sprintf("Look at the indicators of %s all around the tire. The rule: %s. "+
		"Fit another tire before the next trip.", p.at, rules[0].Text)
	f.Safety = cautionPark + " " + cautionWheels
	return f
}

// levelWithBar is the finding of a tread level with the wear indicator where no rule
// forbids that and the depths do not break one.
func (c *checker) levelWithBar(p *place) models.Finding {
	f := models.Finding{
		Code:    models.NearLegal,
		Urgency: models.DoNow,
		Since:   p.inspected.At,
		Title:   fmt.Sprintf("tread level with the wear indicator at %s", p.at),
		Evidence: []models.Evidence{
			sourced("makers' manuals, read 2026-11", "seen on %s%s; indicators commonly stand at 1/16 in (1.6 mm)",
				c.date(p.inspected.At), by(p.inspected.Person)),
		},
		FirstJob: fmt.Sprintf("Measure %s now, and fit another tire before the next trip.", p.at),
		Safety:   cautionWheels,
		Notice:   legal.Notice,
	}
	if p.spare {
		f.Urgency = models.Plan
	}
	return f
}

// nearLegal is the finding about a tire near rules, of which there is at least one; its
// callers set the title. A spare is never more urgent than plan.
func (c *checker) nearLegal(p *place, rules []legal.Rule, u models.Urgency) models.Finding {
	f := models.Finding{
		Code:     models.NearLegal,
		Urgency:  u,
		FirstJob: fmt.Sprintf("Fit another tire at %s before the next trip.", p.at),
		Safety:   cautionWheels,
		Notice:   notice(rules[0]),
	}

	if p.read != nil {
		f.Since = p.read.At
		f.Evidence = append(f.Evidence, c.thinnestLine(p))
	} else {
		f.Since = p.inspected.At
		f.Evidence = append(f.Evidence, line("tread level with the wear indicator, seen on %s%s",
			c.date(p.inspected.At), by(p.inspected.Person)))
	}

	for _, r := range rules {
		f.Evidence = append(f.Evidence,
			models.Evidence{Text: fmt.Sprintf("limit %s, %s", minimum(r), r.Band), Source: citation(r)})
	}

	// A spare does not roll, so it can wait.
	if p.spare && u < models.Plan {
		f.Urgency = models.Plan
	}
	return f
}

// thinnestLine is the evidence of the shallowest depth of p's newest reading, and where
// on the tread it is.
func (c *checker) thinnestLine(p *place) models.Evidence {
	g, k := stationOf(p.read.Reading, p.least.Value)
	return line("thinnest reading %s on %s%s, groove %d of %d from outboard, station %d", typed(p.least),
		c.date(p.read.At), by(p.read.Person), g, len(p.read.Reading.Depths), k)
}

// stationOf returns the groove and station, from 1, of the first depth equal to d; zeros
// if there is none.
func stationOf(r models.Reading, d units.Length) (groove, station int) {
	for g, ds := range r.Depths {
		for k, x := range ds {
			if x != nil && x.Value == d {
				return g + 1, k + 1
			}
		}
	}
	return 0, 0
}

// seasons schedules rechecks for when seasonal rules begin and end, and reports that p
// will break one that begins soon. p is nil for a tire without a reading.
func (c *checker) seasons(rules []legal.Rule, p *place) {
	for _, r := range rules {
		// nextSeason also schedules the rechecks, so it is called for every rule.
		begins := c.nextSeason(*r.Season)
		soon := !begins.After(c.Now.Add(c.lookAhead()))
		if !soon || p == nil || p.read == nil || r.Check(gridOf(p.read)) != legal.Fails {
			continue
		}

		f := c.nearLegal(p, []legal.Rule{r}, models.Plan)
		f.Title = fmt.Sprintf("%s at %s, below %s that applies from %s", typed(p.least), p.at, minimum(r),
			c.date(begins))
		f.FirstJob = fmt.Sprintf("Plan a tire with more tread at %s before that day.", p.at)
		f.DueAt = &begins
		c.add(p, f)
	}
}

// gridOf returns the depths of a reading as the rules judge them; nil if m is nil.
func gridOf(m *models.Measured) legal.Grid {
	if m == nil {
		return nil
	}

	g := make(legal.Grid, len(m.Reading.Depths))
	for i, groove := range m.Reading.Depths {
		g[i] = make([]*units.Length, len(groove))
		for k, d := range groove {
			if d != nil {
				g[i][k] = &d.Value
			}
		}
	}

	return g
}

// citation returns where a rule is published, how sure its text is and when it was read.
func citation(r legal.Rule) string {
	if r.ID == ownID {
		return "own rule of the depot"
	}
	return fmt.Sprintf("%s, %s %s", r.Citation, r.Status.Words(), r.Read)
}

// notice returns the text that every finding about a rule shows.
func notice(r legal.Rule) string {
	if r.ID == ownID {
		return fmt.Sprintf("%s: %s. %s", r.MinText, r.Text, legal.Notice)
	}
	return r.Explain()
}
