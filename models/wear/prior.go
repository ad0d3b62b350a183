package wear

import (
	"math"

	"rimledger/models/badinput"
)

// Source says where a prior comes from.
type Source struct {
	Embedded bool   // from the embedded table, not from the fleet's fitments
	Level    string // the group it was learned from: embedded, fleet, class, role or design
	Fitments int    // fitments in that group
	Status   string // judged or learned
}

// Prior is what is expected of a fitment before it is measured. The zero Prior
// knows nothing: no rate, no drift, no break-in, no robustness; with it the
// estimator is ordinary least squares.
type Prior struct {
	RateMean    float64 // mm per 1000 km
	RateSD      float64 // mm per 1000 km; 0 means the rate is not known at all
	DriftSD     float64 // of the rate, mm per 1000 km, per square root of 1000 km
	NewDepthSD  float64 // how far a new tread is from its nominal depth, mm; 0: not used
	BreakInKM   float64 // distance over which new rubber wears faster
	BreakInMM   float64 // expected extra wear of it
	BreakInSDMM float64 // and its standard deviation
	OutlierZ    float64 // standard deviations from which readings count for less; 0: never
	Source      Source
}

// FlatPrior returns the prior that knows nothing.
func FlatPrior() Prior { return Prior{} }

// embeddedRate is a judged wear rate of the minimum groove.
type embeddedRate struct {
	class, role string
	rate        float64 // mm per 1000 km
	usableMM    float64 // tread a tire of this kind wears off in its life
}

// embeddedRates is a judged rate for each vehicle class and axle role: common
// practice, no source. Car: 6.4 mm in 50,000-70,000 km; line-haul steer
// 10 mm in 150,000 km, drive 16 mm in 230,000 km; town buses and rigid trucks
// wear about twice as fast. The first row is for unknown classes.
var embeddedRates = []embeddedRate{
	{"", "", 0.10, 8},
	{"car", "steer", 0.13, 6}, {"car", "drive", 0.12, 6}, {"car", "free", 0.09, 6},
	{"light_truck", "steer", 0.14, 7}, {"light_truck", "drive", 0.13, 7}, {"light_truck", "free", 0.10, 7},
	{"rigid_truck", "steer", 0.08, 10}, {"rigid_truck", "drive", 0.11, 14}, {"rigid_truck", "free", 0.08, 9},
	{"tractor", "steer", 0.065, 10}, {"tractor", "drive", 0.07, 16}, {"tractor", "free", 0.06, 9},
	{"trailer", "steer", 0.07, 9}, {"trailer", "free", 0.05, 9}, {"trailer", "drive", 0.07, 9},
	{"bus", "steer", 0.12, 10}, {"bus", "drive", 0.15, 12}, {"bus", "free", 0.11, 10},
}

// Judged shares, chosen by us. The best and the worst tenth of tires on one
// site differ twofold (Tire Sci. Technol. 1(2) 202, abstract), which is a
// coefficient of variation of 0.27; fleets differ among each other on top.
const (
	embeddedCV      = 0.45 // of the rate within a class and role, fleet not known
	driftPerLife    = 0.25 // of the rate, over one tire life
	newDepthSDMM    = 0.3  // of a new tread about its nominal depth
	breakInShare    = 0.03 // of the usable tread, lost on top while new
	breakInKM       = 3000 // 800 miles in treadwear grading, more until all ribs run in
	outlierZ        = 3.0
	breakInSDFactor = 0.75 // of the expected break-in wear
)

// DefaultPrior returns the embedded prior of a vehicle class (car, light_truck,
// rigid_truck, tractor, trailer, bus) and an axle role (steer, drive, free). An
// unknown pair gets a general prior with the same relative width. The values are
// judged, not measured; see embeddedRates.
func DefaultPrior(class, role string) Prior {
	row := embedded(class, role)
	return shaped(row, row.rate, embeddedCV*row.rate, Source{Embedded: true, Level: "embedded", Status: "judged"})
}

// SparePrior returns the prior of a tire that is carried and does not roll: no
// wear, whatever the vehicle covers.
func SparePrior() Prior {
	return Prior{
		RateSD:     1e-6,
		NewDepthSD: newDepthSDMM,
		OutlierZ:   outlierZ,
		Source:     Source{Embedded: true, Level: "embedded", Status: "judged"},
	}
}

// embedded returns the row of class and role, or the first one if there is none.
func embedded(class, role string) embeddedRate {
	for _, r := range embeddedRates {
		if r.class == class && r.role == role {
			return r
		}
	}
	return embeddedRates[0]
}

// shaped returns the prior with a rate and its standard deviation in mm per 1000 km;
// the judged shares give the rest.
func shaped(row embeddedRate, rate, sd float64, src Source) Prior {
	extra := breakInShare * row.usableMM
	return Prior{
		RateMean:    rate,
		RateSD:      sd,
		DriftSD:     driftPerLife * rate / math.Sqrt(row.usableMM/rate),
		NewDepthSD:  newDepthSDMM,
		BreakInKM:   breakInKM,
		BreakInMM:   extra,
		BreakInSDMM: breakInSDFactor * extra,
		OutlierZ:    outlierZ,
		Source:      src,
	}
}

// validate returns a badinput.Error if p cannot be used.
func (p Prior) validate() error {
	const (
		nonNegative = "a prior has finite values of 0 or more"
		tooSure     = "a standard deviation is 0 (not used) or at least a billionth"
	)

	for _, f := range []struct {
		name string
		v    float64
	}{
		{"prior.rate_mean", p.RateMean}, {"prior.rate_sd", p.RateSD}, {"prior.drift_sd", p.DriftSD},
		{"prior.new_depth_sd", p.NewDepthSD}, {"prior.break_in_km", p.BreakInKM},
		{"prior.break_in_mm", p.BreakInMM}, {"prior.break_in_sd", p.BreakInSDMM}, {"prior.outlier_z", p.OutlierZ},
	} {
		if err := badinput.Within(f.name, f.v, 0, 1e6, nonNegative); err != nil {
			return err
		}
	}

	if p.RateSD > 0 && p.RateSD < 1e-9 {
		return badinput.Number("prior.rate_sd", p.RateSD, ErrOutOfRange, "%s", tooSure)
	}
	if p.NewDepthSD > 0 && p.NewDepthSD < 1e-9 {
		return badinput.Number("prior.new_depth_sd", p.NewDepthSD, ErrOutOfRange, "%s", tooSure)
	}

	return nil
}
