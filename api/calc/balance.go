package calc

import (
	"fmt"
	"slices"

	"rimledger/models"
	"rimledger/models/badinput"
	"rimledger/models/balance"
	"rimledger/models/bench"
)

// wheel is the geometry of an invented heavy wheel: clip flanges and a band.
var wheel = balance.Planes{
	Inner: balance.Plane{RadiusMM: 285, OffsetMM: -80},
	Outer: balance.Plane{RadiusMM: 285, OffsetMM: 130},
}

// What a balancer shows of it in the examples.
var (
	shownInner = balance.Shown{MassG: 120, Deg: 45}
	shownOuter = balance.Shown{MassG: 85, Deg: 230}
)

// balanceCalculators lists the computations of the balance bench.
func balanceCalculators() []Calculator {
	return []Calculator{
		calculator(
			"balance-weights",
			"The best set of real weights for what a balancer shows. Angles clockwise from the valve, seen from "+
				"outside.",
			weightsExample,
			weights,
		),

		calculator("plane-transfer",
			"What weights in one pair of planes ask for in another pair.",
			transferExample, transfer),

		calculator("index-balance",
			"The tire's part and the rim's part from two spins with the tire turned on the rim.",
			indexExample, index),

		calculator("centering",
			"The wheel's part and the clamping's part from two spins of one wheel, clamped anew half a turn around.",
			centeringExample, centering),

		calculator(
			"match-mount",
			"The turn that puts the tire's high spot opposite the wheel's, from first harmonics in one unit.",
			matchInput{
				Tire:  balance.Harmonic{Amplitude: 0.6, Deg: 30},
				Wheel: balance.Harmonic{Amplitude: 0.4, Deg: 310},
			},
			matchMount,
		),

		calculator("trial-weights",
			"Correction weights from trial runs on the vehicle, with phase.",
			trialExample, balance.TrialWeights),

		calculator("trial-positions",
			"A correction weight from amplitudes alone: one trial weight at three or more positions.",
			positionsExample, balance.TrialPositions),

		calculator(
			"unbalance",
			"Static and couple unbalance and the force it makes at speed.",
			unbalanceInput{
				Planes:          wheel,
				Inner:           shownInner,
				Outer:           shownOuter,
				KMH:             90,
				RollingRadiusMM: 500,
			},
			unbalance,
		),

		calculator("unbalance-at-speed",
			"What unbalance makes a force or a moment at a number of turns a minute.",
			atSpeedInput{TurnsPerMinute: 480, ForceN: 60, MomentNM: 8, OzIn: 20}, atSpeed),

		calculator(
			"trial-known",
			"Correction weights from influence coefficients kept of the same vehicle.",
			knownInput{
				Influence: [][]balance.Phasor{{{Amount: 0.1, Deg: 210}}},
				Readings:  []balance.Phasor{{Amount: 6, Deg: 60}},
			},
			trialKnown,
		),

		calculator("permissible-unbalance",
			"What a balance quality grade (ISO 21940-11) allows a wheel, in all and in two planes. For information: "+
				"shop practice is several times finer.",
			permissibleExample, permissible),

		calculator("clip-types", "Clip types that hold on a flange lip of a thickness.", lipInput{LipMM: 3}, clipTypes),
	}
}

var weightsExample = bench.Input{
	Assembly: bench.Assembly{Class: "tractor", AxleRole: "steer", Size: "295/75R22.5 144/141L"},
	Planes:   wheel, Inner: shownInner, Outer: shownOuter,
	Problem: balance.Problem{
		Stock: []balance.Weight{
			{Name: "clip 25 g", Kind: balance.Clip, MassG: 25, LengthMM: 30},
			{Name: "clip 50 g", Kind: balance.Clip, MassG: 50, LengthMM: 50},
			{Name: "clip 100 g", Kind: balance.Clip, MassG: 100, LengthMM: 80},
		},
		Places: []balance.Place{
			{Name: "inner flange", Plane: wheel.Inner, Kind: balance.Clip, MaxPieces: 2},
			{Name: "outer flange", Plane: wheel.Outer, Kind: balance.Clip, MaxPieces: 2},
		},
	},
}

// weightsOutput is what the bench proposes, what it was held against, and what else
// could be done.
type weightsOutput struct {
	balance.Proposal
	LimitInnerG, LimitOuterG float64 // what may be left; 0: no limit
	LimitStaticG             float64
	SlackG                   float64 // residual that was not worth a heavier set

	First    string // what to make sure of before anything; empty: nothing
	Open     *balance.Set
	OnePlane *bench.OnePlane
}

func weights(in bench.Input) (weightsOutput, error) {
	r, err := bench.Propose(in)
	if err != nil {
		return weightsOutput{}, err
	}

	return weightsOutput{
		Proposal:     r.Proposal,
		LimitInnerG:  r.Problem.LimitInnerG,
		LimitOuterG:  r.Problem.LimitOuterG,
		LimitStaticG: r.Problem.LimitStaticG,
		SlackG:       r.Problem.SlackG,
		First:        r.Advise(r.Left).First,
		Open:         r.Open,
		OnePlane:     r.OnePlane,
	}, nil
}

type transferInput struct {
	From, To     balance.Planes
	Inner, Outer balance.Shown
}

var transferExample = transferInput{
	From: wheel,
	To: balance.Planes{
		Inner: balance.Plane{RadiusMM: 270, OffsetMM: -60},
		Outer: balance.Plane{RadiusMM: 265, OffsetMM: 40},
	},
	Inner: shownInner, Outer: shownOuter,
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
	out.Inner, out.Outer = u.Correction(in.To)

	return out, nil
}

type indexInput struct {
	Planes                                           balance.Planes
	TurnDeg                                          float64
	FirstInner, FirstOuter, SecondInner, SecondOuter balance.Shown
	ResolutionG, ResolutionDeg                       float64
}

var indexExample = indexInput{Planes: wheel, TurnDeg: 180, ResolutionG: 5,
	FirstInner: balance.Shown{MassG: 150, Deg: 40}, FirstOuter: balance.Shown{MassG: 110, Deg: 50},
	SecondInner: balance.Shown{MassG: 60, Deg: 200}, SecondOuter: balance.Shown{MassG: 40, Deg: 190}}

func index(in indexInput) (balance.Indexed, error) {
	first, firstNotes, err := spin("first spin", in.Planes, in.FirstInner, in.FirstOuter)
	if err != nil {
		return balance.Indexed{}, err
	}

	second, secondNotes, err := spin("second spin", in.Planes, in.SecondInner, in.SecondOuter)
	if err != nil {
		return balance.Indexed{}, err
	}

	out, err := balance.IndexBalance(balance.Spins{Planes: in.Planes, First: first, Second: second,
		TurnDeg: in.TurnDeg, ResolutionG: in.ResolutionG, ResolutionDeg: in.ResolutionDeg})
	out.Notes = slices.Concat(firstNotes, secondNotes, out.Notes)

	return out, err
}

type centeringInput struct {
	Planes                                           balance.Planes
	FirstInner, FirstOuter, SecondInner, SecondOuter balance.Shown
}

var centeringExample = centeringInput{Planes: wheel,
	FirstInner: balance.Shown{MassG: 40, Deg: 90}, FirstOuter: balance.Shown{MassG: 60, Deg: 90},
	SecondInner: balance.Shown{MassG: 20, Deg: 270}, SecondOuter: balance.Shown{MassG: 10, Deg: 90}}

// centeringOutput is what the machine would ask for of each part alone.
type centeringOutput struct {
	WheelInner, WheelOuter balance.Shown
	ClampInner, ClampOuter balance.Shown // as clamped in the first spin
	Notes                  []balance.Note
}

func centering(in centeringInput) (centeringOutput, error) {
	first, firstNotes, err := spin("first spin", in.Planes, in.FirstInner, in.FirstOuter)
	if err != nil {
		return centeringOutput{}, err
	}

	second, secondNotes, err := spin("second spin", in.Planes, in.SecondInner, in.SecondOuter)
	if err != nil {
		return centeringOutput{}, err
	}

	c, err := balance.Center(in.Planes, first, second)
	if err != nil {
		return centeringOutput{}, err
	}

	out := centeringOutput{Notes: slices.Concat(firstNotes, secondNotes, c.Notes)}
	out.WheelInner, out.WheelOuter = c.Wheel.Correction(in.Planes)
	out.ClampInner, out.ClampOuter = c.Clamp.Correction(in.Planes)

	return out, nil
}

// spin returns what the balancer showed in one of several spins; notes and errors say
// in which.
func spin(which string, p balance.Planes, inner, outer balance.Shown) (balance.Unbalance, []balance.Note, error) {
	u, notes, err := balance.FromShown(p, inner, outer)
	for i := range notes {
		notes[i].Field, notes[i].Text = which+": "+notes[i].Field, which+": "+notes[i].Text
	}

	return u, notes, badinput.At(which, err)
}

type matchInput struct{ Tire, Wheel balance.Harmonic }

func matchMount(in matchInput) (balance.Matched, error) {
	return balance.MatchHarmonics(in.Tire, in.Wheel)
}

var trialExample = balance.TrialTest{
	Planes: 1,
	AsIs:   []balance.Phasor{{Amount: 6, Deg: 60}},
	Runs: []balance.TrialRun{
		{Plane: 0, Weight: balance.Phasor{Amount: 50, Deg: 0}, Readings: []balance.Phasor{{Amount: 4, Deg: 120}}},
	},
}

var positionsExample = balance.PositionTest{
	AsIs:   6,
	TrialG: 50,
	Runs:   []balance.PositionRun{{Deg: 0, Amplitude: 8}, {Deg: 120, Amplitude: 3}, {Deg: 240, Amplitude: 9}},
}

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

// The most that a wheel can do, chosen by us: 100 kN and 100 kN m tear it off, and 4000 oz in
// are a weight of 7 kg at 400 mm.
const (
	mostForce = 1e5
	mostOzIn  = 4000
)

type atSpeedOutput struct {
	ForceAsGMM   float64
	MomentAsGMM2 float64
	OzInAsGMM    float64
	OzInForceN   float64
}

func atSpeed(in atSpeedInput) (atSpeedOutput, error) {
	var f models.Faults
	for _, b := range []struct {
		name    string
		v       float64
		low, hi float64
	}{
		{"turns_per_minute", in.TurnsPerMinute, 1, 10_000},
		{"force_n", in.ForceN, 0, mostForce},
		{"moment_nm", in.MomentNM, 0, mostForce},
		{"oz_in", in.OzIn, 0, mostOzIn},
	} {
		if !(b.v >= b.low && b.v <= b.hi) {
			f.Add(b.name, fmt.Sprint(b.v), "must be %g to %g", b.low, b.hi)
		}
	}
	if err := f.Err("unbalance-at-speed"); err != nil {
		return atSpeedOutput{}, err
	}

	spin, v := balance.PerMinute(in.TurnsPerMinute), balance.FromOzIn(in.OzIn, 0)
	return atSpeedOutput{spin.FromForce(in.ForceN), spin.FromMoment(in.MomentNM), v.GMM, spin.Force(v)}, nil
}

type knownInput struct {
	Influence [][]balance.Phasor
	Readings  []balance.Phasor
}

func trialKnown(in knownInput) (balance.TrialResult, error) {
	return balance.Correct(in.Influence, in.Readings)
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

// permissibleInput is a wheel, how fast it turns, and how far its planes lie from its center
// of mass. Speed is given by the road, or by turns a minute.
type permissibleInput struct {
	Grade                float64 // mm/s, such as 40 for G 40
	MassKG               float64
	KMH, RollingRadiusMM float64
	TurnsPerMinute       float64
	InnerMM, OuterMM     float64 // from the center of mass to the planes
	InnerRadiusMM        float64 // where weights sit
	OuterRadiusMM        float64
}

// permissibleExample is a car wheel with the grade that lists give for it.
var permissibleExample = permissibleInput{Grade: balance.GradeCarWheels, MassKG: 20, KMH: 120, RollingRadiusMM: 310,
	InnerMM: 70, OuterMM: 90, InnerRadiusMM: 203, OuterRadiusMM: 203}

type permissibleOutput struct {
	GMM                float64 // in all
	InnerGMM, OuterGMM float64
	InnerG, OuterG     float64 // the same as weights at the radii
	Note               string
}

const permissibleNote = "Balance quality grades of ISO 21940-11, second-hand; planes share by their distances, 30 to " +
	"70 %. Lists give G 40 for car wheels. For information: no verdict rests on it."

func permissible(in permissibleInput) (permissibleOutput, error) {
	spin := balance.PerMinute(in.TurnsPerMinute)
	switch {
	case in.TurnsPerMinute != 0 && in.KMH != 0:
		return permissibleOutput{}, badinput.New("turns_per_minute", fmt.Sprint(in.TurnsPerMinute), bench.ErrGivenTwice,
			"give the speed in km/h with the rolling radius, or the turns a minute")
	case in.TurnsPerMinute == 0:
		var err error
		if spin, err = balance.AtSpeed(in.KMH, in.RollingRadiusMM); err != nil {
			return permissibleOutput{}, err
		}
	}

	all, err := balance.Permissible(in.Grade, in.MassKG, spin)
	if err != nil {
		return permissibleOutput{}, err
	}

	out := permissibleOutput{GMM: all, Note: permissibleNote}
	if out.InnerGMM, out.OuterGMM, err = balance.PermissiblePlanes(all, in.InnerMM, in.OuterMM); err != nil {
		return permissibleOutput{}, err
	}
	if err := (balance.Planes{
		Inner: balance.Plane{RadiusMM: in.InnerRadiusMM, OffsetMM: -in.InnerMM},
		Outer: balance.Plane{RadiusMM: in.OuterRadiusMM, OffsetMM: in.OuterMM},
	}).Check("planes"); err != nil {
		return permissibleOutput{}, err
	}
	out.InnerG, out.OuterG = out.InnerGMM/in.InnerRadiusMM, out.OuterGMM/in.OuterRadiusMM

	return out, nil
}
