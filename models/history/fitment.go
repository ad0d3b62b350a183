package history

import (
	"rimledger/models"
	"rimledger/models/wear"
)

// Fitments returns the fitments of tire t that e, an event of vehicle v, opens
// or closes, given the state s before e. Ids derive from the event, so a replay finds the same ones.
func Fitments(tire models.Tire, v models.Vehicle, s models.TireState, e models.Event) []models.Fitment {
	t := tire.ID
	var out []models.Fitment
	closing := func() {
		if s.PlacedAt != nil {
			out = append(out, models.Fitment{ID: fitmentID(*s.PlacedAt, t), TireID: t, VehicleID: s.VehicleID,
				Position: s.Position, WheelID: s.WheelID, From: *s.PlacedAt, To: point(e), Wear: Wear(tire, v, s)})
		}
	}

	opening := func(v models.VehicleID, p models.Position, w models.WheelID) {
		out = append(
			out,
			models.Fitment{
				ID:        fitmentID(*point(e), t),
				TireID:    t,
				VehicleID: v,
				Position:  p,
				WheelID:   w,
				From:      *point(e),
			},
		)
	}

	switch e := e.(type) {
	case *models.Fit:
		for _, f := range e.Fittings {
			if f.TireID == t {
				opening(e.VehicleID, f.Position, f.WheelID)
			}
		}
	case *models.Removal:
		for _, r := range e.Removed {
			if r.TireID == t {
				closing()
			}
		}
	case *models.Rotation:
		for _, m := range e.Moves {
			if m.TireID == t {
				closing()
				opening(e.VehicleID, m.To, s.WheelID)
			}
		}
	}

	return out
}

// fitmentID joins the event that began the fitment with the tire.
func fitmentID(from models.Point, t models.TireID) models.FitmentID {
	return models.FitmentID(string(from.EventID) + "/" + string(t))
}

// Wear returns what the running fitment of a tire in state s on vehicle v says
// of its wear rate, nil if nothing yet, and for a spare, which does not roll.
func Wear(t models.Tire, v models.Vehicle, s models.TireState) *wear.Summary {
	if s.MinWear == nil || s.Position.IsSpare() {
		return nil
	}

	rate, se, ok := s.MinWear.Summary()
	if !ok {
		return nil
	}

	return &wear.Summary{
		Class:  string(v.Class),
		Role:   string(v.AxleAt(s.Position).Role()),
		Design: t.Design,
		RateMM: rate,
		SEMM:   se,
	}
}
