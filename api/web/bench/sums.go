package bench

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/balance"
)

func named(list []form.Option, value string) string {
	for _, o := range list {
		if o.Value == value {
			return o.Label
		}
	}
	return say.Plain(value)
}

// benchSum is a computation beside the bench: a small form, and lines of answer.
type benchSum struct {
	ID, Title, Intro string
	Fields           []form.Field
	Answer           []string
	Fault            string
	layout           func(*sumForm) []form.Field
	run              func(*sumForm) ([]string, error)
}

type sumsPage struct{ Sums []benchSum }

// sumForm reads one of the forms.
type sumForm struct{ *benchForm }

func (f *sumForm) field(name, label, unit string) form.Field {
	return f.TextField(name, label, unit, "")
}

// deg reads an angle that must be there.
func (f *sumForm) deg(name string) float64 { return float64(f.where(name, true, 0)) }

// shownAt reads a weight on a circle of a radius in mm, with its angle. A weight of nothing
// has none.
func (f *sumForm) shownAt(name string, radius float64) balance.Shown {
	m, _ := f.Mass(name + ".mass")
	return balance.Shown{MassG: float64(m.Value), Deg: float64(f.where(name+".angle", m.Value > 0, radius))}
}

func (f *sumForm) mm(name string) float64 { return f.Number(name, "mm") }

// benchSums lists them. Each is a GET form: nothing is recorded.
var benchSums = []benchSum{
	{
		ID:    "index",
		Title: "Index balance: two spins, the tire turned in between",
		Intro: "Spin, turn the tire on the rim, spin again, both without weights. Half a turn measures best.",
		layout: func(f *sumForm) []form.Field {
			return append(
				twoSpins(f),
				f.field("turn", "Tire turned clockwise by", "°"),
				f.field("step", "Display steps of", string(f.Units.Mass)),
			)
		},
		run: sumIndex,
	},
	{
		ID:    "center",
		Title: "The machine shows another value each time: wheel or clamping",
		Intro: "Spin the wheel. Loosen it, turn it half around on the shaft, clamp it again and spin again. Change " +
			"nothing else.",
		layout: twoSpins,
		run:    sumCenter,
	},
	{
		ID:    "planes",
		Title: "From one pair of planes to another",
		Intro: "Such as from the clip flanges, as the balancer shows them, to the adhesive planes. Depth: inward " +
			"from the outer flange; the outer flange itself has 0.",
		layout: func(f *sumForm) []form.Field {
			mass := string(f.Units.Mass)

			var out []form.Field
			for _, pair := range []string{"from", "to"} {
				for _, plane := range []string{"outer", "inner"} {
					out = append(
						out,
						f.field(pair+"."+plane+".radius", models.Capitalize(pair)+": "+plane+", radius", "mm"),
						f.field(pair+"."+plane+".depth", models.Capitalize(pair)+": "+plane+", depth", "mm"),
					)
				}
			}

			return append(
				out,
				f.field("outer.mass", "Shown, outer", mass),
				f.field("outer.angle", "Shown, outer at", "°"),
				f.field("inner.mass", "Shown, inner", mass),
				f.field("inner.angle", "Shown, inner at", "°"),
			)
		},
		run: sumPlanes,
	},
	{
		ID:    "readings",
		Title: "Match mounting from run-out readings",
		Intro: "Eight or more readings at equal steps, clockwise from the valve seen from outside: at the tread of " +
			"the tire on its wheel, and at the bead seats of the bare wheel. The tire's own part is the difference.",
		layout: func(f *sumForm) []form.Field {
			return []form.Field{
				f.field("assembly", "Tire on its wheel, at the tread", "mm"),
				f.field("wheel", "Bare wheel", "mm"),
			}
		},
		run: sumReadings,
	},
	{
		ID:    "marks",
		Title: "Match mounting from marks",
		Intro: "What a dot or dimple means is in the maker's key; colors are not universal. Leave empty what is not " +
			"marked.",
		layout: func(f *sumForm) []form.Field {
			return []form.Field{
				f.field("high", "Tire's high spot at", "°"),
				f.field("low", "Wheel's low spot at", "°"),
				f.field("light", "Tire's light spot at", "°"),
				f.field("heavy", "Wheel's heavy spot at", "°"),
			}
		},
		run: sumMarks,
	},
	{
		ID:    "half",
		Title: "Half turn: tire or wheel",
		Intro: "Find the high spot, turn the tire half around on the wheel, find it again. A car maker's manual " +
			"takes 4 in along the tread as the same place.",
		layout: func(f *sumForm) []form.Field {
			return []form.Field{
				f.SelectField("from", "Angles count from", "choose", countedFrom),
				f.field("first", "First high spot at", "°"),
				f.field("second", "Second high spot at", "°"),
				f.field("outside", "Tire's outer radius", "mm"),
			}
		},
		run: sumHalf,
	},
	{
		ID:    "lost",
		Title: "A lost weight, or a worn patch: what it is worth",
		Intro: "A clean print tells where a weight sat; a patch is measured along the tread. Rubber 1,150 kg/m³, " +
			"land 0.70 of a car tread and 0.75 of a truck tread (usual values, derived).",
		layout: func(f *sumForm) []form.Field {
			return []form.Field{
				f.field("lost", "Lost weight", string(f.Units.Mass)),
				f.field("at", "It, or the patch, sat at", "°"),
				f.field("rim", "Rim radius", "mm"),
				f.field("patch", "Patch: length", "mm"),
				f.field("depth", "Patch: deeper than the rest by", "mm"),
				f.field(
					"width",
					"Tread width",
					"mm",
				),
				f.field("tread", "Tread radius", "mm"),
				f.field("once", "Worn once per turn: deepest less shallowest", "mm"),
				f.TickField("truck", "A truck tread", ""),
			}
		},
		run: sumLost,
	},
}

// countedFrom is what the angles of a half turn may count from.
var countedFrom = []form.Option{
	{Value: string(balance.FromValve), Label: "the valve"},
	{Value: string(balance.FromMark), Label: "a mark on the tire"},
}

// twoSpins asks what a machine showed in two spins of one wheel.
func twoSpins(f *sumForm) []form.Field {
	mass := string(f.Units.Mass)
	out := []form.Field{f.field("radius", "Radius, both planes", "mm"), f.field("apart", "Planes apart", "mm")}
	for _, spin := range []string{"first", "second"} {
		for _, plane := range []string{"outer", "inner"} {
			name, label := spin+"."+plane, models.Capitalize(spin)+" spin, "+plane
			out = append(out, f.field(name+".mass", label, mass), f.field(name+".angle", label+" at", "°"))
		}
	}
	return out
}

func (s *room) benchSums(r *site.Request) error {
	sent := url.Values{}
	for k, v := range r.QueryParams() {
		sent[k] = v
	}

	var p sumsPage
	for _, sum := range slices.Concat(benchSums, trialSums) {
		own := url.Values{}
		if sent.Get("sum") == sum.ID {
			own = sent
		}

		// Only the sum that was sent keeps its values; the others are empty.
		f := &sumForm{&benchForm{Entry: form.NewEntry(own, r.Units(models.Depot{}))}}
		if len(own) > 0 {
			answer, err := sum.run(f)
			sum.Answer = answer
			switch {
			case !f.OK():
				sum.Answer, sum.Fault = nil, "Not worked out: see the fields below."
			case err != nil:
				sum.Answer, sum.Fault = nil, err.Error()
			}
		}

		sum.Fields = sum.layout(f)
		for i := range sum.Fields {
			sum.Fields[i].Fault = f.Fault(sum.Fields[i].Name)
		}

		p.Sums = append(p.Sums, sum)
	}

	return r.Show("benchsums", "vehicles", "Bench sums", p)
}

func notesText(notes []balance.Note) []string {
	var out []string
	for _, n := range notes {
		out = append(out, n.Text)
	}
	return out
}

// twoPlanes reads the planes of two spins.
func (f *sumForm) twoPlanes() balance.Planes {
	return balance.Planes{
		Inner: balance.Plane{RadiusMM: f.mm("radius"), OffsetMM: -f.mm("apart")},
		Outer: balance.Plane{RadiusMM: f.mm("radius")},
	}
}

// spinPair is two spins of one wheel, with what was changed before use.
type spinPair struct {
	first, second balance.Unbalance
	notes         []balance.Note
}

// spins reads what a machine showed in two spins.
func (f *sumForm) spins(p balance.Planes) (spinPair, error) {
	spin := func(name string) (balance.Unbalance, []balance.Note, error) {
		inner, outer := f.shownAt(name+".inner", p.Inner.RadiusMM), f.shownAt(name+".outer", p.Outer.RadiusMM)
		return balance.FromShown(p, inner, outer)
	}

	first, notes, err := spin("first")
	if err != nil {
		return spinPair{}, err
	}
	second, more, err := spin("second")

	return spinPair{first, second, append(notes, more...)}, err
}

// asksFor says what an unbalance asks for in two planes.
func (f *sumForm) asksFor(u balance.Unbalance, p balance.Planes) string {
	inner, outer := u.Correction(p)
	return fmt.Sprintf("outer %s, inner %s", f.placed(outer.MassG, outer.Deg), f.placed(inner.MassG, inner.Deg))
}

// placed says a weight and where it goes; nothing goes nowhere.
func (f *sumForm) placed(g, deg float64) string {
	if g < 0.05 { // rounding has no direction
		return "nothing"
	}
	return fmt.Sprintf("%s at %.0f°", f.gram(g), deg)
}

func sumCenter(f *sumForm) ([]string, error) {
	p := f.twoPlanes()
	two, err := f.spins(p)
	if err != nil || !f.OK() {
		return nil, err
	}
	c, err := balance.Center(p, two.first, two.second)
	if err != nil {
		return nil, err
	}

	return append(
		[]string{
			"The wheel itself asks for: " + f.asksFor(c.Wheel, p) + ".",
			"The clamping adds: " + f.asksFor(c.Clamp, p) + ".",
			"If the clamping adds more than one step of the machine: clean the faces and the shaft, use the right cone, " +
				"and spin again. Weights for the clamping would be wrong on the vehicle.",
		},
		notesText(append(two.notes, c.Notes...))...), nil
}

func sumIndex(f *sumForm) ([]string, error) {
	p := f.twoPlanes()
	two, err := f.spins(p)
	if err != nil {
		return nil, err
	}

	step, _ := f.Mass("step")
	x, err := balance.IndexBalance(
		balance.Spins{
			Planes:      p,
			First:       two.first,
			Second:      two.second,
			TurnDeg:     f.deg("turn"),
			ResolutionG: float64(step.Value),
		},
	)
	if err != nil {
		return nil, err
	}

	// A gain below the step of the display cannot be seen on the machine.
	worth := "The turn saves less than the display can show: leave it."
	if x.Worthwhile {
		worth = "The turn is worth it."
	}

	tire, rim := x.Tire.Static(), x.Rim.Static()
	return append(
		[]string{
			fmt.Sprintf(
				"Tire: %.0f g·mm heavy at %.0f°; wheel: %.0f g·mm heavy at %.0f° (static).",
				tire.GMM,
				tire.Deg,
				rim.GMM,
				rim.Deg,
			),
			fmt.Sprintf(
				"Turn the tire %.0f° further clockwise from where it sits now (%.0f° from its first seat).",
				x.FurtherDeg,
				x.TurnDeg,
			),
			fmt.Sprintf(
				"It would then ask for %s in all, give or take %s; the first spin asked for %s. %s",
				f.gram(x.WeightG),
				f.gram(x.PredictSDG),
				f.gram(x.FirstG),
				worth,
			),
		},
		notesText(append(two.notes, x.Notes...))...), nil
}

func sumPlanes(f *sumForm) ([]string, error) {
	pair := func(name string) balance.Planes {
		at := func(plane string) balance.Plane {
			return balance.Plane{
				RadiusMM: f.mm(name + "." + plane + ".radius"),
				OffsetMM: -f.mm(name + "." + plane + ".depth"),
			}
		}
		return balance.Planes{Inner: at("inner"), Outer: at("outer")}
	}

	from, to := pair("from"), pair("to")
	inner, outer := f.shownAt("inner", from.Inner.RadiusMM), f.shownAt("outer", from.Outer.RadiusMM)
	u, notes, err := balance.FromShown(from, inner, outer)
	if err != nil {
		return nil, err
	}
	moved, err := balance.Transfer(u, from, to)
	if err != nil {
		return nil, err
	}

	inner, outer = moved.Correction(to)
	return append(
		[]string{
			fmt.Sprintf(
				"There the outer plane asks for %s at %.0f°, the inner for %s at %.0f°.",
				f.gram(outer.MassG),
				outer.Deg,
				f.gram(inner.MassG),
				inner.Deg,
			),
		},
		notesText(notes)...), nil
}

// readings reads numbers with spaces between.
func (f *sumForm) readings(name string) []float64 {
	var out []float64
	for _, w := range form.SplitList(f.Text(name)) {
		v, err := strconv.ParseFloat(f.Units.Plain(w), 64)
		if err != nil {
			f.AddFault(name, strconv.Quote(w)+": write the readings in mm with spaces between, such as 0.2 0.4 0.1")
			return nil
		}
		out = append(out, v)
	}

	if len(out) < 8 {
		f.AddFault(name, fmt.Sprintf("%d readings: fewer than eight cannot tell once per turn from the rest", len(out)))
	}
	return out
}

func sumReadings(f *sumForm) ([]string, error) {
	assembly, wheel := f.readings("assembly"), f.readings("wheel")
	if !f.OK() {
		return nil, nil
	}
	m, err := balance.MatchReadings(assembly, wheel)
	if err != nil {
		return nil, err
	}

	return append(
		[]string{
			models.Capitalize(m.Advice) + ".",
			fmt.Sprintf("Once per turn, peak to peak: tire alone %.2f mm, high at %.0f°; wheel %.2f mm, "+
				"low at %.0f°.", m.TireMM, m.Tire.Deg, m.WheelMM, m.Wheel.LowDeg()),
			fmt.Sprintf("Before: %.2f mm. After the turn: %.2f mm.", m.NowMM, m.LeftMM),
		},
		notesText(m.Notes)...), nil
}

func sumMarks(f *sumForm) ([]string, error) {
	m := balance.Marks{TireKey: map[string]balance.Meaning{}, WheelKey: map[string]balance.Meaning{}}
	for _, k := range []struct {
		name    string
		meaning balance.Meaning
		wheel   bool
	}{{"high", balance.HighSpot, false}, {"light", balance.LightSpot, false}, {"low", balance.LowSpot, true}, {"heavy", balance.HeavySpot, true}} {
		if f.Text(k.name) == "" {
			continue
		}

		mark := balance.Mark{Look: k.name + " mark", Deg: f.deg(k.name)}
		if k.wheel {
			m.Wheel, m.WheelKey[mark.Look] = append(m.Wheel, mark), k.meaning
		} else {
			m.Tire, m.TireKey[mark.Look] = append(m.Tire, mark), k.meaning
		}
	}

	x, err := balance.MatchMarks(m)
	if err != nil {
		return nil, err
	}

	return append(
		[]string{fmt.Sprintf("Turn the tire %.0f° clockwise: %s.", x.TurnDeg, x.Why)},
		notesText(x.Notes)...), nil
}

// sameSpotMM is how far along the tread two marks count as one (a car maker's manual: 4 in).
const sameSpotMM = 101.6

func sumHalf(f *sumForm) ([]string, error) {
	from := balance.CountedFrom(f.Text("from"))
	if from == "" {
		f.AddFault("from", "choose: the answer turns around with it")
	}
	first, second := f.deg("first"), f.deg("second")
	if !f.OK() {
		return nil, nil
	}

	fault, notes, err := balance.HalfTurn(from, first, second, f.mm("outside"), sameSpotMM)
	if err != nil {
		return nil, err
	}

	says := map[balance.HalfTurnFault]string{
		balance.FaultTire:   "The high spot went with the tire: the tire is at fault.",
		balance.FaultWheel:  "The high spot stayed with the wheel: the wheel is at fault.",
		balance.FaultUnsure: "Neither: turn the tire a quarter and measure again.",
	}

	return append([]string{says[fault]}, notesText(notes)...), nil
}

func sumLost(f *sumForm) ([]string, error) {
	rim := balance.Plane{RadiusMM: f.mm("rim")}
	if rim.RadiusMM < 10 {
		f.AddFault("rim", "measure from the axle's center to the middle of the weight")
		return nil, nil
	}

	at := float64(f.where("at", true, rim.RadiusMM))
	if !f.OK() {
		return nil, nil
	}

	var out []string
	say := func(what string, v balance.Vector, notes []balance.Note) {
		out = append(
			out,
			fmt.Sprintf(
				"%s: %.0f g·mm; it takes %s at %.0f°.",
				what,
				v.GMM,
				f.gram(v.At(rim.RadiusMM)),
				v.Opposite().Deg,
			),
		)

		out = append(out, notesText(notes)...)
	}

	if m, ok := f.Mass("lost"); ok {
		u, notes, err := balance.LostWeight(
			balance.Planes{Outer: rim, Inner: balance.Plane{RadiusMM: rim.RadiusMM, OffsetMM: -100}},
			float64(m.Value),
			rim,
			at,
		)
		if err != nil {
			return nil, err
		}

		say("Without the weight", u.Static(), notes)
	}

	// The patch and the wear once per turn need the tread; the lost weight does not.
	tread := balance.Tread{
		Density:   balance.RubberDensity,
		LandRatio: balance.LandRatioCar,
		WidthMM:   f.mm("width"),
		RadiusMM:  f.mm("tread"),
	}

	if f.Ticked("truck") {
		tread.LandRatio = balance.LandRatioTruck
	}

	if f.Text("patch") != "" {
		v, notes, err := balance.WornPatch(tread, f.mm("depth"), f.mm("patch"), at)
		if err != nil {
			return nil, err
		}
		say("The patch", v, notes)
	}

	if f.Text("once") != "" {
		v, notes, err := balance.WearRound(tread, f.mm("once")/2, at)
		if err != nil {
			return nil, err
		}
		say("Worn once per turn", v, notes)
	}

	if len(out) == 0 {
		f.AddFault(
			"lost",
			"write "+strings.Join([]string{"a lost weight", "a patch", "or the wear once per turn"}, ", "),
		)
	}

	return out, nil
}
