package say

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rimledger/models"
	"rimledger/models/units"
)

// AngleText writes the angle of p; no unbalance has none.
func AngleText(p models.PlaneUnbalance) string {
	if p.Mass.Value == 0 && (p.Unrounded == nil || p.Unrounded.Value == 0) {
		return ""
	}
	return fmt.Sprintf("%g°", float64(p.Angle))
}

// Where weights may go: in the two planes that the machine shows, called outer and
// inner, or at those of the four places of a wheel that are ticked. A place that is
// one of the planes shown goes by the plane's name.

var placeNames = map[string]string{
	"outer":        "outer",
	"inner":        "inner",
	"single":       "one plane",
	"outer_flange": "outer flange",
	"band":         "adhesive band",
	"back_band":    "back band",
	"inner_flange": "inner flange",
}

// PlaceName returns where a weight sits, in words.
func PlaceName(plane string) string {
	if n := placeNames[plane]; n != "" {
		return n
	}
	return Plain(plane)
}

// PlaneName returns the name of a plane in a list of weights.
func PlaneName(plane string) string {
	if plane == "outer" || plane == "inner" {
		return plane + " plane"
	}
	return PlaceName(plane)
}

func DescribeBalance(e *models.BalanceJob, u units.Style) []string {
	what := Plain(string(e.Why))
	if e.CheckSpin {
		what = "check spin"
	}
	if e.Position != "" {
		what = string(e.Position) + ": " + what
	}

	lines := []string{what + ", " + Plain(e.Mode)}
	if len(e.Shown) > 0 {
		lines = append(lines, "shown "+planesText(e.Shown, u))
	}

	for _, w := range e.Fitted {
		lines = append(
			lines,
			fmt.Sprintf(
				"fitted %s %s, %s, at %g°",
				u.WriteTypedMass(w.Mass.Value, w.Mass.Text),
				w.Type,
				PlaneName(w.Plane),
				float64(w.Angle),
			),
		)
	}

	if len(e.ShownAfter) > 0 {
		lines = append(lines, "after "+planesText(e.ShownAfter, u))
	}

	// The verdict comes before its doubts, which weaken it.
	switch v := e.Verdict; {
	case v.Within:
		lines = append(lines, "within the limit: "+u.Render(v.Limit))
	case v.Proven:
		lines = append(lines, "over the limit: "+u.Render(v.Reason))
	default:
		lines = append(lines, "not proven: "+v.Reason)
	}

	for _, doubt := range e.Verdict.Doubts {
		lines = append(lines, "doubtful: "+doubt)
	}

	if e.Media != nil {
		lines = append(
			lines,
			fmt.Sprintf("loose media inside: %s, %s, put in %s", e.Media.Type, e.Media.Dose, u.WriteDate(e.Media.In)),
		)
	}

	lines = append(lines, e.Notes...)
	return append(lines, torqueLine(e.TorqueNM, u)...)
}

// DescribeBalanceRecord says what is kept of the newest job of an assembly.
func DescribeBalanceRecord(b models.BalanceRecord, u units.Style) []string {
	out := []string{Plain(string(b.Why)) + "."}
	if b.CheckSpin {
		out[0] = "check spin."
	}

	switch {
	case b.Verdict.Within:
		out = append(out, "Within the limit.")
	case b.Verdict.Proven:
		out = append(out, "Over the limit: "+u.Render(b.Verdict.Reason)+".")
	default:
		out = append(out, "Not proven: "+b.Verdict.Reason+".")
	}

	for _, doubt := range b.Verdict.Doubts {
		out = append(out, "Doubtful: "+doubt+".")
	}

	if b.Drift != nil && b.Drift.WorstG > 0 {
		out = append(out, DescribeDrift(*b.Drift, u))
	}
	return out
}

// DescribeDrift says how what an assembly asks for has changed since the job before.
func DescribeDrift(d models.BalanceDrift, u units.Style) string {
	start := "Since the job before, what the bare assembly asks for has changed: "
	if d.LeftOn {
		start = "Since the job before, with the weights left on, what it asks for has changed: "
	}
	if !slices.ContainsFunc(d.Planes, func(p models.PlaneUnbalance) bool { return p.Mass.Value > 0 }) {
		return strings.TrimSuffix(start, "has changed: ") + "has not changed."
	}

	var parts []string
	for _, p := range d.Planes {
		change := "nothing"
		if p.Mass.Value > 0 {
			change = fmt.Sprintf(
				"%s at %.0f°",
				u.WriteMass(units.Mass(math.Round(float64(p.Mass.Value)*10)/10)),
				float64(p.Angle),
			)
		}

		parts = append(parts, p.Plane+" "+change)
	}

	return start + strings.Join(parts, ", ") + "."
}

func planesText(list []models.PlaneUnbalance, u units.Style) string {
	var out []string
	for _, p := range list {
		out = append(out, p.Plane+" "+u.WriteTypedMass(p.Mass.Value, p.Mass.Text)+Prefixed(" at ", AngleText(p)))
	}
	return strings.Join(out, ", ")
}

// BlockedText describes a stretch of the circle where nothing fits.
func BlockedText(a models.Arc) string {
	out := fmt.Sprintf("nothing fits at %g-%g°", a.From, a.To)
	if a.At != "" {
		out += " on the " + PlaceName(a.At)
	}
	return out
}

// WheelMeasureNames are what can be measured of an assembly, in the order of the work.
var WheelMeasureNames = map[models.TruenessKind]string{
	models.BeadGap:      "bead gap, flange to bead line",
	models.TireRadial:   "tire, radial",
	models.TireLateral:  "tire, lateral",
	models.WheelRadial:  "rim, radial",
	models.WheelLateral: "rim, lateral",
}

func describeWheelCheck(e *models.WheelCheck) []string {
	var lines []string
	for _, m := range e.Measures {
		lines = append(lines, DescribeMeasure(m))
	}
	if e.Position != "" && len(lines) > 0 {
		lines[0] = string(e.Position) + ": " + lines[0]
	}
	return lines
}

func DescribeMeasure(m models.TruenessMeasure) string {
	line := fmt.Sprintf("%s: %s", WheelMeasureNames[m.What], m.Value.Text)
	if m.Place != "" {
		line += ", " + m.Place
	}
	if m.High != nil {
		line += fmt.Sprintf(", highest at %g°", float64(*m.High))
	}
	return line
}
