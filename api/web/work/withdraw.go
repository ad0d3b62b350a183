package work

import (
	"net/http"
	"strings"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
)

// withdrawLoose shows the form that withdraws an entry about a tire made off any
// vehicle; entries about a vehicle have their form there.
func (s *room) withdrawLoose(r *site.Request) error {
	sent := form.Fresh(r.Now)
	sent.Set("supersedes", r.QueryParam("supersedes"))
	view, err := s.Fleet.Tire(r.Ctx(), r.Actor, models.TireID(r.Param("id")))
	if err != nil {
		return err
	}
	return s.showWithdraw(r, http.StatusOK, form.NewEntry(sent, r.Units(r.Depot(view.Tire.DepotID))), view)
}

func (s *room) showWithdraw(r *site.Request, status int, e *form.Entry, view fleet.TireView) error {
	events, _, err := s.Fleet.Events(
		r.Ctx(), r.Actor, models.EventFilter{TireID: view.Tire.ID}, models.Page{Limit: 200},
	)
	if err != nil {
		return err
	}

	var loose []form.Option

	z := r.Clock(r.Depot(view.Tire.DepotID))
	for _, x := range events {
		if h := x.Header(); h.VehicleID == "" {
			loose = append(
				loose,
				form.Option{
					Value: string(h.ID),
					Label: strings.Join(
						append([]string{z.Moment(h.At), say.EventName(x.Kind())}, say.DescribeEvent(x, e.Units)...),
						", ",
					),
				},
			)
		}
	}

	which := form.Section{
		Legend: "Which and why",
		Fields: []form.Field{
			e.SelectField("supersedes", "Entry", "choose", loose),
			e.AreaField("reason", "Why it is withdrawn", ""),
		},
	}

	if len(loose) == 0 {
		which.Hint = "Nothing was recorded of this tire off a vehicle."
	}
	return s.ShowForm(
		r,
		status,
		site.FormPage{
			Heading:  "Withdraw an entry of tire " + view.Tire.Number,
			Intro:    withdrawIntro,
			Action:   "/tires/" + r.Param("id") + "/withdraw",
			Entry:    e,
			Back:     "/tires/" + r.Param("id"),
			BackText: "Tire " + view.Tire.Number,
			Nav:      "tires",
			Sections: []form.Section{which, whenAndWho(e)},
		},
	)
}

func (s *room) withdrawnLoose(r *site.Request) error {
	return s.recordLoose(r, s.showWithdraw, func(e *form.Entry, m models.Meta, _ models.TireID) models.Event {
		e.MapFields("at", "person", "note")
		return withdrawn(e, m)
	})
}

// recordLoose records what a form says of a tire off any vehicle, or shows the form
// again with what is wrong.
func (s *room) recordLoose(
	r *site.Request,
	show func(*site.Request, int, *form.Entry, fleet.TireView) error,
	read func(*form.Entry, models.Meta, models.TireID) models.Event,
) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	view, err := s.Fleet.Tire(r.Ctx(), r.Actor, models.TireID(r.Param("id")))
	if err != nil {
		return err
	}
	d := r.Depot(view.Tire.DepotID)
	e := form.NewEntry(sent, r.Units(d))
	ev := read(e, e.Meta("", say.Zone(d)), view.Tire.ID)

	if !e.OK() {
		e.Msg = "Some fields could not be read"
		return show(r, http.StatusUnprocessableEntity, e, view)
	}

	if _, err := s.Fleet.Record(r.Ctx(), r.Actor, ev); err != nil {
		if r.SentBefore(e, err) || e.ApplyError(err) {
			return show(r, http.StatusUnprocessableEntity, e, view)
		}
		return err
	}

	return r.Redirect(http.StatusSeeOther, "/tires/"+r.Param("id")+"?said=done")
}

// whenAndWho asks what every entry about a tire off any vehicle says.
func whenAndWho(f *form.Entry) form.Section {
	return form.Section{
		Legend: "When and who",
		Fields: []form.Field{
			{Type: "time", Name: "at", Label: "When, if not now", Value: f.Value("at"), Fault: f.Fault("at")},
			f.TextField("person", "Who, if not you", "", ""),
			f.AreaField("note", "Note", ""),
		},
	}
}
