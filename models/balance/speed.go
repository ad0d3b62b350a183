package balance

import "math"

// Spin is the angular speed of a wheel, in radians per second.
type Spin float64

// AtSpeed returns the spin of a wheel with an effective rolling radius in mm at
// a speed in km/h. Errors wrap ErrZeroRadius, ErrOutOfRange or ErrNotFinite.
func AtSpeed(kmh, rollingRadiusMM float64) (Spin, error) {
	if err := within("speed km/h", kmh, 0, 500); err != nil {
		return 0, err
	}
	if err := checkRadius("rolling radius mm", rollingRadiusMM); err != nil {
		return 0, err
	}
	return Spin(kmh / 3.6 / (rollingRadiusMM / 1000)), nil
}

// PerMinute returns the spin of n turns a minute.
func PerMinute(n float64) Spin { return Spin(n * 2 * math.Pi / 60) }

// Hertz returns turns a second.
func (s Spin) Hertz() float64 { return float64(s) / (2 * math.Pi) }

// Force returns the turning force of unbalance v in newtons, U w^2.
func (s Spin) Force(v Vector) float64 { return v.GMM * 1e-6 * float64(s) * float64(s) }

// Moment returns the turning moment of couple c in newton metres.
func (s Spin) Moment(c Couple) float64 { return c.GMM2 * 1e-9 * float64(s) * float64(s) }

// FromForce returns the amount of unbalance in g mm that makes a turning force
// in newtons. s must not be zero.
func (s Spin) FromForce(newtons float64) float64 {
	return newtons / (float64(s) * float64(s)) * 1e6
}

// FromMoment returns the couple in g mm2 that makes a turning moment in newton
// metres. s must not be zero.
func (s Spin) FromMoment(newtonMetres float64) float64 {
	return newtonMetres / (float64(s) * float64(s)) * 1e9
}
