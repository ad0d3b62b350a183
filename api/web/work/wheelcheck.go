package work

import (
	"fmt"
	"strconv"
	"strings"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/units"
)

// sidesOf are the sides of a wheel that a form asks for: seen across the tread,
// the radial run-out of a tire has one place.
func sidesOf(w models.TruenessKind) []string {
	if w == models.TireRadial {
		return []string{"center"}
	}
	return []string{"outer", "inner"}
}

func layoutWheelCheck(f *workForm) []form.Section {
	out := []form.Section{
		{
			Legend: "Which",
			Hint: "Write each size with its unit, such as 0.060 in, 2/32 in or 1.5 mm; angles in degrees " +
				"clockwise from the valve, seen from outside.",
			Fields: []form.Field{f.SelectField("position", "Tire at", "choose", f.mountedAt()),
				f.TickField("on_vehicle", "Turned on the vehicle's hub", "leave it if it was turned on the balancer")},
		},
	}

	for _, w := range models.TruenessKinds {
		s := form.Section{Legend: strings.ToUpper(say.WheelMeasureNames[w][:1]) + say.WheelMeasureNames[w][1:]}
		for _, side := range sidesOf(w) {
			name := string(w) + "." + side
			s.Fields = append(s.Fields, f.TextField(name, "Varies by, "+side, "", ""),
				f.TextField(name+".high", "Highest at, "+side, "°", ""))
		}
		out = append(out, s)
	}

	return out
}

func buildWheelCheck(f *workForm) models.Event {
	e := &models.WheelCheck{
		Meta:      f.header(),
		Position:  models.Position(f.Text("position")),
		OnVehicle: f.Ticked("on_vehicle"),
	}

	f.MapField("position", "position")
	f.MapField("tire_id", "position")
	f.MapField("measures", string(models.BeadGap)+".outer")

	if e.Position == "" {
		f.AddFault("position", "choose the assembly that was measured")
	}

	for _, w := range models.TruenessKinds {
		for _, side := range sidesOf(w) {
			name := string(w) + "." + side
			if f.Text(name) == "" && f.Text(name+".high") == "" {
				continue
			}
			f.MapField(fmt.Sprintf("measures[%d]", len(e.Measures)), name)
			f.MapField(fmt.Sprintf("measures[%d].high_at_deg", len(e.Measures)), name+".high")

			v, err := models.ParseSize(f.Text(name))
			if err != nil {
				f.AddFault(name, form.Remedy(err))
			}
			e.Measures = append(
				e.Measures,
				models.TruenessMeasure{What: w, Place: side, Value: v, High: optionalAngle(f.Entry, name+".high")},
			)
		}
	}

	return e
}

// optionalAngle reads an angle that may be left out.
func optionalAngle(e *form.Entry, name string) *units.Angle {
	t := strings.TrimSuffix(e.Text(name), "°")
	if t == "" {
		return nil
	}
	v, err := strconv.ParseFloat(e.Units.Plain(t), 64)
	if err != nil {
		e.AddFault(name, strconv.Quote(t)+": write degrees clockwise from the valve, 0 up to 360")
		return nil
	}
	a := units.Angle(v)
	return &a
}
