package assess

import (
	"errors"
	"fmt"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/tiresize"
)

// age compares the date of manufacture with the limits of the law and of the policy,
// the stricter of which counts. The date is that of the casing; a week counts from its
// first day. Without a legible identification number the age is not known.
//
// A number whose end can be read in two ways is taken for the younger tire, which it is
// far more often; the finding says what else it could be.
func (c *checker) age(p *place) {
	if p.Tire.TIN == "" {
		return
	}

	// A number that cannot be read is no finding: most records have none at first.
	week, err := tiresize.ParseTIN(p.Tire.TIN, c.Now)
	if errors.Is(err, tiresize.ErrTINFuture) {
		c.add(p, c.ageUnknown(p, fmt.Sprintf("date of manufacture of the tire at %s is yet to come", p.at),
			line("identification number %s: %v", p.Tire.TIN, err)))
	}
	if err != nil {
		return
	}
	made, limit := c.madeAt(week), c.Policy.AgeLimitYears

	// The stricter of the policy's limit and the law's counts.
	law, bound := c.legalAge(p)
	if bound && (limit <= 0 || int(law.Limit) < limit) {
		limit = int(law.Limit)
	}

	watch := made.AddDate(c.Policy.AgeWatchYears, 0, 0)
	c.scheduleRecheck(watch)

	switch {
	case limit > 0 && c.ageLimit(p, week, limit, law, bound):
	case c.Policy.AgeWatchYears > 0 && !c.Now.Before(watch):
		c.add(p, models.Finding{
			Code:    models.AgeWatch,
			Urgency: models.Watch,
			Since:   watch,
			Title:   fmt.Sprintf("tire at %s is over %d years old", p.at, c.Policy.AgeWatchYears),
			Evidence: append(c.madeLines(p, week),
				sourced("policy; trade advice to inspect from 5 to 6 years, second-hand, read 2026-11",
					"watched from %d years", c.Policy.AgeWatchYears)),
			FirstJob: "Look for cracks at every inspection; plan its end.",
		})
	case week.Ambiguous:
		f := c.ageUnknown(p, fmt.Sprintf("tire at %s was made in %s, or in %s", p.at, week, week.Older()),
			c.madeLines(p, week)...)
		if bound { // the law's limit may be passed
			f.Urgency, f.Notice = models.Plan, law.Explain()
		}
		c.add(p, f)
	}
}

// ageUnknown is the finding of a tire whose number does not say for sure when it was made.
func (c *checker) ageUnknown(p *place, title string, evidence ...models.Evidence) models.Finding {
	f := models.Finding{
		Code:     models.AgeWatch,
		Urgency:  models.Watch,
		Since:    c.Vehicle.CreatedAt,
		Title:    title,
		Evidence: evidence,
		FirstJob: fmt.Sprintf("Read the number at %s again and write it in its groups: the last group is the date, "+
			"four digits, or three on a tire of before 2000.", p.at),
	}
	if p.State.PlacedAt != nil {
		f.Since = p.State.PlacedAt.At
	}
	return f
}

// ageLimit reports a tire that is over its limit in years, or will be within the
// policy's days; it returns false for one that is not. law counts only if bound is set.
func (c *checker) ageLimit(p *place, week tiresize.Week, limit int, law legal.Other, bound bool) bool {
	made := c.madeAt(week)
	ends := made.AddDate(limit, 0, 0)
	ahead := ends.AddDate(0, 0, -c.Policy.DueDays)

	// Time alone brings the limit near, so a recheck is due then.
	c.scheduleRecheck(ends)
	c.listAhead(p, models.AgeLimit, due{at: ends, why: "by the week of manufacture", years: limit}, "age limit")
	c.scheduleRecheck(ahead)
	if c.Now.Before(ahead) {
		return false
	}

	f := c.ageFinding(p, week, law, bound)
	f.Since, f.DueAt = ends, &ends
	f.Title = fmt.Sprintf("tire at %s is over its limit of %d years, made in %s", p.at, limit, week)
	if c.Now.Before(ends) {
		f.Since = ahead
		f.Title = fmt.Sprintf("tire at %s reaches its limit of %d years on %s", p.at, limit, c.date(ends))
	}

	// Some rules count a retread's years from the retreading, whose date is not in the
	// record: only a tire in its first life is over the law's limit for sure.
	if byLaw := made.AddDate(int(law.Limit), 0, 0); bound && !p.Tire.Retreaded() {
		c.scheduleRecheck(byLaw)
		if !c.Now.Before(byLaw) {
			f.Urgency, f.Safety = models.OffTheRoad, cautionPark+" "+cautionWheels
		}
	}

	c.add(p, f)
	return true
}

// ageFinding is the finding of a tire at its limit of age, with the urgency of a limit
// that is not the law's.
func (c *checker) ageFinding(p *place, week tiresize.Week, law legal.Other, bound bool) models.Finding {
	f := models.Finding{
		Code:     models.AgeLimit,
		Urgency:  models.Plan,
		FirstJob: fmt.Sprintf("Fit a younger tire at %s.", p.at),
		Safety:   cautionWheels,
		Evidence: c.madeLines(p, week),
	}

	if n := c.Policy.AgeLimitYears; n > 0 {
		f.Evidence = append(f.Evidence,
			sourced("policy; makers' advice (common practice)", "replace at %d years", n))
	}

	if bound {
		f.Notice = law.Explain()
		f.Evidence = append(f.Evidence, models.Evidence{Text: law.Text, Source: citation(law.Rule)})
	}

	return f
}

// legalAge returns the strictest rule on age in force at p; false if there is none.
// Rules on age do not apply to a spare.
func (c *checker) legalAge(p *place) (legal.Other, bool) {
	if p.spare {
		return legal.Other{}, false
	}
	age := c.lawAt(p).age
	return age, age.Limit > 0
}

// madeAt returns the earliest day on which the week of manufacture can begin: makers
// count weeks in more than one way, and the tire must not be taken for younger than
// it is. An old code does not give the decade: the tire is from 1999 or older.
func (c *checker) madeAt(w tiresize.Week) time.Time {
	if w.OldCode {
		return c.midnight(1999, time.December, 31)
	}
	return c.midnight(w.Year, time.January, 1+7*(w.Week-1))
}

// madeLines is the evidence of when a tire was made.
func (c *checker) madeLines(p *place, w tiresize.Week) []models.Evidence {
	s := fmt.Sprintf("identification number %s: made in %s", p.Tire.TIN, w)
	if p.Tire.Retreaded() {
		s += "; that is the casing, and some rules count from the retreading"
	}
	out := []models.Evidence{{Text: s, Source: c.guide(legal.DateCode, p).Cite()}}

	if w.Ambiguous {
		out = append(out, line("its last three digits could also be a code of before 2000: %s", w.Older()))
	}
	return out
}

// retread reports a retreaded or regrooved tire on the front of a bus.
func (c *checker) retread(p *place) {
	if c.Vehicle.Class != models.Bus || !p.axle.Steered || !p.Tire.Retreaded() && !p.Tire.Regrooved {
		return
	}

	f := models.Finding{
		Code:     models.RetreadBarred,
		Urgency:  models.Plan,
		Since:    c.Vehicle.CreatedAt,
		Title:    fmt.Sprintf("retreaded or regrooved tire at %s, the front of a bus", p.at),
		Evidence: []models.Evidence{line("tread life %d, regrooved %t", p.Tire.LifeIndex, p.Tire.Regrooved)},
		FirstJob: fmt.Sprintf("Move it to another axle and fit a new tire at %s.", p.at),
		Safety:   cautionWheels,
		Notice:   c.guide(legal.RetreadBusFront, p).Explain() + " " + legal.Notice,
	}
	if p.State.PlacedAt != nil {
		f.Since = p.State.PlacedAt.At
	}

	// Only a rule that was read makes it off the road; else it is general practice.
	for _, o := range c.other(legal.RetreadBarred, p) {
		f.Urgency, f.Safety, f.Notice = models.OffTheRoad, cautionPark+" "+cautionWheels, o.Explain()
		f.Evidence = append(f.Evidence, models.Evidence{Text: o.Text, Source: citation(o.Rule)})
	}

	c.add(p, f)
}
