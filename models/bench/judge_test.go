package bench_test

import (
	"math"
	"strings"
	"testing"

	"rimledger/models/balance"
	"rimledger/models/bench"
	"rimledger/models/units"
)

// at is what a machine asks for in one plane.
func at(g, deg float64) *balance.Shown { return &balance.Shown{MassG: g, Deg: deg} }

// both is what a machine asks for in two planes.
func both(outer, inner *balance.Shown) bench.Asked { return bench.Asked{Outer: outer, Inner: inner} }

// quarter and ounce are in grams, exact by definition.
const (
	ounce   = 28.349523125
	quarter = ounce / 4
)

// TestJudgeEdges: both sides of each limit. A workshop manual leaves 0.25 oz in a plane of a
// car; a textbook 150 g on a tractor and 60 g on a bus; after a complaint 0.25 oz and 1 oz
// are left in each plane and in the sum (chosen by us); a bare assembly asks for 16 oz at
// most on a steer axle, 20 oz elsewhere, and for less on rims of 19.5 in and more on wide
// base tires (TMC RP 214C table B, second-hand).
func TestJudgeEdges(t *testing.T) {
	t.Parallel()
	complaint := func(a bench.Assembly) bench.Assembly { a.Complaint = true; return a }
	bus := bench.Assembly{Class: "bus", Size: "11R22.5 146/143L"}
	bare := func(a bench.Assembly, oz float64) bench.Done {
		return bench.Done{Assembly: a, WeightsOff: true, Before: both(at(oz*ounce/2, 0), at(oz*ounce/2, 90)),
			Fitted: []bench.Fit{{Plane: "outer", MassG: oz * ounce / 2},
				{Plane: "inner", MassG: oz * ounce / 2, Deg: 90}},
			After: both(at(0, 0), at(0, 0))}
	}
	rear := func(size string) bench.Assembly {
		return bench.Assembly{Class: "tractor", AxleRole: "drive", Size: size}
	}
	front := func(size string) bench.Assembly {
		return bench.Assembly{Class: "tractor", AxleRole: "steer", Size: size}
	}
	after := func(a bench.Assembly, shown bench.Asked) bench.Done { return bench.Done{Assembly: a, After: shown} }

	for _, c := range []struct {
		name   string
		done   bench.Done
		proven bool
		within bool
	}{
		{"a car, 0.25 oz in each plane", after(car, both(at(quarter, 0), at(quarter, 180))), true, true},
		{"a car, more outside", after(car, both(at(quarter+0.01, 0), at(0, 0))), true, false},
		{"a car, more inside", after(car, both(at(0, 0), at(quarter+0.01, 0))), true, false},
		{"a tractor, 150 g", after(tractor, both(at(150, 0), at(150, 0))), true, true},
		{"a tractor, more", after(tractor, both(at(150.1, 0), at(0, 0))), true, false},
		{"a bus, 60 g", after(bus, both(at(60, 0), at(60, 0))), true, true},
		{"a bus, more", after(bus, both(at(60.1, 0), at(0, 0))), true, false},
		{"a car that shakes, in phase", after(complaint(car), both(at(quarter/2, 0), at(quarter/2, 0))), true, true},
		{"a car that shakes, more in phase",
			after(complaint(car), both(at(quarter/2+0.01, 0), at(quarter/2, 0))), true, false},
		{"a car that shakes, in opposite phase",
			after(complaint(car), both(at(quarter, 0), at(quarter, 180))), true, true},
		{"a tractor that shakes, 1 oz", after(complaint(tractor), both(at(ounce, 0), at(0, 0))), true, true},
		{"a tractor that shakes, more", after(complaint(tractor), both(at(ounce+0.01, 0), at(0, 0))), true, false},

		{"nothing shown after", after(car, bench.Asked{}), false, false},
		{"no inner plane", after(car, both(at(0, 0), nil)), false, false},
		{"no outer plane", after(car, both(nil, at(0, 0))), false, false},
		{"one plane alone", after(car, bench.Asked{Single: at(0, 0)}), false, false},
		{"one plane's balance, one plane", bench.Done{Assembly: car, OnePlane: true,
			After: bench.Asked{Single: at(quarter, 0)}}, true, true},
		{"one plane's balance, more", bench.Done{Assembly: car, OnePlane: true,
			After: bench.Asked{Single: at(quarter+0.01, 0)}}, true, false},
		{"one plane's balance, the sum of two", bench.Done{Assembly: car, OnePlane: true,
			After: both(at(40, 0), at(40, 180))}, true, true},
		{"a check spin with nothing more", bench.Done{Assembly: car, CheckSpin: true,
			Before: both(at(5, 0), at(5, 0))}, true, true},

		{"16 oz on a bare steer wheel", bare(front("295/75R22.5 144/141L"), 15.999), true, true},
		{"more", bare(front("295/75R22.5 144/141L"), 16.001), true, false},
		{"20 oz on another", bare(rear("295/75R22.5 144/141L"), 19.999), true, true},
		{"more there", bare(rear("295/75R22.5 144/141L"), 20.001), true, false},
		{"14 oz of 19.5 in", bare(front("265/70R19.5 140/138M"), 13.999), true, true},
		{"more of 19.5 in", bare(front("265/70R19.5 140/138M"), 14.001), true, false},
		{"18 oz of 19.5 in elsewhere", bare(rear("265/70R19.5 140/138M"), 17.999), true, true},
		{"more of 19.5 in elsewhere", bare(rear("265/70R19.5 140/138M"), 18.001), true, false},
		{"24 oz of a wide base tire", bare(front("385/65R22.5 160K"), 23.999), true, true},
		{"more of a wide base tire", bare(front("385/65R22.5 160K"), 24.001), true, false},
		{"16 oz just below wide base", bare(front("375/65R22.5 158K"), 16.001), true, false},
		{"28 oz of a wide base tire elsewhere", bare(rear("385/65R22.5 160K"), 27.999), true, true},
		{"loose: the stricter limit", bare(bench.Assembly{Size: "295/75R22.5 144/141L"}, 16.001), true, false},
	} {
		v := bench.Judge(c.done)
		if v.Proven != c.proven || v.Within != c.within || (v.Reason == "") != c.within {
			t.Errorf("%s: proven %v, within %v: %q; want %v, %v", c.name, v.Proven, v.Within, v.Reason, c.proven,
				c.within)
		}
	}
}

// TestJudgeNumbers: what is told of a job, by hand: 30 g at 0° and 40 g at 90° are 50 g
// together, and the larger is 40 g.
func TestJudgeNumbers(t *testing.T) {
	t.Parallel()
	v := bench.Judge(bench.Done{Assembly: tractor, WeightsOff: true, Before: both(at(30, 0), at(40, 90)),
		After: both(at(30, 0), at(40, 90))})
	for name, c := range map[string][2]float64{"left": {v.LeftG, 40}, "sum": {v.SumG, 50}, "needed": {v.NeededG, 70}} {
		if math.Abs(c[0]-c[1]) > 1e-9 {
			t.Errorf("%s: %g g, want %g", name, c[0], c[1])
		}
	}

	one := bench.Judge(bench.Done{Assembly: tractor, OnePlane: true, WeightsOff: true,
		Before: bench.Asked{Single: at(70, 10)}, After: bench.Asked{Single: at(70, 10)}})
	if math.Abs(one.LeftG-70) > 1e-9 || math.Abs(one.NeededG-70) > 1e-9 {
		t.Errorf("one plane: %+v, want 70 g left of 70", one)
	}
	on := bench.Judge(bench.Done{Assembly: tractor, Before: both(at(30, 0), at(40, 90)),
		After: both(at(0, 0), at(0, 0))})
	if on.NeededG != 0 {
		t.Errorf("with weights on, %g g are needed by the bare assembly", on.NeededG)
	}
	shaking := tractor
	shaking.Complaint = true
	if v := bench.Judge(bench.Done{Assembly: shaking}); !strings.Contains(v.Limit, "for information") {
		t.Errorf("the limit of a shaking tractor: %s", v.Limit)
	}
	if v := bench.Judge(bench.Done{Assembly: car}); strings.Contains(v.Limit, "for information") {
		t.Errorf("the limit of a car: %s", v.Limit)
	}
}

// TestDoubtEdges: a balancer is checked every two weeks (a light truck maker's manual, 2000).
func TestDoubtEdges(t *testing.T) {
	t.Parallel()
	for days, want := range map[float64]int{0: 0, 14: 0, 14.01: 1, 15: 1} {
		v := bench.Judge(bench.Done{Assembly: car, SelfCheckDays: &days, After: both(at(0, 0), at(0, 0))})
		if len(v.Doubts) != want {
			t.Errorf("checked %g days ago: %v, want %d doubts", days, v.Doubts, want)
		}
	}
	if v := bench.Judge(bench.Done{Assembly: car, LooseMedia: true}); len(v.Doubts) != 1 {
		t.Errorf("beads inside: %v", v.Doubts)
	}
	days := 20.7
	if v := bench.Judge(bench.Done{Assembly: car, SelfCheckDays: &days}); !strings.Contains(v.Doubts[0], "20 days") {
		t.Errorf("checked 20.7 days ago: %v", v.Doubts)
	}
}

// TestFitsTogether: after a job a plane asks for what it asked for before, less what was
// fitted and more what was taken off, to one step of the machine (0.25 oz on a car) and 10
// degrees in the place of each weight, which is 2 sin 5° = 0.1743 of it (chosen by us).
func TestFitsTogether(t *testing.T) {
	t.Parallel()
	fit := func(plane string, g, deg float64) bench.Fit { return bench.Fit{Plane: plane, MassG: g, Deg: deg} }
	none := at(0, 0)
	allowed := quarter + 0.1743*40

	for _, c := range []struct {
		name string
		done bench.Done
		fits bool
	}{
		{"40 g asked, fitted, none left", bench.Done{Before: both(at(40, 30), none),
			Fitted: []bench.Fit{fit("outer", 40, 30)}, After: both(none, none)}, true},
		{"fitted 10 degrees off", bench.Done{Before: both(at(40, 30), none),
			Fitted: []bench.Fit{fit("outer", 40, 40)}, After: both(none, none)}, true},
		{"fitted inside instead", bench.Done{Before: both(at(40, 30), none),
			Fitted: []bench.Fit{fit("inner", 40, 30)}, After: both(none, none)}, false},
		{"nothing fitted, none left", bench.Done{Before: both(at(40, 30), none), After: both(none, none)}, false},
		{"nothing fitted, one step", bench.Done{Before: both(at(quarter, 30), none), After: both(none, none)}, true},
		{"nothing fitted, more", bench.Done{Before: both(at(quarter+0.01, 30), none), After: both(none, none)}, false},
		{"as much off as is allowed", bench.Done{Before: both(at(40, 30), none),
			Fitted: []bench.Fit{fit("outer", 40, 30)}, After: both(at(allowed-0.01, 200), none)}, true},
		{"more than is allowed", bench.Done{Before: both(at(40, 30), none),
			Fitted: []bench.Fit{fit("outer", 40, 30)}, After: both(at(allowed+0.01, 200), none)}, false},
		{"40 g taken off is asked for", bench.Done{Before: both(none, none),
			Removed: []bench.Fit{fit("outer", 40, 30)}, After: both(at(40, 30), none)}, true},
		{"40 g taken off is not asked for", bench.Done{Before: both(none, none),
			Removed: []bench.Fit{fit("outer", 40, 30)}, After: both(none, none)}, false},
		{"taken off before the first spin", bench.Done{Before: both(none, none), WeightsOff: true,
			Removed: []bench.Fit{fit("outer", 40, 30)}, After: both(none, none)}, true},
		{"a place that was not measured", bench.Done{Before: both(at(40, 30), none),
			Fitted: []bench.Fit{{MassG: 40}}, After: both(none, none)}, true},
		{"planes that were not measured", bench.Done{Before: both(at(40, 30), none),
			Fitted: []bench.Fit{{MassG: 40, At: &lightWheel.Outer}}, After: both(none, none)}, true},
		{"half way between the planes", bench.Done{Planes: lightWheel, Before: both(at(20, 30), at(20, 30)),
			Fitted: []bench.Fit{{MassG: 40, Deg: 30, At: &balance.Plane{RadiusMM: 203, OffsetMM: -82.5}}},
			After:  both(none, none)}, true},
		{"at half the radius", bench.Done{Planes: lightWheel, Before: both(at(40, 30), none),
			Fitted: []bench.Fit{{MassG: 80, Deg: 30, At: &balance.Plane{RadiusMM: 101.5}}},
			After:  both(none, none)}, true},
		{"one plane, half in each", bench.Done{OnePlane: true, Before: bench.Asked{Single: at(60, 30)},
			Fitted: []bench.Fit{fit("single", 60, 30)}, After: bench.Asked{Single: none}}, true},
		{"one plane, in both", bench.Done{OnePlane: true, Before: bench.Asked{Single: at(60, 30)},
			Fitted: []bench.Fit{fit("outer", 30, 30), fit("inner", 30, 30)}, After: bench.Asked{Single: none}}, true},
		{"one plane, half of it", bench.Done{OnePlane: true, Before: bench.Asked{Single: at(60, 30)},
			Fitted: []bench.Fit{fit("single", 30, 30)}, After: bench.Asked{Single: none}}, false},
		{"two planes with a weight of one", bench.Done{Before: both(at(40, 30), none),
			Fitted: []bench.Fit{fit("single", 40, 30)}, After: both(none, none)}, true},
		{"a check spin and its repeat", bench.Done{CheckSpin: true, Before: both(at(quarter-1, 0), none),
			After: both(none, none)}, true},
		{"a check spin that differs", bench.Done{CheckSpin: true, Before: both(at(quarter+1, 0), none),
			After: both(none, none)}, false},
		{"opposite sides of the wheel", bench.Done{CheckSpin: true, Before: both(at(4, 0), none),
			After: both(at(4, 180), none)}, false},
	} {
		c.done.Assembly = car
		v := bench.Judge(c.done)
		if v.Proven != c.fits {
			t.Errorf("%s: proven %v, %q", c.name, v.Proven, v.Reason)
		}
		if !c.fits && !strings.Contains(v.Reason, "plane") && !strings.Contains(v.Reason, "wheel") {
			t.Errorf("%s: %q does not say where", c.name, v.Reason)
		}
	}

	// The words say what each plane should ask for.
	v := bench.Judge(bench.Done{Assembly: car, Before: both(at(40, 30), none),
		Fitted: []bench.Fit{fit("outer", 10, 30)}, Removed: []bench.Fit{fit("inner", 25, 90)}, After: both(none, none)})
	for _, words := range []string{"the outer plane", "30 g at 30°", "shows nothing", "tick that all weights"} {
		if text := (units.Style{Set: units.Metric}).Render(v.Reason); !strings.Contains(text, words) {
			t.Errorf("%q does not say %q", text, words)
		}
	}
}

// TestUsualSizesByRule: a box holds clips by steps of 5 g or 1/4 oz up to 60 g or 3 oz, for
// heavy wheels by 25 g to 150 and by 50 g to 350, by ounces to 6 and by two to 14 (rounding
// habit, from memory, no source); a strip has segments of the smallest step.
func TestUsualSizesByRule(t *testing.T) {
	t.Parallel()
	steps := func(spans ...[3]float64) []float64 {
		var out []float64
		for _, s := range spans {
			for v := s[0]; v <= s[1]+1e-9; v += s[2] {
				out = append(out, v)
			}
		}
		return out
	}

	for _, c := range []struct {
		heavy   bool
		unit    units.Unit
		clips   []float64
		segment float64
		name    string
		grams   float64
	}{
		{false, units.G, steps([3]float64{5, 60, 5}), 5, "5 g", 5},
		{false, units.Oz, steps([3]float64{0.25, 3, 0.25}), 0.25, "0.25 oz", quarter},
		{true, units.G, steps([3]float64{25, 150, 25}, [3]float64{200, 350, 50}), 25, "25 g", 25},
		{true, units.Oz, steps([3]float64{1, 6, 1}, [3]float64{8, 14, 2}), 1, "1 oz", ounce},
	} {
		got := bench.UsualSizes(c.heavy, c.unit)
		same := len(got.Clips) == len(c.clips) && len(got.Segments) == 1 && got.Segments[0] == c.segment
		for i := range got.Clips {
			same = same && math.Abs(got.Clips[i]-c.clips[i]) < 1e-9
		}
		if !same {
			t.Errorf("heavy %v, %s: %+v, want clips %v", c.heavy, c.unit, got, c.clips)
		}

		in := flanges(car, lightWheel, balance.Shown{}, balance.Shown{})
		if c.heavy {
			in = flanges(tractor, heavyWheel, balance.Shown{}, balance.Shown{})
		}
		in.UsualStock = c.unit
		p, _, err := bench.Problem(in)
		if err != nil {
			t.Fatal(err)
		}
		first := p.Stock[0]
		if first.Name != c.name || math.Abs(first.MassG-c.grams) > 1e-9 || len(p.Stock) != len(c.clips)+1 {
			t.Errorf("heavy %v, %s: the box of %d begins with %+v", c.heavy, c.unit, len(p.Stock), first)
		}
	}
}

// TestStripEdges: a strip has the fewest whole segments, up to twelve, a fiftieth of one let
// pass as rounding.
func TestStripEdges(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		g        float64
		segments []float64
		want     float64
	}{
		{60, []float64{5}, 12 * 16}, {65, []float64{5}, 12 * 16}, {10, []float64{5, 10}, 16},
		{10, []float64{10, 5}, 16}, {10.09, []float64{5}, 32}, {10.11, []float64{5}, 0},
		{9.91, []float64{5}, 32}, {9.89, []float64{5}, 0},
		{10, []float64{-5, 0}, 0}, {5, nil, 0}, {0.5 * ounce, []float64{quarter}, 32},
	} {
		if got := bench.StripMM(c.g, c.segments); got != c.want {
			t.Errorf("%g g of %v: %g mm, want %g", c.g, c.segments, got, c.want)
		}
	}
}

// TestHeavySizes: a loose tire is a heavy one by a load index above 121, or without one by a
// rim of half an inch from 17.5 up (trade usage, from memory).
func TestHeavySizes(t *testing.T) {
	t.Parallel()
	for size, want := range map[string]bool{"LT245/75R16 121/118S": false, "225/70R19.5 122/120N": true,
		"225/70R19.5 121/119N": false, "9.5R17.5": true, "11R22.5": true, "205/55R16": false, "10.00R20": false,
		"": false, "unreadable": false, "7.50-16": false} {
		if got := (bench.Assembly{Size: size}).Heavy(); got != want {
			t.Errorf("%q: heavy %v, want %v", size, got, want)
		}
	}
	for class, want := range map[string]bool{"car": false, "light_truck": false, "rigid_truck": true, "tractor": true,
		"trailer": true, "bus": true} {
		if got := (bench.Assembly{Class: class, Size: "205/55R16 91V"}).Heavy(); got != want {
			t.Errorf("%s: heavy %v, want %v", class, got, want)
		}
	}
}

// TestSizes: a rim of 22.5 in; 295/75R22.5 is 571.5 + 2 x 0.75 x 295 = 1014 mm wide across
// its tread (arithmetic of the designation).
func TestSizes(t *testing.T) {
	t.Parallel()
	if in, known := bench.RimCode("295/75R22.5 144/141L"); in != 22.5 || !known {
		t.Errorf("rim %g, %v", in, known)
	}
	if _, known := bench.RimCode("?"); known {
		t.Error("an unreadable size has a rim")
	}
	if mm := bench.OuterDiameterMM("295/75R22.5 144/141L"); math.Abs(mm-1014) > 0.05 {
		t.Errorf("diameter %g mm", mm)
	}
	if mm := bench.OuterDiameterMM("?"); mm != 0 {
		t.Errorf("diameter of an unreadable size: %g mm", mm)
	}

	// The tire rolls less than its diameter says, by some 2 to 5 % (SAE J1025 and makers'
	// tables): 100 km/h are 27.78 m/s, over 507 mm 54.8 rad/s.
	if s, err := bench.Spin("295/75R22.5 144/141L", 100); err != nil || float64(s) < 54.8 || float64(s) > 1.06*54.8 {
		t.Errorf("spin %v, %v", s, err)
	}
	if _, err := bench.Spin("?", 100); err == nil {
		t.Error("an unreadable size spins")
	}
}

// TestOnePlaneAlternative: the set in one place cures the hop, by hand: 40 g at 0° outside
// and 20 g at 0° inside are 60 g at 0°.
func TestOnePlaneAlternative(t *testing.T) {
	t.Parallel()
	in := flanges(car, lightWheel, balance.Shown{MassG: 20}, balance.Shown{MassG: 40})
	r, err := bench.Propose(in)
	if err != nil || r.OnePlane == nil || r.OnePlane.Place != "outer" || r.OnePlane.Left.MassG != 60 ||
		r.OnePlane.Left.StaticG > 1e-6 || r.Open != nil {
		t.Errorf("%+v, %+v, %v", r.OnePlane, r.Open, err)
	}
	if r.Problem.LimitStaticG != 0 || math.Abs(r.Problem.LimitOuterG-quarter) > 1e-9 {
		t.Errorf("the problem of two planes changed: %+v", r.Problem)
	}

	shaking := in
	shaking.Complaint = true
	p, _, err := bench.Problem(shaking)
	if err != nil || math.Abs(p.LimitStaticG-quarter) > 1e-9 || p.SlackG != 0 {
		t.Errorf("after a complaint the sum has a limit: %+v, %v", p.LimitStaticG, err)
	}
}
