package calc

import (
	"math"
	"strings"
	"testing"
)

// TestBenchCalculatorRefusals: bad input is refused by name, with what would be
// right.
func TestBenchCalculatorRefusals(t *testing.T) {
	t.Parallel()
	planes := `"planes":{"inner":{"radius_mm":285,"offset_mm":-80},"outer":{"radius_mm":285,"offset_mm":130}}`
	stock := `"stock":[{"name":"a","kind":"clip","mass_g":25}]`
	places := `"places":[{"name":"outer flange","kind":"clip","plane":{"radius_mm":285,"offset_mm":130}}]`
	trial := `"planes":1,"as_is":[{"amount":6,"deg":60}]`

	for _, row := range []struct{ name, calc, in, want string }{
		{"zero radius", "unbalance", `{"planes":{"inner":{"radius_mm":0},"outer":{"radius_mm":285}},"kmh":90,"rolling_radius_mm":500}`,
			"zero radius"},
		{"no distance", "unbalance", `{"planes":{"inner":{"radius_mm":285},"outer":{"radius_mm":285}},"kmh":90,"rolling_radius_mm":500}`,
			"no distance between the planes"},
		{"too heavy", "unbalance", `{` + planes + `,"inner":{"mass_g":2500,"deg":0},"kmh":90,"rolling_radius_mm":500}`,
			"no wheel takes more than 2000 g"},
		{"empty stock", "balance-weights", `{` + planes + `,"inner":{"mass_g":20,"deg":0},"problem":{` + places + `}}`, "empty stock"},
		{"no place", "balance-weights", `{` + planes + `,"inner":{"mass_g":20,"deg":0},"problem":{` + stock + `}}`, "no place allowed"},
		{"a trial weight with no effect", "trial-weights", `{` + trial + `,"runs":[{"weight":{"amount":50,"deg":0},"readings":[{"amount":6,"deg":60}]}]}`, "trial weight with no effect"},
		{"an amount below zero", "trial-weights", `{"planes":1,"as_is":[{"amount":-6,"deg":0}],"runs":[{"weight":{"amount":50,"deg":0},"readings":[{"amount":4,"deg":0}]}]}`, "180 degrees on"},
		{"a trial weight below zero", "trial-weights", `{` + trial + `,"runs":[{"weight":{"amount":-50,"deg":0},"readings":[{"amount":4,"deg":0}]}]}`, "run 1 weight 1"},
		{"the second spin", "index-balance", `{` + planes + `,"turn_deg":180,"second_inner":{"mass_g":-1,"deg":0}}`,
			"second spin: inner mass g"},
		{"hardly turned", "index-balance", `{` + planes + `,"turn_deg":361}`, "turn the tire at least"},
		{"what is measured, twice", "balance-weights", `{` + planes + `,"problem":{"unbalance":{"inner":{"gmm":5,"deg":0}},"measured":{"inner":{"radius_mm":200}}}}`,
			"problem.measured"},
		{"singular", "trial-known", `{"influence":[[{"amount":1,"deg":0},{"amount":1,"deg":0}],[{"amount":1,"deg":0},{"amount":1,"deg":0}]],"readings":[{"amount":6,"deg":0},{"amount":5,"deg":0}]}`,
			"singular influence coefficients"},
		{"a weight that is nowhere", "unbalance", `{` + planes + `,"inner":{"mass_g":25},"kmh":90,"rolling_radius_mm":500}`,
			"inner.deg must say where"},
		{"a lump that is nowhere", "heavy-spots", `{` + planes + `,"spots":[{"mass_g":5,"deg":0,"radius_mm":200},{"mass_g":5,"radius_mm":200}]}`,
			"spots[1].deg must say where"},
		{"a reading that is nowhere", "trial-weights", `{"planes":1,"as_is":[{"amount":6}]}`, "as_is[0].deg"},
		{"a lost weight that is nowhere", "lost-weight", `{` + planes + `,"mass_g":25,"at":{"radius_mm":285}}`, "deg must say where"},
		{"wear that is nowhere", "worn-round", `{"amplitude_mm":1,"rim_radius_mm":285}`, "most_deg must say where"},
		{"a high spot that is nowhere", "half-turn", `{"counted_from":"valve","first_deg":0,"tire_radius_mm":510,"tolerance_mm":100}`, "second_deg must say where"},
		{"counted from nothing", "half-turn", `{"first_deg":0,"second_deg":0,"tire_radius_mm":510,"tolerance_mm":100}`, "from the valve (valve)"},
	} {
		if out, err := named(t, row.calc).Run([]byte(row.in)); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: %v %v", row.name, err, out)
		}
	}

	out := compute(
		t,
		"balance-weights",
		`{`+planes+`,"inner":{"mass_g":20,"deg":400},"outer":{"mass_g":20,"deg":0},"problem":{`+stock+`,`+places+`}}`,
	)
	if !strings.Contains(out, "400 deg") || !strings.Contains(out, "40 deg") {
		t.Errorf("400 degrees are taken silently: %s", out)
	}
}

// TestAtSpeed: 1 oz in is 28.349523125 g times 25.4 mm (international yard and
// pound agreement of 1959); at 480 turns a minute w is 50.265 rad/s, so F = U w^2
// by hand.
func TestAtSpeed(t *testing.T) {
	t.Parallel()
	got, err := atSpeed(atSpeedInput{TurnsPerMinute: 480, OzIn: 1, ForceN: 1})
	w := 480 * 2 * math.Pi / 60
	if err != nil || math.Abs(got.OzInAsGMM-28.349523125*25.4) > 1e-9 || math.Abs(got.ForceAsGMM-1e6/(w*w)) > 1e-9 ||
		math.Abs(got.OzInForceN-28.349523125*25.4*w*w/1e6) > 1e-9 {
		t.Errorf("%+v, %v", got, err)
	}
}

// TestMatchReadingsCalculator: a wheel of 1.00 mm under a tire of 0.60 mm, opposite to it,
// shows 0.40 mm at the tread: turning makes it worse (arithmetic of cosines).
func TestMatchReadingsCalculator(t *testing.T) {
	t.Parallel()
	out := compute(t, "match-readings", `{"assembly_mm":[0.2,0,-0.2,0],"wheel_mm":[0.5,0,-0.5,0]}`)
	for _, want := range []string{`"worthwhile":false`, "leave it: as it sits it runs out by 0.40 mm"} {
		if !strings.Contains(out, want) {
			t.Errorf("the answer lacks %q: %s", want, out)
		}
	}

	out = compute(t, "half-turn", `{"counted_from":"valve","first_deg":20,"second_deg":195,"tire_radius_mm":510,"tolerance_mm":101.6}`)
	if !strings.Contains(out, `"fault":"tire"`) {
		t.Errorf("it went around with the tire: %s", out)
	}
}
