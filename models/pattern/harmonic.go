package pattern

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"rimledger/models/vibration"
)

// Harmonic is the n-per-turn part of the wear around one groove.
type Harmonic struct {
	N           int
	AmplitudeMM float64 // zero to peak
	AngleDeg    float64 // of the first place worn most, clockwise from the valve
}

// Harmonics returns the harmonics 1, 2, ... of the wear (mm) at equally spaced
// stations, the first at the valve; nil is a missing station. A full turn gives
// all up to half the stations (discrete Fourier transform); with holes as many
// of the first three as the readings can carry, by least squares. Read uses it
// from eight stations up, since below that gauge noise alone makes harmonics.
// Errors: ErrTooFew below three readings, or if more than a quarter is missing;
// ErrNotFinite.
//
// a = 2/K Σ w cos nθ, b = 2/K Σ w sin nθ, half of that at n = K/2.
func Harmonics(wear []*float64) ([]Harmonic, error) {
	k := len(wear)

	n := 0
	for i, w := range wear {
		if w == nil {
			continue
		}
		if math.IsNaN(*w) || math.IsInf(*w, 0) {
			return nil, &InputError{fmt.Sprintf("wear at station %d", i+1), fmt.Sprint(*w), "a number", ErrNotFinite}
		}
		n++
	}

	if n < 3 || 4*n < 3*k {
		return nil, &InputError{"stations", fmt.Sprintf("%d of %d", n, k),
			"at least three, and three in four of a turn", ErrTooFew}
	}

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
		if 2*h == k {
			scale /= 2
		}
		out = append(out, harmonic(h, a*scale, b*scale))
	}

	return out, nil
}

// fitHarmonics fits the mean and the first harmonics to the stations that were read.
func fitHarmonics(wear []*float64, n int) ([]Harmonic, error) {
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
		return nil, &InputError{"stations", fmt.Sprintf("%d of %d", n, len(wear)), "more of the turn", ErrTooFew}
	}

	out := make([]Harmonic, 0, top)
	for h := 1; h <= top; h++ {
		out = append(out, harmonic(h, beta.AtVec(2*h-1), beta.AtVec(2*h)))
	}

	return out, nil
}

func harmonic(n int, a, b float64) Harmonic {
	deg := math.Atan2(b, a) * 180 / math.Pi
	if deg < 0 {
		deg += 360
	}
	return Harmonic{n, math.Hypot(a, b), deg / float64(n)}
}

// Missing is the unbalance that uneven wear makes.
type Missing struct {
	UnbalanceGMM float64
	GramsAtRim   float64 // the same at the radius where weights sit
	AngleDeg     float64 // of the light place, where weight would be added
}

// Rubber of treads: density in g/mm³ and the part of the tread surface that is
// not groove. Derived with usual values, common practice.
const rubberGMM3 = 1150e-6

// usual holds usual sizes of each class: the circumference from package
// vibration, the rest common practice.
var usual = map[vibration.Class]struct{ radius, width, rim, land float64 }{
	vibration.Car:        {310, 180, 203, 0.70},
	vibration.LightTruck: {374, 200, 203, 0.70},
	vibration.Heavy:      {510, 210, 286, 0.75},
}

// WearUnbalance returns what a first harmonic of wear with the given amplitude
// (mm, zero to peak) and angle of greatest wear weighs, over the whole width of
// the tread. Sizes of w that are zero take usual ones of its class. Errors:
// ErrOutOfRange, ErrNotFinite, ErrWord.
//
// U = ρ s b r² A π, the first moment of the missing rubber (derived).
func WearUnbalance(amplitudeMM, angleDeg float64, w Wheel) (Missing, error) {
	if err := within("amplitude mm", amplitudeMM, 0, maxDepthMM); err != nil {
		return Missing{}, err
	}
	if err := within("angle", angleDeg, 0, 360); err != nil {
		return Missing{}, err
	}
	if err := (Input{Wheel: w}).check(); err != nil {
		return Missing{}, err
	}
	return missing(amplitudeMM, angleDeg, w), nil
}

func missing(amplitudeMM, angleDeg float64, w Wheel) Missing {
	w = w.filled()
	u := rubberGMM3 * usual[w.Class].land * w.WidthMM * w.RadiusMM * w.RadiusMM * amplitudeMM * math.Pi
	return Missing{u, u / w.RimRadiusMM, angleDeg}
}

// filled returns w with usual sizes where none are given.
func (w Wheel) filled() Wheel {
	if w.Class == "" {
		w.Class = vibration.Car
	}
	u := usual[w.Class]
	if w.CircumferenceMM == 0 {
		w.CircumferenceMM, _ = vibration.UsualCircumferenceMM(w.Class) // the class was checked
	}
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
