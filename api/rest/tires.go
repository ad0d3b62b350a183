package rest

import (
	"context"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// Tire is an asset with its own number.
type Tire struct {
	ID          string    `json:"id,omitempty"            format:"uuid"`
	DepotID     string    `json:"depot_id"                format:"uuid"`
	Number      string    `json:"number"                                minLength:"1" maxLength:"40" doc:"Branded or painted on it; unique in the depot."`
	TIN         string    `json:"tin,omitempty"                                       maxLength:"20" doc:"Tire identification number."`
	Size        string    `json:"size"                                  minLength:"1" maxLength:"40"                                                            example:"295/75R22.5 144/141L"`
	Design      string    `json:"design,omitempty"                                    maxLength:"80" doc:"Tread design."`
	NewDepths   []Length  `json:"new_depths"                                                         doc:"Of this tread life, per groove, outboard to inboard."                                nullable:"false" minItems:"1" maxItems:"8"`
	NewMM       []float64 `json:"new_depths_mm,omitempty"                                                                                                                                      nullable:"false"                           readOnly:"true"`
	Directional bool      `json:"directional,omitempty"`
	Winter      bool      `json:"winter,omitempty"                                                   doc:"Marked with the mountain and snowflake."`
	Regrooved   bool      `json:"regrooved,omitempty"`
	LifeIndex   int       `json:"life_index,omitempty"                                               doc:"0 new, 1 and up retreads."                                                                                                                      minimum:"0" maximum:"9"`
	PriceCents  int64     `json:"price_cents,omitempty"                                              doc:"In the depot's currency."                                                                                                                       minimum:"0"`
	CasingCents int64     `json:"casing_cents,omitempty"                                             doc:"What the casing is credited at."                                                                                                                minimum:"0"`
	Stamp
}

func (t Tire) model(id string, version int64) models.Tire {
	return models.Tire{
		ID:          models.TireID(id),
		DepotID:     models.DepotID(t.DepotID),
		Number:      t.Number,
		TIN:         t.TIN,
		Size:        t.Size,
		Design:      t.Design,
		NewDepths:   items(t.NewDepths, func(l Length) units.Length { return l.l }),
		Directional: t.Directional,
		Winter:      t.Winter,
		Regrooved:   t.Regrooved,
		LifeIndex:   t.LifeIndex,
		PriceCents:  t.PriceCents,
		CasingCents: t.CasingCents,
		Stamp:       models.Stamp{Version: version},
	}
}

func tireOf(m models.Tire) Tire {
	return Tire{
		ID:          string(m.ID),
		DepotID:     string(m.DepotID),
		Number:      m.Number,
		TIN:         m.TIN,
		Size:        m.Size,
		Design:      m.Design,
		NewDepths:   items(m.NewDepths, func(l units.Length) Length { return Length{l: l} }),
		NewMM:       items(m.NewDepths, units.Length.Millimetres),
		Directional: m.Directional,
		Winter:      m.Winter,
		Regrooved:   m.Regrooved,
		LifeIndex:   m.LifeIndex,
		PriceCents:  m.PriceCents,
		CasingCents: m.CasingCents,
		Stamp:       stampOf(m.Stamp),
	}
}

// TireState is where a tire is and what was last known of it.
type TireState struct {
	Status          string         `json:"status"                     doc:"stock, mounted, at_retreader or scrapped."`
	VehicleID       string         `json:"vehicle_id,omitempty"`
	Position        string         `json:"position,omitempty"`
	WheelID         string         `json:"wheel_id,omitempty"`
	FittedOn        *Point         `json:"fitted_on,omitempty"        doc:"Put on this vehicle."`
	PlacedAt        *Point         `json:"placed_at,omitempty"        doc:"Came to this position."`
	Last            *Measured      `json:"last,omitempty"             doc:"Newest reading."`
	Previous        *Measured      `json:"previous,omitempty"         doc:"The one before."`
	Removed         *Removed       `json:"removed,omitempty"          doc:"How it last came off."`
	RemovedAt       *Point         `json:"removed_at,omitempty"`
	Balance         *BalanceRecord `json:"balance,omitempty"          doc:"Newest balance job."`
	UnbalancedSince *Point         `json:"unbalanced_since,omitempty" doc:"Fitted, demounted or repaired and not balanced since."`
	Damage          []Damage       `json:"damage,omitempty"           doc:"Seen and not cleared."                                    nullable:"false"`
	MissingWeight   *Point         `json:"missing_weight,omitempty"`
	Trueness        []TrueMeasure  `json:"measures,omitempty"         doc:"Bead seat and run-out as they stand: the newest of each." nullable:"false"`
	Doubts          []string       `json:"doubts,omitempty"           doc:"What did not fit at the last reading."                    nullable:"false"`
}

// Measured is a reading with its circumstances.
type Measured struct {
	Point
	VehicleID  string   `json:"vehicle_id"`
	Person     string   `json:"person,omitempty"`
	Reading    Reading  `json:"reading"`
	MinDepthMM *float64 `json:"min_depth_mm,omitempty" doc:"Shallowest depth, mm."`
}

// BalanceRecord is what matters later of a balance job.
type BalanceRecord struct {
	Point
	Why       string           `json:"why"`
	Verdict   BalanceVerdict   `json:"verdict"`
	DemandG   float64          `json:"demand_g"             doc:"Sum of what was shown before, both planes."`
	CheckSpin bool             `json:"check_spin,omitempty"`
	Weights   []FittedWeight   `json:"weights,omitempty"    doc:"On the wheel after the job, as far as the record knows."                      nullable:"false"`
	Bare      []PlaneUnbalance `json:"bare,omitempty"       doc:"What the assembly asks for without any weight."                               nullable:"false"`
	After     []PlaneUnbalance `json:"after,omitempty"      doc:"What was shown last, with those weights on."                                  nullable:"false"`
	Drift     *BalanceDrift    `json:"drift,omitempty"      doc:"How what it asks for has changed since the job before, on the same mounting."`
}

// BalanceDrift is how what an assembly asks for has changed between two jobs.
type BalanceDrift struct {
	Since  *Point           `json:"since"`
	LeftOn bool             `json:"left_on" doc:"The weights were left on in between; else bare is compared with bare."`
	Planes []PlaneUnbalance `json:"planes"`
	WorstG float64          `json:"worst_g" doc:"Most of a plane, g."`
}

func balanceRecordOf(b models.BalanceRecord) BalanceRecord {
	return BalanceRecord{
		*pointOf(&b.Point),
		string(b.Why),
		verdictOf(b.Verdict),
		float64(b.Demand),
		b.CheckSpin,
		list(b.Weights, weightOf),
		list(b.Bare, planeOf),
		list(b.After, planeOf),
		maybe(b.Drift, func(d models.BalanceDrift) BalanceDrift {
			return BalanceDrift{pointOf(&d.Since), d.LeftOn, items(d.Planes, planeOf), d.WorstG}
		}),
	}
}

// Damage is damage seen and not cleared.
type Damage struct {
	Point
	Observation Observation `json:"observation"`
}

func measuredOf(m models.Measured) Measured {
	w := Measured{
		Point:     *pointOf(&m.Point),
		VehicleID: string(m.VehicleID),
		Person:    m.Person,
		Reading:   readingOf(m.Reading),
	}
	if least, ok := m.Reading.Min(); ok {
		w.MinDepthMM = millimetres(&least)
	}
	return w
}

// maybe converts what may not be there.
func maybe[M, W any](m *M, wire func(M) W) *W {
	if m == nil {
		return nil
	}
	w := wire(*m)
	return &w
}

func tireStateOf(m models.TireState) TireState {
	return TireState{
		Status:          string(m.Status),
		VehicleID:       string(m.VehicleID),
		Position:        string(m.Position),
		WheelID:         string(m.WheelID),
		FittedOn:        pointOf(m.FittedOn),
		PlacedAt:        pointOf(m.PlacedAt),
		Last:            maybe(m.Last, measuredOf),
		Previous:        maybe(m.Previous, measuredOf),
		Removed:         maybe(m.Removed, removedOf),
		RemovedAt:       pointOf(m.RemovedAt),
		UnbalancedSince: pointOf(m.UnbalancedSince),
		Balance:         maybe(m.Balance, balanceRecordOf),
		Damage: list(m.Damage, func(d models.ActiveDamage) Damage {
			return Damage{*pointOf(&d.Point), observationOf(d.Observation)}
		}),
		MissingWeight: pointOf(m.MissingWeight),
		Trueness:      list(m.Trueness, keptMeasure),
		Doubts:        inMetric(m.Doubts),
	}
}

// TireRow is a tire with what its history comes to.
type TireRow struct {
	Tire  Tire      `json:"tire"`
	State TireState `json:"state"`
}

func tireRowOf(m models.TireWithState) TireRow { return TireRow{tireOf(m.Tire), tireStateOf(m.State)} }

// Fitment is one tire on one position from one moment to another.
type Fitment struct {
	VehicleID string `json:"vehicle_id"`
	Position  string `json:"position"`
	WheelID   string `json:"wheel_id,omitempty"`
	From      Point  `json:"from"`
	To        *Point `json:"to,omitempty"       doc:"Left out while it lasts."`
}

func fitmentOf(m models.Fitment) Fitment {
	return Fitment{string(m.VehicleID), string(m.Position), string(m.WheelID), *pointOf(&m.From), pointOf(m.To)}
}

// TireView is a tire with its whole life.
type TireView struct {
	TireRow
	Fitments []Fitment  `json:"fitments" doc:"By start."`
	Readings []Measured `json:"readings" doc:"Oldest first."`
}

// Wheel is what of a rim matters for weights.
type Wheel struct {
	ID         string  `json:"id,omitempty"          format:"uuid"`
	DepotID    string  `json:"depot_id"              format:"uuid"`
	Number     string  `json:"number"                              minLength:"1" maxLength:"40"`
	DiameterIn float64 `json:"diameter_in"                                                      minimum:"4" maximum:"63" doc:"Nominal rim diameter, inches."`
	WidthIn    float64 `json:"width_in"                                                         minimum:"1" maximum:"60" doc:"Nominal rim width, inches."`
	Material   string  `json:"material"                                                                                                                                                          enum:"steel,alloy"`
	WheelGeometry
	MeasuredAt *time.Time    `json:"measured_at,omitempty"                                                                     doc:"When the geometry was last measured, at a balance job or by hand."                    readOnly:"true"`
	MeasuredBy string        `json:"measured_by,omitempty"                                                                     doc:"The balance job; left out if it was measured by hand."                                readOnly:"true"`
	RunOut     []TrueMeasure `json:"run_out,omitempty"                                                                         doc:"Of the rim itself, by the newest wheel checks."                                       readOnly:"true" nullable:"false"`
	Stamp
}

func (w Wheel) model(id string, version int64) models.Wheel {
	return models.Wheel{
		ID:            models.WheelID(id),
		DepotID:       models.DepotID(w.DepotID),
		Number:        w.Number,
		DiameterIn:    w.DiameterIn,
		WidthIn:       w.WidthIn,
		Material:      w.Material,
		WheelGeometry: w.WheelGeometry.model(),
		Stamp:         models.Stamp{Version: version},
	}
}

func wheelOf(m models.Wheel) Wheel {
	return Wheel{
		string(m.ID),
		string(m.DepotID),
		m.Number,
		m.DiameterIn,
		m.WidthIn,
		m.Material,
		geometryOf(m.WheelGeometry),
		moment(m.MeasuredAt),
		string(m.MeasuredBy),
		list(m.RunOut, keptMeasure),
		stampOf(m.Stamp),
	}
}

func (s *server) registerTires() {
	const tag = "Tires"
	resource[Tire, models.Tire]{path: "/tires", tag: tag, name: "tire",
		wire: tireOf, model: Tire.model, id: func(t Tire) string { return t.ID },
		version: func(m models.Tire) int64 { return m.Version },
		create:  s.Fleet.CreateTire, edit: s.Fleet.EditTire,
		get: func(ctx context.Context, a fleet.Actor, id string) (models.Tire, error) {
			t, err := s.Fleet.Tire(ctx, a, models.TireID(id))
			return t.Tire, err
		}}.register(s)

	register(s, get("/tires", tag, "List tires", "By number."), func(ctx context.Context, a fleet.Actor, in *struct {
		Paging
		Depot  string     `query:"depot" format:"uuid"`
		Status string     `query:"status" enum:"stock,mounted,at_retreader,scrapped"`
		Text   textFilter `query:"text" maxLength:"80" doc:"In the number, size or design."`
	}) (*pageOut[TireRow], error) {
		found, next, err := s.Fleet.Tires(
			ctx,
			a,
			models.TireFilter{Depots: depotsOf(in.Depot), Status: models.TireStatus(in.Status), Text: in.Text.model()},
			in.Paging.model(),
		)
		return paged(found, next, err, tireRowOf)
	})

	register(s, get("/tires/{id}", tag, "Get a tire", "With its whole life: fitments and readings."),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*tagged[TireView], error) {
			t, err := s.Fleet.Tire(ctx, a, models.TireID(in.ID))
			if err != nil {
				return nil, err
			}
			return withTag(t.Tire.Version, TireView{tireRowOf(models.TireWithState{Tire: t.Tire, State: t.State}),
				items(t.Fitments, fitmentOf), items(t.Readings, measuredOf)}), nil
		})

	s.registerWheels()
}

func (s *server) registerWheels() {
	const tag = "Wheels"
	find := func(ctx context.Context, a fleet.Actor, id string) (models.Wheel, error) {
		return s.Fleet.Wheel(ctx, a, models.WheelID(id))
	}
	resource[Wheel, models.Wheel]{path: "/wheels", tag: tag, name: "wheel",
		wire: wheelOf, model: Wheel.model, id: func(w Wheel) string { return w.ID },
		version: func(m models.Wheel) int64 { return m.Version },
		create:  s.Fleet.CreateWheel, edit: s.Fleet.EditWheel, get: find}.register(s)

	register(
		s,
		get("/wheels", tag, "List the wheels of a depot", "By number."),
		func(ctx context.Context, a fleet.Actor, in *struct {
			Paging
			Depot string `query:"depot" format:"uuid" required:"true"`
		}) (*pageOut[Wheel], error) {
			found, next, err := s.Fleet.Wheels(ctx, a, models.DepotID(in.Depot), in.Paging.model())
			return paged(found, next, err, wheelOf)
		},
	)

	register(
		s,
		get("/wheels/{id}", tag, "Get a wheel", ""),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*tagged[Wheel], error) {
			w, err := find(ctx, a, in.ID)
			if err != nil {
				return nil, err
			}
			return withTag(w.Version, wheelOf(w)), nil
		},
	)
}
