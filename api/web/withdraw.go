package web

import (
	"net/http"
	"strings"

	"rimledger/models"
	"rimledger/models/fleet"
)

// withdrawLoose shows the form that withdraws an entry about a tire made off any
// vehicle; entries about a vehicle have their form there.
func (s *site) withdrawLoose(r *request) error {
	sent := fresh(r.now)
	sent.Set("supersedes", r.QueryParam("supersedes"))
	view, err := s.Fleet.Tire(r.ctx(), r.actor, models.TireID(r.Param("id")))
	if err != nil {
		return err
	}
	return s.showWithdraw(r, http.StatusOK, newEntry(sent, r.units(r.depot(view.Tire.DepotID))), view)
}

func (s *site) showWithdraw(r *request, status int, e *entry, view fleet.TireView) error {
	events, _, err := s.Fleet.Events(r.ctx(), r.actor, models.EventFilter{TireID: view.Tire.ID}, models.Page{Limit: 200})
	if err != nil {
		return err
	}
	var loose []option
	z := r.clock(r.depot(view.Tire.DepotID))
	for _, x := range events {
		if h := x.Header(); h.VehicleID == "" {
			loose = append(loose, option{Value: string(h.ID), Label: strings.Join(append([]string{z.moment(h.At), eventName(x.Kind())}, tell(x, e.units)...), ", ")})
		}
	}
	which := section{Legend: "Which and why", Fields: []field{e.selectField("supersedes", "Entry", "choose", loose), e.areaField("reason", "Why it is withdrawn", "")}}
	if len(loose) == 0 {
		which.Hint = "Nothing was recorded of this tire off a vehicle."
	}
	return s.showForm(r, status, formPage{Heading: "Withdraw an entry of tire " + view.Tire.Number, Intro: withdrawIntro, Action: "/tires/" + r.Param("id") + "/withdraw", Entry: e,
		Back: "/tires/" + r.Param("id"), BackText: "Tire " + view.Tire.Number, Nav: "tires", Sections: []section{which, whenAndWho(e)}})
}

func (s *site) withdrawnLoose(r *request) error {
	return s.recordLoose(r, s.showWithdraw, func(e *entry, m models.Meta, _ models.TireID) models.Event {
		e.same("at", "person", "note")
		return withdrawn(e, m)
	})
}

// recordLoose records what a form says of a tire off any vehicle, or shows the form
// again with what is wrong.
func (s *site) recordLoose(r *request, show func(*request, int, *entry, fleet.TireView) error, read func(*entry, models.Meta, models.TireID) models.Event) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	view, err := s.Fleet.Tire(r.ctx(), r.actor, models.TireID(r.Param("id")))
	if err != nil {
		return err
	}
	d := r.depot(view.Tire.DepotID)
	e := newEntry(sent, r.units(d))
	ev := read(e, e.meta("", zone(d)), view.Tire.ID)
	if !e.ok() {
		e.Msg = "Some fields could not be read"
		return show(r, http.StatusUnprocessableEntity, e, view)
	}
	if _, err := s.Fleet.Record(r.ctx(), r.actor, ev); err != nil {
		if r.sentBefore(e, err) || e.take(err) {
			return show(r, http.StatusUnprocessableEntity, e, view)
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/tires/"+r.Param("id")+"?said=done")
}

// whenAndWho asks what every entry about a tire off any vehicle says.
func whenAndWho(f *entry) section {
	return section{Legend: "When and who", Fields: []field{{Type: "time", Name: "at", Label: "When, if not now", Value: f.Value("at"), Fault: f.Fault("at")},
		f.textField("person", "Who, if not you", "", ""), f.areaField("note", "Note", "")}}
}
