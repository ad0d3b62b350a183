package balance_test

import (
	"errors"
	"math"
	"testing"

	"rimledger/models/balance"
)

// TestPlanesByHand: the couple is the difference of the planes times half their distance;
// what one plane shows is half in each; a correction stands opposite, at its own radius.
func TestPlanesByHand(t *testing.T) {
	t.Parallel()
	p := balance.Planes{Inner: balance.Plane{RadiusMM: 150, OffsetMM: -120},
		Outer: balance.Plane{RadiusMM: 200, OffsetMM: 80}}

	for name, row := range map[string]struct {
		inner, outer balance.Vector
		gmm2, deg    float64
	}{
		"outside only": {balance.Vector{}, balance.Vector{GMM: 1000, Deg: 30}, 1000 * 100, 30},
		"inside only":  {balance.Vector{GMM: 1000, Deg: 30}, balance.Vector{}, 1000 * 100, 210},
		"opposite":     {balance.Vector{GMM: 1000, Deg: 180}, balance.Vector{GMM: 1000}, 2000 * 100, 0},
		"in phase":     {balance.Vector{GMM: 1000, Deg: 50}, balance.Vector{GMM: 1000, Deg: 50}, 0, 0},
		"at a right angle": {balance.Vector{GMM: 300, Deg: 180}, balance.Vector{GMM: 400, Deg: 90}, 500 * 100,
			53.1301023542},
	} {
		c := balance.Unbalance{Inner: row.inner, Outer: row.outer}.Couple(p)
		near(t, name+": couple", c.GMM2, row.gmm2, 1e-6)
		if row.gmm2 > 0 {
			near(t, name+": angle", c.Deg, row.deg, 1e-6)
		}
	}

	u, _, err := balance.FromSingle(p, balance.Shown{MassG: 30, Deg: 90})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []balance.Vector{u.Inner, u.Outer} {
		near(t, "half of 30 g at 200 mm", v.GMM, 3000, 1e-9)
		near(t, "heavy opposite the weight", v.Deg, 270, 1e-9)
	}

	in, out := u.Correction(p)
	near(t, "3000 g mm at 150 mm", in.MassG, 20, 1e-9)
	near(t, "3000 g mm at 200 mm", out.MassG, 15, 1e-9)
	near(t, "where", in.Deg, 90, 1e-9)
}

// TestGradeByHand: the sums of ISO 21940-11, U = 1000 G m / w, by hand, and shares of 30 to
// 70 % between two planes (second-hand).
func TestGradeByHand(t *testing.T) {
	t.Parallel()
	gmm, err := balance.Permissible(40, 20, 80)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "1000 * 40 * 20 / 80", gmm, 10_000, 1e-9)
	back, err := balance.Grade(10_000, 20, 80)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "and back", back, 40, 1e-9)

	for _, row := range [][4]float64{{30, 70, 700, 300}, {29, 71, 700, 300}, {31, 69, 690, 310}, {70, 30, 300, 700},
		{71, 29, 300, 700}, {69, 31, 310, 690}, {50, 50, 500, 500}} {
		inner, outer, err := balance.PermissiblePlanes(1000, row[0], row[1])
		if err != nil {
			t.Fatal(err)
		}
		near(t, "inner", inner, row[2], 1e-9)
		near(t, "outer", outer, row[3], 1e-9)
	}

	// U w² in N: 0.01 kg m at 100 rad/s; a moment in N m: 1e6 g mm² are 0.001 kg m².
	s := balance.Spin(100)
	near(t, "force", s.Force(balance.Vector{GMM: 10_000}), 100, 1e-9)
	near(t, "and back", s.FromForce(100), 10_000, 1e-6)
	near(t, "moment", s.Moment(balance.Couple{GMM2: 1e6}), 10, 1e-9)
	near(t, "and back", s.FromMoment(10), 1e6, 1e-6)
	near(t, "turns a second", balance.PerMinute(90).Hertz(), 1.5, 1e-12)
}

// TestSmallPatch: a short patch is a point of its mass: 100 by 10 by 20 mm of rubber of
// 1000 kg/m³ are 20 g, at 300 mm 6000 g mm, light where it is gone.
func TestSmallPatch(t *testing.T) {
	t.Parallel()
	tread := balance.Tread{Density: 1000, LandRatio: 1, WidthMM: 100, RadiusMM: 300}
	v, _, err := balance.WornPatch(tread, 10, 20, 50)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "g mm", v.GMM, 6000, 3) // the arc of 20 mm takes 0.02 %
	near(t, "heavy opposite", v.Deg, 230, 1e-9)
	tread.LandRatio = 0.5
	half, _, err := balance.WornPatch(tread, 10, 20, 50)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "half of it groove", half.GMM, v.GMM/2, 1e-9)
}

// TestLimitsOfInput: each limit with what is just accepted and just refused: a mass above 0
// to 1000 kg, a grade to 4000 mm/s, 500 km/h, planes a millimetre apart, a turn of 20
// degrees either way (chosen by us).
func TestLimitsOfInput(t *testing.T) {
	t.Parallel()
	permissible := func(grade, kg float64, s balance.Spin) error {
		_, err := balance.Permissible(grade, kg, s)
		return err
	}
	speed := func(kmh float64) error {
		_, err := balance.AtSpeed(kmh, 300)
		return err
	}
	split := func(inner, outer float64) error {
		_, _, err := balance.PermissiblePlanes(1000, inner, outer)
		return err
	}
	turn := func(deg float64) error {
		p := balance.Planes{Inner: balance.Plane{RadiusMM: 200, OffsetMM: -100},
			Outer: balance.Plane{RadiusMM: 200, OffsetMM: 100}}
		_, err := balance.IndexBalance(balance.Spins{Planes: p, TurnDeg: deg})
		return err
	}
	planes := func(apart float64) error {
		p := balance.Planes{Inner: balance.Plane{RadiusMM: 200}, Outer: balance.Plane{RadiusMM: 200, OffsetMM: apart}}
		_, _, err := balance.Resolve(p)
		return err
	}

	for name, row := range map[string]struct{ got, want error }{
		"1000 kg":             {permissible(40, 1000, 80), nil},
		"more":                {permissible(40, 1000.001, 80), balance.ErrTooHeavy},
		"no mass":             {permissible(40, 0, 80), balance.ErrTooHeavy},
		"less than none":      {permissible(40, -1, 80), balance.ErrOutOfRange},
		"a mass of no number": {permissible(40, math.NaN(), 80), balance.ErrNotFinite},
		"grade 4000":          {permissible(4000, 20, 80), nil},
		"a higher grade":      {permissible(4000.001, 20, 80), balance.ErrOutOfRange},
		"hardly turning":      {permissible(40, 20, 1e-3), nil},
		"standing":            {permissible(40, 20, 0.9e-3), balance.ErrOutOfRange},
		"500 km/h":            {speed(500), nil},
		"faster":              {speed(500.001), balance.ErrOutOfRange},
		"backwards":           {speed(-0.001), balance.ErrOutOfRange},
		"planes 1 mm apart":   {split(0.5, 0.5), nil},
		"closer":              {split(0.5, 0.499), balance.ErrZeroDistance},
		"wheel planes, 1 mm":  {planes(1), nil},
		"wheel planes, less":  {planes(0.999), balance.ErrZeroDistance},
		"swapped, 1 mm":       {planes(-1), nil},
		"a turn of 20":        {turn(20), nil},
		"a turn of 19.99":     {turn(19.99), balance.ErrTurnTooSmall},
		"a turn of 340":       {turn(340), nil},
		"a turn of 340.01":    {turn(340.01), balance.ErrTurnTooSmall},
		"no turn":             {turn(0), balance.ErrTurnTooSmall},
	} {
		if !errors.Is(row.got, row.want) {
			t.Errorf("%s: %v, want %v", name, row.got, row.want)
		}
	}
}
