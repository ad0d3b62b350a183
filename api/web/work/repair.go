package work

import (
	"fmt"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
)

// benchWorks are the works on one assembly.
func benchWorks() []work {
	return []work{
		{Kind: "repair", Title: "Repair", Intro: "A repair to one tire.",
			Cautions: func(v models.Vehicle) []string {
				list := []string{
					say.CautionRunLow,
					say.CautionHot,
					"Look inside before air goes in; ripples or popping sounds while inflating mean stand clear and " +
						"let the air out from a distance.",
					say.CautionJack,
				}

				if v.Class.Heavy() {
					list = append(list, say.CautionInflate)
				}
				return append(list, say.CautionLocal)
			},
			layout: layoutRepair, build: buildRepair},
		{
			Kind:  "clearance",
			Title: "Clear damage",
			Intro: "A named person's word that damage found earlier no longer keeps the tire off the road.",
			Cautions: func(models.Vehicle) []string {
				return []string{
					"Clear only what you have looked at yourself, or what was repaired or replaced. Your name stays " +
						"with it.",
					say.CautionLocal,
				}
			},
			layout: layoutClearance,
			build:  buildClearance,
		},
		{
			Kind:  "wheel-check",
			Title: "Bead seat and run-out",
			Intro: "What a dial gauge or a ruler shows in one turn: highest less lowest, with its unit. Leave empty " +
				"what was not measured.",
			Cautions: func(models.Vehicle) []string {
				return []string{
					say.CautionJack,
					"Turn the wheel by hand, fingers clear of gauge and brake; engine off and brakes chocked on the " +
						"other wheels.",
					say.CautionLocal,
				}
			},
			layout: layoutWheelCheck,
			build:  buildWheelCheck,
		},
	}
}

func layoutRepair(f *workForm) []form.Section {
	return []form.Section{{Legend: "What", Fields: []form.Field{
		f.SelectField("position", "Tire at", "choose", f.mountedAt()),
		f.AreaField("what", "What was repaired", "such as: plug and patch in the center of the tread"),
		f.TickField("demounted", "The tire came off its wheel", "it must then be balanced again"),
		f.NumberField("cost", "Cost", f.view.Depot.Currency),
	}}}
}

func buildRepair(f *workForm) models.Event {
	e := &models.Repair{
		Meta:      f.header(),
		Position:  models.Position(f.Text("position")),
		What:      f.Text("what"),
		Demounted: f.Ticked("demounted"),
		CostCents: f.Cents("cost"),
	}

	f.MapField("what", "what")
	f.MapField("position", "position")
	f.MapField("tire_id", "position")
	f.MapField("cost_cents", "cost")

	if e.Position == "" {
		f.AddFault("position", "choose the tire that was repaired")
	}
	return e
}

func layoutClearance(f *workForm) []form.Section {
	s := form.Section{Legend: "What is cleared"}

	var open []form.Option
	for _, t := range f.view.Tires {
		for _, d := range t.State.Damage {
			open = append(open, form.Option{Value: string(t.State.Position) + " " + string(d.Observation.Code),
				Label: fmt.Sprintf(
					"%s, tire %s: %s, seen %s",
					t.State.Position,
					t.Tire.Number,
					say.ObservationName(d.Observation.Code),
					f.Units.WriteDate(d.At.In(say.Zone(f.view.Depot))),
				)})
		}
	}

	s.Hint = "One place at a time. Say in the note what was done or found."
	if len(open) == 0 {
		s.Hint = "No damage is open on this vehicle: there is nothing to clear."
	}
	s.Fields = []form.Field{f.ChecksField("codes", "Damage", open)}
	return []form.Section{s}
}

func buildClearance(f *workForm) models.Event {
	e := &models.Clearance{Meta: f.header()}
	f.MapField("codes", "codes")
	f.MapField("position", "codes")

	for _, v := range f.Sent["codes"] {
		var pos, code string
		if n, _ := fmt.Sscanf(v, "%s %s", &pos, &code); n != 2 {
			continue
		}
		if e.Position != "" && e.Position != models.Position(pos) {
			f.AddFault("codes", "clear one place at a time; each has its own note")
		}
		e.Position = models.Position(pos)
		e.Codes = append(e.Codes, models.ObservationCode(code))
	}

	if e.Position == "" {
		f.AddFault("codes", "tick what is cleared")
	}
	return e
}
