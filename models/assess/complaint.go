package assess

import "rimledger/models"

// complaints reports vibration that drivers told of and nobody settled.
func (c *checker) complaints() {
	if len(c.State.Complaints) == 0 {
		return
	}
	first := c.State.Complaints[0]
	f := models.Finding{Code: models.VibrationOpen, Urgency: models.DoNow, Since: first.At,
		FirstJob: "Pressures, looseness and dampers first; then spin the wheels, the front pair first if the steering wheel shakes.",
		Safety:   cautionRoad}
	for _, o := range c.State.Complaints {
		f.Evidence = append(f.Evidence, line("reported on %s%s: %s", c.date(o.At), by(o.Report.Person), c.shake(o.Report)))
		if o.At.Before(f.Since) {
			f.Since, first = o.At, o
		}
	}
	f.Title = "driver reports a shake, " + c.shake(first.Report)
	c.add(nil, f)
}

// shake is a vibration report in words.
func (c *checker) shake(v models.Vibration) string {
	s := "speed not said"
	switch {
	case v.WorstKMH > 0:
		s = "worst at " + c.speed(v.WorstKMH)
	case v.StartsKMH > 0:
		s = "from " + c.speed(v.StartsKMH) + " on"
	}
	if v.FeltAt != "" {
		s += ", felt at the " + word(v.FeltAt)
	}
	for _, e := range []struct{ effect, when string }{{v.Braking, "under braking"}, {v.Throttle, "under throttle"}, {v.Neutral, "in neutral"}} {
		if e.effect != "" {
			s += ", " + e.effect + " " + e.when
		}
	}
	return s
}
