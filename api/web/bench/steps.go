package bench

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
)

// shownPlanes are the planes that the form asks for.
var shownPlanes = []string{"outer", "inner", "single"}

var planeNames = []form.Option{
	{Value: "flanges", Label: "both rim flanges"},
	{Value: "band_and_flange", Label: "adhesive band and inner flange"},
	{Value: "bands", Label: "adhesive band and back band"},
}

var modeNames = []form.Option{
	{Value: "two_plane", Label: "two planes"},
	{Value: "single_plane", Label: "one plane (static)"},
	{
		Value: "hidden",
		Label: "two planes, hidden behind the spokes",
	},
	{Value: "on_vehicle", Label: "on the vehicle, one plane"},
}

var checkNames = map[string]string{
	"clean":    "rim and wheel cleaned",
	"stones":   "stones, mud and ice out",
	"tread":    "tread looked over: no nail, no cut, no lump",
	"cone":     "the right cone for this hub",
	"seated":   "beads seated all around, pressure right",
	"centered": "centered by the hub bore, faces clean",
	"run_out":  "run-out looked at while it turns",
	"dampers":  "dampers looked at (cups in the tread)",
	"bearings": "bearings and joints free of play (cups in the tread)",
	"surface":  "for adhesive: bare metal, wiped with alcohol and water, dry, warm",
}

// benchSteps is the form in the order of the work. What rarely changes is folded,
// with its present values in the line that stays in sight.
type benchSteps struct {
	Checks, Wheel, Rim fold
	Shown              []form.Field
	ShownTicks         []form.Field
	ShownMore          fold
	Own                []ownRow
	Off, Box, Speed    fold
	After              []form.Field
	AfterMore          fold
	Finish             []form.Field
	Machine, Who       fold
}

// fold is a part of the form behind one line.
type fold struct {
	form.Section
	Now  string // its present values, in words
	Open bool   // something in it is wrong or needed
}

// ownRow is one weight of the technician's own choice.
type ownRow struct {
	Fields []form.Field
	More   bool // beyond those that are unfolded
	At     int
}

// folded makes a fold that opens where one of its fields is at fault.
func folded(s form.Section, now string) fold {
	return fold{s, now, slices.ContainsFunc(s.Fields, func(x form.Field) bool { return x.Fault != nil })}
}

func (f *benchForm) steps(records bool) benchSteps {
	var s benchSteps
	s.Checks, s.Wheel, s.Rim = f.checksFold(), f.wheelFold(), f.rimFold()
	s.Wheel.Open = s.Wheel.Open || s.Rim.Open
	s.Shown, s.ShownMore = f.shownFields("shown")
	s.ShownTicks = []form.Field{
		f.TickField("weights_off", "All weights are off", ""),
		f.TickField("check_spin", "Check spin, nothing fitted", ""),
	}

	s.Own, s.Off = f.ownRows(), f.offFold()
	s.Box, s.Speed = f.boxFold(), f.speedFold()
	if records {
		s.After, s.AfterMore = f.shownFields("after")
		s.Finish, s.Machine, s.Who = f.finish()
	}

	return s
}

func (f *benchForm) checksFold() fold {
	var checks []form.Option
	var done []string
	for _, k := range models.BalanceChecks {
		checks = append(checks, form.Option{Value: k, Label: checkNames[k]})
		if slices.Contains(f.Sent["checks"], k) {
			done = append(done, strings.ReplaceAll(k, "_", "-"))
		}
	}

	now := "clean, stones out, tread, seat, cone, run-out: nothing ticked yet"
	if len(done) > 0 {
		now = fmt.Sprintf("%d of %d: %s", len(done), len(checks), strings.Join(done, ", "))
	}

	return folded(
		form.Section{
			Legend: "Before the weights",
			Hint:   "Tick what was done. Weights cannot cure a bad seat, run-out or worn dampers.",
			Fields: []form.Field{f.ChecksField("checks", "Looked at", checks)},
		},
		now,
	)
}

// decimal asks for a number with the phone's number keys; its unit may be typed too.
func (f *benchForm) decimal(name, label, unit, help string) form.Field {
	x := f.NumberField(name, label, unit)
	x.Help = help
	return x
}

func (f *benchForm) lengthField(name, label, class string) form.Field {
	x := f.decimal("geometry."+name, label, "mm", "")
	x.Class = class
	return x
}

// wheelFold is the wheel and how it is balanced.
func (f *benchForm) wheelFold() fold {
	s := form.Section{
		Legend: "Wheel and planes",
		Rows:   "rows2",
		Hint: "Radius: from the axle's center to the middle of the weight. Depth: of the plane, inward from the " +
			"outer flange. Kept with the job" + map[bool]string{true: " and on the wheel."}[f.Wheel != nil],
	}

	if f.Wheel == nil {
		s.Hint += "."
	}

	if len(f.wheels) > 0 {
		var all []form.Option
		for _, w := range f.wheels {
			all = append(
				all,
				form.Option{
					Value: string(w.ID),
					Label: fmt.Sprintf("%s, %g × %g in, %s", w.Number, w.DiameterIn, w.WidthIn, w.Material),
				},
			)
		}

		s.Fields = append(s.Fields, f.SelectField("wheel_id", "Wheel", "not in the record", all))
	}

	s.Fields = append(
		s.Fields,
		f.SelectField("mode", "How", "", modeNames),
		f.SelectField("planes", "The machine shows", "", planeNames),
		f.placesField(),
	)

	// Of the lengths, those of the pair that is shown and of what is ticked are shown (style.css).
	s.Fields = append(
		s.Fields,
		f.lengthField("outer_radius", "Outer flange, radius", "of-outer"),
		f.lengthField("adhesive_radius", "Adhesive band, radius", "of-band"),
		f.lengthField("adhesive_offset", "Adhesive band, depth", "of-band"),
		f.lengthField(
			"inner_radius",
			"Inner flange, radius",
			"of-inner",
		),
		f.lengthField("inner_offset", "Inner flange, depth", "of-inner"),
		f.lengthField(
			"back_radius",
			"Back band, radius",
			"of-back",
		),
		f.lengthField("back_offset", "Back band, depth", "of-back"),
	)

	x := folded(s, "")
	x.Now, x.Open = f.wheelNow(x.Open)
	return x
}

// wheelNow describes the values in the wheel's fold, and reports whether it must be open.
func (f *benchForm) wheelNow(open bool) (string, bool) {
	p := f.pair().circles(f.geometry())
	now := []string{named(modeNames, f.Text("mode")), named(planeNames, f.Text("planes"))}

	apart := p.Outer.OffsetMM - p.Inner.OffsetMM
	switch {
	case p.Outer.RadiusMM == 0 || p.Inner.RadiusMM == 0:
		now, open = append(now, "measure the radius of both planes first"), true
	case apart == 0:
		now, open = append(now, "measure how deep the inner plane lies first"), true
	default:
		now = append(
			now,
			fmt.Sprintf("radius %.0f and %.0f mm, %.0f mm apart", p.Outer.RadiusMM, p.Inner.RadiusMM, apart),
		)
	}

	if t := f.placesNow(); t != "" {
		now = append(now, t)
	}
	if t := f.Text("geometry.spokes"); t != "" {
		now = append(now, say.Plural(len(form.SplitList(t)), "spoke", "spokes"))
	}

	for _, a := range f.geometry().Blocked {
		now = append(now, say.BlockedText(a))
	}
	return strings.Join(now, "; "), open
}

// rimFold is what else limits where weights go.
func (f *benchForm) rimFold() fold {
	fields := append(
		[]form.Field{
			f.TextField("geometry.spokes", "Spokes at", "°", "middle of each, clockwise from the valve: 0 72 144"),
			f.decimal("geometry.spoke_width", "Spoke is wide", "mm", "a longer strip behind it would show"),
		},
		form.BlockedFields(f.Entry, "geometry.blocked")...)

	x := folded(
		form.Section{
			Legend: "Spokes, blocked places, clips",
			Fields: append(
				fields,
				f.SelectField(
					"geometry.flange",
					"Clip type that fits",
					"none, or not known",
					form.CodeOptions("P", "C", "T", "MC"),
				),
			),
		},
		"",
	)

	x.Open = x.Open || f.Text("mode") == "hidden" && f.Text("geometry.spokes") == ""
	return x
}

// shownFields asks for what is shown in both planes; the rest is folded.
func (f *benchForm) shownFields(prefix string) ([]form.Field, fold) {
	mass := string(f.Units.Mass)
	var both []form.Field

	more := form.Section{Legend: "One plane alone, unrounded values"}
	for _, p := range shownPlanes {
		at := prefix + "." + p
		label := map[string]string{"outer": "Outer", "inner": "Inner", "single": "One plane"}[p]

		pair := []form.Field{f.decimal(at+".mass", label, mass, ""), f.decimal(at+".angle", label+" at", "°", "")}
		if p == "single" {
			more.Fields = append(more.Fields, pair...)
		} else {
			both = append(both, pair...)
		}

		more.Fields = append(more.Fields, f.decimal(at+".unrounded", label+" unrounded", mass, ""))
	}

	x := folded(more, "")
	for _, one := range more.Fields {
		if one.Value != "" {
			x.Open = true
		}
	}

	return both, x
}

func (f *benchForm) ownRows() []ownRow {
	mass := string(f.Units.Mass)
	behind := f.Text("mode") == "hidden" || f.Text("geometry.spokes") != ""

	var out []ownRow
	for i := range ownRows {
		at, n := "fitted."+strconv.Itoa(i), strconv.Itoa(i+1)
		row := ownRow{
			At:   i,
			More: i >= openRows,
			Fields: []form.Field{
				f.decimal(at+".mass", "Mass "+n, mass, ""),
				f.decimal(at+".angle", n+" at", "°", ""),
				f.SelectField(at+".plane", n+" plane", "", f.placeOptions()),
			},
		}

		if behind || f.Text(at+".place") != "" {
			row.Fields = append(row.Fields, f.TextField(at+".place", n+" behind", "spoke", ""))
		}
		out = append(out, row)
	}

	return out
}

func (f *benchForm) offFold() fold {
	off := form.Section{Legend: "Weights taken off", Rows: "rows4", Hint: "Weights that were on the wheel before."}

	n := 0
	for i := range ownRows {
		at, name := "removed."+strconv.Itoa(i), strconv.Itoa(i+1)
		off.Fields = append(
			off.Fields,
			f.decimal(at+".mass", "Off "+name, string(f.Units.Mass), ""),
			f.decimal(at+".angle", name+" at", "°", ""),
			f.SelectField(
				at+".plane",
				name+" from plane",
				"",
				f.placeOptions(),
			),
			f.SelectField(at+".type", name+" was", "", form.CodeOptions("clip", "adhesive")),
		)

		if f.Text(at+".mass") != "" {
			n++
		}
	}

	now := "none written down"
	if n > 0 {
		now = say.Plural(n, "weight", "weights")
	}

	return folded(off, now)
}

func (f *benchForm) boxFold() fold {
	s := form.Section{
		Legend: "Box of weights",
		Hint:   "The sizes that may be proposed, with spaces or ; between.",
		Fields: []form.Field{
			f.TextField("clips", "Clips", string(f.Units.Mass), ""),
			f.TextField(
				"segments",
				"Adhesive segments",
				string(f.Units.Mass),
				"mass of one segment; a strip takes up to 12",
			),
			f.decimal("most", "Most in all", string(f.Units.Mass), "empty: no limit of yours"),
		},
	}

	now := f.boxNow()
	if clips, segments := f.Depot.Box.Of(f.heavy()); form.SizesText(clips, f.Units) == f.Text("clips") &&
		form.SizesText(segments, f.Units) == f.Text("segments") &&
		len(clips)+len(segments) > 0 {
		now = f.Depot.Name + "’s: " + now
	}

	return folded(s, now)
}

// boxNow describes the box as it is in the form.
func (f *benchForm) boxNow() string {
	var all [2][]models.Mass
	for i, name := range []string{"clips", "segments"} {
		for _, w := range form.Masses(f.Text(name)) {
			if m, err := models.ParseMass(f.Units.Plain(w), f.Units.Mass); err == nil {
				all[i] = append(all[i], m)
			}
		}
	}
	return boxWords(all[0], all[1])
}

// boxWords describes a box in one line.
func boxWords(clips, segments []models.Mass) string {
	span := func(what string, l []models.Mass) string {
		if len(l) == 0 {
			return "no " + what
		}
		byMass := func(a, b models.Mass) int { return int((a.Value - b.Value) * 1000) }
		low, high := slices.MinFunc(l, byMass), slices.MaxFunc(l, byMass)
		if low.Value == high.Value {
			return what + " of " + low.Text
		}
		return fmt.Sprintf("%s %s to %s (%s)", what, low.Text, high.Text, say.Plural(len(l), "size", "sizes"))
	}
	return span("clips", clips) + ", " + span("segments", segments)
}

func (f *benchForm) speedFold() fold {
	word, per := say.SpeedUnit(f.Units)
	now := fmt.Sprintf("%.0f %s", f.kmh()/per, word)
	return folded(
		form.Section{
			Legend: "At speed",
			Fields: []form.Field{
				f.decimal("speed", "Speed", word, "for the force; empty: 100 km/h"),
				f.decimal("weight_kg", "Assembly weighs", "kg", "for the ISO 21940-11 grade"),
			},
		},
		now,
	)
}

// finish asks what closes the job.
func (f *benchForm) finish() (now []form.Field, machine, who fold) {
	v := f.onVehicle()
	meta := f.MetaSection(v.Vehicle, v.State.Odometer)
	now = []form.Field{
		f.SelectField("why", "Why this job", "choose", form.CodeOptions(models.BalanceWhys...)),
		f.TorqueField(v.Vehicle),
	}

	// The odometer is needed for each job; time, person and note seldom are.
	rest := meta.Fields
	if len(rest) > 0 && rest[0].Name == "odometer" {
		now, rest = append(now, rest[0]), rest[1:]
	}

	m := form.Section{Legend: "Machine, loose media", Fields: []form.Field{f.TextField("machine", "Machine", "", ""),
		{
			Type:  "date",
			Name:  "self_check",
			Label: "Its last self-check",
			Value: f.Value("self_check"),
			Fault: f.Fault("self_check"),
			Help:  "every two weeks: an empty shaft shows zero, a test weight shows itself",
		},
		f.TextField(
			"media.type",
			"Loose media inside, type",
			"",
			"",
		), f.TextField("media.dose", "Loose media, dose", "", "the maker's chart decides; nothing is computed"),
		{
			Type:  "date",
			Name:  "media.in",
			Label: "Loose media, put in on",
			Value: f.Value("media.in"),
			Fault: f.Fault("media.in"),
		}}}

	// A closed fold shows what is in it.
	says := []string{"no machine named"}
	if t := f.Text("machine"); t != "" {
		says[0] = t
	}

	if t := f.Text("self_check"); t != "" {
		if day, err := time.Parse(time.DateOnly, t); err == nil {
			t = f.Units.WriteDate(day)
		}
		says = append(says, "self-check "+t)
	}

	if t := f.Text("media.type"); t != "" {
		says = append(says, t+" inside")
	}
	machine = folded(m, strings.Join(says, ", "))

	whoNow := "now, you"
	if f.Text("at")+f.Text("person")+f.Text("note") != "" {
		whoNow = strings.Join(strings.Fields(f.Text("at")+" "+f.Text("person")), " ") + " as written"
	}
	who = folded(form.Section{Legend: "When, who, note", Fields: rest}, whoNow)
	return now, machine, who
}
