package pattern

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"rimledger/models/badinput"
	"rimledger/models/vibration"
)

// Harmonic is the n-per-turn part of the wear around one groove.
type Harmonic struct {
	N           int
	AmplitudeMM float64 // zero to peak
	AngleDeg    float64 // of the first place worn most, clockwise from the valve
}

// Harmonics returns the harmonics 1, 2, ... of the wear (mm) at equally spaced
// stations, the first at the valve; nil is a station that was not read. If all were
// read, it returns all harmonics up to half the stations (discrete Fourier
// transform); otherwise up to three, as many as the readings determine, by least
// squares. Read uses it from eight stations up, since below that gauge noise alone
// makes harmonics. Errors: ErrTooFew below three readings, or if more than a quarter
// is missing; ErrNotFinite.
//
// a = 2/K Σ w cos nθ, b = 2/K Σ w sin nθ, half of that at n = K/2.
func Harmonics(wear []*float64) ([]Harmonic, error) {
	k, n := len(wear), 0
	for i, w := range wear {
		if w == nil {
			continue
		}
		if math.IsNaN(*w) || math.IsInf(*w, 0) {
			return nil, badinput.New(fmt.Sprintf("wear at station %d", i+1), fmt.Sprint(*w), ErrNotFinite, "a number")
		}
		n++
	}

	if n < 3 || 4*n < 3*k {
		return nil, badinput.New("stations", fmt.Sprintf("%d of %d", n, k), ErrTooFew,
			"at least three, and three in four of a turn")
	}

	// With a gap the stations are not equally spaced, and the transform does not apply.
	if n < k {
		return fitHarmonics(wear, n)
	}

	out := make([]Harmonic, 0, k/2)
	for h := 1; h <= k/2; h++ {
		var a, b float64
		for i, w := range wear {
			s, c := math.Sincos(2 * math.Pi * float64(h*i%k) / float64(k))
			a, b = a+*w*c, b+*w*s
		}

		scale := 2 / float64(k)
		if 2*h == k { // the highest harmonic has no sine part
			scale /= 2
		}
		out = append(out, newHarmonic(h, a*scale, b*scale))
	}

	return out, nil
}

// fitHarmonics fits the mean and up to three harmonics to the n stations that were
// read: fewer where there are fewer than two readings for each.
func fitHarmonics(wear []*float64, n int) ([]Harmonic, error) {
	// Each harmonic has two unknowns.
	top := min(3, (n-1)/2)
	x := mat.NewDense(n, 2*top+1, nil)
	y := mat.NewVecDense(n, nil)

	row := 0
	for i, w := range wear {
		if w == nil {
			continue
		}

		x.Set(row, 0, 1)
		for h := 1; h <= top; h++ {
			s, c := math.Sincos(2 * math.Pi * float64(h*i) / float64(len(wear)))
			x.Set(row, 2*h-1, c)
			x.Set(row, 2*h, s)
		}
		y.SetVec(row, *w)
		row++
	}

	var beta mat.VecDense
	if err := beta.SolveVec(x, y); err != nil {
		return nil, badinput.New("stations", fmt.Sprintf("%d of %d", n, len(wear)), ErrTooFew, "more of the turn")
	}

	out := make([]Harmonic, 0, top)
	for h := 1; h <= top; h++ {
		out = append(out, newHarmonic(h, beta.AtVec(2*h-1), beta.AtVec(2*h)))
	}

	return out, nil
}

// newHarmonic returns the harmonic n of a cos nθ + b sin nθ.
func newHarmonic(n int, a, b float64) Harmonic {
	// Twice around, since a hair below 0 degrees is rounded up to 360.
	deg := math.Mod(math.Atan2(b, a)*180/math.Pi+360, 360)
	return Harmonic{n, math.Hypot(a, b), deg / float64(n)}
}

// Missing is the unbalance of the rubber that uneven wear removed.
type Missing struct {
	UnbalanceGMM float64
	GramsAtRim   float64 // the same at the radius where weights sit
	AngleDeg     float64 // of the light place, where weight would be added
}

// rubberGMM3 is the density of tread rubber in g/mm³: a usual value, no source.
const rubberGMM3 = 1150e-6

// usualSizes are the usual sizes of each class in mm, and the share of the tread
// surface that is not groove: common practice, no source.
var usualSizes = map[vibration.Class]struct {
	radius, width, rim,
	land float64
}{vibration.Car: {310, 180, 203, 0.70}, vibration.LightTruck: {374, 200, 203, 0.70},
	vibration.Heavy: {510, 210, 286, 0.75}}

// WearUnbalance returns what a first harmonic of wear with the given amplitude
// (mm, zero to peak) and angle of greatest wear weighs, over the whole width of
// the tread. A size of w that is zero is replaced by the usual one of its class.
// Errors: ErrOutOfRange, ErrNotFinite, ErrWord.
//
// U = ρ s b r² A π, the first moment of the missing rubber: density, share of the
// surface that is not groove, width, radius, amplitude. Derived.
func WearUnbalance(amplitudeMM, angleDeg float64, w Wheel) (Missing, error) {
	if err := badinput.Within("amplitude mm", amplitudeMM, 0, maxDepthMM, ""); err != nil {
		return Missing{}, err
	}
	if err := badinput.Within("angle", angleDeg, 0, 360, ""); err != nil {
		return Missing{}, err
	}
	if err := (Input{Wheel: w}).check(); err != nil {
		return Missing{}, err
	}
	return wearUnbalance(amplitudeMM, angleDeg, w), nil
}

// wearUnbalance is WearUnbalance for checked values.
func wearUnbalance(amplitudeMM, angleDeg float64, w Wheel) Missing {
	w = w.withUsualSizes()
	u := rubberGMM3 * usualSizes[w.Class].land * w.WidthMM * w.RadiusMM * w.RadiusMM * amplitudeMM * math.Pi
	return Missing{u, u / w.RimRadiusMM, angleDeg}
}

// withUsualSizes returns w with usual sizes where none are given.
func (w Wheel) withUsualSizes() Wheel {
	if w.Class == "" {
		w.Class = vibration.Car
	}
	if w.CircumferenceMM == 0 {
		w.CircumferenceMM, _ = vibration.UsualCircumferenceMM(w.Class) // the class was checked
	}

	u := usualSizes[w.Class]
	if w.RadiusMM == 0 {
		w.RadiusMM = u.radius
	}
	if w.WidthMM == 0 {
		w.WidthMM = u.width
	}
	if w.RimRadiusMM == 0 {
		w.RimRadiusMM = u.rim
	}

	return w
}
