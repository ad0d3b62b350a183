package calc

import (
	"strings"
	"testing"
)

// TestTireMade: 49 CFR 574.5 has the week and the year last; a year that is yet to come is
// none, and an end with two meanings says both. The day of reading decides.
func TestTireMade(t *testing.T) {
	t.Parallel()

	for in, want := range map[string]string{
		`{"tin":"DOT B9JA XK2 3613","on":"2026-11-30"}`: `"made":"week 36 of 2013"`,
		`{"tin":"B9JAXK2361","on":"2026-11-30"}`:        `"made":"week 36 of a year before 2000 that ends in 1"`,
		`{"tin":"B9JAXK20126","on":"2026-11-30"}`:       `"or":"week 12 of a year before 2000 that ends in 6"`,
		`{"tin":"B9JAXK2LM2361","on":"2061-07-01"}`:     `"made":"week 23 of 2061"`,
	} {
		if out := compute(t, "tire-made", in); !strings.Contains(out, want) {
			t.Errorf("%s: %s, want %s", in, out, want)
		}
	}

	for in, want := range map[string]string{
		`{"tin":"B9JAXK2LM2361","on":"2026-11-30"}`: "tin", `{"tin":"B9JAXK2LM3613","on":"tomorrow"}`: "on",
	} {
		if _, err := named(t, "tire-made").Run([]byte(in)); err == nil || !strings.Contains(err.Error(), want+" ") {
			t.Errorf("%s: %v, want a fault at %s", in, err, want)
		}
	}
}
