package calc

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// The published tread depths by mileage (Tamhane and Dunlop 2000, ch. 10, as
// remembered): the slope is -7.281 mils per 1000 miles, the fit at 25 is 178.62,
// R² 0.953, and the points bend. Depth and distance are as printed, since a line
// does not care for their units, but for the depth, which must be one in mm:
// mils are divided by ten.
func TestWearLine(t *testing.T) {
	t.Parallel()
	raw, err := os.ReadFile("../../testdata/worked/data/tread_groove_mileage.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(raw))
	r.Comment = '#'

	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}

	in := lineInput{LimitMM: 17.862, Level: 0.95}
	for _, row := range rows[1:] {
		x, errX := strconv.ParseFloat(row[0], 64)
		y, errY := strconv.ParseFloat(row[1], 64)
		if errX != nil || errY != nil {
			t.Fatal(errX, errY)
		}
		in.Readings = append(in.Readings, forecastReading{x, y / 10})
	}

	out, err := wearLine(in)
	if err != nil {
		t.Fatal(err)
	}
	if got := out.LeastSquares.Slope * 10; math.Abs(got+7.281) > 0.001 {
		t.Errorf("slope %.4f mils per 1000 miles, want -7.281", got)
	}
	if out.Reaches == nil || math.Abs(out.Reaches.KM-25) > 0.01 {
		t.Errorf("the depth at 25 is reached at %+v", out.Reaches)
	}

	if !out.Linear || !out.Bent || !strings.Contains(out.Warning, "bend") {
		t.Errorf("linear %v, bent %v, warning %q", out.Linear, out.Bent, out.Warning)
	}
}

// Sen's medians leave one wrong reading alone (worked by hand: four of the five
// readings fall 1 mm per 10,000 km; of the ten slopes between pairs six are
// -0.0001, and so is their median).
func TestWearLineMedians(t *testing.T) {
	t.Parallel()

	out, err := wearLine(
		lineInput{
			LimitMM:  3,
			Readings: []forecastReading{{0, 15}, {10_000, 14}, {20_000, 6}, {30_000, 12}, {40_000, 11}},
		},
	)
	if err != nil {
		t.Fatal(err)
	}

	if math.Abs(out.Medians.Slope+0.0001) > 1e-12 {
		t.Errorf("median slope %g per km, want -0.0001", out.Medians.Slope)
	}
}

func TestWearLineRefuses(t *testing.T) {
	t.Parallel()

	readings := func(some ...forecastReading) []forecastReading { return some }
	for _, c := range []struct {
		name string
		in   lineInput
		want string
	}{
		{"two readings", lineInput{Readings: readings(forecastReading{0, 9}, forecastReading{9, 8})}, "three or more"},
		{"one place", lineInput{Readings: readings(forecastReading{9, 9}, forecastReading{9, 8}, forecastReading{9, 7})},
			"one place"},
		{"a negative depth", lineInput{Readings: readings(forecastReading{0, -1}, forecastReading{9, 8}, forecastReading{19, 7})},
			`readings[0].depth_mm "-1"`},
		{"a level of one", lineInput{Level: 1}, `level "1"`},
		{"a limit below zero", lineInput{LimitMM: -1}, `limit_mm "-1"`},
	} {
		if _, err := wearLine(c.in); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}

	flat, err := wearLine(
		lineInput{Readings: readings(forecastReading{0, 9}, forecastReading{9, 8.9}, forecastReading{19, 9.1})},
	)
	if err != nil || flat.Reaches != nil || flat.Warning == "" {
		b, _ := json.Marshal(flat)
		t.Errorf("depths that do not fall: %s, %v", b, err)
	}
}
