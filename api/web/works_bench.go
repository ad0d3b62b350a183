package web

import (
	"fmt"

	"rimledger/models"
)

// benchWorks are the works on one assembly.
func benchWorks() []work {
	return []work{
		{Kind: "repair", Title: "Repair", Intro: "A repair to one tire.",
			Cautions: func(v models.Vehicle) []string {
				list := []string{cautionRunLow, cautionHot, "Look inside before air goes in; ripples or popping sounds while inflating mean stand clear and let the air out from a distance.", cautionJack}
				if v.Class.Heavy() {
					list = append(list, cautionInflate)
				}
				return append(list, cautionLocal)
			},
			layout: layoutRepair, build: buildRepair},
		{Kind: "clearance", Title: "Clear damage", Intro: "A named person's word that damage found earlier no longer keeps the tire off the road.",
			Cautions: func(models.Vehicle) []string {
				return []string{"Clear only what you have looked at yourself, or what was repaired or replaced. Your name stays with it.", cautionLocal}
			},
			layout: layoutClearance, build: buildClearance},
		{Kind: "wheel-check", Title: "Bead seat and run-out", Intro: "What a dial gauge or a ruler shows in one turn: highest less lowest, with its unit. Leave empty what was not measured.",
			Cautions: func(models.Vehicle) []string {
				return []string{cautionJack, "Turn the wheel by hand, fingers clear of gauge and brake; engine off and brakes chocked on the other wheels.", cautionLocal}
			},
			layout: layoutWheelCheck, build: buildWheelCheck},
	}
}

func layoutRepair(f *workForm) []section {
	return []section{{Legend: "What", Fields: []field{
		f.selectField("position", "Tire at", "choose", f.mountedAt()), f.areaField("what", "What was repaired", "such as: plug and patch in the center of the tread"),
		f.tickField("demounted", "The tire came off its wheel", "it must then be balanced again"), f.numberField("cost", "Cost", f.view.Depot.Currency)}}}
}

func buildRepair(f *workForm) models.Event {
	e := &models.Repair{Meta: f.header(), Position: models.Position(f.text("position")), What: f.text("what"), Demounted: f.ticked("demounted"), CostCents: f.cents("cost")}
	f.as("what", "what")
	f.as("position", "position")
	f.as("tire_id", "position")
	f.as("cost_cents", "cost")
	if e.Position == "" {
		f.fault("position", "choose the tire that was repaired")
	}
	return e
}

func layoutClearance(f *workForm) []section {
	s := section{Legend: "What is cleared"}
	var open []option
	for _, t := range f.view.Tires {
		for _, d := range t.State.Damage {
			open = append(open, option{Value: string(t.State.Position) + " " + string(d.Observation.Code),
				Label: fmt.Sprintf("%s, tire %s: %s, seen %s", t.State.Position, t.Tire.Number, observationName(d.Observation.Code),
					f.units.WriteDate(d.At.In(zone(f.view.Depot))))})
		}
	}
	s.Hint = "One place at a time. Say in the note what was done or found."
	if len(open) == 0 {
		s.Hint = "No damage is open on this vehicle: there is nothing to clear."
	}
	s.Fields = []field{f.checksField("codes", "Damage", open)}
	return []section{s}
}

func buildClearance(f *workForm) models.Event {
	e := &models.Clearance{Meta: f.header()}
	f.as("codes", "codes")
	f.as("position", "codes")
	for _, v := range f.sent["codes"] {
		var pos, code string
		if n, _ := fmt.Sscanf(v, "%s %s", &pos, &code); n != 2 {
			continue
		}
		if e.Position != "" && e.Position != models.Position(pos) {
			f.fault("codes", "clear one place at a time; each has its own note")
		}
		e.Position = models.Position(pos)
		e.Codes = append(e.Codes, models.ObservationCode(code))
	}
	if e.Position == "" {
		f.fault("codes", "tick what is cleared")
	}
	return e
}
