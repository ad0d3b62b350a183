package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"
	"unicode"

	"rimledger/api/rest"
	"rimledger/models"
	"rimledger/models/badinput"
	"rimledger/models/pattern"
	"rimledger/models/tiresize"
	"rimledger/models/units"
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
			return nil, refused(name, err)
		}
		return wire(out), nil
	}}
}

// refused is an error of a computation as an Invalid error that names the field.
func refused(name string, err error) error {
	var known *models.Error
	if errors.As(err, &known) {
		return err
	}

	var bad *badinput.Error
	if !errors.As(err, &bad) {
		return models.Errorf(models.Invalid, "%s: %v", name, err)
	}

	var f models.Faults
	f.Add(bad.Field, bad.Value, "is refused: %v; %s", bad.Err, bad.Right)
	return f.Err(name)
}

// wire returns v as plain JSON values with snake-case names.
func wire(v any) any {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // the pure packages return finite numbers only
	}
	told := units.Style{Set: units.Metric}.Render(string(b)) // texts of the pure packages mark their quantities
	var plain any
	if err := json.Unmarshal([]byte(told), &plain); err != nil {
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
	err = d.Decode(v)
	if err == nil {
		return nil
	}
	var f models.Faults
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		f.Add(snake(kind.Field), kind.Value, "does not fit: must be %s", map[bool]string{true: "a number", false: "as in the example"}[kind.Type.Kind() == reflect.Float64])
	} else if _, name, ok := strings.Cut(err.Error(), "unknown field "); ok {
		f.Add(strings.Trim(name, `"`), "", "is not known here; the example has all that are")
	} else {
		f.Add("", "", "%s", strings.TrimPrefix(err.Error(), "json: "))
	}
	return f.Err("the input")
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
		if unicode.IsUpper(r) && i > 0 && runes[i-1] != '.' && (!unicode.IsUpper(runes[i-1]) || i+1 < len(runes) && unicode.IsLower(runes[i+1])) {
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
		calculator("vibration-orders", "Frequencies of the first three orders at a speed, the force of an unbalance, and where the wheel hops.", ordersInput{Size: "295/75R22.5", Class: vibration.Heavy, KMH: 95, UnbalanceGMM: 14_000}, orders),
		calculator("vibration-report", "What a driver's report of a shake points to, ranked, with reasons.",
			vibration.Report{Class: vibration.Heavy, StartsKMH: 70, WorstKMH: 95, FadesKMH: 115, FeltAt: "steering_wheel", Braking: "same", Throttle: "same", Neutral: "same"}, vibration.Read),
		calculator("wear-forecast", "Wear rate and distance to a limit, with intervals, from depths read along the way.", forecastExample, forecast),
		calculator("wear-line", "A second opinion on a forecast: straight lines by least squares and by medians through the readings alone, and whether they bend.", lineExample, wearLine),
		calculator("tire-size", "Diameter, rolling circumference and loads of a size designation.", sizeInput{Size: "295/75R22.5 144/141L"}, tireSize),
		calculator("tire-made", "The week a tire was made in, by its identification number.", madeInput{TIN: "DOT B9JA XK2 3613"}, tireMade),
		calculator("treadwear", "The mileage that nine depths of a treadwear course project to, and the grade it would give.",
			treadwearInput{DepthsMils: [9]float64{350.0, 343.9, 338.2, 332.1, 326.4, 320.0, 314.3, 308.1, 302.2}, Severity: 1, BaseRate: 1.34}, treadwear),
	}, slices.Concat(benchCalculators(), mountCalculators())...)
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
	if err := in.check(); err != nil {
		return wear.Forecast{}, err
	}
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
			return wear.Forecast{}, badinput.At(fmt.Sprintf("reading %d", i+1), err)
		}
	}
	perDay := in.KMPerDay
	if perDay == 0 {
		perDay = wear.DefaultUse(in.Class)
	}
	return s.Forecast(wear.Ahead{LimitMM: in.LimitMM, NowKM: in.NowKM, Use: wear.StartUse(perDay)})
}

// check refuses what the estimator would take for something else: words it does not
// know stand for its default, a use beyond any vehicle's is brought to its bounds.
func (in forecastInput) check() error {
	var f models.Faults
	if in.Class != "" && !slices.Contains(models.Classes, models.Class(in.Class)) {
		f.Add("class", in.Class, "must be one of %q, or empty for any", models.Classes)
	}
	if roles := []models.AxleRole{models.RoleSteer, models.RoleDrive, models.RoleTrailer}; in.AxleRole != "" && !slices.Contains(roles, models.AxleRole(in.AxleRole)) {
		f.Add("axle_role", in.AxleRole, "must be one of %q, or empty for any", roles)
	}
	if in.KMPerDay != 0 && !(in.KMPerDay >= 0.1 && in.KMPerDay <= 5000) {
		f.Add("km_per_day", fmt.Sprint(in.KMPerDay), "must be 0.1 to 5000 km a day, or 0 for what is usual")
	}
	last := in.StartKM
	if n := len(in.Readings); n > 0 {
		last = in.Readings[n-1].KM
	}
	if in.NowKM < last {
		f.Add("now_km", fmt.Sprint(in.NowKM), "must not be before the last reading or the fitting, at %g km", last)
	}
	return f.Err("wear-forecast")
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

// sizeOf parses a size and names it where it is none.
func sizeOf(text string) (tiresize.Designation, error) {
	d, err := tiresize.Parse(text)
	if err != nil {
		var f models.Faults
		f.Add("size", text, "is no size: %v", err)
		err = f.Err("the size")
	}
	return d, err
}

type sizeInput struct{ Size string }

type sizeOutput struct {
	Size                   string
	SectionWidthMM         float64
	DiameterMM             float64
	CircumferenceMM        float64
	RollingCircumferenceMM float64
	LoadSingleKG           int
	LoadDualKG             int
	SpeedKMH               int
}

func tireSize(in sizeInput) (sizeOutput, error) {
	d, err := sizeOf(in.Size)
	if err != nil {
		return sizeOutput{}, err
	}
	out := sizeOutput{Size: d.String(), SectionWidthMM: d.SectionWidth().Millimetres(), DiameterMM: d.Diameter().Millimetres(), CircumferenceMM: d.Circumference().Millimetres(),
		RollingCircumferenceMM: d.RollingCircumference().Millimetres()}
	out.LoadSingleKG, out.LoadDualKG = d.MaxLoad()
	out.SpeedKMH, _ = d.MaxSpeed()
	return out, nil
}

type madeInput struct{ TIN string }

type madeOutput struct {
	Made      string // the week in words
	FromDay   string // its first day, a Sunday; empty where the year is not known
	Ambiguous bool   // the end of the number could also be a code of before 2000
	Retread   bool   // the tread, not the casing, was made then
}

func tireMade(in madeInput) (madeOutput, error) {
	w, err := tiresize.ParseTIN(in.TIN)
	if err != nil {
		var f models.Faults
		f.Add("tin", in.TIN, "is refused: %v", err)
		return madeOutput{}, f.Err("the number")
	}
	out := madeOutput{Made: w.String(), Ambiguous: w.Ambiguous, Retread: w.Retread}
	if day, ok := w.Starts(); ok {
		out.FromDay = day.Format(time.DateOnly)
	}
	return out, nil
}

type treadwearInput struct {
	DepthsMils [9]float64 // mean groove depth after break-in and every 800 miles
	Severity   float64    // of the course; 1: unadjusted
	BaseRate   float64    // base course wear rate, mils per 1000 miles
}

type treadwearOutput struct {
	Projection wear.Treadwear
	Percent    float64 // of the nominal 30,000 miles
	Grade      int
	Note       string
}

func treadwear(in treadwearInput) (treadwearOutput, error) {
	if !(in.BaseRate > 0 && in.BaseRate <= 100) {
		var f models.Faults
		f.Add("base_rate", fmt.Sprint(in.BaseRate), "must be a wear rate above 0 and up to 100 mils per 1000 miles, such as 1.34")
		return treadwearOutput{}, f.Err("treadwear")
	}
	t, err := wear.ProjectTreadwear(in.DepthsMils, in.Severity)
	if err != nil {
		return treadwearOutput{}, err
	}
	out := treadwearOutput{Projection: t, Note: "By the formulas of 49 CFR 575.104(e)(2) as remembered; for checking a wear line, not for grading a tire."}
	out.Percent, out.Grade = wear.TreadwearGrade(t.Miles, in.BaseRate)
	return out, nil
}
