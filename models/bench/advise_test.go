package bench_test

import (
	"strings"
	"testing"

	"rimledger/models/balance"
	"rimledger/models/bench"
)

// TestAdvise: the advice follows the cause. 150 g on a light wheel is common practice, 28 oz
// (793.8 g) and the 16 oz (453.6 g) of a steer axle are TMC RP 214 edition C, second-hand.
// Weights behind two spokes 180 degrees apart cannot make anything at right angles to them.
func TestAdvise(t *testing.T) {
	t.Parallel()
	ask := func(a bench.Assembly, planes balance.Planes, each float64, off bool) bench.Input {
		in := flanges(a, planes, balance.Shown{MassG: each, Deg: 90}, balance.Shown{MassG: each, Deg: 90})
		in.WeightsOff = off
		return in
	}
	hidden := ask(car, lightWheel, 40, true)
	hidden.Problem.Places[0].Spots = []balance.Spot{{Deg: 0}, {Deg: 180}}
	coarse := ask(car, lightWheel, 25, true)
	coarse.Problem.Stock, coarse.UsualStock = []balance.Weight{{Name: "60 g", Kind: balance.Clip, MassG: 60}}, ""

	for _, c := range []struct {
		name         string
		in           bench.Input
		first, title string
	}{
		{"usual", ask(car, lightWheel, 40, true), "", ""},
		{"75 g and 75 g on a car", ask(car, lightWheel, 75, false), "", "The weights of the box"},
		{"more on a car, weights may be on", ask(car, lightWheel, 75.1, false), "all weights off?", ""},
		{"more on a bare car wheel", ask(car, lightWheel, 75.1, true), "", "Not more weight"},
		{"15.9 oz on a bare steer wheel", ask(tractor, heavyWheel, 225, true), "", ""},
		{"16.1 oz on a bare steer wheel", ask(tractor, heavyWheel, 228, true), "", "Not more weight"},
		{"27.9 oz on a steer wheel, weights may be on", ask(tractor, heavyWheel, 395, false), "", ""},
		{"28.1 oz on a steer wheel, weights may be on", ask(tractor, heavyWheel, 398, false), "all weights off?", ""},
		{"behind the wrong spokes", hidden, "", "Hiding behind the spokes"},
		{"a box of one size", coarse, "", "The weights of the box"},
	} {
		r, err := bench.Propose(c.in)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}

		got := r.Advise(r.Left)
		if !strings.HasPrefix(got.First, c.first) || (c.first == "") != (got.First == "") ||
			!strings.HasPrefix(got.Title, c.title) || (c.title == "") != (got.Title == "") {
			t.Errorf("%s: %+v, left %+v", c.name, got, r.Left)
		}
		if len(got.Steps) != len(r.Proposal.Advice) {
			t.Errorf("%s: the command line is told %v", c.name, r.Proposal.Advice)
		}
	}

	r, err := bench.Propose(ask(car, lightWheel, 40, true))
	if got := r.Advise(r.Before); err != nil || !strings.HasPrefix(got.Title, "Your weights") {
		t.Errorf("own weights that leave all: %+v, %v", got, err)
	}
}
