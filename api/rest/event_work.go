package rest

import (
	"slices"

	"rimledger/models"
	"rimledger/models/units"
)

// OdometerReading is an odometer reading by itself.
type OdometerReading struct{ Meta }

func (*OdometerReading) event(m models.Meta) *models.OdometerEntry {
	return &models.OdometerEntry{Meta: m}
}
func (*OdometerReading) from(*models.OdometerEntry) {}

// Fit puts tires on empty places of a vehicle.
type Fit struct {
	Meta
	Existing bool      `json:"existing,omitempty"  doc:"The tires were found already on the vehicle: nothing was done now."`
	Fittings []Fitting `json:"fittings"                                                                                     nullable:"false" minItems:"1" maxItems:"64"`
	TorqueNM float64   `json:"torque_nm,omitempty" doc:"Nut torque, N m; 0: not known."                                                                                 minimum:"0" maximum:"2000"`
}

// Fitting is one tire on one place.
type Fitting struct {
	TireID   string        `json:"tire_id"            format:"uuid"`
	WheelID  string        `json:"wheel_id,omitempty" format:"uuid"`
	Position wheelPosition `json:"position"`
}

func (f *Fit) event(m models.Meta) *models.Fit {
	return &models.Fit{
		Meta:     m,
		Existing: f.Existing,
		TorqueNM: f.TorqueNM,
		Fittings: list(f.Fittings, func(t Fitting) models.Fitting {
			return models.Fitting{
				TireID:   models.TireID(t.TireID),
				WheelID:  models.WheelID(t.WheelID),
				Position: models.Position(t.Position),
			}
		}),
	}
}

func (f *Fit) from(e *models.Fit) {
	f.Existing, f.TorqueNM = e.Existing, e.TorqueNM
	f.Fittings = items(e.Fittings, func(t models.Fitting) Fitting {
		return Fitting{string(t.TireID), string(t.WheelID), wheelPosition(t.Position)}
	})
}

// Removal takes tires off a vehicle.
type Removal struct {
	Meta
	Removed []Removed `json:"removed" nullable:"false" minItems:"1" maxItems:"64"`
}

// Removed is one tire taken off.
type Removed struct {
	Position   wheelPosition `json:"position"`
	TireID     string        `json:"tire_id,omitempty"      format:"uuid" doc:"Left out: the tire that was there then."`
	Reason     RemovalReason `json:"reason"`
	To         string        `json:"to"                                   doc:"Where it goes."                          enum:"stock,at_retreader,scrapped"`
	MinDepth   *Depth        `json:"min_depth,omitempty"                  doc:"Shallowest depth as it came off."`
	MinDepthMM *float64      `json:"min_depth_mm,omitempty"                                                                                                readOnly:"true"`
	OuterOut   bool          `json:"outer_out,omitempty"                  doc:"The branded sidewall faced out."`
}

func (r *Removal) event(m models.Meta) *models.Removal {
	return &models.Removal{Meta: m, Removed: list(r.Removed, func(t Removed) models.Removed {
		out := models.Removed{Position: models.Position(t.Position), TireID: models.TireID(t.TireID),
			Reason: models.RemovalReason(t.Reason), To: models.TireStatus(t.To), OuterOut: t.OuterOut}
		if t.MinDepth != nil {
			out.MinDepth = &t.MinDepth.d
		}
		return out
	})}
}

func (r *Removal) from(e *models.Removal) { r.Removed = items(e.Removed, removedOf) }

func removedOf(t models.Removed) Removed {
	out := Removed{
		Position:   wheelPosition(t.Position),
		TireID:     string(t.TireID),
		Reason:     RemovalReason(t.Reason),
		To:         string(t.To),
		MinDepthMM: millimetres(t.MinDepth),
		OuterOut:   t.OuterOut,
	}
	if t.MinDepth != nil {
		out.MinDepth = &Depth{*t.MinDepth}
	}
	return out
}

// Rotation moves tires between places of one vehicle.
type Rotation struct {
	Meta
	Moves    []Move  `json:"moves"               nullable:"false" minItems:"1" maxItems:"64"`
	TorqueNM float64 `json:"torque_nm,omitempty"                                             minimum:"0" maximum:"2000" doc:"Nut torque, N m; 0: not known."`
}

// Move is one tire going from one place to another.
type Move struct {
	From   wheelPosition `json:"from"`
	To     wheelPosition `json:"to"`
	TireID string        `json:"tire_id,omitempty" format:"uuid" doc:"Left out: the tire that was there then."`
}

func (r *Rotation) event(m models.Meta) *models.Rotation {
	return &models.Rotation{Meta: m, TorqueNM: r.TorqueNM, Moves: list(r.Moves, func(v Move) models.Move {
		return models.Move{From: models.Position(v.From), To: models.Position(v.To), TireID: models.TireID(v.TireID)}
	})}
}

func (r *Rotation) from(e *models.Rotation) {
	r.TorqueNM = e.TorqueNM
	r.Moves = items(
		e.Moves,
		func(v models.Move) Move { return Move{wheelPosition(v.From), wheelPosition(v.To), string(v.TireID)} },
	)
}

// Repair is a repair to one tire.
type Repair struct {
	Meta
	Position  wheelPosition `json:"position,omitempty"`
	TireID    string        `json:"tire_id,omitempty"    format:"uuid" doc:"Of a tire off any vehicle."`
	What      string        `json:"what"                                                                                             minLength:"1" maxLength:"200"`
	Demounted bool          `json:"demounted,omitempty"                doc:"The tire came off its wheel: it must be balanced again."`
	CostCents int64         `json:"cost_cents,omitempty"                                                                                                           minimum:"0"`
}

func (r *Repair) event(m models.Meta) *models.Repair {
	return &models.Repair{
		Meta:      m,
		Position:  models.Position(r.Position),
		TireID:    models.TireID(r.TireID),
		What:      r.What,
		Demounted: r.Demounted,
		CostCents: r.CostCents,
	}
}

func (r *Repair) from(e *models.Repair) {
	*r = Repair{
		Position:  wheelPosition(e.Position),
		TireID:    string(e.TireID),
		What:      e.What,
		Demounted: e.Demounted,
		CostCents: e.CostCents,
	}
}

// Alignment is wheel alignment of some axles.
type Alignment struct {
	Meta
	Axles []int  `json:"axles,omitempty" nullable:"false" maxItems:"12" doc:"Counted from the front; left out: all."`
	Found string `json:"found,omitempty"                                                                             maxLength:"2000"`
	Set   string `json:"set,omitempty"                                                                               maxLength:"2000"`
}

func (a *Alignment) event(m models.Meta) *models.Alignment {
	return &models.Alignment{Meta: m, Axles: a.Axles, Found: a.Found, Set: a.Set}
}
func (a *Alignment) from(e *models.Alignment) { a.Axles, a.Found, a.Set = e.Axles, e.Found, e.Set }

// Retorque is the check of nut torque after wheels were off.
type Retorque struct {
	Meta
	Positions []wheelPosition `json:"positions,omitempty" nullable:"false" maxItems:"64" doc:"Left out: all."`
	TorqueNM  float64         `json:"torque_nm,omitempty"                                doc:"N m; 0: not known." minimum:"0" maximum:"2000"`
}

func (r *Retorque) event(m models.Meta) *models.Retorque {
	return &models.Retorque{
		Meta:      m,
		TorqueNM:  r.TorqueNM,
		Positions: list(r.Positions, func(p wheelPosition) models.Position { return models.Position(p) }),
	}
}

func (r *Retorque) from(e *models.Retorque) {
	r.TorqueNM = e.TorqueNM
	r.Positions = list(e.Positions, func(p models.Position) wheelPosition { return wheelPosition(p) })
}

// Service is work on the parts that decide wear.
type Service struct {
	Meta
	What string `json:"what"           enum:"dampers,bearings,steering,brakes,other"`
	Axle int    `json:"axle,omitempty"                                               minimum:"0" maximum:"15" doc:"From the front; 0: all."`
}

func (s *Service) event(m models.Meta) *models.Service {
	return &models.Service{Meta: m, What: s.What, Axle: s.Axle}
}
func (s *Service) from(e *models.Service) { s.What, s.Axle = e.What, e.Axle }

// VibrationReport is a driver's report of a shake. What is left out is not known.
type VibrationReport struct {
	Meta
	Bands         []SpeedBand `json:"bands,omitempty"          nullable:"false" maxItems:"8" doc:"Ranges of speed in which it is felt, none over another. A report with starts_kmh, worst_kmh or fades_kmh reads as a list of one."`
	Places        []string    `json:"places,omitempty"         nullable:"false" maxItems:"6" doc:"Where it is felt, each once."                                                       enum:"steering_wheel,dash,pedal,seat,floor,body"`
	StartsKMH     float64     `json:"starts_kmh,omitempty"     minimum:"0" maximum:"300" deprecated:"true" doc:"Of one band alone; use bands."`
	WorstKMH      float64     `json:"worst_kmh,omitempty"      minimum:"0" maximum:"300" deprecated:"true" doc:"Of one band alone; use bands."`
	FadesKMH      float64     `json:"fades_kmh,omitempty"      minimum:"0" maximum:"300" deprecated:"true" doc:"Of one band alone; use bands."`
	ReturnsHigher bool        `json:"returns_higher,omitempty"                           doc:"It comes back at a higher speed."`
	FeltAt        string      `json:"felt_at,omitempty"        deprecated:"true"         doc:"Of one place alone; use places."                                                   enum:"steering_wheel,dash,pedal,seat,floor,body"`
	Braking       string      `json:"braking,omitempty"                                  doc:"What it does to the shake; only: it shakes only then." enum:"worse,better,same,only"`
	Throttle      string      `json:"throttle,omitempty"                                 doc:"What it does to the shake; only: it shakes only then." enum:"worse,better,same,only"`
	Neutral       string      `json:"neutral,omitempty"                                  doc:"What it does to the shake; only: it shakes only then." enum:"worse,better,same,only"`
	Since         string      `json:"since,omitempty"                                                                                                enum:"fit,rotation,pothole,repair,parked,gradual"`
	Audible       bool        `json:"audible,omitempty"                                  doc:"A growl or slap that is heard."`
	WarmFixes     bool        `json:"warm_fixes,omitempty"                               doc:"Gone after 10 to 15 minutes of driving."`
	Settles       string      `json:"settles,omitempty"                                  doc:"The complaint of that report is gone."                                                                   format:"uuid"`
}

// SpeedBand is a range of speeds in which a shake is felt.
type SpeedBand struct {
	FromKMH  float64 `json:"from_kmh,omitempty"  minimum:"0" maximum:"300" doc:"Where it starts; 0 or left out: not known. One of the three speeds is known."`
	WorstKMH float64 `json:"worst_kmh,omitempty" minimum:"0" maximum:"300" doc:"Where it is worst."`
	ToKMH    float64 `json:"to_kmh,omitempty"    minimum:"0" maximum:"300" doc:"Where it is gone."`
	Strength string  `json:"strength,omitempty"                            doc:"How strong it is." enum:"light,clear,strong"`
}

func (v *VibrationReport) event(m models.Meta) *models.Vibration {
	e := &models.Vibration{
		Meta:          m,
		Bands:         list(v.Bands, func(b SpeedBand) models.SpeedBand { return models.SpeedBand(b) }),
		Places:        v.Places,
		StartsKMH:     v.StartsKMH,
		WorstKMH:      v.WorstKMH,
		FadesKMH:      v.FadesKMH,
		ReturnsHigher: v.ReturnsHigher,
		FeltAt:        v.FeltAt,
		Braking:       v.Braking,
		Throttle:      v.Throttle,
		Neutral:       v.Neutral,
		Since:         v.Since,
		WarmFixes:     v.WarmFixes,
		Audible:       v.Audible,
		Settles:       models.EventID(v.Settles),
	}

	// An answer sent back says the same in both forms: what was stored is kept.
	old := models.Vibration{StartsKMH: v.StartsKMH, WorstKMH: v.WorstKMH, FadesKMH: v.FadesKMH}
	if one := old.Course(); len(one) > 0 && slices.Equal(e.Bands, one) {
		e.Bands = nil
	}
	if slices.Equal(e.Places, []string{e.FeltAt}) {
		e.Places = nil
	}

	return e
}

func (v *VibrationReport) from(e *models.Vibration) {
	*v = VibrationReport{
		Bands:         list(e.Course(), func(b models.SpeedBand) SpeedBand { return SpeedBand(b) }),
		Places:        e.Felt(),
		StartsKMH:     e.StartsKMH,
		WorstKMH:      e.WorstKMH,
		FadesKMH:      e.FadesKMH,
		ReturnsHigher: e.ReturnsHigher,
		FeltAt:        e.FeltAt,
		Braking:       e.Braking,
		Throttle:      e.Throttle,
		Neutral:       e.Neutral,
		Since:         e.Since,
		WarmFixes:     e.WarmFixes,
		Audible:       e.Audible,
		Settles:       string(e.Settles),
	}
}

// Clearance clears damage found earlier.
type Clearance struct {
	Meta
	Position wheelPosition     `json:"position,omitempty"`
	TireID   string            `json:"tire_id,omitempty"  format:"uuid" doc:"Of a tire off any vehicle."`
	Codes    []ObservationCode `json:"codes"                                                             nullable:"false" minItems:"1" maxItems:"32"`
}

func (c *Clearance) event(m models.Meta) *models.Clearance {
	return &models.Clearance{Meta: m, Position: models.Position(c.Position), TireID: models.TireID(c.TireID),
		Codes: list(c.Codes, func(o ObservationCode) models.ObservationCode { return models.ObservationCode(o) })}
}

func (c *Clearance) from(e *models.Clearance) {
	c.Position, c.TireID = wheelPosition(e.Position), string(e.TireID)
	c.Codes = items(e.Codes, func(o models.ObservationCode) ObservationCode { return ObservationCode(o) })
}

// TireMove changes what a tire off any vehicle is.
type TireMove struct {
	Meta
	TireID    string        `json:"tire_id"              format:"uuid"`
	To        string        `json:"to"                                 enum:"stock,at_retreader,scrapped"`
	Scrap     RemovalReason `json:"scrap,omitempty"                                                       doc:"Why it is scrapped."`
	NewDepths []Length      `json:"new_depths,omitempty"                                                  doc:"Back from the retreader: depths of the new tread, outboard to inboard." nullable:"false" maxItems:"8"`
	CostCents int64         `json:"cost_cents,omitempty"                                                                                                                                                             minimum:"0"`
}

func (t *TireMove) event(m models.Meta) *models.TireMove {
	return &models.TireMove{
		Meta:      m,
		TireID:    models.TireID(t.TireID),
		To:        models.TireStatus(t.To),
		Scrap:     models.RemovalReason(t.Scrap),
		NewDepths: list(t.NewDepths, func(l Length) units.Length { return l.l }),
		CostCents: t.CostCents,
	}
}

func (t *TireMove) from(e *models.TireMove) {
	t.TireID, t.To, t.Scrap = string(e.TireID), string(e.To), RemovalReason(e.Scrap)
	t.CostCents = e.CostCents
	t.NewDepths = list(e.NewDepths, func(l units.Length) Length { return Length{l: l} })
}

// Void withdraws the superseded event.
type Void struct{ Meta }

func (*Void) event(m models.Meta) *models.Void { return &models.Void{Meta: m} }
func (*Void) from(*models.Void)                {}
