package bench

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/bench"
	"rimledger/models/units"
)

// benchResult is what the numbers on the bench page come to.
type benchResult struct {
	Said    string // why nothing is worked out yet; empty if it is
	Faults  []form.Problem
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
	Advice  bench.Advice
	Needs   []string // what adhesive weights need
	pieces  []balance.Piece
	left    *dialLeft // what the weights of the dial leave; nil where nothing is worked out
}

// choice is one column of the comparison.
type choice struct {
	Title                 string
	OnePlane              bool        // only the sum of both planes counts
	Fit                   []pieceLine // as they stand side by side
	Weights               []string
	LeftOuter, LeftInner  string // brief
	LeftSum               string // in one plane's balance, instead
	Outer, Inner, Static  string
	Couple, Force, Moment string
	Mass, Brief           string
	Pieces                int
	Within                string
}

// pieceLine is one weight, brief.
type pieceLine struct{ Mass, Angle, Where string }

type limitLine struct{ What, Value, Verdict, Source, Status string }

const (
	benchKMH   = 100.0
	maxTypedKG = 2000
)

// stock is the box of weights in the form. How long its strips may be, the bench knows.
func (f *benchForm) stock() []balance.Weight {
	var out []balance.Weight
	for _, m := range f.Sizes("clips", f.Units.Mass) {
		out = append(out, balance.Weight{Name: m.Text, Kind: balance.Clip, MassG: float64(m.Value)})
	}
	for _, m := range f.Sizes("segments", f.Units.Mass) {
		out = append(out, balance.Weight{Name: m.Text, Kind: balance.Adhesive, MassG: float64(m.Value)})
	}

	return out
}

// notRight is said where a fault stands beside its field.
const notRight = "Nothing is worked out until this is right:"

// input reads the form as what is on the bench. said says why nothing can be worked out
// of it yet.
func (f *benchForm) input() (in bench.Input, notes []string, said string) {
	in = bench.Input{Assembly: f.onBench(), Planes: f.pair().circles(f.geometry())}
	in.WeightsOff = f.Ticked("weights_off")
	in.Problem = balance.Problem{Mode: balance.TwoPlane, Stock: f.stock()}
	if f.static() {
		in.Problem.Mode = balance.Static
	}

	shown := f.shown("shown")
	if m, ok := f.Mass("most"); ok {
		in.Problem.MaxMassG = float64(m.Value)
	}

	if !showing(&in, shown) {
		return in, nil, "Fill in step 1: both planes, or one plane alone where you balance in one. What is left " +
			"then stands here."
	}

	f.checkPlanes(in.Planes)
	in.Problem.Places = f.places()
	f.checkStock(in.Problem)
	if !f.OK() {
		return in, nil, notRight
	}

	return in, turnedNotes(in, shown), ""
}

// showing fills in what the machine showed. It returns false where that is too little:
// two planes need both, one plane needs the one or both.
func showing(in *bench.Input, shown []models.PlaneUnbalance) bool {
	weights := map[string]balance.Shown{}
	for _, s := range shown {
		weights[s.Plane] = balance.Shown{MassG: s.Grams(), Deg: float64(s.Angle.Normal())}
	}

	outer, hasOuter := weights["outer"]
	inner, hasInner := weights["inner"]

	single, hasSingle := weights["single"]
	switch {
	case hasSingle && in.Problem.Mode == balance.Static:
		in.Single = &single
	case hasOuter && hasInner:
		in.Outer, in.Inner = outer, inner
	default:
		return false
	}

	return true
}

// turnedNotes says of each angle that counts whether it was brought into a turn.
func turnedNotes(in bench.Input, shown []models.PlaneUnbalance) []string {
	names := map[string]string{"outer": "outer plane", "inner": "inner plane"}
	if in.Single != nil {
		names = map[string]string{"single": "one plane alone"}
	}

	var out []string
	for _, s := range shown {
		if at := s.Angle.Normal(); names[s.Plane] != "" && at != s.Angle {
			out = append(out, fmt.Sprintf("%s: %g° taken as %g°", names[s.Plane], float64(s.Angle), float64(at)))
		}
	}

	return out
}

// checkPlanes puts beside its field what is not measured of the planes shown.
func (f *benchForm) checkPlanes(p balance.Planes) {
	outer, inner, depth := f.fieldsOf()
	switch {
	case p.Outer.RadiusMM == 0:
		f.AddFault(outer, "zero: measure from the axle's center to the middle of the weight")
	case p.Inner.RadiusMM == 0:
		f.AddFault(inner, "zero: measure from the axle's center to the middle of the weight")
	case !f.static() && math.Abs(p.Outer.OffsetMM-p.Inner.OffsetMM) < 1:
		f.AddFault(
			depth,
			"no distance between the planes: measure how far inward this plane lies from the outer flange, or "+
				"balance in one plane",
		)
	}
}

// checkStock puts beside its field that the box is empty, or that it holds nothing for
// the places.
func (f *benchForm) checkStock(p balance.Problem) {
	fits := func(w balance.Weight) bool {
		return slices.ContainsFunc(p.Places, func(q balance.Place) bool { return q.Kind == w.Kind })
	}

	switch {
	case len(p.Stock) == 0:
		f.AddFault("clips", "the box is empty: list at least one weight")
	case !slices.ContainsFunc(p.Stock, fits):
		field := "clips"
		if p.Places[0].Kind == balance.Adhesive {
			field = "segments"
		}
		f.AddFault(field, "the box holds nothing that fits where weights may go")
	}
}

// blame puts an error of package balance beside the field it speaks of.
//
//revive:disable-next-line:cyclomatic,cognitive-complexity
func (f *benchForm) blame(err error) string {
	var in *bench.InputError
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
	case errors.Is(err, balance.ErrTooHeavy) && strings.HasPrefix(in.Field, "single"):
		field = "shown.single.mass"
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
	f.AddFault(field, text)
	return notRight
}

// workOut computes everything that the page shows of what was typed.
func (f *benchForm) workOut() benchResult {
	var r benchResult
	in, notes, said := f.input()
	own := f.ownPieces()
	if said == "" {
		said = f.compare(&r, in, own)
	}
	r.Notes = append(r.Notes, notes...)

	r.Said, r.Faults = said, f.Problems()
	if said != "" {
		r.Strip, r.left = residual{Said: said}, nil
	}

	sticks := func(plane string) bool { return f.pair().kind(plane) == balance.Adhesive }
	if slices.ContainsFunc(f.allowed(), sticks) {
		r.Needs = surfaceSteps
	}

	r.Dial = f.drawDial(r, own)

	return r
}

// ownPieces reads the technician's own choice. What sticks on is as long as the
// segments of the box make it, as in the proposal.
func (f *benchForm) ownPieces() []balance.Piece {
	var segments []float64
	for _, m := range f.Sizes("segments", f.Units.Mass) {
		segments = append(segments, float64(m.Value))
	}

	var out []balance.Piece
	for _, w := range f.weights("fitted") {
		x := balance.Piece{
			Place:  w.Plane,
			MassG:  float64(w.Mass.Value),
			Deg:    float64(w.Angle),
			Weight: w.Mass.Text,
			Spot:   w.Place,
		}

		if w.Type == string(balance.Adhesive) {
			x.LengthMM = bench.StripMM(x.MassG, segments)
		}
		out = append(out, x)
	}

	return out
}

// ownRowsFilled lists the rows that hold a weight of the technician's own.
func (f *benchForm) ownRowsFilled() []int {
	var out []int
	for i := range ownRows {
		if f.Text("fitted."+strconv.Itoa(i)+".mass") != "" {
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
	Sum          string // in one plane's balance, instead of both
	Within       bool
	Limit        string
}

func (f *benchForm) residual(now balance.Left, fitted int) residual {
	s := residual{
		What:   "With your " + say.Plural(fitted, "weight", "weights") + ", still add",
		Within: now.Meets,
		Limit:  "over the limit",
	}

	if f.static() {
		s.Sum = f.still(now.StaticG, now.Static)
	} else {
		s.Outer, s.Inner = f.still(now.OuterG, now.Unbalance.Outer), f.still(now.InnerG, now.Unbalance.Inner)
	}

	if now.Meets {
		s.Limit = "within the limit"
	}
	if fitted == 0 {
		s.What = "Nothing fitted yet, add"
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
	if f.static() {
		return f.still(l.StaticG, l.Static)
	}
	return "outer " + f.still(l.OuterG, l.Unbalance.Outer) + ", inner " + f.still(l.InnerG, l.Unbalance.Inner)
}

// compare holds the proposal, simple rounding and the technician's own choice side by
// side. It returns what is wrong, "" if nothing is.
func (f *benchForm) compare(r *benchResult, in bench.Input, own []balance.Piece) string {
	best, err := bench.Propose(in)
	if err != nil {
		return f.blame(err)
	}
	r.Notes = notesText(best.Notes)
	r.pieces = best.Pieces

	spin, spinErr := f.spin()
	r.Choices = []choice{
		f.column("As it is", nil, best.Before, spin),
		f.column("Proposed", best.Pieces, best.Left, spin),
		f.column("Simply rounded", best.Rounded.Pieces, best.Rounded.Left, spin),
	}

	now, said := f.step(r, best, own, spin)
	if said != "" {
		return said
	}
	r.Strip = f.residual(now, len(own))

	r.Costs = f.costs(best)
	if spinErr == nil {
		r.Speed = f.atSpeed(best, spin)
	}

	final := fitting{"proposed", best.Pieces, best.Left}
	if len(own) > 0 {
		final = fitting{"your choice", own, now}
	}
	r.left = &dialLeft{final.left, best.Before.Unbalance, f.static()}
	r.Advice = best.Advise(final.left)
	r.Advice.First = f.Units.Render(r.Advice.First)
	f.limits(r, best, final, spin)

	return ""
}

// step says what is left with each weight of the technician's own and those before it.
// It returns what is left with all of them; said is what is wrong with one.
func (f *benchForm) step(
	r *benchResult,
	best bench.Result,
	own []balance.Piece,
	spin balance.Spin,
) (now balance.Left, said string) {
	now = best.Before

	rows, open := f.ownRowsFilled(), f.withOwn(best.Problem, own)
	for i := range own {
		left, notes, err := balance.Evaluate(open, own[:i+1])
		if err != nil {
			return now, f.blame(err)
		}
		r.Then[rows[i]] = "then still add: " + f.leftWords(left)
		now = left

		if i == len(own)-1 {
			r.Notes = append(r.Notes, notesText(notes)...)
			mine := f.column("Your choice", own, left, spin)
			r.Mine = &mine
		}
	}

	return now, ""
}

// atSpeed says what the assembly does as it is.
func (f *benchForm) atSpeed(best bench.Result, spin balance.Spin) []string {
	static, couple := best.Before.Static, best.Before.Couple

	word, per := say.SpeedUnit(f.Units)
	if f.static() {
		return []string{fmt.Sprintf("At %.0f %s the wheel turns %.1f times a second; as it is it pulls with %.0f N.",
			f.kmh()/per, word, spin.Hertz(), spin.Force(static))}
	}

	return []string{
		fmt.Sprintf(
			"Static (hop): %.0f g·mm, to add at %.0f°; couple (wobble): %.0f g·mm².",
			static.GMM,
			static.Opposite().Deg,
			couple.GMM2,
		),
		fmt.Sprintf(
			"At %.0f %s the wheel turns %.1f times a second; as it is it pulls with %.0f N and twists with %.1f N·m.",
			f.kmh()/per,
			word,
			spin.Hertz(),
			spin.Force(static),
			spin.Moment(couple),
		),
	}
}

func (f *benchForm) kmh() float64 {
	word, per := say.SpeedUnit(f.Units)
	if v := f.Number("speed", word); v > 0 {
		return v * per
	}
	return benchKMH
}

func (f *benchForm) spin() (balance.Spin, error) {
	return bench.Spin(f.Tire.Size, f.kmh())
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
func (f *benchForm) gram(g float64) string { return gramsText(f.Units, g) }

// gramsText writes a mass in grams in the unit of a reader, and in grams.
func gramsText(u units.Style, g float64) string {
	if math.Abs(g) < 0.005 {
		g = 0 // what is left of rounding is nothing, and has no sign
	}
	if u.Mass == units.Oz {
		return u.WriteNumber(g/float64(units.Ounce), 2) + " oz (" + u.WriteNumber(g, 0) + " g)"
	}

	return u.WriteNumber(g, 1) + " g"
}

func (f *benchForm) column(title string, pieces []balance.Piece, left balance.Left, spin balance.Spin) choice {
	c := choice{
		Title:     title,
		OnePlane:  f.static(),
		LeftSum:   f.brief(left.StaticG),
		LeftOuter: f.brief(left.OuterG),
		LeftInner: f.brief(left.InnerG),
		Outer:     f.gram(left.OuterG),
		Inner:     f.gram(left.InnerG),
		Static:    f.gram(left.StaticG),
		Couple:    fmt.Sprintf("%.0f g·mm²", left.Couple.GMM2),
		Mass:      f.gram(left.MassG),
		Brief:     f.brief(left.MassG),
		Pieces:    left.Pieces,
		Within:    "over the limit",
	}

	if left.Meets {
		c.Within = "within the limit"
	}

	if spin > 0 {
		c.Force, c.Moment = fmt.Sprintf(
			"%.0f N",
			spin.Force(left.Static),
		), fmt.Sprintf(
			"%.1f N·m",
			spin.Moment(left.Couple),
		)
	}

	for _, w := range pieces {
		at := fmt.Sprintf("%s %s at %.0f°", f.gram(w.MassG), say.PlaneName(w.Place), units.Angle(w.Deg).Normal())
		if w.Spot != "" {
			at += ", " + w.Spot
		}
		if w.Segments > 1 {
			at += fmt.Sprintf(" (%d segments)", w.Segments)
		}

		c.Weights = append(c.Weights, at)
		c.Fit = append(
			c.Fit,
			pieceLine{
				f.brief(w.MassG),
				fmt.Sprintf("%.0f°", float64(units.Angle(math.Round(w.Deg)).Normal())),
				say.PlaceName(w.Place) + say.Prefixed(", ", w.Spot),
			},
		)
	}

	return c
}

// leftGrams says how much is left, in both planes or in the one.
func (f *benchForm) leftGrams(l balance.Left) string {
	if f.static() {
		return f.gram(l.StaticG)
	}
	return f.gram(l.OuterG) + " and " + f.gram(l.InnerG)
}

// costs says what hiding the weights, or one plane alone, costs.
func (f *benchForm) costs(best bench.Result) []string {
	out := []string{
		fmt.Sprintf(
			"The exact weights would be %s; the proposal weighs %s more.",
			f.gram(best.ExactG),
			f.gram(best.ExtraG),
		),
	}

	if open := best.Open; open != nil {
		out = append(out, fmt.Sprintf("In the open it would be %s, leaving %s: hiding costs %s.",
			f.gram(open.Left.MassG), f.leftGrams(open.Left), f.gram(best.Left.MassG-open.Left.MassG)))
	}

	if one := best.OnePlane; one != nil {
		out = append(
			out,
			fmt.Sprintf("In the %s alone %s would take the hop away and leave a wobble: outer %s, inner %s.",
				say.PlaneName(one.Place), f.gram(one.Left.MassG), f.gram(one.Left.OuterG), f.gram(one.Left.InnerG)),
		)
	}

	return out
}

// limits holds everything against its limit, with source and status.
//
//revive:disable-next-line:cyclomatic,cognitive-complexity
func (f *benchForm) limits(r *benchResult, best bench.Result, final fitting, spin balance.Spin) {
	limits := f.onBench().Limits()
	f.limitLeft(r, limits, final)
	if n := limits.Needed; n != nil && f.Ticked("weights_off") {
		f.limit(r, *n, "Asked for by the bare assembly", best.Before.OuterG+best.Before.InnerG)
	}
	if limits.Needed == nil {
		f.limitFitted(r, final)
	}

	if kg := f.Number("weight_kg", "kilograms"); kg > 0 && kg < maxTypedKG && spin > 0 {
		f.isoGrade(r, best.Problem.Measured, final.left, kg, spin)
	}
}

// fitting is the set of weights that limits are held against: the technician's own, or
// else the proposal.
type fitting struct {
	what   string // in words
	pieces []balance.Piece
	left   balance.Left
}

// limitLeft holds what is left against its limits: in each plane, or in one plane's balance
// of the sum alone.
func (f *benchForm) limitLeft(r *benchResult, limits bench.Limits, final fitting) {
	where, worst := "in a plane, ", math.Max(final.left.OuterG, final.left.InnerG)
	if f.static() {
		where, worst = "in the one plane, ", final.left.StaticG
	}

	f.limit(r, limits.Residual, "Left "+where+final.what, worst)
	if limits.Sum != nil && !f.static() {
		f.limit(r, *limits.Sum, "Left in the sum of both planes, "+final.what, final.left.StaticG)
	}
	if limits.Usual != nil {
		f.limit(r, *limits.Usual, "Without a complaint, left "+where+final.what, worst)
	}
}

// limitFitted holds the weights on a light wheel against what may be fitted.
func (f *benchForm) limitFitted(r *benchResult, final fitting) {
	for _, l := range balance.LimitsFor("car", balance.FittedPlane) {
		f.limit(r, l, "Most in one plane, "+final.what, heaviest(final.pieces))
	}
	for _, l := range balance.LimitsFor("car", balance.FittedTotal) {
		f.limit(r, l, "All weights, "+final.what, final.left.MassG)
	}
}

// limit holds one value against its limit.
func (f *benchForm) limit(r *benchResult, l balance.Limit, text string, value float64) {
	v, err := balance.Check(l, value)
	if err != nil {
		return
	}

	word := "within"
	if !v.Within {
		word = "over"
		r.Over = append(r.Over, fmt.Sprintf("%s: %s, over %g %s (%s).", text, f.gram(value), l.Value, l.Unit, l.Source))
	}
	if l.Information {
		word += ", for information"
	}

	r.Limits = append(r.Limits, limitLine{text, f.gram(value), word + fmt.Sprintf(" (%g %s)", l.Value, l.Unit),
		l.Source + say.Prefixed(", ", l.Reference), l.Status})
}

// isoGrade adds the balance quality grade, for information.
func (f *benchForm) isoGrade(r *benchResult, p balance.Planes, final balance.Left, kg float64, spin balance.Spin) {
	allowed, err := balance.Permissible(balance.GradeCarWheels, kg, spin)
	if err != nil {
		return
	}

	half := math.Abs(p.Outer.OffsetMM-p.Inner.OffsetMM) / 2
	in, out, err := balance.PermissiblePlanes(allowed, half, half)
	if err != nil {
		in, out = allowed/2, allowed/2
	}

	left := math.Max(final.Unbalance.Outer.GMM, final.Unbalance.Inner.GMM)
	grade, err := balance.Grade(final.Static.GMM, kg, spin)
	if err != nil {
		return
	}

	diameter := bench.OuterDiameterMM(f.Tire.Size)
	total, err := balance.GradeMass(balance.GradeCarWheels, kg, diameter, 2*p.Outer.RadiusMM, f.kmh())
	if err != nil {
		return
	}

	r.Limits = append(r.Limits, limitLine{"ISO 21940-11 grade of the static part", fmt.Sprintf("G %.1f", grade),
		fmt.Sprintf(
			"for information: G 40 is listed for car wheels and allows %.0f and %.0f g·mm in the planes, %s at this "+
				"rim; left is %.0f g·mm at most",
			in,
			out,
			f.gram(total),
			left,
		), "grade table of ISO 21940-11, second-hand", "F2"})
}

// heaviest returns the most mass in one place.
func heaviest(pieces []balance.Piece) float64 {
	sum := map[string]float64{}
	most := 0.0
	for _, w := range pieces {
		sum[w.Place] += w.MassG
		most = math.Max(most, sum[w.Place])
	}
	return most
}

// takeProposal writes the proposal into the rows of the technician's choice.
func (f *benchForm) takeProposal(r benchResult) {
	for i := range ownRows {
		at := "fitted." + strconv.Itoa(i)
		for _, part := range []string{".mass", ".angle", ".plane", ".place"} {
			f.Sent.Del(at + part)
		}

		if i >= len(r.pieces) {
			continue
		}

		w := r.pieces[i]
		unit := units.G // the unit of the box, so that nothing is rounded
		if strings.HasSuffix(w.Weight, string(units.Oz)) {
			unit = units.Oz
		}
		f.Sent.Set(
			at+".mass",
			units.Style{Set: units.Set{Mass: unit}, Notation: f.Units.Notation}.WriteMass(units.Mass(w.MassG)),
		)

		f.Sent.Set(at+".angle", f.Units.WriteAsTyped(strconv.FormatFloat(math.Round(w.Deg*10)/10, 'f', -1, 64)))
		f.Sent.Set(at+".plane", w.Place)
		f.Sent.Set(at+".place", w.Spot)
	}
}

// surfaceSteps are what a rim needs before adhesive weights hold (common practice, no source).
var surfaceSteps = []string{
	"bare, sound metal: no wax, dust, rust or old tape",
	"wiped with alcohol and water, dry",
	"rim and weights at room temperature",
	"pressed on hard over the whole length, not peeled up again",
}

// cautions are those of the job; the first stands open.
func (b benchSubject) cautions() []string {
	out := []string{
		"Hood down, eye protection, no loose clothing; take out stones and mud first and never defeat a guard.",
		"Work on the machine itself: de-energize it and lock it out first.",
		"On the vehicle: secure the opposite drive wheel, keep the speed of a spinning wheel low, nobody in line " +
			"with it.",
		"Wash hands after handling lead; lead weights are restricted in some places.",
	}
	if b.Vehicle != nil {
		out = append(out, say.CautionJack)
	}
	return append(out, say.CautionLocal)
}
