package pattern_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"rimledger/models/modeltest"
	"rimledger/models/pattern"
	"rimledger/models/vibration"
)

// A quarter car on a rolling tire that wears where it is pressed hardest.
// Assumptions, all usual textbook values for a car: 350 kg sprung, 40 kg
// unsprung, spring 20 kN/m, tire 200 kN/m, damper 1500 N s/m good and 150 worn,
// circumference 1.95 m, rim radius 0.203 m; wear goes with the square of the
// contact force; speed is drawn anew from the route's range for each of 25
// stretches; a rough road pushes at random; a new tire is out of round by 0.1 to
// 0.3 mm in each of its first three harmonics; the profile, as it wears, drives
// the wheel in turn.
type quarterCar struct {
	damping   float64 // N s/m
	unbalance float64 // kg m
	route     [2]float64
}

// Routes, km/h. Worn dampers cup a tire where two or three turns' pushes meet
// wheel hop, in town (N = f C / v); an unbalance works on the highway.
var (
	town    = [2]float64{28, 42}
	highway = [2]float64{70, 110}
)

const (
	bins        = 64
	sprungKG    = 350.0
	unsprungKG  = 40.0
	springNM    = 20e3
	tireNM      = 200e3
	circumM     = 1.95
	stretches   = 25
	turns       = 40
	meanWearMM  = 5.0
	newDepthMM  = 10.0
	roadRoughMM = 1.0
)

// wear returns the wear (mm) in each bin around the tire.
func (q quarterCar) wear(rng *rand.Rand) [bins]float64 {
	const g = 9.81
	still := (sprungKG + unsprungKG) * g

	var worn, round [bins]float64
	for n := 1; n <= 3; n++ {
		amplitude, phase := 0.1+0.2*rng.Float64(), 2*math.Pi*rng.Float64()
		for b := range round {
			round[b] += amplitude * math.Cos(2*math.Pi*float64(n*b)/bins-phase)
		}
	}

	for range stretches {
		turnHz := (q.route[0] + (q.route[1]-q.route[0])*rng.Float64()) / 3.6 / circumM
		omega := 2 * math.Pi * turnHz
		dt := 1 / turnHz / bins

		var zs, vs, zu, vu, road, mean float64
		for _, w := range worn {
			mean += w / bins
		}

		var force [bins]float64
		for turn := range turns {
			for b := range bins {
				road += -0.05*road + 0.3*roadRoughMM/1000*rng.NormFloat64()
				profile := (round[b] + mean - worn[b]) / 1000
				contact := max(0, still+tireNM*(road+profile-zu))
				strut := springNM*(zu-zs) + q.damping*(vu-vs)
				spin := q.unbalance * omega * omega * math.Cos(2*math.Pi*float64(b)/bins)
				vs += dt * strut / sprungKG
				vu += dt * (contact - still - strut + spin) / unsprungKG
				zs += dt * vs
				zu += dt * vu

				if turn >= 5 { // settled
					force[b] += contact * contact
				}
			}
		}

		var total float64
		for _, f := range force {
			total += f / bins
		}

		for b, f := range force {
			worn[b] += meanWearMM / stretches * f / total
		}
	}

	return worn
}

// tireOf reads three grooves at k stations with a 1/32 in gauge and 0.2 mm scatter.
// The crown is worn 0.9 and the inner shoulder 0.95 of the outer shoulder.
func tireOf(rng *rand.Rand, worn [bins]float64, k int) pattern.Tread {
	rows := make([][]float64, 3)
	for g, share := range []float64{1, 0.9, 0.95} {
		rows[g] = make([]float64, k)
		for i := range rows[g] {
			rows[g][i] = gauge(rng, newDepthMM-share*worn[i*bins/k], pattern.Step, 0.2)
		}
	}
	return pattern.Tread{DepthsMM: grid(rows...), NewMM: []float64{newDepthMM}}
}

// skid takes a patch of 150 to 300 mm, 2.5 to 4 mm deep, out of a worn tire.
func skid(rng *rand.Rand, worn [bins]float64) [bins]float64 {
	center, half := rng.Float64()*bins, (150+150*rng.Float64())/1950*bins/2
	depth := 2.5 + 1.5*rng.Float64()
	for b := range worn {
		d := math.Abs(float64(b) - center)
		if d = min(d, bins-d); d < half {
			worn[b] = min(worn[b]+depth, newDepthMM)
		}
	}
	return worn
}

// scene draws one vehicle with a known cause. An inspector is assumed to see a
// leaking or overaged damper 19 times in 20, to feel a single patch by hand 9
// times in 10, and to have found good what is good; a driver complains of an
// unbalanced wheel 7 times in 10; a lost weight leaves a mark 3 times in 10;
// half of the unbalanced wheels are overdue. A damper wears with its partner, and
// an unbalance is 80 to 200 g at the rim.
func scene(rng *rand.Rand, cause string, k int) pattern.Input {
	chance := func(p float64) bool { return rng.Float64() < p }

	car := quarterCar{damping: 1500, unbalance: 0.005 * 0.203 * rng.Float64(), route: highway}
	if cause == pattern.Dampers || chance(0.3) && cause == pattern.BrakeFlatSpot {
		car.route = town
	}

	mate := car
	in := pattern.Input{Facts: pattern.Facts{PartsChecked: true, PressureToTarget: 1, DampersChecked: true}}
	switch cause {
	case pattern.Imbalance:
		car.unbalance = (0.08 + 0.12*rng.Float64()) * 0.203
		in.Facts.BalanceOverdue = chance(0.5)
		if chance(0.7) {
			in.Facts.Vibration = &vibration.Report{Class: vibration.Car, StartsKMH: 70, WorstKMH: 95, Throttle: "same"}
		}
	case pattern.Dampers:
		car.damping, mate.damping = 150, 150
		in.Facts.DampersLeak = chance(0.95)
		in.Facts.DampersChecked = false
	}

	worn := car.wear(rng)
	if cause == pattern.BrakeFlatSpot {
		worn = skid(rng, worn)
	}
	in.Tread = tireOf(rng, worn, k)
	other := tireOf(rng, mate.wear(rng), k)
	in.AxleMate = &other

	switch {
	case cause == pattern.Imbalance && chance(0.3):
		in.Observations = []pattern.Observation{{Code: "missing_weight"}}
	case cause == pattern.BrakeFlatSpot && chance(0.9):
		in.Observations = []pattern.Observation{{Code: "flat_spot", Count: 1}}
	}

	return in
}

// The weights were chosen while looking at the drawings of tuningSeeds only. Those
// of heldOutSeeds were never looked at for that: who changes a weight looks at
// the first and leaves the second alone.
var (
	tuningSeeds  = []uint64{11}
	heldOutSeeds = []uint64{1001, 1002, 1003, 1004, 1005, 1006, 1007, 1008}
)

// With eight stations and what an inspector would know the right cause leads in
// at least nine of ten cases of each kind, on both sets of drawings.
func TestRankingOnQuarterCars(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	for _, set := range []struct {
		name  string
		seeds []uint64
		cases int // of each seed
	}{{"tuning", tuningSeeds, 40}, {"held out", heldOutSeeds, 10}} {
		for i, cause := range []string{pattern.Imbalance, pattern.Dampers, pattern.BrakeFlatSpot} {
			t.Run(set.name+"/"+cause, func(t *testing.T) {
				t.Parallel()
				first := map[string]int{}
				for _, seed := range set.seeds {
					rng := rand.New(rand.NewPCG(seed, uint64(i)))
					for range set.cases {
						first[leading(t, scene(rng, cause, 8))]++
					}
				}

				all := len(set.seeds) * set.cases
				t.Logf("first of %d: %v", all, first)
				if first[cause]*10 < all*9 {
					t.Errorf("right in %d of %d", first[cause], all)
				}
			})
		}
	}
}

// leading returns the cause ranked first, none if nothing speaks for it.
func leading(t *testing.T, in pattern.Input) string {
	a, err := pattern.Causes(in)
	if err != nil {
		t.Fatal(err)
	}
	if a.Ranked[0].Score <= 0 {
		return "none"
	}
	return a.Ranked[0].Key
}

// With one station and no report the same vehicles get no verdict on imbalance,
// and without findings of hand and eye none on anything that shows only around
// the tire.
func TestOneStationDoesNotGuess(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()

	rng := rand.New(rand.NewPCG(12, 0))
	for _, cause := range []string{pattern.Imbalance, pattern.Dampers, pattern.BrakeFlatSpot} {
		for range 15 {
			in := scene(rng, cause, 1)
			in.Facts.Vibration = nil
			a, err := pattern.Causes(in)
			if err != nil {
				t.Fatal(err)
			}
			if v := a.Of(pattern.Imbalance).Verdict; v != pattern.NotEnoughData {
				t.Errorf("%s: imbalance %s", cause, v)
			}

			in.Observations, in.Facts = nil, pattern.Facts{}
			if a, err = pattern.Causes(in); err != nil {
				t.Fatal(err)
			}

			for _, key := range []string{pattern.Imbalance, pattern.RunoutOrSeating, pattern.Dampers,
				pattern.BrakeFlatSpot, pattern.SelfExcited} {
				if v := a.Of(key).Verdict; v != pattern.NotEnoughData {
					t.Errorf("%s: %s %s", cause, key, v)
				}
			}
		}
	}
}
