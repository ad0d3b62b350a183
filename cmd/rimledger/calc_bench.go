package main

import (
	"slices"

	"rimledger/api/rest"
	"rimledger/models"
	"rimledger/models/badinput"
	"rimledger/models/balance"
)

// wheel is the geometry of an invented heavy wheel: clip flanges and a band.
var wheel = balance.Planes{Inner: balance.Plane{RadiusMM: 285, OffsetMM: -80}, Outer: balance.Plane{RadiusMM: 285, OffsetMM: 130}}

// benchCalculators lists the computations of the balance bench.
func benchCalculators() []rest.Calculator {
	return []rest.Calculator{
		calculator("balance-weights", "The best set of real weights for what a balancer shows. Angles clockwise from the valve, seen from outside.",
			weightsInput{Planes: wheel, Inner: balance.Shown{MassG: 120, Deg: 45}, Outer: balance.Shown{MassG: 85, Deg: 230},
				Problem: balance.Problem{
					Stock:  []balance.Weight{{Name: "clip 25 g", Kind: balance.Clip, MassG: 25, LengthMM: 30}, {Name: "clip 50 g", Kind: balance.Clip, MassG: 50, LengthMM: 50}, {Name: "clip 100 g", Kind: balance.Clip, MassG: 100, LengthMM: 80}},
					Places: []balance.Place{{Name: "inner flange", Plane: wheel.Inner, Kind: balance.Clip, MaxPieces: 2}, {Name: "outer flange", Plane: wheel.Outer, Kind: balance.Clip, MaxPieces: 2}}}},
			weights),
		calculator("plane-transfer", "What weights in one pair of planes ask for in another pair.",
			transferInput{From: wheel, To: balance.Planes{Inner: balance.Plane{RadiusMM: 270, OffsetMM: -60}, Outer: balance.Plane{RadiusMM: 265, OffsetMM: 40}},
				Inner: balance.Shown{MassG: 120, Deg: 45}, Outer: balance.Shown{MassG: 85, Deg: 230}}, transfer),
		calculator("index-balance", "The tire's part and the rim's part from two spins with the tire turned on the rim.",
			indexInput{Planes: wheel, TurnDeg: 180, FirstInner: balance.Shown{MassG: 150, Deg: 40}, FirstOuter: balance.Shown{MassG: 110, Deg: 50},
				SecondInner: balance.Shown{MassG: 60, Deg: 200}, SecondOuter: balance.Shown{MassG: 40, Deg: 190}, ResolutionG: 5}, index),
		calculator("match-mount", "The turn that puts the tire's high spot opposite the wheel's, from first harmonics in one unit.",
			matchInput{Tire: balance.Harmonic{Amplitude: 0.6, Deg: 30}, Wheel: balance.Harmonic{Amplitude: 0.4, Deg: 310}},
			func(in matchInput) (balance.Matched, error) { return balance.MatchHarmonics(in.Tire, in.Wheel) }),
		calculator("trial-weights", "Correction weights from trial runs on the vehicle, with phase.",
			balance.TrialTest{Planes: 1, AsIs: []balance.Phasor{{Amount: 6, Deg: 60}}, Runs: []balance.TrialRun{{Plane: 0, Weight: balance.Phasor{Amount: 50, Deg: 0}, Readings: []balance.Phasor{{Amount: 4, Deg: 120}}}}},
			balance.TrialWeights),
		calculator("trial-positions", "A correction weight from amplitudes alone: one trial weight at three or more positions.",
			balance.PositionTest{AsIs: 6, TrialG: 50, Runs: []balance.PositionRun{{Deg: 0, Amplitude: 8}, {Deg: 120, Amplitude: 3}, {Deg: 240, Amplitude: 9}}},
			balance.TrialPositions),
		calculator("unbalance", "Static and couple unbalance and the force it makes at speed.",
			unbalanceInput{Planes: wheel, Inner: balance.Shown{MassG: 120, Deg: 45}, Outer: balance.Shown{MassG: 85, Deg: 230}, KMH: 90, RollingRadiusMM: 500}, unbalance),
		calculator("unbalance-at-speed", "What unbalance makes a force or a moment at a number of turns a minute.",
			atSpeedInput{TurnsPerMinute: 480, ForceN: 60, MomentNM: 8, OzIn: 20}, atSpeed),
		calculator("trial-known", "Correction weights from influence coefficients kept of the same vehicle.",
			knownInput{Influence: [][]balance.Phasor{{{Amount: 0.1, Deg: 210}}}, Readings: []balance.Phasor{{Amount: 6, Deg: 60}}},
			func(in knownInput) (balance.TrialResult, error) { return balance.Correct(in.Influence, in.Readings) }),
		calculator("clip-types", "Clip types that hold on a flange lip of a thickness.", lipInput{LipMM: 3}, clipTypes),
	}
}

type weightsInput struct {
	Planes       balance.Planes
	Inner, Outer balance.Shown
	Problem      balance.Problem // stock, places and limits; what is measured comes from above
}

func weights(in weightsInput) (balance.Proposal, error) {
	u, notes, err := balance.FromShown(in.Planes, in.Inner, in.Outer)
	if err != nil {
		return balance.Proposal{}, err
	}
	var f models.Faults
	if in.Problem.Measured != (balance.Planes{}) && in.Problem.Measured != in.Planes {
		f.Add("problem.measured", "", "is not what planes says; leave it out, planes counts")
	}
	if in.Problem.Unbalance != (balance.Unbalance{}) {
		f.Add("problem.unbalance", "", "leave it out: it is worked out from inner and outer")
	}
	if err := f.Err("balance-weights"); err != nil {
		return balance.Proposal{}, err
	}
	in.Problem.Measured, in.Problem.Unbalance = in.Planes, u
	p, err := balance.Choose(in.Problem)
	p.Notes = append(notes, p.Notes...)
	return p, err
}

type transferInput struct {
	From, To     balance.Planes
	Inner, Outer balance.Shown
}

type shownOutput struct {
	Inner, Outer balance.Shown
	Notes        []balance.Note
}

func transfer(in transferInput) (shownOutput, error) {
	u, notes, err := balance.FromShown(in.From, in.Inner, in.Outer)
	if err != nil {
		return shownOutput{}, badinput.At("from", err)
	}
	if u, err = balance.Transfer(u, in.From, in.To); err != nil {
		return shownOutput{}, err
	}
	out := shownOutput{Notes: notes}
	out.Inner, out.Outer = u.Asks(in.To)
	return out, nil
}

type indexInput struct {
	Planes                                           balance.Planes
	TurnDeg                                          float64
	FirstInner, FirstOuter, SecondInner, SecondOuter balance.Shown
	ResolutionG, ResolutionDeg                       float64
}

func index(in indexInput) (balance.Indexed, error) {
	first, notes, err := balance.FromShown(in.Planes, in.FirstInner, in.FirstOuter)
	if err != nil {
		return balance.Indexed{}, badinput.At("first spin", err)
	}
	second, more, err := balance.FromShown(in.Planes, in.SecondInner, in.SecondOuter)
	if err != nil {
		return balance.Indexed{}, badinput.At("second spin", err)
	}
	for i := range notes {
		notes[i].Field, notes[i].Text = "first spin: "+notes[i].Field, "first spin: "+notes[i].Text
	}
	for i := range more {
		more[i].Field, more[i].Text = "second spin: "+more[i].Field, "second spin: "+more[i].Text
	}
	out, err := balance.IndexBalance(balance.Spins{Planes: in.Planes, First: first, Second: second, TurnDeg: in.TurnDeg,
		ResolutionG: in.ResolutionG, ResolutionDeg: in.ResolutionDeg})
	out.Notes = slices.Concat(notes, more, out.Notes)
	return out, err
}

type matchInput struct{ Tire, Wheel balance.Harmonic }

type unbalanceInput struct {
	Planes          balance.Planes
	Inner, Outer    balance.Shown
	KMH             float64
	RollingRadiusMM float64
}

type unbalanceOutput struct {
	Static   balance.Vector
	Couple   balance.Couple
	ForceN   float64
	MomentNM float64
	Hertz    float64

	StaticOzIn       float64
	StaticFromInside balance.Vector // the same as seen from the vehicle's side
	Notes            []balance.Note
}

func unbalance(in unbalanceInput) (unbalanceOutput, error) {
	u, notes, err := balance.FromShown(in.Planes, in.Inner, in.Outer)
	if err != nil {
		return unbalanceOutput{}, err
	}
	spin, err := balance.AtSpeed(in.KMH, in.RollingRadiusMM)
	if err != nil {
		return unbalanceOutput{}, err
	}
	s, c := u.Static(), u.Couple(in.Planes)
	return unbalanceOutput{Static: s, Couple: c, ForceN: spin.Force(s), MomentNM: spin.Moment(c), Hertz: spin.Hertz(),
		StaticOzIn: s.OzIn(), StaticFromInside: s.Mirrored(), Notes: notes}, nil
}

type atSpeedInput struct{ TurnsPerMinute, ForceN, MomentNM, OzIn float64 }

type atSpeedOutput struct {
	ForceAsGMM   float64
	MomentAsGMM2 float64
	OzInAsGMM    float64
	OzInForceN   float64
}

func atSpeed(in atSpeedInput) (atSpeedOutput, error) {
	if !(in.TurnsPerMinute >= 1 && in.TurnsPerMinute <= 10_000) {
		return atSpeedOutput{}, models.Errorf(models.Invalid, "turns_per_minute %g: give 1 to 10000", in.TurnsPerMinute)
	}
	spin, v := balance.PerMinute(in.TurnsPerMinute), balance.FromOzIn(in.OzIn, 0)
	return atSpeedOutput{spin.FromForce(in.ForceN), spin.FromMoment(in.MomentNM), v.GMM, spin.Force(v)}, nil
}

type knownInput struct {
	Influence [][]balance.Phasor
	Readings  []balance.Phasor
}

type lipInput struct{ LipMM float64 }

type clipOutput struct {
	Types  []balance.ClipFit
	Advice string
}

func clipTypes(in lipInput) (clipOutput, error) {
	fit, err := balance.ClipsFor(in.LipMM)
	out := clipOutput{Types: fit}
	if err == nil && len(fit) == 0 {
		out.Advice = "no clip type holds on this lip: use adhesive weights"
	}
	return out, err
}

// mountCalculators lists the computations about tire and wheel as parts: match
// mounting, half-turn, and what lost weights and worn patches are worth.
func mountCalculators() []rest.Calculator {
	tread := balance.Tread{Density: balance.RubberDensity, LandRatio: balance.LandRatioTruck, WidthMM: 220, RadiusMM: 510}
	return []rest.Calculator{
		calculator("match-readings", "First harmonics of run-out readings of tire and wheel, equal steps clockwise from the valve, and the turn that matches them.",
			readingsInput{TireMM: []float64{0.6, 0.9, 1.1, 0.9, 0.5, 0.1, 0, 0.2}, WheelMM: []float64{0.2, 0.1, 0, 0.1, 0.3, 0.4, 0.5, 0.4}}, matchReadings),
		calculator("match-two-mounts", "The tire's and the wheel's parts from the assembly's first harmonic before and after the tire was turned.",
			mountsInput{First: balance.Harmonic{Amplitude: 0.9, Deg: 30}, Second: balance.Harmonic{Amplitude: 0.4, Deg: 190}, TurnDeg: 180},
			func(in mountsInput) (balance.Matched, error) {
				return balance.MatchTwoMounts(in.First, in.Second, in.TurnDeg)
			}),
		calculator("match-marks", "The turn that brings a tire's mark to the wheel's, by the maker's key.",
			balance.Marks{Tire: []balance.Mark{{Look: "red dot", Deg: 70}}, Wheel: []balance.Mark{{Look: "dimple", Deg: 200}},
				TireKey: map[string]balance.Meaning{"red dot": balance.HighSpot}, WheelKey: map[string]balance.Meaning{"dimple": balance.LowSpot}}, balance.MatchMarks),
		calculator("half-turn", "Whether tire or wheel is at fault, from the high spot before and after half a turn of the tire on the wheel.",
			halfInput{FirstDeg: 20, SecondDeg: 35, TireRadiusMM: 510, ToleranceMM: 101.6}, halfTurn),
		calculator("lost-weight", "What an assembly is out by after a weight came off.",
			lostInput{Planes: wheel, MassG: 60, At: wheel.Outer, Deg: 120}, lostWeight),
		calculator("heavy-spots", "What masses anywhere on the assembly ask for in two planes.",
			spotsInput{Planes: wheel, Spots: []balance.Lump{{MassG: 40, RadiusMM: 500, Deg: 30, OffsetMM: 20}}}, heavySpots),
		calculator("worn-patch", "What a worn or torn patch of tread is worth at the rim.",
			patchInput{Tread: tread, DepthMM: 3, LengthMM: 200, Deg: 90, RimRadiusMM: 285}, wornPatch),
		calculator("worn-round", "What a tread worn once per turn is worth at the rim.",
			roundInput{Tread: tread, AmplitudeMM: 0.5, MostDeg: 90, RimRadiusMM: 285}, wornRound),
	}
}

type readingsInput struct{ TireMM, WheelMM []float64 }

type readingsOutput struct {
	Tire, Wheel              balance.Harmonic
	TirePeakToPeakMM         float64
	WheelPeakToPeakMM        float64
	TireHighDeg, WheelLowDeg float64
	Matched                  balance.Matched
}

func matchReadings(in readingsInput) (out readingsOutput, err error) {
	if _, out.Tire, err = balance.FirstHarmonic(in.TireMM); err != nil {
		return out, err
	}
	if _, out.Wheel, err = balance.FirstHarmonic(in.WheelMM); err != nil {
		return out, err
	}
	out.TirePeakToPeakMM, out.WheelPeakToPeakMM = out.Tire.PeakToPeak(), out.Wheel.PeakToPeak()
	out.TireHighDeg, out.WheelLowDeg = out.Tire.Deg, out.Wheel.LowDeg()
	out.Matched, err = balance.MatchHarmonics(out.Tire, out.Wheel)
	return out, err
}

type mountsInput struct {
	First, Second balance.Harmonic
	TurnDeg       float64
}

type halfInput struct{ FirstDeg, SecondDeg, TireRadiusMM, ToleranceMM float64 }

type halfOutput struct {
	Fault balance.HalfTurnFault
	Notes []balance.Note
}

func halfTurn(in halfInput) (halfOutput, error) {
	fault, notes, err := balance.HalfTurn(in.FirstDeg, in.SecondDeg, in.TireRadiusMM, in.ToleranceMM)
	return halfOutput{fault, notes}, err
}

type lostInput struct {
	Planes balance.Planes
	MassG  float64
	At     balance.Plane
	Deg    float64
}

func lostWeight(in lostInput) (shownOutput, error) {
	u, notes, err := balance.LostWeight(in.Planes, in.MassG, in.At, in.Deg)
	if err != nil {
		return shownOutput{}, err
	}
	inner, outer := u.Asks(in.Planes)
	return shownOutput{inner, outer, notes}, nil
}

type spotsInput struct {
	Planes balance.Planes
	Spots  []balance.Lump
}

func heavySpots(in spotsInput) (shownOutput, error) {
	u, notes, err := balance.Resolve(in.Planes, in.Spots...)
	if err != nil {
		return shownOutput{}, err
	}
	inner, outer := u.Asks(in.Planes)
	return shownOutput{inner, outer, notes}, nil
}

type patchInput struct {
	Tread                               balance.Tread
	DepthMM, LengthMM, Deg, RimRadiusMM float64
}

// worthOutput is an unbalance and the weight that cures it at the rim.
type worthOutput struct {
	Unbalance balance.Vector
	RimMassG  float64
	PutAtDeg  float64
	Notes     []balance.Note
}

func worth(v balance.Vector, rimMM float64, notes []balance.Note) (worthOutput, error) {
	if !(rimMM >= 10 && rimMM <= 1500) {
		return worthOutput{}, models.Errorf(models.Invalid, "rim_radius_mm %g: give 10 to 1500", rimMM)
	}
	return worthOutput{v, v.At(rimMM), v.Opposite().Deg, notes}, nil
}

func wornPatch(in patchInput) (worthOutput, error) {
	v, notes, err := balance.WornPatch(in.Tread, in.DepthMM, in.LengthMM, in.Deg)
	if err != nil {
		return worthOutput{}, err
	}
	return worth(v, in.RimRadiusMM, notes)
}

type roundInput struct {
	Tread                             balance.Tread
	AmplitudeMM, MostDeg, RimRadiusMM float64
}

func wornRound(in roundInput) (worthOutput, error) {
	v, notes, err := balance.WearRound(in.Tread, in.AmplitudeMM, in.MostDeg)
	if err != nil {
		return worthOutput{}, err
	}
	return worth(v, in.RimRadiusMM, notes)
}
