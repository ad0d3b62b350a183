package pattern_test

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"rimledger/models/pattern"
)

// likest is the likeness of the two most similar of 1 to 12 dips a second way: the largest
// cosine of a principal angle is the largest singular value of Qa'Qb (Björck and Golub,
// Math. Comp. 27, 1973), with Q from a QR factorization.
func likest(t *testing.T, degrees []float64) float64 {
	t.Helper()

	var bases [12]*mat.Dense
	for n := range bases {
		waves := mat.NewDense(len(degrees), 2, nil)
		for c, f := range []func(float64) float64{math.Cos, math.Sin} {
			mean := 0.0
			for _, deg := range degrees {
				mean += f(float64(n+1)*deg*math.Pi/180) / float64(len(degrees))
			}
			for i, deg := range degrees {
				waves.Set(i, c, f(float64(n+1)*deg*math.Pi/180)-mean)
			}
		}

		var qr mat.QR
		qr.Factorize(waves)
		var q mat.Dense
		qr.QTo(&q)
		bases[n] = mat.DenseCopyOf(q.Slice(0, len(degrees), 0, 2))
	}

	worst := 0.0
	for a := range bases {
		for b := a + 1; b < len(bases); b++ {
			var product mat.Dense
			product.Mul(bases[a].T(), bases[b])
			var svd mat.SVD
			if !svd.Factorize(&product, mat.SVDNone) {
				t.Fatal("no singular values")
			}
			worst = math.Max(worst, svd.Values(nil)[0])
		}
	}
	return worst
}

// tenStations is the best of a search apart from this code, in Python, in steps of ten
// degrees from random starts.
var tenStations = []float64{0, 30, 50, 90, 150, 200, 230, 300, 320, 340}

// The proposed eight places have a likeness of 0.84; ten reach 0.71, which is not worth
// two more readings of every groove.
func TestChoiceOfStations(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		degrees []float64
		want    float64
	}{{pattern.UnequalStations(), 0.84}, {tenStations, 0.71}} {
		got, _, _ := pattern.Likest(c.degrees)
		if second := likest(t, c.degrees); math.Abs(got-second) > 1e-9 || math.Abs(got-c.want) > 0.005 {
			t.Errorf("%v: likeness %.4f, by singular values %.4f, want %.2f", c.degrees, got, second, c.want)
		}
	}
}

// Angles are named from three stations up, each once and in order.
func TestBadStations(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name    string
		degrees []float64
		want    error
	}{
		{"two stations", []float64{0, 180}, pattern.ErrTooFew},
		{"three stations", []float64{0, 100, 200}, nil},
		{"a degree apart", []float64{0, 1, 200}, nil},
		{"less than a degree apart", []float64{0, 0.9, 200}, pattern.ErrStationTwice},
		{"less than a degree apart across the valve", []float64{0, 100, 359.1}, pattern.ErrStationTwice},
		{"a degree apart across the valve", []float64{0, 100, 359}, nil},
		{"out of order", []float64{0, 200, 100}, pattern.ErrStations},
		{"beyond a turn", []float64{0, 200, 361}, pattern.ErrOutOfRange},
		{"one angle too many", []float64{0, 100, 200, 300}, pattern.ErrRagged},
	} {
		in := pattern.Input{Tread: tread(even(3, 6))}
		if len(c.degrees) < 3 {
			in.Tread = tread(even(len(c.degrees), 6))
		}
		in.StationsDeg = c.degrees
		if _, err := pattern.Read(in); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

// A second reading confirms only at the same places.
func TestSecondReadingAtOtherPlaces(t *testing.T) {
	t.Parallel()

	row := low(8, 3*pattern.Step, 3)
	for _, c := range []struct {
		name    string
		degrees []float64
		want    string
	}{
		{"evenly spaced again", nil, pattern.Confirmed},
		{"at unequal places", pattern.UnequalStations(), pattern.Measured},
	} {
		then := tread(row)
		then.StationsDeg = c.degrees
		got, err := pattern.Read(pattern.Input{Tread: tread(row), Previous: &pattern.Visit{Tread: then}})
		if err != nil || len(got.Patterns) != 1 || got.Patterns[0].Confidence != c.want {
			t.Errorf("%s: %+v, %v; want %s", c.name, got.Patterns, err, c.want)
		}
	}
}
