package bench

import (
	"math"
	"slices"
	"strconv"

	"rimledger/models/balance"
	"rimledger/models/units"
)

// StripMost is how many adhesive segments make one strip, chosen by us.
const StripMost = 12

// SegmentMM is the usual length of one adhesive segment along the rim (from memory).
const SegmentMM = 16.0

// Sizes are the masses that a box holds, in one unit.
type Sizes struct {
	Clips    []float64 // one clip each
	Segments []float64 // one adhesive segment each
}

// UsualSizes returns the sizes that a box usually holds, in a unit of mass: oz, or
// else g (rounding habit of 5 g and 0.25 oz; from memory, no source).
func UsualSizes(heavy bool, unit units.Unit) Sizes {
	switch {
	case heavy && unit == units.Oz:
		return Sizes{[]float64{1, 2, 3, 4, 5, 6, 8, 10, 12, 14}, []float64{1}}
	case heavy:
		return Sizes{[]float64{25, 50, 75, 100, 125, 150, 200, 250, 300, 350}, []float64{25}}
	case unit == units.Oz:
		return Sizes{[]float64{0.25, 0.5, 0.75, 1, 1.25, 1.5, 1.75, 2, 2.25, 2.5, 2.75, 3}, []float64{0.25}}
	}

	return Sizes{[]float64{5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60}, []float64{5}}
}

// usualStock returns the usual sizes as a list of stock.
func usualStock(heavy bool, unit units.Unit) []balance.Weight {
	grams := 1.0
	if unit == units.Oz {
		grams = float64(units.Ounce)
	}

	var out []balance.Weight
	add := func(kind balance.Kind, sizes []float64) {
		for _, v := range sizes {
			name := strconv.FormatFloat(v, 'f', -1, 64) + " " + string(unit)
			out = append(out, balance.Weight{Name: name, Kind: kind, MassG: v * grams})
		}
	}

	box := UsualSizes(heavy, unit)
	add(balance.Clip, box.Clips)
	add(balance.Adhesive, box.Segments)

	return out
}

// stock returns what there is to fit, with the length of its strips.
func stock(in Input) []balance.Weight {
	out := slices.Clone(in.Problem.Stock)
	if len(out) == 0 && in.UsualStock != "" {
		out = usualStock(in.Heavy(), in.UsualStock)
	}

	for i, w := range out {
		if w.Kind != balance.Adhesive {
			continue
		}
		if w.LengthMM == 0 {
			out[i].LengthMM = SegmentMM
		}
		if w.MaxSegments == 0 {
			out[i].MaxSegments = StripMost
		}
	}

	return out
}

// StripMM returns how long a strip of so many grams is, in mm, in the fewest
// segments of the given masses in grams that make it up; 0 if none do.
func StripMM(g float64, segments []float64) float64 {
	fewest := 0.0
	for _, m := range segments {
		if m <= 0 {
			continue
		}
		if n := g / m; math.Abs(n-math.Round(n)) < 0.02 && (fewest == 0 || n < fewest) {
			fewest = math.Round(n)
		}
	}

	return min(fewest, StripMost) * SegmentMM
}
