package work

import (
	"fmt"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
)

// shakeBands is how many bands of speed the form of a shake asks for: chosen by us. The
// API takes more.
const shakeBands = 3

// bandFields names the fields of one band in the form.
type bandFields struct{ from, worst, to, strength string }

// bandFieldsOf returns the names of band i, from 0. The first has the names that a report
// with one band always had.
func bandFieldsOf(i int) bandFields {
	f := bandFields{"starts_kmh", "worst_kmh", "fades_kmh", "strength"}
	if i > 0 {
		suffix := fmt.Sprintf(".%d", i+1)
		f = bandFields{f.from + suffix, f.worst + suffix, f.to + suffix, f.strength + suffix}
	}
	return f
}

func layoutVibration(f *workForm) []form.Section {
	out := f.bandSections()
	out = append(out, f.shakeSection())

	var open []form.Option
	for _, c := range f.view.State.Complaints {
		label := "the report of " + f.Units.WriteDate(c.At.In(say.Zone(f.view.Depot)))
		open = append(open, form.Option{Value: string(c.EventID), Label: label})
	}

	if len(open) > 0 {
		out = append(out, form.Section{Legend: "Or settle an earlier report", Fields: []form.Field{
			f.SelectField("settles", "It is gone:", "settles nothing", open)}})
	}

	return out
}

// bandSections ask for the speeds of the shake, a section for each band.
func (f *workForm) bandSections() []form.Section {
	word, _ := say.SpeedUnit(f.Units)
	legends := [shakeBands]string{"Speed", "Back at a higher speed", "And back once more"}

	var out []form.Section
	for i, legend := range legends {
		n := bandFieldsOf(i)
		s := form.Section{Legend: legend, Rows: "even", Fields: []form.Field{
			f.NumberField(n.from, "Starts at", word),
			f.NumberField(n.worst, "Worst at", word),
			f.NumberField(n.to, "Gone at", word),
			f.SelectField(n.strength, "How strong", "not known", form.CodeOptions(models.ShakeStrengths...)),
		}}

		switch i {
		case 0:
			s.Hint = "Where it is felt first."
			s.Fields = append(s.Fields, f.TickField("returns_higher", "Comes back at a higher speed", ""))
		case 1:
			s.Hint = "Only if it goes away and comes back."
		}
		out = append(out, s)
	}

	return out
}

// shakeSection asks where the shake is felt and what changes it.
func (f *workForm) shakeSection() form.Section {
	effect := []form.Option{
		{Value: "worse", Label: "worse"},
		{Value: "better", Label: "better"},
		{Value: "same", Label: "the same"},
		{Value: "only", Label: "it shakes only then"},
	}
	since := []form.Option{
		{Value: "fit", Label: "tires were fitted"},
		{Value: "rotation", Label: "a rotation"},
		{Value: "pothole", Label: "a pothole"},
		{Value: "repair", Label: "a repair"},
		{Value: "parked", Label: "it stood for long"},
		{Value: "gradual", Label: "it came gradually"},
	}

	return form.Section{Legend: "How", Fields: []form.Field{
		f.ChecksField("felt_at", "Felt in, all that shake", form.CodeOptions(models.ShakePlaces...)),
		f.SelectField("braking", "When braking", "not known", effect),
		f.SelectField("throttle", "Under throttle", "not known", effect),
		f.SelectField("neutral", "In neutral", "not known", effect),
		f.SelectField("since", "Since", "not known", since),
		f.TickField("warm_fixes", "Gone after 10 to 15 minutes of driving", ""),
		f.TickField("audible", "A growl or slap that is heard", ""),
	}}
}

func buildVibration(f *workForm) models.Event {
	f.MapFields("braking", "throttle", "neutral", "since", "settles", "worst_kmh")
	f.MapField("places", "felt_at")

	return &models.Vibration{
		Meta:          f.header(),
		Bands:         f.speedBands(),
		Places:        f.chosenPlaces(),
		ReturnsHigher: f.Ticked("returns_higher"),
		Braking:       f.Text("braking"),
		Throttle:      f.Text("throttle"),
		Neutral:       f.Text("neutral"),
		Since:         f.Text("since"),
		WarmFixes:     f.Ticked("warm_fixes"),
		Audible:       f.Ticked("audible"),
		Settles:       models.EventID(f.Text("settles")),
	}
}

// speedBands reads the bands in which anything was entered.
func (f *workForm) speedBands() []models.SpeedBand {
	word, per := say.SpeedUnit(f.Units)

	var out []models.SpeedBand
	for i := range shakeBands {
		n := bandFieldsOf(i)
		b := models.SpeedBand{
			FromKMH:  per * f.Number(n.from, word),
			WorstKMH: per * f.Number(n.worst, word),
			ToKMH:    per * f.Number(n.to, word),
			Strength: f.Text(n.strength),
		}
		if b == (models.SpeedBand{}) {
			continue
		}

		at := fmt.Sprintf("bands[%d]", len(out))
		f.MapField(at+".from_kmh", n.from)
		f.MapField(at+".worst_kmh", n.worst)
		f.MapField(at+".to_kmh", n.to)
		f.MapField(at+".strength", n.strength)
		out = append(out, b)
	}

	return out
}

// chosenPlaces returns the places that were ticked.
func (f *workForm) chosenPlaces() []string {
	var out []string
	for _, at := range f.Sent["felt_at"] {
		if at != "" {
			out = append(out, at)
		}
	}
	return out
}
