package balance

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"

	"rimledger/models/badinput"
)

// Phasor is one vibration reading with its phase, in any unit, or a correction
// weight with its angle. Phases and weight angles must be counted in the same direction;
// for an instrument that counts phase the other way, give 360 minus its reading.
type Phasor struct {
	Amount float64
	Deg    float64
}

// phasorOf returns a complex number as a phasor.
func phasorOf(c complex128) Phasor { return Phasor{cmplx.Abs(c), direction(c)} }

// TrialRun is one run with a trial weight.
type TrialRun struct {
	Plane    int    // which correction plane, from 0
	Weight   Phasor // grams at the plane's radius, g mm, or any one unit for all runs
	Readings []Phasor
}

// TrialTest is balancing on the vehicle with phase: the vibration as found,
// and with a trial weight in each plane in turn. There may be more readings
// (places, speeds) than planes.
type TrialTest struct {
	Planes int // correction planes, 1 or more
	AsIs   []Phasor
	Runs   []TrialRun // one for each plane
	LeftOn bool       // each trial weight stayed on for the runs after it
	Noise  float64    // changes of a reading up to this count as none, in its unit
}

// TrialResult is the correction and the vibration that it should leave.
type TrialResult struct {
	Influence [][]Phasor // by reading and plane: change of the reading by one unit of weight
	Weights   []Phasor   // correction in each plane, all trial weights off
	WithTrial []Phasor   // what to add if the trial weights of LeftOn stay where they are
	Predicted []Phasor   // what each reading should become
	RMS       float64    // of Predicted
	Condition float64    // factor by which errors may be magnified; 1 is best
	Weak      bool       // a trial run changed no reading by 30 % or by 30 degrees
	Notes     []Note
}

// maxCondition is the condition number above which planes count as acting alike (chosen
// by us): readings with 1 % error are useless long before that.
const maxCondition = 1e6

// TrialWeights returns the correction weights from runs with trial weights by
// influence coefficients, in the unit of the trial weights. With more readings
// than planes it is the least-squares correction. Errors wrap ErrTooFew,
// ErrNoEffect, ErrSingular, ErrOutOfRange or ErrNotFinite.
//
// The advice to change a reading by 30 % or 30 degrees is common practice, no source.
func TrialWeights(t TrialTest) (TrialResult, error) {
	var n notebook
	asIs, runs, err := t.read(&n)
	if err != nil {
		return TrialResult{}, err
	}

	// alpha has the influence of one gram in each plane on each reading.
	alpha := make([][]complex128, len(asIs))
	for k := range alpha {
		alpha[k] = make([]complex128, t.Planes)
	}

	out := TrialResult{Notes: n}
	before := asIs
	for i, run := range runs {
		change, clearly := 0.0, false
		for k, v := range run.readings {
			d := v - before[k]
			alpha[k][run.plane] = d / run.weight
			change = math.Max(change, cmplx.Abs(d))
			clearly = clearly || isClear(before[k], v)
		}

		if change <= math.Max(t.Noise, 1e-12*largest(before)) {
			return TrialResult{}, badinput.Number(fmt.Sprintf("run %d change", i+1), change, ErrNoEffect,
				"use a heavier trial weight, another angle or another plane")
		}

		out.Weak = out.Weak || !clearly
		if t.LeftOn {
			before = run.readings
		}
	}

	// The correction is worked out for the vehicle as found, without trial weights.
	w, condition, err := solve(alpha, asIs)
	if err != nil {
		return TrialResult{}, err
	}
	out.Condition = condition
	out.fill(alpha, asIs, w)
	out.Weights = phasorsOf(w)

	if t.LeftOn {
		for _, run := range runs {
			w[run.plane] -= run.weight
		}
	}
	out.WithTrial = phasorsOf(w)
	return out, nil
}

// Correct returns the weights that make readings least in the least-squares
// sense for known influence coefficients, by reading and plane, as kept from an
// earlier balancing of the same vehicle. Errors wrap ErrTooFew, ErrSingular,
// ErrOutOfRange or ErrNotFinite.
func Correct(influence [][]Phasor, readings []Phasor) (TrialResult, error) {
	if len(influence) == 0 || len(influence) != len(readings) {
		return TrialResult{}, badinput.Number("readings", float64(len(readings)), ErrTooFew,
			"give one reading for each row of coefficients, here %d", len(influence))
	}

	var n notebook
	planes := len(influence[0])
	alpha := make([][]complex128, len(influence))
	for k, r := range influence {
		if planes == 0 || len(r) != planes {
			return TrialResult{}, badinput.Number(fmt.Sprintf("coefficients of reading %d", k+1), float64(len(r)),
				ErrTooFew, "give one for each plane")
		}

		row, err := n.phasors(fmt.Sprintf("coefficient %d", k+1), r, true)
		if err != nil {
			return TrialResult{}, err
		}
		alpha[k] = row
	}

	v, err := n.phasors("reading", readings, true)
	if err != nil {
		return TrialResult{}, err
	}
	w, condition, err := solve(alpha, v)
	if err != nil {
		return TrialResult{}, err
	}

	out := TrialResult{Condition: condition, Notes: n, Weights: phasorsOf(w)}

	// Coefficients in another unit give a weight that no wheel takes.
	for i, x := range out.Weights {
		if !(x.Amount <= maxCorrection) {
			return TrialResult{}, badinput.Number(fmt.Sprintf("coefficients of plane %d: weight", i+1), x.Amount,
				ErrNoEffect, "no wheel takes that much; check the unit of the coefficients and of the readings")
		}
	}

	out.fill(alpha, v, w)
	out.WithTrial = out.Weights
	return out, nil
}

// maxCorrection bounds a correction from coefficients: maxUnbalance, for coefficients by g mm.
const maxCorrection = maxUnbalance

// phasorsOf returns complex numbers as phasors.
func phasorsOf(w []complex128) []Phasor {
	var out []Phasor
	for _, x := range w {
		out = append(out, phasorOf(x))
	}
	return out
}

// fill sets the coefficients and what the readings v become with weights w.
func (r *TrialResult) fill(alpha [][]complex128, v, w []complex128) {
	var square float64
	for k, row := range alpha {
		left := v[k]
		var coefficients []Phasor
		for j, a := range row {
			left += a * w[j]
			coefficients = append(coefficients, phasorOf(a))
		}

		r.Influence = append(r.Influence, coefficients)
		r.Predicted = append(r.Predicted, phasorOf(left))
		square += real(left)*real(left) + imag(left)*imag(left)
	}

	r.RMS = math.Sqrt(square / float64(len(v)))
}

// isClear reports whether b differs from a by 30 % in amount or 30 degrees in phase.
func isClear(a, b complex128) bool {
	x, y := cmplx.Abs(a), cmplx.Abs(b)
	return math.Abs(y-x) >= 0.3*x || apart(direction(a), direction(b)) >= 30
}

// largest returns the largest amount.
func largest(v []complex128) (most float64) {
	for _, c := range v {
		most = math.Max(most, cmplx.Abs(c))
	}
	return most
}

// solve returns the w that makes the sum of |v + alpha w|^2 least, by the singular value
// decomposition of the same problem in real numbers, and its condition number.
func solve(alpha [][]complex128, v []complex128) (w []complex128, condition float64, err error) {
	m, n := len(alpha), len(alpha[0])
	if m < n {
		return nil, 0, badinput.Number("readings", float64(m), ErrTooFew,
			"give at least as many readings as planes, here %d", n)
	}

	// A complex coefficient x + iy is the real 2 by 2 block (x, -y; y, x).
	a, b := mat.NewDense(2*m, 2*n, nil), mat.NewDense(2*m, 1, nil)
	for k, row := range alpha {
		for j, c := range row {
			a.Set(2*k, 2*j, real(c))
			a.Set(2*k, 2*j+1, -imag(c))
			a.Set(2*k+1, 2*j, imag(c))
			a.Set(2*k+1, 2*j+1, real(c))
		}
		b.Set(2*k, 0, -real(v[k]))
		b.Set(2*k+1, 0, -imag(v[k]))
	}

	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		return nil, 0, badinput.Number("condition", math.MaxFloat64, ErrSingular, "measure again")
	}

	values := svd.Values(nil)
	most, least := values[0], values[len(values)-1]
	if least <= most/maxCondition || most == 0 {
		return nil, 0, badinput.Number("smallest against largest effect",
			least/math.Max(most, math.SmallestNonzeroFloat64), ErrSingular,
			"the planes act alike on every reading: add a reading at another place or speed, or use one plane less")
	}

	var x mat.Dense
	svd.SolveTo(&x, b, len(values))
	for j := range n {
		w = append(w, complex(x.At(2*j, 0), x.At(2*j+1, 0)))
	}
	return w, most / least, nil
}

// readRun is a checked trial run.
type readRun struct {
	plane    int
	weight   complex128
	readings []complex128
}

// read checks a test: one run a plane, each with as many readings as AsIs.
func (t TrialTest) read(n *notebook) (asIs []complex128, runs []readRun, err error) {
	if err := within("planes", float64(t.Planes), 1, 8); err != nil {
		return nil, nil, err
	}
	if err := within("noise", t.Noise, 0, 1e9); err != nil {
		return nil, nil, err
	}

	if len(t.Runs) != t.Planes {
		return nil, nil, badinput.Number("trial runs", float64(len(t.Runs)), ErrTooFew,
			"give one run for each plane, here %d", t.Planes)
	}
	if asIs, err = n.phasors("reading as found", t.AsIs, false); err != nil {
		return nil, nil, err
	}
	if len(asIs) < t.Planes {
		return nil, nil, badinput.Number("readings", float64(len(asIs)), ErrTooFew,
			"give at least as many readings as planes, here %d", t.Planes)
	}

	// With one run in each plane the equations can be solved.
	used := map[int]bool{}
	for i, r := range t.Runs {
		field := fmt.Sprintf("run %d", i+1)
		if r.Plane < 0 || r.Plane >= t.Planes || used[r.Plane] {
			return nil, nil, badinput.Number(field+" plane", float64(r.Plane), ErrOutOfRange,
				"use each plane from 0 to %d once", t.Planes-1)
		}
		used[r.Plane] = true

		run, err := n.run(field, r, len(asIs))
		if err != nil {
			return nil, nil, err
		}
		runs = append(runs, run)
	}

	return asIs, runs, nil
}

// run checks the weight and the readings of one run, of which there must be as many as
// wanted.
func (n *notebook) run(field string, r TrialRun, wanted int) (readRun, error) {
	if len(r.Readings) != wanted {
		return readRun{}, badinput.Number(field+" readings", float64(len(r.Readings)), ErrTooFew,
			"give as many as were read as found, %d", wanted)
	}

	weight, err := n.phasors(field+" weight", []Phasor{r.Weight}, false)
	if err != nil {
		return readRun{}, err
	}
	if weight[0] == 0 {
		return readRun{}, badinput.Number(field+" weight", 0, ErrNoEffect, "use a trial weight above 0")
	}

	readings, err := n.phasors(field+" reading", r.Readings, false)
	return readRun{r.Plane, weight[0], readings}, err
}

// phasors checks amounts and normalises angles. A negative amount, which is one turned half
// around, is accepted only if signed is set: for coefficients and readings that may be
// plain numbers without phase.
func (n *notebook) phasors(field string, given []Phasor, signed bool) ([]complex128, error) {
	out := make([]complex128, len(given))
	for i, p := range given {
		name := fmt.Sprintf("%s %d", field, i+1)
		if err := within(name, p.Amount, -1e9, 1e9); err != nil {
			return nil, err
		}
		if p.Amount < 0 && !signed {
			return nil, badinput.Number(name, p.Amount, ErrOutOfRange,
				"give 0 or more; what points the other way is the same amount 180 degrees on")
		}

		deg, err := n.angle(name+" angle", p.Deg)
		if err != nil {
			return nil, err
		}
		out[i] = polar(p.Amount, deg)
	}

	return out, nil
}
