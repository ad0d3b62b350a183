package work

import (
	"net/http"
	"net/url"
	"slices"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
)

// work is one kind of work that is recorded by a form on a vehicle.
type work struct {
	Kind     string // in the address
	Title    string
	Intro    string
	Cautions func(models.Vehicle) []string
	layout   func(*workForm) []form.Section
	build    func(*workForm) models.Event
}

// workForm is a form being laid out or read.
type workForm struct {
	*form.Entry
	view  fleet.VehicleView
	stock []models.TireWithState // tires in stock at the depot, where the form needs them
}

// workOrder is the order of the kinds of work on the vehicle's page.
var workOrder = []string{
	"rotate",
	"fit",
	"remove",
	"repair",
	"wheel-check",
	"retorque",
	"alignment",
	"service",
	"odometer",
	"vibration",
	"clearance",
}

// works are the kinds of work, by their name in the address.
var works = worksByKind()

func worksByKind() map[string]work {
	out := map[string]work{}
	for _, w := range slices.Concat(wheelWorks(), benchWorks(), plainWorks()) {
		out[w.Kind] = w
	}
	return out
}

func vehicleWorks() []site.WorkLink {
	var out []site.WorkLink
	for _, k := range workOrder {
		out = append(out, site.WorkLink{Kind: k, Title: works[k].Title})
	}
	return out
}

// workPage shows a form.
type workPage struct {
	fleet.VehicleView
	Work     work
	Cautions []string
	Entry    *form.Entry
	Sections []form.Section
}

func (s *room) workOn(r *site.Request, sent url.Values) (work, *workForm, error) {
	w, ok := works[r.Param("kind")]
	if !ok {
		return work{}, nil, models.Errorf(models.NotFound, "there is no form for that kind of work")
	}

	v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return work{}, nil, err
	}

	f := &workForm{Entry: form.NewEntry(sent, r.Units(v.Depot)), view: v}
	if w.Kind == "fit" {
		f.stock, _, err = s.Fleet.Tires(
			r.Ctx(),
			r.Actor,
			models.TireFilter{Depots: []models.DepotID{v.Depot.ID}, Status: models.InStock},
			models.Page{Limit: 500},
		)
	}

	return w, f, err
}

func (s *room) workForm(r *site.Request) error {
	sent := form.Fresh(r.Now)
	for _, name := range []string{"position", "supersedes", "settles"} {
		if v := r.QueryParam(name); v != "" {
			sent.Set(name, v)
		}
	}
	w, f, err := s.workOn(r, sent)
	if err != nil {
		return err
	}
	return s.showWork(r, http.StatusOK, w, f)
}

func (s *room) showWork(r *site.Request, status int, w work, f *workForm) error {
	p := workPage{
		VehicleView: f.view,
		Work:        w,
		Entry:       f.Entry,
		Sections:    append(w.layout(f), f.MetaSection(f.view.Vehicle, f.view.State.Odometer)),
	}
	if w.Cautions != nil {
		p.Cautions = w.Cautions(f.view.Vehicle)
	}
	return r.ShowStatus(status, "work", "vehicles", w.Title+" · "+f.view.Vehicle.Number, p)
}

func (s *room) workDone(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}
	w, f, err := s.workOn(r, sent)
	if err != nil {
		return err
	}

	ev := w.build(f)
	if !f.OK() {
		f.Msg = "Some fields could not be read"
		return s.showWork(r, http.StatusUnprocessableEntity, w, f)
	}

	done, err := s.Fleet.Record(r.Ctx(), r.Actor, ev)
	if err != nil {
		if r.SentBefore(f.Entry, err) || f.ApplyError(err) {
			return s.showWork(r, http.StatusUnprocessableEntity, w, f)
		}
		return err
	}

	said := "done"
	if done.Repeated {
		said = "repeated"
	}

	return r.Redirect(http.StatusSeeOther, "/vehicles/"+string(f.view.Vehicle.ID)+"?said="+said)
}

// header reads what metaSection asks.
func (f *workForm) header() models.Meta {
	m := f.Meta(f.view.Vehicle.ID, say.Zone(f.view.Depot))
	for _, name := range []string{"odometer", "at", "person", "note"} {
		f.MapField(name, name)
	}
	return m
}

// mountedAt lists the places with a tire, and its number.
func (f *workForm) mountedAt() []form.Option {
	var out []form.Option
	for _, t := range f.view.Tires {
		out = append(
			out,
			form.Option{Value: string(t.State.Position), Label: string(t.State.Position) + ", tire " + t.Tire.Number},
		)
	}
	return out
}

func (f *workForm) empty() []models.Position {
	var out []models.Position
	for _, p := range f.view.Vehicle.Positions() {
		if !slices.ContainsFunc(f.view.Tires, func(t models.TireWithState) bool { return t.State.Position == p }) {
			out = append(out, p)
		}
	}
	return out
}
