package balance

import (
	"math"

	"rimledger/models/badinput"
)

// GradeCarWheels is the balance quality grade that lists of ISO 21940-11 grades give for
// car wheels, rims and wheel sets, mm/s (second-hand). For information: shop
// practice is several times finer.
const GradeCarWheels = 40.0

// rotor refuses a mass of zero or above maxAssembly and a spin near zero or above 1e5
// rad/s.
func rotor(massKG float64, s Spin) error {
	if massKG == 0 || massKG > maxAssembly && finite(massKG) {
		return badinput.Number("mass kg", massKG, ErrTooHeavy,
			"give the mass of the assembly, above 0 and at most %g kg", maxAssembly)
	}
	if err := within("mass kg", massKG, 0, maxAssembly); err != nil {
		return err
	}
	return within("spin rad/s", float64(s), 1e-3, 1e5)
}

// Permissible returns the unbalance in g mm that a balance quality grade in mm/s
// allows a rotor: 1000 G m / w. Errors wrap ErrTooHeavy, ErrOutOfRange or
// ErrNotFinite. ISO 21940-11.
func Permissible(grade, massKG float64, s Spin) (float64, error) {
	if err := within("grade mm/s", grade, 0, 4000); err != nil {
		return 0, err
	}
	if err := rotor(massKG, s); err != nil {
		return 0, err
	}
	return 1000 * grade * massKG / float64(s), nil
}

// Grade returns the balance quality grade in mm/s of an unbalance in g mm; see
// Permissible, whose errors it shares.
func Grade(gmm, massKG float64, s Spin) (float64, error) {
	if err := within("unbalance g mm", gmm, 0, maxUnbalance); err != nil {
		return 0, err
	}
	if err := rotor(massKG, s); err != nil {
		return 0, err
	}
	return gmm * float64(s) / (1000 * massKG), nil
}

// PermissiblePlanes divides a permissible unbalance between two planes that lie
// innerMM and outerMM from the center of mass on either side of it: each gets
// the share of the other's distance, at least 30 % and at most 70 % (ISO 21940-11,
// second-hand). Errors wrap ErrZeroDistance, ErrOutOfRange or ErrNotFinite.
func PermissiblePlanes(gmm, innerMM, outerMM float64) (inner, outer float64, err error) {
	for _, v := range []float64{innerMM, outerMM} {
		if err := within("distance to the center of mass mm", v, 0, 1e4); err != nil {
			return 0, 0, err
		}
	}

	if innerMM+outerMM < minDistMM {
		return 0, 0, badinput.Number("plane distance mm", innerMM+outerMM, ErrZeroDistance,
			"give planes on either side of the center of mass")
	}

	share := math.Min(0.7, math.Max(0.3, outerMM/(innerMM+outerMM)))
	return gmm * share, gmm * (1 - share), nil
}

// GradeMass returns the mass in grams at a weight circle that a grade allows a
// wheel at a road speed, both planes together: 3.6 G m D / (v d), with D the
// tire's and d the weight circle's diameter in mm. Errors as of Permissible, and
// ErrZeroRadius.
func GradeMass(grade, massKG, tireMM, circleMM, kmh float64) (float64, error) {
	if err := checkRadius("weight circle radius mm", circleMM/2); err != nil {
		return 0, err
	}
	s, err := AtSpeed(kmh, tireMM/2)
	if err != nil {
		return 0, err
	}
	gmm, err := Permissible(grade, massKG, s)
	return gmm / (circleMM / 2), err
}
