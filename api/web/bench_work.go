package web

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/badinput"
	"rimledger/models/balance"
	"rimledger/models/tiresize"
	"rimledger/models/units"
)

// benchResult is what the numbers on the bench page come to.
type benchResult struct {
	Said    string // why nothing is worked out yet; empty if it is
	Faults  []Problem
	Notes   []string // what was changed before use, and warnings
	Dial    dial
	Strip   residual
	Choices []choice        // as it is, proposed, simply rounded
	Mine    *choice         // the technician's own
	Then    [ownRows]string // what is left with each weight of the technician's own and those before it
	Costs   []string        // what hiding and one plane cost
	Speed   []string        // static and couple, and what they do at speed
	Limits  []limitLine
	Over    []string // which limits are passed
	Advice  []string // instead of more weight
	Needs   []string // what adhesive weights need
	pieces  []balance.Piece
}

// choice is one column of the comparison.
type choice struct {
	Title                 string
	Fit                   []pieceLine // as they stand side by side
	Weights               []string
	LeftOuter, LeftInner  string // brief
	Outer, Inner, Static  string
	Couple, Force, Moment string
	Mass, Brief           string
	Pieces                int
	Within                string
}

// pieceLine is one weight, brief.
type pieceLine struct{ Mass, Angle, Where string }

type limitLine struct{ What, Value, Verdict, Source, Status string }

// usualClips and usualSegments are the sizes a box usually holds (rounding
// habit of 5 g and 0.25 oz; from memory, no source).
func usualClips(heavy bool, u units.Unit) string {
	switch {
	case heavy && u == units.Oz:
		return "1 2 3 4 5 6 8 10 12 14"
	case heavy:
		return "25 50 75 100 125 150 200 250 300 350"
	case u == units.Oz:
		return "0.25 0.5 0.75 1 1.25 1.5 1.75 2 2.25 2.5 2.75 3"
	}
	return "5 10 15 20 25 30 35 40 45 50 55 60"
}

func usualSegments(heavy bool, u units.Unit) string {
	switch {
	case heavy && u == units.Oz:
		return "1"
	case heavy:
		return "25"
	case u == units.Oz:
		return "0.25"
	}
	return "5"
}

const (
	stripMost  = 12   // segments of one strip, chosen by us
	segmentMM  = 16.0 // usual length of one segment (from memory)
	benchKMH   = 100.0
	maxTypedKG = 2000
)

func (f *benchForm) stock() []balance.Weight {
	var out []balance.Weight
	for _, m := range f.sizes("clips", f.units.Mass) {
		out = append(out, balance.Weight{Name: m.Text, Kind: balance.Clip, MassG: float64(m.Value)})
	}
	for _, m := range f.sizes("segments", f.units.Mass) {
		out = append(out, balance.Weight{Name: m.Text, Kind: balance.Adhesive, MassG: float64(m.Value), LengthMM: segmentMM, MaxSegments: stripMost})
	}
	return out
}

// slackG is how much more than the best a heavy wheel's weights may leave to be
// lighter, both planes together: half of a clip of 1 oz (chosen by us). With two
// pieces a plane, large weights would else face each other to save a gram.
const slackG = 14

// problem reads the form as a problem to solve. said says why there is none yet.
func (f *benchForm) problem() (p balance.Problem, notes []balance.Note, said string) {
	shown := map[string]models.PlaneUnbalance{}
	for _, s := range f.shown("shown") {
		shown[s.Plane] = s
	}
	limits := assess.LimitsOf(f.assembly())
	p = balance.Problem{Measured: f.planes(), Mode: balance.TwoPlane, Stock: f.stock(), LimitInnerG: limits.Residual.Base(), LimitOuterG: limits.Residual.Base()}
	if f.heavy() {
		p.SlackG = slackG
	}
	if m, ok := f.mass("most"); ok {
		p.MaxMassG = float64(m.Value)
	}
	outer, inner, depth := f.fieldsOf()
	static := f.static()
	_, both := shown["outer"]
	_, second := shown["inner"]
	_, single := shown["single"]
	both = both && second
	switch {
	case !both && !single || !static && !both:
		return p, nil, "Fill in step 1: both planes, or one plane alone where you balance in one. What is left then stands here."
	case p.Measured.Outer.RadiusMM == 0:
		f.fault(outer, "zero: measure from the axle's center to the middle of the weight")
	case p.Measured.Inner.RadiusMM == 0:
		f.fault(inner, "zero: measure from the axle's center to the middle of the weight")
	case !static && math.Abs(p.Measured.Outer.OffsetMM-p.Measured.Inner.OffsetMM) < 1:
		f.fault(depth, "no distance between the planes: measure how far inward this plane lies from the outer flange, or balance in one plane")
	case len(p.Stock) == 0:
		f.fault("clips", "the box is empty: list at least one weight")
	}
	p.Places = f.places()
	if len(p.Stock) > 0 && !slices.ContainsFunc(p.Stock, func(w balance.Weight) bool {
		return slices.ContainsFunc(p.Places, func(q balance.Place) bool { return q.Kind == w.Kind })
	}) {
		f.fault(map[balance.Kind]string{balance.Clip: "clips", balance.Adhesive: "segments"}[p.Places[0].Kind], "the box holds nothing that fits where weights may go")
	}
	if !f.ok() {
		return p, nil, "Nothing is worked out until this is right:"
	}
	if static {
		p.Mode, p.LimitInnerG, p.LimitOuterG, p.LimitStaticG = balance.Static, 0, 0, limits.Residual.Base()
	}
	var err error
	if single && static {
		s := shown["single"]
		at := s.Angle.Normal()
		if at != s.Angle {
			notes = append(notes, balance.Note{Text: turned("one plane alone", s.Angle)})
		}
		p.Unbalance = balance.HalfEach(balance.Mass(s.Grams(), p.Measured.Outer.RadiusMM, float64(at)).Opposite())
		if s.Grams() > 2000 {
			f.fault("shown.single.mass", "heavier than any wheel's: at most 2000 g; check the unit and the reading")
			return p, nil, "Nothing is worked out until this is right:"
		}
	} else {
		in, out := shown["inner"], shown["outer"]
		for _, s := range []models.PlaneUnbalance{out, in} {
			if s.Angle.Normal() != s.Angle {
				notes = append(notes, balance.Note{Text: turned(s.Plane+" plane", s.Angle)})
			}
		}
		p.Unbalance, _, err = balance.FromShown(p.Measured, balance.Shown{MassG: in.Grams(), Deg: float64(in.Angle.Normal())}, balance.Shown{MassG: out.Grams(), Deg: float64(out.Angle.Normal())})
	}
	if err != nil {
		return p, nil, f.blame(err)
	}
	return p, notes, ""
}

func turned(what string, a units.Angle) string {
	return fmt.Sprintf("%s: %g° taken as %g°", what, float64(a), float64(a.Normal()))
}

// blame puts an error of package balance beside the field it speaks of.
func (f *benchForm) blame(err error) string {
	var in *badinput.Error
	if !errors.As(err, &in) {
		return err.Error()
	}
	outer, inner, depth := f.fieldsOf()
	field := ""
	for place, fields := range measureFields {
		if strings.Contains(in.Field, "("+place+")") {
			field = fields[0]
		}
	}
	switch {
	case field != "":
	case errors.Is(err, balance.ErrEmptyStock):
		field = "clips"
	case errors.Is(err, balance.ErrNoPlace):
		field = "geometry.blocked"
	case errors.Is(err, balance.ErrZeroDistance):
		field = depth
	case errors.Is(err, balance.ErrUnknownPlace):
		field = "fitted.0.plane"
	case errors.Is(err, balance.ErrTooHeavy) && strings.HasPrefix(in.Field, "inner"):
		field = "shown.inner.mass"
	case errors.Is(err, balance.ErrTooHeavy) && strings.HasPrefix(in.Field, "outer"):
		field = "shown.outer.mass"
	case errors.Is(err, balance.ErrTooHeavy) && strings.HasPrefix(in.Field, "weight"):
		field = "fitted.0.mass"
	case strings.HasPrefix(in.Field, "stock"):
		field = "clips"
	case strings.Contains(in.Field, "inner"):
		field = inner
	case strings.Contains(in.Field, "outer"):
		field = outer
	}
	text := fmt.Sprintf("%s: %v; %s", in.Value, in.Err, in.Right)
	if field == "" {
		return in.Field + " " + text
	}
	f.fault(field, text)
	return "Nothing is worked out until this is right:"
}

// workOut computes everything that the page shows of what was typed.
func (f *benchForm) workOut() benchResult {
	var r benchResult
	p, notes, said := f.problem()
	own := f.ownPieces()
	if said == "" {
		said = f.compare(&r, p, own)
	}
	for _, n := range notes {
		r.Notes = append(r.Notes, n.Text)
	}
	r.Said, r.Faults = said, f.Problems()
	if said != "" {
		r.Strip = residual{Said: said}
	}
	if slices.ContainsFunc(f.allowed(), func(plane string) bool { return f.kindIn(plane) == "adhesive" }) {
		r.Needs = surfaceSteps
	}
	r.Dial = f.drawDial(p, said == "", r.pieces, own)
	return r
}

// ownPieces reads the technician's own choice. What sticks on is as long as the
// segments of the box make it, as in the proposal.
func (f *benchForm) ownPieces() []balance.Piece {
	var out []balance.Piece
	segments := f.sizes("segments", f.units.Mass)
	for _, w := range f.weights("fitted") {
		x := balance.Piece{Place: w.Plane, MassG: float64(w.Mass.Value), Deg: float64(w.Angle), Weight: w.Mass.Text, Spot: w.Place}
		if w.Type == "adhesive" {
			x.LengthMM = stripMM(x.MassG, segments)
		}
		out = append(out, x)
	}
	return out
}

// stripMM is how long a strip of a mass is in the fewest segments that make it up.
func stripMM(g float64, segments []models.Mass) float64 {
	fewest := 0.0
	for _, m := range segments {
		if m.Value <= 0 {
			continue
		}
		if n := g / float64(m.Value); math.Abs(n-math.Round(n)) < 0.02 && (fewest == 0 || n < fewest) {
			fewest = math.Round(n)
		}
	}
	return min(fewest*segmentMM, stripMost*segmentMM)
}

// ownRowsFilled lists the rows that hold a weight of the technician's own.
func (f *benchForm) ownRowsFilled() []int {
	var out []int
	for i := range ownRows {
		if f.text("fitted."+strconv.Itoa(i)+".mass") != "" {
			out = append(out, i)
		}
	}
	return out
}

// residual is what is left as it stands, kept in sight while weights are typed.
type residual struct {
	Said         string // why there is none
	What         string
	Outer, Inner string
	Within       bool
	Limit        string
}

func (f *benchForm) residual(now balance.Left, fitted int) residual {
	s := residual{What: "Left with your " + plural(fitted, "weight", "weights"), Outer: f.still(now.OuterG, now.Unbalance.Outer), Inner: f.still(now.InnerG, now.Unbalance.Inner), Within: now.Meets, Limit: "over the limit"}
	if now.Meets {
		s.Limit = "within the limit"
	}
	if fitted == 0 {
		s.What = "Asked for, nothing fitted"
	}
	return s
}

// still says what a plane still asks for, and where.
func (f *benchForm) still(g float64, heavy balance.Vector) string {
	if g < 0.05 { // rounding has no direction
		return "nothing"
	}
	return fmt.Sprintf("%s at %.0f°", f.brief(g), float64(units.Angle(math.Round(heavy.Opposite().Deg)).Normal()))
}

func (f *benchForm) leftWords(l balance.Left) string {
	return "outer " + f.still(l.OuterG, l.Unbalance.Outer) + ", inner " + f.still(l.InnerG, l.Unbalance.Inner)
}

// compare solves p and holds the proposal, simple rounding and the technician's
// own choice side by side. It returns what is wrong, "" if nothing is.
func (f *benchForm) compare(r *benchResult, p balance.Problem, own []balance.Piece) string {
	best, err := balance.Choose(p)
	if err != nil {
		return f.blame(err)
	}
	for _, n := range best.Notes {
		r.Notes = append(r.Notes, n.Text)
	}
	r.pieces = best.Pieces
	spin, spinErr := f.spin()
	r.Choices = []choice{f.column("As it is", nil, best.Before, p, spin), f.column("Proposed", best.Pieces, best.Left, p, spin),
		f.column("Simply rounded", best.Rounded.Pieces, best.Rounded.Left, p, spin)}
	last := best.Before
	rows, open := f.ownRowsFilled(), f.withOwn(p, own)
	for i := range own {
		left, notes, err := balance.Evaluate(open, own[:i+1])
		if err != nil {
			return f.blame(err)
		}
		r.Then[rows[i]] = "then left: " + f.leftWords(left)
		last = left
		if i == len(own)-1 {
			for _, n := range notes {
				r.Notes = append(r.Notes, n.Text)
			}
			mine := f.column("Your choice", own, left, p, spin)
			r.Mine = &mine
		}
	}
	r.Strip = f.residual(last, len(own))
	r.Costs = f.costs(p, best)
	if spinErr == nil {
		s, c := p.Unbalance.Static(), p.Unbalance.Couple(p.Measured)
		word, per := speedUnit(f.units)
		r.Speed = []string{fmt.Sprintf("Static (hop): %.0f g·mm, heavy at %.0f°; couple (wobble): %.0f g·mm².", s.GMM, s.Deg, c.GMM2),
			fmt.Sprintf("At %.0f %s the wheel turns %.1f times a second; as it is it pulls with %.0f N and twists with %.1f N·m.", f.kmh()/per, word, spin.Hertz(), spin.Force(s), spin.Moment(c))}
	}
	f.limits(r, p, best, last, own, spin)
	return ""
}

func (f *benchForm) kmh() float64 {
	word, per := speedUnit(f.units)
	if v := f.number("speed", word); v > 0 {
		return v * per
	}
	return benchKMH
}

func (f *benchForm) spin() (balance.Spin, error) {
	d, err := tiresize.Parse(f.Tire.Size)
	if err != nil {
		return 0, err
	}
	return balance.AtSpeed(f.kmh(), d.RollingCircumference().Millimetres()/2/math.Pi)
}

// brief writes a mass in the person's unit alone.
func (f *benchForm) brief(g float64) string {
	if math.Abs(g) < 0.05 {
		return "nothing"
	}
	text, _, _ := strings.Cut(f.gram(g), " (")
	return text
}

// gram writes a mass in the person's unit, and in grams.
func (f *benchForm) gram(g float64) string {
	if math.Abs(g) < 0.005 {
		g = 0 // what is left of rounding is nothing, and has no sign
	}
	if f.units.Mass == units.Oz {
		return f.units.WriteNumber(g/float64(units.Ounce), 2) + " oz (" + f.units.WriteNumber(g, 0) + " g)"
	}
	return f.units.WriteNumber(g, 1) + " g"
}

func (f *benchForm) column(title string, pieces []balance.Piece, left balance.Left, p balance.Problem, spin balance.Spin) choice {
	c := choice{Title: title, LeftOuter: f.brief(left.OuterG), LeftInner: f.brief(left.InnerG), Outer: f.gram(left.OuterG), Inner: f.gram(left.InnerG), Static: f.gram(left.StaticG), Couple: fmt.Sprintf("%.0f g·mm²", left.Couple.GMM2),
		Mass: f.gram(left.MassG), Brief: f.brief(left.MassG), Pieces: left.Pieces, Within: "over the limit"}
	if left.Meets {
		c.Within = "within the limit"
	}
	if spin > 0 {
		c.Force, c.Moment = fmt.Sprintf("%.0f N", spin.Force(left.Static)), fmt.Sprintf("%.1f N·m", spin.Moment(left.Couple))
	}
	for _, w := range pieces {
		at := fmt.Sprintf("%s %s at %.0f°", f.gram(w.MassG), planeName(w.Place), units.Angle(w.Deg).Normal())
		if w.Spot != "" {
			at += ", " + w.Spot
		}
		if w.Segments > 1 {
			at += fmt.Sprintf(" (%d segments)", w.Segments)
		}
		c.Weights = append(c.Weights, at)
		c.Fit = append(c.Fit, pieceLine{f.brief(w.MassG), fmt.Sprintf("%.0f°", float64(units.Angle(math.Round(w.Deg)).Normal())), placeName(w.Place) + prefixed(", ", w.Spot)})
	}
	return c
}

// costs says what hiding the weights, or one plane alone, costs.
func (f *benchForm) costs(p balance.Problem, best balance.Proposal) []string {
	out := []string{fmt.Sprintf("The exact weights would be %s; the proposal weighs %s more.", f.gram(best.ExactG), f.gram(best.ExtraG))}
	if i := slices.IndexFunc(p.Places, func(q balance.Place) bool { return len(q.Spots) > 0 }); i >= 0 {
		open := p
		open.Places = slices.Clone(p.Places)
		open.Places[i].Spots, open.Places[i].MaxPieces = nil, 0
		if q, err := balance.Choose(open); err == nil {
			out = append(out, fmt.Sprintf("In the open it would be %s, leaving %s and %s: hiding costs %s.", f.gram(q.Left.MassG), f.gram(q.Left.OuterG), f.gram(q.Left.InnerG), f.gram(best.Left.MassG-q.Left.MassG)))
		}
	}
	if p.Mode == balance.TwoPlane {
		one := p
		one.Mode, one.Places, one.LimitStaticG = balance.Static, p.Places[:1], p.LimitOuterG
		if q, err := balance.Choose(one); err == nil {
			out = append(out, fmt.Sprintf("In the "+planeName(one.Places[0].Name)+" alone %s would take the hop away and leave a wobble: outer %s, inner %s.", f.gram(q.Left.MassG), f.gram(q.Left.OuterG), f.gram(q.Left.InnerG)))
		}
	}
	return out
}

// limits holds everything against its limit, with source and status.
func (f *benchForm) limits(r *benchResult, p balance.Problem, best balance.Proposal, last balance.Left, own []balance.Piece, spin balance.Spin) {
	final, what := best.Left, "proposed"
	if len(own) > 0 {
		final, what = last, "your choice"
	}
	limits := assess.LimitsOf(f.assembly())
	over := false
	add := func(l balance.Limit, text string, value float64) {
		v, err := balance.Check(l, value)
		if err != nil {
			return
		}
		word := "within"
		if value > l.Base() {
			word = "over"
			over = over || !l.Information || l.ID == limits.Residual.ID
			r.Over = append(r.Over, fmt.Sprintf("%s: %s, over %g %s (%s).", text, f.gram(value), l.Value, l.Unit, l.Source))
		}
		if l.Information {
			word += ", for information"
		}
		r.Limits = append(r.Limits, limitLine{text, f.gram(value), word + fmt.Sprintf(" (%g %s)", l.Value, l.Unit), l.Source + prefixed(", ", l.Reference), l.Status})
		for _, a := range v.Advice {
			r.Advice = appendNew(r.Advice, a)
		}
	}
	add(limits.Residual, "Left in a plane, "+what, math.Max(final.OuterG, final.InnerG))
	if n := limits.Needed; n != nil && f.ticked("weights_off") {
		add(*n, "Asked for by the bare assembly", best.Before.OuterG+best.Before.InnerG)
	}
	if limits.Needed == nil {
		for _, q := range []balance.Quantity{balance.FittedPlane, balance.FittedTotal} {
			for _, l := range balance.LimitsFor("car", q) {
				value := final.MassG
				if q == balance.FittedPlane {
					value = heaviest(best.Pieces, own)
				}
				add(l, map[balance.Quantity]string{balance.FittedPlane: "Most in one plane, ", balance.FittedTotal: "All weights, "}[q]+what, value)
			}
		}
	}
	if over {
		for _, a := range balance.TakeApart() {
			r.Advice = appendNew(r.Advice, a)
		}
	}
	if kg := f.number("weight_kg", "kilograms"); kg > 0 && kg < maxTypedKG && spin > 0 {
		f.isoGrade(r, p, final, kg, spin)
	}
}

// isoGrade adds the balance quality grade, for information.
func (f *benchForm) isoGrade(r *benchResult, p balance.Problem, final balance.Left, kg float64, spin balance.Spin) {
	allowed, err := balance.Permissible(balance.GradeCarWheels, kg, spin)
	if err != nil {
		return
	}
	half := math.Abs(p.Measured.Outer.OffsetMM-p.Measured.Inner.OffsetMM) / 2
	in, out, err := balance.PermissiblePlanes(allowed, half, half)
	if err != nil {
		in, out = allowed/2, allowed/2
	}
	left := math.Max(final.Unbalance.Outer.GMM, final.Unbalance.Inner.GMM)
	grade, err := balance.Grade(final.Static.GMM, kg, spin)
	if err != nil {
		return
	}
	tire, _ := tiresize.Parse(f.Tire.Size)
	total, err := balance.GradeMass(balance.GradeCarWheels, kg, tire.Diameter().Millimetres(), 2*p.Measured.Outer.RadiusMM, f.kmh())
	if err != nil {
		return
	}
	r.Limits = append(r.Limits, limitLine{"ISO 21940-11 grade of the static part", fmt.Sprintf("G %.1f", grade),
		fmt.Sprintf("for information: G 40 is listed for car wheels and allows %.0f and %.0f g·mm in the planes, %s at this rim; left is %.0f g·mm at most", in, out, f.gram(total), left), "grade table of ISO 21940-11, second-hand", "F2"})
}

func heaviest(proposed, own []balance.Piece) float64 {
	if len(own) > 0 {
		proposed = own
	}
	sum := map[string]float64{}
	most := 0.0
	for _, w := range proposed {
		sum[w.Place] += w.MassG
		most = math.Max(most, sum[w.Place])
	}
	return most
}

func appendNew(list []string, s string) []string {
	for _, have := range list {
		if have == s {
			return list
		}
	}
	return append(list, s)
}

// takeProposal writes the proposal into the rows of the technician's choice.
func (f *benchForm) takeProposal(r benchResult) {
	for i := range ownRows {
		at := "fitted." + strconv.Itoa(i)
		for _, part := range []string{".mass", ".angle", ".plane", ".place"} {
			f.sent.Del(at + part)
		}
		if i >= len(r.pieces) {
			continue
		}
		w := r.pieces[i]
		unit := units.G // the unit of the box, so that nothing is rounded
		if strings.HasSuffix(w.Weight, string(units.Oz)) {
			unit = units.Oz
		}
		f.sent.Set(at+".mass", units.Style{Set: units.Set{Mass: unit}, Notation: f.units.Notation}.WriteMass(units.Mass(w.MassG)))
		f.sent.Set(at+".angle", f.units.WriteAsTyped(strconv.FormatFloat(math.Round(w.Deg*10)/10, 'f', -1, 64)))
		f.sent.Set(at+".plane", w.Place)
		f.sent.Set(at+".place", w.Spot)
	}
}

// surfaceSteps are what a rim needs before adhesive weights hold (trade.md, usual practice).
var surfaceSteps = []string{"bare, sound metal: no wax, dust, rust or old tape", "wiped with alcohol and water, dry", "rim and weights at room temperature",
	"pressed on hard over the whole length, not peeled up again"}

// cautions are those of the job; the first stands open.
func (f *benchForm) cautions() []string {
	out := []string{"Hood down, eye protection, no loose clothing; take out stones and mud first and never defeat a guard.",
		"Work on the machine itself: de-energize it and lock it out first.",
		"On the vehicle: secure the opposite drive wheel, keep the speed of a spinning wheel low, nobody in line with it.",
		"Wash hands after handling lead; lead weights are restricted in some places."}
	if f.Vehicle != nil {
		out = append(out, cautionJack)
	}
	return append(out, cautionLocal)
}
