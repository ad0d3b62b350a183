package record

import (
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
)

// wheelsPage lists the wheels of a depot.
type wheelsPage struct {
	Depot  string
	Depots []models.Depot
	Wheels []models.Wheel
	site.ListEnds
	Manages bool
	Zone    say.Clock
}

func (s *room) wheels(r *site.Request) error {
	p := wheelsPage{Depot: r.QueryParam("depot"), Depots: r.Depots, Manages: r.Manages()}
	if p.Depot == "" && len(r.Depots) > 0 {
		p.Depot = string(r.Depots[0].ID)
	}

	if p.Depot != "" {
		list, next, err := s.Fleet.Wheels(r.Ctx(), r.Actor, models.DepotID(p.Depot), r.ListPage(site.PerPage*2))
		if err != nil {
			return err
		}
		p.Wheels, p.Zone = list, r.Clock(r.Depot(models.DepotID(p.Depot)))
		p.ListEnds = r.ListEnds("wheel", "wheels", len(list), next, false)
	}

	return r.Show("wheels", "tires", "Wheels", p)
}
