package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// ownRows is how many weights of the technician's own choice the form takes.
const ownRows = 4

// shownPlanes are the planes that the form asks for.
var shownPlanes = []string{"outer", "inner", "single"}

var planeNames = []option{{Value: "flanges", Label: "both rim flanges"}, {Value: "band_and_flange", Label: "adhesive band and inner flange"}, {Value: "bands", Label: "adhesive band and back band"}}

var modeNames = []option{{Value: "two_plane", Label: "two planes"}, {Value: "single_plane", Label: "one plane (static)"},
	{Value: "hidden", Label: "two planes, hidden behind the spokes"}, {Value: "on_vehicle", Label: "on the vehicle, one plane"}}

var checkNames = map[string]string{"clean": "rim and wheel cleaned", "stones": "stones, mud and ice out", "seated": "beads seated all around, pressure right",
	"centered": "centered by the hub bore, faces clean", "run_out": "run-out looked at while it turns", "dampers": "dampers looked at (cups in the tread)",
	"bearings": "bearings and joints free of play (cups in the tread)", "surface": "for adhesive: bare metal, wiped with alcohol and water, dry, warm"}

func (f *benchForm) layoutWhy() []section {
	checks := make([]option, 0, len(models.BalanceChecks))
	for _, k := range models.BalanceChecks {
		checks = append(checks, option{Value: k, Label: checkNames[k]})
	}
	return []section{{Legend: "Which job", Fields: []field{
		f.selectField("why", "Why", "choose", codes(models.BalanceWhys...)),
		f.selectField("mode", "How", "", modeNames), f.selectField("planes", "The machine shows", "", planeNames),
		f.tickField("check_spin", "Check spin: nothing removed, nothing fitted", "")}},
		{Legend: "Before the weights", Hint: "Tick what was done. Weights cannot cure a bad seat, run-out or worn dampers.", Fields: []field{f.checksField("checks", "Looked at", checks)}}}
}

func (f *benchForm) layoutGeometry() []section {
	l := func(name, label, help string) field { return f.textField("geometry."+name, label, "mm", help) }
	hint := "Radius: from the axle's center to the middle of the weight. Depth: of the plane, inward from the outer flange. Remembered with the job"
	if f.Wheel != nil {
		hint += " and on wheel " + f.Wheel.Number
	}
	return []section{{Legend: "Wheel", Hint: hint + ".", Fields: []field{
		l("outer_radius", "Outer flange, radius", ""), l("inner_radius", "Inner flange, radius", ""), l("inner_offset", "Inner flange, depth", ""),
		l("adhesive_radius", "Adhesive band, radius", ""), l("adhesive_offset", "Adhesive band, depth", ""),
		l("back_radius", "Back band, radius", "adhesive, near the inner flange"), l("back_offset", "Back band, depth", ""),
		f.selectField("geometry.flange", "Clip type that fits", "none, or not known", codes("P", "C", "T", "MC")),
		f.textField("geometry.spokes", "Spokes at", "°", "middle of each, clockwise from the valve: 0 72 144"),
		f.textField("geometry.blocked", "Nothing fits from–to", "°", "valve, sensor: 350-10 170-190")}}}
}

func (f *benchForm) layoutWork() []section {
	mass := string(f.units.Mass)
	shown := section{Legend: "Shown", Rows: "rows3", Hint: "As the machine asks for it: mass to add, and where, degrees clockwise from the valve seen from outside. Zero is a value.",
		Fields: f.shownFields("shown")}
	shown.Fields = append(shown.Fields, f.tickField("weights_off", "All weights are off", "the bare assembly was spun"))
	box := section{Legend: "Weights in the box", Folded: true, Fields: []field{
		f.textField("clips", "Clips", mass, "masses, with spaces"), f.textField("segments", "Adhesive segments", mass, "mass of one segment; a strip takes up to 12"),
		f.textField("most", "Most in all", mass, "empty: no limit of yours")}}
	own := section{Legend: "Your choice", Rows: "rows4", Hint: "What you fit, or think of fitting. Each change is worked out."}
	for i := range ownRows {
		at := "fitted." + strconv.Itoa(i)
		n := strconv.Itoa(i + 1)
		own.Fields = append(own.Fields, f.textField(at+".mass", "Weight "+n, mass, ""), f.textField(at+".angle", n+" at", "°", ""),
			f.selectField(at+".plane", n+" in plane", "", codes("outer", "inner")), f.textField(at+".place", n+" behind", "spoke", ""))
	}
	off := section{Legend: "Taken off", Folded: true, Rows: "rows4", Hint: "Weights that were on the wheel before."}
	for i := range ownRows {
		at := "removed." + strconv.Itoa(i)
		n := strconv.Itoa(i + 1)
		off.Fields = append(off.Fields, f.textField(at+".mass", "Off "+n, mass, ""), f.textField(at+".angle", n+" at", "°", ""),
			f.selectField(at+".plane", n+" from plane", "", codes("outer", "inner")), f.selectField(at+".type", n+" was", "", codes("clip", "adhesive")))
	}
	word, _ := speedUnit(f.units)
	more := section{Legend: "At speed", Folded: true, Fields: []field{f.textField("speed", "Speed", word, "for the force; empty: 100 km/h"), f.textField("weight_kg", "Assembly weighs", "kg", "for the ISO 21940-11 grade")}}
	return []section{shown, own, box, off, more}
}

// shownFields asks for what is shown in each plane.
func (f *benchForm) shownFields(prefix string) []field {
	mass := string(f.units.Mass)
	var out []field
	for _, p := range shownPlanes {
		label := map[string]string{"outer": "Outer", "inner": "Inner", "single": "One only"}[p]
		out = append(out, f.textField(prefix+"."+p+".mass", label, mass, ""), f.textField(prefix+"."+p+".angle", label+" at", "°", ""),
			f.textField(prefix+"."+p+".unrounded", "unrounded", mass, ""))
	}
	return out
}

func (f *benchForm) layoutAfter() []section {
	after := section{Legend: "Shown after", Rows: "rows3", Hint: "Spin it again. What is shown now decides whether the job settles anything.", Fields: f.shownFields("after")}
	end := section{Legend: "Machine, media, nuts", Fields: []field{
		f.textField("machine", "Machine", "", ""), {Type: "date", Name: "self_check", Label: "Its last self-check", Value: f.Value("self_check"), Fault: f.Fault("self_check"), Help: "every two weeks: an empty shaft shows zero, a test weight shows itself"},
		f.textField("media.type", "Loose media inside, type", "", ""), f.textField("media.dose", "Loose media, dose", "", "the maker's chart decides; nothing is computed"),
		{Type: "date", Name: "media.in", Label: "Loose media, put in on", Value: f.Value("media.in"), Fault: f.Fault("media.in")}, f.torqueField()}}
	meta := f.metaSection()
	return []section{after, end, meta}
}

// job reads the form as a balance job.
func (f *benchForm) job() *models.BalanceJob {
	var vehicle models.VehicleID
	if f.Vehicle != nil {
		vehicle = f.Vehicle.Vehicle.ID
	}
	e := &models.BalanceJob{Meta: f.meta(vehicle, zone(f.Depot)), Position: f.Position, TireID: f.Tire.ID, Why: models.BalanceWhy(f.text("why")), Mode: f.text("mode"),
		Planes: f.text("planes"), CheckSpin: f.ticked("check_spin"), Machine: f.text("machine"), SelfCheck: f.day("self_check"), Checks: f.sent["checks"],
		WeightsOff: f.ticked("weights_off"), TorqueNM: f.number("torque_nm", "newton metres")}
	e.Shown, e.ShownAfter = f.shown("shown"), f.shown("after")
	e.Fitted, e.Removed = f.weights("fitted"), f.weights("removed")
	g := f.geometry()
	if !emptyGeometry(g) {
		e.Geometry = &g
	}
	if f.text("media.type")+f.text("media.dose") != "" {
		e.Media = &models.BalanceMedia{Type: f.text("media.type"), Dose: f.text("media.dose")}
		if in := f.day("media.in"); in != nil {
			e.Media.In = *in
		}
	}
	for _, name := range []string{"why", "mode", "planes", "check_spin", "machine", "self_check", "checks", "torque_nm", "odometer", "at", "person", "note",
		"media.type", "media.dose", "media.in", "geometry.flange", "geometry.spokes", "geometry.blocked"} {
		f.as(name, name)
	}
	if !e.CheckSpin && len(e.Fitted)+len(e.Removed) == 0 && len(e.ShownAfter) == 0 {
		f.fault("fitted.0.mass", "say what was fitted: take the proposal over, or write it here; or tick check spin")
	}
	return e
}

func emptyGeometry(g models.WheelGeometry) bool {
	return g.OuterRadius+g.InnerRadius+g.AdhesiveRadius+g.BackRadius+g.InnerOffset+g.AdhesiveOffset+g.BackOffset == 0 && len(g.Spokes)+len(g.Blocked) == 0 && g.Flange == ""
}

// day reads a date field; nil if empty.
func (f *benchForm) day(name string) *time.Time {
	t := f.text(name)
	if t == "" {
		return nil
	}
	d, err := time.ParseInLocation(time.DateOnly, t, zone(f.Depot))
	if err != nil {
		f.fault(name, strconv.Quote(t)+": write the day, such as 2026-11-25")
		return nil
	}
	d = d.UTC()
	return &d
}

// angle reads degrees; any turn is taken, the answer says what was made of it.
func (f *benchForm) angle(name string) units.Angle {
	t := strings.TrimSuffix(f.text(name), "°")
	if t == "" {
		return 0
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > 36000 {
		f.fault(name, strconv.Quote(t)+": write degrees clockwise from the valve, seen from outside")
		return 0
	}
	return units.Angle(v)
}

func (f *benchForm) shown(prefix string) []models.PlaneUnbalance {
	var out []models.PlaneUnbalance
	path := map[string]string{"shown": "shown", "after": "shown_after"}[prefix]
	for _, p := range shownPlanes {
		name := prefix + "." + p
		m, ok := f.mass(name + ".mass")
		if !ok {
			continue
		}
		u := models.PlaneUnbalance{Plane: p, Mass: m, Angle: f.angle(name + ".angle")}
		if m, ok := f.mass(name + ".unrounded"); ok {
			u.Unrounded = &m
		}
		at := fmt.Sprintf("%s[%d]", path, len(out))
		f.as(at, name+".mass")
		f.as(at+".angle", name+".angle")
		f.as(at+".unrounded", name+".unrounded")
		out = append(out, u)
	}
	return out
}

func (f *benchForm) weights(prefix string) []models.FittedWeight {
	var out []models.FittedWeight
	for i := range ownRows {
		name := prefix + "." + strconv.Itoa(i)
		m, ok := f.mass(name + ".mass")
		if !ok {
			continue
		}
		w := models.FittedWeight{Plane: f.text(name + ".plane"), Type: f.text(name + ".type"), Mass: m, Angle: f.angle(name + ".angle"), Place: f.text(name + ".place")}
		if w.Type == "" {
			w.Type = f.kindIn(w.Plane)
		}
		at := fmt.Sprintf("%s[%d]", prefix, len(out))
		f.as(at, name+".mass")
		f.as(at+".angle", name+".angle")
		out = append(out, w)
	}
	return out
}

// kindIn is how weights hold in a plane of the chosen pair.
func (f *benchForm) kindIn(plane string) string {
	switch pair := f.text("planes"); {
	case pair == "bands", pair == "band_and_flange" && plane == "outer":
		return "adhesive"
	}
	return "clip"
}

func (f *benchForm) length(name string) units.Length {
	name = "geometry." + name
	t := f.text(name)
	f.as(name, name)
	if t == "" {
		return 0
	}
	l, err := units.ParseLength(t, units.MM)
	if err != nil {
		f.fault(name, remedy(err))
	}
	return l
}

func (f *benchForm) geometry() models.WheelGeometry {
	g := models.WheelGeometry{Flange: f.text("geometry.flange"), OuterRadius: f.length("outer_radius"), InnerRadius: f.length("inner_radius"), InnerOffset: f.length("inner_offset"),
		AdhesiveRadius: f.length("adhesive_radius"), AdhesiveOffset: f.length("adhesive_offset"), BackRadius: f.length("back_radius"), BackOffset: f.length("back_offset")}
	for _, w := range list(f.text("geometry.spokes")) {
		v, err := strconv.ParseFloat(strings.TrimSuffix(w, "°"), 64)
		if err != nil {
			f.fault("geometry.spokes", strconv.Quote(w)+": write angles with spaces between, such as 0 72 144")
			break
		}
		g.Spokes = append(g.Spokes, v)
	}
	for _, w := range list(f.text("geometry.blocked")) {
		from, to, ok := strings.Cut(w, "-")
		a, errA := strconv.ParseFloat(from, 64)
		b, errB := strconv.ParseFloat(to, 64)
		if !ok || errA != nil || errB != nil {
			f.fault("geometry.blocked", strconv.Quote(w)+": write from-to, clockwise, such as 350-10")
			break
		}
		g.Blocked = append(g.Blocked, models.Arc{From: a, To: b})
	}
	return g
}

// list takes words apart at spaces and semicolons.
func list(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ';' || r == '\t' })
}

func anglesText(all []float64) string {
	var out []string
	for _, a := range all {
		out = append(out, strconv.FormatFloat(a, 'f', -1, 64))
	}
	return strings.Join(out, " ")
}

func arcsText(all []models.Arc) string {
	var out []string
	for _, a := range all {
		out = append(out, fmt.Sprintf("%g-%g", a.From, a.To))
	}
	return strings.Join(out, " ")
}
