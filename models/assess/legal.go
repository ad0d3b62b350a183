package assess

import (
	"fmt"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/units"
)

// law is what is in force for tires of one sort of place.
type law struct {
	today    []legal.Rule // strictest first, the depot's own among them
	seasonal []legal.Rule // in a part of the year only, in force today or not
	age      legal.Other  // the strictest limit of age; a limit of 0: none
}

// strictest returns the largest number that holds in all conditions; 0: none.
func (l law) strictest() units.Length {
	for _, r := range l.today {
		if binding(r) {
			return r.Min
		}
	}
	return 0
}

// binding reports whether a rule holds whatever the road is like.
func binding(r legal.Rule) bool { return r.Consequence != legal.Advisory && !r.Situational }

const ownID = "own" // of a depot's own minimum, as legal.Own calls it

// lawAt returns what is in force for p today. A spare is judged as on an axle
// that is neither steered nor driven.
func (c *checker) lawAt(p *place) law {
	where := c.legalPlace(p)
	if l, known := c.laws[where]; known {
		return l
	}
	v := c.legalVehicle()
	l := law{
		today:    legal.For(c.Depot.Jurisdiction, v, where, c.today()),
		seasonal: legal.Seasonal(c.Depot.Jurisdiction, v, where),
	}

	for _, o := range c.Depot.OwnRules {
		if (o.Class == "" || o.Class == c.Vehicle.Class) && (o.Role == "" || o.Role == p.axle.Role()) {
			l.today = append(
				l.today,
				legal.Own(
					o.MinDepth.Value,
					units.Style{Set: c.Depot.Units}.WriteTypedDepth(o.MinDepth.Value, o.MinDepth.Text),
					o.Reason,
				),
			)
		}
	}

	slices.SortStableFunc(l.today, func(a, b legal.Rule) int { return int(b.Min - a.Min) })

	for _, o := range legal.OtherFor(c.Depot.Jurisdiction, legal.AgeYears, v, where) {
		if l.age.Limit == 0 || o.Limit < l.age.Limit {
			l.age = o
		}
	}

	c.laws[where] = l
	return l
}

func (c *checker) legalVehicle() legal.Vehicle {
	return legal.Vehicle{Class: string(c.Vehicle.Class), MassKG: c.Vehicle.MaxMassKG, Seats: c.Vehicle.Seats}
}

func (c *checker) legalPlace(p *place) legal.Place {
	size, known := c.size(p)
	return legal.Place{Steered: p.axle.Steered, Driven: p.axle.Driven, Dual: p.at.IsDual(), Winter: p.Tire.Winter,
		Bias: known && size.Construction != 'R'}
}

// other returns the rules of one kind for p.
func (c *checker) other(kind legal.OtherKind, p *place) []legal.Other {
	return legal.OtherFor(c.Depot.Jurisdiction, kind, c.legalVehicle(), c.legalPlace(p))
}

// today is the day in the depot, as legal seasons count it.
func (c *checker) today() legal.MonthDay {
	d := c.Now.In(c.Zone)
	return legal.MonthDay{Year: d.Year(), Month: int(d.Month()), Day: d.Day()}
}

// legal compares the newest depths with the rules in force and the depot's own,
// and with those of the season ahead. The gravest answer is the finding.
func (c *checker) legal(p *place) {
	l := c.lawAt(p)
	if least := l.strictest(); least > 0 && !p.spare {
		c.minimum[p.at] = least
	}

	bar, _ := p.observed(models.ObsWearBar)
	level := bar.Code != ""
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
			f.FirstJob = fmt.Sprintf(
				"Look at the wear indicators at %s: level with them fails. Fit another tire before the next trip.",
				p.at,
			)
		}
		c.add(p, f)
	case level:
		c.add(p, c.levelWithBar(p))
	}

	if len(v.later) > 0 && len(v.broken) == 0 { // off the road, it meets no conditions
		r := v.later[0]
		f := c.nearLegal(p, v.later, models.Plan)
		f.Title = fmt.Sprintf(
			"%s at %s, below %s that holds in some road or winter conditions",
			typed(p.least),
			p.at,
			minimum(r),
		)

		f.FirstJob = fmt.Sprintf("Plan a tire with more tread at %s before the vehicle meets those conditions.", p.at)
		c.add(p, f)
	}

	c.seasons(l.seasonal, p)
}

// verdicts is what the rules in force say of one tire, each list strictest first.
type verdicts struct{ broken, undecided, atNumber, later []legal.Rule }

func (c *checker) verdicts(p *place, rules []legal.Rule, level bool) verdicts {
	var v verdicts

	grid := gridOf(p.read)
	for _, r := range rules {
		j := r.Judge(grid)

		fails := j.Outcome == legal.Fails || r.AtIndicatorFails && level
		switch {
		case fails && binding(r):
			v.broken = append(v.broken, r)
		case fails:
			v.later = append(v.later, r)
		case j.Outcome == legal.BelowNumber && binding(r):
			v.undecided = append(v.undecided, r)
		case j.Outcome == legal.Passes && p.read != nil && p.least.Value == r.Min && binding(r):
			v.atNumber = append(v.atNumber, r)
		}
	}

	// The law speaks before the depot's own number.
	slices.SortStableFunc(v.broken, func(a, b legal.Rule) int { return rank(a) - rank(b) })
	return v
}

func rank(r legal.Rule) int {
	switch {
	case r.ID == ownID:
		return 2
	case r.Consequence == legal.OutOfService:
		return 1
	}
	return 0
}

func (c *checker) belowLegal(p *place, broken []legal.Rule, level bool) models.Finding {
	r := broken[0]
	f := c.nearLegal(p, broken, models.OffTheRoad)
	f.Code = models.BelowLegal
	kind := "legal"
	if r.ID == ownID {
		kind = "depot's own"
	}

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

// levelWithBar is the finding where only the wear indicator speaks.
func (c *checker) levelWithBar(p *place) models.Finding {
	f := models.Finding{Code: models.NearLegal, Urgency: models.DoNow, Since: p.looked.At,
		Title: fmt.Sprintf("tread level with the wear indicator at %s", p.at),
		Evidence: []models.Evidence{
			practice(
				"makers' manuals, read 2026-11",
				"seen on %s%s; indicators commonly stand at 1/16 in (1.6 mm)",
				c.date(p.looked.At),
				by(p.looked.Person),
			),
		},
		FirstJob: fmt.Sprintf("Measure %s now, and fit another tire before the next trip.", p.at),
		Safety:   cautionWheels, Notice: legal.Notice}

	if p.spare {
		f.Urgency = models.Plan
	}
	return f
}

// nearLegal is the finding common to all answers short of a broken rule.
func (c *checker) nearLegal(p *place, rules []legal.Rule, u models.Urgency) models.Finding {
	f := models.Finding{Code: models.NearLegal, Urgency: u, Notice: notice(rules[0]), Safety: cautionWheels,
		FirstJob: fmt.Sprintf("Fit another tire at %s before the next trip.", p.at)}

	if p.read != nil {
		f.Since = p.read.At
		f.Evidence = append(f.Evidence, c.thinnest(p))
	} else {
		f.Since = p.looked.At
		f.Evidence = append(f.Evidence, line("tread level with the wear indicator, seen on %s%s", c.date(p.looked.At), by(p.looked.Person)))
	}

	for _, r := range rules {
		f.Evidence = append(
			f.Evidence,
			models.Evidence{Text: fmt.Sprintf("limit %s, %s", minimum(r), r.Band), Source: citation(r)},
		)
	}

	if p.spare && u < models.Plan {
		f.Urgency = models.Plan
	}
	return f
}

// thinnest is the evidence of the shallowest reading and where it was.
func (c *checker) thinnest(p *place) models.Evidence {
	g, k := spot(p.read.Reading, p.least.Value)
	return line(
		"thinnest reading %s on %s%s, groove %d of %d from outboard, station %d",
		typed(p.least),
		c.date(p.read.At),
		by(p.read.Person),
		g,
		len(p.read.Reading.Depths),
		k,
	)
}

// spot returns the groove and station, from 1, of the first reading of a depth.
func spot(r models.Reading, d units.Length) (groove, station int) {
	for g, ds := range r.Depths {
		for k, x := range ds {
			if x != nil && x.Value == d {
				return g + 1, k + 1
			}
		}
	}
	return 0, 0
}

// seasons notes when seasonal rules begin and end, and warns at p ahead of one
// that its newest depths would break. p may be nil.
func (c *checker) seasons(rules []legal.Rule, p *place) {
	ahead := time.Duration(max(c.Policy.DueDays, c.Policy.ForecastDays)) * 24 * time.Hour

	year := c.Now.In(c.Zone).Year()
	for _, r := range rules {
		for y := year; y <= year+1; y++ {
			end := r.Season.End(y)
			c.flipsAt(c.midnight(y, time.Month(end.Month), end.Day+1))
			begin := c.midnight(y, time.Month(r.Season.From.Month), r.Season.From.Day)
			c.flipsAt(begin)
			c.flipsAt(begin.Add(-ahead))

			if p == nil || p.read == nil || !begin.After(c.Now) || begin.After(c.Now.Add(ahead)) ||
				r.Check(gridOf(p.read)) != legal.Fails {
				continue
			}

			f := c.nearLegal(p, []legal.Rule{r}, models.Plan)
			f.Title = fmt.Sprintf(
				"%s at %s, below %s that holds from %s",
				typed(p.least),
				p.at,
				minimum(r),
				c.date(begin),
			)

			f.FirstJob = fmt.Sprintf("Plan a tire with more tread at %s before that day.", p.at)
			f.DueAt = &begin
			c.add(p, f)
		}
	}
}

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

// citation says where a rule stands, how sure the reading is and when it was read.
func citation(r legal.Rule) string {
	if r.ID == ownID {
		return "own rule of the depot"
	}
	return fmt.Sprintf("%s, %s %s", r.Citation, r.Status.Words(), r.Read)
}

func notice(r legal.Rule) string {
	if r.ID == ownID {
		return fmt.Sprintf("%s: %s. %s", r.MinText, r.Text, legal.Notice)
	}
	return r.Explain()
}
