package calc

import (
	"fmt"
	"slices"

	"rimledger/models"
	"rimledger/models/badinput"
	"rimledger/models/wear"
)

// wearCalculators lists the computations about how a tread wears.
func wearCalculators() []Calculator {
	return []Calculator{
		calculator("wear-forecast",
			"Wear rate and distance to a limit, with intervals, from depths read along the way.",
			forecastExample, forecast),

		calculator(
			"wear-line",
			"A second opinion on a forecast: straight lines by least squares and by medians through the readings "+
				"alone,"+
				" and whether they bend.",
			lineExample,
			wearLine,
		),
	}
}

// forecastInput is a fitment and its readings.
type forecastInput struct {
	Class      string // car, light_truck, rigid_truck, tractor, trailer, bus
	AxleRole   string // steer, drive, free
	NewMM      float64
	Fresh      bool // fitted new
	StartKM    float64
	Readings   []forecastReading
	NowKM      float64
	LimitMM    float64
	KMPerDay   float64 // 0: usual for the class
	Gauge32nds bool    // read on a 1/32 in gauge; else 0.1 mm
}

type forecastReading struct{ KM, DepthMM float64 }

var forecastExample = forecastInput{Class: "tractor", AxleRole: "steer", NewMM: 15.9, Fresh: true, StartKM: 100_000,
	NowKM: 180_000, LimitMM: 4.8, KMPerDay: 400,
	Readings: []forecastReading{{120_000, 14.6}, {140_000, 13.2}, {160_000, 12.1}, {175_000, 11.2}}}

func forecast(in forecastInput) (wear.Forecast, error) {
	if err := in.check(); err != nil {
		return wear.Forecast{}, err
	}

	prior := wear.DefaultPrior(in.Class, in.AxleRole)
	s, err := wear.Start(prior, wear.Fitting{XKM: in.StartKM, NewMM: in.NewMM, Fresh: in.Fresh})
	if err != nil {
		return wear.Forecast{}, err
	}

	gauge := wear.GaugeTenth
	if in.Gauge32nds {
		gauge = wear.Gauge32nd
	}

	for i, r := range in.Readings {
		if s, _, err = s.Update(wear.Reading{XKM: r.KM, DepthMM: r.DepthMM, Gauge: gauge}); err != nil {
			return wear.Forecast{}, badinput.At(fmt.Sprintf("reading %d", i+1), err)
		}
	}

	perDay := in.KMPerDay
	if perDay == 0 {
		perDay = wear.DefaultUse(in.Class)
	}

	return s.Forecast(wear.Ahead{LimitMM: in.LimitMM, NowKM: in.NowKM, Use: wear.StartUse(perDay)})
}

// check refuses what the estimator would silently replace: an unknown word by its
// default, a use beyond any vehicle's by the nearest bound.
func (in forecastInput) check() error {
	var f models.Faults
	if in.Class != "" && !slices.Contains(models.Classes, models.Class(in.Class)) {
		f.Add("class", in.Class, "must be one of %q, or empty for any", models.Classes)
	}
	roles := []models.AxleRole{models.RoleSteer, models.RoleDrive, models.RoleTrailer}
	if in.AxleRole != "" && !slices.Contains(roles, models.AxleRole(in.AxleRole)) {
		f.Add("axle_role", in.AxleRole, "must be one of %q, or empty for any", roles)
	}

	if in.KMPerDay != 0 && !(in.KMPerDay >= 0.1 && in.KMPerDay <= 5000) {
		f.Add("km_per_day", fmt.Sprint(in.KMPerDay), "must be 0.1 to 5000 km a day, or 0 for what is usual")
	}

	last := in.StartKM
	if n := len(in.Readings); n > 0 {
		last = in.Readings[n-1].KM
	}
	if in.NowKM < last {
		f.Add("now_km", fmt.Sprint(in.NowKM), "must not be before the last reading or the fitting, at %g km", last)
	}

	return f.Err("wear-forecast")
}
