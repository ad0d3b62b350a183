package assess

import (
	"fmt"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/tiresize"
	"rimledger/models/units"
)

// said is an observation in the words of the yard.
func said(o models.Observation) string {
	s := strings.ReplaceAll(string(o.Code), "_", " ")
	if o.Place != "" {
		s += " on the " + strings.ReplaceAll(o.Place, "_", " ")
	}
	if o.Size > 0 {
		s += ", " + units.FormatLength(o.Size, units.MM)
	}
	return s
}

// damage reports what takes a tire off the road until somebody clears it, and
// what does not.
func (c *checker) damage(t models.TireWithState) {
	p := t.State.Position
	if len(t.State.Damage) > 0 {
		f := models.Finding{Code: models.Damage, Urgency: models.OffTheRoad, Since: t.State.Damage[0].At,
			Title:    fmt.Sprintf("%s at %s", said(t.State.Damage[0].Observation), p),
			FirstJob: "Take the vehicle off the road; change or repair the tire at " + string(p) + ", or have a named person clear it with a reason.",
			Safety:   cautionPark + " " + cautionWheelOff,
			Notice:   "Exposed cord, cuts to the cord, bulges, separation, flats and leaks take a tire off the road under 49 CFR 393.75(a) as quoted in public texts, and under most rules. " + legal.Notice}
		for _, d := range t.State.Damage {
			f.Evidence = append(f.Evidence, models.Evidence{Text: said(d.Observation) + ", seen on " + c.date(d.At)})
			if d.At.Before(f.Since) {
				f.Since = d.At
			}
		}
		c.add(&t, f)
	}
	if t.State.MissingWeight != nil && !p.IsSpare() {
		c.add(&t, models.Finding{Code: models.WeightMissing, Urgency: models.DoNow, Since: t.State.MissingWeight.At,
			Title:    fmt.Sprintf("balance weight missing at %s", p),
			Evidence: []models.Evidence{{Text: "clean mark or broken clip seen on " + c.date(t.State.MissingWeight.At)}},
			FirstJob: "Balance the assembly again, all weights off first."})
	}
	if t.State.Last == nil {
		return
	}
	for _, o := range t.State.Last.Reading.Observations {
		switch o.Code {
		case models.ObsCut, models.ObsNail, models.ObsCracks, models.ObsValve:
			c.add(&t, models.Finding{Code: models.DamageMinor, Urgency: models.Plan, Since: t.State.Last.At,
				Title:    fmt.Sprintf("%s at %s", said(o), p),
				Evidence: []models.Evidence{{Text: said(o) + ", seen on " + c.date(t.State.Last.At)}},
				FirstJob: "Have it looked at in the shop: how deep, and does it leak?"})
		}
	}
}

// pressure compares the last pressure with the axle's target.
func (c *checker) pressure(t models.TireWithState) {
	p := t.State.Position
	target := c.Vehicle.AxleAt(p).Pressure.Value
	if t.State.Last == nil || t.State.Last.Reading.Pressure == nil || target <= 0 {
		return
	}
	r := t.State.Last.Reading
	percent := float64(r.Pressure.Value) / float64(target) * 100
	warm := ""
	if r.Hot {
		warm = ", warm: cold it is lower"
	}
	f := models.Finding{Since: t.State.Last.At, Evidence: []models.Evidence{
		{Text: fmt.Sprintf("%s on %s%s, target %s cold", r.Pressure.Text, c.date(t.State.Last.At), warm, c.kpa(target))}}}
	switch {
	case percent <= float64(c.Policy.RunFlatPercent):
		f.Code, f.Urgency = models.RunFlat, models.OffTheRoad
		f.Title = fmt.Sprintf("%s at %s is %.0f %% of the target: run flat", r.Pressure.Text, p, percent)
		f.FirstJob = "Take the wheel off and look inside the tire before any air goes in."
		f.Safety = cautionRunFlat
		f.Notice = "80 % of the recommended pressure counts as run flat in 29 CFR 1910.177 for rim wheels of large vehicles. " + legal.Notice
	case percent < float64(c.Policy.LowPercent):
		f.Code, f.Urgency = models.PressureLow, models.DoNow
		f.Title = fmt.Sprintf("%s at %s is %.0f %% of the target", r.Pressure.Text, p, percent)
		f.FirstJob = "Find the leak, then inflate cold to the target."
		f.Safety = "Stand out of line; use a clip-on chuck and an in-line gauge. Never bleed a hot tire."
	default:
		return
	}
	c.add(&t, f)
}

// age compares the date of manufacture with the law's limit and the policy's.
func (c *checker) age(t models.TireWithState) {
	if t.Tire.TIN == "" {
		return
	}
	made, err := tiresize.ParseTIN(t.Tire.TIN)
	if err != nil {
		return
	}
	today := c.Now.In(c.Zone)
	years := made.AgeYears(today.Year(), today.YearDay())
	p := t.State.Position
	limit := float64(c.Policy.AgeLimitYears)
	f := models.Finding{Code: models.AgeLimit, Urgency: models.Plan,
		Evidence: []models.Evidence{{Text: fmt.Sprintf("identification number %s: made in week %d of %d", t.Tire.TIN, made.Week, made.Year)}}}
	if !p.IsSpare() {
		for _, o := range legal.OtherFor(c.Depot.Jurisdiction, legal.AgeYears, c.legalVehicle(), c.legalPlace(p)) {
			limit, f.Urgency, f.Notice, f.Safety = o.Limit, models.OffTheRoad, o.Explain(), cautionPark
		}
	}
	at := func(y float64) time.Time {
		t := c.Now.Add(time.Duration((y - years) * 365.25 * 24 * float64(time.Hour)))
		c.flipsAt(t)
		return t
	}
	switch {
	case limit > 0 && years > limit:
		f.Since = at(limit)
		f.Title = fmt.Sprintf("tire at %s is %.1f years old, limit %.0f", p, years, limit)
		f.FirstJob = "Fit a younger tire at " + string(p) + "."
	case c.Policy.AgeWatchYears > 0 && years > float64(c.Policy.AgeWatchYears):
		at(limit)
		f.Since = at(float64(c.Policy.AgeWatchYears))
		f.Code, f.Urgency, f.Notice, f.Safety = models.AgeWatch, models.Watch, "", ""
		f.Title = fmt.Sprintf("tire at %s is %.1f years old", p, years)
		f.FirstJob = "Look for cracks at every inspection; plan its end."
	default:
		at(float64(c.Policy.AgeWatchYears))
		return
	}
	c.add(&t, f)
}

// retread reports a retreaded or regrooved tire on the front of a bus.
func (c *checker) retread(t models.TireWithState) {
	p := t.State.Position
	if c.Vehicle.Class != models.Bus || !c.Vehicle.AxleAt(p).Steered || !t.Tire.Retreaded() && !t.Tire.Regrooved {
		return
	}
	country, _, _ := strings.Cut(c.Depot.Jurisdiction, "-")
	urgency, notice := models.Plan, "Practice in many places. "+legal.Notice
	if country == "US" {
		urgency = models.OffTheRoad
		notice = "49 CFR 393.75(d): no regrooved, recapped or retreaded tire on the front wheels of a bus (agency interpretation, read 2026-11). " + legal.Notice
	}
	c.add(&t, models.Finding{Code: models.RetreadBarred, Urgency: urgency, Title: "retreaded or regrooved tire on the front of a bus, " + string(p),
		Since: t.State.PlacedAt.At, Evidence: []models.Evidence{{Text: fmt.Sprintf("tread life %d, regrooved %t", t.Tire.LifeIndex, t.Tire.Regrooved)}},
		FirstJob: "Move it to another axle and fit a new tire.", Safety: cautionWheelOff, Notice: notice})
}

// doubts reports readings that the wear estimator did not believe.
func (c *checker) doubts(t models.TireWithState) {
	if len(t.State.Doubts) == 0 || t.State.Last == nil {
		return
	}
	f := models.Finding{Code: models.SuspectData, Urgency: models.Watch, Since: t.State.Last.At,
		Title:    fmt.Sprintf("last reading at %s does not fit the ones before", t.State.Position),
		FirstJob: "Measure " + string(t.State.Position) + " again: right position, tire, gauge and unit?"}
	for _, d := range t.State.Doubts {
		f.Evidence = append(f.Evidence, models.Evidence{Text: d})
	}
	c.add(&t, f)
}
