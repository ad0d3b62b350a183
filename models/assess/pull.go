package assess

import (
	"fmt"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// pull compares the depth with the pull point, now and forecast. What the law
// says already is not said again.
func (c *checker) pull(p *place) {
	if p.spare || p.read == nil {
		return
	}

	limit, what, source := c.Policy.Pull(p.axle.Role()), "the pull point", "policy"
	if least := c.minimum[p.at]; least > limit {
		limit, what, source = least, "the legal minimum", "strictest number in force here"
	}
	if limit == 0 {
		return
	}

	if p.least.Value <= limit {
		c.pullsAt(p.read.At)
		c.list(p, models.BelowPull, due{at: p.read.At, why: "as read", limit: limit}, strings.TrimPrefix(what, "the "))
	}

	if c.has(p, models.DoNow, models.BelowLegal, models.NearLegal) {
		return
	}
	if p.least.Value > limit && (c.reaches(p, limit, what) || p.least.Value > limit+c.Policy.WatchAbove) {
		return
	}

	f := models.Finding{
		Since: p.read.At,
		Evidence: []models.Evidence{
			c.thinnest(p),
			practice(source, "%s of a %s axle is %s", what, p.axle.Role(), units.MarkDepth(limit)),
		},
	}

	if p.least.Value <= limit {
		f.Code, f.Urgency = models.BelowPull, models.DoNow
		word := "below"
		if p.least.Value == limit {
			word = "at"
		}
		f.Title = fmt.Sprintf("%s at %s, %s %s %s", typed(p.least), p.at, word, what, units.MarkDepth(limit))
		f.FirstJob, f.Safety = fmt.Sprintf("Change the tire at %s at the next stop in the shop.", p.at), cautionWheels
	} else {
		f.Code, f.Urgency = models.NearPull, models.Watch
		f.Title = fmt.Sprintf("%s at %s, near %s %s", typed(p.least), p.at, what, units.MarkDepth(limit))
		f.FirstJob = "Read it at every inspection; have a tire in stock."
		f.Evidence = append(f.Evidence, policyLine("watched from %s above it", units.MarkDepth(c.Policy.WatchAbove)))
	}

	c.add(p, f)
}

// pullsAt notes when a tire is at its limit.
func (c *checker) pullsAt(t time.Time) {
	if c.pullAt == nil || t.Before(*c.pullAt) {
		c.pullAt = &t
	}
}

// forecast returns when the thinnest groove reaches a limit, from now. False
// where too little is known.
func (c *checker) forecast(p *place, limit units.Length) (wear.Forecast, bool) {
	s := p.State.MinWear
	if s == nil {
		return wear.Forecast{}, false
	}
	now, sd, known := c.State.Use.At(history.Day(c.Now))
	if !known {
		return wear.Forecast{}, false
	}
	f, err := s.Forecast(
		wear.Ahead{LimitMM: limit.Millimetres(), NowKM: max(now, s.XKM), NowSDKM: sd, Use: c.State.Use},
	)
	return f, err == nil
}

// reached is when and where a limit is reached by a forecast. The odometer is
// told where one was read.
func (c *checker) reached(at time.Time, limit units.Length, f wear.Forecast) due {
	d := due{at: at, estimated: true, limit: limit, why: "by its wear and the vehicle's use per day"}
	if x, _, known := c.State.Use.At(history.Day(c.Now)); known && c.State.Odometer.Known && !c.Vehicle.NoOdometer {
		there := c.State.Odometer.Value + units.DistanceFromKilometres(x-c.State.Use.XKM+f.Distance.Median.Value)
		d.odometer = &there
	}
	return d
}

// nextForecast is how long a forecast is left alone before it is made again.
const nextForecast = 30 * 24 * time.Hour

// reaches adds a finding if the tire is expected to reach a limit within the
// policy's days, and reports whether it did.
func (c *checker) reaches(p *place, limit units.Length, what string) bool {
	if c.Policy.ForecastDays <= 0 {
		return false
	}

	fc, ok := c.forecast(p, limit)
	if !ok || fc.Days.Median.Beyond {
		return false
	}

	c.flipsAt(c.Now.Add(nextForecast))
	due := c.dayAfter(fc.Days.Median)
	c.pullsAt(due)
	c.list(p, models.PullForecast, c.reached(due, limit, fc), strings.TrimPrefix(what, "the "))
	from := due.AddDate(0, 0, -c.Policy.ForecastDays)
	c.flipsAt(from)

	if from.After(c.Now) {
		return false
	}

	f := models.Finding{Code: models.PullForecast, Urgency: models.Plan, Since: p.read.At, DueAt: &due, Estimated: true,
		Title: fmt.Sprintf("%s reaches %s %s about %s (estimated)", p.at, what, units.MarkDepth(limit), c.date(due)),
		Evidence: []models.Evidence{
			c.thinnest(p),
			practice(
				"wear estimate",
				"depth now about %s, wears about %s",
				units.MarkEstimate(fc.DepthMM),
				rateWithin(fc),
			),
		},
		FirstJob: "Order a tire and book the vehicle in before that day; measure again first if the range is wide."}

	if fc.Reached {
		f.Title = fmt.Sprintf("%s is at %s %s by now (estimated)", p.at, what, units.MarkDepth(limit))
		f.FirstJob = "Measure it now; order a tire and book the vehicle in if the reading agrees."
	} else {
		f.Evidence = append(f.Evidence, practice("wear estimate and use per day", "80%% interval %s to %s, 90%% interval %s to %s", c.end(fc.Days.Lo80), c.end(fc.Days.Hi80), c.end(fc.Days.Lo90), c.end(fc.Days.Hi90)))
	}

	f.Evidence = append(f.Evidence, policyLine("planned %d days ahead", c.Policy.ForecastDays))
	for _, d := range doubtsOf(fc) {
		f.Evidence = append(f.Evidence, practice("wear estimate", "%s", d))
	}

	if !c.State.Odometer.Known || c.State.Use.Embedded {
		f.Evidence = append(
			f.Evidence,
			practice("judged, no source", "use per day is what such vehicles usually cover; no odometer says it"),
		)
	}

	c.add(p, f)
	return true
}

// dayAfter is the day of the depot that lies so many days ahead.
func (c *checker) dayAfter(b wear.Bound) time.Time {
	t := c.Now.Add(days(b.Value)).In(c.Zone)
	return c.midnight(t.Year(), t.Month(), t.Day())
}

// end writes one end of an interval of days as a date.
func (c *checker) end(b wear.Bound) string {
	if b.Beyond {
		return "later than anything planned"
	}
	return c.date(c.dayAfter(b))
}

// doubtsOf says in words why a forecast should not be believed too much.
func doubtsOf(f wear.Forecast) []string {
	var out []string
	add := func(is bool, words string) {
		if is {
			out = append(out, words)
		}
	}
	add(f.PriorOnly, "rests on what such tires usually do, not on this one")
	add(f.TooEarly && !f.PriorOnly, "too little wear seen for the gauge to be sure")
	add(f.LackOfFit, "the readings do not follow a steady wear")
	add(f.Suspect, "some readings are suspect")
	return out
}

// fastOver is how many times the usual rate is fast: proposed with the trade's
// tables of patterns, no source.
const fastOver = 1.5

// fastWear reports a tire that wears much faster than such tires do. The rate
// must have been measured, its last reading be believed, and all of its 90 %
// interval be above the usual.
func (c *checker) fastWear(p *place) {
	if p.spare || p.read == nil || p.State.MinWear == nil {
		return
	}

	usual := p.State.MinWear.Prior
	if p.State.MinWear.RateMM < fastOver*usual.RateMean {
		return // the median that is judged below is never above this mean
	}

	fc, ok := c.forecast(p, 0)
	if !ok || usual.RateMean <= 0 || fc.PriorOnly || fc.TooEarly || p.State.MinWear.Pending ||
		fc.RateMM < fastOver*usual.RateMean ||
		fc.RateLo90 < usual.RateMean {
		return
	}

	source := "learned from the fleet's own tires"
	if usual.Source.Embedded {
		source = "judged, no source"
	}

	f := models.Finding{Code: models.FastWear, Urgency: models.Plan, Since: p.read.At,
		Title: fmt.Sprintf(
			"%s wears %s, %s times the usual",
			p.at,
			units.MarkRate(fc.RateMM),
			units.MarkNumber(fc.RateMM/usual.RateMean, 1),
		),
		Evidence: []models.Evidence{
			practice("wear estimate", "wears %s", rateWithin(fc)),
			practice(
				source,
				"usual for a %s axle of a %s: %s",
				p.axle.Role(),
				word(string(c.Vehicle.Class)),
				units.MarkRate(usual.RateMean),
			),
			practice(
				"proposed threshold, no source",
				"fast is %s times the usual and more",
				units.MarkNumber(fastOver, 1),
			),
		},
		FirstJob: "Pressure for the load first, then alignment of all axles; compare with its mate and with the duty (hills, torque, overload)."}

	for _, d := range doubtsOf(fc) {
		f.Evidence = append(f.Evidence, practice("wear estimate", "%s", d))
	}

	c.add(p, f)
}
