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

// checks returns what to look at before balancing, in the order of the trade:
// clean, pressure, duals, looseness, dampers, brakes, alignment, bead seat and
// run-out, and the balance last. What was found good already is left out.
func checks(in Input, a Account) []Check {
	var out []Check
	when := func(ok bool, code, text, basis string) {
		if ok {
			out = append(out, Check{code, text, basis})
		}
	}

	f, res := in.Facts, a.Result
	has := func(key string) bool { _, ok := res.Find(key); return ok }
	_, dirt := in.has("dirt")
	shakes := a.Vibration != nil || f.ShakeRemains
	uneven := res.Around == AroundUneven || shakes

	when(
		has(Separation),
		"off_road",
		"off the road now: bulge or separation; do not spin it",
		"workshop manual on tire wear",
	)

	when(!has(Separation) && a.Vibration != nil && a.Vibration.Urgent, "inspect_belt",
		"inspect for a broken belt or bent wheel before it is driven again", fromManuals)
	when(dirt, "clean", "clean wheel and tire of mud, ice and stones, then look again", fromManuals)
	when(f.PressureToTarget == 0 || f.PressureToTarget <= 1-pressureOff || f.PressureToTarget >= 1+pressureOff,
		"pressure", "pressure against the load, cold", fromTrade)

	when(in.DualMate != nil || f.dualApart() || has(FlatSpots), "duals", "match the duals: pressure, diameter, depth",
		fromTrade)

	when(uneven && !f.PartsChecked || f.Looseness || has(Diagonal) || has(RibDepression), "looseness",
		"bearing, kingpin, tie rod: end play", fromTrade)
	when(uneven && !f.DampersChecked || f.dampersWorn(), "dampers", "dampers: leaks, age, mounts", fromTrade)
	when(has(FlatSpot) || f.BrakesSuspect || a.Vibration != nil && a.Vibration.First() == vibration.Brake, "brakes",
		"brakes: dragging, rotor or drum; measure the patch, scrap the tire if fabric shows", fromManuals)

	when(a.Vibration != nil && a.Vibration.First() == vibration.Driveline, "driveline", "driveshaft and joints",
		"common practice, no source")

	when(has(Feather) || has(ShoulderOneSide) || f.Pulls, "alignment", "alignment of all axles", fromTrade)
	when(uneven && !f.seatedTrue(), "bead_seat", "bead seat gap and run-out, wheel and tire", fromTrade)
	when(uneven && !f.SpinZero && !f.AllSpinsZero, "balance", "then a check spin with nothing removed", fromTrade)
	return out
}

// firstJobs says what the leading cause asks for.
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
		return "off the road now: bulge or separation"
	}
	if a.CheckLoaded {
		return "all wheels read zero and the shake remains: check the wheels under load, for run-out and stiffness of the tires"
	}

	if in.Facts.SpinZero && (in.Facts.ShakeRemains || a.Vibration != nil) {
		switch {
		case a.Vibration != nil && a.Vibration.End == vibration.Front:
			return "this wheel is in balance: next a check spin of the front pair, since the steering wheel shakes"
		case a.Vibration != nil && a.Vibration.End == vibration.Rear:
			return "this wheel is in balance: next a check spin of the rear pair, since the shake is felt in seat or floor"
		}
		return "this wheel is in balance: next a check spin of its partner, then of the other axle"
	}

	top := a.Ranked[0]
	if top.Verdict == Likely || top.Verdict == Possible {
		if top.Key == Imbalance &&
			slices.ContainsFunc(a.ChecksFirst, func(c Check) bool { return c.Code == "balance" }) {
			return "after the checks balance this wheel" // they end with the spin
		}
		return firstJobs[top.Key]
	}

	if len(a.Result.Wanted) > 0 && a.Of(Imbalance).Verdict == NotEnoughData {
		return "not enough data; what would decide: " + a.Result.Wanted[0].Text
	}
	return "nothing to do beyond the usual inspections"
}
