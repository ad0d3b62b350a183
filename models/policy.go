package models

import (
	"reflect"
	"strconv"
	"strings"

	"rimledger/models/units"
)

// Policy is what a fleet wants for one class of vehicle: intervals and pull
// points. A zero interval or limit is off. Defaults are common practice, each
// a setting; see DefaultPolicy.
type Policy struct {
	InspectDays    int     // longest time between tread readings
	PressureDays   int     // longest time between pressure readings
	RebalanceKM    float64 // distance between balances
	RebalanceDays  int     // time between balances
	RotateKM       float64
	RotateDays     int
	AlignKM        float64
	AlignDays      int
	RetorqueKM     float64      // distance after wheels were off by which nuts are checked
	RetorqueDays   int          // the same by time, where no odometer is known
	PullSteer      units.Length // pull points: the tire is taken off at this depth
	PullDrive      units.Length
	PullFree       units.Length
	WatchAbove     units.Length   // watch from this much above the pull point
	ForecastDays   int            // plan tires that will reach the pull point within this
	LowPercent     int            // pressure below this share of the target is low
	RunFlatPercent int            // at or below this share the tire counts as run flat
	DualPressure   units.Pressure // largest pressure difference in a dual pair
	DualDepth      units.Length   // largest depth difference in a dual pair
	DualDiameter   units.Length   // largest diameter difference in a dual pair
	AxleDepth      units.Length   // largest depth difference across an axle
	AgeWatchYears  int
	AgeLimitYears  int
	DueDays        int // how far ahead work is shown as due
}

// PolicyPatch changes some fields of a Policy; nil leaves a field alone. Its
// fields are those of Policy.
type PolicyPatch struct {
	InspectDays    *int
	PressureDays   *int
	RebalanceKM    *float64
	RebalanceDays  *int
	RotateKM       *float64
	RotateDays     *int
	AlignKM        *float64
	AlignDays      *int
	RetorqueKM     *float64
	RetorqueDays   *int
	PullSteer      *units.Length
	PullDrive      *units.Length
	PullFree       *units.Length
	WatchAbove     *units.Length
	ForecastDays   *int
	LowPercent     *int
	RunFlatPercent *int
	DualPressure   *units.Pressure
	DualDepth      *units.Length
	DualDiameter   *units.Length
	AxleDepth      *units.Length
	AgeWatchYears  *int
	AgeLimitYears  *int
	DueDays        *int
}

// With returns p changed by patch.
func (p Policy) With(patch PolicyPatch) Policy {
	from, to := reflect.ValueOf(patch), reflect.ValueOf(&p).Elem()
	for i := range from.NumField() {
		if f := from.Field(i); !f.IsNil() {
			to.FieldByName(from.Type().Field(i).Name).Set(f.Elem())
		}
	}
	return p
}

// Pull returns the pull point for an axle of role r.
func (p Policy) Pull(r AxleRole) units.Length {
	switch r {
	case RoleSteer:
		return p.PullSteer
	case RoleDrive:
		return p.PullDrive
	default:
		return p.PullFree
	}
}

// DefaultPolicy returns the defaults for class c in a depot whose units are u: distances
// are round in its own unit. Sources are kept beside each group: F found in a published
// text, M common practice from memory, P chosen by us; DEVELOPERS.md says where.
func DefaultPolicy(c Class, u units.Set) Policy {
	// far returns the distance in km: so many km, or so many miles where these are driven.
	far := func(km float64, miles int) float64 {
		if u.Distance == units.Mi {
			return (units.Distance(miles) * units.Mile).Kilometres()
		}
		return km
	}

	p := Policy{
		RetorqueKM:     far(160, 100), // 80-160 km, 50-100 mi (F: industry re-torque practice)
		RetorqueDays:   3,             // P
		LowPercent:     90,            // P
		RunFlatPercent: 80,            // F: 29 CFR 1910.177

		// F: trade rule for radial duals
		DualPressure: 5 * units.PSI,
		DualDepth:    4 * units.ThirtySecond,
		DualDiameter: units.Inch / 4,

		AxleDepth: 4 * units.ThirtySecond, // P

		// M: makers' advice; law where one exists is a legal rule
		AgeWatchYears: 6,
		AgeLimitYears: 10,

		WatchAbove:   2 * units.ThirtySecond, // P
		ForecastDays: 30,                     // P
		DueDays:      14,                     // P
	}

	switch {
	case c.Heavy():
		p.InspectDays, p.PressureDays = 30, 7              // F: monthly tread, weekly pressure on trucks
		p.RebalanceKM = far(80_000, 50_000)                // M
		p.RotateKM = far(120_000, 75_000)                  // F: one line-haul shop
		p.AlignKM, p.AlignDays = far(120_000, 75_000), 365 // F yearly; km M
		p.PullSteer = 6 * units.ThirtySecond               // F: a transit agency
		p.PullDrive, p.PullFree = 4*units.ThirtySecond, 4*units.ThirtySecond
	case c == LightTruck:
		p.InspectDays, p.PressureDays = 90, 30            // F/M
		p.RebalanceKM = far(16_000, 10_000)               // M
		p.RotateKM = far(10_000, 6_000)                   // F: 8 000 to 13 000 km
		p.AlignKM, p.AlignDays = far(30_000, 20_000), 365 // M
		// F: wet grip
		p.PullSteer, p.PullDrive, p.PullFree = 4*units.ThirtySecond, 4*units.ThirtySecond, 4*units.ThirtySecond
	default:
		p.InspectDays, p.PressureDays = 90, 30
		p.RebalanceKM = far(20_000, 12_000)
		p.RotateKM = far(10_000, 6_000)
		p.AlignKM, p.AlignDays = far(30_000, 20_000), 365
		p.PullSteer, p.PullDrive, p.PullFree = 4*units.ThirtySecond, 4*units.ThirtySecond, 4*units.ThirtySecond
	}

	return p
}

// Check adds a fault for every value of the patch that is out of range: at most
// ten years, a million kilometres, the deepest tread, 100 percent.
func (p PolicyPatch) Check(f *Faults) {
	v := reflect.ValueOf(p)
	for i := range v.NumField() {
		field, name := v.Field(i), v.Type().Field(i).Name
		if field.IsNil() {
			continue
		}

		switch n := field.Elem().Interface().(type) {
		case int:
			checkCount(f, name, n)
		case float64:
			if !(n >= 0 && n <= 1_000_000) {
				f.Add(name, strconv.FormatFloat(n, 'g', -1, 64), "must be 0 (off) to 1000000")
			}
		case units.Length:
			if n < 0 || n > units.MaxDepth {
				f.Add(name, units.FormatLength(n, units.MM), "must be 0 to 26 mm")
			}
		case units.Pressure:
			if !(n >= 0 && n <= units.MaxPressure) {
				f.Add(name, units.FormatPressure(n, units.KPa), "must be 0 to 2000 kPa")
			}
		}
	}
}

// checkCount adds a fault for a number of days, years or percent out of range.
func checkCount(f *Faults, name string, n int) {
	most := 3650
	if strings.HasSuffix(name, "Percent") || strings.HasSuffix(name, "Years") {
		most = 100
	}
	if n < 0 || n > most {
		f.Add(name, strconv.Itoa(n), "must be 0 (off) to %d", most)
	}
}
