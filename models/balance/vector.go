package balance

import (
	"fmt"
	"math"
	"math/cmplx"

	"rimledger/models/badinput"
	"rimledger/models/units"
)

// Vector is an unbalance: an amount in g mm, not negative, and the angle of its
// heavy side.
type Vector struct {
	GMM float64 // g mm
	Deg float64 // degrees clockwise from the valve, [0, 360) in every result
}

// ounceInch is one ounce inch in g mm, exact.
const ounceInch = float64(units.Ounce) * 25.4

// FromOzIn returns the vector of an unbalance in ounce inches. ozin and deg must be finite.
func FromOzIn(ozin, deg float64) Vector { return fromComplex(polar(ozin*ounceInch, deg)) }

// Mass returns the unbalance of a mass in grams at a radius in mm and an angle.
func Mass(massG, radiusMM, deg float64) Vector { return fromComplex(polar(massG*radiusMM, deg)) }

// Sum returns the vector sum of vs.
func Sum(vs ...Vector) Vector {
	var c complex128
	for _, v := range vs {
		c += v.complex()
	}
	return fromComplex(c)
}

// OzIn returns the amount of v in ounce inches.
func (v Vector) OzIn() float64 { return v.GMM / ounceInch }

// Opposite returns v turned half around: the weight that corrects v.
func (v Vector) Opposite() Vector { return fromComplex(-v.complex()) }

// Scaled returns v with its amount multiplied by k; a negative k also turns it half around.
func (v Vector) Scaled(k float64) Vector { return fromComplex(complex(k, 0) * v.complex()) }

// Turned returns v turned clockwise by deg.
func (v Vector) Turned(deg float64) Vector { return fromComplex(v.complex() * polar(1, deg)) }

// Mirrored returns v as seen from the other side of the wheel, the valve still at zero.
func (v Vector) Mirrored() Vector { return fromComplex(cmplx.Conj(v.complex())) }

// At returns the mass in grams that makes v at radius mm, which must not be zero.
func (v Vector) At(radiusMM float64) float64 { return v.GMM / radiusMM }

// complex returns v as a complex number, the valve on the real axis.
func (v Vector) complex() complex128 { return polar(v.GMM, v.Deg) }

// polar returns the complex number of an amount and an angle in degrees.
func polar(amount, deg float64) complex128 {
	s, c := math.Sincos(deg * math.Pi / 180)
	return complex(amount*c, amount*s)
}

// fromComplex returns a complex number as a vector.
func fromComplex(c complex128) Vector { return Vector{cmplx.Abs(c), direction(c)} }

// direction returns the angle of c in [0, 360); 0 for zero.
func direction(c complex128) float64 {
	return float64(units.Angle(cmplx.Phase(c) * 180 / math.Pi).Normal())
}

// vector returns v with its angle normalised. It refuses a negative amount and one above
// maxUnbalance.
func (n *notebook) vector(field string, v Vector) (Vector, error) {
	if v.GMM > maxUnbalance && finite(v.GMM) {
		return v, badinput.Number(field, v.GMM, ErrTooHeavy, "no wheel is out by more than %g g mm; check the unit",
			maxUnbalance)
	}
	if err := within(field, v.GMM, 0, maxUnbalance); err != nil {
		return v, err
	}

	deg, err := n.angle(field+" angle", v.Deg)
	return Vector{v.GMM, deg}, err
}

// Split divides a weight that is needed at deg between two places at a and b on either
// side of it, so that both together have the same effect, such as behind
// two spokes. It returns the two masses in the unit of mass, never negative.
// The places must lie less than 180 degrees apart, going clockwise from a to b,
// with deg between them; else the error wraps ErrOutOfRange, or ErrNotFinite.
//
// Sine rule: a = m sin(b-deg)/sin(b-a), b = m sin(deg-a)/sin(b-a).
func Split(mass, deg, aDeg, bDeg float64) (a, b float64, err error) {
	for _, v := range []float64{mass, deg, aDeg, bDeg} {
		if !finite(v) {
			return 0, 0, badinput.Number("split", v, ErrNotFinite, "give a mass and three angles")
		}
	}

	gap, part := clockwise(aDeg, bDeg), clockwise(aDeg, deg)
	if gap == 0 || gap >= 180 {
		return 0, 0, badinput.Number("gap between the places", gap, ErrOutOfRange,
			"choose places less than 180 degrees apart")
	}
	if part > gap {
		return 0, 0, badinput.Number("wanted angle", deg, ErrOutOfRange, "choose places on either side of it, not %s",
			fmt.Sprintf("%g and %g", aDeg, bDeg))
	}

	sin := func(d float64) float64 { return math.Sin(d * math.Pi / 180) }
	return mass * sin(gap-part) / sin(gap), mass * sin(part) / sin(gap), nil
}

// clockwise returns the angle from one direction clockwise to another, [0, 360).
func clockwise(from, to float64) float64 { return float64(units.Angle(to - from).Normal()) }

// apart returns the smaller angle between two directions, [0, 180].
func apart(a, b float64) float64 {
	d := clockwise(a, b)
	return math.Min(d, 360-d)
}
