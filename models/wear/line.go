package wear

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"rimledger/models/badinput"
)

// Line is a straight line through points by ordinary least squares.
type Line struct {
	N                       int
	Intercept, Slope        float64
	InterceptSE, SlopeSE    float64
	ResidualSD              float64
	R2                      float64
	MeanX, MeanY, SumSquare float64 // SumSquare: of x about its mean
	// CurvatureT is the t statistic (N-3 degrees of freedom) of a quadratic
	// term; 0 for fewer than four points. Beyond ±3 or so the points bend.
	CurvatureT float64
}

// Interval is a confidence interval.
type Interval struct{ Lo, Hi float64 }

// Fit returns the line through points in any order; for a wear line x is the
// distance and y the depth, and the slope is negative. It returns ErrTooFew for
// fewer than three points, ErrNoSpread if all x agree, and a badinput.Error for a
// value that is not finite or beyond 1e60.
//
// Two passes about the means: Draper and Smith, Applied Regression Analysis, ch. 1.
func Fit(x, y []float64) (Line, error) {
	if err := checkPoints(x, y); err != nil {
		return Line{}, err
	}

	l := Line{N: len(x)}
	n := float64(l.N)
	l.MeanX, l.MeanY = mean(x), mean(y)

	var sxy, syy float64
	for i := range x {
		dx, dy := x[i]-l.MeanX, y[i]-l.MeanY
		l.SumSquare += dx * dx
		sxy += dx * dy
		syy += dy * dy
	}

	if l.SumSquare == 0 {
		return Line{}, ErrNoSpread
	}

	l.Slope = sxy / l.SumSquare
	l.Intercept = l.MeanY - l.Slope*l.MeanX

	var sse float64
	for i := range x {
		e := (y[i] - l.MeanY) - l.Slope*(x[i]-l.MeanX)
		sse += e * e
	}

	l.ResidualSD = math.Sqrt(sse / (n - 2))
	l.SlopeSE = l.ResidualSD / math.Sqrt(l.SumSquare)
	l.InterceptSE = l.ResidualSD * math.Sqrt(1/n+l.MeanX*l.MeanX/l.SumSquare)
	l.R2 = 1
	if syy > 0 {
		l.R2 = 1 - sse/syy
	}
	l.CurvatureT = l.curvature(x, y, sse)

	return l, nil
}

// curvature returns t of the quadratic term, fitted as the part of x² that the
// line cannot explain.
func (l Line) curvature(x, y []float64, sse float64) float64 {
	n := float64(l.N)
	if l.N < 4 {
		return 0
	}

	var third float64
	for _, v := range x {
		third += math.Pow(v-l.MeanX, 3)
	}

	var ww, wy float64
	for i := range x {
		dx := x[i] - l.MeanX
		w := dx*dx - l.SumSquare/n - third/l.SumSquare*dx
		ww += w * w
		wy += w * (y[i] - l.MeanY - l.Slope*dx)
	}

	if ww <= 0 || sse <= 0 {
		return 0
	}

	b := wy / ww
	rest := math.Max(sse-b*wy, 1e-12*sse) // a perfect parabola is bent enough
	return b / math.Sqrt(rest/(n-3)/ww)
}

// IsLinear reports whether the line may be used by the rule of treadwear
// analysis: at least three intervals after break-in and R² of 0.95 (ASTM F1016,
// from its published summary).
func (l Line) IsLinear() bool { return l.N >= 4 && l.R2 >= 0.95 }

// At returns the line at x with the confidence intervals, at level (such as
// 0.95), of the line itself and of one further point.
func (l Line) At(x, level float64) (y float64, line, point Interval) {
	y = l.MeanY + l.Slope*(x-l.MeanX)
	t := l.quantile(level)
	h := 1/float64(l.N) + (x-l.MeanX)*(x-l.MeanX)/l.SumSquare
	a, b := t*l.ResidualSD*math.Sqrt(h), t*l.ResidualSD*math.Sqrt(1+h)
	return y, Interval{y - a, y + a}, Interval{y - b, y + b}
}

// Where returns the x at which the line reaches y, with its interval at level
// for the line itself (single false) or for one further point (single true).
// It returns ErrNoSlope where the slope does not differ from zero at level, so
// that no finite interval exists.
//
// Fieller, as in Graybill and Iyer, Regression Analysis (1994), ch. 6.
func (l Line) Where(y, level float64, single bool) (x float64, in Interval, err error) {
	t := l.quantile(level)
	g := math.Pow(t*l.SlopeSE/l.Slope, 2)
	if !(g < 1) || !finite(y) {
		return 0, Interval{}, ErrNoSlope
	}

	d := (y - l.MeanY) / l.Slope
	extra := 1 / float64(l.N)
	if single {
		extra++
	}

	half := t * l.ResidualSD / math.Abs(l.Slope) * math.Sqrt(d*d/l.SumSquare+(1-g)*extra)
	return l.MeanX + d, Interval{l.MeanX + (d-half)/(1-g), l.MeanX + (d+half)/(1-g)}, nil
}

// quantile returns the two-sided t of level, brought into (0, 1).
func (l Line) quantile(level float64) float64 {
	level = math.Max(1e-6, math.Min(level, 1-1e-12))
	return distuv.StudentsT{Sigma: 1, Nu: float64(l.N - 2)}.Quantile((1 + level) / 2)
}

// MedianLine is a straight line by medians, which a few wrong points do not move.
type MedianLine struct {
	Slope     float64
	SlopeIn   Interval // at the level asked for
	Intercept float64  // median of y - Slope x
}

// maxMedianPoints bounds the work, which grows with the square.
const maxMedianPoints = 1000

// TheilSen returns the median of the slopes between all pairs of points with
// its interval at level. Errors are those of Fit, and a badinput.Error that wraps
// ErrOutOfRange for more than 1000 points.
//
// Sen, J. Am. Stat. Assoc. 63 (1968) 1379; pairs at one x are left out.
func TheilSen(x, y []float64, level float64) (MedianLine, error) {
	if err := checkPoints(x, y); err != nil {
		return MedianLine{}, err
	}
	if len(x) > maxMedianPoints {
		return MedianLine{}, badinput.Number("points", float64(len(x)), ErrOutOfRange, "at most 1000 points")
	}

	slopes := make([]float64, 0, len(x)*(len(x)-1)/2)
	for i := range x {
		for j := range i {
			if x[i] != x[j] {
				slopes = append(slopes, (y[i]-y[j])/(x[i]-x[j]))
			}
		}
	}

	if len(slopes) == 0 {
		return MedianLine{}, ErrNoSpread
	}

	// The interval takes the slopes as far from the median as the score may be from 0.
	slices.Sort(slopes)
	m := MedianLine{Slope: median(slopes)}
	count := float64(len(slopes))
	level = math.Max(0, math.Min(level, 1-1e-12))
	half := distuv.UnitNormal.Quantile((1+level)/2) * math.Sqrt(kendallVariance(x))
	low := max(int(math.Round((count-half)/2)), 1)
	m.SlopeIn = Interval{slopes[low-1], slopes[len(slopes)-low]}

	rest := make([]float64, len(x))
	for i := range x {
		rest[i] = y[i] - m.Slope*x[i]
	}
	slices.Sort(rest)
	m.Intercept = median(rest)

	return m, nil
}

// kendallVariance returns the variance of Kendall's score for these x, ties counted.
func kendallVariance(x []float64) float64 {
	score := func(n float64) float64 { return n * (n - 1) * (2*n + 5) / 18 }
	sorted := slices.Sorted(slices.Values(x))
	v := score(float64(len(x)))
	for i := 0; i < len(sorted); {
		j := i
		for j < len(sorted) && sorted[j] == sorted[i] {
			j++
		}
		v -= score(float64(j - i))
		i = j
	}
	return v
}

// checkPoints returns an error unless x and y are three or more finite pairs.
func checkPoints(x, y []float64) error {
	if len(x) != len(y) {
		return badinput.Number("points", float64(len(y)), ErrTooFew, "as many y as x, %g", float64(len(x)))
	}
	if len(x) < 3 {
		return ErrTooFew
	}

	for i := range x {
		if err := badinput.Within("x", x[i], -1e60, 1e60, "a point is finite"); err != nil {
			return err
		}
		if err := badinput.Within("y", y[i], -1e60, 1e60, "a point is finite"); err != nil {
			return err
		}
	}

	return nil
}

func mean(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// median returns the middle of sorted values, at least one.
func median(sorted []float64) float64 {
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
