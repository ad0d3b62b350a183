package balance_test

import (
	"errors"
	"math"
	"math/cmplx"
	"strings"
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

// A car maker's manual: marked on the tire, a high spot within 101.6 mm (4 in) of the first
// after a half turn is the tire's; within that of the opposite side, the wheel's. Counted
// from the valve it is the other way round, since the tire's marks move with it. On a radius
// of 320 mm, 101.6 mm are 18.19 degrees.
func TestHalfTurnFault(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		second           float64
		onTire, fromStem balance.HalfTurnFault
	}{
		{15, balance.FaultTire, balance.FaultWheel},
		{28.1, balance.FaultTire, balance.FaultWheel},
		{28.3, balance.FaultUnsure, balance.FaultUnsure},
		{171.7, balance.FaultUnsure, balance.FaultUnsure},
		{171.9, balance.FaultWheel, balance.FaultTire},
		{195, balance.FaultWheel, balance.FaultTire},
	} {
		for from, want := range map[balance.CountedFrom]balance.HalfTurnFault{
			balance.FromMark: c.onTire, balance.FromValve: c.fromStem,
		} {
			got, _, err := balance.HalfTurn(from, 10, c.second, 320, 101.6)
			if err != nil || got != want {
				t.Errorf("second high spot at %g from %s: %s, %v; want %s", c.second, from, got, err, want)
			}
		}
	}

	if _, _, err := balance.HalfTurn("", 10, 15, 320, 101.6); !errors.Is(err, balance.ErrUnknownChoice) {
		t.Errorf("counted from nothing: %v", err)
	}
}

// TestHalfTurnOfMadeWheels turns invented tires half around on invented wheels and looks
// where the sum of both parts is highest: seen from the valve, and on the tire.
func TestHalfTurnOfMadeWheels(t *testing.T) {
	t.Parallel()
	high := func(tire, wheel, tireDeg, wheelDeg float64) float64 {
		best, at := math.Inf(-1), 0.0
		for deg := 0.0; deg < 360; deg += 0.25 {
			v := tire*math.Cos((deg-tireDeg)*math.Pi/180) + wheel*math.Cos((deg-wheelDeg)*math.Pi/180)
			if v > best {
				best, at = v, deg
			}
		}
		return at
	}

	for _, c := range []struct {
		tire, wheel float64
		want        balance.HalfTurnFault
	}{{1, 0.1, balance.FaultTire}, {0.1, 1, balance.FaultWheel}} {
		first, second := high(c.tire, c.wheel, 40, 150), high(c.tire, c.wheel, 220, 150)
		got, _, err := balance.HalfTurn(balance.FromValve, first, second, 510, 101.6)
		if err != nil || got != c.want {
			t.Errorf("from the valve, %g then %g: %s, %v; want %s", first, second, got, err, c.want)
		}

		// A mark on the tire that sat at the valve first sits opposite to it then.
		got, _, err = balance.HalfTurn(balance.FromMark, first, second-180, 510, 101.6)
		if err != nil || got != c.want {
			t.Errorf("from a mark, %g then %g: %s, %v; want %s", first, second-180, got, err, c.want)
		}
	}
}

// TestMatchReadings: what is read at the tread is tire plus wheel. By hand: a wheel that runs
// out by 1.00 mm, high at the valve, under a tire of 0.60 mm, high opposite, shows 0.40 mm at
// the tread. Taken for the tire's, 0.40 mm would promise 0.60 mm after a half turn, which
// gives 1.60 mm. The same tire high at the valve shows 1.60 mm, and 0.40 mm after half a turn.
func TestMatchReadings(t *testing.T) {
	t.Parallel()
	around := func(tire, tireDeg, wheel float64) (assembly, bare []float64) {
		for i := range 12 {
			at := float64(i) * math.Pi / 6
			w := wheel / 2 * math.Cos(at)
			assembly = append(assembly, 3+w+tire/2*math.Cos(at-tireDeg*math.Pi/180))
			bare = append(bare, w)
		}
		return assembly, bare
	}

	for _, c := range []struct {
		name             string
		tire, deg, wheel float64
		now, left, turn  float64
		worth            bool
	}{
		{"best as it sits", 0.6, 180, 1, 0.4, 0.4, 0, false},
		{"worst as it sits", 0.6, 0, 1, 1.6, 0.4, 180, true},
		// At 90 degrees the sum is the hypotenuse: sqrt(0.6² + 1²) = 1.1662.
		{"a quarter off", 0.6, 90, 1, 1.1662, 0.4, 90, true},
		{"a small tire, worth it", 0.051, 0, 1, 1.051, 0.949, 180, true},
		{"smaller than a gauge can tell", 0.049, 0, 1, 1.049, 0.951, 180, false},
		{"a true wheel", 0.6, 0, 0, 0.6, 0.6, 0, false},
	} {
		got, err := balance.MatchReadings(around(c.tire, c.deg, c.wheel))
		if err != nil || got.Worthwhile != c.worth ||
			math.Abs(got.NowMM-c.now) > 5e-5 || math.Abs(got.LeftMM-c.left) > 5e-5 {
			t.Errorf("%s: %+v, %v", c.name, got, err)
		}
		if c.turn != 0 {
			nearAngle(t, c.name, got.TurnDeg, c.turn, 1e-6)
		}
		if strings.HasPrefix(got.Advice, "leave it") == c.worth {
			t.Errorf("%s: %s", c.name, got.Advice)
		}
	}

	if _, err := balance.MatchReadings([]float64{1, 2}, []float64{1, 2, 3}); !errors.Is(err, balance.ErrTooFew) {
		t.Errorf("two readings: %v", err)
	}
}

// TestCenter: the reversal method. By hand: a wheel that asks for 30 g at 0 degrees, clamped
// so that 10 g at 0 are added, shows 40 g; half a turn on, 20 g. At right angles, 30 g at 0
// and 40 g at 90 show 50 g at 53.13, and half a turn on 50 g at 306.87.
func TestCenter(t *testing.T) {
	t.Parallel()
	p := balance.Planes{Inner: balance.Plane{RadiusMM: 200, OffsetMM: -150}, Outer: balance.Plane{RadiusMM: 200}}
	spin := func(outer, outerDeg, inner, innerDeg float64) balance.Unbalance {
		asked := balance.Shown{MassG: inner, Deg: innerDeg}
		u, _, err := balance.FromShown(p, asked, balance.Shown{MassG: outer, Deg: outerDeg})
		if err != nil {
			t.Fatal(err)
		}
		return u
	}

	right := math.Atan2(40, 30) * 180 / math.Pi
	c, err := balance.Center(p, spin(40, 0, 50, right), spin(20, 0, 50, 360-right))
	if err != nil {
		t.Fatal(err)
	}

	inner, outer := c.Wheel.Correction(p)
	if math.Abs(outer.MassG-30) > 1e-9 || math.Abs(inner.MassG-30) > 1e-9 {
		t.Errorf("the wheel asks for %+v and %+v, want 30 g at 0", outer, inner)
	}
	inner, outer = c.Clamp.Correction(p)
	nearAngle(t, "inner clamp", inner.Deg, 90, 1e-9)
	if math.Abs(outer.MassG-10) > 1e-9 || math.Abs(inner.MassG-40) > 1e-9 {
		t.Errorf("the clamping adds %+v and %+v, want 10 g at 0 and 40 g at 90", outer, inner)
	}

	_, err = balance.Center(balance.Planes{}, spin(1, 0, 0, 0), spin(1, 0, 0, 0))
	if !errors.Is(err, balance.ErrZeroRadius) {
		t.Errorf("no planes: %v", err)
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
