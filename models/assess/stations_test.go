package assess_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/units"
)

// readAt sets wear in mm, by the angle from the valve, around every groove of the tire at
// p. Angles that are not named are evenly spaced.
func (s *scene) readAt(p models.Position, named bool, degrees []float64, wear func(rad float64) float64) *scene {
	r := s.reading(p)
	r.Depths, r.Stations = grid(14*in32, 3, len(degrees)), nil
	for k, deg := range degrees {
		if named {
			r.Stations = append(r.Stations, models.Station{Deg: deg, Text: fmt.Sprintf("%g°", deg)})
		}
		for g := range r.Depths {
			mm := (14 * in32).Millimetres() - wear(deg*math.Pi/180)
			r.Depths[g][k] = &models.Depth{Value: units.LengthFromMillimetres(mm), Text: fmt.Sprintf("%.2f mm", mm)}
		}
	}
	return s
}

func evenly(k int) []float64 {
	out := make([]float64, k)
	for i := range out {
		out[i] = 360 * float64(i) / float64(k)
	}
	return out
}

// dips is the wear of n dips, mm from crest to dip.
func dips(n int, mm float64) func(float64) float64 {
	return func(rad float64) float64 { return 2.5 + mm/2*math.Cos(float64(n)*rad-0.7) }
}

// Nine dips on eight even places look like one a turn (sampling theorem): the question goes
// out with the numbers that look alike, and a hand count wins. Unequal places tell them.
func TestDipsAreCounted(t *testing.T) {
	t.Parallel()

	even := tractor().readAt("1L", false, evenly(8), dips(9, 2.5))
	a, ok := assess.Account(even.Snapshot, "1L")
	want := "1, 7 or 9 dips look alike at these 8 places"
	if !ok || !strings.Contains(a.Result.CountQuestion(), want) {
		t.Errorf("asks %q, want %q", a.Result.CountQuestion(), want)
	}
	if ask := assess.Assess(even.Snapshot).Ask["1L"]; !strings.Contains(strings.Join(ask, "; "), want) {
		t.Errorf("the assessment asks %q, want %q", ask, want)
	}

	unequal := tractor().readAt("1L", true, []float64{0, 20, 80, 100, 200, 290, 320, 330}, dips(9, 2.5))
	if a, _ = assess.Account(unequal.Snapshot, "1L"); !slices.Equal(a.Result.Could, []int{9}) {
		t.Errorf("unequal places leave %v dips, want 9", a.Result.Could)
	}

	for _, s := range []*scene{even, unequal} {
		s.reading("1L").Observations = []models.Observation{{Code: models.ObsCupping, Count: 5}}
		a, _ = assess.Account(s.Snapshot, "1L")
		if a.Result.Dips != 5 || a.Result.CountQuestion() != "" {
			t.Errorf("a hand count of 5 reads as %d, and asks %q", a.Result.Dips, a.Result.CountQuestion())
		}
	}
}

// Three to seven places count as far as they can, and what they cannot tell is said.
func TestFewStations(t *testing.T) {
	t.Parallel()

	for k := 3; k <= 7; k++ {
		f := one(t, tractor().readAt("1L", false, evenly(k), dips(1, 3)), models.UnevenWear)
		said := strings.Contains(f.Title, "alike") || strings.Contains(f.Title, "cannot say")
		if !said || !strings.Contains(f.FirstJob, "counted by hand") {
			t.Errorf("%d places: %q, then %q", k, f.Title, f.FirstJob)
		}
	}
}

// Severe wear (4/32 in and more from crest to dip) is always reported, and never has
// nothing to do.
func TestSevereWearHasAJob(t *testing.T) {
	t.Parallel()

	for k := 3; k <= 16; k++ {
		for n := 1; n <= 12; n++ {
			for _, hand := range []models.ObservationCode{models.ObsDirt, models.ObsSmooth, models.ObsCupping} {
				s := tractor().readAt("1L", false, evenly(k), dips(n, 4.4)).observe("1L", hand)
				low, high := math.Inf(1), math.Inf(-1)
				for _, d := range s.reading("1L").Depths[0] {
					low, high = min(low, d.Value.Millimetres()), max(high, d.Value.Millimetres())
				}

				a, _ := assess.Account(s.Snapshot, "1L")
				if high-low >= 3.175 && strings.Contains(a.NextStep, "nothing to do") {
					t.Errorf("%d dips on %d places, %s: %q", n, k, hand, a.NextStep)
				}
				if high-low >= 3.175 {
					one(t, s, models.UnevenWear)
				}
			}
		}
	}
}

// What six places or more show of a turn is reported also below 2/32 in: a wave of 1.2 mm
// is far above the scatter of a 0.1 mm gauge.
func TestLightWaveIsReported(t *testing.T) {
	t.Parallel()

	s := tractor().readAt("1L", false, evenly(8), dips(1, 1.2)).observe("1L", models.ObsSmooth)
	s.at("1L").State.Last.Gauge.Resolution = units.Millimetre / 10
	if f := one(t, s, models.UnevenWear); !strings.Contains(f.Title, "one side of the tire is worn more") {
		t.Errorf("title %q", f.Title)
	}
}
