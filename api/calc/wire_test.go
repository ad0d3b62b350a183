package calc

import (
	"encoding/json"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rimledger/models/units"
)

// named returns the calculator of a name.
func named(t *testing.T, name string) Calculator {
	t.Helper()
	all := All()
	i := slices.IndexFunc(all, func(c Calculator) bool { return c.Name == name })
	if i < 0 {
		t.Fatalf("nothing is called %q", name)
	}

	return all[i]
}

// compute returns the answer of a calculator as JSON.
func compute(t *testing.T, name, in string) string {
	t.Helper()
	out, err := named(t, name).Run([]byte(in))
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	b, err := json.Marshal(out)
	if err != nil {
		t.Fatal(err)
	}

	return string(b)
}

func TestSnake(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"MassG": "mass_g", "NowKM": "now_km", "KMPerDay": "km_per_day", "Deg": "deg", "DepthSDMM": "depth_sdmm",
	} {
		if got := snakeCase(in); got != want {
			t.Errorf("snake(%q) = %q, want %q", in, got, want)
		}
	}
}

// TestWritten: names are in snake case, embedded fields stand beside their own, marked
// quantities become words, and nothing else is changed (encoding/json on the same
// value is what it is held against, but for the names).
func TestWritten(t *testing.T) {
	t.Parallel()
	type Inner struct{ MassG float64 }

	type outer struct {
		Inner
		Text    string
		Typed   units.Unit
		Count   int
		Is      bool
		None    []string
		Empty   []string
		Key     map[string]Inner
		Nothing *Inner
		Pair    [2]float64
		Any     any
		hidden  int
	}

	v := outer{
		Inner:  Inner{1.5},
		Text:   "faded by " + units.MarkSpeed(115) + " <&>",
		Typed:  units.G,
		Count:  -3,
		Is:     true,
		Empty:  []string{},
		Key:    map[string]Inner{"Red_Dot": {2}},
		Pair:   [2]float64{1e21, 0.1},
		Any:    Inner{4},
		hidden: 7,
	}

	got, err := json.Marshal(wireValue(v))
	if err != nil {
		t.Fatal(err)
	}

	want := `{"any":{"mass_g":4},"count":-3,"empty":[],"is":true,"key":{"Red_Dot":{"mass_g":2}},"mass_g":1.5,` +
		`"none":null,"nothing":null,"pair":[1e+21,0.1],"text":"faded by 115 km/h \u003c\u0026\u003e","typed":"g"}`
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Error(diff)
	}
}
