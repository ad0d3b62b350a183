package pattern

import (
	"slices"

	"rimledger/models/vibration"
)

// Check is one thing to look at before anyone balances.
type Check struct {
	Code  string
	Text  string
	Basis string
}

const (
	fromTrade   = "truck tire trade guides"
	fromManuals = "workshop manuals"
)

// checks returns what to look at before balancing, in the order of truck tire trade
// guides: clean, pressure, duals, looseness, dampers, brakes, alignment, bead seat and
// run-out, and the balance last. It leaves out what was checked and found good.
//
// What takes the tire off the road ends the list: nobody measures or spins it.
func checks(in Input, a Account) []Check {
	var list checklist
	list.addSafety(in, a)
	if _, off := a.Result.Find(Separation); off {
		return list
	}
	list.addVehicle(in, a)
	list.addWheel(in, a)
	return list
}

// checklist is the checks that are needed, in order.
type checklist []Check

// when adds a check if it is needed.
func (l *checklist) when(needed bool, code, text, basis string) {
	if needed {
		*l = append(*l, Check{code, text, basis})
	}
}

// addSafety adds what comes before anyone spins or measures the wheel.
func (l *checklist) addSafety(in Input, a Account) {
	_, separated := a.Result.Find(Separation)
	_, dirt := in.observed("dirt")

	l.when(separated, "off_road", offRoad+"; do not spin it",
		"workshop manual on tire wear")
	l.when(!separated && a.Vibration != nil && a.Vibration.Urgent, "inspect_belt",
		"inspect for a broken belt or bent wheel before it is driven again", fromManuals)
	l.when(dirt, "clean", "clean wheel and tire of mud, ice and stones, then look again", fromManuals)
}

// addVehicle adds what wears a balanced wheel just the same: balancing cures none of it.
func (l *checklist) addVehicle(in Input, a Account) {
	f := in.Facts
	has := func(key string) bool { _, ok := a.Result.Find(key); return ok }
	uneven := a.unevenOrShakes(f)

	l.when(f.PressureToTarget == 0 || f.pressureOffTarget(), "pressure", "pressure against the load, cold", fromTrade)
	l.when(in.DualMate != nil || f.dualApart() || has(FlatSpots), "duals",
		"match the duals: pressure, diameter, depth", fromTrade)
	l.when(uneven && !f.PartsChecked || f.Looseness || has(Diagonal) || has(RibDepression), "looseness",
		"bearing, kingpin, tie rod: end play", fromTrade)
	l.when(uneven && !f.DampersChecked || f.dampersWorn(), "dampers", "dampers: leaks, age, mounts", fromTrade)
	l.when(has(FlatSpot) || f.BrakesSuspect || a.pointsFirstTo(vibration.Brake), "brakes",
		"brakes: dragging, rotor or drum; measure the patch, scrap the tire if fabric shows", fromManuals)
	l.when(a.pointsFirstTo(vibration.Driveline), "driveline", "driveshaft and joints", "common practice, no source")
	l.when(has(Feather) || has(ShoulderOneSide) || f.Pulls, "alignment", "alignment of all axles", fromTrade)
}

// addWheel adds the checks of the wheel itself. The spin comes last: weights on a
// wheel that runs out or sits wrong hide the fault.
func (l *checklist) addWheel(in Input, a Account) {
	f, uneven := in.Facts, a.unevenOrShakes(in.Facts)

	l.when(uneven && !f.seatingGood(), "bead_seat", "bead seat gap and run-out, wheel and tire", fromTrade)
	l.when(uneven && !f.SpinZero && !f.AllSpinsZero, "balance", "then a check spin with nothing removed", fromTrade)
}

// unevenOrShakes reports whether the tire is uneven around or the vehicle shakes.
func (a Account) unevenOrShakes(f Facts) bool {
	return a.Result.Around == AroundUneven || a.Vibration != nil || f.ShakeRemains
}

// pointsFirstTo reports whether the vibration report points first to cause.
func (a Account) pointsFirstTo(cause vibration.Cause) bool {
	return a.Vibration != nil && a.Vibration.First() == cause
}

// pressureOffTarget reports whether the pressure is known and off its target.
func (f Facts) pressureOffTarget() bool {
	return f.PressureToTarget > 0 && f.PressureToTarget <= 1-pressureOff || f.PressureToTarget >= 1+pressureOff
}

// offRoad is the first job for a tire that is damaged, not worn.
const offRoad = "off the road now: bulge, separation or cord that shows"

// firstJobs is the first job for each cause when it leads.
var firstJobs = map[string]string{
	Imbalance:       "a check spin with nothing removed, then balance this wheel",
	RunoutOrSeating: "measure bead seat and run-out; reseat or turn the tire on the rim, then balance",
	Dampers:         "dampers first; then balance, and move the tire to a drive axle",
	Looseness:       "repair the looseness first; balancing will not cure it",
	Alignment:       "alignment of all axles; balancing will not cure it",
	Pressure:        "set the pressure for the load; do not overinflate to cure wear",
	DualMismatch:    "match the duals; then look again",
	BrakeFlatSpot:   "brakes and the flat spot; balancing will not cure it",
	SelfExcited:     "pressure, load and toe; move the tire; balancing will not cure it",
}

// nextStep returns the one sentence of what to do now.
func nextStep(in Input, a Account) string {
	if _, off := a.Result.Find(Separation); off {
		return offRoad
	}
	if a.Vibration != nil && a.Vibration.Urgent {
		return "do not drive it before tire and wheel are inspected for a broken belt or a bent wheel"
	}
	if a.CheckLoaded {
		return "all wheels read zero and the shake remains: " +
			"check the wheels under load, for run-out and stiffness of the tires"
	}
	if in.Facts.SpinZero && (in.Facts.ShakeRemains || a.Vibration != nil) {
		return nextSpin(a)
	}

	switch top := a.Ranked[0]; {
	case top.Verdict == Possible && a.Result.DipsOpen() && hangsOnCount(top.Key):
		return countByHand + "; then: " + a.firstJob(top.Key)
	case top.Verdict == Likely || top.Verdict == Possible:
		return a.firstJob(top.Key)
	}
	return a.whileOpen()
}

// hangsOnCount reports whether the number of dips speaks for a cause or against it.
func hangsOnCount(cause string) bool {
	return slices.Contains([]string{Imbalance, RunoutOrSeating, Dampers, SelfExcited}, cause)
}

// firstJob returns the first job for the cause that leads.
func (a Account) firstJob(cause string) string {
	if cause != Imbalance {
		return firstJobs[cause]
	}

	// The checks end with a check spin, so the step is not to spin once more.
	job := firstJobs[Imbalance]
	if slices.ContainsFunc(a.ChecksFirst, func(c Check) bool { return c.Code == "balance" }) {
		job = "after the checks balance this wheel"
	}
	if _, couple := a.Result.Find(OncePerTurnCouple); couple {
		job += " in two planes"
	}
	return job
}

// whileOpen returns what to do while no cause is possible: wear that is worse than watched
// is never left alone.
func (a Account) whileOpen() string {
	uneven := slices.ContainsFunc(a.Result.Patterns, func(p Pattern) bool { return p.Severity != Watch })
	switch {
	case len(a.Result.Wanted) > 0 && (uneven || a.Of(Imbalance).Verdict == NotEnoughData):
		return "not enough data; what would decide: " + a.Result.Wanted[0].Text
	case uneven && len(a.ChecksFirst) > 0:
		return "the cause is open: make the checks in order, then read the tread again"
	case uneven:
		return "the cause is open: look for what wears the tire before it is used up, then read the tread again"
	}
	return "nothing to do beyond the usual inspections"
}

// nextSpin says which wheels to spin after one that reads zero while the vehicle shakes.
func nextSpin(a Account) string {
	end := ""
	if a.Vibration != nil {
		end = a.Vibration.End
	}

	switch end {
	case vibration.Front:
		return "this wheel is in balance: next a check spin of the front pair, since the steering wheel shakes"
	case vibration.Rear:
		return "this wheel is in balance: " +
			"next a check spin of the rear pair, since the shake is felt in seat or floor"
	}
	return "this wheel is in balance: next a check spin of its partner, then of the other axle"
}
