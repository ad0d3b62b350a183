package main

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

// The command line takes a course of several bands and reads each against the orders of
// the wheel. Hop of a car wheel of 1750 mm at 10 to 15 Hz by v = f C / n: two pushes a
// turn at 31.5 to 47.25 km/h, one at 63 to 94.5.
func TestCalcShake(t *testing.T) {
	t.Parallel()
	s := newShell(t)

	out := s.ok(`{"class":"car","circumference_mm":1750,"places":["steering_wheel","dash"],"bands":[
		{"from_kmh":85,"to_kmh":90,"strength":"strong"},{"from_kmh":45,"to_kmh":62,"strength":"light"}]}`,
		"calc", "vibration-report")

	var got struct {
		End   string
		Bands []struct {
			FromKMH  float64 `json:"from_kmh"`
			HopByOne bool    `json:"hop_by_one"`
			HopByTwo bool    `json:"hop_by_two"`
		}
		HopOrder1 struct{ Lo, Hi float64 } `json:"hop_order1"`
		HopOrder2 struct{ Lo, Hi float64 } `json:"hop_order2"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}

	if len(got.Bands) != 2 || got.Bands[0].FromKMH != 45 || !got.Bands[0].HopByTwo || got.Bands[0].HopByOne ||
		!got.Bands[1].HopByOne || got.Bands[1].HopByTwo || got.End != "front" {
		t.Errorf("read as %+v", got)
	}
	for want, v := range map[float64]float64{63: got.HopOrder1.Lo, 94.5: got.HopOrder1.Hi, 31.5: got.HopOrder2.Lo,
		47.25: got.HopOrder2.Hi} {
		if math.Abs(v-want) > 1e-9 {
			t.Errorf("hop at %g km/h, want %g", v, want)
		}
	}

	for _, c := range []struct{ in, want string }{
		{`{"class":"car","bands":[{"from_kmh":45,"to_kmh":62},{"from_kmh":61}]}`, "speeds in the wrong order"},
		{`{"class":"car","bands":[{"from_kmh":45,"worst_kmh":40}]}`, "band 1 worst km/h"},
		{`{"class":"car","worst_kmh":90,"bands":[{"from_kmh":45}]}`, "not both"},
		{`{"class":"car","felt_at":"seat","places":["dash"]}`, "not both"},
		{`{"class":"car","places":["dash","dash"]}`, "each place once"},
	} {
		if out, err := s.run(c.in, "calc", "vibration-report"); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %q, %v; want %q", c.in, out, err, c.want)
		}
	}
}
