package balance_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models/balance"
)

// machine is a made-up vehicle: readings = vibration as found + effect of weights.
type machine struct {
	asIs   []complex128
	effect [][]complex128
}

func rect(p balance.Phasor) complex128 { return cmplx.Rect(p.Amount, p.Deg*math.Pi/180) }

func (m machine) run(weights ...complex128) []balance.Phasor {
	var out []balance.Phasor
	for k, v := range m.asIs {
		for j, w := range weights {
			v += m.effect[k][j] * w
		}
		r, a := cmplx.Polar(v)
		out = append(out, balance.Phasor{Amount: r, Deg: a * 180 / math.Pi})
	}
	return out
}

func drawMachine(t *rapid.T, readings, planes int) machine {
	c := rapid.Custom(func(t *rapid.T) complex128 {
		return cmplx.Rect(rapid.Float64Range(0.5, 5).Draw(t, "amount"), rapid.Float64Range(0, 6.28).Draw(t, "phase"))
	})

	var m machine
	for k := range readings {
		m.asIs = append(m.asIs, c.Draw(t, "as found"))

		var row []complex128
		for j := range planes {
			e := c.Draw(t, "effect") * 0.02
			if k == j { // its own plane acts most, so that planes are told apart
				e *= 20
			}
			row = append(row, e)
		}

		m.effect = append(m.effect, row)
	}

	return m
}

// Weights left on or taken off, more readings than planes or as many: the
// correction put on the made-up vehicle leaves what was predicted, and nothing
// when there are as many readings as planes.
func TestTrialWeightsCureTheMachine(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		planes := rapid.IntRange(1, 2).Draw(t, "planes")
		m := drawMachine(t, planes+rapid.IntRange(0, 2).Draw(t, "more readings"), planes)
		leftOn := rapid.Bool().Draw(t, "left on")
		test := balance.TrialTest{Planes: planes, AsIs: m.run(), LeftOn: leftOn}

		on := make([]complex128, planes)
		for j := range planes {
			trial := balance.Phasor{Amount: 20, Deg: rapid.Float64Range(0, 359).Draw(t, "trial at")}
			if !leftOn {
				on = make([]complex128, planes)
			}
			on[j] = rect(trial)
			test.Runs = append(test.Runs, balance.TrialRun{Plane: j, Weight: trial, Readings: m.run(on...)})
		}

		got, err := balance.TrialWeights(test)
		if err != nil {
			t.Fatal(err)
		}

		var off, with []complex128
		for j := range planes {
			off = append(off, rect(got.Weights[j]))
			add := rect(got.WithTrial[j])
			if leftOn {
				add += on[j]
			}
			with = append(with, add)
		}

		for k, left := range m.run(off...) {
			near(t, "left, trial weights off", left.Amount, got.Predicted[k].Amount, 1e-6)
			near(t, "left, trial weights kept", m.run(with...)[k].Amount, left.Amount, 1e-6)
			if len(m.asIs) == planes {
				near(t, "left", left.Amount, 0, 1e-6)
			}
		}
	})
}

// Amplitudes of a made-up vehicle at three or more positions give its correction.
func TestTrialPositionsCureTheMachine(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		m := drawMachine(t, 1, 1)
		n := rapid.IntRange(3, 8).Draw(t, "positions")
		first := rapid.Float64Range(0, 359).Draw(t, "first")

		test := balance.PositionTest{AsIs: m.run()[0].Amount, TrialG: 20}
		for i := range n {
			deg := first + 360*float64(i)/float64(n)
			test.Runs = append(test.Runs,
				balance.PositionRun{Deg: deg, Amplitude: m.run(cmplx.Rect(20, deg*math.Pi/180))[0].Amount})
		}

		got, err := balance.TrialPositions(test)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "left", m.run(cmplx.Rect(got.MassG, got.Deg*math.Pi/180))[0].Amount, 0, 1e-5)
		near(t, "misfit", got.Misfit, 0, 1e-6)

		if len(got.Notes) == 0 && first+360*float64(n-1)/float64(n) > 360 {
			t.Error("positions beyond 360 deg are not noted")
		}
	})
}

// By hand: O = 5, trial effect 3. The weight on the heavy side gives 8, across it
// sqrt(34), opposite 2; the correction is 5/3 of the trial weight, opposite.
func TestTrialPositionsByHand(t *testing.T) {
	t.Parallel()

	got, err := balance.TrialPositions(balance.PositionTest{AsIs: 5, TrialG: 30, Runs: []balance.PositionRun{
		{
			Deg:       70,
			Amplitude: 8,
		}, {Deg: 160, Amplitude: math.Sqrt(34)}, {Deg: 250, Amplitude: 2}, {Deg: 340, Amplitude: math.Sqrt(34)},
	}})
	if err != nil {
		t.Fatal(err)
	}

	near(t, "g", got.MassG, 50, 1e-9)
	nearAngle(t, "deg", got.Deg, 250, 1e-9)
	near(t, "effect", got.Effect, 3, 1e-9)
}

// Half the sum and half the difference at a half turn, by hand: tire 0.6 mm at 90,
// wheel 0.4 mm at 0.
func TestMatchTwoMountsByHand(t *testing.T) {
	t.Parallel()
	a := balance.Harmonic{Amplitude: math.Hypot(0.4, 0.6), Deg: math.Atan2(0.6, 0.4) * 180 / math.Pi}
	b := balance.Harmonic{Amplitude: math.Hypot(0.4, 0.6), Deg: 360 - a.Deg}
	got, err := balance.MatchTwoMounts(a, b, 180)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "tire", got.Tire.Amplitude, 0.6, 1e-12)
	nearAngle(t, "tire", got.Tire.Deg, 90, 1e-9)
	near(t, "wheel", got.Wheel.Amplitude, 0.4, 1e-12)
	nearAngle(t, "high spot to low spot", got.TurnDeg, 90, 1e-9)
	near(t, "left", got.Left.Amplitude, 0.2, 1e-12)
	near(t, "peak to peak", got.Left.PeakToPeak(), 0.4, 1e-12)
}

func TestMatchMarksNeedsTheKey(t *testing.T) {
	t.Parallel()
	key := map[string]balance.Meaning{"red dot": balance.HighSpot, "yellow dot": balance.LightSpot}
	wheel := map[string]balance.Meaning{"valve": balance.HeavySpot, "dimple": balance.LowSpot}

	tire := []balance.Mark{{Look: "yellow dot", Deg: 40}, {Look: "red dot", Deg: 200}}
	for _, c := range []struct {
		name  string
		wheel []balance.Mark
		turn  float64
		look  string
	}{
		{"high spot to low spot where both are marked",
			[]balance.Mark{{Look: "valve"}, {Look: "dimple", Deg: 90}}, 250, "red dot"},
		{"light spot to heavy spot else", []balance.Mark{{Look: "valve"}}, 320, "yellow dot"},
	} {
		got, err := balance.MatchMarks(balance.Marks{Tire: tire, Wheel: c.wheel, TireKey: key, WheelKey: wheel})
		if err != nil {
			t.Fatal(err)
		}
		nearAngle(t, c.name, got.TurnDeg, c.turn, 1e-9)
		if got.Tire.Look != c.look {
			t.Errorf("%s: %s", c.name, got.Tire.Look)
		}
	}
}

// A car maker's manual: high spot within 101.6 mm (4 in) of the first after a half
// turn, the tire is at fault; within that of the opposite side, the wheel.
func TestHalfTurnFault(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		second float64
		want   balance.HalfTurnFault
	}{{15, balance.FaultTire}, {195, balance.FaultWheel}, {100, balance.FaultUnsure}} {
		got, _, err := balance.HalfTurn(10, c.second, 320, 101.6)
		if err != nil || got != c.want {
			t.Errorf("second high spot at %g: %s, %v; want %s", c.second, got, err, c.want)
		}
	}
}

// 17 to 24 g, the average of weights found by the road, is about 28 to 39 N at
// 100 km/h on a car (rim 203 mm, rolling radius 310 mm).
func TestLostWeight(t *testing.T) {
	t.Parallel()
	s, err := balance.AtSpeed(100, 310)
	if err != nil {
		t.Fatal(err)
	}

	for grams, newtons := range map[float64]float64{17: 28, 24: 39} {
		u, _, err := balance.LostWeight(wheelPlanes, grams, balance.Plane{RadiusMM: 203, OffsetMM: 180}, 30)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "N", s.Force(u.Static()), newtons, 0.5)
		near(t, "inner plane", u.Inner.GMM, 0, 1e-9)
		nearAngle(t, "heavy side opposite", u.Outer.Deg, 210, 1e-9)
	}
}
