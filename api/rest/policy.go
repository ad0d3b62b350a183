package rest

import (
	"reflect"

	"rimledger/models"
	"rimledger/models/units"
)

// PolicyPatch changes some fields of a policy; a field left out is not changed.
// An interval or limit of 0 is off. Its fields are named as in the domain.
type PolicyPatch struct {
	InspectDays    *int      `json:"inspect_days,omitempty"     doc:"Longest time between tread readings."`
	PressureDays   *int      `json:"pressure_days,omitempty"    doc:"Longest time between pressure readings."`
	RebalanceKM    *float64  `json:"rebalance_km,omitempty"`
	RebalanceDays  *int      `json:"rebalance_days,omitempty"`
	RotateKM       *float64  `json:"rotate_km,omitempty"`
	RotateDays     *int      `json:"rotate_days,omitempty"`
	AlignKM        *float64  `json:"align_km,omitempty"`
	AlignDays      *int      `json:"align_days,omitempty"`
	RetorqueKM     *float64  `json:"retorque_km,omitempty"      doc:"After wheels were off, check nut torque within this distance."`
	RetorqueDays   *int      `json:"retorque_days,omitempty"`
	PullSteer      *Length   `json:"pull_steer,omitempty"       doc:"Depth at which a tire is taken off a steered axle."`
	PullDrive      *Length   `json:"pull_drive,omitempty"       doc:"The same on a driven axle."`
	PullFree       *Length   `json:"pull_free,omitempty"        doc:"The same on a free-rolling axle."`
	WatchAbove     *Length   `json:"watch_above,omitempty"      doc:"Watch from this much above the pull point."`
	ForecastDays   *int      `json:"forecast_days,omitempty"    doc:"Plan tires that will reach the pull point within this."`
	LowPercent     *int      `json:"low_percent,omitempty"      doc:"Pressure below this share of the target is low."`
	RunFlatPercent *int      `json:"run_flat_percent,omitempty" doc:"At or below this share the tire counts as run flat."`
	DualPressure   *Pressure `json:"dual_pressure,omitempty"    doc:"Largest pressure difference in a dual pair."`
	DualDepth      *Length   `json:"dual_depth,omitempty"       doc:"Largest depth difference in a dual pair."`
	DualDiameter   *Length   `json:"dual_diameter,omitempty"    doc:"Largest diameter difference in a dual pair."`
	AxleDepth      *Length   `json:"axle_depth,omitempty"       doc:"Largest depth difference across an axle."`
	AgeWatchYears  *int      `json:"age_watch_years,omitempty"`
	AgeLimitYears  *int      `json:"age_limit_years,omitempty"`
	DueDays        *int      `json:"due_days,omitempty"         doc:"How far ahead work is shown as due."`
}

func (p PolicyPatch) model() models.PolicyPatch {
	var m models.PolicyPatch

	from, to := reflect.ValueOf(p), reflect.ValueOf(&m).Elem()
	for i := range from.NumField() {
		field := to.FieldByName(from.Type().Field(i).Name)
		switch v := from.Field(i).Interface().(type) {
		case *int, *float64:
			field.Set(reflect.ValueOf(v))
		case *Length:
			if v != nil {
				field.Set(reflect.ValueOf(&v.l))
			}
		case *Pressure:
			if v != nil {
				field.Set(reflect.ValueOf(&v.p.Value))
			}
		}
	}

	return m
}

// policyOf writes a policy or a patch: both have the same fields.
func policyOf[P models.Policy | models.PolicyPatch](m P) PolicyPatch {
	var p PolicyPatch

	from, to := reflect.ValueOf(m), reflect.ValueOf(&p).Elem()
	for i := range from.NumField() {
		v, field := from.Field(i), to.FieldByName(from.Type().Field(i).Name)
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				continue
			}
			v = v.Elem()
		}

		switch n := v.Interface().(type) {
		case int:
			field.Set(reflect.ValueOf(&n))
		case float64:
			field.Set(reflect.ValueOf(&n))
		case units.Length:
			field.Set(reflect.ValueOf(&Length{l: n}))
		case units.Pressure:
			field.Set(reflect.ValueOf(&Pressure{models.Pressure{Value: n, Text: exactPressure(n)}}))
		}
	}

	return p
}
