package record

import (
	"slices"
	"time"

	"rimledger/api/web/draw"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// vehicleTrend is the trend of one place of a vehicle, and the places to choose from.
type vehicleTrend struct {
	At     models.Position
	Places []models.Position
	Trend  *draw.Trend
}

// vehicleTrend shows the place that the address asks for; without one, that of
// the most urgent finding, or the first with a tire. It returns nil for a
// vehicle without tires.
func (s *room) vehicleTrend(r *site.Request, v fleet.VehicleView, u units.Style, now time.Time) (*vehicleTrend, error) {
	var t vehicleTrend
	for _, p := range v.Vehicle.Positions() {
		if !p.IsSpare() &&
			slices.ContainsFunc(v.Tires, func(tire models.TireWithState) bool { return tire.State.Position == p }) {
			t.Places = append(t.Places, p)
		}
	}

	if len(t.Places) == 0 {
		return nil, nil
	}

	t.At = t.Places[0]
	for _, f := range v.Findings { // most urgent first
		if slices.Contains(t.Places, f.Position) {
			t.At = f.Position
			break
		}
	}

	if asked := models.Position(r.QueryParam("at")); slices.Contains(t.Places, asked) {
		t.At = asked
	}
	o, err := s.Fleet.PlaceOutlook(r.Ctx(), r.Actor, v.Vehicle.ID, t.At)
	t.Trend = draw.NewTrend(o, u, now)
	return &t, err
}
