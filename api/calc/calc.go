// Package calc gives the computations of the pure packages a form in which they
// can be asked for by themselves: JSON in, JSON out. The API and the command line
// share it. It records nothing and does not read the fleet.
//
// The wire format is the field names of the computations' own structs in snake case
// (MassG is mass_g), so that no second set of structs has to be kept in step.
package calc

import (
	"errors"
	"slices"

	"rimledger/models"
	"rimledger/models/badinput"
)

// Calculator is one computation that can be asked for by itself.
type Calculator struct {
	Name    string
	Summary string
	Example any // what Run takes, as it is written as JSON

	// Run takes JSON and returns a value that is written as JSON. Its errors are
	// for the person who asked.
	Run func(in []byte) (any, error)
}

// All lists every computation.
func All() []Calculator {
	return slices.Concat(treadCalculators(), wearCalculators(), tireCalculators(), balanceCalculators(),
		mountCalculators(), pressureCalculators())
}

// calculator makes a calculator of a pure function.
func calculator[I, O any](name, summary string, example I, run func(I) (O, error)) Calculator {
	return Calculator{Name: name, Summary: summary, Example: wireValue(example), Run: func(in []byte) (any, error) {
		var v I
		if err := readJSON(in, &v); err != nil {
			return nil, err
		}

		out, err := run(v)
		if err != nil {
			return nil, refused(name, err)
		}

		answer := wireValue(out)
		if !finite(answer) {
			return nil, tooExtreme(name, in)
		}

		return answer, nil
	}}
}

// refused returns an error of a computation as an Invalid error that names the field.
func refused(name string, err error) error {
	var known *models.Error
	if errors.As(err, &known) {
		return err
	}

	var bad *badinput.Error
	if !errors.As(err, &bad) {
		return models.Errorf(models.Invalid, "%s: %v", name, err)
	}

	var f models.Faults
	f.Add(bad.Field, bad.Value, "is refused: %v; %s", bad.Err, bad.Right)
	return f.Err(name)
}
