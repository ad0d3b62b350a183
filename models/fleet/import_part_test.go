package fleet

import (
	"testing"
	"time"
)

// TestNextPart: a part takes a quarter of a second, by what the part before it took. The
// numbers are worked out by hand.
func TestNextPart(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		n    int
		took time.Duration
		want int
	}{
		{100, 250 * time.Millisecond, 100},
		{100, 125 * time.Millisecond, 200},
		{100, time.Second, 25},
		{100, 700 * time.Millisecond, 35},
		{100, 10 * time.Millisecond, 500},
		{100, 0, 500},
		{10, 3 * time.Second, 10},
	} {
		if got := nextPart(c.n, c.took); got != c.want {
			t.Errorf("after %d in %s: %d, want %d", c.n, c.took, got, c.want)
		}
	}
}
