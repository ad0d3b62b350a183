package calc

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

// answer runs a calculator and returns what it answers.
func answer(t *testing.T, name, in string) map[string]any {
	t.Helper()
	var out map[string]any
	if err := json.Unmarshal([]byte(compute(t, name, in)), &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// TestWhatAShopTypes: positions by the clock and along the rim, and masses in fractions, are
// read as the numbers that they are. By hand: 4:30 is 135 degrees; 223.838 mm along a radius
// of 285 mm are 45 degrees; 1/4 oz is 7.0874 g.
func TestWhatAShopTypes(t *testing.T) {
	t.Parallel()
	planes := `"planes":{"inner":{"radius_mm":285,"offset_mm":-80},"outer":{"radius_mm":285,"offset_mm":130}},"kmh":90,"rolling_radius_mm":500,`
	plain := compute(t, "unbalance", `{`+planes+`"inner":{"mass_g":7.08738078125,"deg":135},"outer":{"mass_g":35.43690390625,"deg":45}}`)
	typed := answer(t, "unbalance", `{`+planes+`"inner":{"mass_g":"1/4 oz","deg":"4:30"},"outer":{"mass_g":"1 1/4 oz","deg":"223.8384 mm"}}`)

	var want map[string]any
	if err := json.Unmarshal([]byte(plain), &want); err != nil {
		t.Fatal(err)
	}
	got, expected := typed["static"].(map[string]any), want["static"].(map[string]any)
	for _, name := range []string{"gmm", "deg"} {
		if math.Abs(got[name].(float64)-expected[name].(float64)) > 1e-2 {
			t.Errorf("%s: %v as typed, %v as numbers", name, got[name], expected[name])
		}
	}

	for in, wantError := range map[string]string{
		`{` + planes + `"inner":{"mass_g":"1/3 oz","deg":0}}`:                                                  "inner.mass_g",
		`{` + planes + `"inner":{"mass_g":5,"deg":"13:00"}}`:                                                   "inner.deg",
		`{"first_deg":"210 mm","second_deg":0,"counted_from":"valve","tire_radius_mm":510,"tolerance_mm":100}`: "needs its radius",
	} {
		name := "unbalance"
		if strings.Contains(in, "first_deg") {
			name = "half-turn"
		}
		if out, err := named(t, name).Run([]byte(in)); err == nil || !strings.Contains(err.Error(), wantError) {
			t.Errorf("%s: %v, %v; want %q", in, out, err, wantError)
		}
	}
}

// TestOnlyFiniteAnswers: what would be beyond all numbers, or negative, or looks like inches,
// is refused with the field to change.
func TestOnlyFiniteAnswers(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ calc, in, want string }{
		{"unbalance-at-speed", `{"turns_per_minute":480,"moment_nm":1e308}`, `moment_nm "1e+308"`},
		{"unbalance-at-speed", `{"turns_per_minute":480,"force_n":-60}`, `force_n "-60"`},
		{"unbalance-at-speed", `{"turns_per_minute":480,"oz_in":-1}`, `oz_in "-1"`},
		{"unbalance-at-speed", `{"turns_per_minute":480,"oz_in":1e300}`, "oz_in"},
		{"unbalance-at-speed", `{"turns_per_minute":0}`, `turns_per_minute "0"`},
		{"trial-known", `{"influence":[[{"amount":1e-300,"deg":0}]],"readings":[{"amount":6,"deg":60}]}`, "coefficients"},
		{"worn-round", `{"tread":{"density":1150,"land_ratio":0.75,"width_mm":220,"radius_mm":510},"amplitude_mm":1,"most_deg":0,"rim_radius_mm":11.25}`, "looks like inches: 11.25 in are 285.8 mm"},
		{"unbalance", `{"planes":{"inner":{"radius_mm":8,"offset_mm":-80},"outer":{"radius_mm":8}},"kmh":90,"rolling_radius_mm":500}`, "looks like inches: 8 in are 203.2 mm"},
		{"unbalance", `{"planes":{"inner":{"radius_mm":285,"offset_mm":-80},"outer":{"radius_mm":285}},"kmh":90,"rolling_radius_mm":20}`, "looks like inches"},
		{"permissible-unbalance", `{"grade":40,"mass_kg":20,"kmh":120,"turns_per_minute":500}`, "turns_per_minute"},
		{"permissible-unbalance", `{"grade":40,"mass_kg":20,"turns_per_minute":500,"inner_mm":70,"outer_mm":90,"inner_radius_mm":8,"outer_radius_mm":203}`, "looks like inches"},
		{"permissible-unbalance", `{"grade":-1,"mass_kg":20,"turns_per_minute":500}`, "grade"},
		{"pressure-temperature", `{"gauge_kpa":-1,"from_c":20,"to_c":0}`, `gauge_kpa "-1"`},
		{"pressure-temperature", `{"gauge_kpa":700,"from_c":-300,"to_c":0}`, `from_c "-300"`},
	} {
		if out, err := named(t, row.calc).Run([]byte(row.in)); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s %s: %v, %v; want %q", row.calc, row.in, out, err, row.want)
		}
	}

	// At the edges: 50 mm is a radius, 49.9 mm is not (chosen by us).
	edge := `{"planes":{"inner":{"radius_mm":%R,"offset_mm":-80},"outer":{"radius_mm":%R}},"kmh":90,"rolling_radius_mm":500}`
	if _, err := named(t, "unbalance").Run([]byte(strings.ReplaceAll(edge, "%R", "50"))); err != nil {
		t.Errorf("50 mm: %v", err)
	}
	if _, err := named(t, "unbalance").Run([]byte(strings.ReplaceAll(edge, "%R", "49.9"))); err == nil {
		t.Error("49.9 mm is taken for a radius")
	}
	if err := tooExtreme("any", []byte(`{"a":[1,1e-200],"b":{"c":1e100}}`)); !strings.Contains(err.Error(), `a[1] "1e-200"`) {
		t.Errorf("the number farthest from one is not named: %v", err)
	}
}

// TestPermissibleUnbalance: U = 1000 G m / w (ISO 21940-11, second-hand). By hand: a 20 kg wheel
// at 120 km/h on 310 mm turns at 107.527 rad/s and may be out by 7440 g mm at G 40; planes 70
// and 90 mm from the center of mass share 90/160 and 70/160 of it.
func TestPermissibleUnbalance(t *testing.T) {
	t.Parallel()
	out := answer(t, "permissible-unbalance", `{"grade":40,"mass_kg":20,"kmh":120,"rolling_radius_mm":310,"inner_mm":70,"outer_mm":90,"inner_radius_mm":203,"outer_radius_mm":200}`)
	for name, want := range map[string]float64{"gmm": 7440, "inner_gmm": 4185, "outer_gmm": 3255, "inner_g": 4185.0 / 203, "outer_g": 3255.0 / 200} {
		if math.Abs(out[name].(float64)-want) > 0.01 {
			t.Errorf("%s is %v, want %g", name, out[name], want)
		}
	}
}

// TestPressureTemperature: Gay-Lussac's law by hand: 700 kPa at 20 °C (293.15 K) are 801.325
// kPa above vacuum; at -10 °C (263.15 K) that is 719.32 kPa, so 618.0 kPa on the gauge.
func TestPressureTemperature(t *testing.T) {
	t.Parallel()
	out := answer(t, "pressure-temperature", `{"gauge_kpa":700,"from_c":20,"to_c":-10}`)
	got := out["gauge_kpa"].(float64)
	if math.Abs(got-(801.325*263.15/293.15-101.325)) > 1e-9 || math.Abs(got-618) > 0.1 {
		t.Errorf("%v kPa at -10 degrees, want about 618", got)
	}
}
