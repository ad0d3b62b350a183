package assess

import (
	"fmt"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Cautions that stand where the work is, in our own words; sources: 29 CFR
// 1910.177 and 1910.244 for inflation and jacking, industry re-torque practice.
const (
	cautionWheelOff = "Chock the vehicle and stand it on stands before a wheel comes off; never work under a jack alone. Torque with a wrench, re-torque after the first drive."
	cautionRunFlat  = "Never just top up. Let all air out before the wheel comes off, have the tire taken off and looked at inside, and inflate it in a restraint by remote control, with nobody in line."
	cautionPark     = "Do not drive it. Local rules and a licensed inspector decide when it may run again."
)

// legal compares the last reading with the rules in force and the depot's own.
func (c *checker) legal(t models.TireWithState) {
	p := t.State.Position
	if p.IsSpare() {
		return
	}
	rules := legal.For(c.Depot.Jurisdiction, c.legalVehicle(), c.legalPlace(p), c.zoneDay())
	rules = append(rules, c.ownRules(p)...)
	slices.SortStableFunc(rules, func(a, b legal.Rule) int { return int(b.Min - a.Min) })
	for _, r := range rules {
		if r.Consequence == legal.Violation && !r.Situational {
			c.minimum[p] = r.Min
			break
		}
	}
	c.seasonTurns(p)
	if t.State.Last == nil {
		return
	}
	least, ok := t.State.Last.Reading.Min()
	if !ok {
		return
	}
	grid := gridOf(t.State.Last.Reading)
	levelWithBar := slices.ContainsFunc(t.State.Last.Reading.Observations, func(o models.Observation) bool { return o.Code == models.ObsWearBar })
	for _, r := range rules {
		out := r.Check(grid)
		fails := out == legal.Fails || r.AtIndicatorFails && levelWithBar
		f := models.Finding{Since: t.State.Last.At, Notice: r.Explain(), Evidence: c.readingEvidence(t, r)}
		switch {
		case fails && !r.Situational && r.Consequence != legal.Advisory:
			f.Code, f.Urgency = models.BelowLegal, models.OffTheRoad
			f.Title = fmt.Sprintf("%s at %s, below the legal %s", least.Text, p, r.MinText)
			f.FirstJob = "Take the vehicle off the road and fit another tire at " + string(p) + "."
			f.Safety = cautionPark + " " + cautionWheelOff
		case out == legal.BelowNumber && r.Consequence == legal.Violation && !r.Situational:
			f.Code, f.Urgency = models.NearLegal, models.DoNow
			f.Title = fmt.Sprintf("%s at %s, below the number %s; more readings decide", least.Text, p, r.MinText)
			f.FirstJob = "Read " + string(p) + " again at more grooves and at three places around the tire: " + r.Text + "."
			f.Safety = cautionPark
		case fails:
			f.Code, f.Urgency = models.NearLegal, models.Plan
			f.Title = fmt.Sprintf("%s at %s, below %s that applies in season or on some roads", least.Text, p, r.MinText)
			f.FirstJob = "Plan a tire with more tread at " + string(p) + " before the vehicle needs it."
		case least.Value == r.Min && r.Consequence == legal.Violation && !r.Situational:
			f.Code, f.Urgency = models.NearLegal, models.DoNow
			f.Title = fmt.Sprintf("%s at %s, at the legal %s", least.Text, p, r.MinText)
			f.FirstJob = "Fit another tire at " + string(p) + " before the next trip."
			f.Safety = cautionWheelOff
		default:
			continue
		}
		c.add(&t, f)
		if f.Code == models.BelowLegal {
			return
		}
	}
}

// readingEvidence says what was read and, for some rules, what counts.
func (c *checker) readingEvidence(t models.TireWithState, r legal.Rule) []models.Evidence {
	last := t.State.Last
	least, _ := last.Reading.Min()
	return []models.Evidence{
		{Text: fmt.Sprintf("thinnest reading %s on %s by %s", least.Text, c.date(last.At), last.Person)},
		{Text: fmt.Sprintf("limit %s in %s", r.MinText, r.Band), Source: r.Citation + ", " + string(r.Status) + ", read " + r.Read},
	}
}

func (c *checker) ownRules(p models.Position) []legal.Rule {
	var out []legal.Rule
	for _, o := range c.Depot.OwnRules {
		if (o.Class == "" || o.Class == c.Vehicle.Class) && (o.Role == "" || o.Role == c.Vehicle.AxleAt(p).Role()) {
			out = append(out, legal.Own(o.MinDepth.Value, o.MinDepth.Text, o.Reason))
		}
	}
	return out
}

// seasonTurns notes when a seasonal rule begins or ends.
func (c *checker) seasonTurns(p models.Position) {
	for _, r := range legal.Seasonal(c.Depot.Jurisdiction, c.legalVehicle(), c.legalPlace(p)) {
		year := c.Now.In(c.Zone).Year()
		for _, y := range []int{year, year + 1} {
			c.flipsAt(time.Date(y, time.Month(r.Season.From.Month), r.Season.From.Day, 0, 0, 0, 0, c.Zone))
			c.flipsAt(time.Date(y, time.Month(r.Season.To.Month), r.Season.To.Day+1, 0, 0, 0, 0, c.Zone))
		}
	}
}

func gridOf(r models.Reading) legal.Grid {
	g := make(legal.Grid, len(r.Depths))
	for i, groove := range r.Depths {
		for _, d := range groove {
			if d == nil {
				g[i] = append(g[i], nil)
			} else {
				g[i] = append(g[i], &d.Value)
			}
		}
	}
	return g
}

// pull compares depth with the pull point, now and forecast.
func (c *checker) pull(t models.TireWithState) {
	p := t.State.Position
	pull := c.Policy.Pull(c.Vehicle.AxleAt(p).Role())
	if p.IsSpare() || pull == 0 || t.State.Last == nil {
		return
	}
	least, ok := t.State.Last.Reading.Min()
	if !ok || c.has(t, models.BelowLegal) {
		return
	}
	f := models.Finding{Since: t.State.Last.At, Evidence: []models.Evidence{
		{Text: fmt.Sprintf("thinnest reading %s on %s", least.Text, c.date(t.State.Last.At))}, policyLine("pull point %s", c.length(pull))}}
	switch {
	case least.Value <= pull:
		f.Code, f.Urgency = models.BelowPull, models.DoNow
		f.Title = fmt.Sprintf("%s at %s, at or below the pull point %s", least.Text, p, c.length(pull))
		f.FirstJob, f.Safety = "Change the tire at "+string(p)+" at the next stop in the shop.", cautionWheelOff
		c.add(&t, f)
	case c.forecast(t, pull):
	case least.Value <= pull+c.Policy.WatchAbove:
		f.Code, f.Urgency = models.NearPull, models.Watch
		f.Title = fmt.Sprintf("%s at %s, near the pull point %s", least.Text, p, c.length(pull))
		f.FirstJob = "Read it at every inspection; have a tire in stock."
		c.add(&t, f)
	}
}

func (c *checker) has(t models.TireWithState, code models.FindingCode) bool {
	return slices.ContainsFunc(c.findings, func(f models.Finding) bool { return f.TireID == t.Tire.ID && f.Code == code })
}

// forecast adds a finding if the tire is expected to reach its pull point
// within the policy's days, and reports whether it did.
func (c *checker) forecast(t models.TireWithState, pull units.Length) bool {
	if t.State.MinWear == nil || c.Policy.ForecastDays == 0 {
		return false
	}
	now, estimated, known := c.along()
	if !known {
		return false
	}
	fc, err := t.State.MinWear.Forecast(wear.Ahead{LimitMM: pull.Millimetres(), NowKM: max(now, t.State.MinWear.XKM), Use: c.State.Use})
	if err != nil || fc.Days.Median.Beyond {
		return false
	}
	days := fc.Days.Median.Value
	horizon := float64(c.Policy.ForecastDays)
	due := c.Now.Add(time.Duration(days * 24 * float64(time.Hour)))
	c.flipsAt(due.Add(-time.Duration(horizon * 24 * float64(time.Hour))))
	if days > horizon {
		return false
	}
	due = due.Truncate(24 * time.Hour)
	doubt := ""
	switch {
	case fc.PriorOnly:
		doubt = "; rests on what such tires usually do, not on this one"
	case fc.TooEarly:
		doubt = "; too little wear seen for the gauge to be sure"
	case fc.LackOfFit, fc.Suspect:
		doubt = "; readings do not fit a steady wear"
	}
	c.add(&t, models.Finding{Code: models.PullForecast, Urgency: models.Plan, DueAt: &due, Estimated: estimated, Since: t.State.Last.At,
		Title: fmt.Sprintf("%s reaches its pull point %s about %s", t.State.Position, c.length(pull), c.date(due)),
		Evidence: []models.Evidence{
			{Text: fmt.Sprintf("wears %.2f mm per 1000 km, depth now about %s%s", fc.RateMM, c.about(fc.DepthMM), doubt)},
			{Text: fmt.Sprintf("80 %% sure between %s and %s days from now", bound(fc.Days.Lo80), bound(fc.Days.Hi80))}},
		FirstJob: "Order a tire and book the vehicle in before that day."})
	return true
}

func bound(b wear.Bound) string {
	if b.Beyond {
		return "more than " + fmt.Sprintf("%.0f", b.Value)
	}
	return fmt.Sprintf("%.0f", b.Value)
}
