package desk

import (
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
)

// orderPage is how many tires each depot will need, by size and month.
type orderPage struct {
	Depots []fleet.DepotOrder
}

// orderMonths is how many months the page shows: what still fits a small screen.
const orderMonths = 6

func (s *room) order(r *site.Request) error {
	var depots []models.DepotID
	if d := r.QueryParam("depot"); d != "" {
		depots = []models.DepotID{models.DepotID(d)}
	}
	list, err := s.Fleet.TiresToOrder(r.Ctx(), r.Actor, depots, orderMonths)
	if err != nil {
		return err
	}
	return r.Show("order", "attention", "Tires to order", orderPage{list})
}
