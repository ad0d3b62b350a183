package assess

import (
	"math"
	"strings"

	"rimledger/models"
	"rimledger/models/units"
	"rimledger/models/vibration"
)

// complaints reports vibration that a driver has reported and nobody has closed, with
// the causes that the newest report points to.
func (c *checker) complaints() {
	if len(c.State.Complaints) == 0 {
		return
	}

	oldest := c.State.Complaints[0]
	f := models.Finding{Code: models.VibrationOpen, Urgency: models.DoNow, Since: oldest.At, Safety: cautionRoad}
	for _, o := range c.State.Complaints {
		f.Evidence = append(f.Evidence,
			line("reported on %s%s: %s", c.date(o.At), by(o.Report.Person), c.describeShake(o.Report)))
		if o.At.Before(oldest.At) {
			oldest = o
		}
	}

	// The title is about the report that waits longest, the advice about the newest.
	f.Since = oldest.At
	f.Title = "driver reports a shake, " + c.describeShake(oldest.Report)

	newest := c.State.Complaints[len(c.State.Complaints)-1]
	if r, err := vibration.Read(c.report(newest.Report)); err == nil {
		f.Evidence = append(f.Evidence, pointsTo(r)...)
		f.FirstJob = afterReport[r.First()]
		if r.Urgent {
			f.Urgency, f.Safety = models.OffTheRoad, cautionPark+" "+cautionRoad
		}
	}

	// Where the report says too little, the most frequent cause is looked at first.
	if f.FirstJob == "" {
		f.FirstJob = afterReport[vibration.OrderOne]
	}
	c.add(nil, f)
}

// afterReport is the first job by the cause that a report points to. The order of
// the checks is that of workshop manuals on vibration; driveline, engine and brakes:
// common practice, no source.
var afterReport = map[vibration.Cause]string{
	vibration.OrderOne: "Pressures, looseness and dampers first; then run-out and bead seat; " +
		"then spin the wheels, the front pair first if the steering wheel shakes.",
	vibration.OrderTwo: "Look for oval or twice-worn tires and run-out; then spin the wheels.",
	vibration.RunOut: "Look for a bulge, a broken belt or a bent wheel " +
		"and check run-out and bead seat before it is driven again.",
	vibration.RoughWear:   "Feel the treads for cups, heel-and-toe wear and flat spots.",
	vibration.Brake:       "Check rotors and drums; balancing will not cure it.",
	vibration.Driveline:   "Check driveshaft and joints; balancing will not cure it.",
	vibration.Engine:      "Check the engine and its mounts; balancing will not cure it.",
	vibration.ParkedFlats: "Drive it warm and feel again: flats from standing go away.",
}

// pointsTo returns the indications of a report as evidence with points.
func pointsTo(r vibration.Reading) []models.Evidence {
	var out []models.Evidence
	for _, i := range r.Indications {
		for _, why := range i.Reasons {
			out = append(out, models.Evidence{Text: why.Text, Source: why.Basis, Points: int(math.Round(why.Points))})
		}
	}
	if r.End != "" {
		out = append(out, sourced(r.EndReason.Basis, "%s", r.EndReason.Text))
	}
	return out
}

// report puts a driver's words as package vibration reads them.
func (c *checker) report(v models.Vibration) vibration.Report {
	r := vibration.Report{
		Class:         c.vibrationClass(),
		StartsKMH:     v.StartsKMH,
		WorstKMH:      v.WorstKMH,
		FadesKMH:      v.FadesKMH,
		ReturnsHigher: v.ReturnsHigher,
		FeltAt:        v.FeltAt,
		Places:        v.Places,
		Braking:       v.Braking,
		Throttle:      v.Throttle,
		Neutral:       v.Neutral,
		Since:         v.Since,
		WarmFixes:     v.WarmFixes,
		Audible:       v.Audible,
	}

	for _, b := range v.Bands {
		r.Bands = append(r.Bands, vibration.SpeedBand(b))
	}

	// The first size is taken for all: the orders need only the circumference of a usual wheel.
	if len(c.places) > 0 {
		if size, known := c.size(c.places[0]); known {
			r.CircumferenceMM = size.RollingCircumference().Millimetres()
		}
	}

	return r
}

// describeShake is a vibration report in words.
func (c *checker) describeShake(v models.Vibration) string {
	parts := []string{describeCourse(v.Course())}

	var places []string
	for _, at := range v.Felt() {
		places = append(places, plainWords(at))
	}
	if len(places) > 0 {
		parts = append(parts, "felt at the "+listed(places))
	}

	effects := []struct{ effect, when string }{
		{v.Braking, "under braking"}, {v.Throttle, "under throttle"}, {v.Neutral, "in neutral"},
	}
	for _, e := range effects {
		if e.effect != "" {
			parts = append(parts, e.effect+" "+e.when)
		}
	}

	return strings.Join(parts, ", ")
}

// describeCourse is the bands of speed of a shake in words, lowest first.
func describeCourse(course []models.SpeedBand) string {
	var bands []string
	for _, b := range course {
		bands = append(bands, describeBand(b))
	}
	if len(bands) == 0 {
		return "speed not said"
	}
	return strings.Join(bands, " and again ")
}

// describeBand is one band in words: where it is worst, else from where to where.
func describeBand(b models.SpeedBand) string {
	s := ""
	switch {
	case b.WorstKMH > 0:
		s = "worst at " + units.MarkSpeed(b.WorstKMH)
	case b.FromKMH > 0 && b.ToKMH > 0:
		s = units.MarkSpeed(b.FromKMH) + " to " + units.MarkSpeed(b.ToKMH)
	case b.FromKMH > 0:
		s = "from " + units.MarkSpeed(b.FromKMH) + " on"
	default:
		s = "up to " + units.MarkSpeed(b.ToKMH)
	}

	if b.Strength != "" {
		s += " (" + b.Strength + ")"
	}
	return s
}

// listed joins words: "a", "a and b", "a, b and c".
func listed(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " and " + words[last]
}
