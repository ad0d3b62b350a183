package pattern_test

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"rimledger/models/modeltest"
	"rimledger/models/pattern"
	"rimledger/models/vibration"
)

// A simulator of causes, apart from the rules that are tested: each cause wears a shape
// into the tread by its own geometry, and shows itself to an inspector with stated
// probabilities. All probabilities are chosen by us; the shapes follow the published
// descriptions of truck tire trade guides and workshop manuals (dips by wheel hop:
// N = f C / v; a skid wears one patch; couple unbalance wears opposite shoulders).

// evenTire is the truth of a tire without a cause.
const evenTire = "even"

// The shapes that a cause wears, with their probability.
var shapesOf = map[string]map[string]float64{
	pattern.Imbalance:       {"once": 0.75, "couple": 0.1, "2 dips": 0.1, "3 dips": 0.05},
	pattern.RunoutOrSeating: {"once": 0.85, "couple": 0.15},
	pattern.Dampers:         {"2 dips": 0.5, "3 dips": 0.4, "4 dips": 0.1},
	pattern.Looseness:       {"once": 0.1, "2 dips": 0.3, "3 dips": 0.2, "patches": 0.4},
	pattern.Alignment:       {"one shoulder": 0.8, "even": 0.2},
	pattern.Pressure:        {"both shoulders": 0.6, "center": 0.4},
	pattern.DualMismatch:    {"patches": 0.5, "2 dips": 0.1, "even": 0.4},
	pattern.BrakeFlatSpot:   {"patch": 1},
	pattern.SelfExcited: {"5 dips": 0.125, "6 dips": 0.125, "7 dips": 0.125, "8 dips": 0.125, "9 dips": 0.125,
		"10 dips": 0.125, "11 dips": 0.125, "12 dips": 0.125},
	evenTire: {"even": 1},
}

// signs are what an inspector, a shop or a driver may find, with what each does to the
// facts. Usual is how often it is found where the cause has nothing to do with it, and
// by is how often under a cause of its own; an even tire is on a sound vehicle.
var signs = []struct {
	name  string
	usual float64
	sound float64 // on an even tire
	by    map[string]float64
	set   func(in *pattern.Input)
}{
	{"balance overdue", 0.2, 0.2, map[string]float64{pattern.Imbalance: 0.5},
		func(in *pattern.Input) { in.Facts.BalanceOverdue = true }},
	{"weight missing", 0.01, 0.002, map[string]float64{pattern.Imbalance: 0.3},
		func(in *pattern.Input) {
			in.Observations = append(in.Observations, pattern.Observation{Code: "missing_weight"})
		}},
	{"damper leaks", 0.02, 0.002, map[string]float64{pattern.Dampers: 0.6},
		func(in *pattern.Input) { in.Facts.DampersLeak, in.Facts.DampersChecked = true, false }},
	{"dampers old", 0.1, 0.02, map[string]float64{pattern.Dampers: 0.7},
		func(in *pattern.Input) { in.Facts.DampersYears, in.Facts.DampersChecked = 12, false }},
	{"end play", 0.01, 0.002, map[string]float64{pattern.Looseness: 0.85},
		func(in *pattern.Input) { in.Facts.Looseness, in.Facts.PartsChecked = true, false }},
	{"slanted patches", 0.01, 0.002, map[string]float64{pattern.Looseness: 0.4, pattern.Alignment: 0.05},
		func(in *pattern.Input) {
			in.Observations = append(in.Observations, pattern.Observation{Code: "diagonal"})
		}},
	{"feathered", 0.02, 0.002, map[string]float64{pattern.Alignment: 0.6},
		func(in *pattern.Input) {
			in.Observations = append(in.Observations, pattern.Observation{Code: "feathering"})
		}},
	{"runs to one side", 0.03, 0.02, map[string]float64{pattern.Alignment: 0.4, pattern.Pressure: 0.1},
		func(in *pattern.Input) { in.Facts.Pulls = true }},
	{"alignment overdue", 0.15, 0.15, map[string]float64{pattern.Alignment: 0.4},
		func(in *pattern.Input) { in.Facts.AlignmentOverdue = true }},
	{"pressure off", 0.03, 0.002, map[string]float64{pattern.Pressure: 0.75},
		func(in *pattern.Input) { in.Facts.PressureToTarget = 0.85 }},
	{"run-out over its limit", 0.01, 0.002, map[string]float64{pattern.RunoutOrSeating: 0.75},
		func(in *pattern.Input) { in.Facts.RunoutMM, in.Facts.RunoutLimitMM = 2, 1.27 }},
	{"bead gap over its limit", 0.01, 0.002, map[string]float64{pattern.RunoutOrSeating: 0.5},
		func(in *pattern.Input) { in.Facts.BeadGapVariationMM = 2.5 }},
	{"brakes suspect", 0.02, 0.02, map[string]float64{pattern.BrakeFlatSpot: 0.4},
		func(in *pattern.Input) { in.Facts.BrakesSuspect = true }},
	{"dual pressures apart", 0.02, 0.002, map[string]float64{pattern.DualMismatch: 0.85},
		func(in *pattern.Input) { in.Facts.DualPressureKPa = 60 }},
	{"heel and toe", 0.02, 0.002, map[string]float64{pattern.DualMismatch: 0.4},
		func(in *pattern.Input) {
			in.Observations = append(in.Observations, pattern.Observation{Code: "heel_toe"})
		}},
	{"shakes at 95 km/h, all answered", 0.05, 0.002, map[string]float64{pattern.Imbalance: 0.5,
		pattern.RunoutOrSeating: 0.3}, func(in *pattern.Input) {
		in.Facts.Vibration = &vibration.Report{Class: vibration.Car, StartsKMH: 70, WorstKMH: 95, Braking: "same",
			Throttle: "same", Neutral: "same"}
	}},
	{
		"began when it was mounted",
		0.02,
		0.002,
		map[string]float64{pattern.RunoutOrSeating: 0.35, pattern.Imbalance: 0.1},
		func(in *pattern.Input) {
			r := vibration.Report{Class: vibration.Car}
			if in.Facts.Vibration != nil {
				r = *in.Facts.Vibration
			}
			r.Since = "fit"
			in.Facts.Vibration = &r
		},
	},
}

// alike is how often the other end of the axle wears the same shape.
var alike = map[string]float64{pattern.Dampers: 0.85, pattern.Alignment: 0.5, pattern.Pressure: 0.8,
	pattern.BrakeFlatSpot: 0.4, pattern.DualMismatch: 0.2}

// drawn is one simulated tire.
type drawn struct {
	in    pattern.Input
	shape string
	signs []bool
	alike bool
	hand  []pattern.Observation // what felt found
	good  bool                  // bead seat and run-out were measured and are good
}

// chanceOf is how often sign i is found where the truth is cause.
func chanceOf(i int, cause string) float64 {
	if cause == evenTire {
		return signs[i].sound
	}
	if p, ok := signs[i].by[cause]; ok {
		return p
	}
	return signs[i].usual
}

// chanceAlike is how often the axle mate wears alike where the truth is cause.
func chanceAlike(cause string) float64 {
	if p, ok := alike[cause]; ok {
		return p
	}
	return 0.1
}

// chanceGood is how often a shop measured seat and run-out and found them good.
func chanceGood(cause string) float64 {
	if cause == pattern.RunoutOrSeating {
		return 0.05
	}
	return 0.4
}

// shapeOf draws one of the shapes of a cause.
func shapeOf(rng *rand.Rand, cause string) string {
	at := rng.Float64()
	names := slices.Sorted(maps.Keys(shapesOf[cause]))
	for _, name := range names {
		if at -= shapesOf[cause][name]; at < 0 {
			return name
		}
	}
	return names[len(names)-1]
}

// draw returns a tire with a cause and a shape, read at k stations.
func draw(rng *rand.Rand, cause, shape string, k int, step float64) drawn {
	d := drawn{shape: shape, alike: rng.Float64() < chanceAlike(cause)}
	d.in.ResolutionMM = step
	d.in.Facts = pattern.Facts{DampersChecked: rng.Float64() < 0.6, PartsChecked: rng.Float64() < 0.6}
	if rng.Float64() < 0.8 {
		d.in.Facts.PressureToTarget = 1
	}

	d.good = rng.Float64() < chanceGood(cause)
	if d.good {
		d.in.Facts.BeadGapVariationMM, d.in.Facts.RunoutMM, d.in.Facts.RunoutLimitMM = 0.5, 0.6, 1.27
	}

	mm := 1 + 2*rng.Float64()
	d.in.Tread = wornTo(rng, shape, mm, k, step)
	mate := wornTo(rng, "even", 0, k, step)
	if d.alike {
		mate = wornTo(rng, shape, mm, k, step)
		mate.Observations = felt(rng, shape)
	}
	d.in.AxleMate = &mate
	d.hand = felt(rng, shape)

	d.in.Observations = slices.Clone(d.hand)

	for i, s := range signs {
		found := rng.Float64() < chanceOf(i, cause)
		d.signs = append(d.signs, found)
		if found {
			s.set(&d.in)
		}
	}

	return d
}

// dipsOf returns the number in "n dips", 0 for other shapes.
func dipsOf(shape string) (n int) {
	if _, err := fmt.Sscanf(shape, "%d dips", &n); err != nil {
		return 0
	}
	return n
}

// wornTo reads three grooves of a tire worn mm deep in a shape, from crest to dip.
func wornTo(rng *rand.Rand, shape string, mm float64, k int, step float64) pattern.Tread {
	base, phase := 3+2*rng.Float64(), 2*math.Pi*rng.Float64()

	patches := []float64{phase}
	if shape == "patches" { // two to four, at least 0.6 rad apart
		for range 2 + rng.IntN(3) {
			at := 2 * math.Pi * rng.Float64()
			if !slices.ContainsFunc(
				patches,
				func(b float64) bool { return math.Abs(math.Remainder(at-b, 2*math.Pi)) < 0.6 },
			) {
				patches = append(patches, at)
			}
		}
	}

	half := (150 + 150*rng.Float64()) / 1950 * math.Pi // of a patch, radians

	worn := func(g int, t float64) float64 {
		n := dipsOf(shape)
		switch {
		case n > 0:
			return mm / 2 * math.Cos(float64(n)*(t-phase))
		case shape == "once":
			return mm / 2 * math.Cos(t-phase)
		case shape == "couple":
			return mm / 2 * float64(1-g) * math.Cos(t-phase)
		case shape == "one shoulder":
			return max(mm, 1.6) * float64(2-g) / 2
		case shape == "both shoulders" && g != 1, shape == "center" && g == 1:
			return max(mm, 1.6)
		case shape == "patch", shape == "patches":
			for _, p := range patches {
				if math.Abs(math.Remainder(t-p, 2*math.Pi)) < half {
					return max(mm, 1.6)
				}
			}
		}

		return 0
	}

	rows := make([][]float64, 3)
	for g := range rows {
		rows[g] = around(k, 10, func(t float64) float64 { return base + worn(g, t) })
		for i, depth := range rows[g] {
			rows[g][i] = min(gauge(rng, depth, step, 0.2), 10)
		}
	}

	return pattern.Tread{DepthsMM: grid(rows...), NewMM: []float64{10}}
}

// felt is what the hand finds of a shape: dips are counted in three of four tires, one in
// ten counts is wrong by one; a tread without dips is noted as smooth in four of five.
func felt(rng *rand.Rand, shape string) []pattern.Observation {
	at, n := rng.Float64(), dipsOf(shape)
	one := func(code string, count int) []pattern.Observation {
		return []pattern.Observation{{Code: code, Count: count}}
	}

	switch {
	case n > 0 && at < 0.75:
		if rng.Float64() < 0.1 {
			n = max(2, n+1-2*rng.IntN(2))
		}
		return one("cupping", n)
	case n > 0 && at < 0.85:
		return one("cupping", 0)
	case n > 0 && at < 0.95:
		return nil
	case shape == "patch" && at < 0.8:
		return one("flat_spot", 1)
	case shape == "patches" && at < 0.7:
		return one("flat_spot", 2+rng.IntN(3))
	case shape == "patch", shape == "patches":
		return nil
	case shape == "even" && at > 0.995, shape != "even" && at > 0.97:
		return one("cupping", 0)
	case at < 0.8:
		return one("smooth", 0)
	}

	return nil
}

// seenAs is what k equally spaced stations show of a shape without any noise: of n dips
// only the least number with the same readings (sampling theorem), 0 if none.
func seenAs(shape string, k int) string {
	n := dipsOf(shape)
	if shape == "once" {
		n = 1
	}
	if n == 0 {
		return shape
	}
	n %= k
	if n = min(n, k-n); n == 0 {
		return "even"
	}
	return fmt.Sprint(n)
}

// chanceFelt is how often felt finds o of a shape.
func chanceFelt(shape string, o []pattern.Observation) float64 {
	code, count := "", 0
	if len(o) > 0 {
		code, count = o[0].Code, o[0].Count
	}

	n := dipsOf(shape)
	switch {
	case n > 0 && code == "cupping" && count > 0:
		chance := 0.0
		for m, p := range map[int]float64{n: 0.9, n + 1: 0.05} {
			if m == count {
				chance += 0.75 * p
			}
		}

		if max(2, n-1) == count {
			chance += 0.75 * 0.05
		}
		return chance
	case n > 0:
		return map[string]float64{"cupping": 0.13, "": 0.12}[code]
	case shape == "patch":
		return map[string]float64{"flat_spot": 0.8, "": 0.2}[code]
	case shape == "patches":
		return map[string]float64{"flat_spot": 0.7 / 3, "": 0.3}[code]
	case count > 0:
		return 0
	case shape == "even":
		return map[string]float64{"smooth": 0.8, "cupping": 0.005, "": 0.195}[code]
	}

	return map[string]float64{"smooth": 0.8, "cupping": 0.03, "": 0.17}[code]
}

// ideal is the first cause of an observer who knows the probabilities of the simulator,
// reads without noise, and finds what the hand found: no rule can be right more often,
// but for shapes that such readings show alike.
func ideal(d drawn, k int) string {
	best, score := "", math.Inf(-1)
	for _, cause := range append([]string{evenTire}, pattern.CauseKeys...) {
		shapes := 0.0
		for shape, p := range shapesOf[cause] {
			if seenAs(shape, k) == seenAs(d.shape, k) {
				shapes += p * chanceFelt(shape, d.hand)
			}
		}

		sum := math.Log(shapes)

		bernoulli := func(seen bool, p float64) {
			if !seen {
				p = 1 - p
			}
			sum += math.Log(p)
		}

		for i, seen := range d.signs {
			bernoulli(seen, chanceOf(i, cause))
		}

		bernoulli(d.alike, chanceAlike(cause))
		bernoulli(d.good, chanceGood(cause))

		if sum > score {
			best, score = cause, sum
		}
	}

	return best
}

// spoken is the first cause of the account, even if none is possible.
func spoken(t *testing.T, in pattern.Input) (first string, a pattern.Account) {
	t.Helper()
	a, err := pattern.Causes(in)
	if err != nil {
		t.Fatal(err)
	}
	if v := a.Ranked[0].Verdict; v == pattern.Likely || v == pattern.Possible {
		return a.Ranked[0].Key, a
	}
	if a.Ranked[0].Score > 0 {
		return a.Ranked[0].Key + "?", a
	}
	return evenTire, a
}

// The points of the evidence were chosen while looking at the tires of the tuning seeds
// only: who changes a point looks at them and leaves the held-out seeds alone. The tires of
// the older held-out seeds were looked at since, so they no longer prove anything.
var (
	confusionTuning   = []uint64{31, 32, 33, 34, 35, 36}
	confusionHeldOut  = []uint64{9001, 9002, 9003}
	confusionLookedAt = []uint64{4001, 4002, 4003}
)

// tally counts what the account and the ideal observer say of the tires of one cause.
type tally struct {
	tires, right, ideal, accused int
	instead                      map[string]int
}

// percent returns n as a share of the tires, in percent.
func (c tally) percent(n int) float64 { return 100 * float64(n) / float64(c.tires) }

// tallyOf draws tires of a cause, a third at each number of stations and half by each gauge.
func tallyOf(t *testing.T, seeds []uint64, truth string, stations []int) tally {
	t.Helper()

	c := tally{instead: map[string]int{}}
	for _, seed := range seeds {
		rng := rand.New(rand.NewPCG(seed, uint64(slices.Index(pattern.CauseKeys, truth)+1)))
		for n := range 600 {
			k := stations[n%len(stations)]
			d := draw(rng, truth, shapeOf(rng, truth), k, []float64{pattern.Step, 0.1}[n/len(stations)%2])
			c.tires++

			first, a := spoken(t, d.in)
			if truth == evenTire && strings.HasSuffix(first, "?") {
				first = evenTire // nothing is said of a cause that is not possible
			}

			if first = strings.TrimSuffix(first, "?"); first == truth {
				c.right++
			} else {
				c.instead[first]++
			}

			if ideal(d, k) == truth {
				c.ideal++
			}
			if a.Of(pattern.Imbalance).Verdict == pattern.Likely {
				c.accused++
			}
		}
	}

	return c
}

// With eight stations or more the right cause leads in at least 85 % of the tires of each
// cause, or within 5 points of the ideal observer, and no cause is possible on 95 % of even
// tires; at every number of stations imbalance is likely on at most 2 % of the tires of any
// other cause. Held to on the held-out seeds.
func TestConfusion(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	for _, set := range []struct {
		name     string
		seeds    []uint64
		stations []int
	}{
		{"tuning, 8, 12 or 16 stations", confusionTuning, []int{8, 12, 16}},
		{"held out, 8, 12 or 16 stations", confusionHeldOut, []int{8, 12, 16}},
		{"held out, 3 to 7 stations", confusionHeldOut, []int{3, 4, 5, 6, 7}},
		{"looked at before, 8, 12 or 16 stations", confusionLookedAt, []int{8, 12, 16}},
	} {
		table := "| truth | right | ideal | likely imbalance | called instead |\n|---|--:|--:|--:|---|\n"

		held, many := strings.HasPrefix(set.name, "held"), set.stations[0] >= pattern.MinHarmonicStations
		for _, truth := range append(slices.Clone(pattern.CauseKeys), evenTire) {
			c := tallyOf(t, set.seeds, truth, set.stations)
			right, ideal, accused := c.percent(c.right), c.percent(c.ideal), c.percent(c.accused)
			table += fmt.Sprintf("| %s | %.1f | %.1f | %.1f | %s |\n", truth, right, ideal, accused, c.mostOften())

			// Three standard errors of 1800 tires are 2.5 points.
			least := math.Min(85, ideal-5) - 2.5
			if truth == evenTire {
				least = 95 - 1.5 // three standard errors at 5 %
			}

			if held && (many || truth == evenTire) && right < least {
				t.Errorf(
					"%s: %s: right in %.1f %%, want %.1f; the ideal observer in %.1f",
					set.name,
					truth,
					right,
					least,
					ideal,
				)
			}

			if held && truth != pattern.Imbalance && accused > 2 {
				t.Errorf("%s: %s: imbalance is likely in %.1f %%", set.name, truth, accused)
			}
		}

		t.Logf("%s, %d tires a row, in %%:\n%s", set.name, 600*len(set.seeds), table)
	}
}

// mostOften lists what is said of at least 2 % of the tires instead, most often first.
func (c tally) mostOften() string {
	var out []string
	for _, key := range slices.SortedFunc(maps.Keys(c.instead), func(a, b string) int {
		return cmp.Or(c.instead[b]-c.instead[a], strings.Compare(a, b))
	}) {
		if share := c.percent(c.instead[key]); share >= 2 {
			out = append(out, fmt.Sprintf("%s %.1f", key, share))
		}
	}
	return strings.Join(out, ", ")
}

// Dips of every count from 2 to 12 that an imbalance did not make, at 3 to 16 stations:
// imbalance is likely on at most 2 % of them.
func TestDipsDoNotAccuseTheBalance(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	for n := 2; n <= 12; n++ {
		cause := pattern.Dampers
		if n >= 5 {
			cause = pattern.SelfExcited
		}

		rng := rand.New(rand.NewPCG(confusionHeldOut[0], uint64(100+n)))
		const rounds = 560

		accused := 0
		for i := range rounds {
			d := draw(rng, cause, fmt.Sprintf("%d dips", n), 3+i%14, []float64{pattern.Step, 0.1}[i/14%2])
			if _, a := spoken(t, d.in); a.Of(pattern.Imbalance).Verdict == pattern.Likely {
				accused++
			}
		}

		t.Logf("%d dips: imbalance likely in %.1f %%", n, 100*float64(accused)/rounds)
		if 100*accused > 2*rounds {
			t.Errorf("%d dips: imbalance likely in %d of %d", n, accused, rounds)
		}
	}
}
