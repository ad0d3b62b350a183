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
	if m, lo, hi := c.Range(); m != 0 || lo != 0 || hi != 0 {
		t.Errorf("of nothing: %d (%d to %d)", m, lo, hi)
	}

	for range 10 {
		c.Add(0.5)
	}

	c.Add(0)
	c.Add(math.NaN())
	if m, lo, hi := c.Range(); m != 5 || lo != 3 || hi != 7 || c.Mean() != 5 {
		t.Errorf("ten of one half: mean %g, %d (%d to %d), want 5 (3 to 7)", c.Mean(), m, lo, hi)
	}

	for range 3 {
		c.Add(1) // certain: the whole distribution moves by three
	}

	if m, lo, hi := c.Range(); m != 8 || lo != 6 || hi != 10 {
		t.Errorf("three certain ones on top: %d (%d to %d), want 8 (6 to 10)", m, lo, hi)
	}

	var many wear.Count // mean 500, standard deviation 15.81: normal, ends 500 ± 1.2816 * 15.81
	for range 1000 {
		many.Add(0.5)
	}

	if m, lo, hi := many.Range(); m != 500 || lo != 480 || hi != 520 {
		t.Errorf("a thousand of one half: %d (%d to %d), want 500 (480 to 520)", m, lo, hi)
	}
}
