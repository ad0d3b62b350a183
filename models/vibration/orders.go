package vibration

import (
	"errors"
	"math"

	"rimledger/models/badinput"
)

// The reasons for which an input is refused; a badinput.Error wraps one of them.
var (
	ErrCircumference = errors.New("rolling circumference out of range")
	ErrSpeed         = errors.New("speed out of range")
	ErrOrder         = errors.New("order out of range")
	ErrUnbalance     = errors.New("unbalance out of range")
	ErrWord          = errors.New("word not known")
	ErrSpeedOrder    = errors.New("speeds in the wrong order")
	ErrBands         = errors.New("bands of speeds not usable")
	ErrPlaces        = errors.New("places not usable")
	ErrEmptyReport   = errors.New("empty report")
)

// The widest inputs that are accepted: the smallest and largest road wheels, a
// speed no road vehicle of a fleet exceeds, an unbalance of 5 kg at half a meter.
const (
	minCircumferenceMM = 500
	maxCircumferenceMM = 10_000
	maxSpeedKMH        = 300
	maxOrder           = 100
	maxUnbalanceGMM    = 2.5e6
)

// OrderHz returns the frequency, in Hz, of order n of a wheel with the given
// rolling circumference at the given speed: n times the turns per second. n is
// usually 1, 2 or 3; an axle ratio gives the order of a driveshaft. Errors:
// ErrCircumference, ErrSpeed (zero speed included), ErrOrder.
//
// f = n v / C (workshop manuals on vibration, 1998 to 2003).
func OrderHz(circumferenceMM, speedKMH, n float64) (float64, error) {
	if err := checkRolling(circumferenceMM, speedKMH); err != nil {
		return 0, err
	}
	if !(n > 0 && n <= maxOrder) {
		return 0, badinput.Number("order", n, ErrOrder, "above 0 and at most 100")
	}
	return n * speedKMH / 3.6 / (circumferenceMM / 1000), nil
}

// SpeedKMH returns the speed, in km/h, at which order n of a wheel has the
// frequency hz: the inverse of OrderHz. Errors: ErrCircumference, ErrOrder,
// ErrSpeed if no road vehicle reaches that speed.
func SpeedKMH(circumferenceMM, hz, n float64) (float64, error) {
	if !(n > 0 && n <= maxOrder) {
		return 0, badinput.Number("order", n, ErrOrder, "above 0 and at most 100")
	}
	v := hz / n * circumferenceMM / 1000 * 3.6
	return v, checkRolling(circumferenceMM, v)
}

// Orders is the first three orders of a wheel at one speed, in Hz.
type Orders struct {
	SpeedKMH                   float64
	FirstHz, SecondHz, ThirdHz float64
}

// OrdersAt returns the first three orders. Errors as OrderHz.
func OrdersAt(circumferenceMM, speedKMH float64) (Orders, error) {
	f, err := OrderHz(circumferenceMM, speedKMH, 1)
	if err != nil {
		return Orders{}, err
	}
	return Orders{speedKMH, f, 2 * f, 3 * f}, nil
}

// ForceN returns the rotating force, in newtons, of an unbalance in g·mm (mass
// times the radius it sits at) on a wheel with the given rolling circumference
// at the given speed. It grows with the square of speed. Errors:
// ErrCircumference, ErrSpeed, ErrUnbalance.
//
// F = m r ω², ω = 2 π v / C.
func ForceN(unbalanceGMM, circumferenceMM, speedKMH float64) (float64, error) {
	f, err := OrderHz(circumferenceMM, speedKMH, 1)
	if err != nil {
		return 0, err
	}

	if !(unbalanceGMM >= 0 && unbalanceGMM <= maxUnbalanceGMM) {
		return 0, badinput.Number("unbalance g·mm", unbalanceGMM, ErrUnbalance,
			"grams times millimeters of radius, 0 to 2500000")
	}

	omega := 2 * math.Pi * f
	return unbalanceGMM * 1e-6 * omega * omega, nil
}

// Class groups vehicles whose wheels are sprung alike.
type Class string

// The classes of wheel.
const (
	Car        Class = "car"
	LightTruck Class = "light_truck"
	Heavy      Class = "heavy" // rigid trucks, tractors, trailers, buses
)

// Band is a range of frequencies in Hz or of speeds in km/h.
type Band struct{ Lo, Hi float64 }

// Contains reports whether x lies in b, ends included.
func (b Band) Contains(x float64) bool { return x >= b.Lo && x <= b.Hi }

// HopBandHz returns the frequencies of wheel hop of class c: the resonance of the
// unsprung wheel on its tire. Car 10-15 Hz: an engineer's interview. Heavy 8-10 Hz, which
// a usual wheel meets at 92 to 115 km/h, where drivers of trucks complain: common practice,
// no source. Light trucks lie between the two: chosen by us. Error: ErrWord.
func HopBandHz(c Class) (Band, error) {
	switch c {
	case Car:
		return Band{10, 15}, nil
	case LightTruck:
		return Band{9, 14}, nil
	case Heavy:
		return Band{8, 10}, nil
	}
	return Band{}, badinput.New("class", string(c), ErrWord, "car, light_truck or heavy")
}

// HopSpeeds returns the speeds, in km/h, at which order n of a wheel excites
// its wheel hop. Errors: ErrWord, ErrCircumference, ErrOrder, ErrSpeed.
func HopSpeeds(c Class, circumferenceMM, n float64) (Band, error) {
	hz, err := HopBandHz(c)
	if err != nil {
		return Band{}, err
	}

	lo, err := SpeedKMH(circumferenceMM, hz.Lo, n)
	if err != nil {
		return Band{}, err
	}

	hi, err := SpeedKMH(circumferenceMM, hz.Hi, n)
	return Band{lo, hi}, err
}

// UsualCircumferenceMM returns the rolling circumference of class c for a size that is
// not known: car 1950, light truck 2350, heavy 3200 mm (common practice, no source).
// Error: ErrWord.
func UsualCircumferenceMM(c Class) (float64, error) {
	switch c {
	case Car:
		return 1950, nil
	case LightTruck:
		return 2350, nil
	case Heavy:
		return 3200, nil
	}
	return 0, badinput.New("class", string(c), ErrWord, "car, light_truck or heavy")
}

// Hops returns how many times a wheel hopping at hz meets the road in one turn
// at the given speed: hz times circumference over speed. Errors as OrderHz.
func Hops(circumferenceMM, speedKMH, hz float64) (float64, error) {
	f, err := OrderHz(circumferenceMM, speedKMH, 1)
	if err != nil {
		return 0, err
	}
	if !(hz > 0 && hz <= 1000) {
		return 0, badinput.Number("hop frequency Hz", hz, ErrOrder, "above 0 and at most 1000")
	}
	return hz / f, nil
}

// checkRolling returns a badinput.Error unless both values are those of a road wheel.
// The comparisons are written so that NaN fails.
func checkRolling(circumferenceMM, speedKMH float64) error {
	if !(circumferenceMM >= minCircumferenceMM && circumferenceMM <= maxCircumferenceMM) {
		return badinput.Number("rolling circumference mm", circumferenceMM, ErrCircumference, "500 to 10000")
	}
	if !(speedKMH > 0 && speedKMH <= maxSpeedKMH) {
		return badinput.Number("speed km/h", speedKMH, ErrSpeed, "above 0 and at most 300")
	}
	return nil
}
