package web

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// thingForm is how one kind of thing is created and edited by a form: vehicles,
// tires and wheels.
type thingForm[T any] struct {
	nav      string // first part of the address, and the entry of the navigation
	word     string // vehicle
	intro    string
	title    func(T) string
	blank    T
	depot    func(T) models.DepotID
	stamp    func(*T) *models.Stamp
	get      func(ctx context.Context, a fleet.Actor, id string) (T, error)
	create   func(context.Context, fleet.Actor, T) (T, error)
	edit     func(context.Context, fleet.Actor, T) (T, error)
	sections func(*entry) []section
	values   func(T, units.Style) url.Values
	read     func(*entry, T) T // puts what was typed over a thing
	keys     func(T, string, models.DepotID) T
	page     func(id string, d models.DepotID) string // where it is seen
}

// blankValues are what an empty form of this kind holds.
func (k thingForm[T]) blankValues(r *request) url.Values {
	v := k.values(k.blank, r.units(models.Depot{}))
	v.Set("id", uuid.Must(uuid.NewV7()).String())
	v.Set("depot", r.QueryParam("depot"))
	return v
}

func (k thingForm[T]) mount(s *site) {
	s.get("/"+k.nav+"/new", managing(func(r *request) error {
		return k.show(r, http.StatusOK, newEntry(k.blankValues(r), r.units(models.Depot{})), nil)
	}))
	s.post("/"+k.nav+"/new", managing(k.add))
	s.get("/"+k.nav+"/:id/edit", managing(func(r *request) error {
		v, err := k.get(r.ctx(), r.actor, r.Param("id"))
		if err != nil {
			return err
		}
		u := r.units(r.depot(k.depot(v)))
		return k.show(r, http.StatusOK, newEntry(k.stamped(v, u), u), &v)
	}))
	s.post("/"+k.nav+"/:id/edit", managing(k.change))
}

// managing answers with h those who may manage; the use-cases would refuse the others later.
func managing(h handler) handler {
	return func(r *request) error {
		if !r.manages() {
			return models.Errorf(models.Forbidden, "a %s may not change vehicles, tires and wheels; ask a manager", r.actor.User.Role)
		}
		return h(r)
	}
}

func (k thingForm[T]) stamped(v T, u units.Style) url.Values {
	out := k.values(v, u)
	out.Set("version", strconv.FormatInt(k.stamp(&v).Version, 10))
	return out
}

// show writes the form; v is nil for a new thing.
func (k thingForm[T]) show(r *request, status int, e *entry, v *T) error {
	p := formPage{Heading: "New " + k.word, Intro: k.intro, Action: "/" + k.nav + "/new", Entry: e, Sections: k.sections(e), Back: "/" + k.nav, BackText: title(k.nav), Nav: k.nav}
	if v == nil {
		where := section{Legend: "Where it belongs", Fields: []field{e.selectField("depot", "Depot", "choose", r.depotOptions())}}
		p.Sections = append([]section{where}, p.Sections...)
	} else {
		p.Heading, p.Action, p.Version = "Edit "+k.title(*v), "/"+k.nav+"/"+r.Param("id")+"/edit", e.version()
		p.Back, p.BackText = k.page(r.Param("id"), k.depot(*v)), "Back to "+k.title(*v)
	}
	return r.site.showForm(r, status, p)
}

func title(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(s[:n]) + s[n:]
}

func (k thingForm[T]) add(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	e := newEntry(sent, r.units(models.Depot{}))
	v := k.read(e, k.keys(k.blank, e.text("id"), models.DepotID(e.text("depot"))))
	if e.text("depot") == "" {
		e.fault("depot", "choose the depot that it belongs to")
	}
	if !e.ok() {
		e.Msg = "Some fields could not be read"
		return k.show(r, http.StatusUnprocessableEntity, e, nil)
	}
	if _, err := k.create(r.ctx(), r.actor, v); err != nil {
		if e.take(err) {
			return k.show(r, http.StatusUnprocessableEntity, e, nil)
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, said(k.page(e.text("id"), models.DepotID(e.text("depot"))), "saved"))
}

// said adds what was just done to an address.
func said(to, what string) string {
	if strings.Contains(to, "?") {
		return to + "&said=" + what
	}
	return to + "?said=" + what
}

func (k thingForm[T]) change(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	old, err := k.get(r.ctx(), r.actor, r.Param("id"))
	if err != nil {
		return err
	}
	u := r.units(r.depot(k.depot(old)))
	e := newEntry(sent, u)
	v := k.read(e, old)
	k.stamp(&v).Version = e.version()
	if !e.ok() {
		e.Msg = "Some fields could not be read"
		return k.show(r, http.StatusUnprocessableEntity, e, &old)
	}
	_, err = k.edit(r.ctx(), r.actor, v)
	switch {
	case errors.Is(err, models.Stale):
		e.compare(k.stamped(old, u))
		return k.show(r, http.StatusConflict, e, &old)
	case err != nil && e.take(err):
		return k.show(r, http.StatusUnprocessableEntity, e, &old)
	case err != nil:
		return err
	}
	return r.Redirect(http.StatusSeeOther, said(k.page(r.Param("id"), k.depot(old)), "saved"))
}

// as many: each name is its own field in the form.
func (e *entry) same(names ...string) {
	for _, n := range names {
		e.as(n, n)
	}
}

// yes is how a tick box holds a truth.
func yes(b bool) string {
	if b {
		return "1"
	}
	return ""
}

// positive writes a number, and nothing for zero, which means not known.
func positive(n float64, u units.Style) string {
	if n == 0 {
		return ""
	}
	return u.WriteAsTyped(strconv.FormatFloat(n, 'f', -1, 64))
}

func money(cents int64, u units.Style) string {
	if cents == 0 {
		return ""
	}
	return u.WriteNumber(float64(cents)/100, 2)
}

// parts splits a list typed with semicolons, or with commas where these part no
// decimals.
func (e *entry) parts(name string) []string {
	text := e.text(name)
	if e.units.Plain("1,5") == "1.5" {
		text = strings.ReplaceAll(text, ", ", "; ")
	} else {
		text = strings.ReplaceAll(text, ",", ";")
	}
	var out []string
	for p := range strings.SplitSeq(text, ";") {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}

// depths reads a list of depths, one a groove.
func (e *entry) depths(name string) []units.Length {
	var out []units.Length
	for _, text := range e.parts(name) {
		d, err := units.ParseDepth(e.units.Plain(text), e.units.Depth)
		if err != nil {
			e.fault(name, remedy(err))
			return nil
		}
		out = append(out, d)
	}
	return out
}

func depthsText(list []units.Length, u units.Style) string {
	var out []string
	for _, l := range list {
		out = append(out, u.WriteDepth(l))
	}
	return strings.Join(out, "; ")
}
