package draw

import (
	"fmt"
	"time"

	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/history"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// OutlookPart is what the vehicle's place and the tire show of an outlook.
type OutlookPart struct {
	Trend  *Trend
	Depth  string      // now, with its doubt
	Rate   string      // per 1000 km and in 32nds per 10,000 mi
	Prior  string      // what the estimate began with
	Limits []aheadLine // when each limit is reached
	Doubts []string    // reasons to doubt it; empty if there are none
	causesPart
}

type aheadLine struct{ Name, Text string }

// NewOutlook describes an outlook in the person's units, on the clock of now.
func NewOutlook(o fleet.Outlook, u units.Style, now time.Time) OutlookPart {
	p := OutlookPart{Trend: NewTrend(o, u, now), causesPart: newCauses(o.Account, u)}
	for _, l := range []struct {
		name string
		a    *fleet.Ahead
	}{{"Pull point", o.Pull}, {"Legal minimum", o.Legal}} {
		if l.a != nil {
			p.Limits = append(
				p.Limits,
				aheadLine{l.name + " " + u.WriteDepth(l.a.Limit), reachedText(l.a.Forecast, u, now)},
			)
		}
	}

	a := o.Pull
	if a == nil {
		a = o.Legal
	}

	if s := o.State.MinWear; s != nil {
		p.Prior = priorText(s.Prior.Source)
	}
	if a == nil {
		return p
	}

	p.Depth = u.WriteEstimate(a.DepthMM) + ", give or take " + u.WriteEstimate(a.DepthSDMM)
	if a.RateMM > 0 {
		p.Rate = rateText(a.RateMM, a.RateLo90, a.RateHi90, u)
	}
	p.Doubts = forecastDoubts(a.Forecast, o.State, u)
	return p
}

// reachedText says when a limit is reached.
func reachedText(f wear.Forecast, u units.Style, now time.Time) string {
	km := func(b wear.Bound) string {
		if b.Beyond {
			return "too far away to say"
		}
		return u.WriteAbout(units.DistanceFromKilometres(b.Value))
	}

	switch {
	case f.Reached:
		return "reached by now, as estimated"
	case f.Distance.Median.Beyond:
		return "too far away to say"
	}

	return fmt.Sprintf(
		"in about %s, near %s; 4 times in 5 between %s and %s (%s to %s); 9 times in 10 between %s and %s",
		km(f.Distance.Median),
		day(u, now, f.Days.Median),
		day(u, now, f.Days.Lo80),
		day(u, now, f.Days.Hi80),
		km(f.Distance.Lo80),
		km(f.Distance.Hi80),
		day(u, now, f.Days.Lo90),
		day(u, now, f.Days.Hi90),
	)
}

// priorText says what an estimate started from.
func priorText(s wear.Source) string {
	if s.Embedded {
		return "default: what is usual for such a place, until this fleet has taught better"
	}
	of := map[string]string{"fleet": "of the whole fleet", "class": "on vehicles of this class", "role": "on such axles of this class",
		"design": "of this tread design on such axles"}[s.Level]
	return fmt.Sprintf("learned from %s %s", say.Plural(s.Fitments, "fitment", "fitments"), of)
}

// forecastDoubts says in words why a forecast should not be believed.
func forecastDoubts(f wear.Forecast, t models.TireState, u units.Style) []string {
	var out []string
	if f.PriorOnly {
		out = append(
			out,
			"No reading of this fitment says anything about its rate yet: the rate is what is usual. Read it again "+
				"after some distance.",
		)
	} else if f.TooEarly {
		out = append(out, fmt.Sprintf("Too little wear has been seen for this gauge (it takes %s with a gauge in "+
			"32nds, %s with one in tenths of a mm): the rate is still mostly what is usual.",
			u.WriteEstimate(2.5), u.WriteEstimate(1.6)))
	}

	if f.LackOfFit {
		out = append(
			out,
			"The readings do not follow a line within the error of the gauge: the route, load or tire has changed, "+
				"or readings are mixed up.",
		)
	}

	if f.Suspect {
		out = append(
			out,
			"Some readings are suspect: far from what was expected, or deeper than before. Measure again before you "+
				"rely on the date.",
		)
	}

	return append(out, t.Doubts...)
}

// ForecastText says when a tire reaches its pull point, or "" if nothing is known.
func ForecastText(t models.TireState, v models.VehicleState, pull units.Length, u units.Style, now time.Time) string {
	if t.MinWear == nil || pull <= 0 {
		return ""
	}

	x, sd, ok := v.Use.At(history.Day(now))
	if !ok {
		return ""
	}

	f, err := t.MinWear.Forecast(wear.Ahead{LimitMM: pull.Millimetres(), NowKM: x, NowSDKM: sd, Use: v.Use})
	switch {
	case err != nil:
		return ""
	case f.Reached:
		return "at or below its pull point by now, as estimated"
	case f.Distance.Median.Beyond:
		return "pull point too far away to say"
	}

	text := "pull point in about " + u.WriteAbout(units.DistanceFromKilometres(f.Distance.Median.Value))
	if !f.Days.Median.Beyond {
		text += fmt.Sprintf(
			", near %s (between %s and %s, 4 times in 5)",
			day(u, now, f.Days.Median),
			day(u, now, f.Days.Lo80),
			day(u, now, f.Days.Hi80),
		)
	}

	if f.PriorOnly || f.TooEarly {
		text += "; early, from what is usual"
	}
	return text
}

func day(u units.Style, now time.Time, b wear.Bound) string {
	if b.Beyond {
		return "not known"
	}
	return u.WriteDate(now.Add(time.Duration(b.Value * 24 * float64(time.Hour))))
}
