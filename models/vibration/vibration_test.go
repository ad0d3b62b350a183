package vibration_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"reflect"
	"testing"

	"rimledger/models/vibration"
)

// First orders printed in workshop manuals (2000, 2003): Hz at 5 mph and at 60
// mph, from the size's rolling circumference 3.05 times its nominal diameter
// (ETRTO). The manual prints two digits, hence 0.02 Hz at 5 mph.
func TestOrderHzAgainstManuals(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		size       string
		diameterMM float64
		at5mph     float64
	}{
		{"P225/50R16", 631.4, 1.17},
		{"P215/60R15", 639.0, 1.14},
		{"P235/60R16", 688.4, 1.065},
		{"P235/75R15", 733.5, 1.00},
	} {
		got, err := vibration.OrderHz(3.05*c.diameterMM, 5*1.609344, 1)
		if err != nil || math.Abs(got-c.at5mph) > 0.025 {
			t.Errorf("%s: %.4f Hz at 5 mph, %v; the manual prints %.2f", c.size, got, err, c.at5mph)
		}
	}

	// "60 mph = 12 increments": 12.84, 26, 39 Hz for P235/60R16.
	o, err := vibration.OrdersAt(3.05*688.4, 60*1.609344)
	if err != nil || math.Abs(o.FirstHz-12.84) > 0.1 || math.Abs(o.SecondHz-26) > 0.5 || math.Abs(o.ThirdHz-39) > 0.7 {
		t.Errorf("orders %+v, %v; the manual prints 12.84, 26, 39", o, err)
	}
}

// The worked sizes: nominal diameters and ETRTO factor published, frequency computed apart.
func TestOrderHzWorkedSizes(t *testing.T) {
	t.Parallel()
	raw, err := os.ReadFile("../../testdata/worked/rolling.json")
	if err != nil {
		t.Fatal(err)
	}

	var doc struct {
		Cases []struct {
			Size          string
			Circumference float64  `json:"rolling_circumference_3_05"`
			At5mph        *float64 `json:"rev_s_at_5mph"`
			At60mph       *float64 `json:"order1_Hz_at_60mph"`
		}
	}

	if err := json.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}

	for _, c := range doc.Cases {
		for mph, want := range map[float64]*float64{5: c.At5mph, 60: c.At60mph} {
			if want == nil {
				continue
			}
			got, err := vibration.OrderHz(c.Circumference, mph*1.609344, 1)
			if err != nil || math.Abs(got-*want) > 1e-9 {
				t.Errorf("%s at %g mph: %v, %v; want %v", c.Size, mph, got, err, *want)
			}
		}
	}
}

// Derived table of first orders, rounded to 0.1 Hz (f = v/C by hand).
func TestOrderTable(t *testing.T) {
	t.Parallel()

	speeds := []float64{40, 50, 65, 80, 90, 100, 110, 120}
	for circ, row := range map[float64][]float64{
		1950: {5.7, 7.1, 9.3, 11.4, 12.8, 14.2, 15.7, 17.1},
		2350: {4.7, 5.9, 7.7, 9.5, 10.6, 11.8, 13.0, 14.2},
		3200: {3.5, 4.3, 5.6, 6.9, 7.8, 8.7, 9.5, 10.4},
	} {
		for i, want := range row {
			got, err := vibration.OrderHz(circ, speeds[i], 1)
			if err != nil || math.Abs(got-want) > 0.0501 {
				t.Errorf("C %g at %g: %.3f, %v; want %.1f", circ, speeds[i], got, err, want)
			}
		}
	}
}

// Forces by hand from F = m r ω²: two with the effective rolling radius given, then a
// table in whole newtons (tolerance: half of one) with the radius of each row.
func TestForceN(t *testing.T) {
	t.Parallel()
	check := func(g, r, circ, kmh, want, tol float64) {
		t.Helper()
		got, err := vibration.ForceN(g*r, circ, kmh)
		if err != nil || math.Abs(got-want) > tol {
			t.Errorf("%g g at %g mm, %g km/h: %.3f N, %v; want %g", g, r, kmh, got, err, want)
		}
	}

	check(50, 200, 2*math.Pi*320, 100, 75.35, 0.01)
	check(100, 285.7, 2*math.Pi*500, 90, 71.43, 0.01)

	speeds := []float64{50, 80, 100, 120}
	for _, row := range []struct {
		name       string
		g, r, circ float64
		newtons    []float64
	}{
		{"car", 7, 203, 1950, []float64{3, 7, 11, 16}},
		{"car", 20, 203, 1950, []float64{8, 21, 33, 47}},
		{"car", 50, 203, 1950, []float64{20, 52, 81, 117}},
		{"car", 100, 203, 1950, []float64{41, 104, 163, 234}},
		{"truck", 100, 286, 3200, []float64{21, 54, 85}},
		{"truck, 16 oz", 454, 286, 3200, []float64{97, 247, 386}},
	} {
		for i, want := range row.newtons {
			check(row.g, row.r, row.circ, speeds[i], want, 0.5)
		}
	}

	// 10 g at the tread radius pull 24.8 N at 100 km/h: the radius is part of every force.
	check(10, 1950/(2*math.Pi), 1950, 100, 24.8, 0.15)
}

// Speeds of wheel hop by hand from v = f C / n: car 10-15 Hz (engineer's interview), heavy
// 8-10 Hz, so 92 to 115 km/h and at half of that for two pushes (common practice, no source).
func TestHopSpeeds(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		class        vibration.Class
		circ, n      float64
		lo, hi, toll float64
	}{
		{vibration.Car, 1950, 1, 70.2, 105.3, 1e-9}, {vibration.Car, 1950, 2, 35.1, 52.65, 1e-9},
		{vibration.Heavy, 3200, 1, 92.16, 115.2, 1e-9}, {vibration.Heavy, 3200, 2, 46.08, 57.6, 1e-9},
	} {
		b, err := vibration.HopSpeeds(c.class, c.circ, c.n)
		if err != nil || math.Abs(b.Lo-c.lo) > c.toll || math.Abs(b.Hi-c.hi) > c.toll {
			t.Errorf("%s order %g: %+v, %v; want %g-%g", c.class, c.n, b, err, c.lo, c.hi)
		}
	}
}

// Number of dips wheel hop would leave, N = f C / v, table rounded to 0.1.
func TestHops(t *testing.T) {
	t.Parallel()

	speeds := []float64{40, 50, 60, 80, 90, 100, 110}
	for _, c := range []struct {
		circ, hz float64
		want     []float64
	}{
		{1950, 10, []float64{1.8, 1.4, 1.2, 0.9, 0.8, 0.7, 0.6}},
		{1950, 15, []float64{2.6, 2.1, 1.8, 1.3, 1.2, 1.1, 1.0}},
		{3200, 8, []float64{2.3, 1.8, 1.5, 1.2, 1.0, 0.9, 0.8}},
		{3200, 12, []float64{3.5, 2.8, 2.3, 1.7, 1.5, 1.4, 1.3}},
	} {
		for i, want := range c.want {
			got, err := vibration.Hops(c.circ, speeds[i], c.hz)
			if err != nil || math.Abs(got-want) > 0.051 {
				t.Errorf("C %g f %g v %g: %.2f, %v; want %.1f", c.circ, c.hz, speeds[i], got, err, want)
			}
		}
	}
}

// The decision table for complaints. Sources in row names: manual = workshop
// manuals on vibration analysis; hop = engineer's interview, speeds derived;
// practice = common practice, no source.
func TestRead(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name   string
		report vibration.Report
		first  vibration.Cause
		end    string
		urgent bool
		inBand bool
	}{
		{"starts 64-80 and grows: imbalance first (web pages in agreement)",
			vibration.Report{StartsKMH: 70, WorstKMH: 100, Neutral: "same"}, vibration.OrderOne, "", false, true},
		{"peaks 80-110 then fades: order 1 (hop)", vibration.Report{StartsKMH: 75, WorstKMH: 95, FadesKMH: 115},
			vibration.OrderOne, "", false, true},
		{"worst near 95 and gone by 113 (an engineer's blog)", vibration.Report{WorstKMH: 95, FadesKMH: 113},
			vibration.OrderOne, "", false, true},
		{"fades and returns higher: order 2 beside order 1 (manual)",
			vibration.Report{StartsKMH: 40, WorstKMH: 45, FadesKMH: 60, ReturnsHigher: true}, vibration.OrderTwo, "",
			false, false},
		{"waddle at low speed: run-out or belt, inspect first (manual)", vibration.Report{StartsKMH: 15, WorstKMH: 40},
			vibration.RunOut, "", true, false},
		{"growl: irregular wear (manual)", vibration.Report{Audible: true}, vibration.RoughWear, "", false, false},
		{"steering wheel: front pair (manual)", vibration.Report{StartsKMH: 70, FeltAt: "steering_wheel"},
			vibration.OrderOne, vibration.Front, false, true},
		{"seat: rear pair (manual)", vibration.Report{StartsKMH: 70, FeltAt: "seat"}, vibration.OrderOne,
			vibration.Rear, false, true},
		{"floor: rear pair (manual)", vibration.Report{StartsKMH: 70, FeltAt: "floor"}, vibration.OrderOne,
			vibration.Rear, false, true},
		{"unchanged in neutral: not the engine (manual)", vibration.Report{Neutral: "same"}, vibration.OrderOne, "",
			false, false},
		{"better in neutral: engine (manual)", vibration.Report{Neutral: "better"}, vibration.Engine, "", false, false},
		{"only braking: rotor or drum (practice)", vibration.Report{StartsKMH: 70, WorstKMH: 90, Braking: "only"},
			vibration.Brake, "", false, false},
		{"only under throttle: driveline (practice)", vibration.Report{StartsKMH: 70, WorstKMH: 90, Throttle: "only"},
			vibration.Driveline, "", false, false},
		{"changes with throttle: driveline (practice)", vibration.Report{Throttle: "worse"}, vibration.Driveline, "",
			false, false},
		{"gone when warm: flat from standing (manual)", vibration.Report{StartsKMH: 50, WarmFixes: true},
			vibration.ParkedFlats, "", false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.report.Class = vibration.Car
			got, err := vibration.Read(c.report)
			if err != nil {
				t.Fatal(err)
			}

			if got.First() != c.first || got.End != c.end || got.Urgent != c.urgent || got.InBand != c.inBand {
				t.Errorf("first %q end %q urgent %v in band %v, want %q %q %v %v; %+v",
					got.First(), got.End, got.Urgent, got.InBand, c.first, c.end, c.urgent, c.inBand, got.Indications)
			}

			for _, i := range got.Indications {
				checkReasons(t, i)
			}
		})
	}
}

// An effect that was not answered is not known: only three answers of "same" make a shake
// one that nothing but speed changes.
func TestUnansweredIsUnknown(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name                       string
		braking, throttle, neutral string
		inBand, rising             bool
	}{
		{"nothing answered but the speed", "", "", "", true, false},
		{"neutral not answered", "same", "same", "", true, false},
		{"throttle not answered", "same", "", "same", true, false},
		{"brake not answered", "", "same", "same", true, false},
		{"all answered", "same", "same", "same", true, true},
		{"the brake changes it", "worse", "same", "same", false, false},
		{"throttle changes it, the rest not answered", "", "better", "", false, false},
		{"neutral changes it", "same", "same", "better", false, false},
	} {
		got, err := vibration.Read(vibration.Report{Class: vibration.Car, WorstKMH: 95, Braking: c.braking,
			Throttle: c.throttle, Neutral: c.neutral})
		if err != nil || got.InBand != c.inBand || got.Rising != c.rising {
			t.Errorf(
				"%s: in band %v, rising %v, %v; want %v, %v",
				c.name,
				got.InBand,
				got.Rising,
				err,
				c.inBand,
				c.rising,
			)
		}
	}
}

// The classic course: felt from 45 km/h, gone at 62, back and worse at 85 to 90. On a
// wheel of 1.75 m hop at 10 to 15 Hz is met by two pushes a turn at 31 to 47 km/h and by
// one at 63 to 94 (v = f C / n, by hand).
func TestSeveralBands(t *testing.T) {
	t.Parallel()

	course := vibration.Report{Class: vibration.Car, CircumferenceMM: 1750, Bands: []vibration.SpeedBand{
		{FromKMH: 85, ToKMH: 90, Strength: "strong"}, {FromKMH: 45, ToKMH: 62, Strength: "light"}}}
	got, err := vibration.Read(course)
	if err != nil {
		t.Fatal(err)
	}

	if h := got.HopOrder2; math.Abs(h.Lo-31.5) > 0.01 || math.Abs(h.Hi-47.25) > 0.01 {
		t.Errorf("order 2 meets hop at %+v, want 31.5 to 47.25", h)
	}

	if len(got.Bands) != 2 || !got.Bands[0].HopByTwo || got.Bands[0].HopByOne || !got.Bands[1].HopByOne ||
		got.Bands[1].HopByTwo {
		t.Fatalf("bands %+v: want two pushes in the lower band, one in the upper", got.Bands)
	}

	// 87.5 km/h is 24.306 m/s: 13.889 turns a second.
	if f := got.Bands[1].FirstHz; math.Abs(f-13.889) > 0.001 {
		t.Errorf("%.3f turns a second in the upper band, want 13.889", f)
	}

	if got.Points(vibration.OrderTwo) <= 0 || got.Points(vibration.OrderOne) <= 0 || got.Urgent || !got.InBand {
		t.Errorf("%+v", got)
	}

	// The same answers in the form of one band read as that band does.
	one, err := vibration.Read(vibration.Report{Class: vibration.Car, StartsKMH: 70, WorstKMH: 95, FadesKMH: 115})
	if err != nil {
		t.Fatal(err)
	}

	bands, err := vibration.Read(vibration.Report{Class: vibration.Car,
		Bands: []vibration.SpeedBand{{FromKMH: 70, WorstKMH: 95, ToKMH: 115}}})
	if err != nil || !reflect.DeepEqual(one, bands) {
		t.Errorf("one band: %+v, %v; want %+v", bands, err, one)
	}
}

// A shake can be felt at several places; those of both ends point to neither.
func TestPlaces(t *testing.T) {
	t.Parallel()

	for want, places := range map[string][][]string{
		vibration.Front: {{"steering_wheel"}, {"steering_wheel", "dash", "pedal"}},
		vibration.Rear:  {{"seat"}, {"floor", "seat"}, {"body", "floor"}},
		"":              {{"steering_wheel", "seat"}, {"dash"}, {"pedal"}, {"body"}},
	} {
		for _, at := range places {
			got, err := vibration.Read(vibration.Report{Class: vibration.Car, Places: at})
			if err != nil || got.End != want {
				t.Errorf("%v: %q, %v; want %q", at, got.End, err, want)
			}
		}
	}
}

func checkReasons(t *testing.T, i vibration.Indication) {
	t.Helper()
	for _, r := range i.Reasons {
		if r.Basis == "" || r.Text == "" {
			t.Errorf("reason without text or basis: %+v", r)
		}
	}
}

func TestBadInput(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	order := func(c, v, n float64) error { _, err := vibration.OrderHz(c, v, n); return err }
	read := func(r vibration.Report) error { _, err := vibration.Read(r); return err }
	bands := func(b ...vibration.SpeedBand) error { return read(vibration.Report{Class: vibration.Car, Bands: b}) }

	force := func(u float64) error { _, err := vibration.ForceN(u, 1950, 100); return err }

	for _, c := range []struct {
		name string
		err  error
		want error
	}{
		{"zero speed", order(1950, 0, 1), vibration.ErrSpeed},
		{"negative speed", order(1950, -5, 1), vibration.ErrSpeed},
		{"speed not a number", order(1950, nan, 1), vibration.ErrSpeed},
		{"zero circumference", order(0, 80, 1), vibration.ErrCircumference},
		{"circumference in meters", order(1.95, 80, 1), vibration.ErrCircumference},
		{"infinite circumference", order(math.Inf(1), 80, 1), vibration.ErrCircumference},
		{"order zero", order(1950, 80, 0), vibration.ErrOrder},
		{"negative unbalance", force(-1), vibration.ErrUnbalance},
		{"unbalance not a number", force(nan), vibration.ErrUnbalance},
		{"unknown class", read(vibration.Report{Class: "boat", WorstKMH: 80}), vibration.ErrWord},
		{"unknown place", read(vibration.Report{Class: vibration.Car, FeltAt: "roof"}), vibration.ErrWord},
		{"worst below start", read(vibration.Report{Class: vibration.Car, StartsKMH: 90, WorstKMH: 60}),
			vibration.ErrSpeedOrder},
		{"fades below worst", read(vibration.Report{Class: vibration.Car, WorstKMH: 90, FadesKMH: 60}),
			vibration.ErrSpeedOrder},
		{"nothing answered", read(vibration.Report{Class: vibration.Car}), vibration.ErrEmptyReport},
		{"unknown one of several places", read(vibration.Report{Class: vibration.Car, Places: []string{"seat", "roof"}}),
			vibration.ErrWord},
		{"a band without a speed", bands(vibration.SpeedBand{Strength: "light"}), vibration.ErrSpeed},
		{"a band above 300", bands(vibration.SpeedBand{ToKMH: 301}), vibration.ErrSpeed},
		{"a band of unknown strength", bands(vibration.SpeedBand{FromKMH: 60, Strength: "huge"}), vibration.ErrWord},
		{"a band that ends below its start", bands(vibration.SpeedBand{FromKMH: 60, ToKMH: 50}),
			vibration.ErrSpeedOrder},
		{"bands that overlap", bands(vibration.SpeedBand{FromKMH: 45, ToKMH: 62}, vibration.SpeedBand{FromKMH: 61}),
			vibration.ErrSpeedOrder},
		{"bands that touch", bands(vibration.SpeedBand{FromKMH: 45, ToKMH: 62}, vibration.SpeedBand{FromKMH: 62}), nil},
		{"nine bands", bands(make([]vibration.SpeedBand, 9)...), vibration.ErrBands},
		{"both forms of speeds", read(vibration.Report{Class: vibration.Car, WorstKMH: 90,
			Bands: []vibration.SpeedBand{{FromKMH: 45}}}), vibration.ErrBands},
		{"report speed not a number", read(vibration.Report{Class: vibration.Car, WorstKMH: nan}), vibration.ErrSpeed},
	} {
		if !errors.Is(c.err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, c.err, c.want)
		}
	}
}

// A 40 g unbalance at the rim of a car wheel, and a report about it.
func Example() {
	f, _ := vibration.OrderHz(1950, 100, 1)
	n, _ := vibration.ForceN(40*203, 1950, 100)
	fmt.Printf("%.1f Hz, %.0f N\n", f, n)
	r, _ := vibration.Read(vibration.Report{Class: vibration.Car, StartsKMH: 70, WorstKMH: 95, FeltAt: "steering_wheel",
		Neutral: "same"})
	fmt.Println(r.First(), r.End)
	// Output:
	// 14.2 Hz, 65 N
	// order_1 front
}
