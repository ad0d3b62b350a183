package rest

import (
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// WheelCheck is what was measured of one assembly's bead seat and run-out.
type WheelCheck struct {
	Meta
	Position  wheelPosition `json:"position,omitempty"   doc:"Left out for a loose assembly."`
	TireID    string        `json:"tire_id,omitempty"    doc:"Of a loose assembly."                                 format:"uuid"`
	WheelID   string        `json:"wheel_id,omitempty"   doc:"Left out: the wheel in the record under the tire."    format:"uuid"`
	OnVehicle bool          `json:"on_vehicle,omitempty" doc:"Turned on the hub, which adds the hub's own run-out."`
	Measures  []TrueMeasure `json:"measures"                                                                                      nullable:"false" minItems:"1" maxItems:"15"`
}

// TrueMeasure is one thing that was measured.
type TrueMeasure struct {
	What    string     `json:"what"                  enum:"bead_gap,tire_radial,tire_lateral,wheel_radial,wheel_lateral" doc:"bead_gap: how much the distance between rim flange and the tire's bead line varies around the wheel. The others are run-out of the tire or of the rim, radial or lateral."`
	Place   string     `json:"place,omitempty"       enum:"outer,center,inner"`
	Value   Size       `json:"value"                                                                                     doc:"Highest less lowest in one turn."`
	ValueMM *float64   `json:"value_mm,omitempty"                                                                                                                                                                                                                                                        readOnly:"true"`
	HighDeg *float64   `json:"high_at_deg,omitempty"                                                                     doc:"Where it is highest, degrees clockwise from the valve seen from outside."                                                                                                                  minimum:"0" exclusiveMaximum:"360"`
	At      *time.Time `json:"at,omitempty"                                                                              doc:"When it was measured, of what stands on a wheel."                                                                                                                          readOnly:"true"`
}

func (w *WheelCheck) event(m models.Meta) *models.WheelCheck {
	return &models.WheelCheck{
		Meta:      m,
		Position:  models.Position(w.Position),
		TireID:    models.TireID(w.TireID),
		WheelID:   models.WheelID(w.WheelID),
		OnVehicle: w.OnVehicle,
		Measures:  list(w.Measures, TrueMeasure.model),
	}
}

func (w *WheelCheck) from(e *models.WheelCheck) {
	*w = WheelCheck{
		Position:  wheelPosition(e.Position),
		TireID:    string(e.TireID),
		WheelID:   string(e.WheelID),
		OnVehicle: e.OnVehicle,
		Measures:  items(e.Measures, measureOf),
	}
}

func (t TrueMeasure) model() models.TruenessMeasure {
	return models.TruenessMeasure{What: models.TruenessKind(t.What), Place: t.Place, Value: t.Value.s,
		High: maybe(t.HighDeg, func(d float64) units.Angle { return units.Angle(d) })}
}

func measureOf(m models.TruenessMeasure) TrueMeasure {
	mm := m.Value.Value.Millimetres()
	return TrueMeasure{What: string(m.What), Place: m.Place, Value: Size{m.Value}, ValueMM: &mm,
		HighDeg: maybe(m.High, func(a units.Angle) float64 { return float64(a) })}
}

// keptMeasure is a measure as it is kept on a wheel or tire, with its time.
func keptMeasure(v models.TruenessRecord) TrueMeasure {
	t := measureOf(v.TruenessMeasure)
	t.At = moment(v.At)
	return t
}
