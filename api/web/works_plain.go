package web

import (
	"fmt"
	"strconv"

	"rimledger/models"
	"rimledger/models/units"
)

// plainWorks are the entries about the vehicle as a whole.
func plainWorks() []work {
	return []work{
		{Kind: "odometer", Title: "Odometer", Intro: "An odometer reading by itself.",
			layout: func(*workForm) []section { return nil }, build: func(f *workForm) models.Event { return &models.OdometerEntry{Meta: f.header()} }},
		{Kind: "alignment", Title: "Alignment", Intro: "Wheel alignment of some axles.",
			Cautions: func(models.Vehicle) []string { return []string{cautionJack, cautionLocal} },
			layout:   layoutAlignment, build: buildAlignment},
		{Kind: "service", Title: "Running gear", Intro: "Work on the parts that decide wear.",
			Cautions: func(models.Vehicle) []string { return []string{cautionJack, cautionLocal} },
			layout:   layoutService, build: buildService},
		{Kind: "vibration", Title: "Vibration", Intro: "What a driver felt. Leave empty what is not known.",
			Cautions: func(models.Vehicle) []string {
				return []string{"Try it on the road only where law, traffic and load allow, with two people: one drives, the other notes. Stop at once if a wheel may be loose.", cautionLocal}
			},
			layout: layoutVibration, build: buildVibration},
		{Kind: "withdraw", Title: "Withdraw an entry", Intro: withdrawIntro,
			layout: layoutWithdraw, build: buildWithdraw},
	}
}

func (f *workForm) axleOptions() []option {
	var out []option
	for i, a := range f.view.Vehicle.Axles {
		out = append(out, option{Value: strconv.Itoa(i + 1), Label: fmt.Sprintf("axle %d, %s", i+1, roleName(a.Role()))})
	}
	return out
}

func layoutAlignment(f *workForm) []section {
	return []section{{Legend: "What", Hint: "No axle ticked means all of them.", Fields: []field{
		f.checksField("axles", "Axles", f.axleOptions()), f.areaField("found", "Found", "toe, camber, thrust as measured"), f.areaField("set", "Set to", "")}}}
}

func buildAlignment(f *workForm) models.Event {
	e := &models.Alignment{Meta: f.header(), Found: f.text("found"), Set: f.text("set")}
	for _, name := range []string{"axles", "found", "set"} {
		f.as(name, name)
	}
	for _, a := range f.sent["axles"] {
		n, err := strconv.Atoi(a)
		if err != nil {
			f.fault("axles", "tick axles of this vehicle")
		}
		e.Axles = append(e.Axles, n)
	}
	return e
}

func layoutService(f *workForm) []section {
	return []section{{Legend: "What", Fields: []field{
		f.selectField("what", "Part", "choose", codes("dampers", "bearings", "steering", "brakes", "other")),
		f.selectField("axle", "Axle", "all", f.axleOptions())}}}
}

func buildService(f *workForm) models.Event {
	f.as("what", "what")
	f.as("axle", "axle")
	return &models.Service{Meta: f.header(), What: f.text("what"), Axle: f.whole("axle", "axles")}
}

// speedUnit is how speeds are written beside these distances.
func speedUnit(u units.Style) (word string, perKMH float64) {
	if u.Distance == units.Mi {
		return "mph", units.Mile.Kilometres()
	}
	return "km/h", 1
}

func layoutVibration(f *workForm) []section {
	word, _ := speedUnit(f.units)
	effect := []option{{Value: "worse", Label: "worse"}, {Value: "better", Label: "better"}, {Value: "same", Label: "the same"}, {Value: "only", Label: "it shakes only then"}}
	out := []section{
		{Legend: "Speed", Fields: []field{f.numberField("starts_kmh", "Starts at", word), f.numberField("worst_kmh", "Worst at", word),
			f.numberField("fades_kmh", "Fades at", word), f.tickField("returns_higher", "Comes back at a higher speed", "")}},
		{Legend: "How", Fields: []field{f.selectField("felt_at", "Felt in", "not known", codes("steering_wheel", "seat", "floor", "body")),
			f.selectField("braking", "When braking", "not known", effect), f.selectField("throttle", "Under throttle", "not known", effect),
			f.selectField("neutral", "In neutral", "not known", effect),
			f.selectField("since", "Since", "not known", []option{{Value: "fit", Label: "tires were fitted"}, {Value: "rotation", Label: "a rotation"},
				{Value: "pothole", Label: "a pothole"}, {Value: "repair", Label: "a repair"}, {Value: "parked", Label: "it stood for long"}, {Value: "gradual", Label: "it came gradually"}}),
			f.tickField("warm_fixes", "Gone after 10 to 15 minutes of driving", ""), f.tickField("audible", "A growl or slap that is heard", "")}},
	}
	var open []option
	for _, c := range f.view.State.Complaints {
		open = append(open, option{Value: string(c.EventID), Label: "the report of " + f.units.WriteDate(c.At.In(zone(f.view.Depot)))})
	}
	if len(open) > 0 {
		out = append(out, section{Legend: "Or settle an earlier report", Fields: []field{f.selectField("settles", "It is gone:", "settles nothing", open)}})
	}
	return out
}

func buildVibration(f *workForm) models.Event {
	word, per := speedUnit(f.units)
	for _, name := range []string{"starts_kmh", "worst_kmh", "fades_kmh", "felt_at", "braking", "throttle", "neutral", "since", "settles"} {
		f.as(name, name)
	}
	return &models.Vibration{Meta: f.header(), StartsKMH: per * f.number("starts_kmh", word), WorstKMH: per * f.number("worst_kmh", word),
		FadesKMH: per * f.number("fades_kmh", word), ReturnsHigher: f.ticked("returns_higher"), FeltAt: f.text("felt_at"), Braking: f.text("braking"),
		Throttle: f.text("throttle"), Neutral: f.text("neutral"), Since: f.text("since"), WarmFixes: f.ticked("warm_fixes"), Audible: f.ticked("audible"),
		Settles: models.EventID(f.text("settles"))}
}

func layoutWithdraw(f *workForm) []section {
	return []section{{Legend: "Which and why", Fields: []field{
		f.textField("supersedes", "Number of the entry", "", "taken from the timeline"), f.areaField("reason", "Why it is withdrawn", "")}}}
}

const withdrawIntro = "The entry stays readable, marked as withdrawn, and no longer counts. To correct a value, withdraw the entry and enter it again."

func buildWithdraw(f *workForm) models.Event { return withdrawn(f.entry, f.header()) }

// withdrawn reads which entry is withdrawn and why.
func withdrawn(e *entry, m models.Meta) *models.Void {
	v := &models.Void{Meta: m}
	v.Supersedes, v.Reason = models.EventID(e.text("supersedes")), e.text("reason")
	e.same("supersedes", "reason")
	if v.Supersedes == "" {
		e.fault("supersedes", "say which entry is withdrawn")
	}
	if v.Reason == "" {
		e.fault("reason", "say why, for whoever reads the timeline later")
	}
	return v
}
