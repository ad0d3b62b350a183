package bench

import (
	"math"

	"rimledger/models/badinput"
	"rimledger/models/balance"
	"rimledger/models/tiresize"
)

// InputError names the field of an Input that is refused, its value and what
// would be right.
type InputError = badinput.Error

// RimCode returns the diameter code, in inches, of the rim that a tire of this size
// fits, and false where the size cannot be read.
func RimCode(size string) (inches float64, known bool) {
	d, err := tiresize.Parse(size)
	return d.RimCode, err == nil
}

// OuterDiameterMM returns how wide a new tire of this size is across its tread, in
// millimetres, and 0 where the size cannot be read.
func OuterDiameterMM(size string) float64 {
	d, _ := tiresize.Parse(size) // the zero size where it cannot be read
	return d.Diameter().Millimetres()
}

// Spin returns how fast a tire of this size turns at a road speed in km/h. It
// returns an error where the size cannot be read, and those of balance.AtSpeed.
func Spin(size string, kmh float64) (balance.Spin, error) {
	d, err := tiresize.Parse(size)
	if err != nil {
		return 0, err
	}
	return balance.AtSpeed(kmh, d.RollingCircumference().Millimetres()/2/math.Pi)
}
