package assess

import (
	"fmt"
	"slices"
	"strings"

	"rimledger/models"
	"rimledger/models/legal"
)

// damage reports damage that takes a tire or wheel off the road until somebody clears
// it, and the minor damage of the newest inspection.
func (c *checker) damage(p *place) {
	if len(p.State.Damage) > 0 {
		c.add(p, c.damageFinding(p))
	}
	if p.inspected == nil {
		return
	}

	f := models.Finding{
		Code:    models.DamageMinor,
		Urgency: models.Plan,
		Since:   p.inspected.At,
		FirstJob: "Have it looked at in the shop: how deep is it, and does it leak? " +
			"A cut to the cord takes the tire off the road.",
		Safety: cautionWheels,
	}

	var words []string
	for _, o := range p.inspected.Reading.Observations {
		switch o.Code {
		case models.ObsCut, models.ObsNail, models.ObsCracks, models.ObsValve:
			words = append(words, describeObservation(o))
			f.Evidence = append(f.Evidence, line("%s, seen on %s%s", describeObservation(o), c.date(p.inspected.At),
				by(p.inspected.Person)))
		}
	}

	// One finding names all that was seen: one look in the shop settles them.
	if len(words) > 0 {
		f.Title = fmt.Sprintf("%s at %s", strings.Join(words, "; "), p.at)
		c.add(p, f)
	}
}

// damageFinding is the finding of damage that takes a tire off the road. A damaged
// spare does not stop the vehicle, but must not be fitted.
func (c *checker) damageFinding(p *place) models.Finding {
	f := models.Finding{
		Code:    models.Damage,
		Urgency: models.OffTheRoad,
		Since:   p.State.Damage[0].At,
		FirstJob: fmt.Sprintf("Take the vehicle off the road. Change or repair the tire at %s, "+
			"or have a named person clear it with a reason.", p.at),
		Safety: cautionPark + " " + cautionWheels,
	}

	var words, notices []string
	for _, d := range p.State.Damage {
		words = append(words, describeObservation(d.Observation))
		rule := c.guide(legal.Subject(d.Observation.Code), p)
		f.Evidence = append(f.Evidence, sourced(rule.Cite(), "%s, seen on %s, not cleared since",
			describeObservation(d.Observation), c.date(d.At)))
		if said := rule.Explain(); !slices.Contains(notices, said) {
			notices = append(notices, said)
		}
		if d.At.Before(f.Since) {
			f.Since = d.At
		}

		// These can hurt in the work itself and need a caution of their own.
		switch d.Observation.Code {
		case models.ObsFlat, models.ObsBulge, models.ObsSeparation:
			f.Safety = cautionPark + " " + cautionRunFlat
		case models.ObsLooseNuts, models.ObsCrackedWheel:
			f.Safety = cautionPark + " " + cautionNuts
		}
	}

	f.Notice = strings.Join(append(notices, legal.Notice), " ")
	f.Title = fmt.Sprintf("%s at %s", strings.Join(words, "; "), p.at)
	if p.spare {
		f.Urgency, f.FirstJob = models.DoNow, fmt.Sprintf("Do not fit the spare %s; repair or replace it.", p.at)
	}

	return f
}

// guide returns what the law, or general practice where no rule was read, says about a
// subject at p.
func (c *checker) guide(s legal.Subject, p *place) legal.Guidance {
	return legal.Guide(c.Depot.Jurisdiction, s, c.legalVehicle(), c.legalPlace(p))
}

// doubts reports readings that the wear estimator calls suspect.
func (c *checker) doubts(p *place) {
	if len(p.State.Doubts) == 0 || p.read == nil {
		return
	}

	f := models.Finding{
		Code:     models.SuspectData,
		Urgency:  models.Watch,
		Since:    p.read.At,
		Title:    fmt.Sprintf("last reading at %s does not fit the ones before", p.at),
		FirstJob: fmt.Sprintf("Measure %s again: is it the right place, tire, gauge and unit?", p.at),
	}
	for _, d := range p.State.Doubts {
		f.Evidence = append(f.Evidence, sourced("wear estimate", "%s", d))
	}
	c.add(p, f)
}
