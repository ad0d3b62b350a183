package history

import (
	"rimledger/models"
	"rimledger/models/wear"
)

// Fitments returns the fitments of a tire that e, an event of vehicle v, opens
// or closes, given the state s before e. IDs derive from the event, so a replay finds
// the same ones.
func Fitments(t models.Tire, v models.Vehicle, s models.TireState, e models.Event) []models.Fitment {
	var out []models.Fitment
	closeRunning := func() {
		if s.PlacedAt == nil {
			return
		}
		out = append(out, models.Fitment{
			ID:        fitmentID(*s.PlacedAt, t.ID),
			TireID:    t.ID,
			VehicleID: s.VehicleID,
			Position:  s.Position,
			WheelID:   s.WheelID,
			From:      *s.PlacedAt,
			To:        point(e),
			Wear:      Wear(t, v, s),
		})
	}

	open := func(v models.VehicleID, p models.Position, w models.WheelID) {
		out = append(out, models.Fitment{
			ID:        fitmentID(*point(e), t.ID),
			TireID:    t.ID,
			VehicleID: v,
			Position:  p,
			WheelID:   w,
			From:      *point(e),
		})
	}

	// All other events leave a tire where it is.
	switch e := e.(type) {
	case *models.Fit:
		for _, f := range e.Fittings {
			if f.TireID == t.ID {
				open(e.VehicleID, f.Position, f.WheelID)
			}
		}
	case *models.Removal:
		for _, r := range e.Removed {
			if r.TireID == t.ID {
				closeRunning()
			}
		}
	case *models.Rotation:
		for _, m := range e.Moves {
			if m.TireID == t.ID {
				closeRunning()
				open(e.VehicleID, m.To, s.WheelID)
			}
		}
	}

	return out
}

// fitmentID joins the event that began the fitment with the tire.
func fitmentID(from models.Point, t models.TireID) models.FitmentID {
	return models.FitmentID(string(from.EventID) + "/" + string(t))
}

// Wear returns the wear rate of the running fitment of a tire in state s on vehicle v, in
// mm per 1000 km, with its standard error. It returns nil if the readings give none yet,
// and for a spare, which does not roll.
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
