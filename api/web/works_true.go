package web

import (
	"fmt"
	"strconv"
	"strings"

	"rimledger/models"
	"rimledger/models/units"
)

// trueNames are what can be measured of an assembly, in the order of the work.
var trueNames = map[models.TrueWhat]string{models.BeadGap: "bead gap, flange to bead line", models.TireRadial: "tire, radial",
	models.TireLateral: "tire, lateral", models.WheelRadial: "rim, radial", models.WheelLateral: "rim, lateral"}

// trueSides are the sides of a wheel that a form asks for: seen across the tread,
// the radial run-out of a tire has one place.
func trueSides(w models.TrueWhat) []string {
	if w == models.TireRadial {
		return []string{"center"}
	}
	return []string{"outer", "inner"}
}

func layoutWheelCheck(f *workForm) []section {
	out := []section{{Legend: "Which", Hint: "Write each size with its unit, such as 0.060 in, 2/32 in or 1.5 mm; angles in degrees clockwise from the valve, seen from outside.", Fields: []field{f.selectField("position", "Tire at", "choose", f.mountedAt()),
		f.tickField("on_vehicle", "Turned on the vehicle's hub", "leave it if it was turned on the balancer")}}}
	for _, w := range models.TrueWhats {
		s := section{Legend: strings.ToUpper(trueNames[w][:1]) + trueNames[w][1:]}
		for _, side := range trueSides(w) {
			name := string(w) + "." + side
			s.Fields = append(s.Fields, f.textField(name, "Varies by, "+side, "", ""),
				f.textField(name+".high", "Highest at, "+side, "°", ""))
		}
		out = append(out, s)
	}
	return out
}

func buildWheelCheck(f *workForm) models.Event {
	e := &models.WheelCheck{Meta: f.header(), Position: models.Position(f.text("position")), OnVehicle: f.ticked("on_vehicle")}
	f.as("position", "position")
	f.as("tire_id", "position")
	f.as("measures", string(models.BeadGap)+".outer")
	if e.Position == "" {
		f.fault("position", "choose the assembly that was measured")
	}
	for _, w := range models.TrueWhats {
		for _, side := range trueSides(w) {
			name := string(w) + "." + side
			if f.text(name) == "" && f.text(name+".high") == "" {
				continue
			}
			f.as(fmt.Sprintf("measures[%d]", len(e.Measures)), name)
			f.as(fmt.Sprintf("measures[%d].high_at_deg", len(e.Measures)), name+".high")
			v, err := models.ParseSize(f.text(name))
			if err != nil {
				f.fault(name, remedy(err))
			}
			e.Measures = append(e.Measures, models.TrueMeasure{What: w, Place: side, Value: v, High: f.angle(name + ".high")})
		}
	}
	return e
}

// angle reads an angle that may be left out.
func (e *entry) angle(name string) *units.Angle {
	t := strings.TrimSuffix(e.text(name), "°")
	if t == "" {
		return nil
	}
	v, err := strconv.ParseFloat(e.units.Plain(t), 64)
	if err != nil {
		e.fault(name, strconv.Quote(t)+": write degrees clockwise from the valve, 0 up to 360")
		return nil
	}
	a := units.Angle(v)
	return &a
}

func tellWheelCheck(e *models.WheelCheck) []string {
	var lines []string
	for _, m := range e.Measures {
		lines = append(lines, tellMeasure(m))
	}
	if e.Position != "" && len(lines) > 0 {
		lines[0] = string(e.Position) + ": " + lines[0]
	}
	return lines
}

func tellMeasure(m models.TrueMeasure) string {
	line := fmt.Sprintf("%s: %s", trueNames[m.What], m.Value.Text)
	if m.Place != "" {
		line += ", " + m.Place
	}
	if m.High != nil {
		line += fmt.Sprintf(", highest at %g°", float64(*m.High))
	}
	return line
}
