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

// CauseKeys lists every cause, in the order of the work: with equal points what is
// looked at first comes first.
var CauseKeys = []string{Looseness, Pressure, DualMismatch, Dampers, RunoutOrSeating, BrakeFlatSpot, Alignment,
	Imbalance, SelfExcited}

// CauseName is a cause in the words of the trade.
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

// Account is the printed weighing of a tire's evidence.
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

// Causes reads the tread (Read) and weighs the evidence for each cause. A cause
// that only readings around the tire or a vibration report can tell has the
// verdict "not enough data" while there are neither, unless something seen on
// the vehicle itself speaks for it. Errors: those of Read, and of
// vibration.Read for the report.
func Causes(in Input) (Account, error) {
	res, err := Read(in)
	if err != nil {
		return Account{}, err
	}
	return account(in, res)
}

// CausesUnread weighs what else is known of a wheel whose tread was not read: how it
// sits and runs, what was seen and felt. Its Result has no patterns and asks for a
// reading. Errors: those of Causes, of the facts.
func CausesUnread(in Input) (Account, error) {
	if err := in.check(); err != nil {
		return Account{}, err
	}

	in.Tread, in.AxleMate, in.DualMate, in.Previous = Tread{Observations: in.Observations}, nil, nil, nil
	return account(in, Result{Around: AroundNotRead, Wanted: []Request{{Code: "three_stations",
		Text: "depths at three stations, every major groove: none is in the record"}}})
}

// account weighs the evidence beside a tread that was read as res.
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

// weigh sums the lines of one cause.
func weigh(key string, found map[string]bool, enough bool, f Facts) Cause {
	c := Cause{Key: key}

	direct := false
	for _, row := range evidenceRows {
		if row.Cause != key || !found[row.ID] {
			continue
		}
		c.Score += row.Points
		c.Lines = append(c.Lines, Evidence{row.ID, row.Text + f.figure(row.ID), row.Points, row.Basis, row.Status})
		direct = direct || row.Direct
	}

	switch {
	case !enough && !direct && key != Alignment && key != Pressure && key != DualMismatch:
		c.Verdict = NotEnoughData
	case c.Score >= likelyFrom:
		c.Verdict = Likely
	case c.Score >= possibleFrom:
		c.Verdict = Possible
	default:
		c.Verdict = Unlikely
	}

	return c
}

// Limits of the facts. Damper age: damper makers' pages. Duals: published
// matching limits, 5 psi and 1/4 in. Bead gap: 2/32 in, truck trade press.
const (
	damperYears     = 10
	damperKM        = 240_000
	dualPressureKPa = 5 * 6.894757
	dualDiameterMM  = 6.35
	beadGapMM       = 2 * Step
	youngShare      = 0.25
	demandNear      = 0.8
	pressureOff     = 0.10
	manyDips        = 5
)

// findings returns the ids of the rows of evidence that hold.
func findings(in Input, a Account) map[string]bool {
	found := map[string]bool{}
	tireFindings(in, a.Result, found)
	factFindings(in.Facts, found)
	mateFindings(in, a.Result, found)
	if a.Vibration != nil {
		vibrationFindings(in, *a.Vibration, found)
	}
	return found
}

// tireFindings reads the patterns of the tire.
func tireFindings(in Input, res Result, found map[string]bool) {
	has := func(key string) bool { _, ok := res.Find(key); return ok }
	f := in.Facts
	_, found["weight_missing"] = in.has("missing_weight")
	found["first_harmonic"] = has(OncePerTurn)
	dips, several := has(Cupping) || has(FlatSpots), has(FlatSpots)
	worn := f.dampersWorn()
	good := f.DampersChecked && f.PartsChecked && !worn && !f.Looseness && !f.dualApart() &&
		f.PressureToTarget > 1-pressureOff && f.PressureToTarget < 1+pressureOff
	found["dips_clean"] = dips && good
	found["dips_open"] = dips && !good
	found["dips_dampers_open"] = dips && !f.DampersChecked && !worn
	found["dips_parts_open"] = dips && !f.PartsChecked && !f.Looseness
	found["dampers_dips"] = dips && worn
	found["young_cups"] = (dips || has(OncePerTurn)) && f.WornShare > 0 && f.WornShare < youngShare
	found["many_dips"] = has(Cupping) && res.Dips >= manyDips
	found["several_patches"] = several

	patch, ok := res.Find(FlatSpot)
	found["single_patch"] = ok && patch.Severity != Watch // one doubtful reading is no evidence
	found["block_period"] = has(HeelToe) || has(AlternateLug)
	found["feather"] = has(Feather)
	found["diagonal"] = has(Diagonal)
	found["rib"] = has(RibDepression)

	found["shoulders"], found["center"] = has(ShoulderBoth), has(Center)
	if p, ok := res.Find(ShoulderOneSide); ok {
		found["one_side_watch"] = p.Severity == Watch
		found["one_side_act"] = p.Severity != Watch
	}
	found["feather_or_one_side"] = has(Feather) || has(ShoulderOneSide)
}

func (f Facts) dampersWorn() bool {
	return f.DampersLeak || f.DampersYears > damperYears || f.DampersKM > damperKM
}

func (f Facts) dualApart() bool {
	return f.DualPressureKPa > dualPressureKPa || f.DualDiameterMM > dualDiameterMM
}

// seatedTrue reports whether bead gap and run-out were measured and are within
// their limits.
func (f Facts) seatedTrue() bool {
	return f.BeadGapVariationMM > 0 && f.RunoutLimitMM > 0 && !f.OutOfTrue()
}

// OutOfTrue reports whether the bead gap or the run-out is over its limit.
func (f Facts) OutOfTrue() bool { return f.beadGapOver() || f.runoutOver() }

func (f Facts) beadGapOver() bool { return f.BeadGapVariationMM > beadGapMM+1e-6 }
func (f Facts) runoutOver() bool {
	return f.RunoutLimitMM > 0 && f.RunoutMM > f.RunoutLimitMM+1e-6
}

// factFindings reads what is known of the wheel beside its readings.
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
	found["spin_zero"] = f.SpinZero || f.AllSpinsZero
	found["spin_zero_shakes"] = (f.SpinZero || f.AllSpinsZero) && f.ShakeRemains
}

// figure returns the number behind a row of evidence, "" where there is none to show.
func (f Facts) figure(id string) string {
	switch id {
	case "bead_gap":
		return noted(fmt.Sprintf("varies by %s, limit %s", small(f.BeadGapVariationMM), small(beadGapMM)),
			f.BeadGapNote)
	case "runout_over":
		return noted(fmt.Sprintf("%s, limit %s", small(f.RunoutMM), small(f.RunoutLimitMM)), f.RunoutNote)
	}
	return ""
}

func noted(figure, note string) string {
	if note != "" {
		figure += "; " + note
	}
	return " (" + figure + ")"
}

// mateFindings reads the comparisons: a partner that is normal speaks for the
// wheel itself, one worn alike for what both ends share.
func mateFindings(in Input, res Result, found map[string]bool) {
	uneven := res.Around == AroundUneven && !found["single_patch"]

	f := in.Facts
	for _, m := range res.Mates {
		switch m.With {
		case "axle":
			found["one_end_only"] = uneven && !mateUneven(*in.AxleMate)
			both := uneven && mateUneven(*in.AxleMate)
			found["both_ends_dampers"] = both && f.dampersWorn()
			found["both_ends_open"] = both && !f.DampersChecked && !f.dampersWorn()
		case "dual":
			found["dual_apart"] = found["dual_apart"] || !m.Alike
		}
	}
}

// mateUneven reports whether a mate is uneven around, by gauge or hand.
func mateUneven(t Tread) bool {
	spread, _ := summary(t)
	_, felt := t.has("cupping")
	return felt || steps(spread, 2)
}

// vibrationFindings reads the driver's report.
func vibrationFindings(in Input, v vibration.Reading, found map[string]bool) {
	report := in.Facts.Vibration
	found["vibration_rises"] = v.Rising
	found["braking_only"] = report.Braking == "only"
	found["throttle_only"] = report.Throttle == "only"
	found["waddle"] = v.Urgent
	found["after_mount"] = report.Since == "fit" || report.Since == "repair"
}

func small(mm float64) string { return units.MarkSmall(units.LengthFromMillimetres(mm)) }

// Told returns a with its texts passed through tell, which puts words in the
// place of the marks of package units. a stays as it is.
func (a Account) Told(tell func(string) string) Account {
	a.NextStep = tell(a.NextStep)
	a.Result.Patterns = slices.Clone(a.Result.Patterns)
	for i := range a.Result.Patterns {
		a.Result.Patterns[i].Text = tell(a.Result.Patterns[i].Text)
	}

	a.Result.Mates = slices.Clone(a.Result.Mates)
	for i := range a.Result.Mates {
		a.Result.Mates[i].Text = tell(a.Result.Mates[i].Text)
	}

	a.Result.Wanted = slices.Clone(a.Result.Wanted)
	for i := range a.Result.Wanted {
		a.Result.Wanted[i].Text = tell(a.Result.Wanted[i].Text)
	}

	a.Ranked = slices.Clone(a.Ranked)
	for i, c := range a.Ranked {
		a.Ranked[i].Lines = slices.Clone(c.Lines)
		for k := range a.Ranked[i].Lines {
			a.Ranked[i].Lines[k].Text = tell(a.Ranked[i].Lines[k].Text)
		}
	}

	return a
}
