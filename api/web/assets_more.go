package web

import (
	"net/http"

	"rimledger/models"
	"rimledger/models/fleet"
)

// wheelsPage lists the wheels of a depot.
type wheelsPage struct {
	Depot  string
	Depots []models.Depot
	Wheels []models.Wheel
	listEnds
	Manages bool
	Zone    clock
}

func (s *site) wheels(r *request) error {
	p := wheelsPage{Depot: r.QueryParam("depot"), Depots: r.depots, Manages: r.manages()}
	if p.Depot == "" && len(r.depots) > 0 {
		p.Depot = string(r.depots[0].ID)
	}
	if p.Depot != "" {
		list, next, err := s.Fleet.Wheels(r.ctx(), r.actor, models.DepotID(p.Depot), r.page(perPage*2))
		if err != nil {
			return err
		}
		p.Wheels, p.Zone = list, r.clock(r.depot(models.DepotID(p.Depot)))
		p.listEnds = r.ends("wheel", "wheels", len(list), next, false)
	}
	return r.render("wheels", "tires", "Wheels", p)
}

// moveTargets are where a tire that is on no vehicle can go.
var moveTargets = []option{{Value: string(models.InStock), Label: "into stock"}, {Value: string(models.AtRetreader), Label: "to the retreader"}, {Value: string(models.Scrapped), Label: "scrapped, for good"}}

func (s *site) moveForm(r *request) error {
	view, err := s.Fleet.Tire(r.ctx(), r.actor, models.TireID(r.Param("id")))
	if err != nil {
		return err
	}
	return s.showMove(r, http.StatusOK, newEntry(fresh(r.now), r.units(r.depot(view.Tire.DepotID))), view)
}

func (s *site) showMove(r *request, status int, e *entry, view fleet.TireView) error {
	fields := []field{e.selectField("to", "Where", "choose", moveTargets), e.selectField("scrap", "If scrapped, why", "–", codes(models.RemovalReasons...))}
	if view.State.Status == models.AtRetreader {
		fields = append(fields, e.textField("new_depths", "If it comes back retreaded, the new depth of each groove", unitWord(e.units.Depth), "separated by semicolons, outer first"),
			e.numberField("cost", "Cost of the retread", "in the depot's currency"))
	}
	p := formPage{Heading: "Move tire " + view.Tire.Number, Intro: "It is " + plain(string(view.State.Status)) + " now. A tire on a vehicle is taken off there first.",
		Action: "/tires/" + r.Param("id") + "/move", Entry: e, Back: "/tires/" + r.Param("id"), BackText: "Tire " + view.Tire.Number, Nav: "tires",
		Sections: []section{{Legend: "Move", Fields: fields}, whenAndWho(e)}}
	return s.showForm(r, status, p)
}

func (s *site) moveDone(r *request) error {
	return s.recordLoose(r, s.showMove, func(e *entry, m models.Meta, t models.TireID) models.Event {
		ev := &models.TireMove{Meta: m, TireID: t, To: models.TireStatus(e.text("to")), NewDepths: e.depths("new_depths"), CostCents: e.cents("cost")}
		if ev.To == models.Scrapped {
			ev.Scrap = models.RemovalReason(e.text("scrap"))
		}
		e.same("to", "scrap", "new_depths", "at", "person", "note")
		e.as("tire_id", "to")
		e.as("cost_cents", "cost")
		return ev
	})
}
