package assess

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
)

// winterTires reports tires without the mark of a winter tire where the law wants it: in
// season, and ahead of one that begins soon. One finding names all the places, since one
// change of tires settles them.
//
// In season, a rule that applies on any road gives a finding of urgency "do now". A rule that
// depends on conditions, or a season that is still ahead, gives "plan".
func (c *checker) winterTires() {
	var worst *models.Finding
	for _, w := range c.winterRules() {
		without := c.withoutMark(w)
		f, found := c.winterFinding(w, without)
		if found && (worst == nil || f.Urgency < worst.Urgency) {
			worst = &f
		}
	}

	if worst != nil {
		c.add(nil, *worst)
	}
}

// winterRules returns the rules that want a winter tire at some place of the vehicle.
func (c *checker) winterRules() []legal.Winter {
	var out []legal.Winter
	for _, p := range c.places {
		for _, w := range c.lawAt(p).winter {
			if !p.spare && !slices.ContainsFunc(out, sameRule(w)) {
				out = append(out, w)
			}
		}
	}
	return out
}

// sameRule returns a function that reports whether a rule is w.
func sameRule(w legal.Winter) func(legal.Winter) bool {
	return func(other legal.Winter) bool { return other.ID == w.ID }
}

// withoutMark returns the places of tires that keep the vehicle from satisfying w. Where
// one drive axle is enough, they are those of the one that lacks fewest.
func (c *checker) withoutMark(w legal.Winter) []models.Position {
	var all []models.Position
	axles := map[int][]models.Position{} // those without the mark, of each axle that the rule covers
	for _, p := range c.places {
		if p.spare || !slices.ContainsFunc(c.lawAt(p).winter, sameRule(w)) {
			continue
		}

		lacking := axles[p.at.Axle()]
		if !p.Tire.Winter {
			all, lacking = append(all, p.at), append(lacking, p.at)
		}
		axles[p.at.Axle()] = lacking
	}

	if w.Need != legal.OneDriveAxle {
		return all
	}

	// One drive axle is enough, so the one with the least work is named.
	best, known := all, false
	for n := range len(c.Vehicle.Axles) + 1 {
		if lacking, covered := axles[n]; covered && (!known || len(lacking) < len(best)) {
			best, known = lacking, true
		}
	}
	return best
}

// winterFinding is the finding of tires without the mark; false if there are none, and
// outside the season and the time ahead of it.
func (c *checker) winterFinding(w legal.Winter, without []models.Position) (f models.Finding, found bool) {
	begins := c.nextSeason(*w.Season)
	ahead := begins.Add(-c.lookAhead())
	in := w.Season.Contains(c.today())
	if len(without) == 0 || !in && ahead.After(c.Now) {
		return f, false
	}

	var places []string
	for _, at := range without {
		places = append(places, string(at))
	}
	where := strings.Join(places, ", ")

	f = models.Finding{
		Code:    models.NoWinterMark,
		Urgency: models.Plan,
		Title:   "no winter mark in the record at " + where,
		FirstJob: fmt.Sprintf("Look at the sidewalls of %s: record the mountain and snowflake, or fit winter tires.",
			where),
		Safety: cautionWheels,
		Evidence: []models.Evidence{
			line("tires without the mark of a winter tire: %s", where),
			{Text: w.Text, Source: citation(w.Rule)},
		},
		Notice: w.Explain(),
	}

	// Until the season it is a plan; in the season it is urgent unless the rule depends on the weather.
	switch {
	case !in:
		f.Title += "; wanted from " + c.date(begins)
		f.Since, f.DueAt = ahead, &begins
	case w.Situational:
		f.Title += "; wanted in winter conditions"
		f.Since = c.seasonBegan(*w.Season)
	default:
		f.Urgency = models.DoNow
		f.Title += "; the law wants it now"
		f.Since = c.seasonBegan(*w.Season)
	}

	return f, true
}

// lookAhead is how long before the beginning of a season a tire is reported that the
// season's rule does not allow.
func (c *checker) lookAhead() time.Duration {
	return time.Duration(max(c.Policy.DueDays, c.Policy.ForecastDays)) * 24 * time.Hour
}

// nextSeason returns the next beginning of a season after now, and schedules rechecks for
// when the seasons of this and the next year come near, begin and end.
func (c *checker) nextSeason(s legal.Season) time.Time {
	var next time.Time
	year := c.Now.In(c.Zone).Year()
	for y := year; y <= year+1; y++ {
		end := s.End(y)
		begins := c.midnight(y, time.Month(s.From.Month), s.From.Day)
		c.scheduleRecheck(c.midnight(y, time.Month(end.Month), end.Day+1))
		c.scheduleRecheck(begins)
		c.scheduleRecheck(begins.Add(-c.lookAhead()))

		if next.IsZero() && begins.After(c.Now) {
			next = begins
		}
	}
	return next
}

// seasonBegan returns the beginning of the season that lasts now.
func (c *checker) seasonBegan(s legal.Season) time.Time {
	year := c.Now.In(c.Zone).Year()
	began := c.midnight(year, time.Month(s.From.Month), s.From.Day)
	if began.After(c.Now) {
		began = c.midnight(year-1, time.Month(s.From.Month), s.From.Day)
	}
	return began
}
