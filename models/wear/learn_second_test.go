package wear_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"rimledger/models/wear"
)

// group is the fitments of a group with their ratio to the embedded rate and its variance.
type group struct{ y, v []float64 }

// between is DerSimonian and Laird's variance between the estimates, by its definition.
func (g group) between() float64 {
	var w, wy, ww, q float64
	for i := range g.y {
		w, wy, ww = w+1/g.v[i], wy+g.y[i]/g.v[i], ww+1/g.v[i]/g.v[i]
	}
	for i := range g.y {
		q += math.Pow(g.y[i]-wy/w, 2) / g.v[i]
	}
	if c := w - ww/w; c > 1e-12*w {
		return math.Max(0, (q-float64(len(g.y)-1))/c)
	}
	return 0
}

// taught is what a group teaches: its mean ratio, how sure it is, and the variance within.
type taught struct{ mean, sure, within float64 }

// teach shrinks a group to the one above. The variance within counts as five fitments of
// the group above (0.27² of the whole table) and is at least 0.1²; half of it is between
// groups below, and fleets differ from the table by 0.36² (chosen by us).
func teach(g group, up *taught) taught {
	above, mean, spread := 0.27*0.27, 1.0, 0.36*0.36
	if up != nil {
		above, mean, spread = up.within, up.mean, 0.5*up.within+up.sure
	}

	k := float64(len(g.y))
	within := math.Max(0.01, (5*above+(k-1)*g.between())/(4+k))
	precision, sum := 1/spread, mean/spread
	for i := range g.y {
		precision += 1 / (g.v[i] + within)
		sum += g.y[i] / (g.v[i] + within)
	}
	return taught{math.Max(0.1, sum/precision), 1 / precision, within}
}

// TestLearnBySecondWay: empirical Bayes over fleet, class, role and design, each written out
// with its list of fitments.
func TestLearnBySecondWay(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(19, 86))

	for course := range 60 {
		var fitments []wear.Summary
		groups := [4]group{} // fleet, bus, bus steer, bus steer Nordwind (an invented name)
		for range 1 + rng.IntN(30) {
			class, role := []string{"bus", "car"}[rng.IntN(2)], []string{"steer", "free"}[rng.IntN(2)]
			design := []string{"", "Nordwind", "Nordwind"}[rng.IntN(3)]
			base := map[string]float64{"bus steer": 0.12, "bus free": 0.11, "car steer": 0.13,
				"car free": 0.09}[class+" "+role]
			ratio := math.Exp(float64(course%3) * 0.5 * rng.NormFloat64())
			if rng.IntN(20) == 0 {
				ratio = 7 // counts as 5
			}
			if course%7 == 0 {
				ratio = 0.02
			}
			se := 0.05 + 0.6*rng.Float64()
			if rng.IntN(10) == 0 {
				se = 2.001 // so unsure that it is left out
			}
			fitments = append(fitments, wear.Summary{Class: class, Role: role, Design: design, RateMM: ratio * base,
				SEMM: se * base})
			if se > 2 {
				continue
			}
			for i, in := range []bool{true, class == "bus", class == "bus" && role == "steer",
				class == "bus" && role == "steer" && design != ""} {
				if in {
					groups[i].y = append(groups[i].y, math.Min(ratio, 5))
					groups[i].v = append(groups[i].v, se*se)
				}
			}
		}

		p, err := wear.Learn(all(fitments))
		if err != nil {
			t.Fatal(err)
		}
		var up *taught
		for i, g := range groups {
			least := 1
			if i == 3 {
				least = 5 // fitments before a design has a prior of its own
			}
			if len(g.y) < least {
				break
			}
			want := teach(g, up)
			up = &want
			class, role := [4]string{"tram", "bus", "bus", "bus"}[i], [4]string{"", "none", "steer", "steer"}[i]
			design := [4]string{"", "", "", "Nordwind"}[i]
			got, ok := p.Of(class, role, design)
			level := [4]string{"fleet", "class", "role", "design"}[i]
			if !ok || got.Level != level || got.Fitments != len(g.y) || !closeTo(got.Ratio, want.mean) ||
				!closeTo(got.SD, math.Sqrt(want.sure+want.within)) {
				t.Fatalf("course %d, %s of %d: %+v, want %.9g ± %.9g", course, level, len(g.y), got, want.mean,
					math.Sqrt(want.sure+want.within))
			}

			if class == "bus" && role == "steer" {
				prior := got.Prior(class, role)
				within(t, "rate", prior.RateMean, 0.12*want.mean, 1e-9)
				within(t, "its sd", prior.RateSD, 0.12*math.Sqrt(want.sure+want.within), 1e-9)
			}
		}
	}
}

// TestLearnLeavesOut: a fitment whose rate is known to twice the embedded one at worst
// counts; a standard error above that does not (chosen by us). Errors of a fitment end it.
func TestLearnLeavesOut(t *testing.T) {
	t.Parallel()
	for se, want := range map[float64]int{0.24: 1, 0.2401: 0} { // 2 x 0.12 mm per 1000 km
		p, err := wear.Learn(all([]wear.Summary{{Class: "bus", Role: "steer", RateMM: 0.12, SEMM: se}}))
		got, _ := p.Of("bus", "steer", "")
		if err != nil || got.Fitments != want {
			t.Errorf("standard error %g: %+v, %v; want %d fitments", se, got, err, want)
		}
	}

	// Five fitments of a design have a prior of their own, four have that of their role.
	for n, want := range map[int]string{4: "role", 5: "design"} {
		var fitments []wear.Summary
		for range n {
			fitments = append(fitments, wear.Summary{Class: "bus", Role: "steer", Design: "Nordwind", RateMM: 0.12,
				SEMM: 0.01})
		}
		p, err := wear.Learn(all(fitments))
		got, _ := p.Of("bus", "steer", "Nordwind")
		if err != nil || got.Level != want {
			t.Errorf("%d fitments of a design: %+v, %v; want the prior of the %s", n, got, err, want)
		}
	}

	for i, bad := range []wear.Summary{{RateMM: 1, SEMM: 0}, {RateMM: 1e4, SEMM: 1}, {RateMM: 1, SEMM: math.Inf(1)}} {
		if _, err := wear.Learn(all([]wear.Summary{bad})); err == nil {
			t.Error(fmt.Sprint("fitment ", i, " is learned from"))
		}
	}

	stop := errors.New("stop")
	if _, err := wear.Learn(func(func(wear.Summary) error) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("an error of the store: %v", err)
	}
}
