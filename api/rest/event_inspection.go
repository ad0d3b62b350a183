package rest

import (
	"github.com/danielgtaylor/huma/v2"

	"rimledger/models"
	"rimledger/models/units"
)

// Inspection is one visit to a vehicle.
type Inspection struct {
	Meta
	Gauge    *Gauge        `json:"gauge,omitempty"`
	Readings []Reading     `json:"readings"          required:"false" nullable:"false" maxItems:"64" doc:"One for each place that was looked at."`
	Vehicle  []Observation `json:"vehicle,omitempty"                  nullable:"false" maxItems:"64" doc:"What was found on the vehicle as a whole."`
}

// Gauge is the depth gauge that was used.
type Gauge struct {
	Name       string  `json:"name,omitempty"       maxLength:"80" doc:"The gauge's own number."`
	Resolution *Length `json:"resolution,omitempty"                doc:"Smallest step of the gauge."`
}

// Reading is what was found at one place.
type Reading struct {
	Position     wheelPosition  `json:"position"`
	TireID       string         `json:"tire_id,omitempty"      format:"uuid" doc:"Left out: the tire that was there then."`
	Depths       [][]gridDepth  `json:"depths,omitempty"                     doc:"Grooves from the outboard to the inboard shoulder, each with its stations: the first at the valve, then clockwise seen from outside. null where it could not be read." nullable:"false" maxItems:"8"`
	DepthsMM     [][]*float64   `json:"depths_mm,omitempty"                  doc:"The same as numbers, mm."                                                                                                                                              nullable:"false"               readOnly:"true"`
	Stations     []stationPlace `json:"stations,omitempty" doc:"Where around the tire each station lies, clockwise from the valve; three or more. Left out: evenly spaced, the first at the valve. Unequal places tell numbers of dips apart that equal ones cannot: 0, 20, 80, 100, 200, 290, 320 and 330 degrees." nullable:"false" maxItems:"36"`
	StationsDeg  []float64      `json:"stations_deg,omitempty" doc:"The same as angles, degrees." nullable:"false" readOnly:"true"`
	TreadAround  *Length        `json:"tread_around,omitempty" doc:"Tape once around the tread, where stations are lengths by tape."`
	Pressure     *Pressure      `json:"pressure,omitempty"`
	PressureKPa  *float64       `json:"pressure_kpa,omitempty"                                                                                                                                                                                                                          readOnly:"true"`
	Hot          bool           `json:"hot,omitempty"                        doc:"Pressure taken on a warm tire."`
	NotReached   bool           `json:"not_reached,omitempty"                doc:"The valve could not be reached."`
	Observations []Observation  `json:"observations,omitempty"                                                                                                                                                                                           nullable:"false" maxItems:"64"`
	Photos       []string       `json:"photos,omitempty"                     doc:"Ids of photos of this vehicle, sent before."                                                                                                                           nullable:"false" maxItems:"4"`
}

// Observation is what hand or eye found.
type Observation struct {
	Code      ObservationCode `json:"code"`
	Count     int             `json:"count,omitempty"     minimum:"0" maximum:"1000" doc:"Cups or spots around the tire; 0: not counted."`
	Spacing   *Length         `json:"spacing,omitempty"                              doc:"Between cups."`
	Size      *Length         `json:"size,omitempty"                                 doc:"Of a cut or bulge."`
	Direction string          `json:"direction,omitempty"                            doc:"Of feather edges."                                          enum:"inward,outward"`
	Place     string          `json:"place,omitempty"                                                                                                 enum:"outer_shoulder,outer,center,inner,inner_shoulder,sidewall_outer,sidewall_inner"`
	Axle      int             `json:"axle,omitempty"      minimum:"0" maximum:"15"   doc:"On the vehicle as a whole: axle from the front, 0 for all."`
	Note      string          `json:"note,omitempty"                                                                                                                                                                                        maxLength:"2000"`
}

func (i *Inspection) event(m models.Meta) *models.Inspection {
	e := &models.Inspection{Meta: m, Vehicle: list(i.Vehicle, Observation.model)}
	if i.Gauge != nil {
		e.Gauge = models.Gauge{Name: i.Gauge.Name, Resolution: i.Gauge.Resolution.value()}
	}
	e.Readings = list(i.Readings, Reading.model)
	return e
}

func (i *Inspection) from(e *models.Inspection) {
	if e.Gauge != (models.Gauge{}) {
		i.Gauge = &Gauge{e.Gauge.Name, lengthOf(e.Gauge.Resolution)}
	}
	i.Readings, i.Vehicle = items(e.Readings, readingOf), list(e.Vehicle, observationOf)
}

// Resolve refuses what is only read where what is written is missing: an answer that is
// sent back with one of them taken out.
func (r *Reading) Resolve(_ huma.Context, pb *huma.PathBuffer) []error {
	var errs []error
	fault := func(given, wanted string) {
		errs = append(errs, &huma.ErrorDetail{Location: pb.With(given), Message: "is only read; write " + wanted})
	}
	if len(r.DepthsMM) > 0 && len(r.Depths) == 0 {
		fault("depths_mm", "depths")
	}
	if r.PressureKPa != nil && r.Pressure == nil {
		fault("pressure_kpa", "pressure")
	}
	if len(r.StationsDeg) > 0 && len(r.Stations) == 0 {
		fault("stations_deg", "stations")
	}
	return errs
}

func (r Reading) model() models.Reading {
	m := models.Reading{
		Position:     models.Position(r.Position),
		TireID:       models.TireID(r.TireID),
		Hot:          r.Hot,
		NotReached:   r.NotReached,
		Observations: list(r.Observations, Observation.model),
		Photos:       list(r.Photos, func(id string) models.PhotoID { return models.PhotoID(id) }),
	}

	m.Stations = list(r.Stations, func(s stationPlace) models.Station { return s.s })
	m.Around = r.TreadAround.value()

	for _, groove := range r.Depths {
		m.Depths = append(m.Depths, list(groove, func(c gridDepth) *models.Depth { return c.d }))
	}

	if r.Pressure != nil {
		m.Pressure = &r.Pressure.p
	}
	return m
}

func readingOf(m models.Reading) Reading {
	r := Reading{Position: wheelPosition(m.Position), TireID: string(m.TireID), Hot: m.Hot, NotReached: m.NotReached,
		Observations: list(m.Observations, observationOf), Photos: list(m.Photos, text[models.PhotoID])}
	for _, groove := range m.Depths {
		r.Depths = append(r.Depths, list(groove, func(d *models.Depth) gridDepth { return gridDepth{d} }))
		r.DepthsMM = append(r.DepthsMM, list(groove, millimetres))
	}
	r.Stations = list(m.Stations, func(s models.Station) stationPlace { return stationPlace{s} })
	r.StationsDeg = list(m.Stations, func(s models.Station) float64 { return s.Deg })
	r.TreadAround = lengthOf(m.Around)

	if m.Pressure != nil {
		kpa := float64(m.Pressure.Value)
		r.Pressure, r.PressureKPa = &Pressure{*m.Pressure}, &kpa
	}
	return r
}

func millimetres(d *models.Depth) *float64 {
	if d == nil {
		return nil
	}
	mm := d.Value.Millimetres()
	return &mm
}

func (o Observation) model() models.Observation {
	return models.Observation{
		Code:      models.ObservationCode(o.Code),
		Count:     o.Count,
		Spacing:   o.Spacing.value(),
		Size:      o.Size.value(),
		Direction: o.Direction,
		Place:     o.Place,
		Axle:      o.Axle,
		Note:      o.Note,
	}
}

func observationOf(m models.Observation) Observation {
	return Observation{
		ObservationCode(m.Code),
		m.Count,
		lengthOf(m.Spacing),
		lengthOf(m.Size),
		m.Direction,
		m.Place,
		m.Axle,
		m.Note,
	}
}

// value returns the length, zero if it was left out.
func (l *Length) value() units.Length {
	if l == nil {
		return 0
	}
	return l.l
}

// lengthOf returns a length, nil for zero, which is "not measured".
func lengthOf(l units.Length) *Length {
	if l == 0 {
		return nil
	}
	return &Length{l: l}
}
