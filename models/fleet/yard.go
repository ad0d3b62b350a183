package fleet

import (
	"context"

	"rimledger/models"
	"rimledger/models/access"
)

// Yard lists the vehicles of a depot by number, each with its tires and legal
// minimums but without its findings: what a phone keeps to work without a
// network. It returns a NotFound error for a depot that a does not see.
func (s *Service) Yard(ctx context.Context, a Actor, d models.DepotID, p models.Page) ([]VehicleView, string, error) {
	now := s.now()
	l, err := readAs(ctx, s, a, access.View, references(d), func(r models.Reader) (listed[VehicleView], error) {
		rows, next, err := r.Vehicles(ctx, models.VehicleFilter{Depots: []models.DepotID{d}}, p)
		if err != nil {
			return listed[VehicleView]{}, err
		}
		out := listed[VehicleView]{next: next}

		scenes, err := loadScenes(ctx, r, rows)
		if err != nil {
			return listed[VehicleView]{}, err
		}

		for i, result := range assessAll(scenes, now) {
			out.items = append(out.items, scenes[i].view(rows[i].Standing, result))
		}

		return out, nil
	})

	return l.items, l.next, err
}
