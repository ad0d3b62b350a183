package balance_test

import (
	"math"
	"slices"
	"testing"

	"rimledger/models/balance"
)

// wheelPlanes is the geometry of the two-plane examples: planes 180 mm apart,
// weights at 200 mm.
var wheelPlanes = balance.Planes{
	Inner: balance.Plane{RadiusMM: 200, OffsetMM: 0},
	Outer: balance.Plane{RadiusMM: 200, OffsetMM: 180},
}

// Hand arithmetic by the lever rule of any vibration text: U2 = U z/L, U1 = U (1 - z/L).
func TestHeavySpotsInTwoPlanes(t *testing.T) {
	t.Parallel()
	one, _, err := balance.Resolve(wheelPlanes, balance.Lump{MassG: 60, RadiusMM: 330, Deg: 90, OffsetMM: 50})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "inner g mm", one.Inner.GMM, 14300, 1e-9)
	near(t, "outer g mm", one.Outer.GMM, 5500, 1e-9)
	in, out := one.Correction(wheelPlanes)
	near(t, "inner g", in.MassG, 71.5, 1e-9)
	nearAngle(t, "inner", in.Deg, 270, 1e-9)
	near(t, "outer g", out.MassG, 27.5, 1e-9)
	nearAngle(t, "outer", out.Deg, 270, 1e-9)

	two := twoSpots(t)
	in, out = two.Correction(wheelPlanes)
	near(t, "inner g", in.MassG, 51.91, 0.005)
	nearAngle(t, "inner", in.Deg, 211.32, 0.005)
	near(t, "outer g", out.MassG, 27.18, 0.005)
	nearAngle(t, "outer", out.Deg, 17.31, 0.005)
	near(t, "static", two.Static().GMM, 5273.6, 0.05)
	nearAngle(t, "static", two.Static().Deg, 45.76, 0.005)
}

func twoSpots(t testing.TB) balance.Unbalance {
	t.Helper()
	u, _, err := balance.Resolve(wheelPlanes,
		balance.Lump{MassG: 40, RadiusMM: 330, Deg: 30, OffsetMM: 20},
		balance.Lump{MassG: 25, RadiusMM: 330, Deg: 200, OffsetMM: 150})
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// The same, rounded to 5 g at the same angles: residuals by hand, each under half
// a step times the radius.
func TestSimpleRoundingResidual(t *testing.T) {
	t.Parallel()
	p := openFlanges(wheelPlanes, fiveGrams(24))
	p.Unbalance = twoSpots(t)
	got, err := balance.Choose(p)
	if err != nil {
		t.Fatal(err)
	}

	r := got.Rounded
	if len(r.Pieces) != 2 || r.Pieces[0].MassG != 50 || r.Pieces[1].MassG != 25 {
		t.Fatalf("rounded pieces %+v, want 50 and 25 g", r.Pieces)
	}
	near(t, "inner left", r.Left.Unbalance.Inner.GMM, 382.0, 0.05)
	nearAngle(t, "inner left", r.Left.Unbalance.Inner.Deg, 31.3, 0.05)
	near(t, "outer left", r.Left.Unbalance.Outer.GMM, 436.6, 0.05)
	nearAngle(t, "outer left", r.Left.Unbalance.Outer.Deg, 197.3, 0.05)

	if got.Left.ScoreG > r.Left.ScoreG+1e-9 {
		t.Errorf("the choice leaves %g g, rounding %g g", got.Left.ScoreG, r.Left.ScoreG)
	}
}

// fiveGrams is a stock of clips of 5, 10, ... g.
func fiveGrams(n int) []balance.Weight {
	var stock []balance.Weight
	for i := range n {
		stock = append(stock, balance.Weight{Name: "clip", Kind: balance.Clip, MassG: float64(5 * (i + 1))})
	}
	return stock
}

// openFlanges is a problem with a clip flange in each measured plane.
func openFlanges(planes balance.Planes, stock []balance.Weight) balance.Problem {
	return balance.Problem{Measured: planes, Stock: stock, Places: []balance.Place{
		{Name: "inner flange", Kind: balance.Clip, Plane: planes.Inner},
		{Name: "outer flange", Kind: balance.Clip, Plane: planes.Outer},
	}}
}

// Sine rule by hand: 40 g at 30 deg behind spokes at 0 and 72 deg, and at mid-spoke.
func TestHiddenWeightExamples(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name                    string
		deg, b, wantA, wantB, e float64
	}{
		{"nearer the first spoke", 30, 72, 28.1, 21.0, 0.05},
		{"mid-spoke at 72", 36, 72, 24.7, 24.7, 0.05},
		{"mid-spoke at 120 takes double", 60, 120, 40, 40, 1e-9},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			a, b, err := balance.Split(40, c.deg, 0, c.b)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "a", a, c.wantA, c.e)
			near(t, "b", b, c.wantB, c.e)
		})
	}
}

// F = m r w^2 by hand, and two published rounded figures of the trade.
func TestForceAtSpeed(t *testing.T) {
	t.Parallel()

	const carRolling = 1950 / (2 * math.Pi) // circumference 1.95 m
	for _, c := range []struct {
		name                         string
		massG, radius, kmh, rolling  float64
		wantN, tolN, wantHz, wantTol float64
	}{
		{"50 g on a car", 50, 200, 100, 320, 75.35, 0.005, 13.82, 0.005},
		{"100 g on a truck", 100, 285.7, 90, 500, 71.43, 0.006, 7.96, 0.005},
		{"50 g on a 16 in rim at 100 km/h", 50, 203.2, 100, carRolling, 81, 0.5, 14.2, 0.06},
		{"the same at half the speed", 50, 203.2, 50, carRolling, 20, 0.5, 7.1, 0.06},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s, err := balance.AtSpeed(c.kmh, c.rolling)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "N", s.Force(balance.Mass(c.massG, c.radius, 0)), c.wantN, c.tolN)
			near(t, "Hz", s.Hertz(), c.wantHz, c.wantTol)
		})
	}
}

// Worked grades: a tool-holder catalog prints 12 g mm for the first; the second is
// the example of a turbine rotor from memory, one tenth of its 3600 kg; the rest
// is hand arithmetic with 9549.297 G m / n.
func TestPermissibleExamples(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name                     string
		grade, kg, rpm, gmm, tol float64
	}{
		{"tool holder G 6.3", 6.3, 2, 10000, 12.0, 0.05},
		{"turbine rotor G 2.5", 2.5, 360, 3000, 2864.8, 0.05},
		{"wheel G 40", 40, 20, 900, 8488, 0.5},
		{"truck wheel G 40", 40, 60, 500, 45837, 0.5},
		{"wheel G 16", 16, 20, 900, 3395, 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := balance.Permissible(c.grade, c.kg, balance.PerMinute(c.rpm))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "g mm", got, c.gmm, c.tol)
		})
	}

	a, b, err := balance.PermissiblePlanes(28648, 1500, 900)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "plane A", a, 10743, 0.5)
	near(t, "plane B", b, 17905, 0.5)

	a, b, err = balance.PermissiblePlanes(8488, 90, 90)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "half each", a, 4244, 1e-9)
	near(t, "half each, grams at 200 mm", b/200, 21.2, 0.05)

	a, _, err = balance.PermissiblePlanes(1000, 10, 990)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "no plane over 70 %", a, 700, 1e-9)
}

// p = 3.6 G m D / (v d), by hand.
func TestGradeMassExamples(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name                             string
		grade, kg, tire, circle, v, g, e float64
	}{
		{"car at 160", 40, 20, 650, 406, 160, 28.8, 0.05},
		{"fast car G 16", 16, 20, 650, 500, 200, 7.49, 0.005},
		{"truck", 40, 60, 1040, 571.5, 90, 174.7, 0.05},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := balance.GradeMass(c.grade, c.kg, c.tire, c.circle, c.v)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "g", got, c.g, c.e)
		})
	}

	// A small car's workshop page allows 2600 g(f) mm, about 15 g: 15.75 g at 165.1
	// mm, inside G 40 (29.6 at 13 kg, 150 km/h, 282 mm).
	near(t, "grams", balance.Vector{GMM: 2600}.At(165.1), 15.75, 0.005)

	s, err := balance.AtSpeed(150, 282)
	if err != nil {
		t.Fatal(err)
	}
	g, err := balance.Grade(2600, 13, s)
	if err != nil {
		t.Fatal(err)
	}

	near(t, "grade", g, 29.6, 0.05)
}

// RP 214C tables as quoted in a truck-tire maker's service manual, ounces and
// inches, with the metric figures worked out by hand.
func TestHeavyLimits(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		id           string
		value, grams float64
	}{
		{"heavy-19.5-steer", 14, 396.9}, {"heavy-19.5-other", 18, 510.3},
		{"heavy-road-steer", 16, 453.6}, {"heavy-road-other", 20, 567.0},
		{"heavy-site-steer", 18, 510.3}, {"heavy-site-other", 22, 623.7},
		{"heavy-wide-steer", 24, 680.4}, {"heavy-wide-other", 28, 793.8},
		{"heavy-19.5-steer-runout", 0.095, 2.41}, {"heavy-road-other-runout", 0.125, 3.18},
		{"heavy-site-steer-runout", 0.110, 2.79}, {"wheel-steel-runout", 0.070, 1.78},
		{"wheel-aluminum-runout", 0.030, 0.76}, {"wheel-wide-steel-runout", 0.075, 1.91},
		{"wheel-steel", 6, 170.1}, {"wheel-aluminum", 4, 113.4},
		{"car-flange", 0.25, 7.0874}, {"car-flange-5g", 5, 5},
		{"car-runout-off", 0.050, 1.27}, {"car-runout-on", 0.060, 1.52},
	} {
		l, err := balance.LimitByID(c.id)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.id, l.Value, c.value, 0)
		near(t, c.id+" metric", l.Base(), c.grams, 0.06)

		at, err := balance.Check(l, l.Base())
		if err != nil || !at.Within || at.Advice != nil {
			t.Errorf("%s: at the limit %+v, %v", c.id, at, err)
		}

		over, err := balance.Check(l, l.Base()*1.01)
		if err != nil || over.Within || !slices.Contains(over.Advice, "do not add more weight") {
			t.Errorf("%s: beyond the limit %+v, %v", c.id, over, err)
		}
	}
}

func TestLimitsNameTheirSource(t *testing.T) {
	t.Parallel()

	seen := map[string]bool{}
	for _, l := range balance.Limits() {
		if seen[l.ID] || l.Source == "" || !slices.Contains([]string{"F", "F2", "M", "C"}, l.Status) || l.Value <= 0 {
			t.Errorf("bad row %+v", l)
		}
		if l.Status == "M" && !l.Information {
			t.Errorf("%s: a value from memory only informs", l.ID)
		}
		seen[l.ID] = true
	}

	force, err := balance.Check(balance.LimitsFor("car", balance.ForceVariation1)[0], 500)
	if err != nil || force.Within || force.Advice != nil {
		t.Errorf("a limit that informs gives no advice: %+v, %v", force, err)
	}
}

// SAE J1986 flange ranges, second-hand.
func TestClipsForFlange(t *testing.T) {
	t.Parallel()

	for lip, want := range map[float64]string{2.0: "C", 2.7: "C", 3.0: "P", 4.6: "T", 5.5: "MC", 3.35: ""} {
		got, err := balance.ClipsFor(lip)
		if err != nil {
			t.Fatal(err)
		}

		var types string
		for _, c := range got[:min(1, len(got))] {
			types = c.Type
		}

		if types != want {
			t.Errorf("lip %g mm: %q, want %q", lip, types, want)
		}
	}
}

// Hand arithmetic with usual values: 0.5 mm once per turn on a car tire (b 180, r 310, s
// 0.7) is 108 g at a 203 mm rim; truck (b 210, r 510, s 0.75) 259 g at 286 mm.
func TestWearRoundTable(t *testing.T) {
	t.Parallel()
	car := balance.Tread{Density: balance.RubberDensity, LandRatio: balance.LandRatioCar, WidthMM: 180, RadiusMM: 310}

	truck := balance.Tread{
		Density:   balance.RubberDensity,
		LandRatio: balance.LandRatioTruck,
		WidthMM:   210,
		RadiusMM:  510,
	}

	for _, c := range []struct {
		tread            balance.Tread
		a, rim, grams, e float64
	}{
		{car, 0.25, 203, 54, 0.5}, {car, 0.5, 203, 108, 0.5}, {car, 1, 203, 215, 0.5},
		{truck, 0.25, 286, 129, 0.6}, {truck, 0.5, 286, 259, 0.6}, {truck, 1, 286, 517, 1},
	} {
		v, _, err := balance.WearRound(c.tread, c.a, 40)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "grams", v.At(c.rim), c.grams, c.e)
		nearAngle(t, "heavy opposite to the wear", v.Deg, 220, 1e-9)
	}
}

// A patch all the way around is no unbalance; many thin patches as deep as a wave
// add up to the wave.
func TestWornPatchAddsUpToWave(t *testing.T) {
	t.Parallel()
	tread := balance.Tread{Density: 1150, LandRatio: 0.7, WidthMM: 180, RadiusMM: 310}
	const n = 720
	length := 2 * math.Pi * tread.RadiusMM / n

	var patches []balance.Vector
	for i := range n {
		deg := 360 * float64(i) / n
		depth := 1 + math.Cos((deg-40)*math.Pi/180)
		v, _, err := balance.WornPatch(tread, depth, length, deg)
		if err != nil {
			t.Fatal(err)
		}
		patches = append(patches, v)
	}

	wave, _, err := balance.WearRound(tread, 1, 40)
	if err != nil {
		t.Fatal(err)
	}

	sum := balance.Sum(patches...)
	near(t, "g mm", sum.GMM, wave.GMM, 1e-4*wave.GMM)
	nearAngle(t, "heavy side", sum.Deg, wave.Deg, 1e-3)
}
