package models_test

import (
	"errors"
	"io"
	"math"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rimledger/models"
	"rimledger/models/units"
)

var tractor = []models.Axle{{Steered: true}, {Driven: true, Dual: true}, {Driven: true, Dual: true}}

func TestPositions(t *testing.T) {
	t.Parallel()
	want := []models.Position{"1L", "1R", "2LO", "2LI", "2RI", "2RO", "3LO", "3LI", "3RI", "3RO", "SP1"}
	if diff := cmp.Diff(want, models.Positions(tractor, 1)); diff != "" {
		t.Errorf("positions (-want +got):\n%s", diff)
	}
	// Left front to the rear, outer before inner, then right side to the front
	// (a walk-around order of yards: common practice, no source).
	walk := []models.Position{"1L", "2LO", "2LI", "3LO", "3LI", "3RO", "3RI", "2RO", "2RI", "1R", "SP1"}
	if diff := cmp.Diff(walk, models.WalkingOrder(tractor, 1)); diff != "" {
		t.Errorf("walking order (-want +got):\n%s", diff)
	}
}

func TestParsePosition(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]models.Position{"1l": "1L", " 2ro ": "2RO", "12LI": "12LI", "sp1": "SP1"} {
		if got, err := models.ParsePosition(in); err != nil || got != want {
			t.Errorf("ParsePosition(%q) = %q, %v; want %q", in, got, err, want)
		}
	}
	for _, in := range []string{"", "L", "0L", "01L", "+1L", "16L", "1X", "1LX", "1LOI", "SP", "SP0", "SP10", "1L\x00", "２L"} {
		if got, err := models.ParsePosition(in); err == nil {
			t.Errorf("ParsePosition(%q) = %q, want an error", in, got)
		}
	}
}

func TestMates(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ p, dual, axle models.Position }{
		{"2LO", "2LI", "2RO"}, {"2RI", "2RO", "2LI"}, {"1L", "", "1R"}, {"SP1", "", ""},
	} {
		if d, a := tc.p.DualMate(), tc.p.AxleMate(); d != tc.dual || a != tc.axle {
			t.Errorf("mates of %s are %q and %q, want %q and %q", tc.p, d, a, tc.dual, tc.axle)
		}
	}
}

// TestLocationByte: high nibble axle front to back, low nibble left to right
// facing forward (SAE J1939 tire location as described in public secondary
// texts; the standard itself was not read).
func TestLocationByte(t *testing.T) {
	t.Parallel()
	for p, want := range map[models.Position]byte{"1L": 0x00, "1R": 0x01, "2LO": 0x10, "2RI": 0x12, "3RO": 0x23, "SP1": 0xFF, "4L": 0xFF} {
		if got := models.LocationByte(tractor, p); got != want {
			t.Errorf("LocationByte(%s) = %#02x, want %#02x", p, got, want)
		}
	}
}

func TestPositionsRoundTrip(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		axles := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) models.Axle {
			return models.Axle{Dual: rapid.Bool().Draw(t, "dual")}
		}), 1, 12).Draw(t, "axles")
		all := models.Positions(axles, 2)

		seen := map[models.Position]bool{}
		for _, p := range all {
			if q, err := models.ParsePosition(string(p)); err != nil || q != p || seen[p] {
				t.Fatalf("position %s: parsed %s, %v, seen before %v", p, q, err, seen[p])
			}
			seen[p] = true
		}

		if len(models.WalkingOrder(axles, 2)) != len(all) {
			t.Fatal("the walk misses a place")
		}
	})
}

// TestPatchFields: a patch has exactly the fields of a policy, as pointers, and
// every one of them takes effect.
func TestPatchFields(t *testing.T) {
	t.Parallel()
	policy, patch := reflect.TypeFor[models.Policy](), reflect.TypeFor[models.PolicyPatch]()
	if policy.NumField() != patch.NumField() {
		t.Fatalf("policy has %d fields, patch %d", policy.NumField(), patch.NumField())
	}

	for i := range policy.NumField() {
		f, p := policy.Field(i), patch.Field(i)
		if f.Name != p.Name || p.Type != reflect.PointerTo(f.Type) {
			t.Errorf("field %d: policy %s %s, patch %s %s", i, f.Name, f.Type, p.Name, p.Type)
		}
	}

	km, depth := 1234.5, 7*units.ThirtySecond
	got := models.DefaultPolicy(models.Bus, units.Metric).With(models.PolicyPatch{RotateKM: &km, PullSteer: &depth})
	want := models.DefaultPolicy(models.Bus, units.Metric)
	want.RotateKM, want.PullSteer = km, depth
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("patched policy (-want +got):\n%s", diff)
	}
}

func TestPatchCheck(t *testing.T) {
	t.Parallel()
	days, km := -1, 2_000_000.0
	percent, depth := 101, 27*units.Millimetre
	var f models.Faults
	models.PolicyPatch{InspectDays: &days, RotateKM: &km, LowPercent: &percent, PullDrive: &depth}.Check(&f)
	if len(f) != 4 {
		t.Errorf("%d faults, want 4: %+v", len(f), f)
	}
}

func TestErrorKinds(t *testing.T) {
	t.Parallel()
	err := error(&models.Error{Kind: models.Unavailable, Msg: "disk full", Err: io.ErrShortWrite})
	if !errors.Is(err, models.Unavailable) || !errors.Is(err, io.ErrShortWrite) || errors.Is(err, models.NotFound) {
		t.Error("an error must be its kind and its cause, and nothing else")
	}
	if got := models.KindOf(io.EOF); got != models.Internal {
		t.Errorf("an unknown error has kind %q, want internal", got)
	}
	if got := models.KindOf(models.NotFound); got != models.NotFound {
		t.Errorf("a bare kind has kind %q", got)
	}
}

func TestTypedKeepsTheText(t *testing.T) {
	t.Parallel()

	for _, tc := range []struct {
		text string
		bare units.Unit
		want models.Depth
	}{
		{"7/32", units.BareNone, models.Depth{Value: 7 * units.ThirtySecond, Text: "7/32"}},
		{"7", units.In32, models.Depth{Value: 7 * units.ThirtySecond, Text: "7/32"}},
		{"7/32", units.MM, models.Depth{Value: 7 * units.ThirtySecond, Text: "7/32"}},
		{"5.5", units.MM, models.Depth{Value: 5_500_000, Text: "5.5 mm"}},
		{"5.5 mm", units.In32, models.Depth{Value: 5_500_000, Text: "5.5 mm"}},
	} {
		got, err := models.ParseDepth(tc.text, tc.bare)
		if err != nil || got != tc.want {
			t.Errorf("ParseDepth(%q, %q) = %+v, %v; want %+v", tc.text, tc.bare, got, err, tc.want)
		}
		again, err := models.ParseDepth(got.Text, units.BareNone)
		if err != nil || again != got {
			t.Errorf("%q does not read back: %+v, %v", got.Text, again, err)
		}
	}
}

func TestValidID(t *testing.T) {
	t.Parallel()

	for id, want := range map[string]bool{
		"0192f0c1-7a3b-7def-8123-456789abcdef":  true,
		"0192F0C1-7A3B-7DEF-8123-456789ABCDEF":  false,
		"0192f0c17a3b7def8123456789abcdef":      false,
		"":                                      false,
		"0192f0c1-7a3b-7def-8123-456789abcdeg":  false,
		"0192f0c1-7a3b-7def-8123-456789abcdef ": false,
	} {
		if models.ValidID(id) != want {
			t.Errorf("ValidID(%q) = %v, want %v", id, !want, want)
		}
	}
}

// A name that means another zone on each machine, or none, is refused.
func TestParseZone(t *testing.T) {
	t.Parallel()

	for name, known := range map[string]bool{
		"Europe/Berlin": true, "America/Chicago": true, "UTC": true,
		"": false, "Local": false, "Europe/Nowhere": false, "../zone": false,
	} {
		for range 2 { // read, then remembered
			z, err := models.ParseZone(name)
			if (err == nil) != known || known && z.String() != name {
				t.Errorf("zone %q: %v, %v", name, z, err)
			}
		}
	}
}

// Five fields as crontab(5) describes them; 30 February never comes.
func TestParseCron(t *testing.T) {
	t.Parallel()

	for spec, good := range map[string]bool{
		"0 6 * * 1": true, "30 5 1 */3 *": true, "0 6 29 2 *": true,
		"": false, "0 6 * *": false, "0 0 6 * * 1": false, "61 6 * * 1": false,
		"@weekly": false, "TZ=UTC 0 6 * * 1": false, "CRON_TZ=UTC 0 6 * * 1": false, "0 6 30 2 *": false,
	} {
		if _, err := models.ParseCron(spec); (err == nil) != good {
			t.Errorf("schedule %q: %v", spec, err)
		}
	}
}

func TestSentence(t *testing.T) {
	t.Parallel()

	for text, want := range map[string]string{
		"": "", " ": "", "check the dampers": "Check the dampers.", " why? ": "Why?", "ölwanne": "Ölwanne.", "7/32 in": "7/32 in.",
	} {
		if got := models.Sentence(text); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

// TestDefaultsAreRound: a depot that drives miles has round miles, one that drives
// kilometres round kilometres: 50 to 100 mi or 80 to 160 km for nuts is industry practice,
// the others are ours. 1 mi is 1.609344 km.
func TestDefaultsAreRound(t *testing.T) {
	t.Parallel()

	us, metric := models.DefaultPolicy(models.Tractor, units.US), models.DefaultPolicy(models.Tractor, units.Metric)
	for name, want := range map[string][3]float64{ // in miles, as read by US, and km by metric
		"balance": {50_000, us.RebalanceKM / 1.609344, metric.RebalanceKM - 80_000},
		"rotate":  {75_000, us.RotateKM / 1.609344, metric.RotateKM - 120_000},
		"align":   {75_000, us.AlignKM / 1.609344, metric.AlignKM - 120_000},
		"nuts":    {100, us.RetorqueKM / 1.609344, metric.RetorqueKM - 160},
	} {
		if math.Abs(want[0]-want[1]) > 1e-9*want[0] || want[2] != 0 {
			t.Errorf("%s: %v mi, want %v; %v km off", name, want[1], want[0], want[2])
		}
	}
}
