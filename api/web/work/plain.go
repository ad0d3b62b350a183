package work

import (
	"fmt"
	"strconv"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
)

// plainWorks are the entries about the vehicle as a whole.
func plainWorks() []work {
	return []work{
		{Kind: "odometer", Title: "Odometer", Intro: "An odometer reading by itself.",
			layout: func(*workForm) []form.Section { return nil }, build: func(f *workForm) models.Event { return &models.OdometerEntry{Meta: f.header()} }},
		{Kind: "alignment", Title: "Alignment", Intro: "Wheel alignment of some axles.",
			Cautions: func(models.Vehicle) []string { return []string{say.CautionJack, say.CautionLocal} },
			layout:   layoutAlignment, build: buildAlignment},
		{Kind: "service", Title: "Running gear", Intro: "Work on the parts that decide wear.",
			Cautions: func(models.Vehicle) []string { return []string{say.CautionJack, say.CautionLocal} },
			layout:   layoutService, build: buildService},
		{Kind: "vibration", Title: "Vibration", Intro: "What a driver felt. Leave empty what is not known.",
			Cautions: func(models.Vehicle) []string {
				return []string{
					"Try it on the road only where law, traffic and load allow, with two people: one drives, the " +
						"other notes. Stop at once if a wheel may be loose.",
					say.CautionLocal,
				}
			},
			layout: layoutVibration, build: buildVibration},
		{Kind: "withdraw", Title: "Withdraw an entry", Intro: withdrawIntro,
			layout: layoutWithdraw, build: buildWithdraw},
	}
}

func (f *workForm) axleOptions() []form.Option {
	var out []form.Option
	for i, a := range f.view.Vehicle.Axles {
		out = append(
			out,
			form.Option{Value: strconv.Itoa(i + 1), Label: fmt.Sprintf("axle %d, %s", i+1, say.RoleName(a.Role()))},
		)
	}
	return out
}

func layoutAlignment(f *workForm) []form.Section {
	return []form.Section{{Legend: "What", Hint: "No axle ticked means all of them.", Fields: []form.Field{
		f.ChecksField(
			"axles",
			"Axles",
			f.axleOptions(),
		), f.AreaField("found", "Found", "toe, camber, thrust as measured"), f.AreaField("set", "Set to", "")}}}
}

func buildAlignment(f *workForm) models.Event {
	e := &models.Alignment{Meta: f.header(), Found: f.Text("found"), Set: f.Text("set")}
	for _, name := range []string{"axles", "found", "set"} {
		f.MapField(name, name)
	}
	for _, a := range f.Sent["axles"] {
		n, err := strconv.Atoi(a)
		if err != nil {
			f.AddFault("axles", "tick axles of this vehicle")
		}
		e.Axles = append(e.Axles, n)
	}
	return e
}

func layoutService(f *workForm) []form.Section {
	return []form.Section{{Legend: "What", Fields: []form.Field{
		f.SelectField("what", "Part", "choose", form.CodeOptions("dampers", "bearings", "steering", "brakes", "other")),
		f.SelectField("axle", "Axle", "all", f.axleOptions())}}}
}

func buildService(f *workForm) models.Event {
	f.MapField("what", "what")
	f.MapField("axle", "axle")
	return &models.Service{Meta: f.header(), What: f.Text("what"), Axle: f.Whole("axle", "axles")}
}

func layoutVibration(f *workForm) []form.Section {
	word, _ := say.SpeedUnit(f.Units)
	effect := []form.Option{
		{Value: "worse", Label: "worse"},
		{Value: "better", Label: "better"},
		{Value: "same", Label: "the same"},
		{Value: "only", Label: "it shakes only then"},
	}

	out := []form.Section{
		{
			Legend: "Speed",
			Fields: []form.Field{
				f.NumberField("starts_kmh", "Starts at", word),
				f.NumberField("worst_kmh", "Worst at", word),
				f.NumberField(
					"fades_kmh",
					"Fades at",
					word,
				),
				f.TickField("returns_higher", "Comes back at a higher speed", ""),
			},
		},
		{
			Legend: "How",
			Fields: []form.Field{
				f.SelectField(
					"felt_at",
					"Felt in",
					"not known",
					form.CodeOptions("steering_wheel", "seat", "floor", "body"),
				),
				f.SelectField(
					"braking",
					"When braking",
					"not known",
					effect,
				),
				f.SelectField("throttle", "Under throttle", "not known", effect),
				f.SelectField("neutral", "In neutral", "not known", effect),
				f.SelectField(
					"since",
					"Since",
					"not known",
					[]form.Option{{Value: "fit", Label: "tires were fitted"}, {Value: "rotation", Label: "a rotation"},
						{
							Value: "pothole",
							Label: "a pothole",
						}, {Value: "repair", Label: "a repair"}, {Value: "parked", Label: "it stood for long"}, {Value: "gradual", Label: "it came gradually"}},
				),
				f.TickField(
					"warm_fixes",
					"Gone after 10 to 15 minutes of driving",
					"",
				),
				f.TickField("audible", "A growl or slap that is heard", ""),
			},
		},
	}

	var open []form.Option
	for _, c := range f.view.State.Complaints {
		open = append(
			open,
			form.Option{
				Value: string(c.EventID),
				Label: "the report of " + f.Units.WriteDate(c.At.In(say.Zone(f.view.Depot))),
			},
		)
	}

	if len(open) > 0 {
		out = append(
			out,
			form.Section{
				Legend: "Or settle an earlier report",
				Fields: []form.Field{f.SelectField("settles", "It is gone:", "settles nothing", open)},
			},
		)
	}

	return out
}

func buildVibration(f *workForm) models.Event {
	word, per := say.SpeedUnit(f.Units)

	for _, name := range []string{"starts_kmh", "worst_kmh", "fades_kmh", "felt_at", "braking", "throttle", "neutral", "since", "settles"} {
		f.MapField(name, name)
	}
	return &models.Vibration{
		Meta:      f.header(),
		StartsKMH: per * f.Number("starts_kmh", word),
		WorstKMH:  per * f.Number("worst_kmh", word),
		FadesKMH: per * f.Number(
			"fades_kmh",
			word,
		),
		ReturnsHigher: f.Ticked("returns_higher"),
		FeltAt:        f.Text("felt_at"),
		Braking:       f.Text("braking"),
		Throttle: f.Text(
			"throttle",
		),
		Neutral:   f.Text("neutral"),
		Since:     f.Text("since"),
		WarmFixes: f.Ticked("warm_fixes"),
		Audible:   f.Ticked("audible"),
		Settles:   models.EventID(f.Text("settles")),
	}
}

func layoutWithdraw(f *workForm) []form.Section {
	return []form.Section{{Legend: "Which and why", Fields: []form.Field{
		f.TextField(
			"supersedes",
			"Number of the entry",
			"",
			"taken from the timeline",
		), f.AreaField("reason", "Why it is withdrawn", "")}}}
}

const withdrawIntro = "The entry stays readable, marked as withdrawn, and no longer counts. To correct a value, " +
	"withdraw the entry and enter it again."

func buildWithdraw(f *workForm) models.Event { return withdrawn(f.Entry, f.header()) }

// withdrawn reads which entry is withdrawn and why.
func withdrawn(e *form.Entry, m models.Meta) *models.Void {
	v := &models.Void{Meta: m}
	v.Supersedes, v.Reason = models.EventID(e.Text("supersedes")), e.Text("reason")
	e.MapFields("supersedes", "reason")
	if v.Supersedes == "" {
		e.AddFault("supersedes", "say which entry is withdrawn")
	}
	if v.Reason == "" {
		e.AddFault("reason", "say why, for whoever reads the timeline later")
	}
	return v
}
