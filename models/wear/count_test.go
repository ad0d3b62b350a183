package wear_test

import (
	"math"
	"testing"

	"rimledger/models/wear"
)

// TestCount: with equal chances the count is binomial. Quantiles of the binomial
// distribution of 10 with one half by hand from Pascal's triangle: cumulative
// 1, 11, 56, 176, 386, 638, 848, 968, 1013, 1023, 1024 of 1024.
func TestCount(t *testing.T) {
	t.Parallel()
	var c wear.Count
	wantRange(t, "of nothing", c, 0, 0, 0)

	for range 10 {
		c.Add(0.5)
	}

	c.Add(0)
	c.Add(math.NaN())
	wantRange(t, "ten of one half", c, 5, 3, 7)
	if c.Mean() != 5 {
		t.Errorf("mean %g, want 5", c.Mean())
	}

	for range 3 {
		c.Add(1) // certain: the whole distribution moves by three
	}
	wantRange(t, "three certain ones on top", c, 8, 6, 10)

	var many wear.Count // mean 500, standard deviation 15.81: normal, ends 500 ± 1.2816 * 15.81
	for range 1000 {
		many.Add(0.5)
	}
	wantRange(t, "a thousand of one half", many, 500, 480, 520)
}

func wantRange(t *testing.T, name string, c wear.Count, median, lo, hi int) {
	t.Helper()
	if gotMedian, gotLo, gotHi := c.Range(); gotMedian != median || gotLo != lo || gotHi != hi {
		t.Errorf("%s: %d (%d to %d), want %d (%d to %d)", name, gotMedian, gotLo, gotHi, median, lo, hi)
	}
}
