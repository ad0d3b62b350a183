package history

import (
	"slices"
	"time"

	"rimledger/models"
)

// Day returns t as days since the Unix epoch, the time scale of wear.Use.
func Day(t time.Time) float64 { return float64(t.UnixMicro()) / float64(24*time.Hour/time.Microsecond) }

// point returns when and at which odometer an event happened.
func point(e models.Event) *models.Point {
	h := e.Header()
	return &models.Point{EventID: h.ID, At: h.At, Odometer: h.Odometer}
}

// Vehicle folds e, an event of vehicle v, into s. Events must come in order of time.
//
//revive:disable-next-line:cyclomatic
func Vehicle(s *models.VehicleState, v models.Vehicle, e models.Event) {
	h := e.Header()
	s.LastEventAt = h.At
	foldOdometer(s, v, h)

	// Work with wheels off starts the wait for a re-torque. Tires that were on the vehicle
	// already when the record began ("existing") were fitted by nobody.
	switch e := e.(type) {
	case *models.Inspection:
		s.LastInspection = point(e)
		s.Observations, s.ObservedAt = e.Vehicle, h.At
		if slices.ContainsFunc(e.Readings, func(r models.Reading) bool { return r.Pressure != nil }) {
			s.LastPressure = point(e)
		}
	case *models.Fit:
		if !e.Existing {
			s.RetorqueFrom = point(e)
		}
	case *models.Rotation:
		s.LastRotation, s.RetorqueFrom = point(e), point(e)
	case *models.Repair:
		if e.Demounted {
			s.RetorqueFrom = point(e)
		}
	case *models.BalanceJob:
		if e.Position != "" && e.Mode != "on_vehicle" {
			s.RetorqueFrom = point(e)
		}
	case *models.Retorque:
		s.RetorqueFrom = nil
	case *models.Alignment:
		s.LastAlignment = point(e)
	case *models.Service:
		if e.What == "dampers" {
			s.LastDampers = point(e)
		}
	case *models.Vibration:
		foldComplaint(s, e)
	}
}

// foldOdometer keeps the newest odometer and updates the use per day.
func foldOdometer(s *models.VehicleState, v models.Vehicle, h *models.Meta) {
	if s.Use.KMPerDay == 0 {
		s.Use = startUse(v)
	}
	if !h.Odometer.Known {
		return
	}
	if s.FirstOdometerAt.IsZero() {
		s.FirstOdometer, s.FirstOdometerAt = h.Odometer, h.At
	}

	s.Odometer, s.OdometerAt = h.Odometer, h.At

	// A reading that does not fit, such as one below the last, is that of a new or
	// corrected counter: the distance starts anew, the use per day stays.
	day, km := Day(h.At), h.Odometer.Value.Kilometres()
	if next, err := s.Use.Update(day, km); err == nil {
		s.Use = next
	} else if next, err := s.Use.Restart(day, km); err == nil {
		s.Use = next
	}
}

// foldComplaint opens a complaint, or closes the one that the report settles.
func foldComplaint(s *models.VehicleState, e *models.Vibration) {
	kept := make([]models.Complaint, 0, len(s.Complaints)+1)
	for _, c := range s.Complaints {
		if !c.Is(e.Settles) {
			kept = append(kept, c)
		}
	}
	if e.Settles == "" {
		kept = append(kept, models.Complaint{EventID: e.ID, At: e.At, Report: *e})
	}
	s.Complaints = kept
}

// ReplayVehicle folds all events of v, in order of time, and returns the state.
func ReplayVehicle(v models.Vehicle, events []models.Event) models.VehicleState {
	var s models.VehicleState
	for _, e := range events {
		Vehicle(&s, v, e)
	}
	return s
}

// ReplayTire folds all events of t, in order of time, and returns the state and the
// fitments. vehicles must have every vehicle that the events name.
func ReplayTire(
	t models.Tire,
	vehicles map[models.VehicleID]models.Vehicle,
	events []models.Event,
) (models.TireState, []models.Fitment) {
	s := models.TireState{Status: models.InStock}
	var fitments []models.Fitment
	for _, e := range events {
		v := vehicles[e.Header().VehicleID]
		fitments = merge(fitments, Fitments(t, v, s, e))
		Tire(&s, t, v, e)
	}
	return s, fitments
}

// merge replaces the fitments in all that have changed, by ID, and appends new ones.
func merge(all, changed []models.Fitment) []models.Fitment {
	for _, f := range changed {
		if i := slices.IndexFunc(all, func(g models.Fitment) bool { return g.ID == f.ID }); i >= 0 {
			all[i] = f
		} else {
			all = append(all, f)
		}
	}
	return all
}
