package rest

import (
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// BalanceJob is the work on one assembly.
type BalanceJob struct {
	Meta
	Position   wheelPosition    `json:"position,omitempty"    doc:"Left out for a loose assembly."`
	TireID     string           `json:"tire_id,omitempty"     doc:"Of a loose assembly."                                                                                        format:"uuid"`
	WheelID    string           `json:"wheel_id,omitempty"    doc:"Left out: the wheel in the record under the tire."                                                           format:"uuid"`
	Why        string           `json:"why"                                                                                                                                                   enum:"fitted,interval,complaint,lost_weight,uneven_wear"`
	Mode       string           `json:"mode"                                                                                                                                                  enum:"two_plane,single_plane,hidden,on_vehicle"`
	Planes     string           `json:"planes,omitempty"      doc:"Which pair the balancer showed: both flanges, the band and the inner flange, or the band and the back band."               enum:"flanges,band_and_flange,bands"`
	CheckSpin  bool             `json:"check_spin,omitempty"  doc:"Nothing was removed or fitted."`
	Machine    string           `json:"machine,omitempty"                                                                                                                                                                                                          maxLength:"80"`
	SelfCheck  *time.Time       `json:"self_check,omitempty"  doc:"Last self-check of the machine."`
	Geometry   *WheelGeometry   `json:"geometry,omitempty"    doc:"As measured now; kept on the wheel too, in the same step."`
	Checks     []string         `json:"checks,omitempty"      doc:"Done before the weights."                                                                                                  enum:"clean,stones,tread,seated,cone,centered,run_out,dampers,bearings,surface"     nullable:"false" maxItems:"10"`
	WeightsOff bool             `json:"weights_off,omitempty" doc:"What was shown before is of the bare assembly, all weights off."`
	Shown      []PlaneUnbalance `json:"shown,omitempty"       doc:"What the balancer asked for before."                                                                                                                                                                           nullable:"false" maxItems:"3"`
	Removed    []FittedWeight   `json:"removed,omitempty"                                                                                                                                                                                                                         nullable:"false" maxItems:"40"`
	Fitted     []FittedWeight   `json:"fitted,omitempty"                                                                                                                                                                                                                          nullable:"false" maxItems:"40"`
	ShownAfter []PlaneUnbalance `json:"shown_after,omitempty" doc:"What it asked for after."                                                                                                                                                                                      nullable:"false" maxItems:"3"`
	Media      *BalanceMedia    `json:"media,omitempty"       doc:"Internal balancing media: the maker's chart decides the dose, none is computed."`
	TorqueNM   float64          `json:"torque_nm,omitempty"   doc:"Nut torque, N m; 0: not known."                                                                                                                                                                                                               minimum:"0" maximum:"2000"`

	Verdict *BalanceVerdict `json:"verdict,omitempty" readOnly:"true" doc:"Computed from what was shown after; a job that proves nothing leaves its finding open."`
	Notes   []string        `json:"notes,omitempty"   readOnly:"true" doc:"What was changed before use, such as 400° taken as 40°."                                nullable:"false"`
}

// BalanceVerdict is what a job left compared with the limits that apply.
type BalanceVerdict struct {
	Proven  bool     `json:"proven"             doc:"Something was shown after the work."`
	Within  bool     `json:"within"`
	Limit   string   `json:"limit"              doc:"Which limits, with their source."`
	Reason  string   `json:"reason,omitempty"   doc:"Why it is not proven or not within."`
	Doubts  []string `json:"doubts,omitempty"   doc:"Why it may be wrong all the same: an overdue self-check, loose media." nullable:"false"`
	LeftG   float64  `json:"left_g"             doc:"Most that is left in one plane, g."`
	SumG    float64  `json:"sum_g,omitempty"    doc:"Left of the sum of both planes, g."`
	NeededG float64  `json:"needed_g,omitempty" doc:"What the bare assembly asked for, both planes, g; left out if not known."`
}

func verdictOf(m models.BalanceVerdict) BalanceVerdict {
	s := units.Style{Set: units.Metric}
	limit, reason := s.Render(m.Limit), s.Render(m.Reason)
	return BalanceVerdict{m.Proven, m.Within, limit, reason, m.Doubts, m.LeftG, m.SumG, m.NeededG}
}

// BalanceMedia is loose balancing material inside a tire.
type BalanceMedia struct {
	Type string    `json:"type" maxLength:"80"`
	Dose string    `json:"dose" maxLength:"80" doc:"As the maker's chart gives it."`
	In   time.Time `json:"in"                  doc:"When it was put in."`
}

// WheelGeometry is where weights sit on a wheel.
type WheelGeometry struct {
	Flange         string    `json:"flange,omitempty"          enum:"P,C,T,MC" doc:"Clip type that fits; left out if none does."`
	Spokes         []float64 `json:"spokes_deg,omitempty"                      doc:"Center of each spoke, degrees clockwise from the valve seen from outside." nullable:"false" maxItems:"60"`
	Blocked        []Arc     `json:"blocked,omitempty"                         doc:"Where nothing fits: valve, sensor, weld."                                  nullable:"false" maxItems:"20"`
	OuterRadius    *Length   `json:"outer_radius,omitempty"                    doc:"To the center of mass of a weight on the outer flange."`
	InnerRadius    *Length   `json:"inner_radius,omitempty"`
	AdhesiveRadius *Length   `json:"adhesive_radius,omitempty"                 doc:"Of the band nearer the outside."`
	BackRadius     *Length   `json:"back_radius,omitempty"                     doc:"Of the band near the inner flange."`
	InnerOffset    *Length   `json:"inner_offset,omitempty"                    doc:"Of the plane, inboard from the outer flange."`
	AdhesiveOffset *Length   `json:"adhesive_offset,omitempty"`
	BackOffset     *Length   `json:"back_offset,omitempty"`
	SpokeWidth     *Length   `json:"spoke_width,omitempty"                     doc:"A longer strip behind a spoke would show."`
}

// Arc is a stretch of the circle, degrees clockwise.
type Arc struct {
	From float64 `json:"from_deg"`
	To   float64 `json:"to_deg"`
	At   string  `json:"at,omitempty" enum:"outer_flange,band,back_band,inner_flange" doc:"Only there; left out for every place."`
}

func (g WheelGeometry) model() models.WheelGeometry {
	return models.WheelGeometry{
		Flange:         g.Flange,
		Spokes:         g.Spokes,
		Blocked:        list(g.Blocked, func(a Arc) models.Arc { return models.Arc(a) }),
		OuterRadius:    g.OuterRadius.value(),
		InnerRadius:    g.InnerRadius.value(),
		AdhesiveRadius: g.AdhesiveRadius.value(),
		BackRadius:     g.BackRadius.value(),
		InnerOffset:    g.InnerOffset.value(),
		AdhesiveOffset: g.AdhesiveOffset.value(),
		BackOffset:     g.BackOffset.value(),
		SpokeWidth:     g.SpokeWidth.value(),
	}
}

func geometryOf(m models.WheelGeometry) WheelGeometry {
	return WheelGeometry{
		m.Flange,
		m.Spokes,
		list(m.Blocked, func(a models.Arc) Arc { return Arc(a) }),
		lengthOf(m.OuterRadius),
		lengthOf(m.InnerRadius),
		lengthOf(m.AdhesiveRadius),
		lengthOf(m.BackRadius),
		lengthOf(m.InnerOffset),
		lengthOf(m.AdhesiveOffset),
		lengthOf(m.BackOffset),
		lengthOf(m.SpokeWidth),
	}
}

// PlaneUnbalance is what a balancer showed for one plane.
type PlaneUnbalance struct {
	Plane     string   `json:"plane"               enum:"outer,inner,single"`
	Mass      Mass     `json:"mass"                                          doc:"To add, as the display rounded it."`
	MassG     *float64 `json:"mass_g,omitempty"                                                                                                                                                    readOnly:"true"`
	Unrounded *Mass    `json:"unrounded,omitempty"`
	AngleDeg  float64  `json:"angle_deg"                                     doc:"Degrees clockwise from the valve seen from outside; outside 0-360 it is brought into a turn, and notes says so."`
}

// FittedWeight is one weight on a wheel.
type FittedWeight struct {
	Plane    string   `json:"plane"            enum:"outer,inner,single,outer_flange,band,back_band,inner_flange" doc:"One of the planes that were shown, or where the weight sits elsewhere, that place."`
	Type     string   `json:"type"             enum:"clip,adhesive"`
	Mass     Mass     `json:"mass"`
	MassG    *float64 `json:"mass_g,omitempty"                                                                                                                                                                                          readOnly:"true"`
	AngleDeg float64  `json:"angle_deg"                                                                           doc:"Degrees clockwise from the valve seen from outside; outside 0-360 it is brought into a turn, and notes says so."`
	Place    string   `json:"place,omitempty"                                                                     doc:"Such as flange, band, spoke 3."                                                                                                  maxLength:"80"`
}

func (b *BalanceJob) event(m models.Meta) *models.BalanceJob {
	e := &models.BalanceJob{
		Meta:       m,
		Position:   models.Position(b.Position),
		TireID:     models.TireID(b.TireID),
		WheelID:    models.WheelID(b.WheelID),
		Why:        models.BalanceWhy(b.Why),
		Mode:       b.Mode,
		Planes:     b.Planes,
		CheckSpin:  b.CheckSpin,
		Machine:    b.Machine,
		SelfCheck:  utc(b.SelfCheck),
		Checks:     b.Checks,
		WeightsOff: b.WeightsOff,
		Shown:      list(b.Shown, PlaneUnbalance.model),
		Removed:    list(b.Removed, FittedWeight.model),
		Fitted:     list(b.Fitted, FittedWeight.model),
		ShownAfter: list(b.ShownAfter, PlaneUnbalance.model),
		TorqueNM:   b.TorqueNM,
		Geometry:   maybe(b.Geometry, WheelGeometry.model),
	}

	e.Media = maybe(b.Media, func(w BalanceMedia) models.BalanceMedia {
		return models.BalanceMedia{Type: w.Type, Dose: w.Dose, In: *utc(&w.In)}
	})
	return e
}

func mediaOf(m models.BalanceMedia) BalanceMedia { return BalanceMedia{m.Type, m.Dose, m.In} }

func (b *BalanceJob) from(e *models.BalanceJob) {
	*b = BalanceJob{
		Position:   wheelPosition(e.Position),
		TireID:     string(e.TireID),
		WheelID:    string(e.WheelID),
		Why:        string(e.Why),
		Mode:       e.Mode,
		Planes:     e.Planes,
		CheckSpin:  e.CheckSpin,
		Machine:    e.Machine,
		SelfCheck:  e.SelfCheck,
		Geometry:   maybe(e.Geometry, geometryOf),
		Checks:     e.Checks,
		WeightsOff: e.WeightsOff,
		Shown:      list(e.Shown, planeOf),
		Removed:    list(e.Removed, weightOf),
		Fitted:     list(e.Fitted, weightOf),
		ShownAfter: list(e.ShownAfter, planeOf),
		TorqueNM:   e.TorqueNM,
		Verdict:    maybe(&e.Verdict, verdictOf),
		Notes:      e.Notes,
		Media:      maybe(e.Media, mediaOf),
	}
}

func (p PlaneUnbalance) model() models.PlaneUnbalance {
	m := models.PlaneUnbalance{Plane: p.Plane, Mass: p.Mass.m, Angle: units.Angle(p.AngleDeg)}
	if p.Unrounded != nil {
		m.Unrounded = &p.Unrounded.m
	}
	return m
}

func planeOf(m models.PlaneUnbalance) PlaneUnbalance {
	g := float64(m.Mass.Value)
	p := PlaneUnbalance{Plane: m.Plane, Mass: Mass{m.Mass}, MassG: &g, AngleDeg: float64(m.Angle)}
	if m.Unrounded != nil {
		p.Unrounded = &Mass{*m.Unrounded}
	}
	return p
}

func (w FittedWeight) model() models.FittedWeight {
	return models.FittedWeight{
		Plane: w.Plane,
		Type:  w.Type,
		Mass:  w.Mass.m,
		Angle: units.Angle(w.AngleDeg),
		Place: w.Place,
	}
}

func weightOf(m models.FittedWeight) FittedWeight {
	g := float64(m.Mass.Value)
	return FittedWeight{m.Plane, m.Type, Mass{m.Mass}, &g, float64(m.Angle), m.Place}
}
