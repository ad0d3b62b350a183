package say

import (
	"fmt"
	"strings"

	"rimledger/models"
	"rimledger/models/units"
)

// DescribeEvent says in lines what an event was.
//
//revive:disable-next-line:cyclomatic,cognitive-complexity
func DescribeEvent(e models.Event, u units.Style) []string {
	switch e := e.(type) {
	case *models.Fit:
		var at []string
		for _, f := range e.Fittings {
			at = append(at, string(f.Position))
		}
		line := "at " + strings.Join(at, ", ")
		if e.Existing {
			line += " (found there, nothing was done)"
		}
		return append([]string{line}, torqueLine(e.TorqueNM, u)...)
	case *models.Removal:
		var lines []string
		for _, x := range e.Removed {
			line := fmt.Sprintf("%s: %s, to %s", x.Position, Plain(string(x.Reason)), Plain(string(x.To)))
			if x.MinDepth != nil {
				line += ", " + u.WriteTypedDepth(x.MinDepth.Value, x.MinDepth.Text) + " left"
			}
			lines = append(lines, line)
		}
		return lines
	case *models.Rotation:
		var moves []string
		for _, m := range e.Moves {
			moves = append(moves, fmt.Sprintf("%s to %s", m.From, m.To))
		}
		return append([]string{strings.Join(moves, ", ")}, torqueLine(e.TorqueNM, u)...)
	case *models.BalanceJob:
		return DescribeBalance(e, u)
	case *models.Repair:
		line := e.What
		if e.Position != "" {
			line = string(e.Position) + ": " + line
		}
		if e.Demounted {
			line += " (taken off its wheel)"
		}
		return []string{line}
	case *models.Alignment:
		return nonEmpty(axlesText(e.Axles), Prefixed("found ", e.Found), Prefixed("set ", e.Set))
	case *models.Retorque:
		where := "all wheels"
		if len(e.Positions) > 0 {
			where = fmt.Sprint(e.Positions)
		}
		return append([]string{where}, torqueLine(e.TorqueNM, u)...)
	case *models.Service:
		if e.Axle > 0 {
			return []string{fmt.Sprintf("%s, axle %d", e.What, e.Axle)}
		}
		return []string{e.What}
	case *models.Vibration:
		return describeVibration(e, u)
	case *models.Clearance:
		var codes []string
		for _, c := range e.Codes {
			codes = append(codes, ObservationName(c))
		}
		return []string{fmt.Sprintf("%s: %s", e.Position, strings.Join(codes, ", "))}
	case *models.WheelCheck:
		return describeWheelCheck(e)
	case *models.TireMove:
		return []string{"to " + Plain(string(e.To))}
	}

	return nil
}

// DescribeInspection says what was read in one line, and in a line a position; of
// one tire only, if that is named.
func DescribeInspection(e *models.Inspection, tire models.TireID, u units.Style) (summary string, lines []string) {
	var least models.Depth

	var at models.Position
	for _, r := range e.Readings {
		if tire != "" && r.TireID != tire {
			continue
		}
		if d, ok := r.Min(); ok && (at == "" || d.Value < least.Value) {
			least, at = d, r.Position
		}

		parts := nonEmpty(
			strings.Join(TypedDepths(r, u), "; "),
			Prefixed("read at ", StationsText(r)),
			Prefixed("pressure ", PressureText(r, u)),
		)
		for _, o := range r.Observations {
			parts = append(parts, DescribeObservation(o))
		}

		lines = append(lines, string(r.Position)+": "+strings.Join(parts, "; "))
	}

	// The page of one tire shows neither a summary of the visit nor what was seen of the vehicle.
	if tire != "" {
		return "", lines
	}

	for _, o := range e.Vehicle {
		lines = append(lines, "Vehicle: "+DescribeObservation(o))
	}

	summary = Plural(len(e.Readings), "position", "positions")
	if at != "" {
		summary += fmt.Sprintf(", shallowest %s at %s", u.WriteTypedDepth(least.Value, least.Text), at)
	}

	return summary, lines
}

func DescribeObservation(o models.Observation) string {
	s := ObservationName(o.Code)
	if o.Count > 0 {
		s = fmt.Sprintf("%d %s", o.Count, s)
	}
	if o.Direction != "" {
		s += " " + o.Direction
	}
	if o.Place != "" {
		s += ", " + Plain(o.Place)
	}

	if o.Axle > 0 {
		s += fmt.Sprintf(", axle %d", o.Axle)
	}
	if o.Note != "" {
		s += ": " + o.Note
	}

	return s
}

func describeVibration(e *models.Vibration, u units.Style) []string {
	if e.Settles != "" {
		return []string{"an earlier complaint is gone"}
	}

	var bands, places []string
	for _, b := range e.Course() {
		bands = append(bands, SpeedBandText(b, u))
	}
	for _, at := range e.Felt() {
		places = append(places, Plain(at))
	}

	parts := nonEmpty(
		strings.Join(bands, "; and again "),
		onlyIf(e.ReturnsHigher && len(bands) < 2, "comes back at a higher speed"),
		Prefixed("felt in the ", strings.Join(places, ", ")),
		Prefixed("braking: ", e.Braking),
		Prefixed("throttle: ", e.Throttle),
		Prefixed("neutral: ", e.Neutral),
		vibrationSince[e.Since],
		onlyIf(e.Audible, "heard"),
		onlyIf(e.WarmFixes, "gone when warm"),
	)

	return []string{strings.Join(parts, ", ")}
}

// SpeedBandText says in which speeds a shake is felt and how strong it is; what is not
// known is left out.
func SpeedBandText(b models.SpeedBand, u units.Style) string {
	speed := func(label string, kmh float64) string {
		if kmh == 0 {
			return ""
		}
		return label + " " + u.WriteSpeed(kmh)
	}

	parts := nonEmpty(speed("starts", b.FromKMH), speed("worst", b.WorstKMH), speed("fades", b.ToKMH), b.Strength)
	return strings.Join(parts, ", ")
}

// vibrationSince says since when a vehicle shakes.
var vibrationSince = map[string]string{
	"fit":      "since tires were fitted",
	"rotation": "since a rotation",
	"pothole":  "since a pothole",
	"repair":   "since a repair",
	"parked":   "since it stood for long",
	"gradual":  "it came gradually",
}

func axlesText(axles []int) string {
	if len(axles) == 0 {
		return "all axles"
	}
	return fmt.Sprintf("axles %v", axles)
}

func torqueLine(nm float64, u units.Style) []string {
	if nm == 0 {
		return nil
	}
	return []string{"nuts at " + u.WriteTorque(units.Torque(nm))}
}

func Prefixed(before, s string) string {
	if s == "" {
		return ""
	}
	return before + s
}

func onlyIf(ok bool, s string) string {
	if ok {
		return s
	}
	return ""
}

func nonEmpty(list ...string) []string {
	var out []string
	for _, s := range list {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}
