package pattern

import (
	"fmt"
	"slices"
	"strings"

	"rimledger/models/units"
	"rimledger/models/vibration"
)

// The causes that are weighed.
const (
	Imbalance       = "imbalance"
	RunoutOrSeating = "runout_or_seating"
	Dampers         = "dampers"
	Looseness       = "looseness"
	Alignment       = "alignment"
	Pressure        = "pressure"
	DualMismatch    = "dual_mismatch"
	BrakeFlatSpot   = "brake_flat_spot"
	SelfExcited     = "self_excited"
)

// CauseKeys lists every cause in the order in which a shop checks them, which decides
// the rank of causes with equal points.
var CauseKeys = []string{Looseness, Pressure, DualMismatch, Dampers, RunoutOrSeating, BrakeFlatSpot, Alignment,
	Imbalance, SelfExcited}

// CauseName returns the trade's name of a cause.
func CauseName(key string) string {
	switch key {
	case RunoutOrSeating:
		return "run-out or seating"
	case SelfExcited:
		return "many-sided wear that feeds itself"
	default:
		return strings.ReplaceAll(key, "_", " ")
	}
}

// Verdict is the word for a score.
type Verdict string

// The verdicts and the points they start at: likely 6, possible 3 (proposed by us).
const (
	Likely        Verdict = "likely"
	Possible      Verdict = "possible"
	Unlikely      Verdict = "unlikely"
	NotEnoughData Verdict = "not enough data"

	likelyFrom   = 6
	possibleFrom = 3
)

// Evidence is one line of an account.
type Evidence struct {
	ID     string
	Text   string
	Points int
	Basis  string
	Status string // F found, M common practice, D derived, P proposed
}

// Cause is one cause with its lines.
type Cause struct {
	Key     string
	Score   int
	Verdict Verdict
	Lines   []Evidence
}

// Account is the evidence on one tire: its patterns, the ranked causes and the work.
type Account struct {
	Result      Result
	Vibration   *vibration.Reading // of the report, if there was one
	Ranked      []Cause            // highest score first
	ChecksFirst []Check            // in order, before anyone balances
	NextStep    string
	CheckLoaded bool // all wheels spin to zero and the shake remains
}

// Of returns the cause with key.
func (a Account) Of(key string) Cause {
	for _, c := range a.Ranked {
		if c.Key == key {
			return c
		}
	}
	return Cause{Key: key, Verdict: NotEnoughData}
}

// Causes reads the tread (Read) and scores the evidence for each cause. A cause that
// only readings around the tire or a vibration report can show has the verdict "not
// enough data" without either, unless direct evidence on the vehicle supports it.
// Errors: those of Read, and of vibration.Read for the report.
func Causes(in Input) (Account, error) {
	res, err := Read(in)
	if err != nil {
		return Account{}, err
	}
	return account(in, res)
}

// CausesUnread scores the evidence on a wheel whose tread was not read: the facts and
// what was seen and felt. Its Result has no pattern but damage and asks for a
// reading. Errors:
// those of Causes for the facts.
func CausesUnread(in Input) (Account, error) {
	if err := in.check(); err != nil {
		return Account{}, err
	}

	in.Tread = Tread{Observations: in.Observations}
	in.AxleMate, in.DualMate, in.Previous = nil, nil, nil

	res := Result{Around: AroundNotRead, Wanted: []Request{{Code: "three_stations",
		Text: "depths at three stations, every major groove: none is in the record"}}}

	for _, o := range in.Observations {
		if p, ok := (&reader{in: in}).patternFelt(o); ok && p.Key == Separation {
			p.Confidence, p.Basis = Felt, "found by hand or eye"
			res.Patterns = append(res.Patterns, p)
		}
	}

	return account(in, res)
}

// account scores the evidence on a tire with the patterns of res.
func account(in Input, res Result) (Account, error) {
	a := Account{Result: res}
	if report := in.Facts.Vibration; report != nil {
		reading, err := vibration.Read(*report)
		if err != nil {
			return Account{}, err
		}
		a.Vibration = &reading
	}

	found := findings(in, a)
	enough := len(res.Harmonics) > 0 || a.Vibration != nil
	for _, key := range CauseKeys {
		a.Ranked = append(a.Ranked, weigh(key, found, enough, in.Facts))
	}

	slices.SortStableFunc(a.Ranked, func(x, y Cause) int { return y.Score - x.Score })
	a.CheckLoaded = in.Facts.AllSpinsZero && in.Facts.ShakeRemains
	a.ChecksFirst = checks(in, a)
	a.NextStep = nextStep(in, a)
	return a, nil
}

// weigh adds up the points of one cause. enough says that there are harmonics or a
// vibration report.
func weigh(key string, found map[string]bool, enough bool, f Facts) Cause {
	c, direct := Cause{Key: key}, false
	for _, row := range evidenceRows {
		if row.Cause != key || !found[row.ID] || excludesOnly(row, found) {
			continue
		}

		c.Score += row.Points
		c.Lines = append(c.Lines, Evidence{row.ID, row.Text + f.figure(row.ID), row.Points, row.Basis, row.Status})
		direct = direct || row.Direct
	}

	// Shake and wear once a turn fit run-out as well as imbalance.
	specific := key != Imbalance || f.seatingGood() || beyondRunout(found)

	switch {
	case !enough && !direct && !showsAcross(key):
		c.Verdict = NotEnoughData
	case c.Score >= likelyFrom && specific:
		c.Verdict = Likely
	case c.Score >= possibleFrom:
		c.Verdict = Possible
	default:
		c.Verdict = Unlikely
	}

	return c
}

// excludesOnly reports whether a row takes from a cause for which no finding speaks: such a
// cause is left out of the account.
func excludesOnly(r Row, found map[string]bool) bool {
	return r.ID == "one_side_of_tire" && !slices.ContainsFunc(evidenceRows, func(other Row) bool {
		return other.Cause == r.Cause && other.Points > 0 && found[other.ID]
	})
}

// showsAcross reports whether a cause shows across the tread and on the vehicle,
// without readings around the tire.
func showsAcross(key string) bool { return key == Alignment || key == Pressure || key == DualMismatch }

// beyondRunout reports whether the evidence tells imbalance from run-out: a weight that is
// missing, a balance that drifts, dips with all else good, or a shake since the balance is
// overdue. Without that, and with bead seat and run-out not measured, imbalance is at most
// possible (chosen by us).
func beyondRunout(found map[string]bool) bool {
	shakes := found["vibration_rises"] || found["vibration_band"]
	return found["weight_missing"] || found["balance_drifts"] || found["dips_clean"] ||
		found["balance_overdue"] && shakes
}

// The limits beyond which a fact is evidence.
const (
	damperYears     = 10           // damper makers' pages
	damperKM        = 240_000      // damper makers' pages
	dualPressureKPa = 5 * 6.894757 // 5 psi: published matching limits
	dualDiameterMM  = 6.35         // 1/4 in: published matching limits
	beadGapMM       = 2 * Step     // 2/32 in: truck trade press
	youngShare      = 0.25         // of the usable tread worn: common practice, no source
	demandNear      = 0.8          // of the limit: chosen by us
	pressureOff     = 0.10         // of the target: army tire manual, points chosen by us
	manyDips        = 5            // polygonal wear, Math. Probl. Eng. 2014
)

// findings returns the ids of the rows of evidence that apply.
func findings(in Input, a Account) map[string]bool {
	found := map[string]bool{}
	tireFindings(in, a.Result, found)
	factFindings(in.Facts, found)
	mateFindings(in, a.Result, found)
	if a.Vibration != nil {
		vibrationFindings(in, a, found)
	}
	return found
}

// tireFindings sets the ids that follow from the patterns of the tire.
func tireFindings(in Input, res Result, found map[string]bool) {
	has := func(key string) bool { _, ok := res.Find(key); return ok }

	_, found["weight_missing"] = in.observed("missing_weight")
	once, wornOnce := res.Find(OncePerTurn)
	couple, wornCouple := res.Find(OncePerTurnCouple)
	found["first_harmonic"] = wornOnce && once.Confidence != Suspected
	found["couple_wear"] = wornCouple && couple.Confidence != Suspected
	found["once_open"] = wornOnce && once.Confidence == Suspected || wornCouple && couple.Confidence == Suspected
	found["one_side_of_tire"] = found["first_harmonic"] || found["couple_wear"]

	dipFindings(in.Facts, res, found)

	patch, ok := res.Find(FlatSpot)
	found["single_patch"] = ok && patch.Severity != Watch // one doubtful reading is no evidence
	found["block_period"] = has(HeelToe) || has(AlternateLug)
	found["diagonal"] = has(Diagonal)

	found["feather"] = has(Feather)
	found["rib"] = has(RibDepression)
	found["shoulders"] = has(ShoulderBoth)
	found["center"] = has(Center)

	// Toe and camber do not wear one side of the tire, so there they explain nothing.
	found["feather_or_one_side"] = !found["one_side_of_tire"] && (has(Feather) || has(ShoulderOneSide))
	if p, ok := res.Find(ShoulderOneSide); ok {
		found["one_side_watch"] = p.Severity == Watch
		found["one_side_act"] = p.Severity != Watch
	}
}

// dipFindings sets the ids that follow from cups and flat patches. What was not
// checked yet is weaker evidence than what was found good or bad.
func dipFindings(f Facts, res Result, found map[string]bool) {
	has := func(key string) bool { _, ok := res.Find(key); return ok }

	manyDipFindings(res, has(Cupping), found)
	found["several_patches"] = has(FlatSpots)
	young := f.WornShare > 0 && f.WornShare < youngShare
	found["young_cups"] = young && !res.DipsOpen() && (has(Cupping) || has(FlatSpots) || has(OncePerTurn))

	// Five dips or more have a cause of their own.
	if !has(Cupping) && !has(FlatSpots) || found["many_dips"] || found["many_dips_open"] {
		return
	}
	good := f.allElseGood() && !res.DipsOpen()
	found["dips_clean"] = good
	found["dips_open"] = !good
	found["dips_dampers_open"] = !f.DampersChecked && !f.dampersWorn()
	found["dips_parts_open"] = !f.PartsChecked && !f.Looseness
	found["dampers_dips"] = f.dampersWorn()
}

// manyDipFindings sets the ids of five dips or more: counted, the only numbers that fit
// the readings, or among those that fit. Beside one a turn they count less, since that
// is what most often wears a tire (chosen by us).
func manyDipFindings(res Result, cups bool, found map[string]bool) {
	found["many_dips"] = cups && res.Dips >= manyDips
	if res.Dips > 0 || len(res.Could) == 0 {
		return
	}
	found["many_dips_open"] = cups && slices.Min(res.Could) >= manyDips
	fit := res.DipsOpen() && !found["many_dips_open"] && slices.Max(res.Could) >= manyDips
	found["many_dips_or_one"] = fit && found["once_open"]
	found["many_dips_fit"] = fit && !found["once_open"]
}

// allElseGood reports whether dampers, bearings and steering were checked and found
// good, the pressure is on target and the duals match.
func (f Facts) allElseGood() bool {
	return f.DampersChecked && f.PartsChecked && !f.dampersWorn() && !f.Looseness && !f.dualApart() &&
		f.PressureToTarget > 0 && !f.pressureOffTarget()
}

func (f Facts) dampersWorn() bool {
	return f.DampersLeak || f.DampersYears > damperYears || f.DampersKM > damperKM
}

func (f Facts) dualApart() bool {
	return f.DualPressureKPa > dualPressureKPa || f.DualDiameterMM > dualDiameterMM
}

// seatingGood reports whether bead gap and run-out were measured and are within
// their limits.
func (f Facts) seatingGood() bool {
	return f.BeadGapVariationMM > 0 && f.RunoutLimitMM > 0 && !f.OutOfTrue()
}

// OutOfTrue reports whether the bead gap or the run-out is over its limit.
func (f Facts) OutOfTrue() bool { return f.beadGapOver() || f.runoutOver() }

func (f Facts) beadGapOver() bool { return f.BeadGapVariationMM > beadGapMM+1e-6 }
func (f Facts) runoutOver() bool {
	return f.RunoutLimitMM > 0 && f.RunoutMM > f.RunoutLimitMM+1e-6
}

// factFindings sets the ids that follow from the facts alone.
func factFindings(f Facts, found map[string]bool) {
	found["balance_overdue"] = f.BalanceOverdue
	found["demand_near_limit"] = f.DemandToLimit >= demandNear
	found["balance_drifts"] = f.BalanceDrifts
	found["pulls"] = f.Pulls
	found["alignment_overdue"] = f.AlignmentOverdue
	found["dampers_leak"] = f.DampersLeak
	found["dampers_old"] = f.DampersYears > damperYears || f.DampersKM > damperKM
	found["looseness"] = f.Looseness
	found["brakes_suspect"] = f.BrakesSuspect
	found["dual_apart"] = f.dualApart()
	found["low_pressure"] = f.PressureToTarget > 0 && f.PressureToTarget <= 1-pressureOff
	found["high_pressure"] = f.PressureToTarget >= 1+pressureOff
	found["bead_gap"] = f.beadGapOver()
	found["runout_over"] = f.runoutOver()
	found["seating_good"] = f.seatingGood()
	found["spin_zero"] = f.SpinZero || f.AllSpinsZero
	found["spin_zero_shakes"] = (f.SpinZero || f.AllSpinsZero) && f.ShakeRemains
}

// figure returns the measured value and its limit in parentheses for a row of
// evidence that has them, "" for others.
func (f Facts) figure(id string) string {
	switch id {
	case "bead_gap":
		return withNote(fmt.Sprintf("varies by %s, limit %s", markSmall(f.BeadGapVariationMM), markSmall(beadGapMM)),
			f.BeadGapNote)
	case "runout_over":
		return withNote(fmt.Sprintf("%s, limit %s", markSmall(f.RunoutMM), markSmall(f.RunoutLimitMM)), f.RunoutNote)
	}
	return ""
}

// withNote returns figure and note in parentheses.
func withNote(figure, note string) string {
	if note != "" {
		figure += "; " + note
	}
	return " (" + figure + ")"
}

// mateFindings sets the ids that follow from the comparisons. A partner that is worn
// evenly points to this wheel; one worn alike points to what both ends share.
func mateFindings(in Input, res Result, found map[string]bool) {
	f := in.Facts

	uneven := res.Around == AroundUneven && !found["single_patch"] && !found["many_dips"] && !found["many_dips_open"]
	for _, m := range res.Mates {
		switch m.With {
		case "axle":
			mate := in.mateUneven(*in.AxleMate)
			found["one_end_only"] = uneven && !res.DipsOpen() && !mate
			found["both_ends_dampers"] = uneven && mate && f.dampersWorn()
			found["both_ends_open"] = uneven && mate && !f.DampersChecked && !f.dampersWorn()
		case "dual":
			found["dual_apart"] = found["dual_apart"] || !m.Alike
		}
	}
}

// mateUneven reports whether a mate, which was checked, is uneven around by gauge or
// hand: the same reading of it as of the tire itself.
func (in Input) mateUneven(t Tread) bool {
	g, err := t.grid("mate")
	if err != nil {
		return false
	}

	if in.ResolutionMM == 0 {
		in.ResolutionMM = Step
	}

	r := &reader{in: Input{Tread: t, Wheel: in.Wheel, ResolutionMM: in.ResolutionMM}, grid: g}
	for _, row := range g.wear {
		r.out.SpreadMM = append(r.out.SpreadMM, spanOf(row).spread())
	}

	r.around()
	return r.out.Around == AroundUneven
}

// vibrationFindings sets the ids that follow from the driver's report.
func vibrationFindings(in Input, a Account, found map[string]bool) {
	report, v := in.Facts.Vibration, *a.Vibration
	found["vibration_rises"] = v.Rising
	found["vibration_band"] = v.InBand && !v.Rising
	found["hop_rate"] = hopRate(in, a.Result, v)
	found["braking_only"] = report.Braking == "only"
	found["throttle_only"] = report.Throttle == "only"
	found["waddle"] = v.Urgent
	found["after_mount"] = report.Since == "fit" || report.Since == "repair"
}

// hopRate reports whether the counted dips, two or more, pass at the frequency of wheel
// hop at a speed at which the shake is worst. One push a turn is far below that
// frequency there, so an imbalance does not drive it (derived: f = n v / C).
func hopRate(in Input, res Result, v vibration.Reading) bool {
	if res.Dips < 2 || res.DipsOpen() {
		return false
	}

	class := in.Facts.Vibration.Class
	hop, err := vibration.HopBandHz(class)
	if err != nil {
		return false
	}

	for _, band := range v.Bands {
		if hop.Contains(float64(res.Dips) * band.FirstHz) {
			return true
		}
	}

	return false
}

// markSmall marks a length given in mm.
func markSmall(mm float64) string { return units.MarkSmall(units.LengthFromMillimetres(mm)) }

// Rendered returns a copy of a whose texts are passed through render, such as
// units.Style.Render, which replaces marks by quantities. a is not changed.
func (a Account) Rendered(render func(string) string) Account {
	a.NextStep = render(a.NextStep)

	// The slices are shared with the receiver: each is cloned before it is changed.
	a.Result.Patterns = slices.Clone(a.Result.Patterns)

	for i := range a.Result.Patterns {
		a.Result.Patterns[i].Text = render(a.Result.Patterns[i].Text)
	}

	a.Result.Mates = slices.Clone(a.Result.Mates)
	for i := range a.Result.Mates {
		a.Result.Mates[i].Text = render(a.Result.Mates[i].Text)
	}

	a.Result.Wanted = slices.Clone(a.Result.Wanted)
	for i := range a.Result.Wanted {
		a.Result.Wanted[i].Text = render(a.Result.Wanted[i].Text)
	}

	a.Ranked = slices.Clone(a.Ranked)
	for i, c := range a.Ranked {
		a.Ranked[i].Lines = slices.Clone(c.Lines)
		for k := range a.Ranked[i].Lines {
			a.Ranked[i].Lines[k].Text = render(a.Ranked[i].Lines[k].Text)
		}
	}

	return a
}
