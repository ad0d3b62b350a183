package web

import (
	"fmt"
	"strconv"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// benchWorks are the works on one assembly.
func benchWorks() []work {
	return []work{
		{Kind: "balance", Title: "Balance", Intro: "What the balancer showed, what was fitted, what it showed after. Angles are degrees clockwise from the valve, seen from outside the vehicle.",
			Cautions: func(models.Vehicle) []string {
				return []string{"Hood down, eye protection, no loose clothing; take out stones and mud first and never defeat a guard.",
					"On the vehicle: secure the opposite drive wheel, keep the speed of a spinning wheel low, nobody in line with it.",
					"Wash hands after handling lead; lead weights are restricted in some places.", cautionLocal}
			},
			layout: layoutBalance, build: buildBalance},
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
	}
}

// weightRows is how many fitted and how many removed weights the form takes.
const weightRows = 4

var balancePlanes = []string{"outer", "inner", "single"}

func layoutBalance(f *workForm) []section {
	mass := string(f.units.Mass)
	out := []section{{Legend: "Which", Fields: []field{
		f.selectField("position", "Assembly at", "choose", f.mountedAt()),
		f.selectField("why", "Why", "choose", codes(models.BalanceFitted, models.BalanceInterval, models.BalanceComplaint, models.BalanceLost, models.BalanceUneven)),
		f.selectField("mode", "How", "", codes("two_plane", "single_plane", "hidden", "on_vehicle")),
		f.tickField("check_spin", "Check spin: nothing was removed or fitted", ""),
		f.textField("machine", "Machine", "", ""),
	}}}
	shown := func(prefix, legend string) section {
		s := section{Legend: legend, Hint: "Leave a plane empty that was not shown. Zero is a value."}
		for _, p := range balancePlanes {
			s.Fields = append(s.Fields, f.textField(prefix+"."+p+".mass", p+" plane", mass, ""), f.numberField(prefix+"."+p+".angle", p+" plane at", "°"))
		}
		return s
	}
	weights := func(prefix, legend string) section {
		s := section{Legend: legend}
		for i := range weightRows {
			at := prefix + "." + strconv.Itoa(i)
			n := strconv.Itoa(i + 1)
			s.Fields = append(s.Fields, f.textField(at+".mass", "Weight "+n, mass, ""), f.numberField(at+".angle", "at", "°"),
				f.selectField(at+".plane", "plane", "", codes(balancePlanes...)), f.selectField(at+".type", "type", "", codes("clip", "adhesive")))
		}
		return s
	}
	return append(out, shown("shown", "Shown before"), weights("removed", "Taken off"), weights("fitted", "Fitted"), shown("after", "Shown after"),
		section{Legend: "Result", Fields: []field{
			f.tickField("within_limit", "Within the limit that applies", ""), f.textField("limit", "Which limit", "", "such as: maker's 7 g a plane"),
			f.textField("media", "Internal media, type and dose", "", "by the maker's chart, if used"), f.torqueField()}})
}

func buildBalance(f *workForm) models.Event {
	e := &models.BalanceJob{Meta: f.header(), Position: models.Position(f.text("position")), Why: models.BalanceWhy(f.text("why")), Mode: f.text("mode"),
		CheckSpin: f.ticked("check_spin"), Machine: f.text("machine"), WithinLimit: f.ticked("within_limit"), Limit: f.text("limit"), Media: f.text("media"),
		TorqueNM: f.number("torque_nm", "newton metres")}
	for _, name := range []string{"position", "why", "mode", "check_spin", "machine", "limit", "media", "torque_nm"} {
		f.as(name, name)
	}
	f.as("tire_id", "position")
	var names []string // in the order in which the use-case counts what was shown
	e.Shown, names = f.planes("shown", names)
	e.ShownAfter, names = f.planes("after", names)
	for i, n := range names {
		f.as(fmt.Sprintf("shown[%d]", i), n)
	}
	names = nil
	e.Removed, names = f.weights("removed", names)
	e.Fitted, names = f.weights("fitted", names)
	for i, n := range names {
		f.as(fmt.Sprintf("weights[%d]", i), n)
	}
	if e.Position == "" {
		f.fault("position", "choose the assembly that was balanced")
	}
	return e
}

func (f *workForm) planes(prefix string, names []string) ([]models.PlaneUnbalance, []string) {
	var out []models.PlaneUnbalance
	for _, p := range balancePlanes {
		name := prefix + "." + p
		if m, ok := f.mass(name + ".mass"); ok {
			out = append(out, models.PlaneUnbalance{Plane: p, Mass: m, Angle: units.Angle(f.number(name+".angle", "degrees"))})
			names = append(names, name+".mass")
		}
	}
	return out, names
}

func (f *workForm) weights(prefix string, names []string) ([]models.FittedWeight, []string) {
	var out []models.FittedWeight
	for i := range weightRows {
		name := prefix + "." + strconv.Itoa(i)
		if m, ok := f.mass(name + ".mass"); ok {
			out = append(out, models.FittedWeight{Plane: f.text(name + ".plane"), Type: f.text(name + ".type"), Mass: m,
				Angle: units.Angle(f.number(name+".angle", "degrees"))})
			names = append(names, name+".mass")
		}
	}
	return out, names
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
					d.At.In(zone(f.view.Depot)).Format(time.DateOnly))})
		}
	}
	if len(open) == 0 {
		s.Hint = "No damage is open on this vehicle."
		return []section{s}
	}
	s.Hint = "One place at a time. Say in the note what was done or found."
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
