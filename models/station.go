package models

import (
	"regexp"
	"strconv"
	"strings"

	"rimledger/models/units"
)

// Station is a place on the way around a tire, clockwise from the valve seen from outside.
type Station struct {
	Deg   float64      // degrees from the valve, 0 up to 360; of a place by tape: resolved by the use-case
	Along units.Length // by tape on the tread from the valve; 0: given by angle
	Text  string       // as typed
}

// stationForm is the three ways to write a station: a clock, an angle, a length.
var (
	stationClock = regexp.MustCompile(`^(\d{1,2})(?::([0-5]\d))?\s*(o'clock)?$`)
	stationAngle = regexp.MustCompile(`^(\d{1,3}(?:[.,]\d{1,4})?)\s*(°|deg|degrees)?$`)
)

// ParseStation reads a place around a tire: an angle such as "20" or "20°", a clock with
// the valve at 12 such as "4:30" or "4 o'clock", or a length by tape on the tread from the
// valve, such as "180 mm" or "7 in". Errors: *units.ParseError.
func ParseStation(text string) (Station, error) {
	s := Station{Text: strings.TrimSpace(text)}
	plain := strings.ToLower(s.Text)

	if m := stationClock.FindStringSubmatch(plain); m != nil && (m[2] != "" || m[3] != "") {
		hour, _ := strconv.Atoi(m[1])
		minute, _ := strconv.Atoi("0" + m[2])
		if hour > 12 {
			return s, &units.ParseError{Text: text, Reason: "a clock goes from 0:00 to 12:59, with the valve at 12"}
		}
		s.Deg = float64(hour%12)*30 + float64(minute)/2
		return s, nil
	}

	if m := stationAngle.FindStringSubmatch(plain); m != nil {
		s.Deg, _ = strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
		if s.Deg >= 360 {
			return s, &units.ParseError{Text: text, Reason: "an angle goes from 0 at the valve up to 360 degrees"}
		}
		return s, nil
	}

	along, err := units.ParseLength(s.Text, units.BareNone)
	if err != nil {
		return s, &units.ParseError{Text: text,
			Reason: "write an angle (20°), a clock with the valve at 12 (4:30) or a length by tape (180 mm)"}
	}
	s.Along = along
	return s, nil
}

// The circumferences of a tread that are believed: chosen by us.
const (
	leastAround = 500 * units.Millimetre
	mostAround  = 8 * units.Metre
)

// Resolve sets the angle of a place by tape from the tread's circumference. It returns what
// would be right if there is no angle, else "".
func (s *Station) Resolve(around units.Length) string {
	if s.Along > 0 {
		switch {
		case around == 0:
			return "is a length by tape; give the tape once around the tread too, or write an angle"
		case around < leastAround || around > mostAround:
			return "needs a tape once around the tread of 500 mm to 8 m"
		case s.Along >= around:
			return "must be less than the tape once around the tread"
		}
		s.Deg = 360 * float64(s.Along) / float64(around)
	}

	if !(s.Deg >= 0 && s.Deg < 360) {
		return "must be an angle from 0 at the valve up to 360 degrees"
	}
	return ""
}
