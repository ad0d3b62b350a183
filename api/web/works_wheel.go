package web

import (
	"fmt"

	"rimledger/models"
	"rimledger/models/units"
)

// The cautions stand where the work is. Sources: 29 CFR 1910.177 and 1910.244
// as reprinted in public manuals; workshop practice. They are the usual ones,
// no full list, and end with whose word counts.
const (
	cautionLocal   = "These are the usual cautions, not all of them: local rules, the maker's instructions and licensed practice come first."
	cautionJack    = "Firm ground, wheels chocked; set stands or cribbing at once and never work under a jack alone."
	cautionFit     = "Clean faces without paint or dirt, nuts run on by hand, tightened in star order with a torque wrench; no oil unless the maker asks for it. Check again after the first distance."
	cautionRunLow  = "A tire that ran at 80% of its pressure or less counts as run flat: deflate it fully before the wheel comes off, demount it and look inside. Never just add air."
	cautionInflate = "Large-vehicle wheels are inflated in a restraining device by trained people: clip-on chuck, gauge in the line, hose long enough to stand out of the way of what may fly."
	cautionHot     = "Never let air out of a warm tire to bring it to the cold target."
)

func wheelCautions(v models.Vehicle) []string {
	list := []string{cautionJack, cautionFit, cautionRunLow}
	if v.Class.Heavy() {
		list = append(list, cautionInflate)
	}
	return append(list, cautionLocal)
}

// wheelWorks are the works that move tires.
func wheelWorks() []work {
	return []work{
		{Kind: "fit", Title: "Fit tires", Intro: "Put tires from stock on empty places. To record what already stands on the vehicle, tick that nothing was done now.",
			Cautions: wheelCautions, layout: layoutFit, build: buildFit},
		{Kind: "remove", Title: "Take tires off", Intro: "Give a reason for each place that a tire comes off; leave the others alone.",
			Cautions: wheelCautions, layout: layoutRemove, build: buildRemove},
		{Kind: "rotate", Title: "Rotate", Intro: "Say where each tire goes. A rotation is recorded whole or not at all: every place that is filled is one that another tire leaves.",
			Cautions: wheelCautions, layout: layoutRotate, build: buildRotate},
		{Kind: "retorque", Title: "Re-torque", Intro: "The check of wheel nuts after wheels were off.",
			Cautions: func(models.Vehicle) []string {
				return []string{"Use a torque wrench, not an impact gun. Do not slacken the nuts first; a nut that turns is worth a look at the wheel.", cautionLocal}
			},
			layout: layoutRetorque, build: buildRetorque},
	}
}

func (f *entry) torqueField(v models.Vehicle) field {
	x := f.numberField("torque_nm", "Nuts tightened to", string(f.units.Torque()))
	if t := v.TorqueNM; t > 0 {
		x.Help = "the record says " + f.units.WriteTorque(units.Torque(t)) + " for this vehicle; check the maker's number"
	}
	return x
}

func layoutFit(f *workForm) []section {
	var stock []option
	for _, t := range f.stock {
		stock = append(stock, option{Value: string(t.Tire.ID), Label: t.Tire.Number + ", " + t.Tire.Size})
	}
	places := section{Legend: "Empty places"}
	for _, p := range f.empty() {
		places.Fields = append(places.Fields, f.selectField("tire."+string(p), string(p), "leave empty", stock))
	}
	if len(places.Fields) == 0 {
		places.Hint = "No place is empty. Take a tire off first."
	} else if len(stock) == 0 {
		places.Hint = "No tire is in stock at this depot. Tires come in by import or through the API."
	}
	return []section{places, {Legend: "How", Fields: []field{
		f.tickField("existing", "They were on it already; nothing was done now", "nothing is then said of balance and torque"), f.torqueField(f.view.Vehicle)}}}
}

func buildFit(f *workForm) models.Event {
	e := &models.Fit{Meta: f.header(), Existing: f.ticked("existing"), TorqueNM: f.torque()}
	for _, p := range f.empty() {
		if id := f.text("tire." + string(p)); id != "" {
			f.as(fmt.Sprintf("fittings[%d]", len(e.Fittings)), "tire."+string(p))
			e.Fittings = append(e.Fittings, models.Fitting{TireID: models.TireID(id), Position: p})
		}
	}
	return e
}

func layoutRemove(f *workForm) []section {
	var out []section
	for _, t := range f.view.Tires {
		p := string(t.State.Position)
		out = append(out, section{Legend: p + ", tire " + t.Tire.Number, Fields: []field{
			f.selectField("reason."+p, "Why", "stays on", codes(models.RemovalReasons...)),
			f.selectField("to."+p, "Goes to", "", codes(models.InStock, models.AtRetreader, models.Scrapped)),
			f.textField("depth."+p, "Shallowest depth", unitWord(f.units.Depth), ""),
		}})
	}
	return out
}

func buildRemove(f *workForm) models.Event {
	e := &models.Removal{Meta: f.header()}
	for _, t := range f.view.Tires {
		p := string(t.State.Position)
		if f.text("reason."+p) == "" {
			continue
		}
		at := fmt.Sprintf("removed[%d]", len(e.Removed))
		f.as(at, "reason."+p)
		f.as(at+".to", "to."+p)
		f.as(at+".min_depth", "depth."+p)
		e.Removed = append(e.Removed, models.Removed{Position: t.State.Position, Reason: models.RemovalReason(f.text("reason." + p)),
			To: models.TireStatus(f.text("to." + p)), MinDepth: f.depth("depth." + p)})
	}
	return e
}

func layoutRotate(f *workForm) []section {
	all := codes(f.view.Vehicle.Positions()...)
	s := section{Legend: "Where each tire goes"}
	for _, t := range f.view.Tires {
		p := string(t.State.Position)
		x := f.selectField("goes."+p, p+", tire "+t.Tire.Number, "stays", all)
		if d := t.State.Last; d != nil {
			if least, ok := d.Reading.Min(); ok {
				x.Help = "shallowest " + f.units.WriteTypedDepth(least.Value, least.Text)
			}
		}
		if t.Tire.Directional {
			x.Help += " directional"
		}
		s.Fields = append(s.Fields, x)
	}
	return []section{s, {Legend: "Nuts", Fields: []field{f.torqueField(f.view.Vehicle)}}}
}

func buildRotate(f *workForm) models.Event {
	e := &models.Rotation{Meta: f.header(), TorqueNM: f.torque()}
	for _, t := range f.view.Tires {
		name := "goes." + string(t.State.Position)
		if to := f.text(name); to != "" && to != string(t.State.Position) {
			f.as(fmt.Sprintf("moves[%d]", len(e.Moves)), name)
			e.Moves = append(e.Moves, models.Move{From: t.State.Position, To: models.Position(to)})
		}
	}
	return e
}

func layoutRetorque(f *workForm) []section {
	return []section{{Legend: "Which wheels", Hint: "None ticked means all of them.", Fields: []field{
		f.checksField("positions", "Positions", f.mountedAt()), f.torqueField(f.view.Vehicle)}}}
}

func buildRetorque(f *workForm) models.Event {
	e := &models.Retorque{Meta: f.header(), TorqueNM: f.torque()}
	f.as("positions", "positions")
	for _, p := range f.sent["positions"] {
		e.Positions = append(e.Positions, models.Position(p))
	}
	return e
}
