package wear_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models/modeltest"
	"rimledger/models/wear"
)

func TestForecastFlags(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name                string
		readings            [][2]float64
		early, prior, there bool
	}{
		{"new tire, no reading", nil, true, true, false},
		{"worn 1.5 mm by a tenths gauge", [][2]float64{{5000, 7.2}, {11000, 6.5}}, true, false, false},
		{"worn 1.6 mm by a tenths gauge", [][2]float64{{5000, 7.2}, {11500, 6.4}}, false, false, false},
		{"below the limit", [][2]float64{{20000, 4.8}, {40000, 2.0}, {50000, 1.2}}, false, false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()

			f := forecast(t, read(t, start(t), c.readings...), 1.6)
			if f.TooEarly != c.early || f.PriorOnly != c.prior || f.Reached != c.there {
				t.Errorf(
					"TooEarly %v, PriorOnly %v, Reached %v; want %v, %v, %v",
					f.TooEarly,
					f.PriorOnly,
					f.Reached,
					c.early,
					c.prior,
					c.there,
				)
			}

			if c.there && (f.Distance != wear.Span{} || f.Days != wear.Span{}) {
				t.Errorf("reached, and yet %+v", f.Distance)
			}
		})
	}
}

func TestForecastRefuses(t *testing.T) {
	t.Parallel()
	s := read(t, start(t), [2]float64{10000, 7})
	empty, err := wear.Start(wear.DefaultPrior("car", "drive"), wear.Fitting{})
	if err != nil {
		t.Fatal(err)
	}

	for _, c := range []struct {
		name string
		s    wear.State
		a    wear.Ahead
		want error
	}{
		{"now before the last reading", s, wear.Ahead{LimitMM: 1.6, NowKM: 9000}, wear.ErrGoesBack},
		{"limit not a number", s, wear.Ahead{LimitMM: math.NaN(), NowKM: 10000}, wear.ErrNotFinite},
		{"negative limit", s, wear.Ahead{LimitMM: -1, NowKM: 10000}, wear.ErrOutOfRange},
		{"depth never known", empty, wear.Ahead{LimitMM: 1.6}, wear.ErrTooFew},
	} {
		if _, err := c.s.Forecast(c.a); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

// TestIntervalsAreFiellers: with little doubt of the rate the lognormal is a
// normal, and the ends must be those of Fieller's theorem, here for a line
// through many exact-ish readings. Crossing distances from Fit.Where for the
// line itself, normal quantiles instead of t: 10,000 degrees of freedom make
// them one.
func TestIntervalsAreFiellers(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 3))
	s, err := wear.Start(wear.FlatPrior(), wear.Fitting{})
	if err != nil {
		t.Fatal(err)
	}

	var xs, ys []float64
	for i := range 10000 {
		x := float64(i) * 5
		y := 8 - 0.1*x/1000 + 0.3*rng.NormFloat64()
		xs, ys = append(xs, x), append(ys, y)
		if s, _, err = s.Update(wear.Reading{XKM: x, DepthMM: y, Gauge: wear.Gauge{ScatterMM: 0.3}}); err != nil {
			t.Fatal(err)
		}
	}

	line, err := wear.Fit(xs, ys)
	if err != nil {
		t.Fatal(err)
	}
	at, in, err := line.Where(1.6, 0.9, false)
	if err != nil {
		t.Fatal(err)
	}

	f := forecast(t, s, 1.6)
	width := in.Hi - in.Lo
	within(t, "median", s.XKM+f.Distance.Median.Value, at, 0.01*width)
	within(t, "lo", s.XKM+f.Distance.Lo90.Value, in.Lo, 0.03*width) // the gauge's sd is given, the line's estimated
	within(t, "hi", s.XKM+f.Distance.Hi90.Value, in.Hi, 0.03*width)
}

func TestNothingNotFiniteLeaves(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		s := drawState(t)
		onlyFinite(t, reflect.ValueOf(s))

		now := s.XKM + float64(rapid.IntRange(0, 300000).Draw(t, "ahead"))
		use := wear.StartUse(rapid.Float64().Draw(t, "use"))
		limit := float64(rapid.IntRange(0, 26).Draw(t, "limit"))
		f, err := s.Forecast(wear.Ahead{LimitMM: limit, NowKM: now, NowSDKM: 50, Use: use})
		if err != nil {
			if !errors.Is(err, wear.ErrTooFew) {
				t.Fatal(err)
			}
			return
		}

		onlyFinite(t, reflect.ValueOf(f))
		ordered(t, f.Distance)
		ordered(t, f.Days)
		if f.RateMM < 0 || f.DepthMM < 0 {
			t.Fatalf("rate %g, depth %g", f.RateMM, f.DepthMM)
		}
	})
}

// drawState draws a state after some readings, at its first position or moved.
func drawState(t *rapid.T) wear.State {
	priors := []wear.Prior{wear.FlatPrior(), wear.DefaultPrior("tractor", "drive"), wear.DefaultPrior("", "")}
	p := rapid.SampledFrom(priors).Draw(t, "prior")
	s, err := wear.Start(p, wear.Fitting{NewMM: 20, Fresh: rapid.Bool().Draw(t, "fresh")})
	if err != nil {
		t.Fatal(err)
	}

	for _, r := range drawReadings(t) {
		if s, _, err = s.Update(r); err != nil {
			t.Fatal(err)
		}
	}

	if rapid.Bool().Draw(t, "moved") {
		if s, err = s.Moved(s.XKM+100, 0, wear.DefaultPrior("tractor", "steer")); err != nil {
			t.Fatal(err)
		}
	}

	return s
}

// ordered fails unless the bounds of sp rise, the open ones last.
func ordered(t *rapid.T, sp wear.Span) {
	bounds := []wear.Bound{sp.Lo90, sp.Lo80, sp.Median, sp.Hi80, sp.Hi90}
	for i := 1; i < len(bounds); i++ {
		if bounds[i].Value < bounds[i-1].Value || (bounds[i-1].Beyond && !bounds[i].Beyond) {
			t.Fatalf("out of order: %+v", sp)
		}
	}
}

// onlyFinite fails if any number in v is not finite.
func onlyFinite(t *rapid.T, v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		for _, f := range v.Fields() {
			onlyFinite(t, f)
		}
	case reflect.Float64:
		if math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0) {
			t.Fatalf("%v in a result", v.Float())
		}
	}
}

func TestLowerLimitComesLater(t *testing.T) {
	t.Parallel()
	s := read(t, start(t), [2]float64{10000, 6.7}, [2]float64{20000, 5.5})
	pull, legal := forecast(t, s, 3.2).Distance, forecast(t, s, 1.6).Distance
	if !(pull.Median.Value < legal.Median.Value && pull.Lo90.Value < legal.Lo90.Value) {
		t.Errorf("pull %+v, legal %+v", pull, legal)
	}
}

func TestBefore(t *testing.T) {
	t.Parallel()
	s := read(t, start(t), [2]float64{10000, 6.7}, [2]float64{20000, 5.5}, [2]float64{30000, 4.2})
	sp := forecast(t, s, 1.6).Distance

	// By definition of median and 80 % interval; the 90 % ends only nearly, as
	// the two half lognormals stand for the real shape.
	for _, c := range []struct{ at, want, band float64 }{
		{0, 0, 0}, {sp.Lo80.Value, 0.1, 1e-9}, {sp.Median.Value, 0.5, 1e-9}, {sp.Hi80.Value, 0.9, 1e-9},
		{sp.Lo90.Value, 0.05, 0.01}, {sp.Hi90.Value, 0.95, 0.01}, {1e9, 1, 1e-9},
	} {
		within(t, fmt.Sprintf("before %.0f", c.at), sp.Before(c.at), c.want, c.band)
	}

	if got := (wear.Span{}).Before(0); got != 1 {
		t.Errorf("a limit reached already: %g, want 1", got)
	}
}

func TestUse(t *testing.T) {
	t.Parallel()
	u := wear.StartUse(wear.DefaultUse("tractor"))
	wide := u.PerDay()

	// 500 km on each of five days of seven, over a year: 2500/7 km a day.
	var err error
	km := 0.0
	for day := 0; day <= 364; day += 7 {
		if u, err = u.Update(float64(day), km); err != nil {
			t.Fatal(err)
		}
		km += 2500
	}

	now := u.PerDay()
	within(t, "km a day", now.Median.Value, 2500.0/7, 0.05*2500/7)
	if !(now.Hi90.Value-now.Lo90.Value < (wide.Hi90.Value-wide.Lo90.Value)/3) {
		t.Errorf("a year of readings gives %+v, none gave %+v", now, wide)
	}
	if at, sd, ok := u.At(374); !ok || math.Abs(at-(52*2500+3571)) > 300 || sd <= 0 {
		t.Errorf("ten days on at %.0f ± %.0f, %v", at, sd, ok)
	}

	for _, c := range []struct {
		name    string
		day, km float64
		want    error
	}{
		{"distance goes back", 400, 100, wear.ErrGoesBack},
		{"time goes back", 300, 140000, wear.ErrTimeGoesBack},
		{"faster than can be", 365, 200000, wear.ErrOutOfRange},
		{"not a number", math.NaN(), 140000, wear.ErrNotFinite},
	} {
		if after, err := u.Update(c.day, c.km); !errors.Is(err, c.want) || after != u {
			t.Errorf("%s: %v, want %v and nothing changed", c.name, err, c.want)
		}
	}

	if r, err := u.Restart(400, 0); err != nil || r.KMPerDay != u.KMPerDay || r.XKM != 0 {
		t.Errorf("after a new odometer %+v, %v", r, err)
	}
}

// TestUseIntervalHolds: simulated vehicles with a lognormal mean (coefficient of
// variation 0.5) that drifts by a tenth a month, five working days of seven,
// one week in eight without work, uneven trips, an odometer read at 0, 20 and
// 40 days. The 90 % interval of the days that the next 100 days' distance takes
// holds 100 in 85 to 97 % of cases.
func TestUseIntervalHolds(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	rng := rand.New(rand.NewPCG(11, 1))

	held, n := 0, 2000
	for range n {
		day := simulatedDays(rng)
		u, km := wear.StartUse(180), 0.0
		for d := range 41 {
			if d%20 == 0 {
				u, _ = u.Update(float64(d), km)
			}
			if d < 40 {
				km += day(d)
			}
		}

		future := 0.0
		for d := range 100 {
			future += day(40 + d)
		}

		s, err := wear.Start(wear.Prior{RateMean: 0.1, RateSD: 1e-6, NewDepthSD: 1e-6},
			wear.Fitting{NewMM: 20, Fresh: true})
		if err != nil {
			t.Fatal(err)
		}

		f, err := s.Forecast(wear.Ahead{LimitMM: math.Max(20-0.1*future/1000, 0), Use: u})
		if err != nil {
			t.Fatal(err)
		}
		if holds(f.Days.Lo90, f.Days.Hi90, 100) {
			held++
		}
	}

	share := float64(held) / float64(n)
	t.Logf("90 %% interval of days holds %.3f", share)
	if share < 0.85 || share > 0.97 {
		t.Errorf("90 %% interval of days holds %.3f", share)
	}
}

// simulatedDays returns a function that gives the km of day d, called in order, of one
// vehicle as TestUseIntervalHolds describes it.
func simulatedDays(rng *rand.Rand) func(d int) float64 {
	mean, off := 180*math.Exp(0.47*rng.NormFloat64()-0.11), false

	return func(d int) float64 {
		mean *= math.Exp(0.1 / math.Sqrt(30) * rng.NormFloat64())
		if d%7 == 0 {
			off = rng.Float64() < 0.125
		}
		if off || d%7 >= 5 {
			return 0
		}
		return mean * 1.6 * math.Exp(0.5*rng.NormFloat64()-0.125)
	}
}

func TestVehicleWithoutOdometer(t *testing.T) {
	t.Parallel()
	s := read(t, start(t), [2]float64{10000, 6.7})
	f, err := s.Forecast(wear.Ahead{LimitMM: 1.6, NowKM: 12000, NowSDKM: 1500, Use: wear.StartUse(50)})
	if err != nil {
		t.Fatal(err)
	}
	if f.Days.Median.Beyond || !(f.Days.Hi80.Value > 2*f.Days.Median.Value) {
		t.Errorf("days %+v; want a median and a wide interval", f.Days)
	}

	if f.Days.Lo90.Value >= f.Days.Median.Value {
		t.Errorf("days %+v", f.Days)
	}

	bare, err := s.Forecast(wear.Ahead{LimitMM: 1.6, NowKM: 12000})
	if err != nil || !bare.Days.Median.Beyond {
		t.Errorf("without use the days are beyond, got %+v, %v", bare.Days, err)
	}
}

func TestLearnShrinks(t *testing.T) {
	t.Parallel()

	some := func(n int, class, role, design string, rate float64) (out []wear.Summary) {
		for i := range n {
			out = append(out, wear.Summary{Class: class, Role: role, Design: design,
				RateMM: rate * (1 + 0.1*float64(i%3-1)), SEMM: 0.1 * rate})
		}

		return out
	}

	embedded := wear.DefaultPrior("bus", "drive")
	twice := 2 * embedded.RateMean

	var last float64
	for _, n := range []int{0, 1, 5, 50, 500} {
		p, err := wear.Learn(all(some(n, "bus", "drive", "", twice)))
		if err != nil {
			t.Fatal(err)
		}
		got := p.For("bus", "drive", "any")
		if got.RateMean < last || got.RateMean > 1.01*twice {
			t.Errorf("%d fitments: mean %.4f after %.4f; want it to rise toward %.4f", n, got.RateMean, last, twice)
		}

		if want := n == 0; got.Source.Embedded != want || got.Source.Fitments != n {
			t.Errorf("%d fitments: source %+v", n, got.Source)
		}

		last = got.RateMean
	}

	within(t, "many fitments move it all the way", last, twice, 0.02*twice)

	p, err := wear.Learn(all(append(some(50, "bus", "drive", "Nordwind", twice),
		some(4, "bus", "steer", "Ostwind", 0.12)...))) // invented names
	if err != nil {
		t.Fatal(err)
	}

	for _, c := range []struct{ class, role, design, level string }{
		{"bus", "drive", "Nordwind", "design"}, {"bus", "drive", "other", "role"},
		{"bus", "steer", "Ostwind", "role"}, // four are too few for a design
		{"bus", "free", "", "class"}, {"car", "steer", "", "fleet"},
	} {
		if got := p.For(c.class, c.role, c.design).Source.Level; got != c.level {
			t.Errorf("%s %s %s: level %s, want %s", c.class, c.role, c.design, got, c.level)
		}
	}

	if _, err := wear.Learn(all([]wear.Summary{{RateMM: math.NaN(), SEMM: 1}})); !errors.Is(err, wear.ErrNotFinite) {
		t.Errorf("a rate that is not a number: %v", err)
	}
}

func TestLinesRefuse(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name string
		x, y []float64
		want error
	}{
		{"two points", []float64{1, 2}, []float64{1, 2}, wear.ErrTooFew},
		{"uneven columns", []float64{1, 2, 3}, []float64{1, 2}, wear.ErrTooFew},
		{"one place", []float64{1, 1, 1}, []float64{1, 2, 3}, wear.ErrNoSpread},
		{"not a number", []float64{1, 2, math.NaN()}, []float64{1, 2, 3}, wear.ErrNotFinite},
	} {
		if _, err := wear.Fit(c.x, c.y); !errors.Is(err, c.want) {
			t.Errorf("Fit, %s: %v, want %v", c.name, err, c.want)
		}
		if _, err := wear.TheilSen(c.x, c.y, 0.9); !errors.Is(err, c.want) {
			t.Errorf("TheilSen, %s: %v, want %v", c.name, err, c.want)
		}
	}

	level, err := wear.Fit([]float64{1, 2, 3, 4}, []float64{5, 5.1, 5.1, 5})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := level.Where(1, 0.95, true); !errors.Is(err, wear.ErrNoSlope) {
		t.Errorf("a level line reaches nothing: %v", err)
	}
	if _, err := wear.ProjectTreadwear([9]float64{}, 1); !errors.Is(err, wear.ErrNoSlope) {
		t.Errorf("no wear: %v", err)
	}
}

// all brings summaries to wear.Learn.
func all(fitments []wear.Summary) func(func(wear.Summary) error) error {
	return func(yield func(wear.Summary) error) error {
		for _, f := range fitments {
			if err := yield(f); err != nil {
				return err
			}
		}
		return nil
	}
}
