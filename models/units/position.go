package units

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// maxTurns bounds an angle as it is typed: more turns than anyone counts are a slip.
const maxTurns = 36_000.0

var (
	clockTime  = regexp.MustCompile(`^(\d{1,2})(?::([0-5]\d))?\s*(o\s?['’]?\s?clock)?$`)
	withRadius = regexp.MustCompile(`^(.+?),?\s+radius\s+(.+)$`)
)

// ParsePosition reads where something sits around a wheel, seen from outside, as a shop reads
// it: degrees clockwise from the valve ("120", "120°", "120 deg"), the clock with the valve at
// twelve ("4 o'clock", "4:30"), or the distance along the rim clockwise from the valve
// ("210 mm", "8 in"). A distance needs the radius of the circle that it is measured on: radius,
// or its own ("210 mm, radius 285 mm"). The angle is not brought into a turn.
func ParsePosition(text string, radius Length) (Angle, error) {
	s := strings.ToLower(strings.TrimSpace(text))
	if m := clockTime.FindStringSubmatch(s); m != nil && m[2]+m[3] != "" {
		return clockPosition(text, m[1], m[2])
	}

	number := s
	for _, word := range []string{"°", "degrees", "deg"} {
		number = strings.TrimSpace(strings.TrimSuffix(number, word))
	}
	if v, err := strconv.ParseFloat(number, 64); err == nil {
		if math.IsNaN(v) || math.Abs(v) > maxTurns {
			return 0, refuse(text, "write degrees clockwise from the valve, 0 to 360")
		}
		return Angle(v), nil
	}

	along := s
	if m := withRadius.FindStringSubmatch(s); m != nil {
		r, err := ParseLength(m[2], BareNone)
		if err != nil {
			return 0, err
		}
		along, radius = m[1], r
	}

	return rimPosition(text, along, radius)
}

// clockPosition reads the clock with the valve at twelve.
func clockPosition(text, hours, minutes string) (Angle, error) {
	h, _ := strconv.Atoi(hours)
	if h > 12 {
		return 0, refuse(text, "write the hour from 1 to 12, the valve at 12, such as 4:30")
	}

	m, _ := strconv.Atoi(minutes) // none: the full hour
	return Angle(float64(h%12)*30 + float64(m)/2), nil
}

// rimPosition reads a distance along a circle of a radius.
func rimPosition(text, along string, radius Length) (Angle, error) {
	l, err := ParseLength(along, BareNone)
	switch {
	case err != nil:
		return 0, refuse(text, "write degrees clockwise from the valve seen from outside, such as 120; "+
			"or the clock, such as 4:30; or the distance along the rim, such as 210 mm")
	case radius <= 0:
		return 0, refuse(text, "a distance along the rim needs its radius: measure it first, or write it too, "+
			"such as 210 mm, radius 285 mm")
	}

	return Angle(float64(l) / float64(radius) * 180 / math.Pi), nil
}
