package wear_test

import (
	"encoding/json"
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rimledger/models/badinput"
	"rimledger/models/wear"
)

// start returns a new car tire of 8 mm on a driven axle.
func start(t testing.TB) wear.State {
	t.Helper()
	s, err := wear.Start(wear.DefaultPrior("car", "drive"), wear.Fitting{NewMM: 8, Fresh: true})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// read returns s after readings of distance and depth by a tenths gauge.
func read(t testing.TB, s wear.State, readings ...[2]float64) wear.State {
	t.Helper()
	for _, r := range readings {
		var err error
		if s, _, err = s.Update(wear.Reading{XKM: r[0], DepthMM: r[1], Gauge: wear.GaugeTenth}); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func forecast(t testing.TB, s wear.State, limitMM float64) wear.Forecast {
	t.Helper()
	f, err := s.Forecast(wear.Ahead{LimitMM: limitMM, NowKM: s.XKM})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestUpdateRefuses(t *testing.T) {
	t.Parallel()

	good := wear.Reading{XKM: 20000, DepthMM: 6, Gauge: wear.GaugeTenth}
	for _, c := range []struct {
		name   string
		change func(*wear.Reading)
		want   error
	}{
		{"distance goes back", func(r *wear.Reading) { r.XKM = 9999 }, wear.ErrGoesBack},
		{"distance not a number", func(r *wear.Reading) { r.XKM = math.NaN() }, wear.ErrNotFinite},
		{"distance beyond any odometer", func(r *wear.Reading) { r.XKM = 2e7 }, wear.ErrOutOfRange},
		{"depth not a number", func(r *wear.Reading) { r.DepthMM = math.NaN() }, wear.ErrNotFinite},
		{"depth infinite", func(r *wear.Reading) { r.DepthMM = math.Inf(1) }, wear.ErrNotFinite},
		{"depth negative", func(r *wear.Reading) { r.DepthMM = -0.1 }, wear.ErrOutOfRange},
		{"depth above new by more than a 32nd", func(r *wear.Reading) { r.DepthMM = 8.9 }, wear.ErrAboveNew},
		{"no gauge", func(r *wear.Reading) { r.Gauge = wear.Gauge{} }, wear.ErrOutOfRange},
		{"negative scatter", func(r *wear.Reading) { r.Gauge.ScatterMM = -1 }, wear.ErrOutOfRange},
		{"negative count", func(r *wear.Reading) { r.Count = -1 }, wear.ErrOutOfRange},
		{"doubt not a number", func(r *wear.Reading) { r.DistanceSDKM = math.NaN() }, wear.ErrNotFinite},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := read(t, start(t), [2]float64{10000, 7})
			r := good
			c.change(&r)
			after, _, err := s.Update(r)

			var in *badinput.Error
			if !errors.Is(err, c.want) || !errors.As(err, &in) || in.Field == "" || in.Right == "" {
				t.Fatalf("error %v, want a badinput.Error of %v with a field and what is right", err, c.want)
			}

			if after != s {
				t.Error("the state changed with a refused reading")
			}
		})
	}
}

func TestReadingAtTheSamePlaceIsARepeat(t *testing.T) {
	t.Parallel()
	once := read(t, start(t), [2]float64{10000, 7})
	twice := read(t, once, [2]float64{10000, 7})
	a, _ := once.DepthSD()
	b, _ := twice.DepthSD()
	if !(b < a) || twice.Places != once.Places || twice.Count != 2 {
		t.Errorf(
			"sd %.3f then %.3f, places %d then %d; a repeat makes surer and is no new place",
			a,
			b,
			once.Places,
			twice.Places,
		)
	}
}

func TestStartRefuses(t *testing.T) {
	t.Parallel()

	for name, p := range map[string]wear.Prior{
		"rate not a number":  {RateMean: math.NaN(), RateSD: 1},
		"negative sd":        {RateMean: 1, RateSD: -1},
		"surer than can be":  {RateMean: 1, RateSD: 1e-200},
		"new depth too sure": {NewDepthSD: 1e-200},
	} {
		if _, err := wear.Start(p, wear.Fitting{NewMM: 8}); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}

	if _, err := wear.Start(wear.FlatPrior(), wear.Fitting{NewMM: 30}); !errors.Is(err, wear.ErrOutOfRange) {
		t.Errorf("30 mm of new tread: %v, want ErrOutOfRange", err)
	}
}

func TestMoveKeepsDepthAndStartsRateAnew(t *testing.T) {
	t.Parallel()
	s := read(t, start(t), [2]float64{10000, 6.6}, [2]float64{20000, 5.2})
	p := wear.DefaultPrior("car", "free")
	m, err := s.Moved(20000, 500, p)
	if err != nil {
		t.Fatal(err)
	}

	if m.DepthMM != s.DepthMM || m.RateMM != p.RateMean || m.XKM != 500 || m.Count != 0 || m.NewMM != 8 {
		t.Errorf("moved to %+v from depth %.3f", m, s.DepthMM)
	}
	if f := forecast(t, m, 1.6); !f.PriorOnly || !f.TooEarly {
		t.Errorf("after a move PriorOnly %v, TooEarly %v; want both", f.PriorOnly, f.TooEarly)
	}
	if _, err := s.Moved(19000, 0, p); !errors.Is(err, wear.ErrGoesBack) {
		t.Errorf("moved before the last reading: %v", err)
	}
}

func TestOutlierIsFlaggedAndCountsLess(t *testing.T) {
	t.Parallel()

	s := read(t, start(t), [2]float64{5000, 7.2}, [2]float64{10000, 6.6}, [2]float64{15000, 6.0},
		[2]float64{20000, 5.4})

	odd, v, err := s.Update(wear.Reading{XKM: 21000, DepthMM: 2.0, Gauge: wear.GaugeTenth})
	if err != nil {
		t.Fatal(err)
	}
	if !v.Outlier || v.Z > -3 || v.Weight >= 1 || odd.Outliers != 1 {
		t.Errorf("verdict %+v; want an outlier below", v)
	}
	within(t, "depth after one wrong reading", odd.DepthMM, 5.3, 0.2)

	if f := forecast(t, odd, 1.6); !f.Suspect {
		t.Error("the forecast does not say that readings are suspect")
	}

	// A second one that agrees: the tire did change, or was another all along.
	again, v, err := odd.Update(wear.Reading{XKM: 21500, DepthMM: 2.0, Gauge: wear.GaugeTenth})
	if err != nil {
		t.Fatal(err)
	}
	if !v.Shift || v.Outlier {
		t.Errorf("verdict %+v; want a shift", v)
	}

	within(t, "depth after two that agree", again.DepthMM, 2.0, 0.25)
}

func TestBreakInDoesNotFool(t *testing.T) {
	t.Parallel()
	// Half a mm goes in the first 1500 km, then 0.12 mm per 1000 km as expected.
	s := read(t, start(t), [2]float64{1500, 7.5})
	f := forecast(t, s, 1.6)
	within(t, "rate", f.RateMM, 0.12, 0.04) // a line through new and 7.5 has 0.33
	s = read(t, s, [2]float64{8000, 6.7}, [2]float64{16000, 5.8})
	within(t, "rate later", forecast(t, s, 1.6).RateMM, 0.12, 0.02)
}

func TestReplayGivesTheStoredState(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		readings := drawReadings(t)
		p := wear.DefaultPrior("tractor", "drive")

		stored, _ := wear.Start(p, wear.Fitting{NewMM: 20, Fresh: true})
		for _, r := range readings {
			stored, _, _ = stored.Update(r)
			b, err := json.Marshal(stored) // stored and loaded between any two readings
			if err != nil {
				t.Fatal(err)
			}
			stored = wear.State{}
			if err := json.Unmarshal(b, &stored); err != nil {
				t.Fatal(err)
			}
		}

		replayed, _ := wear.Start(p, wear.Fitting{NewMM: 20, Fresh: true})
		for _, r := range readings {
			replayed, _, _ = replayed.Update(r)
		}

		if diff := cmp.Diff(replayed, stored); diff != "" {
			t.Fatalf("replayed (-) and stored (+) differ:\n%s", diff)
		}
	})
}

// drawReadings makes readings in order of distance: mostly sane depths, any gauge.
func drawReadings(t *rapid.T) []wear.Reading {
	n := rapid.IntRange(0, 30).Draw(t, "readings")
	out := make([]wear.Reading, n)

	x := 0.0
	for i := range out {
		x += float64(rapid.IntRange(0, 40000).Draw(t, "km"))
		out[i] = wear.Reading{
			XKM:          x,
			DepthMM:      float64(rapid.IntRange(0, 200).Draw(t, "tenths")) / 10,
			Gauge:        rapid.SampledFrom([]wear.Gauge{wear.Gauge32nd, wear.GaugeTenth}).Draw(t, "gauge"),
			Count:        rapid.IntRange(0, 9).Draw(t, "count"),
			DistanceSDKM: float64(rapid.IntRange(0, 3000).Draw(t, "doubt")),
		}
	}

	return out
}

func TestAddingAConstantToDistancesChangesNothing(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		shift := float64(rapid.IntRange(-100000, 1000000).Draw(t, "shift km"))
		readings := drawReadings(t)
		p := wear.DefaultPrior("tractor", "drive")
		a, _ := wear.Start(p, wear.Fitting{NewMM: 20, Fresh: true})

		b, _ := wear.Start(p, wear.Fitting{XKM: shift, NewMM: 20, Fresh: true})
		for _, r := range readings {
			a, _, _ = a.Update(r)
			r.XKM += shift
			b, _, _ = b.Update(r)
		}

		b.XKM, b.StartKM, b.FirstKM = b.XKM-shift, b.StartKM-shift, b.FirstKM-shift
		if a != b {
			t.Fatalf("differs:\n%+v\n%+v", a, b)
		}
	})
}

func TestScalingDepthsScalesTheRate(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(0.1, 1).Draw(t, "scale")
		a, _ := wear.Start(wear.FlatPrior(), wear.Fitting{})

		b, _ := wear.Start(wear.FlatPrior(), wear.Fitting{})
		for _, r := range drawReadings(t) {
			r.DistanceSDKM = 0
			a, _, _ = a.Update(r)
			r.DepthMM *= k
			r.Gauge.ResolutionMM *= k
			r.Gauge.ScatterMM *= k
			r.Gauge.OperatorMM *= k
			b, _, _ = b.Update(r)
		}

		if math.Abs(b.RateMM-k*a.RateMM) > 1e-9*(1+math.Abs(a.RateMM)) || math.Abs(b.DepthMM-k*a.DepthMM) > 1e-9 {
			t.Fatalf("rate %g, depth %g; want %g, %g", b.RateMM, b.DepthMM, k*a.RateMM, k*a.DepthMM)
		}
	})
}

// BenchmarkUpdate is one reading.
func BenchmarkUpdate(b *testing.B) {
	s := start(b)
	r := wear.Reading{DepthMM: 6, Gauge: wear.Gauge32nd}
	for b.Loop() {
		r.XKM++
		if r.XKM > 9e6 {
			r.XKM, s = 1, start(b)
		}
		s, _, _ = s.Update(r)
	}
}

// BenchmarkForecast is one forecast with distance and days.
func BenchmarkForecast(b *testing.B) {
	s := read(b, start(b), [2]float64{5000, 7.2}, [2]float64{10000, 6.6}, [2]float64{15000, 6.0})
	use := wear.StartUse(50)
	for b.Loop() {
		_, _ = s.Forecast(wear.Ahead{LimitMM: 1.6, NowKM: 15500, Use: use})
	}
}
