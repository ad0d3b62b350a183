package wear_test

import (
	"cmp"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"rimledger/models/units"
	"rimledger/models/wear"
)

const worked = "../../testdata/worked"

// points reads columns x and y of a CSV file of worked data.
func points(t testing.TB, name string, cx, cy int) (x, y []float64) {
	t.Helper()
	f, err := os.Open(filepath.Join(worked, "data", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()

	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}

	for _, r := range rows[1:] {
		a, errA := strconv.ParseFloat(r[cx], 64)
		b, errB := strconv.ParseFloat(r[cy], 64)
		if errA != nil || errB != nil {
			t.Fatalf("%s: bad row %v", name, r)
		}
		x, y = append(x, a), append(y, b)
	}

	return x, y
}

// fitCase is the published or, where said, recomputed line of a data set.
type fitCase struct {
	A, B        float64
	SEA, SEB, S float64
	R2          float64
}

// caseFile reads one case of a worked file into v.
func caseFile(t testing.TB, name string, v any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(worked, name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, v); err != nil {
		t.Fatal(err)
	}
}

func near(t testing.TB, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s = %.15g, want %.15g within %g of it", what, got, want, relative)
	}
}

func within(t testing.TB, what string, got, want, absolute float64) {
	t.Helper()
	if !(math.Abs(got-want) <= absolute) {
		t.Errorf("%s = %.10g, want %.10g ± %g", what, got, want, absolute)
	}
}

// lines holds straight-line data with published results. Norris: NIST StRD,
// certified to 15 digits, read in full. The others: sources in the worked files
// (Tamhane and Dunlop 2000, ch. 10; Stichler, Richey and Mandel, Rubber Age
// 73:2 (1953); Graybill and Iyer 1994; NIST/SEMATECH e-Handbook); their full
// digits were computed in exact rational arithmetic and agree with R 4.2.2.
var lines = []struct {
	name   string
	file   string
	cx, cy int
	want   fitCase
}{
	{"norris", "strd_norris.csv", 0, 1, fitCase{-0.262323073774029, 1.00211681802045, 0.232818234301152,
		0.000429796848199937, 0.884796396144373, 0.999993745883712}},
	{"tread groove by mileage", "tread_groove_mileage.csv", 0, 1, fitCase{360.6366666666666, -7.280625,
		11.688550933991257, 0.6137716906505606, 19.017020290105535, 0.9526097038533478}},
	{"tread weight by groove", "tread_weight_vs_groove.csv", 1, 0, fitCase{1.326479588600904, 1.136854678449114,
		2.5367494341818295, 0.1022012890455716, 3.1434830520708474, 0.8983565043581542}},
	{"thermometer", "calibration_thermom.csv", 0, 1, fitCase{-3.1395238095238227, 1.0302380952380954, 1.864899450964354,
		0.018087926676620784, 0.23444632512598712, 0.9981539173784731}},
	{"crystal", "calibration_crystal.csv", 0, 1, fitCase{0.0014285714285735551, 0.5034285714285713, 0.5993872547104809,
		0.03519723152854041, 1.0617669460004149, 0.9445926838507149}},
	{"line width", "nist_linewidth.csv", 0, 1, fitCase{0.23576229029298457, 0.9870377142845891, 0.02430034420805557,
		0.003440580336723206, 0.06203195937769626, 0.999538492214726}},
}

func TestFitEqualsPublishedLines(t *testing.T) {
	t.Parallel()

	for _, c := range lines {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			x, y := points(t, c.file, c.cx, c.cy)
			l, err := wear.Fit(x, y)
			if err != nil {
				t.Fatal(err)
			}

			// Crystal's intercept is what is left of 7.55 - 7.55: three digits less.
			within(t, "intercept", l.Intercept, c.want.A, 1e-10*math.Max(math.Abs(c.want.A), 0.1))
			near(t, "slope", l.Slope, c.want.B, 1e-10)
			near(t, "se intercept", l.InterceptSE, c.want.SEA, 1e-10)
			near(t, "se slope", l.SlopeSE, c.want.SEB, 1e-10)
			near(t, "residual sd", l.ResidualSD, c.want.S, 1e-10)
			near(t, "R2", l.R2, c.want.R2, 1e-10)
		})
	}
}

// TestFlatStateEqualsLeastSquares feeds the estimator with a flat prior. The
// data are brought into the range of tread depths by depth = 20 - (y-min)·scale,
// with distance the data's x in thousand km, so that the wear rate is the slope
// times the scale. 1e-10 relative: the certified values have 15 digits, float64 has 16.
func TestFlatStateEqualsLeastSquares(t *testing.T) {
	t.Parallel()

	for _, c := range lines {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			x, y := points(t, c.file, c.cx, c.cy)
			low, high := slices.Min(y), slices.Max(y)
			scale := 18 / (high - low)

			order := make([]int, len(x))
			for i := range order {
				order[i] = i
			}

			slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
			s, err := wear.Start(wear.FlatPrior(), wear.Fitting{XKM: 1000 * math.Min(x[order[0]], 0)})
			if err != nil {
				t.Fatal(err)
			}

			const sd = 0.5
			for _, i := range order {
				s, _, err = s.Update(wear.Reading{XKM: 1000 * x[i], DepthMM: 20 - (y[i]-low)*scale,
					Gauge: wear.Gauge{ScatterMM: sd}})
				if err != nil {
					t.Fatal(err)
				}
			}

			if s.DF != len(x)-2 {
				t.Errorf("degrees of freedom %d, want %d", s.DF, len(x)-2)
			}

			rsd := math.Sqrt(s.ChiSq / float64(s.DF)) // in units of sd
			last := s.XKM / 1000
			near(t, "slope", s.RateMM/scale, c.want.B, 1e-10)
			near(t, "se slope", rsd/math.Sqrt(s.RateInfo)/scale, c.want.SEB, 1e-10)
			near(t, "residual sd", rsd*sd/scale, c.want.S, 1e-10)
			intercept := (20-(s.DepthMM+s.RateMM*last))/scale + low
			within(t, "intercept", intercept, c.want.A, 1e-10*math.Max(math.Abs(c.want.A), 0.1))
			back := s.LagMm + last
			se := rsd * math.Sqrt(1/s.DepthInfo+back*back/s.RateInfo) / scale
			near(t, "se intercept", se, c.want.SEA, 1e-10)
		})
	}
}

// TestKnownStartEqualsLineThroughOrigin: NIST StRD NoInt2, certified. The depth
// at distance 0 is known to a millionth of a mm, so the line has no intercept;
// that doubt itself changes the slope by 1e-12.
func TestKnownStartEqualsLineThroughOrigin(t *testing.T) {
	t.Parallel()
	x, y := points(t, "strd_noint2.csv", 0, 1)
	s, err := wear.Start(wear.Prior{NewDepthSD: 1e-7}, wear.Fitting{NewMM: 10, Fresh: true})
	if err != nil {
		t.Fatal(err)
	}

	for i := range x {
		r := wear.Reading{XKM: 1000 * x[i], DepthMM: 10 - y[i], Gauge: wear.Gauge{ScatterMM: 1}}
		if s, _, err = s.Update(r); err != nil {
			t.Fatal(err)
		}
	}

	rsd := math.Sqrt(s.ChiSq / float64(s.DF))
	near(t, "slope", s.RateMM, 0.727272727272727, 1e-10)
	near(t, "residual sd", rsd, 0.369274472937998, 1e-10)
	near(t, "se slope", rsd/math.Sqrt(s.RateInfo), 0.0420827318078432, 1e-10)
}

// TestTreadGrooveByMileage: printed answers of Tamhane and Dunlop (2000), ch. 10,
// from memory. The book rounds on the way: 0.02, and 0.03 for the
// prediction interval. The quadratic's t is 0.171617/0.021032 by R 4.2.2.
func TestTreadGrooveByMileage(t *testing.T) {
	t.Parallel()
	x, y := points(t, "tread_groove_mileage.csv", 0, 1)
	l, err := wear.Fit(x, y)
	if err != nil {
		t.Fatal(err)
	}

	at, line, point := l.At(25, 0.95)
	for _, c := range []struct {
		what            string
		got, want, band float64
	}{
		{"intercept", l.Intercept, 360.64, 0.02}, {"slope", l.Slope, -7.281, 0.001}, {"r2", l.R2, 0.953, 0.001},
		{"s", l.ResidualSD, 19.02, 0.02}, {"fit at 25", at, 178.62, 0.02},
		{"mean lo", line.Lo, 158.73, 0.02}, {"mean hi", line.Hi, 198.51, 0.02},
		{"point lo", point.Lo, 129.44, 0.03}, {"point hi", point.Hi, 227.80, 0.03},
		{"curvature", l.CurvatureT, 0.17161728896103895 / 0.021031551029667108, 1e-6},
	} {
		within(t, c.what, c.got, c.want, c.band)
	}

	// Linear by R², and yet bent: the check on curvature must catch it.
	if !l.IsLinear() || l.CurvatureT < 3 {
		t.Errorf("IsLinear %v, curvature t %.2f; want true and above 3", l.IsLinear(), l.CurvatureT)
	}
}

// TestStateSeesLackOfFit: the same data in mm, with the 2 mils (0.05 mm) that
// treadwear grading finds about a straight line (Brenner, Scheiner and Kondo
// 1975, abstract). They bend by ten times as much; and so does the runs test
// when the gauge is poor enough to hide it.
func TestStateSeesLackOfFit(t *testing.T) {
	t.Parallel()

	x, y := points(t, "tread_groove_mileage.csv", 0, 1)
	for _, c := range []struct {
		name string
		mils func(i int) float64
		want bool
	}{
		{"as published", func(i int) float64 { return y[i] }, true},
		{"the line itself", func(i int) float64 { return 360.64 - 7.281*x[i] }, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s, err := wear.Start(wear.FlatPrior(), wear.Fitting{})
			if err != nil {
				t.Fatal(err)
			}

			for i := range x {
				s, _, err = s.Update(wear.Reading{XKM: x[i] * 1609.344, DepthMM: c.mils(i) * 0.0254,
					Gauge: wear.Gauge{ScatterMM: 0.05}})
				if err != nil {
					t.Fatal(err)
				}
			}

			f, err := s.Forecast(wear.Ahead{LimitMM: 62.5 * 0.0254, NowKM: s.XKM})
			if err != nil {
				t.Fatal(err)
			}
			if f.LackOfFit != c.want {
				t.Errorf("LackOfFit = %v, want %v", f.LackOfFit, c.want)
			}

			// The published line reaches 62.5 mils at 40.95 thousand miles.
			within(t, "thousand miles to the limit", (s.XKM+f.Distance.Median.Value)/1609.344, 40.949, 0.6)
		})
	}
}

// TestWhere: printed inversion intervals of Graybill and Iyer (1994) pp. 119,
// 431, 434 and of Greenwell and Schubert Kabban, R Journal 6(1) 2014, read; full
// digits recomputed.
func TestWhere(t *testing.T) {
	t.Parallel()
	type inversion struct {
		Y0, Level float64
		Kind      string
		Computed  struct{ X0, Lo, Hi float64 }
		Printed   []float64
	}

	var file map[string]struct{ Cases []inversion }
	caseFile(t, "calibration.json", &file)

	var n int
	for name, data := range map[string]string{"thermometer": "calibration_thermom.csv",
		"crystal": "calibration_crystal.csv"} {
		x, y := points(t, data, 0, 1)
		l, err := wear.Fit(x, y)
		if err != nil {
			t.Fatal(err)
		}

		for _, c := range file[name].Cases {
			at, in, err := l.Where(c.Y0, c.Level, c.Kind == "single")
			if err != nil {
				t.Fatal(err)
			}
			near(t, name+" x0", at, c.Computed.X0, 1e-9)
			near(t, name+" lo", in.Lo, c.Computed.Lo, 1e-9)
			near(t, name+" hi", in.Hi, c.Computed.Hi, 1e-9)

			printed(t, name, []float64{at, in.Lo, in.Hi}, c.Printed)
			n++
		}
	}

	if n != 5 {
		t.Errorf("%d cases, want 5", n)
	}
}

// printed compares got with printed values, if there are any, to their last digit.
func printed(t testing.TB, name string, got, want []float64) {
	t.Helper()

	for i, w := range want {
		band := 0.0051 // two or more decimals are printed
		if tenths := 10 * w; tenths == math.Trunc(tenths) {
			band = 0.05
		}
		within(t, name+" printed", got[i], w, band)
	}
}

// TestTheilSen: Sen (1968), slope 4 and 93 % interval 26/7 to 35/8, read; the
// tread data recomputed with a general scientific library.
func TestTheilSen(t *testing.T) {
	t.Parallel()
	m, err := wear.TheilSen([]float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78}, 0.93)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slope", m.Slope, 4, 1e-12)
	near(t, "lo", m.SlopeIn.Lo, 26.0/7, 1e-12)
	near(t, "hi", m.SlopeIn.Hi, 35.0/8, 1e-12)
	near(t, "intercept", m.Intercept, 6, 1e-12)

	x, y := points(t, "tread_groove_mileage.csv", 0, 1)
	if m, err = wear.TheilSen(x, y, 0.95); err != nil {
		t.Fatal(err)
	}
	near(t, "tread slope", m.Slope, -6.68145833333333, 1e-12)
	near(t, "tread intercept", m.Intercept, 344.45166666666665, 1e-12)
}

// TestTreadwear: vectors derived by hand from the formulas of 49 CFR 575.104(e)(2), from
// memory; 5,000 miles gives grade 00 (NHTSA interpretation 10811, read).
func TestTreadwear(t *testing.T) {
	t.Parallel()
	mils := [9]float64{350.0, 343.9, 338.2, 332.1, 326.4, 320.0, 314.3, 308.1, 302.2}
	plain, err := wear.ProjectTreadwear(mils, 1)
	if err != nil {
		t.Fatal(err)
	}

	severe, err := wear.ProjectTreadwear(mils, 6.0/7.2)
	if err != nil {
		t.Fatal(err)
	}

	percent, grade := wear.TreadwearGrade(plain.Miles, 1.34)
	percent2, grade2 := wear.TreadwearGrade(severe.Miles, 1.34)
	percent5, grade5 := wear.TreadwearGrade(5000, 1.34)

	for _, c := range []struct {
		what            string
		got, want, band float64
	}{
		{"a", plain.InterceptMils, 350.0333, 5e-5}, {"b", plain.SlopeMils, -7.46875, 1e-9},
		{"R2", plain.R2, 0.99992, 5e-6},
		{"miles", plain.Miles, 39365.1, 0.05}, {"percent", percent, 131.2, 0.05}, {"grade", float64(grade), 120, 0},
		{"adjusted rate", severe.AdjustedMils, 6.22396, 5e-6}, {"adjusted miles", severe.Miles, 47078.2, 0.1},
		{"adjusted percent", percent2, 156.9, 0.05}, {"adjusted grade", float64(grade2), 140, 0},
		{"5,000 miles", percent5, 16.67, 0.005}, {"5,000 miles, grade", float64(grade5), 0, 0},
	} {
		within(t, c.what, c.got, c.want, c.band)
	}
}

// TestRandomEffects: thirteen trials of a vaccine (Colditz et al. 1994; the
// table as on the page of van Houwelingen et al. 2002), log risk ratios. The
// DerSimonian-Laird result -0.7141, 0.1787, 0.3088 is from memory.
func TestRandomEffects(t *testing.T) {
	t.Parallel()
	trials := [][4]float64{
		{4, 119, 11, 128}, {6, 300, 29, 274}, {3, 228, 11, 209}, {62, 13536, 248, 12619}, {33, 5036, 47, 5761},
		{180, 1361, 372, 1079}, {8, 2537, 10, 619}, {505, 87886, 499, 87892}, {29, 7470, 45, 7232},
		{17, 1699, 65, 1600}, {186, 50448, 141, 27197}, {5, 2493, 3, 2338}, {27, 16886, 29, 17825},
	}

	var y, v []float64
	for _, r := range trials {
		n1, n2 := r[0]+r[1], r[2]+r[3]
		y = append(y, math.Log(r[0]/n1/(r[2]/n2)))
		v = append(v, 1/r[0]-1/n1+1/r[2]-1/n2)
	}

	mean, se, between := wear.RandomEffects(y, v)
	within(t, "mean", mean, -0.7141, 5e-5)
	within(t, "se", se, 0.1787, 5e-5)
	within(t, "between", between, 0.3088, 5e-5)
}

// TestTextbookTwoPoints: 7.2 mm at 15,000 miles and 4.8 mm at 36,000 reach
// 2/32 in at 64,109 miles (a textbook exercise, whose source rounds to
// 64,110).
func TestTextbookTwoPoints(t *testing.T) {
	t.Parallel()
	const mile = 1.609344
	s, err := wear.Start(wear.FlatPrior(), wear.Fitting{})
	if err != nil {
		t.Fatal(err)
	}

	for _, r := range [][2]float64{{15000, 7.2}, {36000, 4.8}} {
		exact := wear.Gauge{ScatterMM: 1e-3}
		if s, _, err = s.Update(wear.Reading{XKM: r[0] * mile, DepthMM: r[1], Gauge: exact}); err != nil {
			t.Fatal(err)
		}
	}

	f, err := s.Forecast(wear.Ahead{LimitMM: 1.5875, NowKM: s.XKM})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "miles", (s.XKM+f.Distance.Median.Value)/mile, 64109, 0.5)

	// 0.1142857 mm per 1000 miles is 1.142857 mm or 1.43982 32nds per 10,000 miles.
	within(t, "32nds per 10,000 miles", units.Rate32(f.RateMM), 1.142857/0.79375, 1e-5)
}
