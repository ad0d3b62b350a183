package yard

import (
	"fmt"
	"strings"
	"testing"

	"rsc.io/qr"
)

// The finder patterns of a QR code, as ISO/IEC 18004 draws them (from memory):
// a ring of 7 modules, a clear ring of 5, a block of 3, in three corners.
func TestQRCodeIsDrawnWhole(t *testing.T) {
	t.Parallel()
	const address = "https://rimledger.alder.example/vehicles/01a21344-3b5d-70ae-9370-cf2b3230c88b/inspect"
	c, err := newQRCode(address)
	if err != nil {
		t.Fatal(err)
	}
	dark := modules(t, c)

	n := c.Side
	for y := range n {
		for x := range n {
			if (x < 4 || y < 4 || x >= n-4 || y >= n-4) && dark[[2]int{x, y}] {
				t.Fatalf("module %d,%d of the clear space is dark", x, y)
			}
		}
	}

	for _, corner := range [][2]int{{4, 4}, {n - 11, 4}, {4, n - 11}} {
		for dy := range 7 {
			for dx := range 7 {
				ring := max(abs(dx-3), abs(dy-3))
				if got, want := dark[[2]int{corner[0] + dx, corner[1] + dy}], ring != 2; got != want {
					t.Fatalf("finder at %v: module %d,%d is dark: %v, want %v", corner, dx, dy, got, want)
				}
			}
		}
	}

	// Sides are 17 + 4 times the version, by the same standard.
	if side := n - 8; (side-17)%4 != 0 {
		t.Errorf("the code is %d modules wide", side)
	}

	whole, err := qr.Encode(address, qr.M)
	if err != nil {
		t.Fatal(err)
	}

	for y := range whole.Size {
		for x := range whole.Size {
			if whole.Black(x, y) != dark[[2]int{x + 4, y + 4}] {
				t.Fatalf("module %d,%d is drawn otherwise than it was encoded", x, y)
			}
		}
	}
}

func abs(n int) int { return max(n, -n) }

// modules reads the path back.
func modules(t *testing.T, c qrCode) map[[2]int]bool {
	t.Helper()
	dark := map[[2]int]bool{}
	for _, run := range strings.Split(strings.TrimSuffix(c.Path, "z"), "z") {
		var x, y, width, back int
		if _, err := fmt.Sscanf(run, "M%d %dh%dv1h-%d", &x, &y, &width, &back); err != nil || width != back {
			t.Fatalf("run %q: %v", run, err)
		}
		for i := range width {
			dark[[2]int{x + i, y}] = true
		}
	}
	return dark
}
