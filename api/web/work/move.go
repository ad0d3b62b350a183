package work

import (
	"net/http"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
)

// moveTargets are where a tire that is on no vehicle can go.
var moveTargets = []form.Option{
	{Value: string(models.InStock), Label: "into stock"},
	{Value: string(models.AtRetreader), Label: "to the retreader"},
	{Value: string(models.Scrapped), Label: "scrapped, for good"},
}

func (s *room) moveForm(r *site.Request) error {
	view, err := s.Fleet.Tire(r.Ctx(), r.Actor, models.TireID(r.Param("id")))
	if err != nil {
		return err
	}
	return s.showMove(r, http.StatusOK, form.NewEntry(form.Fresh(r.Now), r.Units(r.Depot(view.Tire.DepotID))), view)
}

func (s *room) showMove(r *site.Request, status int, e *form.Entry, view fleet.TireView) error {
	fields := []form.Field{
		e.SelectField("to", "Where", "choose", moveTargets),
		e.SelectField("scrap", "If scrapped, why", "–", form.CodeOptions(models.RemovalReasons...)),
	}

	if view.State.Status == models.AtRetreader {
		fields = append(
			fields,
			e.TextField(
				"new_depths",
				"If it comes back retreaded, the new depth of each groove",
				say.UnitWord(e.Units.Depth),
				"separated by semicolons, outer first",
			),
			e.NumberField("cost", "Cost of the retread", "in the depot's currency"),
		)
	}

	p := site.FormPage{
		Heading:  "Move tire " + view.Tire.Number,
		Intro:    "It is " + say.Plain(string(view.State.Status)) + " now. First take a tire off its vehicle.",
		Action:   "/tires/" + r.Param("id") + "/move",
		Entry:    e,
		Back:     "/tires/" + r.Param("id"),
		BackText: "Tire " + view.Tire.Number,
		Nav:      "tires",
		Sections: []form.Section{{Legend: "Move", Fields: fields}, whenAndWho(e)},
	}

	return s.ShowForm(r, status, p)
}

func (s *room) moveDone(r *site.Request) error {
	return s.recordLoose(r, s.showMove, func(e *form.Entry, m models.Meta, t models.TireID) models.Event {
		ev := &models.TireMove{
			Meta:      m,
			TireID:    t,
			To:        models.TireStatus(e.Text("to")),
			NewDepths: e.Depths("new_depths"),
			CostCents: e.Cents("cost"),
		}
		if ev.To == models.Scrapped {
			ev.Scrap = models.RemovalReason(e.Text("scrap"))
		}

		e.MapFields("to", "scrap", "new_depths", "at", "person", "note")
		e.MapField("tire_id", "to")
		e.MapField("cost_cents", "cost")
		return ev
	})
}
