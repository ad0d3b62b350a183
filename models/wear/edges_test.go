package wear_test

import (
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"rimledger/models/wear"
)

// TestEmbeddedTable: the judged rates, mm per 1000 km, and what tread a tire of the kind
// wears off, typed again from the reading: common practice, no source. Of that tread 3 % is
// worn on top in the first 3000 km, and a new tread is 0.3 mm about its nominal depth
// (chosen by us).
func TestEmbeddedTable(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		class               string
		steer, drive, free  float64
		steerMM, driveMM, f float64
	}{
		{"car", 0.13, 0.12, 0.09, 6, 6, 6}, {"light_truck", 0.14, 0.13, 0.10, 7, 7, 7},
		{"rigid_truck", 0.08, 0.11, 0.08, 10, 14, 9}, {"tractor", 0.065, 0.07, 0.06, 10, 16, 9},
		{"trailer", 0.07, 0.07, 0.05, 9, 9, 9}, {"bus", 0.12, 0.15, 0.11, 10, 12, 10},
		{"boat", 0.1, 0.1, 0.1, 8, 8, 8}, // not in the table
	} {
		for i, role := range []string{"steer", "drive", "free"} {
			p := wear.DefaultPrior(c.class, role)
			rate, tread := [3]float64{c.steer, c.drive, c.free}[i], [3]float64{c.steerMM, c.driveMM, c.f}[i]
			within(t, c.class+" "+role, p.RateMean, rate, 1e-12)
			within(t, c.class+" "+role+", tread", p.BreakInMM/0.03, tread, 1e-9)
			within(t, "break-in, km", p.BreakInKM, 3000, 0)
			within(t, "new depth", p.NewDepthSD, 0.3, 0)
		}
	}

	// Km a day, every day of the year counted: common practice, no source.
	for class, km := range map[string]float64{"": 120, "boat": 120, "car": 50, "light_truck": 80, "rigid_truck": 150,
		"tractor": 350, "trailer": 200, "bus": 180} {
		within(t, "use of "+class, wear.DefaultUse(class), km, 0)
	}

	// Steps of a 32nd of an inch and of a tenth of a millimetre; repeats scatter by 0.2 mm
	// and visits by 0.15 mm (common practice, no source).
	if want := (wear.Gauge{ResolutionMM: 0.79375, ScatterMM: 0.2, OperatorMM: 0.15}); wear.Gauge32nd != want {
		t.Errorf("32nds: %+v", wear.Gauge32nd)
	}
	if want := (wear.Gauge{ResolutionMM: 0.1, ScatterMM: 0.2, OperatorMM: 0.15}); wear.GaugeTenth != want {
		t.Errorf("tenths: %+v", wear.GaugeTenth)
	}
}

// TestFlagEdges: both sides of every bound of the warnings, on states set by hand. A gauge of
// 0.2 mm or finer must see 1.6 mm of wear, a coarser one 2.5 mm; a rise of more than two
// 32nds and outliers of more than one in five are suspect (chosen by us).
func TestFlagEdges(t *testing.T) {
	t.Parallel()
	base := wear.State{DepthInfo: 1, RateInfo: 1, FirstVar: 1, FirstMM: 10, LastMM: 5, ResolutionMM: 0.1, Count: 10}
	rise := func(mm float64) func(*wear.State) { return func(s *wear.State) { s.FirstMM, s.LastMM = 0, mm } }
	worn := func(resolution, mm float64) func(*wear.State) {
		return func(s *wear.State) { s.ResolutionMM, s.FirstMM, s.LastMM = resolution, mm, 0 }
	}

	for _, c := range []struct {
		name           string
		change         func(*wear.State)
		early, suspect bool
		prior          bool
	}{
		{"worn 1.6 mm by tenths", worn(0.1, 1.6), false, false, true},
		{"worn 1.59 mm by tenths", worn(0.1, 1.59), true, false, true},
		{"worn 1.6 mm by 0.2 mm", worn(0.2, 1.6), false, false, true},
		{"worn 2.4 mm by 0.21 mm", worn(0.21, 2.4), true, false, true},
		{"worn 2.49 mm by 32nds", worn(0.79375, 2.49), true, false, true},
		{"worn 2.5 mm by 32nds", worn(0.79375, 2.5), false, false, true},
		{"risen by two 32nds", rise(1.5875), true, false, true},
		{"risen by a little more", rise(1.58751), true, true, true},
		{"one outlier of five", func(s *wear.State) { s.Count, s.Outliers = 5, 1 }, false, false, true},
		{"one outlier of four", func(s *wear.State) { s.Count, s.Outliers = 4, 1 }, false, true, true},
		{"one shift", func(s *wear.State) { s.Shifts = 1 }, false, true, true},
		{"an outlier just now", func(s *wear.State) { s.Pending = true }, false, true, true},
		{"a place", func(s *wear.State) { s.Places = 1 }, false, false, false},
	} {
		s := base
		c.change(&s)
		f, err := s.Forecast(wear.Ahead{})
		if err != nil {
			t.Fatal(err)
		}
		if f.TooEarly != c.early || f.Suspect != c.suspect || f.PriorOnly != c.prior {
			t.Errorf("%s: early %v, suspect %v, prior %v; want %v, %v, %v", c.name, f.TooEarly, f.Suspect, f.PriorOnly,
				c.early, c.suspect, c.prior)
		}
	}
}

// TestLackOfFitEdges: the sum of squared surprises has a chi-square distribution, whose 99 %
// points are printed in every table (13.277, 23.209 and 50.892 for 4, 10 and 30); the cube
// root comes within half a percent of them. Neighbors that agree have products that sum to
// a normal of variance n, whose 99 % point is 2.33 √n. Fewer than four surprises say nothing.
func TestLackOfFitEdges(t *testing.T) {
	t.Parallel()
	odd := func(n int, squares, runs float64) bool {
		s := wear.State{DepthInfo: 1, RateInfo: 1, DF: n, ChiSq: squares, Runs: runs}
		f, err := s.Forecast(wear.Ahead{})
		if err != nil {
			t.Fatal(err)
		}
		return f.LackOfFit
	}

	for n, printed := range map[int]float64{4: 13.277, 10: 23.209, 30: 50.892} {
		if odd(n, 0.995*printed, 0) || !odd(n, 1.005*printed, 0) {
			t.Errorf("%d surprises: the bound is not at %g", n, printed)
		}

		// The same by the formula of the cube root, turned round (Wilson and Hilferty 1931).
		part := 2 / (9 * float64(n))
		at := float64(n) * math.Pow(1-part+2.33*math.Sqrt(part), 3)
		if odd(n, at-1e-6, 0) || !odd(n, at+1e-6, 0) {
			t.Errorf("%d surprises: the bound is not at %g", n, at)
		}

		runs := 2.33 * math.Sqrt(float64(n))
		if odd(n, 0, runs) || !odd(n, 0, runs+1e-9) {
			t.Errorf("%d surprises: the bound of the neighbors is not at %g", n, runs)
		}
	}

	if odd(3, 1e6, 1e6) || !odd(4, 1e6, 0) {
		t.Error("three surprises say nothing, four do")
	}
}

// TestHorizon: nothing is told beyond two million km and twenty years, 7305 days.
func TestHorizon(t *testing.T) {
	t.Parallel()
	f := forecast(t, start(t), 1.6)
	within(t, "days without a known use", f.Days.Median.Value, 7305, 0)
	if !f.Days.Median.Beyond || !f.Days.Lo90.Beyond {
		t.Errorf("%+v", f.Days)
	}

	for _, v := range []float64{-1, math.NaN(), math.Inf(-1)} {
		if got := f.Distance.Before(v); got != 0 {
			t.Errorf("before %g: %g, want 0", v, got)
		}
		if got := (wear.Span{}).Before(v); got != 0 {
			t.Errorf("reached, before %g: %g, want 0", v, got)
		}
	}
	if got := f.Days.Before(1e9); got != 0 {
		t.Errorf("the median is beyond the horizon: %g, want 0", got)
	}

	// At the limit is reached; a nanometre above is not.
	s := wear.State{DepthMM: 1.6, DepthInfo: 100, RateMM: 0.1, RateInfo: 1000}
	if f := forecast(t, s, 1.6); !f.Reached || f.Distance != (wear.Span{}) {
		t.Errorf("at the limit: %+v", f)
	}
	if f := forecast(t, s, 1.599999); f.Reached || f.Distance.Hi90.Value == 0 {
		t.Errorf("above the limit: %+v", f)
	}
}

// TestCountEdges: the distribution is exact up to 200 events and normal beyond (chosen by
// us). Of 200 events of 0.3 % none happens with a chance of 0.997^200 = 0.548, so the median
// is 0; a normal of mean 0.6 is nearest to 1. The median is the least number whose chance,
// with all below, is at least a half.
func TestCountEdges(t *testing.T) {
	t.Parallel()
	of := func(chances ...float64) wear.Count {
		var c wear.Count
		for _, p := range chances {
			c.Add(p)
		}
		return c
	}

	wantRange(t, "200 of 0.3 %", of(slices.Repeat([]float64{0.003}, 200)...), 0, 0, 2)
	wantRange(t, "201 of 0.3 %", of(slices.Repeat([]float64{0.003}, 201)...), 1, 0, 2)
	wantRange(t, "one of 55 %", of(0.55), 1, 0, 1)
	wantRange(t, "one of 45 %", of(0.45), 0, 0, 1)
	wantRange(t, "one of 50 %", of(0.5), 0, 0, 1)
	for chance, want := range map[float64]float64{1.5: 1, -0.5: 0, 1: 1} {
		c := of(chance)
		within(t, fmt.Sprint("mean of a chance of ", chance), c.Mean(), want, 0)
	}
}

// TestBreakInIsAllowedFor: the wear of break-in (3 % of 6 mm over 3000 km) is summed as far
// as the tire has run, from the first depth that is known.
func TestBreakInIsAllowedFor(t *testing.T) {
	t.Parallel()
	s := start(t)
	for _, c := range []struct{ km, depth, want float64 }{
		{1000, 7.8, 0.06}, {1000, 7.8, 0.06}, {2500, 7.6, 0.15}, {4000, 7.4, 0.18}, {9000, 7, 0.18},
	} {
		s = read(t, s, [2]float64{c.km, c.depth})
		within(t, fmt.Sprintf("by %g km", c.km), s.BreakInMM, c.want, 1e-12)
	}

	// 8 mm when new; without break-in the rate is (8 - depth - 0.18) over 9 thousand km.
	rate, se, ok := s.Summary()
	sd, _ := s.DepthSD()
	within(t, "rate", rate, (8-s.DepthMM-0.18)/9, 1e-12)
	within(t, "its error", se, math.Hypot(0.3, sd)/9, 1e-12)
	if !ok || s.Places != 4 {
		t.Errorf("%v, %d places, want 4", ok, s.Places)
	}

	// A new tire of unknown depth is first known where it is first read.
	s, err := wear.Start(wear.DefaultPrior("car", "drive"), wear.Fitting{Fresh: true})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, known := s.DepthAt(0); known {
		t.Error("no new depth is known, and yet one is told")
	}
	s = read(t, s, [2]float64{1000, 7.8})
	if s.BreakInMM != 0 || s.Places != 0 || s.FirstKM != 1000 {
		t.Errorf("before the first reading nothing was seen: %+v", s)
	}
	s = read(t, s, [2]float64{2000, 7.6})
	within(t, "from the first reading on", s.BreakInMM, 0.06, 1e-12)
	if s.Places != 1 {
		t.Errorf("%d places, want 1", s.Places)
	}
}

// TestReadingEdges: both sides of what a reading may hold. 26 mm is the deepest a gauge
// reads; a depth may pass the nominal one by 0.8 mm, or by a step of a coarser gauge.
func TestReadingEdges(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name  string
		newMM float64
		r     wear.Reading
		want  error
	}{
		{"26 mm", 0, wear.Reading{DepthMM: 26}, nil},
		{"26.01 mm", 0, wear.Reading{DepthMM: 26.01}, wear.ErrOutOfRange},
		{"0.8 mm above new", 8, wear.Reading{DepthMM: 8.8}, nil},
		{"0.81 mm above new", 8, wear.Reading{DepthMM: 8.81}, wear.ErrAboveNew},
		{"1 mm above new by steps of 1 mm", 8, wear.Reading{DepthMM: 9, Gauge: wear.Gauge{ResolutionMM: 1}}, nil},
		{"more by steps of 1 mm", 8, wear.Reading{DepthMM: 9.01, Gauge: wear.Gauge{ResolutionMM: 1}}, wear.ErrAboveNew},
		{"10,000 readings", 0, wear.Reading{DepthMM: 8, Count: 10_000}, nil},
		{"10,001 readings", 0, wear.Reading{DepthMM: 8, Count: 10_001}, wear.ErrOutOfRange},
		{"ten million km", 0, wear.Reading{DepthMM: 8, XKM: 1e7}, nil},
		{"more", 0, wear.Reading{DepthMM: 8, XKM: 1e7 + 1}, wear.ErrOutOfRange},
	} {
		s, err := wear.Start(wear.FlatPrior(), wear.Fitting{NewMM: c.newMM})
		if err != nil {
			t.Fatal(err)
		}
		if c.r.Gauge == (wear.Gauge{}) {
			c.r.Gauge = wear.GaugeTenth
		}
		if _, _, err := s.Update(c.r); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	for mm, want := range map[float64]error{26: nil, 26.01: wear.ErrOutOfRange, -0.01: wear.ErrOutOfRange} {
		if _, err := wear.Start(wear.FlatPrior(), wear.Fitting{NewMM: mm}); !errors.Is(err, want) {
			t.Errorf("new %g mm: %v, want %v", mm, err, want)
		}
	}
}

// TestUseEdges: a stretch counts from one hour on; of no odometer nothing is known.
func TestUseEdges(t *testing.T) {
	t.Parallel()
	if _, _, ok := wear.StartUse(100).At(5); ok {
		t.Error("no odometer was read, and yet a distance is told")
	}

	u, err := wear.StartUse(100).Update(0, 1000)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, ok := u.At(math.NaN()); ok {
		t.Error("a day that is no number has a distance")
	}
	for hours, want := range map[float64]int{1: 1, 0.99: 0, 1.01: 1, 0.95: 0} {
		next, err := u.Update(hours/24, 1001)
		if err != nil || next.Readings != want {
			t.Errorf("%g hours: %d stretches, %v; want %d", hours, next.Readings, err, want)
		}
	}
}

// TestLineBendsAsAParabola: t of the quadratic term by a second way: least squares of
// 1, x, x² by the normal equations, the term over its standard error.
func TestLineBendsAsAParabola(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(2, 4))

	for n := 3; n < 12; n++ {
		x, y := make([]float64, n), make([]float64, n)
		design := mat.NewDense(n, 3, nil)
		for i := range x {
			x[i] = 3 * rng.ExpFloat64() // not symmetric about its mean
			y[i] = 8 - 0.5*x[i] + 0.05*x[i]*x[i] + 0.2*rng.NormFloat64()
			design.SetRow(i, []float64{1, x[i], x[i] * x[i]})
		}
		l, err := wear.Fit(x, y)
		if err != nil {
			t.Fatal(err)
		}
		if n == 3 {
			within(t, "three points do not tell", l.CurvatureT, 0, 0)
			continue
		}

		var normal, inverse, right, b, fitted mat.Dense
		normal.Mul(design.T(), design)
		if err := inverse.Inverse(&normal); err != nil {
			t.Fatal(err)
		}
		right.Mul(design.T(), mat.NewDense(n, 1, y))
		b.Mul(&inverse, &right)
		fitted.Mul(design, &b)
		var sse float64
		for i := range y {
			sse += math.Pow(y[i]-fitted.At(i, 0), 2)
		}
		want := b.At(2, 0) / math.Sqrt(sse/float64(n-3)*inverse.At(2, 2))
		within(t, fmt.Sprintf("t of %d points", n), l.CurvatureT, want, 1e-6*(1+math.Abs(want)))
	}

	// What a line explains in full bends nowhere and has an R² of 1, level or not.
	for _, y := range [][]float64{{5, 5, 5, 5}, {8, 7, 6, 5}} {
		l, err := wear.Fit([]float64{0, 1, 2, 3}, y)
		if err != nil || l.CurvatureT != 0 || l.R2 != 1 {
			t.Errorf("%v: %+v, %v", y, l, err)
		}
	}

	// Three intervals and R² of 0.95 (ASTM F1016, from its published summary).
	for want, lines := range map[bool][]wear.Line{true: {{N: 4, R2: 0.95}, {N: 9, R2: 1}},
		false: {{N: 3, R2: 1}, {N: 4, R2: 0.9499}, {N: 3, R2: 0.9}}} {
		for _, l := range lines {
			if l.IsLinear() != want {
				t.Errorf("%d points with R² %g: linear %v", l.N, l.R2, !want)
			}
		}
	}

	// A line whose slope is 0.9 of what its error needs at 95 % reaches nothing for sure.
	l := wear.Line{N: 10, Slope: -1, SumSquare: 1, ResidualSD: 1}
	need := distuv.StudentsT{Sigma: 1, Nu: 8}.Quantile(0.975)
	for share, want := range map[float64]error{0.9: wear.ErrNoSlope, 1.1: nil} {
		l.SlopeSE = 1 / need / share
		if _, _, err := l.Where(0, 0.95, false); !errors.Is(err, want) {
			t.Errorf("a slope of %g times what is needed: %v, want %v", share, err, want)
		}
	}
}

// TestTheilSenWithTies: the interval by a second way. The variance of Kendall's score is
// taken over all orders of the values, x being tied; Sen (1968) takes the slopes as far from
// the median as the score may be from zero.
func TestTheilSenWithTies(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(13, 79))

	for range 60 {
		n := 4 + rng.IntN(4)
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i], y[i] = float64(rng.IntN(4)), 5-rng.Float64()
		}
		if slices.Max(x) == slices.Min(x) {
			continue
		}

		var squares, orders float64
		permute(make([]float64, 0, n), n, func(rank []float64) {
			var score float64
			for i := range x {
				for j := range i {
					score += sign(x[i]-x[j]) * sign(rank[i]-rank[j])
				}
			}
			squares += score * score
			orders++
		})

		var slopes []float64
		for i := range x {
			for j := range i {
				if x[i] != x[j] {
					slopes = append(slopes, (y[i]-y[j])/(x[i]-x[j]))
				}
			}
		}
		slices.Sort(slopes)
		for _, level := range []float64{0.1, 0.3, 0.5, 0.7, 0.9, 0.999} {
			off := distuv.UnitNormal.Quantile((1+level)/2) * math.Sqrt(squares/orders)
			low := max(int(math.Round((float64(len(slopes))-off)/2)), 1)
			want := wear.Interval{Lo: slopes[low-1], Hi: slopes[len(slopes)-low]}
			got, err := wear.TheilSen(x, y, level)
			if err != nil || got.SlopeIn != want {
				t.Fatalf("%v at %g: %+v, %v; want %+v", x, level, got.SlopeIn, err, want)
			}
		}
	}

	long := make([]float64, 1001)
	for i := range long {
		long[i] = float64(i)
	}
	if _, err := wear.TheilSen(long[:1000], long[:1000], 0.9); err != nil {
		t.Errorf("1000 points: %v", err)
	}
	if _, err := wear.TheilSen(long, long, 0.9); !errors.Is(err, wear.ErrOutOfRange) {
		t.Errorf("1001 points: %v", err)
	}
}

func sign(v float64) float64 {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// permute calls use with every order of 1 to n.
func permute(begun []float64, n int, use func([]float64)) {
	if len(begun) == n {
		use(begun)
		return
	}
	for v := 1.0; v <= float64(n); v++ {
		if !slices.Contains(begun, v) {
			permute(append(begun, v), n, use)
		}
	}
}

// TestTreadwearEdges: a grade is the percentage rounded down to a multiple of 20, 30,000
// miles being 100 % (402 over 1.34 is 300 miles a percent).
func TestTreadwearEdges(t *testing.T) {
	t.Parallel()
	for miles, want := range map[float64]int{41_999: 120, 42_001: 140, 35_999: 100, 36_001: 120, 126_001: 420,
		5_999: 0, 6_001: 20, -1: 0, math.Inf(1): 0, math.NaN(): 0, 4e8: 0} {
		percent, grade := wear.TreadwearGrade(miles, 1.34)
		if grade != want {
			t.Errorf("%g miles: grade %d, want %d", miles, grade, want)
		}
		if (miles < 0 || !(miles < 4e8)) && percent != 0 {
			t.Errorf("%g miles: %g %%, want 0", miles, percent)
		}
	}

	mils := [9]float64{350, 343, 338, 332, 326, 320, 314, 308, 302}
	for severity, want := range map[float64]error{0.01: nil, 0.0099: wear.ErrOutOfRange, 100: nil,
		100.1: wear.ErrOutOfRange} {
		if _, err := wear.ProjectTreadwear(mils, severity); !errors.Is(err, want) {
			t.Errorf("severity %g: %v, want %v", severity, err, want)
		}
	}
	for deepest, want := range map[float64]error{1100: nil, 1100.01: wear.ErrOutOfRange} {
		mils[0] = deepest
		if _, err := wear.ProjectTreadwear(mils, 1); !errors.Is(err, want) {
			t.Errorf("%g mils: %v, want %v", deepest, err, want)
		}
	}
}

// TestStoredFormNames itself: the first byte says which form it is, so that a later one can
// be told from it; what is no whole string of it is refused, not read.
func TestStoredFormNames(t *testing.T) {
	t.Parallel()
	text, err := json.Marshal(start(t))
	if err != nil {
		t.Fatal(err)
	}
	raw, err := base64.StdEncoding.DecodeString(string(text[1 : len(text)-1]))
	if err != nil || raw[0] != 1 {
		t.Errorf("the stored form begins with %v, %v; want 1", raw[:1], err)
	}

	open := append([]byte("x"), text[1:]...)
	for _, bad := range []string{"", `"`, `""`, "x", string(open)} {
		if err := new(wear.State).UnmarshalJSON([]byte(bad)); err == nil {
			t.Errorf("%.8q is read", bad)
		}
	}
}
