package history

import "rimledger/models"

// Fitments returns the fitments of tire t that e opens or closes, given the
// state s before e. Ids derive from the event, so a replay finds the same ones.
func Fitments(t models.TireID, s models.TireState, e models.Event) []models.Fitment {
	var out []models.Fitment
	closing := func() {
		if s.PlacedAt != nil {
			out = append(out, models.Fitment{ID: fitmentID(*s.PlacedAt, t), TireID: t, VehicleID: s.VehicleID,
				Position: s.Position, WheelID: s.WheelID, From: *s.PlacedAt, To: point(e)})
		}
	}
	opening := func(v models.VehicleID, p models.Position, w models.WheelID) {
		out = append(out, models.Fitment{ID: fitmentID(*point(e), t), TireID: t, VehicleID: v, Position: p, WheelID: w, From: *point(e)})
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
