package pattern_test

import (
	"encoding/json"
	"math"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models/pattern"
)

// Any grid that is accepted gives finite numbers (JSON refuses others) and a
// ranking of every cause, highest first.
func TestAccountIsFinite(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		rows := drawGrid(t)
		in := pattern.Input{Tread: pattern.Tread{DepthsMM: grid(rows...)}, Confirmed: rapid.Bool().Draw(t, "confirmed")}
		if rapid.Bool().Draw(t, "new known") {
			in.NewMM = []float64{20}
		}
		mate := in.Tread
		in.AxleMate, in.DualMate, in.Previous = &mate, &mate, &pattern.Visit{Tread: mate}

		a, err := pattern.Causes(in)
		if err != nil {
			return // a grid of holes
		}
		if _, err := json.Marshal(a); err != nil {
			t.Fatal(err)
		}
		if len(a.Ranked) != len(pattern.CauseKeys) {
			t.Fatalf("%d causes", len(a.Ranked))
		}

		for i, c := range a.Ranked[1:] {
			if c.Score > a.Ranked[i].Score {
				t.Fatalf("not ranked: %+v", a.Ranked)
			}
		}
	})
}

// drawGrid draws up to 6 grooves by 16 stations of depths; NaN is a hole.
func drawGrid(t *rapid.T) [][]float64 {
	g, k := rapid.IntRange(1, 6).Draw(t, "grooves"), rapid.IntRange(1, 16).Draw(t, "stations")

	rows := make([][]float64, g)
	for i := range rows {
		rows[i] = rapid.SliceOfN(rapid.Float64Range(-2, 20), k, k).Draw(t, "depths")
		for j, v := range rows[i] {
			if v < 0 {
				rows[i][j] = math.NaN()
			}
		}
	}

	return rows
}

// Reading the same tire with the valve one station further on turns the first
// harmonic by one station and changes nothing else.
func TestHarmonicTurnsWithTheValve(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(8, 24).Draw(t, "stations")
		row := rapid.SliceOfN(rapid.Float64Range(2, 8), k, k).Draw(t, "depths")
		turned := append(append([]float64{}, row[1:]...), row[0])
		one, err := pattern.Harmonics(grid(row)[0])
		if err != nil {
			t.Fatal(err)
		}

		two, err := pattern.Harmonics(grid(turned)[0])
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(one[0].AmplitudeMM-two[0].AmplitudeMM) > 1e-9 {
			t.Fatalf("%v, %v", one[0], two[0])
		}
		if one[0].AmplitudeMM < 0.01 {
			return // no direction to speak of
		}

		if d := math.Remainder(one[0].AngleDeg-two[0].AngleDeg-360/float64(k), 360); math.Abs(d) > 1e-4 {
			t.Fatalf("turned by %g degrees too many", d)
		}
	})
}
