package calc

import (
	"fmt"

	"rimledger/models"
)

// pressureCalculators lists the computations about tire pressure.
func pressureCalculators() []Calculator {
	return []Calculator{
		calculator("pressure-temperature",
			"What a tire's gauge pressure becomes at another temperature of its air, its volume and its air unchanged.",
			pressureInput{GaugeKPA: 720, FromC: 20, ToC: -10}, pressureAt),
	}
}

// pressureInput is a gauge pressure at one temperature of the air inside, and another.
type pressureInput struct {
	GaugeKPA   float64
	FromC, ToC float64 // degrees Celsius
	AmbientKPA float64 // pressure of the air outside; 0: 101.325
}

type pressureOutput struct {
	GaugeKPA  float64
	ChangeKPA float64
	Note      string
}

const pressureNote = "Gay-Lussac's law for the pressure above vacuum. Set the pressure cold by the plate or the " +
	"maker's table, and never bleed a hot tire."

// standardKPa is the standard atmosphere.
const standardKPa = 101.325

// zeroC is 0 degrees Celsius in kelvin.
const zeroC = 273.15

// pressureAt follows Gay-Lussac's law: at constant volume the pressure above vacuum goes with
// the temperature above absolute zero.
func pressureAt(in pressureInput) (pressureOutput, error) {
	if in.AmbientKPA == 0 {
		in.AmbientKPA = standardKPa
	}

	var f models.Faults
	for _, b := range []struct {
		name       string
		v, low, hi float64
		unit       string
	}{
		{"gauge_kpa", in.GaugeKPA, 0, 2000, "kPa on the gauge"},
		{"from_c", in.FromC, -60, 200, "degrees Celsius"},
		{"to_c", in.ToC, -60, 200, "degrees Celsius"},
		{"ambient_kpa", in.AmbientKPA, 40, 120, "kPa of the air outside, or left out"},
	} {
		if !(b.v >= b.low && b.v <= b.hi) {
			f.Add(b.name, fmt.Sprint(b.v), "must be %g to %g %s", b.low, b.hi, b.unit)
		}
	}
	if err := f.Err("pressure-temperature"); err != nil {
		return pressureOutput{}, err
	}

	kpa := (in.GaugeKPA+in.AmbientKPA)*(in.ToC+zeroC)/(in.FromC+zeroC) - in.AmbientKPA
	return pressureOutput{kpa, kpa - in.GaugeKPA, pressureNote}, nil
}
