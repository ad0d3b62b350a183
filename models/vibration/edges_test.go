package vibration_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"rimledger/models/units"
	"rimledger/models/vibration"
)

var metric = units.Style{Set: units.Metric}

// Every limit of an input is taken itself and refused one step beyond: the widest road
// wheels, speeds and unbalances, chosen by us.
func TestLimits(t *testing.T) {
	t.Parallel()
	order := func(c, v, n float64) error { _, err := vibration.OrderHz(c, v, n); return err }
	speed := func(hz, n float64) error { _, err := vibration.SpeedKMH(1000, hz, n); return err }
	force := func(u float64) error { _, err := vibration.ForceN(u, 1950, 100); return err }
	hops := func(hz float64) error { _, err := vibration.Hops(1950, 100, hz); return err }
	read := func(v float64) error {
		_, err := vibration.Read(vibration.Report{Class: vibration.Car, WorstKMH: v})
		return err
	}

	for _, c := range []struct {
		name         string
		takes, never error
		want         error
	}{
		{"the smallest wheel", order(500, 80, 1), order(499.9, 80, 1), vibration.ErrCircumference},
		{"the largest wheel", order(10_000, 80, 1), order(10_000.1, 80, 1), vibration.ErrCircumference},
		{"the least speed", order(1950, 1e-9, 1), order(1950, 0, 1), vibration.ErrSpeed},
		{"the greatest speed", order(1950, 300, 1), order(1950, 300.1, 1), vibration.ErrSpeed},
		{"the least order", order(1950, 80, 1e-9), order(1950, 80, 0), vibration.ErrOrder},
		{"the greatest order", order(1950, 80, 100), order(1950, 80, 100.1), vibration.ErrOrder},
		{"the least order of a speed", speed(1e-6, 0.01), speed(1e-6, 0), vibration.ErrOrder},
		{"the greatest order of a speed", speed(100, 100), speed(100, 100.1), vibration.ErrOrder},
		{"the greatest frequency of a road wheel", speed(83.333, 1), speed(83.334, 1), vibration.ErrSpeed},
		{"no unbalance", force(0), force(-1e-9), vibration.ErrUnbalance},
		{"the greatest unbalance", force(2.5e6), force(2.5e6 + 1), vibration.ErrUnbalance},
		{"the least frequency of hop", hops(1e-9), hops(0), vibration.ErrOrder},
		{"the greatest frequency of hop", hops(1000), hops(1000.1), vibration.ErrOrder},
		{"the greatest speed of a report", read(300), read(300.1), vibration.ErrSpeed},
	} {
		if c.takes != nil || !errors.Is(c.never, c.want) {
			t.Errorf("%s: %v; beyond it %v, want %v", c.name, c.takes, c.never, c.want)
		}
	}
}

// Wheel hop of each class. Car: 10 to 15 Hz, engineer's interview. Heavy: 8 to 10 Hz, and
// light trucks between the two: common practice, no source. Speeds by v = f C / n by hand.
func TestHopOfEachClass(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		class       vibration.Class
		lo, hi      float64 // Hz
		usual       float64 // mm
		from, to    float64 // km/h, one push a turn
		half, other float64 // km/h, two pushes
	}{
		{vibration.Car, 10, 15, 1950, 70.2, 105.3, 35.1, 52.65},
		{vibration.LightTruck, 9, 14, 2350, 76.14, 118.44, 38.07, 59.22},
		{vibration.Heavy, 8, 10, 3200, 92.16, 115.2, 46.08, 57.6},
	} {
		hz, err := vibration.HopBandHz(c.class)
		usual, _ := vibration.UsualCircumferenceMM(c.class)
		if err != nil || hz != (vibration.Band{Lo: c.lo, Hi: c.hi}) || usual != c.usual {
			t.Errorf("%s: %+v Hz, %g mm, %v", c.class, hz, usual, err)
		}

		// A report without a circumference is read on the usual wheel.
		r, err := vibration.Read(vibration.Report{Class: c.class, WorstKMH: 90})
		for want, got := range map[float64]float64{c.from: r.HopOrder1.Lo, c.to: r.HopOrder1.Hi,
			c.half: r.HopOrder2.Lo, c.other: r.HopOrder2.Hi, 90 / 3.6 / (c.usual / 1000): r.OrdersWorst.FirstHz} {
			if err != nil || math.Abs(got-want) > 1e-9 {
				t.Errorf("%s: %g, want %g; %v", c.class, got, want, err)
			}
		}
	}

	if _, err := vibration.UsualCircumferenceMM("boat"); !errors.Is(err, vibration.ErrWord) {
		t.Errorf("a boat has a usual wheel: %v", err)
	}
}

// The speeds at which imbalance is felt, both sides of each end: 65 to 110 km/h, heavy 80
// to 115 (common practice, no source).
func TestWhereImbalanceIsFelt(t *testing.T) {
	t.Parallel()

	for class, band := range map[vibration.Class][2]float64{vibration.Car: {65, 110}, vibration.LightTruck: {65, 110},
		vibration.Heavy: {80, 115}} {
		for kmh, want := range map[float64]bool{band[0] - 0.1: false, band[0]: true, band[1]: true, band[1] + 0.1: false} {
			got, err := vibration.Read(vibration.Report{Class: class, WorstKMH: kmh})
			if err != nil || got.InBand != want || got.Bands[0].WhereFelt != want {
				t.Errorf("%s at %g: %v, %v; want %v", class, kmh, got.InBand, err, want)
			}
		}

		// A band whose worst speed is not known is felt there if it reaches into it.
		for _, c := range []struct {
			from, to float64
			want     bool
		}{{20, band[0], true}, {20, band[0] - 0.1, false}, {band[1], 200, true}, {band[1] + 0.1, 200, false}} {
			reaches := []vibration.SpeedBand{{FromKMH: c.from, ToKMH: c.to}}
			got, err := vibration.Read(vibration.Report{Class: class, Bands: reaches})
			if err != nil || got.InBand != c.want {
				t.Errorf("%s from %g to %g: %v, %v; want %v", class, c.from, c.to, got.InBand, err, c.want)
			}
		}
	}
}

// The points of every line, on both sides of the answers that give them. Points are chosen
// by us; the sources of the rules are those of TestRead.
func TestPointsOfEachLine(t *testing.T) {
	t.Parallel()
	type report = vibration.Report

	band := func(from, worst, to float64) vibration.SpeedBand {
		return vibration.SpeedBand{FromKMH: from, WorstKMH: worst, ToKMH: to}
	}
	twice := func(low, high vibration.SpeedBand) report { return report{Bands: []vibration.SpeedBand{low, high}} }

	for _, c := range []struct {
		name   string
		report report
		cause  vibration.Cause
		points float64
	}{
		{"starts at 64 km/h (onset 40 mph)", report{StartsKMH: 64}, vibration.OrderOne, 2},
		{"starts at 63.9", report{StartsKMH: 63.9}, vibration.OrderOne, 0},
		{"starts at 80 (onset 50 mph)", report{StartsKMH: 80}, vibration.OrderOne, 2},
		{"starts at 80.1", report{StartsKMH: 80.1}, vibration.OrderOne, 0},
		{"worst at 70.2, where hop begins", report{WorstKMH: 70.3}, vibration.OrderOne, 2},
		{"worst below it", report{WorstKMH: 70.1}, vibration.OrderOne, 0},
		{"worst at 105.3, where hop ends", report{WorstKMH: 105.2}, vibration.OrderOne, 2},
		{"worst above it", report{WorstKMH: 105.4}, vibration.OrderOne, 0},
		{"one band in hop, worst not known", report{FadesKMH: 95}, vibration.OrderOne, 0},
		{"fades above a worst of 56.1", report{WorstKMH: 56.1, FadesKMH: 60}, vibration.OrderOne, 1},
		{"fades, worst at 56", report{WorstKMH: 56, FadesKMH: 60}, vibration.OrderOne, 0},
		{"does not fade", report{WorstKMH: 60}, vibration.OrderOne, 0},
		{"fades and returns", report{WorstKMH: 60, FadesKMH: 65, ReturnsHigher: true}, vibration.OrderOne, 1},
		{"returns, first in the hop of two pushes", report{WorstKMH: 52, ReturnsHigher: true}, vibration.OrderTwo, 3},
		{"returns, first above it", report{WorstKMH: 53, ReturnsHigher: true}, vibration.OrderTwo, 2},
		{"returns, no speed", report{ReturnsHigher: true}, vibration.OrderTwo, 2},
		{"two bands", twice(band(40, 0, 50), band(75, 0, 80)), vibration.OrderTwo, 3},
		{"two bands, the upper in hop", twice(band(20, 0, 30), band(75, 0, 80)), vibration.OrderOne, 3},
		{"two bands, none in hop", twice(band(20, 0, 30), band(120, 0, 130)), vibration.OrderOne, 1},
		{"waddle up to 56 (35 mph)", report{WorstKMH: 56}, vibration.RunOut, 4},
		{"worst at 56.1", report{WorstKMH: 56.1}, vibration.RunOut, 0},
		{"gone at 56", report{WorstKMH: 30, FadesKMH: 56}, vibration.RunOut, 4},
		{"gone at 56.1", report{WorstKMH: 30, FadesKMH: 56.1}, vibration.RunOut, 0},
		{"low speed, but it returns", report{WorstKMH: 40, ReturnsHigher: true}, vibration.RunOut, 0},
		{"low speed, only braking", report{WorstKMH: 40, Braking: "only"}, vibration.RunOut, 0},
		{"low speed, only under throttle", report{WorstKMH: 40, Throttle: "only"}, vibration.RunOut, 0},
		{"starts low, worst not known", report{StartsKMH: 20}, vibration.RunOut, 0},
		{"heard", report{Audible: true}, vibration.RoughWear, 3},
		{"only braking", report{Braking: "only"}, vibration.Brake, 6},
		{"worse braking", report{Braking: "worse"}, vibration.Brake, 3},
		{"better braking", report{Braking: "better"}, vibration.Brake, 0},
		{"only under throttle", report{Throttle: "only"}, vibration.Driveline, 6},
		{"worse under throttle", report{Throttle: "worse"}, vibration.Driveline, 3},
		{"better under throttle", report{Throttle: "better"}, vibration.Driveline, 3},
		{"the same under throttle", report{Throttle: "same"}, vibration.Driveline, 0},
		{"the same in neutral", report{Neutral: "same"}, vibration.OrderOne, 1},
		{"better in neutral", report{Neutral: "better"}, vibration.Engine, 3},
		{"worse in neutral", report{Neutral: "worse"}, vibration.Engine, 3},
		{"gone when warm", report{WarmFixes: true}, vibration.ParkedFlats, 5},
		{"since parked", report{Since: "parked"}, vibration.ParkedFlats, 2},
		{"since parked, gone when warm", report{Since: "parked", WarmFixes: true}, vibration.ParkedFlats, 7},
		{"since a fitting, balance", report{Since: "fit"}, vibration.OrderOne, 1},
		{"since a fitting, seat", report{Since: "fit"}, vibration.RunOut, 2},
		{"since a repair, seat", report{Since: "repair"}, vibration.RunOut, 2},
		{"since a pothole, bent", report{Since: "pothole"}, vibration.RunOut, 2},
		{"since a pothole, weight", report{Since: "pothole"}, vibration.OrderOne, 1},
		{"since a rotation", report{Since: "rotation"}, vibration.OrderOne, 1},
		{"came gradually", report{Since: "gradual"}, vibration.OrderOne, 0},
	} {
		c.report.Class = vibration.Car
		got, err := vibration.Read(c.report)
		if err != nil || got.Points(c.cause) != c.points {
			t.Errorf("%s: %g points on %s, %v; want %g", c.name, got.Points(c.cause), c.cause, err, c.points)
		}
		if urgent := c.cause == vibration.RunOut && c.points == 4; urgent && !got.Urgent {
			t.Errorf("%s: may be driven on", c.name)
		}
	}
}

// Of several bands the strongest says where it is worst; of equally strong ones the higher.
func TestStrongestBand(t *testing.T) {
	t.Parallel()
	band := func(from, worst, to float64, strength string) vibration.SpeedBand {
		return vibration.SpeedBand{FromKMH: from, WorstKMH: worst, ToKMH: to, Strength: strength}
	}

	for _, c := range []struct {
		name  string
		bands []vibration.SpeedBand
		worst float64
	}{
		{"the lower is stronger", []vibration.SpeedBand{band(40, 45, 50, "strong"), band(80, 85, 90, "clear")}, 45},
		{"both as strong", []vibration.SpeedBand{band(40, 45, 50, "clear"), band(80, 85, 90, "clear")}, 85},
		{"not known is weaker than light", []vibration.SpeedBand{band(40, 45, 50, "light"), band(80, 85, 90, "")}, 45},
		{"worst not known: the middle", []vibration.SpeedBand{band(80, 0, 90, "strong"), band(40, 45, 50, "")}, 85},
		{"only an end is known", []vibration.SpeedBand{band(0, 0, 90, "strong"), band(40, 45, 50, "")}, 90},
		{"one band, worst not known", []vibration.SpeedBand{band(80, 0, 90, "strong")}, 0},
	} {
		got, err := vibration.Read(vibration.Report{Class: vibration.Car, Bands: c.bands})
		if err != nil || got.OrdersWorst.SpeedKMH != c.worst {
			t.Errorf("%s: worst at %g, %v; want %g", c.name, got.OrdersWorst.SpeedKMH, err, c.worst)
		}
	}
}

// A line says what was answered: a worst speed only if there is one.
func TestWordsOfABand(t *testing.T) {
	t.Parallel()

	for want, b := range map[string]vibration.SpeedBand{
		"worst at 88 km/h":             {FromKMH: 85, WorstKMH: 88, ToKMH: 90},
		"felt from 85 km/h to 90 km/h": {FromKMH: 85, ToKMH: 90},
		"felt at 85 km/h":              {FromKMH: 85},
	} {
		got, err := vibration.Read(vibration.Report{Class: vibration.Car,
			Bands: []vibration.SpeedBand{{FromKMH: 20, ToKMH: 30}, b}})
		if err != nil {
			t.Fatal(err)
		}

		said := false
		for _, i := range got.Indications {
			for _, r := range i.Reasons {
				said = said || strings.HasPrefix(metric.Render(r.Text), want)
			}
		}
		if !said {
			t.Errorf("no line begins with %q: %+v", want, got.Indications)
		}
	}
}

// Eight bands are taken, nine are not; speeds may be equal, never fall; a report of nothing
// is refused, of any one thing taken.
func TestReportsTaken(t *testing.T) {
	t.Parallel()
	car := func(r vibration.Report) error { r.Class = vibration.Car; _, err := vibration.Read(r); return err }

	var eight []vibration.SpeedBand
	for i := range 8 {
		eight = append(eight, vibration.SpeedBand{WorstKMH: float64(20 + 10*i)})
	}

	for name, r := range map[string]vibration.Report{
		"eight bands": {Bands: eight}, "all speeds equal": {StartsKMH: 80, WorstKMH: 80, FadesKMH: 80},
		"only a place": {Places: []string{"dash"}}, "only an old place": {FeltAt: "pedal"},
		"only a return": {ReturnsHigher: true}, "only a sound": {Audible: true}, "only warmth": {WarmFixes: true},
		"only the brake": {Braking: "same"}, "only the throttle": {Throttle: "same"}, "only neutral": {Neutral: "same"},
		"only a beginning": {Since: "gradual"}, "all strengths": {Bands: []vibration.SpeedBand{
			{ToKMH: 30, Strength: "light"}, {ToKMH: 60, Strength: "clear"}, {ToKMH: 90, Strength: "strong"}}},
	} {
		if err := car(r); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}

	type report = vibration.Report
	for name, c := range map[string]struct {
		report report
		want   error
	}{
		"nine bands with speeds": {report{Bands: append(eight, vibration.SpeedBand{ToKMH: 200})},
			vibration.ErrBands},
		"fades below where it starts": {report{StartsKMH: 80, FadesKMH: 79}, vibration.ErrSpeedOrder},
		"a speed below zero":          {report{StartsKMH: -1}, vibration.ErrSpeed},
		"a place twice":               {report{Places: []string{"dash", "dash"}}, vibration.ErrPlaces},
		"both forms of places":        {report{FeltAt: "dash", Places: []string{"seat"}}, vibration.ErrPlaces},
		"an empty place":              {report{Places: []string{""}}, vibration.ErrWord},
		"an unknown effect":           {report{Braking: "odd"}, vibration.ErrWord},
		"an unknown beginning":        {report{Since: "monday"}, vibration.ErrWord},
		"a wheel that is too small":   {report{CircumferenceMM: 100, Audible: true}, vibration.ErrCircumference},
		"a wheel that is too large":   {report{CircumferenceMM: 10_001, Audible: true}, vibration.ErrCircumference},
	} {
		if err := car(c.report); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}

// A refusal names the field, its value and what would be right.
func TestRefusalsNameTheField(t *testing.T) {
	t.Parallel()
	type report = vibration.Report
	band := func(from, worst, to float64, strength string) vibration.SpeedBand {
		return vibration.SpeedBand{FromKMH: from, WorstKMH: worst, ToKMH: to, Strength: strength}
	}
	bands := func(b ...vibration.SpeedBand) report { return report{Bands: b} }

	for _, c := range []struct {
		report report
		want   string
	}{
		{
			report{StartsKMH: 301},
			"starts km/h 301: speed out of range; 0 for not known, at most 300",
		},
		{
			report{WorstKMH: 301},
			"worst km/h 301: speed out of range; 0 for not known, at most 300",
		},
		{
			report{FadesKMH: 301},
			"fades km/h 301: speed out of range; 0 for not known, at most 300",
		},
		{
			bands(band(9, 0, 0, ""), band(-1, 0, 0, "")),
			"band 2 from km/h -1: speed out of range; 0 for not known, at most 300",
		},
		{
			bands(band(9, 0, 0, ""), band(99, 0, 310, "")),
			"band 2 to km/h 310: speed out of range; 0 for not known, at most 300",
		},
		{
			report{StartsKMH: 2, WorstKMH: 1},
			"worst km/h 1: speeds in the wrong order; at least where it starts, 2",
		},
		{
			report{WorstKMH: 2, FadesKMH: 1},
			"fades km/h 1: speeds in the wrong order; at least where it starts and is worst",
		},
		{
			bands(band(9, 0, 0, ""), band(0, 0, 0, "")),
			"band 2 speeds: speed out of range; from, worst or to, above 0",
		},
		{
			bands(band(9, 0, 0, "huge")),
			"band 1 strength huge: word not known; empty or one of light, clear, strong",
		},
		{
			bands(band(60, 0, 0, ""), band(9, 0, 61, "")),
			"bands from km/h 60: speeds in the wrong order; at least 61, where the band below ends",
		},
		{
			bands(make([]vibration.SpeedBand, 9)...),
			"bands 9: bands of speeds not usable; at most 8",
		},
		{
			report{WorstKMH: 80, Bands: []vibration.SpeedBand{band(60, 0, 0, "")}},
			"bands 1: bands of speeds not usable; bands, or starts, worst and fades, not both",
		},
		{
			report{FeltAt: "roof"},
			"felt at roof: word not known; empty or one of steering_wheel, dash, pedal, seat, floor, body",
		},
		{
			report{Places: []string{"roof"}},
			"places roof: word not known; each one of steering_wheel, dash, pedal, seat, floor, body",
		},
		{
			report{FeltAt: "dash", Places: []string{"seat", "body"}},
			"places 2: places not usable; places, or felt at, not both",
		},
		{
			report{},
			"report: empty report; at least one answer: a speed, where it is felt, or what changes it",
		},
	} {
		c.report.Class = vibration.Car
		if _, err := vibration.Read(c.report); err == nil || err.Error() != c.want {
			t.Errorf("%v, want %s", err, c.want)
		}
	}
}

// Answers that nothing follows from lead to no cause; the slowest walk is a speed as well.
func TestSmallestAnswers(t *testing.T) {
	t.Parallel()

	got, err := vibration.Read(vibration.Report{Class: vibration.Car, Braking: "same"})
	if err != nil || got.First() != "" || len(got.Indications) != 0 {
		t.Errorf("nothing changes under the brake: %+v, %v", got, err)
	}

	// 1 km/h is 0.2778 m/s: 0.14245 turns of 1.95 m in a second.
	got, err = vibration.Read(vibration.Report{Class: vibration.Car,
		Bands: []vibration.SpeedBand{{WorstKMH: 1, ToKMH: 80}, {WorstKMH: 90}}})
	if err != nil || got.Bands[0].WhereFelt || !got.Bands[1].WhereFelt ||
		math.Abs(got.Bands[0].FirstHz-0.14245) > 1e-5 {
		t.Errorf("worst at walking pace: %+v, %v", got.Bands, err)
	}

	got, err = vibration.Read(vibration.Report{Class: vibration.Car, WorstKMH: 1, ReturnsHigher: true})
	if err != nil || math.Abs(got.OrdersWorst.FirstHz-0.14245) > 1e-5 {
		t.Errorf("worst at walking pace: %+v, %v", got.OrdersWorst, err)
	}

	// The line of a waddle gives its speeds: 5 to 35 mph are 8 to 56 km/h (manual).
	got, err = vibration.Read(vibration.Report{Class: vibration.Car, WorstKMH: 40})
	if err != nil || got.First() != vibration.RunOut ||
		!strings.Contains(metric.Render(got.Indications[0].Reasons[0].Text), "(8 km/h to 56 km/h)") {
		t.Errorf("waddle: %+v, %v", got.Indications, err)
	}
}
