package say

import (
	"testing"

	"rimledger/models"
)

// A caution is read once; where it holds again, the card says so.
func TestSparing(t *testing.T) {
	t.Parallel()

	cards := []Card{
		{Finding: models.Finding{Safety: "Do not drive it. Chock it."}},
		{Finding: models.Finding{Safety: "Chock it."}},
		{
			Finding: models.Finding{Safety: "Hood down. Chock it."},
		},
		{Finding: models.Finding{}},
		{Finding: models.Finding{Safety: "Stand clear."}},
	}

	DropRepeatedCautions(cards)

	for i, want := range []string{"Do not drive it. Chock it.", "Follow the cautions above, too.", "Hood down. " +
		"Follow the cautions above, too.", "", "Stand clear."} {
		if got := cards[i].Finding.Safety; got != want {
			t.Errorf("card %d says %q, want %q", i, got, want)
		}
	}
}
