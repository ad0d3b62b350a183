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

// pull compares the depth as read and as forecast with the pull point, or with the legal
// minimum where that is larger. It reports nothing about a tire that legal has already
// reported as urgent.
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

	// The list of dues names the limit also where the finding is that of the law.
	if p.least.Value <= limit {
		d := due{at: p.read.At, why: "as read", limit: limit}
		c.notePullAt(d.at)
		c.listAhead(p, models.BelowPull, d, strings.TrimPrefix(what, "the "))
	}
	if c.has(p, models.DoNow, models.BelowLegal, models.NearLegal) {
		return
	}
	if c.estimatedBelow(p) && p.least.Value <= limit { // that says more than the pull point
		return
	}
	if p.least.Value > limit && (c.addForecast(p, limit, what) || p.least.Value > limit+c.Policy.WatchAbove) {
		return
	}

	f := models.Finding{
		Since: p.read.At,
		Evidence: []models.Evidence{
			c.thinnestLine(p),
			sourced(source, "%s of a %s axle is %s", what, p.axle.Role(), units.MarkDepth(limit)),
		},
	}

	if p.least.Value <= limit {
		f.Code, f.Urgency = models.BelowPull, models.DoNow
		relation := "below"
		if p.least.Value == limit {
			relation = "at"
		}
		f.Title = fmt.Sprintf("%s at %s, %s %s %s", typed(p.least), p.at, relation, what, units.MarkDepth(limit))
		f.FirstJob, f.Safety = fmt.Sprintf("Change the tire at %s at the next stop in the shop.", p.at), cautionWheels
	} else {
		f.Code, f.Urgency = models.NearPull, models.Watch
		f.Title = fmt.Sprintf("%s at %s, near %s %s", typed(p.least), p.at, what, units.MarkDepth(limit))
		f.FirstJob = "Read it at every inspection; have a tire in stock."
		f.Evidence = append(f.Evidence, policyLine("watched from %s above it", units.MarkDepth(c.Policy.WatchAbove)))
	}
	c.add(p, f)
}

// estimatedBelow reports a tire that is above the legal minimum as read, and by the median
// of its forecast below it from today's date on. It returns whether it did.
func (c *checker) estimatedBelow(p *place) bool {
	limit := c.minimum[p.at]
	if limit == 0 || p.least.Value < limit {
		return false
	}

	fc, ok := c.forecast(p, limit)
	if !ok || fc.Days.Median.Beyond {
		return false
	}
	passes := c.dayAfter(fc.Days.Median)
	c.scheduleRecheck(passes)
	if passes.After(c.Now) {
		c.scheduleRecheck(c.Now.Add(nextForecast))
		return false
	}

	f := models.Finding{
		Code:      models.EstimatedBelow,
		Urgency:   models.DoNow,
		Estimated: true,
		Title:     fmt.Sprintf("%s: %s", p.at, estimatedBelowText),
		Evidence: []models.Evidence{
			c.thinnestLine(p),
			sourced("wear estimate", "depth now about %s, wears about %s", units.MarkEstimate(fc.DepthMM),
				rateWithin(fc)),
			sourced("strictest number in force here", "the legal minimum of a %s axle is %s", p.axle.Role(),
				units.MarkDepth(limit)),
		},
		FirstJob: fmt.Sprintf("Measure %s before the next trip. A booking does not replace the measurement.", p.at),
		Safety:   "If it is below the legal minimum, the vehicle must not run on it: change the tire first.",
	}
	for _, d := range doubtsOf(fc) {
		f.Evidence = append(f.Evidence, sourced("wear estimate", "%s", d))
	}
	c.ask[p.at] = append(c.ask[p.at], estimatedBelowText)
	c.add(p, f)
	return true
}

// estimatedBelowText is what page, phone, interface and mail say alike.
const estimatedBelowText = "by estimate below the legal minimum; measure before the next trip"

// notePullAt notes when a tire is at its limit, for Result.PullAt.
func (c *checker) notePullAt(t time.Time) {
	if c.pullAt == nil || t.Before(*c.pullAt) {
		c.pullAt = &t
	}
}

// forecast returns when the thinnest groove reaches a limit, from now; false where the
// tire's wear or the vehicle's use is not known.
func (c *checker) forecast(p *place, limit units.Length) (wear.Forecast, bool) {
	s := p.State.MinWear
	if s == nil {
		return wear.Forecast{}, false
	}
	now, sd, known := c.State.Use.At(history.Day(c.Now))
	if !known {
		return wear.Forecast{}, false
	}

	// The estimate of the odometer today may lag behind the last reading.
	f, err := s.Forecast(wear.Ahead{
		LimitMM: limit.Millimetres(),
		NowKM:   max(now, s.XKM),
		NowSDKM: sd,
		Use:     c.State.Use,
	})
	return f, err == nil
}

// forecastDue returns the due of a limit that is reached at a forecast time. It has an
// odometer only if one was read.
func (c *checker) forecastDue(at time.Time, limit units.Length, f wear.Forecast) due {
	d := due{at: at, estimated: true, limit: limit, why: "by its wear and the vehicle's use per day"}
	if x, _, known := c.State.Use.At(history.Day(c.Now)); known && c.State.Odometer.Known && !c.Vehicle.NoOdometer {
		// x is the use model's estimate for today, XKM for its last reading.
		since := units.DistanceFromKilometres(x - c.State.Use.XKM + f.Distance.Median.Value)
		at := c.State.Odometer.Value + since
		d.odometer = &at
	}
	return d
}

// nextForecast is the age at which a forecast is computed anew (chosen by us).
const nextForecast = 30 * 24 * time.Hour

// addForecast adds a finding if the forecast (median) has the tire at a limit within the
// policy's days, and reports whether it did.
func (c *checker) addForecast(p *place, limit units.Length, what string) bool {
	if c.Policy.ForecastDays <= 0 {
		return false
	}

	fc, ok := c.forecast(p, limit)
	if !ok || fc.Days.Median.Beyond {
		return false
	}

	reached := c.dayAfter(fc.Days.Median)
	c.scheduleRecheck(c.Now.Add(nextForecast))
	c.notePullAt(reached)
	c.listAhead(p, models.PullForecast, c.forecastDue(reached, limit, fc), strings.TrimPrefix(what, "the "))

	// It is shown only in the policy's days before; time alone brings that day.
	from := reached.AddDate(0, 0, -c.Policy.ForecastDays)
	c.scheduleRecheck(from)
	if from.After(c.Now) {
		return false
	}

	f := models.Finding{
		Code:      models.PullForecast,
		Urgency:   models.Plan,
		Since:     p.read.At,
		DueAt:     &reached,
		Estimated: true,
		Title: fmt.Sprintf("%s reaches %s %s about %s (estimated)", p.at, what, units.MarkDepth(limit),
			c.date(reached)),
		Evidence: []models.Evidence{
			c.thinnestLine(p),
			sourced("wear estimate", "depth now about %s, wears about %s", units.MarkEstimate(fc.DepthMM),
				rateWithin(fc)),
		},
		FirstJob: "Order a tire and book the vehicle in before that day; measure again first if the range is wide.",
	}

	// An estimate alone does not condemn a tire: it is measured first.
	if fc.Reached {
		f.Title = fmt.Sprintf("%s is at %s %s by now (estimated)", p.at, what, units.MarkDepth(limit))
		f.FirstJob = "Measure it now; order a tire and book the vehicle in if the reading agrees."
	} else {
		f.Evidence = append(f.Evidence, sourced("wear estimate and use per day",
			"80%% interval %s to %s, 90%% interval %s to %s",
			c.intervalEnd(fc.Days.Lo80), c.intervalEnd(fc.Days.Hi80),
			c.intervalEnd(fc.Days.Lo90), c.intervalEnd(fc.Days.Hi90)))
	}

	f.Evidence = append(f.Evidence, policyLine("planned %d days ahead", c.Policy.ForecastDays))
	for _, d := range doubtsOf(fc) {
		f.Evidence = append(f.Evidence, sourced("wear estimate", "%s", d))
	}
	if !c.State.Odometer.Known || c.State.Use.Embedded {
		f.Evidence = append(f.Evidence,
			sourced("judged, no source", "use per day is what such vehicles usually cover; no odometer says it"))
	}

	c.add(p, f)
	return true
}

// dayAfter returns the midnight, in the depot's zone, of the day that is b days after
// now.
func (c *checker) dayAfter(b wear.Bound) time.Time {
	t := c.Now.Add(days(b.Value)).In(c.Zone)
	return c.midnight(t.Year(), t.Month(), t.Day())
}

// intervalEnd writes one end of an interval of days as a date.
func (c *checker) intervalEnd(b wear.Bound) string {
	if b.Beyond {
		return "later than anything planned"
	}
	return c.date(c.dayAfter(b))
}

// doubtsOf returns the reasons why a forecast is uncertain, in words.
func doubtsOf(f wear.Forecast) []string {
	var out []string
	add := func(applies bool, words string) {
		if applies {
			out = append(out, words)
		}
	}
	add(f.PriorOnly, "rests on what such tires usually do, not on this one")
	add(f.TooEarly && !f.PriorOnly, "too little wear seen for the gauge to be sure")
	add(f.LackOfFit, "the readings do not follow a steady wear")
	add(f.Suspect, "some readings are suspect")
	return out
}

// fastOver is the multiple of the usual rate from which wear counts as fast: chosen by
// us, no source.
const fastOver = 1.5

// fastWear reports a tire that wears much faster than the usual tire in such a place. The
// rate must rest on readings of this tire, the last of them not suspect, and the whole
// 90 % interval must be above the usual rate.
func (c *checker) fastWear(p *place) {
	if p.spare || p.read == nil || p.State.MinWear == nil {
		return
	}

	// Saves most tires a forecast: its median rate, judged below, is never above this mean.
	usual := p.State.MinWear.Prior
	if p.State.MinWear.RateMM < fastOver*usual.RateMean {
		return
	}

	fc, ok := c.forecast(p, 0)
	measured := ok && usual.RateMean > 0 && !fc.PriorOnly && !fc.TooEarly && !p.State.MinWear.Pending
	if !measured || fc.RateMM < fastOver*usual.RateMean || fc.RateLo90 < usual.RateMean {
		return
	}

	source := "learned from the fleet's own tires"
	if usual.Source.Embedded {
		source = "judged, no source"
	}

	f := models.Finding{
		Code:    models.FastWear,
		Urgency: models.Plan,
		Since:   p.read.At,
		Title: fmt.Sprintf("%s wears %s, %s times the usual", p.at, units.MarkRate(fc.RateMM),
			units.MarkNumber(fc.RateMM/usual.RateMean, 1)),
		Evidence: []models.Evidence{
			sourced("wear estimate", "wears %s", rateWithin(fc)),
			sourced(source, "usual for a %s axle of a %s: %s", p.axle.Role(), plainWords(string(c.Vehicle.Class)),
				units.MarkRate(usual.RateMean)),
			sourced("proposed threshold, no source", "fast is %s times the usual and more",
				units.MarkNumber(fastOver, 1)),
		},
		FirstJob: "Pressure for the load first, then alignment of all axles; " +
			"compare with its mate and with the duty (hills, torque, overload).",
	}
	for _, d := range doubtsOf(fc) {
		f.Evidence = append(f.Evidence, sourced("wear estimate", "%s", d))
	}
	c.add(p, f)
}
