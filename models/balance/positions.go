package balance

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"rimledger/models/badinput"
)

// PositionRun is the vibration with the trial weight at one position.
type PositionRun struct {
	Deg       float64
	Amplitude float64
}

// PositionTest is balancing in one plane without phase: the vibration as
// found, and with the same trial weight at three or more positions, one after another.
// Best are three positions 120 degrees apart.
type PositionTest struct {
	AsIs   float64
	TrialG float64 // grams at the radius where the correction goes
	Runs   []PositionRun
	Noise  float64 // changes of a reading up to this count as none, in its unit
}

// PositionResult is the correction and how well the readings agree with it.
type PositionResult struct {
	MassG  float64 // correction, the trial weight taken off
	Deg    float64
	Effect float64 // vibration that the trial weight alone causes
	Misfit float64 // rms of the amplitudes read less those computed
	Notes  []Note
}

// TrialPositions returns the correction weight from amplitudes alone. With the
// vibration as found O, the effect of the trial weight h and the angle d
// between the heavy side and the trial weight,
//
//	amplitude^2 = O^2 + h^2 + 2 O h cos d,
//
// so squared amplitudes are a mean and a first harmonic of the positions, which
// are fitted by least squares and then refined on the amplitudes themselves.
// The method assumes that the effect is proportional to the weight and the same all
// around. Errors wrap ErrTooFew, ErrPositions, ErrNoEffect, ErrTooHeavy,
// ErrOutOfRange or ErrNotFinite.
func TrialPositions(t PositionTest) (PositionResult, error) {
	var n notebook
	degs, err := t.read(&n)
	if err != nil {
		return PositionResult{}, err
	}

	heavy, effect, err := t.fit(degs)
	if err != nil {
		return PositionResult{}, err
	}

	heavy, effect = t.refine(degs, heavy, effect)

	mass := t.TrialG * t.AsIs / effect
	if mass > maxWeightG {
		return PositionResult{}, badinput.Number("correction g", mass, ErrNoEffect,
			"the trial weight changed almost nothing; use a heavier one")
	}

	return PositionResult{
		MassG:  mass,
		Deg:    clockwise(180, heavy),
		Effect: effect,
		Misfit: t.misfit(degs, heavy, effect),
		Notes:  n,
	}, nil
}

// read checks a test and returns its positions, normalised.
func (t PositionTest) read(n *notebook) ([]float64, error) {
	if err := within("vibration as found", t.AsIs, 0, 1e6); err != nil {
		return nil, err
	}
	if t.AsIs == 0 {
		return nil, badinput.Number("vibration as found", 0, ErrOutOfRange, "nothing to balance: there is no vibration")
	}

	if err := checkMass("trial weight g", t.TrialG); err != nil {
		return nil, err
	}
	if t.TrialG == 0 {
		return nil, badinput.Number("trial weight g", 0, ErrNoEffect, "use a trial weight above 0")
	}
	if err := within("noise", t.Noise, 0, 1e6); err != nil {
		return nil, err
	}

	if len(t.Runs) < 3 {
		return nil, badinput.Number("positions", float64(len(t.Runs)), ErrTooFew,
			"try the weight at 3 or more positions, best 120 degrees apart")
	}

	// A change below the noise says nothing about where the weight should go.
	degs, change := make([]float64, len(t.Runs)), 0.0
	for i, r := range t.Runs {
		if err := within(fmt.Sprintf("amplitude %d", i+1), r.Amplitude, 0, 1e6); err != nil {
			return nil, err
		}
		var err error
		if degs[i], err = n.angle(fmt.Sprintf("position %d", i+1), r.Deg); err != nil {
			return nil, err
		}
		change = math.Max(change, math.Abs(r.Amplitude-t.AsIs))
	}
	if change <= math.Max(t.Noise, 1e-9*t.AsIs) {
		return nil, badinput.Number("largest change of amplitude", change, ErrNoEffect, "use a heavier trial weight")
	}
	return degs, nil
}

// minSpread is the least share of the smallest to the largest singular value of
// the positions (chosen by us): three positions within about 30 degrees are below it.
const minSpread = 0.02

// fit returns the heavy side and the effect from the squared amplitudes.
func (t PositionTest) fit(degs []float64) (heavy, effect float64, err error) {
	a, b := mat.NewDense(len(degs), 3, nil), mat.NewDense(len(degs), 1, nil)
	for i, deg := range degs {
		u := polar(1, deg)
		a.SetRow(i, []float64{1, real(u), imag(u)})
		b.Set(i, 0, t.Runs[i].Amplitude*t.Runs[i].Amplitude)
	}

	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		return 0, 0, badinput.Number("positions", float64(len(degs)), ErrPositions, "measure again")
	}
	if v := svd.Values(nil); v[2] < minSpread*v[0] {
		return 0, 0, badinput.Number("spread of the positions", v[2]/v[0], ErrPositions,
			"spread them around the wheel, best 120 degrees apart")
	}

	var x mat.Dense
	svd.SolveTo(&x, b, 3)

	// The harmonic of the squares is 2 O h, with its high spot at the heavy side.
	h := harmonicOf(complex(x.At(1, 0), x.At(2, 0)))
	effect = h.Amplitude / (2 * t.AsIs)
	if effect <= math.Max(t.Noise, 1e-9*t.AsIs) {
		return 0, 0, badinput.Number("effect of the trial weight", effect, ErrNoEffect,
			"the vibration does not follow the weight around the wheel; use a heavier one, or look for another cause")
	}

	return h.Deg, effect, nil
}

// computed returns the amplitude with the trial weight at deg.
func (t PositionTest) computed(deg, heavy, effect float64) float64 {
	return math.Hypot(t.AsIs+effect*math.Cos((deg-heavy)*math.Pi/180), effect*math.Sin((deg-heavy)*math.Pi/180))
}

// misfit returns the rms of the amplitudes read less those computed.
func (t PositionTest) misfit(degs []float64, heavy, effect float64) float64 {
	var square float64
	for i, deg := range degs {
		d := t.Runs[i].Amplitude - t.computed(deg, heavy, effect)
		square += d * d
	}
	return math.Sqrt(square / float64(len(degs)))
}

// refine moves heavy and effect by Gauss-Newton steps on the amplitudes, and
// keeps a step only if it makes the misfit smaller.
func (t PositionTest) refine(degs []float64, heavy, effect float64) (float64, float64) {
	for range 20 {
		// Sums of the normal equations; h is by the heavy side in radians, e by the effect.
		var hh, he, ee, gh, ge float64
		for i, deg := range degs {
			c := t.computed(deg, heavy, effect)
			if c == 0 {
				return heavy, effect
			}

			d := (deg - heavy) * math.Pi / 180
			dh := t.AsIs * effect * math.Sin(d) / c
			de := (effect + t.AsIs*math.Cos(d)) / c
			miss := t.Runs[i].Amplitude - c
			hh += dh * dh
			he += dh * de
			ee += de * de
			gh += dh * miss
			ge += de * miss
		}

		det := hh*ee - he*he
		if det <= 1e-12*hh*ee { // the readings do not determine both
			break
		}

		nextHeavy := heavy + (ee*gh-he*ge)/det*180/math.Pi
		nextEffect := effect + (hh*ge-he*gh)/det
		if nextEffect <= 0 || t.misfit(degs, nextHeavy, nextEffect) >= t.misfit(degs, heavy, effect) {
			break
		}
		heavy, effect = nextHeavy, nextEffect
	}

	return clockwise(0, heavy), effect
}
