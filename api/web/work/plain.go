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
		f.ChecksField("axles", "Axles", f.axleOptions()),
		f.AreaField("found", "Found", "toe, camber, thrust as measured"),
		f.AreaField("set", "Set to", ""),
	}}}
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

func layoutWithdraw(f *workForm) []form.Section {
	return []form.Section{{Legend: "Which and why", Fields: []form.Field{
		f.TextField("supersedes", "Number of the entry", "", "taken from the timeline"),
		f.AreaField("reason", "Why it is withdrawn", ""),
	}}}
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
