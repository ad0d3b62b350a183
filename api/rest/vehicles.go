package rest

import (
	"context"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// Vehicle is a unit of the fleet.
type Vehicle struct {
	ID          string      `json:"id,omitempty"          format:"uuid"`
	DepotID     string      `json:"depot_id"              format:"uuid"`
	Number      string      `json:"number"                              minLength:"1" maxLength:"40"  doc:"As painted on it; unique in the depot."`
	Class       Class       `json:"class"`
	Description string      `json:"description,omitempty"                             maxLength:"200"`
	ParkingRow  string      `json:"parking_row,omitempty"                             maxLength:"40"`
	Axles       []Axle      `json:"axles"                                                             doc:"From the front."                             nullable:"false" minItems:"1" maxItems:"12"`
	Spares      int         `json:"spares,omitempty"                                                                                                                                                minimum:"0" maximum:"4"`
	MaxMassKG   int         `json:"max_mass_kg,omitempty"                                             doc:"Permitted mass; 0: not known."                                                           minimum:"0"`
	Seats       int         `json:"seats,omitempty"                                                   doc:"Besides the driver's."                                                                   minimum:"0"`
	NoOdometer  bool        `json:"no_odometer,omitempty"                                             doc:"Has no distance counter at all."`
	TorqueNM    float64     `json:"torque_nm,omitempty"                                               doc:"Nut torque by the maker, N m; 0: not known."                                             minimum:"0" maximum:"2000"`
	Policy      PolicyPatch `json:"policy,omitzero"                                                   doc:"What this vehicle changes in its policy."`
	Retired     bool        `json:"retired,omitempty"`
	Positions   []string    `json:"positions,omitempty"                                               doc:"Its wheel places."                           nullable:"false"                                                       readOnly:"true"`
	Stamp
}

// Axle is one axle.
type Axle struct {
	Steered     bool      `json:"steered,omitempty"`
	Driven      bool      `json:"driven,omitempty"`
	Lifting     bool      `json:"lifting,omitempty"`
	Dual        bool      `json:"dual,omitempty"`
	Pressure    *Pressure `json:"pressure,omitempty"     doc:"Cold target."`
	PressureKPa *float64  `json:"pressure_kpa,omitempty"                    readOnly:"true"`
}

func (v Vehicle) model(id string, version int64) models.Vehicle {
	return models.Vehicle{
		ID:          models.VehicleID(id),
		DepotID:     models.DepotID(v.DepotID),
		Number:      v.Number,
		Class:       models.Class(v.Class),
		Description: v.Description,
		ParkingRow:  v.ParkingRow,
		Axles:       items(v.Axles, Axle.model),
		Spares:      v.Spares,
		MaxMassKG:   v.MaxMassKG,
		Seats:       v.Seats,
		NoOdometer:  v.NoOdometer,
		TorqueNM:    v.TorqueNM,
		Patch:       v.Policy.model(),
		Retired:     v.Retired,
		Stamp:       models.Stamp{Version: version},
	}
}

func vehicleOf(m models.Vehicle) Vehicle {
	return Vehicle{
		ID:          string(m.ID),
		DepotID:     string(m.DepotID),
		Number:      m.Number,
		Class:       Class(m.Class),
		Description: m.Description,
		ParkingRow:  m.ParkingRow,
		Axles:       items(m.Axles, axleOf),
		Spares:      m.Spares,
		MaxMassKG:   m.MaxMassKG,
		Seats:       m.Seats,
		NoOdometer:  m.NoOdometer,
		TorqueNM:    m.TorqueNM,
		Policy:      policyOf(m.Patch),
		Retired:     m.Retired,
		Positions:   items(m.Positions(), func(p models.Position) string { return string(p) }),
		Stamp:       stampOf(m.Stamp),
	}
}

func (a Axle) model() models.Axle {
	m := models.Axle{Steered: a.Steered, Driven: a.Driven, Lifting: a.Lifting, Dual: a.Dual}
	if a.Pressure != nil {
		m.Pressure = a.Pressure.p
	}
	return m
}

func axleOf(m models.Axle) Axle {
	a := Axle{Steered: m.Steered, Driven: m.Driven, Lifting: m.Lifting, Dual: m.Dual}
	if m.Pressure.Value != 0 {
		kpa := float64(m.Pressure.Value)
		a.Pressure, a.PressureKPa = &Pressure{m.Pressure}, &kpa
	}
	return a
}

// Standing is what lists show of a vehicle's findings.
type Standing struct {
	Worst    Urgency    `json:"worst,omitempty"   doc:"Of open findings that are not acknowledged; left out if there are none."`
	Since    *time.Time `json:"since,omitempty"   doc:"Of the oldest finding of that urgency."`
	Findings int        `json:"findings"          doc:"Open ones."`
	DueAt    *time.Time `json:"due_at,omitempty"  doc:"Earliest due date."`
	PullAt   *time.Time `json:"pull_at,omitempty" doc:"When the first of its tires is at its pull point or legal limit, as read or as forecast."`
}

func standingOf(m models.Standing) Standing {
	return Standing{Urgency(m.Worst.String()), moment(m.Since), m.Findings, m.DueAt, m.PullAt}
}

// VehicleState is what a vehicle's history comes to.
type VehicleState struct {
	Odometer       Odometer   `json:"odometer"                  doc:"Last known."`
	OdometerKM     *float64   `json:"odometer_km,omitempty"`
	OdometerAt     *time.Time `json:"odometer_at,omitempty"`
	LastInspection *Point     `json:"last_inspection,omitempty"`
	LastPressure   *Point     `json:"last_pressure,omitempty"`
	LastRotation   *Point     `json:"last_rotation,omitempty"`
	LastAlignment  *Point     `json:"last_alignment,omitempty"`
	RetorqueFrom   *Point     `json:"retorque_from,omitempty"   doc:"Wheels were off here and nut torque was not checked since."`
	Complaints     []string   `json:"complaints,omitempty"      doc:"Vibration reports that are not settled, by event id."       nullable:"false"`
}

// Point is a moment in a vehicle's life.
type Point struct {
	EventID    string    `json:"event_id"`
	At         time.Time `json:"at"`
	Odometer   Odometer  `json:"odometer"`
	OdometerKM *float64  `json:"odometer_km,omitempty"`
}

func pointOf(m *models.Point) *Point {
	if m == nil {
		return nil
	}
	return &Point{string(m.EventID), m.At, Odometer{m.Odometer}, kilometres(m.Odometer)}
}

func vehicleStateOf(m models.VehicleState) VehicleState {
	return VehicleState{
		Odometer:       Odometer{m.Odometer},
		OdometerKM:     kilometres(m.Odometer),
		OdometerAt:     moment(m.OdometerAt),
		LastInspection: pointOf(m.LastInspection),
		LastPressure:   pointOf(m.LastPressure),
		LastRotation:   pointOf(m.LastRotation),
		LastAlignment:  pointOf(m.LastAlignment),
		RetorqueFrom:   pointOf(m.RetorqueFrom),
		Complaints:     list(m.Complaints, func(c models.Complaint) string { return string(c.EventID) }),
	}
}

// VehicleRow is a vehicle as lists show it.
type VehicleRow struct {
	Vehicle  Vehicle      `json:"vehicle"`
	State    VehicleState `json:"state"`
	Standing Standing     `json:"standing"`
}

func vehicleRowOf(m models.VehicleRow) VehicleRow {
	return VehicleRow{vehicleOf(m.Vehicle), vehicleStateOf(m.State), standingOf(m.Standing)}
}

// VehicleView is a vehicle with its tires and open findings.
type VehicleView struct {
	VehicleRow
	Policy       PolicyPatch       `json:"policy"        doc:"The policy that applies to it."`
	Tires        []TireRow         `json:"tires"         doc:"Mounted, in the order of positions."`
	Findings     []Finding         `json:"findings"      doc:"Open, most urgent first."`
	Groups       []FindingGroup    `json:"groups"        doc:"The same findings: what is found on several wheels stands once."`
	LegalMinimum map[string]Length `json:"legal_minimum" doc:"Strictest minimum depth in force by position."`
	Locations    map[string]int    `json:"locations"     doc:"SAE J1939 tire location of each position, axles and places counted from 0; 255 for a spare."`
}

func vehicleViewOf(m fleet.VehicleView, now time.Time) VehicleView {
	v := VehicleView{
		VehicleRow:   vehicleRowOf(models.VehicleRow{Vehicle: m.Vehicle, State: m.State, Standing: m.Standing}),
		Policy:       policyOf(m.Policy),
		Tires:        items(m.Tires, tireRowOf),
		Findings:     items(m.Findings, findingOf),
		Groups:       items(models.GroupFindings(m.Findings, now), findingGroupOf),
		LegalMinimum: map[string]Length{},
		Locations:    map[string]int{},
	}

	for _, p := range m.Vehicle.Positions() {
		v.Locations[string(p)] = int(models.LocationByte(m.Vehicle.Axles, p))
	}

	for p, l := range m.LegalMinimum {
		if l > 0 {
			v.LegalMinimum[string(p)] = Length{l: l}
		}
	}

	return v
}

// vehiclesIn narrows a list of vehicles.
type vehiclesIn struct {
	Paging
	Depot     string     `query:"depot"      format:"uuid"`
	Class     Class      `query:"class"`
	Urgency   Urgency    `query:"urgency"                  doc:"With open findings of this urgency at worst."`
	Code      string     `query:"code"                     doc:"With an open finding of this code."                                                                                                                    maxLength:"40"`
	DueBefore time.Time  `query:"due_before"               doc:"With work due before this time."`
	Text      textFilter `query:"text"                     doc:"In the number, description, row or a mounted tire's number."                                                                                           maxLength:"80"`
	Retired   bool       `query:"retired"                  doc:"Retired vehicles instead."`
	Sort      string     `query:"sort"                     doc:"By number; only those with open findings, most urgent first; or only those of which it is known when the first tire reaches its limit, soonest first."                enum:"number,urgency,pull" default:"number"`
}

func (in vehiclesIn) model() models.VehicleFilter {
	return models.VehicleFilter{
		Depots:    depotsOf(in.Depot),
		Class:     models.Class(in.Class),
		Urgency:   in.Urgency.model(),
		Code:      models.FindingCode(in.Code),
		DueBefore: in.DueBefore,
		Text:      in.Text.model(),
		Retired:   in.Retired,
		Attention: in.Sort == "urgency",
		ByPull:    in.Sort == "pull",
	}
}

func depotsOf(id string) []models.DepotID {
	if id == "" {
		return nil
	}
	return []models.DepotID{models.DepotID(id)}
}

func (s *server) registerVehicles() {
	const tag = "Vehicles"
	resource[Vehicle, models.Vehicle]{path: "/vehicles", tag: tag, name: "vehicle",
		wire: vehicleOf, model: Vehicle.model, id: func(v Vehicle) string { return v.ID },
		version: func(m models.Vehicle) int64 { return m.Version },
		create:  s.Fleet.CreateVehicle, edit: s.Fleet.EditVehicle,
		get: func(ctx context.Context, a fleet.Actor, id string) (models.Vehicle, error) {
			v, err := s.Fleet.Vehicle(ctx, a, models.VehicleID(id))
			return v.Vehicle, err
		}}.register(s)

	rows := func(ctx context.Context, a fleet.Actor, in vehiclesIn) (*pageOut[VehicleRow], error) {
		found, next, err := s.Fleet.Vehicles(ctx, a, in.model(), in.Paging.model())
		return paged(found, next, err, vehicleRowOf)
	}

	register(
		s,
		get("/vehicles", tag, "List vehicles", ""),
		func(ctx context.Context, a fleet.Actor, in *vehiclesIn) (*pageOut[VehicleRow], error) {
			return rows(ctx, a, *in)
		},
	)

	register(
		s,
		get(
			"/attention",
			tag,
			"List what needs attention",
			"Vehicles with open findings: by urgency, then since when, then number; or with sort=pull by when the "+
				"first tire reaches its limit.",
		),
		func(ctx context.Context, a fleet.Actor, in *vehiclesIn) (*pageOut[VehicleRow], error) {
			if in.Sort != "pull" {
				in.Sort = "urgency"
			}
			return rows(ctx, a, *in)
		},
	)

	register(
		s,
		get("/vehicles/{id}", tag, "Get a vehicle", "With its tires, open findings and the policy that applies."),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*tagged[VehicleView], error) {
			v, err := s.Fleet.Vehicle(ctx, a, models.VehicleID(in.ID))
			if err != nil {
				return nil, err
			}
			return withTag(v.Vehicle.Version, vehicleViewOf(v, s.Now())), nil
		},
	)
}
