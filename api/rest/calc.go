package rest

import (
	"context"
	"encoding/json"
	"errors"

	"rimledger/api/calc"
	"rimledger/api/problem"
	"rimledger/models"
	"rimledger/models/fleet"
)

// CalculatorInfo describes a calculator.
type CalculatorInfo struct {
	Name    string `json:"name"`
	Summary string `json:"summary"`
	Example any    `json:"example" doc:"A body that it takes."`
}

func (s *server) registerCalculators() {
	const tag = "Calculators"
	register(
		s,
		get(
			"/calc",
			tag,
			"List calculators",
			"Computations that can be asked for by themselves, each with an example.",
		),
		func(context.Context, fleet.Actor, *struct{}) (*pageOut[CalculatorInfo], error) {
			return paged(
				s.Calculators,
				"",
				nil,
				func(c calc.Calculator) CalculatorInfo { return CalculatorInfo{c.Name, c.Summary, c.Example} },
			)
		},
	)

	o := post("/calc/{name}", tag, "Compute", "Records nothing.")

	o.DefaultStatus = 200
	register(s, o, func(_ context.Context, _ fleet.Actor, in *struct {
		Name string `path:"name" maxLength:"40"`
		Body json.RawMessage
	}) (*bodyOut[any], error) {
		for _, c := range s.Calculators {
			if c.Name == in.Name {
				return computed(c, in.Body)
			}
		}
		return nil, models.Errorf(models.NotFound, "no such calculator; GET %s/calc lists them", Prefix)
	})
}

// computed runs a calculator. What it refuses without a kind is bad input:
// calculators are pure, so their errors reveal nothing internal.
func computed(c calc.Calculator, in []byte) (*bodyOut[any], error) {
	out, err := c.Run(in)
	var known *models.Error
	if err != nil && !errors.As(err, &known) {
		err = problem.New(models.Invalid, err.Error())
	}
	return bodyOrError(out, err)
}
