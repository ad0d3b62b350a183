package pattern_test

import (
	"math"
	"math/rand/v2"

	"rimledger/models/pattern"
)

// grid turns depths into a grid; NaN is a hole.
func grid(rows ...[]float64) [][]*float64 {
	out := make([][]*float64, len(rows))
	for g, row := range rows {
		out[g] = make([]*float64, len(row))
		for k, d := range row {
			if !math.IsNaN(d) {
				out[g][k] = &row[k]
			}
		}
	}
	return out
}

// around returns k depths: new depth minus worn(angle in radians).
func around(k int, newMM float64, worn func(theta float64) float64) []float64 {
	out := make([]float64, k)
	for i := range out {
		out[i] = newMM - worn(2*math.Pi*float64(i)/float64(k))
	}
	return out
}

// cups returns a wear of mean mm with n cups of the given peak-to-peak.
func cups(mean, pp float64, n int, phase float64) func(float64) float64 {
	return func(t float64) float64 { return mean + pp/2*math.Cos(float64(n)*t-phase) }
}

// even returns a groove worn alike at k stations.
func even(k int, depth float64) []float64 {
	return around(k, depth, func(float64) float64 { return 0 })
}

// tread is a tire new at 10 mm.
func tread(rows ...[]float64) pattern.Tread {
	return pattern.Tread{DepthsMM: grid(rows...), NewMM: []float64{10}}
}

// gauge reads a depth: normal scatter, then rounding to the step.
func gauge(rng *rand.Rand, depth, step, scatter float64) float64 {
	return max(0, math.Round((depth+scatter*rng.NormFloat64())/step)*step)
}
