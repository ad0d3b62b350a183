package balance_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models/balance"
)

// caseFile reads a file of published examples; each case in it names its source.
func caseFile(t testing.TB, name string, v any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("../../testdata/worked", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, v); err != nil {
		t.Fatal(err)
	}
}

// near fails unless got is within tol of want.
func near(t rapid.TB, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tol {
		t.Errorf("%s: got %.10g, want %.10g within %g", what, got, want, tol)
	}
}

// nearAngle is near on a circle.
func nearAngle(t rapid.TB, what string, got, want, tol float64) {
	t.Helper()
	if got < 0 || got >= 360 {
		t.Errorf("%s: %g is outside [0, 360)", what, got)
	}
	if d := math.Abs(math.Mod(got-want+900, 360) - 180); math.IsNaN(d) || d > tol {
		t.Errorf("%s: got %.10g deg, want %.10g within %g", what, got, want, tol)
	}
}

// amount is a pair of amount and angle in the case files.
type amount [2]float64

func (a amount) phasor() balance.Phasor { return balance.Phasor{Amount: a[0], Deg: a[1]} }

func phasors(as []amount) []balance.Phasor {
	var out []balance.Phasor
	for _, a := range as {
		out = append(out, a.phasor())
	}
	return out
}

type polarCase struct {
	M        []float64
	R        []float64
	RMM      []float64 `json:"r_mm"`
	Angle    []float64
	RBalance float64 `json:"r_balance"`
	RBalMM   float64 `json:"r_balance_mm"`
	Printed  amount
	Computed amount
}

type workedCases struct {
	Rao struct {
		Original  struct{ A, B amount }
		TrialLeft struct {
			Weight, A, B amount
		} `json:"trial_left"`
		TrialRight struct {
			Weight, A, B amount
		} `json:"trial_right"`
		Printed struct {
			L amount `json:"B_L"`
			R amount `json:"B_R"`
		}
		Computed struct {
			Influence map[string]amount
			L         amount `json:"correction_L"`
			R         amount `json:"correction_R"`
		}
	} `json:"rao_turbine_rotor"`
	Goodman struct {
		Alpha    [][]float64
		A        []float64
		Printed  []float64
		Residual []float64
		RMS      float64
	} `json:"goodman_1964"`
	Darlow struct {
		Alpha    [][]amount
		A        []amount
		Printed  []amount
		Computed []amount
	} `json:"darlow_case_1"`
	Khurmi  polarCase `json:"khurmi_21_1"`
	Sarkar  polarCase `json:"sarkar_8_1"`
	Norton1 polarCase `json:"norton_12_1"`
	Norton2 struct {
		M, R, Angle, Z, Planes []float64
		Printed                struct{ B amount }
		Computed               struct{ A, B amount }
	} `json:"norton_12_2"`
	Beer struct {
		Mass     float64 `json:"mass_kg"`
		Rev      float64 `json:"rev_s"`
		Force    float64 `json:"force_N"`
		Couple   float64 `json:"couple_Nm"`
		Computed struct {
			Eccentricity float64 `json:"eccentricity_mm"`
			Product      float64 `json:"product_of_inertia_kgm2"`
			Static       float64 `json:"U_static_gmm"`
		}
	} `json:"beer_johnston_18_70"`
	Permissible struct {
		K       float64 `json:"k_gmm_kg_rpm"`
		KOz     float64 `json:"k_ozin_lb_rpm"`
		FourW   float64 `json:"G_of_4W_over_N"`
		Example struct {
			M       float64 `json:"m_kg"`
			G       float64
			V       float64 `json:"v_kmh"`
			Rolling float64 `json:"rolling_radius_m"`
			N       float64 `json:"n_rpm"`
			U       float64 `json:"U_per_gmm"`
		}
	} `json:"permissible_unbalance"`
	Split struct {
		Cases []struct {
			W, Phi, A, B float64
			Out          [2]float64
		}
	} `json:"constructed_split"`
}

func worked(t testing.TB) workedCases {
	t.Helper()
	var w workedCases
	caseFile(t, "balancing.json", &w)
	return w
}

// Rao, Mechanical Vibrations, two-plane turbine rotor. The printed angles are
// those of the unbalance; the correction lies opposite and must leave nothing.
func TestRaoTwoPlanes(t *testing.T) {
	t.Parallel()

	r := worked(t).Rao
	got, err := balance.TrialWeights(balance.TrialTest{
		Planes: 2, AsIs: phasors([]amount{r.Original.A, r.Original.B}),
		Runs: []balance.TrialRun{
			{Plane: 0, Weight: r.TrialLeft.Weight.phasor(), Readings: phasors([]amount{r.TrialLeft.A, r.TrialLeft.B})},
			{
				Plane:    1,
				Weight:   r.TrialRight.Weight.phasor(),
				Readings: phasors([]amount{r.TrialRight.A, r.TrialRight.B}),
			},
		},
	})
	if err != nil {
		t.Fatal(err)
	}

	for i, want := range []struct{ printed, computed amount }{
		{r.Printed.L, r.Computed.L}, {r.Printed.R, r.Computed.R},
	} {
		near(t, "weight as printed", got.Weights[i].Amount, want.printed[0], 1e-6)
		nearAngle(t, "angle opposite to the printed", got.Weights[i].Deg, want.printed[1]+180, 1e-5)
		near(t, "weight recomputed", got.Weights[i].Amount, want.computed[0], 1e-9)
		nearAngle(t, "angle recomputed", got.Weights[i].Deg, want.computed[1], 1e-9)
		near(t, "predicted residual", got.Predicted[i].Amount, 0, 1e-12)
	}

	for i, k := range []string{"A_AL", "A_AR", "A_BL", "A_BR"} {
		near(t, k, got.Influence[i/2][i%2].Amount, r.Computed.Influence[k][0], 1e-12)
		nearAngle(t, k, got.Influence[i/2][i%2].Deg, r.Computed.Influence[k][1], 1e-9)
	}
}

// Goodman, J. Eng. Ind. 86 (1964) 273-277: three readings, two planes, real
// numbers, exactly 17/21 and 31/21.
func TestGoodmanLeastSquares(t *testing.T) {
	t.Parallel()
	g := worked(t).Goodman
	var alpha [][]balance.Phasor

	var readings []balance.Phasor
	for i, row := range g.Alpha {
		var c []balance.Phasor
		for _, a := range row {
			c = append(c, balance.Phasor{Amount: a})
		}
		alpha = append(alpha, c)
		readings = append(readings, balance.Phasor{Amount: g.A[i]})
	}

	got, err := balance.Correct(alpha, readings)
	if err != nil {
		t.Fatal(err)
	}

	for i, exact := range []float64{17.0 / 21, 31.0 / 21} {
		near(t, "weight as printed", got.Weights[i].Amount, g.Printed[i], 0.005)
		near(t, "weight exactly", got.Weights[i].Amount, exact, 1e-12)
		nearAngle(t, "angle", got.Weights[i].Deg, 0, 1e-9)
	}

	for i, want := range g.Residual {
		near(t, "residual", got.Predicted[i].Amount, want, 1e-12)
	}

	near(t, "rms", got.RMS, g.RMS, 1e-12)
}

// Darlow, ASME Turbo Expo 1982, case 1: four readings, three planes. The printed
// answers carry the rounding of the printed coefficients: 3 %, 2 degrees.
func TestDarlowLeastSquares(t *testing.T) {
	t.Parallel()
	d := worked(t).Darlow

	var alpha [][]balance.Phasor
	for _, row := range d.Alpha {
		alpha = append(alpha, phasors(row))
	}

	got, err := balance.Correct(alpha, phasors(d.A))
	if err != nil {
		t.Fatal(err)
	}

	for i, w := range got.Weights {
		near(t, "weight as printed", w.Amount, d.Printed[i][0], 0.03*d.Printed[i][0])
		nearAngle(t, "angle as printed", w.Deg, d.Printed[i][1], 2)
		near(t, "weight recomputed", w.Amount, d.Computed[i][0], 1e-9)
		nearAngle(t, "angle recomputed", w.Deg, d.Computed[i][1], 1e-8)
	}
}

// Rotating masses in one plane from three textbooks, as printed: Khurmi and Gupta
// 21.1 (drawn, 0.2 deg), Sarkar ch. 8 illustration 1, Norton 12-1.
func TestTextbookOnePlane(t *testing.T) {
	t.Parallel()
	w := worked(t)
	w.Sarkar.R, w.Sarkar.RBalance = w.Sarkar.RMM, w.Sarkar.RBalMM

	w.Norton1.RBalance = 1
	for name, c := range map[string]struct {
		polarCase
		tol, tolDeg float64
	}{
		"Khurmi 21.1": {w.Khurmi, 0.5, 0.2},
		"Sarkar 8.1":  {w.Sarkar, 0.05, 0.05},
		"Norton 12-1": {w.Norton1, 0.0008, 0.05}, // 2.4027 is printed as 2.402
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var vs []balance.Vector
			for i := range c.M {
				vs = append(vs, balance.Mass(c.M[i], c.R[i], c.Angle[i]))
			}

			got := balance.Sum(vs...).Opposite()
			near(t, "as printed", got.At(c.RBalance), c.Printed[0], c.tol)
			nearAngle(t, "as printed", got.Deg, c.Printed[1], c.tolDeg)
			near(t, "recomputed", got.At(c.RBalance), c.Computed[0], 1e-9)
			nearAngle(t, "recomputed", got.Deg, c.Computed[1], 1e-9)
		})
	}
}

// Norton 12-2, two planes, scaled by 100 in mass and in length so that the numbers
// are a wheel's; masses scale back by 100.
func TestNortonTwoPlanes(t *testing.T) {
	t.Parallel()
	n := worked(t).Norton2
	planes := balance.Planes{
		Inner: balance.Plane{RadiusMM: 100, OffsetMM: 100 * n.Planes[0]},
		Outer: balance.Plane{RadiusMM: 100, OffsetMM: 100 * n.Planes[1]},
	}

	var lumps []balance.Lump
	for i := range n.M {
		lumps = append(lumps,
			balance.Lump{MassG: 100 * n.M[i], RadiusMM: 100 * n.R[i], Deg: n.Angle[i], OffsetMM: 100 * n.Z[i]})
	}

	u, _, err := balance.Resolve(planes, lumps...)
	if err != nil {
		t.Fatal(err)
	}
	a, b := u.Correction(planes)
	near(t, "B as printed", b.MassG/100, n.Printed.B[0], 0.0005)
	nearAngle(t, "B as printed", b.Deg, n.Printed.B[1], 0.005)
	near(t, "A recomputed", a.MassG/100, n.Computed.A[0], 1e-9)
	nearAngle(t, "A recomputed", a.Deg, n.Computed.A[1], 1e-9)
	near(t, "B recomputed", b.MassG/100, n.Computed.B[0], 1e-9)
	nearAngle(t, "B recomputed", b.Deg, n.Computed.B[1], 1e-9)
}

// Beer and Johnston 18.70: force and couple of a balancing machine. Only the
// statement is published; the numbers were computed apart from this code.
func TestBeerJohnstonForces(t *testing.T) {
	t.Parallel()
	b := worked(t).Beer
	s := balance.PerMinute(b.Rev * 60)
	static := s.FromForce(b.Force)
	near(t, "static g mm", static, b.Computed.Static, 1e-6)
	near(t, "eccentricity mm", static/(b.Mass*1000), b.Computed.Eccentricity, 1e-9)
	couple := s.FromMoment(b.Couple)
	near(t, "product of inertia kg m2", couple*1e-9, b.Computed.Product, 1e-12)
	near(t, "force back", s.Force(balance.Vector{GMM: static}), b.Force, 1e-9)
	near(t, "moment back", s.Moment(balance.Couple{GMM2: couple}), b.Couple, 1e-9)
}

// The constants of permissible unbalance: 9549.297 g mm per kg and r/min, 6.015 oz
// in per lb and r/min as printed, and the worked example of a 60 kg wheel.
func TestPermissibleConstants(t *testing.T) {
	t.Parallel()
	p := worked(t).Permissible
	u, err := balance.Permissible(1, 1, balance.PerMinute(1))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "g mm kg rpm", u, p.K, 1e-9)

	const poundKG = 0.45359237
	ozIn := balance.Vector{GMM: u * poundKG}.OzIn()
	near(t, "oz in lb rpm as printed", ozIn, 6.015, 0.0005)
	near(t, "oz in lb rpm", ozIn, p.KOz, 1e-9)
	g, err := balance.Grade(balance.FromOzIn(4.0/1000, 0).GMM, poundKG, balance.PerMinute(1000))
	if err != nil {
		t.Fatal(err)
	}

	near(t, "grade of 4 W/N", g, p.FourW, 1e-9)
	s, err := balance.AtSpeed(p.Example.V, p.Example.Rolling*1000)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "r/min", s.Hertz()*60, p.Example.N, 1e-9)

	u, err = balance.Permissible(p.Example.G, p.Example.M, s)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "example g mm", u, p.Example.U, 1e-8)
}

// Constructed, not published: the exact one is 100/(2 cos 36) on both sides.
func TestSplitCases(t *testing.T) {
	t.Parallel()
	for _, c := range worked(t).Split.Cases {
		a, b, err := balance.Split(c.W, c.Phi, c.A, c.B)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "first", a, c.Out[0], 1e-12)
		near(t, "second", b, c.Out[1], 1e-12)
	}
}

// The discrete Fourier transforms of textbooks in dft.json, X_1 of those with
// real input: the first harmonic is 2/N of it, with the angle counted the other
// way (a - ib), as in the roundness estimators.
func TestFirstHarmonicOfPublishedTransforms(t *testing.T) {
	t.Parallel()
	var f struct {
		Pairs []struct {
			X [][2]float64 `json:"x"`
			F [][2]float64 `json:"X"`
		}
	}

	b, err := os.ReadFile("../../testdata/worked/dft.json")
	if err != nil {
		t.Fatal(err)
	}
	var raw struct{ Pairs []map[string]json.RawMessage }
	if err := json.Unmarshal(b, &raw); err != nil {
		t.Fatal(err)
	}

	for _, p := range raw.Pairs { // the keys differ only in case, so they are read by hand
		var pair struct {
			X [][2]float64 `json:"x"`
			F [][2]float64 `json:"X"`
		}
		if json.Unmarshal(p["x"], &pair.X) != nil || json.Unmarshal(p["X"], &pair.F) != nil {
			t.Fatal("dft.json does not read")
		}
		f.Pairs = append(f.Pairs, pair)
	}

	checked := 0
	for _, p := range f.Pairs {
		var readings []float64
		plain := true
		for _, x := range p.X {
			readings = append(readings, x[0])
			plain = plain && x[1] == 0
		}

		if !plain {
			continue
		}

		checked++
		mean, h, err := balance.FirstHarmonic(readings)
		if err != nil {
			t.Fatal(err)
		}

		n := float64(len(readings))
		near(t, "mean", mean, p.F[0][0]/n, 1e-12)
		near(t, "a", h.Amplitude*math.Cos(h.Deg*math.Pi/180), 2/n*p.F[1][0], 1e-12)
		near(t, "b", h.Amplitude*math.Sin(h.Deg*math.Pi/180), -2/n*p.F[1][1], 1e-12)
	}

	if checked < 2 {
		t.Errorf("only %d transforms of real input", checked)
	}
}
