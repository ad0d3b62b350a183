package record

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strconv"

	"github.com/google/uuid"

	"rimledger/api/web/form"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// assetForm is how one kind of thing is created and edited by a form: vehicles,
// tires and wheels.
type assetForm[T any] struct {
	nav      string // first part of the address, and the entry of the navigation
	noun     string // vehicle
	intro    string
	title    func(T) string
	blank    T
	depot    func(T) models.DepotID
	stamp    func(*T) *models.Stamp
	get      func(ctx context.Context, a fleet.Actor, id string) (T, error)
	create   func(context.Context, fleet.Actor, T) (T, error)
	edit     func(context.Context, fleet.Actor, T) (T, error)
	sections func(*form.Entry) []form.Section
	values   func(T, units.Style) url.Values
	read     func(*form.Entry, T) T // puts what was typed over a thing
	keys     func(T, string, models.DepotID) T
	page     func(id string, d models.DepotID) string // where it is seen
}

// blankValues returns the values of an empty form of this kind.
func (k assetForm[T]) blankValues(r *site.Request) url.Values {
	v := k.values(k.blank, r.Units(models.Depot{}))
	v.Set("id", uuid.Must(uuid.NewV7()).String())
	v.Set("depot", r.QueryParam("depot"))
	return v
}

func (k assetForm[T]) mount(s *site.Site) {
	s.Get("/"+k.nav+"/new", site.Managing(func(r *site.Request) error {
		return k.show(r, http.StatusOK, form.NewEntry(k.blankValues(r), r.Units(models.Depot{})), nil)
	}))

	s.Post("/"+k.nav+"/new", site.Managing(k.add))

	s.Get("/"+k.nav+"/:id/edit", site.Managing(func(r *site.Request) error {
		v, err := k.get(r.Ctx(), r.Actor, r.Param("id"))
		if err != nil {
			return err
		}
		u := r.Units(r.Depot(k.depot(v)))
		return k.show(r, http.StatusOK, form.NewEntry(k.stamped(v, u), u), &v)
	}))

	s.Post("/"+k.nav+"/:id/edit", site.Managing(k.change))
}

func (k assetForm[T]) stamped(v T, u units.Style) url.Values {
	out := k.values(v, u)
	out.Set("version", strconv.FormatInt(k.stamp(&v).Version, 10))
	return out
}

// show writes the form; v is nil for a new thing.
func (k assetForm[T]) show(r *site.Request, status int, e *form.Entry, v *T) error {
	p := site.FormPage{
		Heading:  "New " + k.noun,
		Intro:    k.intro,
		Action:   "/" + k.nav + "/new",
		Entry:    e,
		Sections: k.sections(e),
		Back:     "/" + k.nav,
		BackText: models.Capitalize(k.nav),
		Nav:      k.nav,
	}

	if v == nil {
		where := form.Section{
			Legend: "Where it belongs",
			Fields: []form.Field{e.SelectField("depot", "Depot", "choose", r.DepotOptions())},
		}
		p.Sections = append([]form.Section{where}, p.Sections...)
	} else {
		p.Heading, p.Action, p.Version = "Edit "+k.title(*v), "/"+k.nav+"/"+r.Param("id")+"/edit", e.Version()
		p.Back, p.BackText = k.page(r.Param("id"), k.depot(*v)), "Back to "+k.title(*v)
	}

	return r.Site.ShowForm(r, status, p)
}

func (k assetForm[T]) add(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}
	e := form.NewEntry(sent, r.Units(models.Depot{}))
	v := k.read(e, k.keys(k.blank, e.Text("id"), models.DepotID(e.Text("depot"))))

	if e.Text("depot") == "" {
		e.AddFault("depot", "choose the depot that it belongs to")
	}

	if !e.OK() {
		e.Msg = "Some fields could not be read"
		return k.show(r, http.StatusUnprocessableEntity, e, nil)
	}

	if _, err := k.create(r.Ctx(), r.Actor, v); err != nil {
		if e.ApplyError(err) {
			return k.show(r, http.StatusUnprocessableEntity, e, nil)
		}
		return err
	}

	return r.Redirect(
		http.StatusSeeOther,
		site.WithNotice(k.page(e.Text("id"), models.DepotID(e.Text("depot"))), "saved"),
	)
}

func (k assetForm[T]) change(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	old, err := k.get(r.Ctx(), r.Actor, r.Param("id"))
	if err != nil {
		return err
	}
	u := r.Units(r.Depot(k.depot(old)))
	e := form.NewEntry(sent, u)
	v := k.read(e, old)
	k.stamp(&v).Version = e.Version()

	if !e.OK() {
		e.Msg = "Some fields could not be read"
		return k.show(r, http.StatusUnprocessableEntity, e, &old)
	}

	_, err = k.edit(r.Ctx(), r.Actor, v)
	switch {
	case errors.Is(err, models.Stale):
		e.ShowConflict(k.stamped(old, u))
		return k.show(r, site.StatusOf(err), e, &old)
	case err != nil && e.ApplyError(err):
		return k.show(r, http.StatusUnprocessableEntity, e, &old)
	case err != nil:
		return err
	}

	return r.Redirect(http.StatusSeeOther, site.WithNotice(k.page(r.Param("id"), k.depot(old)), "saved"))
}
