package calc

import (
	"errors"
	"fmt"

	"rimledger/models"
	"rimledger/models/badinput"
	"rimledger/models/wear"
)

// lineInput is depths along the way and the depth that is asked for.
type lineInput struct {
	Readings []forecastReading
	LimitMM  float64
	Level    float64 // of the intervals; 0: 0.9
}

// lineOutput is two straight lines through this tire's own depths alone: a second
// opinion on a forecast.
type lineOutput struct {
	LeastSquares wear.Line
	Medians      wear.MedianLine
	Linear       bool // enough readings, and R² of 0.95 or more
	Bent         bool // a curve fits clearly better than the line
	Reaches      *lineReaches
	Warning      string // why it should not be believed, or reaches nothing
}

// lineReaches is the distance at which the line is at the limit.
type lineReaches struct {
	KM float64
	In wear.Interval
}

var lineExample = lineInput{LimitMM: 4.8, Level: 0.9,
	Readings: []forecastReading{{120_000, 14.6}, {140_000, 13.2}, {160_000, 12.1}, {175_000, 11.2}}}

func wearLine(in lineInput) (lineOutput, error) {
	if in.Level == 0 {
		in.Level = 0.9
	}
	if err := in.check(); err != nil {
		return lineOutput{}, err
	}

	var km, depth []float64
	for _, r := range in.Readings {
		km, depth = append(km, r.KM), append(depth, r.DepthMM)
	}

	line, err := wear.Fit(km, depth)
	switch {
	case errors.Is(err, wear.ErrTooFew), errors.Is(err, wear.ErrNoSpread):
		return lineOutput{}, fmt.Errorf("readings: %w; three or more at different distances are needed", err)
	case err != nil:
		return lineOutput{}, badinput.At("readings", err)
	}

	medians, err := wear.TheilSen(km, depth, in.Level)
	if err != nil {
		return lineOutput{}, badinput.At("readings", err)
	}

	out := lineOutput{LeastSquares: line, Medians: medians, Linear: line.IsLinear(),
		Bent: line.CurvatureT > 3 || line.CurvatureT < -3}
	out.reach(in)

	return out, nil
}

// check refuses a value that cannot be a depth or a level.
func (in lineInput) check() error {
	var f models.Faults
	if !(in.Level >= 0.5 && in.Level < 1) {
		f.Add("level", fmt.Sprint(in.Level), "must be at least 0.5 and less than 1, such as 0.9")
	}
	if !(in.LimitMM >= 0 && in.LimitMM < 100) {
		f.Add("limit_mm", fmt.Sprint(in.LimitMM), "must be a depth from 0 to 100 mm")
	}

	for i, r := range in.Readings {
		if !(r.DepthMM >= 0 && r.DepthMM < 100) {
			name := fmt.Sprintf("readings[%d].depth_mm", i)
			f.Add(name, fmt.Sprint(r.DepthMM), "must be a depth from 0 to 100 mm")
		}
	}

	return f.Err("wear-line")
}

// reach names the distance at which the line is at the limit, or says why none can be
// believed.
func (out *lineOutput) reach(in lineInput) {
	at, interval, err := out.LeastSquares.Where(in.LimitMM, in.Level, false)
	switch {
	case err != nil:
		out.Warning = "the depths do not fall clearly: no distance can be named"
	case out.LeastSquares.Slope > 0:
		out.Warning = "the depths rise along the way: check the readings"
	default:
		out.Reaches = &lineReaches{at, interval}
		if out.Bent {
			out.Warning = "the readings bend: a straight line misleads, use wear-forecast"
		}
	}
}
