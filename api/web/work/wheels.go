package work

import (
	"fmt"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
)

func wheelCautions(v models.Vehicle) []string {
	list := []string{say.CautionJack, say.CautionFit, say.CautionRunLow}
	if v.Class.Heavy() {
		list = append(list, say.CautionInflate)
	}
	return append(list, say.CautionLocal)
}

// wheelWorks are the works that move tires.
func wheelWorks() []work {
	return []work{
		{
			Kind:  "fit",
			Title: "Fit tires",
			Intro: "Put tires from stock on empty places. To record what is on the vehicle already, tick " +
				"that nothing was done now.",
			Cautions: wheelCautions,
			layout:   layoutFit,
			build:    buildFit,
		},

		{
			Kind:     "remove",
			Title:    "Take tires off",
			Intro:    "Give a reason for each place that a tire comes off; leave the others alone.",
			Cautions: wheelCautions,
			layout:   layoutRemove,
			build:    buildRemove,
		},

		{
			Kind:  "rotate",
			Title: "Rotate",
			Intro: "Say where each tire goes. A rotation is recorded whole or not at all: every place that is " +
				"filled is one that another tire leaves.",
			Cautions: wheelCautions,
			layout:   layoutRotate,
			build:    buildRotate,
		},

		{
			Kind:     "retorque",
			Title:    "Re-torque",
			Intro:    "The check of wheel nuts after wheels were off.",
			Cautions: retorqueCautions,
			layout:   layoutRetorque,
			build:    buildRetorque,
		},
	}
}

func retorqueCautions(models.Vehicle) []string {
	return []string{
		"Use a torque wrench, not an impact gun. Do not loosen the nuts first. If a nut turns, look at the wheel.",
		say.CautionLocal,
	}
}

func layoutFit(f *workForm) []form.Section {
	var stock []form.Option
	for _, t := range f.stock {
		stock = append(stock, form.Option{Value: string(t.Tire.ID), Label: t.Tire.Number + ", " + t.Tire.Size})
	}

	places := form.Section{Legend: "Empty places"}
	for _, p := range f.empty() {
		places.Fields = append(places.Fields, f.SelectField("tire."+string(p), string(p), "leave empty", stock))
	}

	if len(places.Fields) == 0 {
		places.Hint = "No place is empty. Take a tire off first."
	} else if len(stock) == 0 {
		places.Hint = "No tire is in stock at this depot. Tires come in by import or through the API."
	}

	return []form.Section{places, {Legend: "How", Fields: []form.Field{
		f.TickField(
			"existing",
			"They were on it already; nothing was done now",
			"nothing is then said of balance and torque",
		),
		f.TorqueField(f.view.Vehicle),
	}}}
}

func buildFit(f *workForm) models.Event {
	e := &models.Fit{Meta: f.header(), Existing: f.Ticked("existing"), TorqueNM: f.Torque()}
	for _, p := range f.empty() {
		if id := f.Text("tire." + string(p)); id != "" {
			f.MapField(fmt.Sprintf("fittings[%d]", len(e.Fittings)), "tire."+string(p))
			e.Fittings = append(e.Fittings, models.Fitting{TireID: models.TireID(id), Position: p})
		}
	}
	return e
}

func layoutRemove(f *workForm) []form.Section {
	var out []form.Section
	for _, t := range f.view.Tires {
		p := string(t.State.Position)
		out = append(out, form.Section{Legend: p + ", tire " + t.Tire.Number, Fields: []form.Field{
			f.SelectField("reason."+p, "Why", "stays on", form.CodeOptions(models.RemovalReasons...)),
			f.SelectField(
				"to."+p,
				"Goes to",
				"",
				form.CodeOptions(models.InStock, models.AtRetreader, models.Scrapped),
			),
			f.TextField("depth."+p, "Shallowest depth", say.UnitWord(f.Units.Depth), ""),
		}})
	}

	return out
}

func buildRemove(f *workForm) models.Event {
	e := &models.Removal{Meta: f.header()}
	for _, t := range f.view.Tires {
		p := string(t.State.Position)
		if f.Text("reason."+p) == "" {
			continue
		}

		at := fmt.Sprintf("removed[%d]", len(e.Removed))
		f.MapField(at, "reason."+p)
		f.MapField(at+".to", "to."+p)
		f.MapField(at+".min_depth", "depth."+p)

		e.Removed = append(
			e.Removed,
			models.Removed{Position: t.State.Position, Reason: models.RemovalReason(f.Text("reason." + p)),
				To: models.TireStatus(f.Text("to." + p)), MinDepth: f.Depth("depth." + p)},
		)
	}

	return e
}

func layoutRotate(f *workForm) []form.Section {
	all := form.CodeOptions(f.view.Vehicle.Positions()...)

	s := form.Section{Legend: "Where each tire goes"}
	for _, t := range f.view.Tires {
		p := string(t.State.Position)
		x := f.SelectField("goes."+p, p+", tire "+t.Tire.Number, "stays", all)
		if d := t.State.Last; d != nil {
			if least, ok := d.Reading.Min(); ok {
				x.Help = "shallowest " + f.Units.WriteTypedDepth(least.Value, least.Text)
			}
		}

		if t.Tire.Directional {
			x.Help += " directional"
		}
		s.Fields = append(s.Fields, x)
	}

	return []form.Section{s, {Legend: "Nuts", Fields: []form.Field{f.TorqueField(f.view.Vehicle)}}}
}

func buildRotate(f *workForm) models.Event {
	e := &models.Rotation{Meta: f.header(), TorqueNM: f.Torque()}
	for _, t := range f.view.Tires {
		name := "goes." + string(t.State.Position)
		if to := f.Text(name); to != "" && to != string(t.State.Position) {
			f.MapField(fmt.Sprintf("moves[%d]", len(e.Moves)), name)
			e.Moves = append(e.Moves, models.Move{From: t.State.Position, To: models.Position(to)})
		}
	}
	return e
}

func layoutRetorque(f *workForm) []form.Section {
	return []form.Section{{Legend: "Which wheels", Hint: "None ticked means all of them.", Fields: []form.Field{
		f.ChecksField("positions", "Positions", f.mountedAt()), f.TorqueField(f.view.Vehicle)}}}
}

func buildRetorque(f *workForm) models.Event {
	e := &models.Retorque{Meta: f.header(), TorqueNM: f.Torque()}
	f.MapField("positions", "positions")
	for _, p := range f.Sent["positions"] {
		e.Positions = append(e.Positions, models.Position(p))
	}
	return e
}
