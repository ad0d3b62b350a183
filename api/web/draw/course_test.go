package draw

import (
	"strings"
	"testing"

	"rimledger/models/units"
	"rimledger/models/vibration"
)

// The bands of a shake stand at their speeds, as high as they are strong, and the orders
// below them where they meet wheel hop: by v = f C / n a car wheel of 1750 mm at 10 to 15
// Hz is met at 63 to 94.5 km/h by one push a turn, at 31.5 to 47.25 by two.
func TestCourse(t *testing.T) {
	t.Parallel()

	r, err := vibration.Read(vibration.Report{Class: vibration.Car, CircumferenceMM: 1750, Bands: []vibration.SpeedBand{
		{FromKMH: 45, ToKMH: 62, Strength: "light"}, {FromKMH: 85, WorstKMH: 88, ToKMH: 90, Strength: "strong"},
		{FromKMH: 100}}})
	if err != nil {
		t.Fatal(err)
	}
	c := NewCourse(&r, units.Style{Set: units.Metric})

	// The axis is straight: speeds between its first and last mark lie in proportion.
	first, last := c.Speeds[0], c.Speeds[len(c.Speeds)-1]
	if first.Label != "0" || last.Label != "100" || c.Unit != "km/h" {
		t.Fatalf("the axis goes from %s to %s %s", first.Label, last.Label, c.Unit)
	}
	x := func(kmh float64) float64 { return round1(first.At + kmh/100*(last.At-first.At)) }

	for i, want := range [][2]float64{{63, 94.5}, {31.5, 47.25}} {
		h := c.Hops[i]
		if h.X != x(want[0]) || h.X+h.Width-x(want[1]) > 0.11 || x(want[1])-h.X-h.Width > 0.11 {
			t.Errorf("order %d is drawn from %g over %g, want %g to %g", i+1, h.X, h.Width, x(want[0]), x(want[1]))
		}
	}

	light, strong := c.Bands[0], c.Bands[1]
	if light.Worst != nil || !light.Known || strings.Count(light.Points, ",") != 4 {
		t.Errorf("a band that is worst nowhere has a flat top: %+v", light)
	}
	if top := c.Levels[2]; strong.Worst == nil || *strong.Worst != (dot{x(88), top.At}) || top.Label != "strong" {
		t.Errorf("the strong band peaks at %+v, want 88 km/h on %+v", strong.Worst, c.Levels)
	}
	if c.Bands[2].Known {
		t.Error("a strength that was not given is drawn as known")
	}

	if got := c.Rows[0]; got.Strength != "light" || got.Meets != "two pushes a turn" {
		t.Errorf("row %+v", got)
	}
	if got := c.Rows[2]; got.Strength != "not known" || got.Meets != "no" {
		t.Errorf("row %+v", got)
	}
	if !strings.Contains(c.Alt, "starts 45 km/h, fades 62 km/h, strength light") {
		t.Errorf("read aloud as %q", c.Alt)
	}

	if c := NewCourse(&vibration.Reading{}, units.Style{}); c != nil {
		t.Error("a course without a speed is drawn")
	}
}
