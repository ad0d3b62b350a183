package draw

import (
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// StayLine is one place of a tire's life as its page shows it.
type StayLine struct {
	fleet.Stay
	Vehicle string // empty: not to be seen
	Travel  string // distance there
	Depth   string // when it came and when it left
	Late    string // why the first depth is not that of the first day
	Rate    string
	Doubt   string // why the rate is uncertain; empty if it is not
}

// NewStayLine describes a stay in the person's units.
func NewStayLine(s fleet.Stay, vehicle string, u units.Style) StayLine {
	l := StayLine{Stay: s, Vehicle: vehicle, Travel: "not known", Depth: "not read", Rate: "–"}
	far := func(km float64) string {
		return u.WriteDistance(units.DistanceFromKilometres(km))
	}

	if s.KMKnown {
		l.Travel = far(s.KM)
		if s.Judged {
			l.Travel = "about " + l.Travel
		}
	}

	// A depth is shown only where it was read at this place.
	switch {
	case s.Start != nil && s.End != nil:
		l.Depth = u.WriteEstimate(s.Start.MM) + " to " + u.WriteEstimate(s.End.MM)
	case s.Start != nil:
		l.Depth = u.WriteEstimate(s.Start.MM) + " when it came; not read since"
	}

	if s.Start != nil && s.Late {
		l.Late = "first read after it came"
		if s.LateKM > 0 {
			l.Late = "first read " + far(s.LateKM) + " after it came"
		}
	}

	// A rate needs two readings at different distances; what is missing is said instead.
	switch {
	case s.Position.IsSpare():
		l.Travel, l.Rate = "carried, does not roll", "–"
	case s.Wear != nil:
		lo, hi := s.Wear.Within90()
		l.Rate = rateText(s.Wear.RateMM, lo, hi, u)
		if s.TooEarly {
			l.Doubt = "too little wear seen yet for this gauge"
		}
	case s.Readings == 0:
		l.Doubt = "no depth read there at a known distance"
	default:
		l.Doubt = "read at one place of the odometer only; a second reading is needed"
	}

	return l
}

// rateText writes a rate with its 90 % interval; where that reaches down to
// nothing, only how much it is at most.
func rateText(mm, lo, hi float64, u units.Style) string {
	say := func(mm float64) string { return u.WriteNumber(mm, 3) + " mm" }
	each := " per " + u.WriteCount(1_000) + " km"
	if u.Depth == units.In32 {
		say = func(mm float64) string { return u.WriteNumber(units.Rate32(mm), 2) + "/32 in" }
		each = " per " + u.WriteCount(10_000) + " mi"
	}
	if lo == 0 {
		return "at most " + say(hi) + each
	}
	return say(mm) + each + " (9 times in 10 between " + say(lo) + " and " + say(hi) + ")"
}
