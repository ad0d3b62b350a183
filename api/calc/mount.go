package calc

import (
	"rimledger/models"
	"rimledger/models/balance"
)

// tread is that of an invented truck tire.
var tread = balance.Tread{
	Density:   balance.RubberDensity,
	LandRatio: balance.LandRatioTruck,
	WidthMM:   220,
	RadiusMM:  510,
}

// mountCalculators lists the computations about tire and wheel as parts: match
// mounting, half-turn, and what lost weights and worn patches are worth.
func mountCalculators() []Calculator {
	return []Calculator{
		calculator("match-readings",
			"Whether turning the tire on its wheel saves run-out, from readings at equal steps clockwise from the valve:"+
				" of the assembly at its tread, and of the bare wheel.",
			readingsExample, matchReadings),

		calculator("match-two-mounts",
			"The tire's and the wheel's parts from the assembly's first harmonic before and after the tire was turned.",
			mountsExample, matchTwoMounts),

		calculator("match-marks",
			"The turn that brings a tire's mark to the wheel's, by the maker's key.",
			marksExample, balance.MatchMarks),

		calculator(
			"half-turn",
			"Whether tire or wheel is at fault, from the high spot before and after half a turn of the tire on the "+
				"wheel; counted_from is valve or tire_mark.",
			halfExample,
			halfTurn,
		),

		calculator("lost-weight",
			"What an assembly is out by after a weight came off.",
			lostInput{Planes: wheel, MassG: 60, At: wheel.Outer, Deg: 120}, lostWeight),

		calculator(
			"heavy-spots",
			"What masses anywhere on the assembly ask for in two planes.",
			spotsInput{
				Planes: wheel,
				Spots:  []balance.Lump{{MassG: 40, RadiusMM: 500, Deg: 30, OffsetMM: 20}},
			},
			heavySpots,
		),

		calculator("worn-patch",
			"What a worn or torn patch of tread is worth at the rim.",
			patchInput{Tread: tread, DepthMM: 3, LengthMM: 200, Deg: 90, RimRadiusMM: 285}, wornPatch),

		calculator("worn-round",
			"What a tread worn once per turn is worth at the rim.",
			roundInput{Tread: tread, AmplitudeMM: 0.5, MostDeg: 90, RimRadiusMM: 285}, wornRound),
	}
}

type readingsInput struct{ AssemblyMM, WheelMM []float64 }

var readingsExample = readingsInput{
	AssemblyMM: []float64{0.6, 0.9, 1.1, 0.9, 0.5, 0.1, 0, 0.2},
	WheelMM:    []float64{0.2, 0.1, 0, 0.1, 0.3, 0.4, 0.5, 0.4},
}

type readingsOutput struct {
	balance.RunoutMatch
	TireHighDeg, WheelLowDeg float64
}

func matchReadings(in readingsInput) (readingsOutput, error) {
	m, err := balance.MatchReadings(in.AssemblyMM, in.WheelMM)
	return readingsOutput{m, m.Tire.Deg, m.Wheel.LowDeg()}, err
}

type mountsInput struct {
	First, Second balance.Harmonic
	TurnDeg       float64
}

var mountsExample = mountsInput{TurnDeg: 180,
	First: balance.Harmonic{Amplitude: 0.9, Deg: 30}, Second: balance.Harmonic{Amplitude: 0.4, Deg: 190}}

func matchTwoMounts(in mountsInput) (balance.Matched, error) {
	return balance.MatchTwoMounts(in.First, in.Second, in.TurnDeg)
}

var marksExample = balance.Marks{
	Tire:     []balance.Mark{{Look: "red dot", Deg: 70}},
	Wheel:    []balance.Mark{{Look: "dimple", Deg: 200}},
	TireKey:  map[string]balance.Meaning{"red dot": balance.HighSpot},
	WheelKey: map[string]balance.Meaning{"dimple": balance.LowSpot},
}

type halfInput struct {
	CountedFrom               balance.CountedFrom
	FirstDeg, SecondDeg       *float64
	TireRadiusMM, ToleranceMM float64
}

// halfExample is a wheel whose high spot stayed on the opposite side of the valve.
var halfExample = halfInput{CountedFrom: balance.FromValve, FirstDeg: new(20.0), SecondDeg: new(195.0),
	TireRadiusMM: 510, ToleranceMM: 101.6}

type halfOutput struct {
	Fault balance.HalfTurnFault
	Notes []balance.Note
}

func halfTurn(in halfInput) (halfOutput, error) {
	var f models.Faults
	for name, deg := range map[string]*float64{"first_deg": in.FirstDeg, "second_deg": in.SecondDeg} {
		if deg == nil {
			f.Add(name, "", "must say where the high spot was, such as 120")
		}
	}
	if err := f.Err("half-turn"); err != nil {
		return halfOutput{}, err
	}

	fault, notes, err := balance.HalfTurn(
		in.CountedFrom, *in.FirstDeg, *in.SecondDeg, in.TireRadiusMM, in.ToleranceMM)
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
	inner, outer := u.Correction(in.Planes)
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
	inner, outer := u.Correction(in.Planes)
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
	if err := (balance.Plane{RadiusMM: rimMM}).Check("rim"); err != nil {
		return worthOutput{}, err
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
