package wear

import (
	"math"

	"rimledger/models/badinput"
)

// Treadwear is the projection of treadwear grading for one candidate tire.
type Treadwear struct {
	InterceptMils float64 // depth after break-in by the line, thousandths of an inch
	SlopeMils     float64 // per 1000 miles, negative while wearing
	R2            float64
	AdjustedMils  float64 // wear rate corrected for the course, mils per 1000 miles
	Miles         float64 // projected to 62 mils, break-in included
}

// The fixed numbers of the procedure.
const (
	treadwearReadings = 9      // after break-in, every 800 miles
	treadwearStep     = 800.0  // miles
	treadwearBreakIn  = 800.0  // miles
	treadwearLimit    = 62.0   // mils
	treadwearMaxMils  = 1100.0 // deeper than any tread
)

// ProjectTreadwear returns the projected mileage of a tire from its nine mean
// groove depths in mils, read after break-in and every 800 miles to 6400, and
// the course severity adjustment factor (base course wear rate over the mean
// wear rate of the monitoring tires; 1 for an unadjusted projection). It
// returns ErrNoSlope if the tread did not wear, and a badinput.Error for a bad
// depth or factor.
//
// 49 CFR 575.104(e)(2) from memory; the formulas give every published number that was
// found. For checking a wear line, not for grading a tire.
func ProjectTreadwear(mils [9]float64, severity float64) (Treadwear, error) {
	if err := badinput.Within("severity", severity, 0.01, 100, "a course severity factor is about 1"); err != nil {
		return Treadwear{}, err
	}

	x := make([]float64, treadwearReadings)
	for j, m := range mils {
		if err := badinput.Within("depth_mils", m, 0, treadwearMaxMils, "a depth is 0 to 1100 mils"); err != nil {
			return Treadwear{}, err
		}
		x[j] = treadwearStep * float64(j) / 1000
	}

	l, err := Fit(x, mils[:])
	if err != nil {
		return Treadwear{}, err
	}
	if l.Slope > -1e-6 {
		return Treadwear{}, ErrNoSlope
	}

	t := Treadwear{InterceptMils: l.Intercept, SlopeMils: l.Slope, R2: l.R2, AdjustedMils: -l.Slope * severity}
	t.Miles = 1000*(l.Intercept-treadwearLimit)/t.AdjustedMils + treadwearBreakIn

	return t, nil
}

// TreadwearGrade returns the percentage of the nominal 30,000 miles that a
// projected mileage comes to, and the grade: the percentage rounded down to a
// multiple of 20. baseRate is the base course wear rate in mils per 1000 miles:
// 1.34 gives the form before 24 July 2000. A mileage or rate that is negative
// or not finite gives 0.
func TreadwearGrade(miles, baseRate float64) (percent float64, grade int) {
	percent = miles * baseRate / 402
	if !finite(percent) || percent < 0 || percent > 1e6 {
		return 0, 0
	}
	return percent, int(math.Floor(percent/20)) * 20
}
