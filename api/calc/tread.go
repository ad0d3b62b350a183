package calc

import (
	"rimledger/models/pattern"
	"rimledger/models/vibration"
)

// treadCalculators lists the computations about wear patterns and vibration.
func treadCalculators() []Calculator {
	return []Calculator{
		calculator("tread-pattern",
			"Wear patterns of one tire, their likely causes with the evidence, and what to check before balancing.",
			patternExample, treadPattern),

		calculator("vibration-orders",
			"Frequencies of the first three orders at a speed, the force of an unbalance, and where the wheel hops.",
			ordersInput{Size: "295/75R22.5", Class: vibration.Heavy, KMH: 95, UnbalanceGMM: 14_000}, orders),

		calculator("vibration-report",
			"What a driver's report of a shake points to, ranked, with reasons.",
			reportExample, vibration.Read),
	}
}

var reportExample = vibration.Report{Class: vibration.Heavy, Neutral: "same", Places: []string{"steering_wheel", "dash"},
	Bands: []vibration.SpeedBand{{FromKMH: 45, ToKMH: 62, Strength: "light"},
		{FromKMH: 85, WorstKMH: 95, ToKMH: 115, Strength: "strong"}}}

var patternExample = pattern.Input{
	Tread: pattern.Tread{
		NewMM: []float64{15.9, 15.9, 15.9},
		DepthsMM: [][]*float64{
			groove(11.1, 9.5, 8.7, 9.5, 11.1, 12.7, 13.5, 12.7),
			groove(11.9, 11.1, 11.1, 11.1, 11.9, 12.7, 12.7, 12.7),
			groove(12.7, 12.7, 12.7, 12.7, 12.7, 12.7, 12.7, 12.7),
		},
		Observations: []pattern.Observation{{Code: "missing_weight"}},
	},
	Facts: pattern.Facts{BalanceOverdue: true},
}

// groove returns the depths of a groove that was read at every station.
func groove(depthsMM ...float64) []*float64 {
	var out []*float64
	for _, d := range depthsMM {
		out = append(out, new(d))
	}

	return out
}

type patternOutput struct {
	Result  pattern.Result
	Account pattern.Account
}

func treadPattern(in pattern.Input) (patternOutput, error) {
	account, err := pattern.Causes(in)
	if err != nil {
		return patternOutput{}, err
	}
	result, err := pattern.Read(in)
	return patternOutput{result, account}, err
}

type ordersInput struct {
	Size         string
	Class        vibration.Class // car, light_truck, heavy; empty: nothing is said of wheel hop
	KMH          float64
	UnbalanceGMM float64
}

type ordersOutput struct {
	Orders vibration.Orders
	ForceN float64
	Hop    *hopOutput
}

// hopOutput is where a hopping wheel answers to once a turn, and how many dips
// its hopping at this speed would wear around the tire.
type hopOutput struct {
	BandHz       vibration.Band
	SpeedsKMH    vibration.Band
	DipsPerRound vibration.Band
}

func orders(in ordersInput) (ordersOutput, error) {
	d, err := sizeOf(in.Size)
	if err != nil {
		return ordersOutput{}, err
	}
	c := d.RollingCircumference().Millimetres()

	o, err := vibration.OrdersAt(c, in.KMH)
	if err != nil {
		return ordersOutput{}, err
	}
	f, err := vibration.ForceN(in.UnbalanceGMM, c, in.KMH)
	if err != nil || in.Class == "" {
		return ordersOutput{Orders: o, ForceN: f}, err
	}

	hop, err := hopAt(in.Class, c, in.KMH)
	return ordersOutput{o, f, &hop}, err
}

func hopAt(class vibration.Class, circumferenceMM, kmh float64) (out hopOutput, err error) {
	if out.BandHz, err = vibration.HopBandHz(class); err != nil {
		return out, err
	}
	if out.SpeedsKMH, err = vibration.HopSpeeds(class, circumferenceMM, 1); err != nil {
		return out, err
	}
	if out.DipsPerRound.Lo, err = vibration.Hops(circumferenceMM, kmh, out.BandHz.Lo); err != nil {
		return out, err
	}
	out.DipsPerRound.Hi, err = vibration.Hops(circumferenceMM, kmh, out.BandHz.Hi)
	return out, err
}
