package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"unicode"

	"rimledger/api/rest"
	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/pattern"
	"rimledger/models/tiresize"
	"rimledger/models/vibration"
	"rimledger/models/wear"
)

// calculator makes a calculator of a pure function. The command line and the
// API share its wire format: the field names of the function's own structs in
// snake case (MassG is mass_g), with unknown names refused.
func calculator[I, O any](name, summary string, example I, run func(I) (O, error)) rest.Calculator {
	return rest.Calculator{Name: name, Summary: summary, Example: wire(example), Run: func(in []byte) (any, error) {
		var v I
		if err := readWire(in, &v); err != nil {
			return nil, err
		}
		out, err := run(v)
		if err != nil {
			return nil, models.Errorf(models.Invalid, "%s: %v", name, err)
		}
		return wire(out), nil
	}}
}

// wire returns v as plain JSON values with snake-case names.
func wire(v any) any {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // the pure packages return finite numbers only
	}
	var plain any
	if err := json.Unmarshal(b, &plain); err != nil {
		panic(err) // it was just written
	}
	return renamed(plain, snake)
}

// readWire reads JSON with snake-case names into v and refuses unknown ones.
func readWire(in []byte, v any) error {
	var plain any
	if err := json.Unmarshal(in, &plain); err != nil {
		return models.Errorf(models.Invalid, "the input is not JSON: %v", err)
	}
	// Without underscores a name matches its field, since case does not count.
	b, err := json.Marshal(renamed(plain, func(s string) string { return strings.ReplaceAll(s, "_", "") }))
	if err != nil {
		return err
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return models.Errorf(models.Invalid, "the input does not fit: %s (--example prints one that does)", strings.TrimPrefix(err.Error(), "json: "))
	}
	return nil
}

func renamed(v any, name func(string) string) any {
	switch v := v.(type) {
	case map[string]any:
		out := make(map[string]any, len(v))
		for k, e := range v {
			out[name(k)] = renamed(e, name)
		}
		return out
	case []any:
		for i := range v {
			v[i] = renamed(v[i], name)
		}
	}
	return v
}

// snake writes a Go field name in snake case: MassG mass_g, NowKM now_km.
func snake(name string) string {
	runes := []rune(name)
	var b strings.Builder
	for i, r := range runes {
		if unicode.IsUpper(r) && i > 0 && (!unicode.IsUpper(runes[i-1]) || i+1 < len(runes) && unicode.IsLower(runes[i+1])) {
			b.WriteByte('_')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// calculators lists every computation that can be asked for by itself.
func calculators() []rest.Calculator {
	return append([]rest.Calculator{
		calculator("tread-pattern", "Wear patterns of one tire, their likely causes with the evidence, and what to check before balancing.", patternExample, treadPattern),
		calculator("vibration-orders", "Frequencies of the first three orders at a speed, and the force of an unbalance.", ordersInput{Size: "295/75R22.5", KMH: 95, UnbalanceGMM: 14_000}, orders),
		calculator("vibration-report", "What a driver's report of a shake points to, ranked, with reasons.",
			vibration.Report{Class: vibration.Heavy, StartsKMH: 70, WorstKMH: 95, FadesKMH: 115, FeltAt: "steering_wheel", Braking: "same", Throttle: "same", Neutral: "same"}, vibration.Read),
		calculator("wear-forecast", "Wear rate and distance to a limit, with intervals, from depths read along the way.", forecastExample, forecast),
		calculator("tire-size", "Diameter, rolling circumference and loads of a size designation.", sizeInput{Size: "295/75R22.5 144/141L"}, tireSize),
	}, benchCalculators()...)
}

// forecastInput is a fitment and its readings.
type forecastInput struct {
	Class      string // car, light_truck, rigid_truck, tractor, trailer, bus
	AxleRole   string // steer, drive, free
	NewMM      float64
	Fresh      bool // fitted new
	StartKM    float64
	Readings   []forecastReading
	NowKM      float64
	LimitMM    float64
	KMPerDay   float64 // 0: usual for the class
	Gauge32nds bool    // read on a 1/32 in gauge; else 0.1 mm
}

type forecastReading struct{ KM, DepthMM float64 }

var forecastExample = forecastInput{Class: "tractor", AxleRole: "steer", NewMM: 15.9, Fresh: true, StartKM: 100_000, NowKM: 180_000, LimitMM: 4.8,
	Readings: []forecastReading{{120_000, 14.6}, {140_000, 13.2}, {160_000, 12.1}, {175_000, 11.2}}, KMPerDay: 400}

func forecast(in forecastInput) (wear.Forecast, error) {
	s, err := wear.Start(wear.DefaultPrior(in.Class, in.AxleRole), wear.Fitting{XKM: in.StartKM, NewMM: in.NewMM, Fresh: in.Fresh})
	if err != nil {
		return wear.Forecast{}, err
	}
	gauge := wear.GaugeTenth
	if in.Gauge32nds {
		gauge = wear.Gauge32nd
	}
	for i, r := range in.Readings {
		if s, _, err = s.Update(wear.Reading{XKM: r.KM, DepthMM: r.DepthMM, Gauge: gauge}); err != nil {
			return wear.Forecast{}, fmt.Errorf("reading %d: %w", i+1, err)
		}
	}
	perDay := in.KMPerDay
	if perDay == 0 {
		perDay = wear.DefaultUse(in.Class)
	}
	return s.Forecast(wear.Ahead{LimitMM: in.LimitMM, NowKM: in.NowKM, Use: wear.StartUse(perDay)})
}

// mm is a depth that was read.
func mm(v float64) *float64 { return &v }

var patternExample = pattern.Input{Tread: pattern.Tread{NewMM: []float64{15.9, 15.9, 15.9}, DepthsMM: [][]*float64{
	{mm(11.1), mm(9.5), mm(8.7), mm(9.5), mm(11.1), mm(12.7), mm(13.5), mm(12.7)},
	{mm(11.9), mm(11.1), mm(11.1), mm(11.1), mm(11.9), mm(12.7), mm(12.7), mm(12.7)},
	{mm(12.7), mm(12.7), mm(12.7), mm(12.7), mm(12.7), mm(12.7), mm(12.7), mm(12.7)}},
	Observations: []pattern.Observation{{Code: "missing_weight"}}}, Facts: pattern.Facts{BalanceOverdue: true}}

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
	KMH          float64
	UnbalanceGMM float64
}

type ordersOutput struct {
	Orders vibration.Orders
	ForceN float64
}

func orders(in ordersInput) (ordersOutput, error) {
	d, err := tiresize.Parse(in.Size)
	if err != nil {
		return ordersOutput{}, err
	}
	c := d.RollingCircumference().Millimetres()
	o, err := vibration.OrdersAt(c, in.KMH)
	if err != nil {
		return ordersOutput{}, err
	}
	f, err := vibration.ForceN(in.UnbalanceGMM, c, in.KMH)
	return ordersOutput{o, f}, err
}

type sizeInput struct{ Size string }

type sizeOutput struct {
	Size                   string
	DiameterMM             float64
	CircumferenceMM        float64
	RollingCircumferenceMM float64
	LoadSingleKG           int
	LoadDualKG             int
	SpeedKMH               int
}

func tireSize(in sizeInput) (sizeOutput, error) {
	d, err := tiresize.Parse(in.Size)
	if err != nil {
		return sizeOutput{}, err
	}
	out := sizeOutput{Size: d.String(), DiameterMM: d.Diameter().Millimetres(), CircumferenceMM: d.Circumference().Millimetres(),
		RollingCircumferenceMM: d.RollingCircumference().Millimetres()}
	out.LoadSingleKG, _ = tiresize.LoadKG(d.LoadIndex)
	out.LoadDualKG, _ = tiresize.LoadKG(d.DualIndex)
	out.SpeedKMH, _ = tiresize.SpeedKMH(d.Speed)
	return out, nil
}

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
	in.Problem.Measured, in.Problem.Unbalance = in.Planes, u
	p, err := balance.Choose(in.Problem)
	p.Notes = append(notes, p.Notes...)
	return p, err
}

type transferInput struct {
	From, To     balance.Planes
	Inner, Outer balance.Shown
}

type shownOutput struct{ Inner, Outer balance.Shown }

func transfer(in transferInput) (shownOutput, error) {
	u, _, err := balance.FromShown(in.From, in.Inner, in.Outer)
	if err != nil {
		return shownOutput{}, err
	}
	if u, err = balance.Transfer(u, in.From, in.To); err != nil {
		return shownOutput{}, err
	}
	var out shownOutput
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
	first, _, err := balance.FromShown(in.Planes, in.FirstInner, in.FirstOuter)
	if err != nil {
		return balance.Indexed{}, err
	}
	second, _, err := balance.FromShown(in.Planes, in.SecondInner, in.SecondOuter)
	if err != nil {
		return balance.Indexed{}, err
	}
	return balance.IndexBalance(balance.Spins{Planes: in.Planes, First: first, Second: second, TurnDeg: in.TurnDeg,
		ResolutionG: in.ResolutionG, ResolutionDeg: in.ResolutionDeg})
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
}

func unbalance(in unbalanceInput) (unbalanceOutput, error) {
	u, _, err := balance.FromShown(in.Planes, in.Inner, in.Outer)
	if err != nil {
		return unbalanceOutput{}, err
	}
	spin, err := balance.AtSpeed(in.KMH, in.RollingRadiusMM)
	if err != nil {
		return unbalanceOutput{}, err
	}
	s, c := u.Static(), u.Couple(in.Planes)
	return unbalanceOutput{Static: s, Couple: c, ForceN: spin.Force(s), MomentNM: spin.Moment(c), Hertz: spin.Hertz()}, nil
}
