package balance_test

import (
	"fmt"

	"rimledger/models/balance"
)

// A wheel on the bench: the balancer shows 35 g at 30 degrees inside and 40 g at
// 36 degrees outside. The inner flange takes clips, the outer weights must hide
// behind five spokes. All names and numbers are invented.
func ExampleChoose() {
	planes := balance.Planes{
		Inner: balance.Plane{RadiusMM: 203, OffsetMM: -110},
		Outer: balance.Plane{RadiusMM: 190, OffsetMM: 20},
	}
	u, _, err := balance.FromShown(planes, balance.Shown{MassG: 35, Deg: 30}, balance.Shown{MassG: 40, Deg: 36})
	if err != nil {
		fmt.Println(err)
		return
	}

	var spokes []balance.Spot
	for i, name := range []string{"spoke A", "spoke B", "spoke C", "spoke D", "spoke E"} {
		spokes = append(spokes, balance.Spot{Name: name, Deg: float64(72 * i), WidthMM: 120})
	}

	stock := []balance.Weight{{Name: "segment 5 g", Kind: balance.Adhesive, MassG: 5, LengthMM: 16, MaxSegments: 8}}
	for g := 5.0; g <= 60; g += 5 {
		stock = append(stock,
			balance.Weight{Name: fmt.Sprintf("clip P %g g", g), Kind: balance.Clip, Clip: "P", MassG: g})
	}

	p, err := balance.Choose(balance.Problem{
		Measured: planes, Unbalance: u, Stock: stock, SlackG: 1, LimitInnerG: 7, LimitOuterG: 7,
		Places: []balance.Place{
			{Name: "inner flange", Kind: balance.Clip, Clips: []string{"P"}, Plane: planes.Inner},
			{Name: "outer band", Kind: balance.Adhesive, Plane: planes.Outer, Spots: spokes},
		},
	})
	if err != nil {
		fmt.Println(err)
		return
	}

	for _, w := range p.Pieces {
		fmt.Printf("%s, %s: %g g at %.0f deg\n", w.Place, w.Weight, w.MassG, w.Deg)
	}

	fmt.Printf("limits met: %v; hiding costs %.0f g\n", p.Left.Meets, p.ExtraG)
	// Output:
	// inner flange, clip P 35 g: 35 g at 30 deg
	// outer band, segment 5 g: 25 g at 0 deg
	// outer band, segment 5 g: 25 g at 72 deg
	// limits met: true; hiding costs 10 g
}

// The balancer shows clip flanges, the weights go on adhesive bands: the outer weight
// doubles, since the band sits half as far out.
func ExampleTransfer() {
	flanges := balance.Planes{
		Inner: balance.Plane{RadiusMM: 200, OffsetMM: 0},
		Outer: balance.Plane{RadiusMM: 200, OffsetMM: 180},
	}

	bands := balance.Planes{
		Inner: balance.Plane{RadiusMM: 200, OffsetMM: 0},
		Outer: balance.Plane{RadiusMM: 200, OffsetMM: 90},
	}

	u, _, err := balance.FromShown(flanges, balance.Shown{}, balance.Shown{MassG: 20, Deg: 100})
	if err != nil {
		fmt.Println(err)
		return
	}

	u, err = balance.Transfer(u, flanges, bands)
	if err != nil {
		fmt.Println(err)
		return
	}
	inner, outer := u.Correction(bands)
	fmt.Printf("inner %.0f g at %.0f deg, outer %.0f g at %.0f deg\n", inner.MassG, inner.Deg, outer.MassG, outer.Deg)
	// Output: inner 20 g at 280 deg, outer 40 g at 100 deg
}

// 18 oz on a steer assembly is beyond the 16 oz of over-the-road tires: it comes
// apart, it gets no more weight.
func ExampleCheck() {
	limit, err := balance.LimitByID("heavy-road-steer")
	if err != nil {
		fmt.Println(err)
		return
	}

	v, err := balance.Check(limit, 18*28.349523125)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("at most %g %s (%s): within %v\n", limit.Value, limit.Unit, limit.Source, v.Within)
	fmt.Println(v.Advice[len(v.Advice)-1])
	// Output:
	// at most 16 oz (TMC RP 214C, table B): within false
	// do not add more weight
}

// The tire turned half around on the rim between two spins.
func ExampleIndexBalance() {
	planes := balance.Planes{Inner: balance.Plane{RadiusMM: 200}, Outer: balance.Plane{RadiusMM: 200, OffsetMM: 180}}

	first, second := balance.Mass(60, 200, 90), balance.Mass(20, 200, 90) // tire 20 g, rim 40 g, both at 90
	got, err := balance.IndexBalance(balance.Spins{
		Planes: planes, TurnDeg: 180, ResolutionG: 1,
		First: balance.HalfEach(first), Second: balance.HalfEach(second),
	})
	if err != nil {
		fmt.Println(err)
		return
	}

	fmt.Printf("turn %.0f deg from the first seat, %.0f from here: %.0f g instead of %.0f g\n",
		got.TurnDeg, got.FurtherDeg, got.WeightG, got.FirstG)
	// Output: turn 180 deg from the first seat, 0 from here: 20 g instead of 60 g
}
