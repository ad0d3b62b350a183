package wear_test

import (
	"fmt"

	"rimledger/models/wear"
)

// A new drive tire is read three times and asked when it reaches 3.2 mm.
func Example() {
	s, err := wear.Start(wear.DefaultPrior("tractor", "drive"), wear.Fitting{XKM: 100_000, NewMM: 20.6, Fresh: true})
	if err != nil {
		panic(err)
	}

	use := wear.StartUse(wear.DefaultUse("tractor"))
	for _, r := range []struct{ day, km, depth float64 }{
		{0, 100_000, 20.6}, {60, 121_000, 19.05}, {120, 142_500, 17.5}, {180, 163_000, 15.9},
	} {
		if s, _, err = s.Update(wear.Reading{XKM: r.km, DepthMM: r.depth, Gauge: wear.Gauge32nd}); err != nil {
			panic(err)
		}
		if use, err = use.Update(r.day, r.km); err != nil {
			panic(err)
		}
	}

	f, err := s.Forecast(wear.Ahead{LimitMM: 3.2, NowKM: 163_000, Use: use})
	if err != nil {
		panic(err)
	}
	fmt.Printf("depth about %.0f mm, rate about %.2f mm per 1000 km\n", f.DepthMM, f.RateMM)
	fmt.Println("worth believing:", !f.TooEarly && !f.LackOfFit && !f.Suspect && !f.PriorOnly)
	fmt.Println("more likely than not within two years:", f.Days.Before(730) > 0.5)
	// Output:
	// depth about 16 mm, rate about 0.07 mm per 1000 km
	// worth believing: true
	// more likely than not within two years: true
}
