package pattern_test

import (
	"fmt"

	"rimledger/models/pattern"
)

// A tire read at eight stations is worn more on one side; its partner is not,
// a weight is missing and the hand feels no cups.
func ExampleCauses() {
	partner := tread(even(8, 6.5))
	in := pattern.Input{
		Tread:        tread([]float64{5.0, 5.4, 6.2, 7.1, 7.5, 7.1, 6.2, 5.4}),
		ResolutionMM: 0.1,
		Confirmed:    true,
		AxleMate:     &partner,
		Facts:        pattern.Facts{DampersChecked: true, PartsChecked: true, PressureToTarget: 1},
	}

	in.Observations = []pattern.Observation{{Code: "missing_weight"}, {Code: "smooth"}}
	a, err := pattern.Causes(in)
	if err != nil {
		panic(err)
	}

	for _, p := range a.Result.Patterns {
		fmt.Println(p.Key, p.Severity, p.Confidence)
	}

	top := a.Ranked[0]
	fmt.Println(top.Key, top.Score, top.Verdict)

	for _, l := range top.Lines {
		fmt.Printf("%+d %s (%s)\n", l.Points, l.Text, l.Status)
	}

	for _, c := range a.ChecksFirst {
		fmt.Println("first:", c.Text)
	}
	// Output:
	// once_per_turn moderate confirmed
	// imbalance 8 likely
	// +4 a weight is missing: clean mark, broken clip or adhesive print (M)
	// +2 this wheel end only; the partner tire is normal (M)
	// +2 one side of the tire is worn more (first harmonic rules) (F)
	// first: bead seat gap and run-out, wheel and tire
	// first: then a check spin with nothing removed
}

// With one station nothing can be said of the way round; the request says what would.
func ExampleRead() {
	got, err := pattern.Read(pattern.Input{Tread: tread([]float64{4}, []float64{5.5}, []float64{7})})
	if err != nil {
		panic(err)
	}
	fmt.Println(got.Around)

	for _, p := range got.Patterns {
		fmt.Println(p.Key, p.Severity, "-", p.Text)
	}

	fmt.Println(got.Wanted[0].Text)
	// Output:
	// not_read
	// shoulder_one_side moderate - the outer shoulder is worn more
	// 3 equally spaced stations, the first at the valve; 8 where cups are felt
}
