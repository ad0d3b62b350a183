package web

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"

	"github.com/google/uuid"

	"rimledger/models"
)

func (s *site) mountPeople() {
	s.get("/settings/people", s.people)
	s.get("/settings/people/new", s.newPerson)
	s.post("/settings/people/new", s.addPerson)
	s.get("/settings/people/:id", s.personForm)
	s.post("/settings/people/:id", s.editPerson)
	s.post("/settings/people/:id/password", s.resetPassword)
}

type peoplePage struct {
	People []personLine
}

type personLine struct {
	models.User
	Where []string // names of depots; none: all
}

func (s *site) people(r *request) error {
	list, err := s.Fleet.Users(r.ctx(), r.actor)
	if err != nil {
		return err
	}
	var p peoplePage
	for _, u := range list {
		line := personLine{User: u}
		for _, d := range u.Depots {
			if name := r.depot(d).Name; name != "" {
				line.Where = append(line.Where, name)
			} else {
				line.Where = append(line.Where, "another depot")
			}
		}
		p.People = append(p.People, line)
	}
	return r.render("people", "settings", "People", p)
}

func (r *request) depotOptions() []option {
	var out []option
	for _, d := range r.depots {
		out = append(out, option{Value: string(d.ID), Label: d.Name})
	}
	return out
}

func (s *site) showPerson(r *request, status int, e *entry, u models.User) error {
	sec := section{Legend: "Person", Fields: []field{e.textField("name", "Name", "", ""), e.textField("email", "Email address", "", "to sign in with"),
		e.selectField("role", "Role", "", []option{{Value: "viewer", Label: "viewer: reads"}, {Value: "technician", Label: "technician: records inspections and work"},
			{Value: "manager", Label: "manager: everything"}}),
		e.checksField("depots", "Depots (none ticked means all)", r.depotOptions())}}
	p := formPage{Heading: "New person", Intro: "Give the password by word of mouth; they change it under Settings.", Action: "/settings/people/new", Entry: e}
	if u.ID != "" {
		p.Heading, p.Intro, p.Action, p.Version, p.Person = u.Name, "", "/settings/people/"+string(u.ID), e.version(), &u
		sec.Fields = append(sec.Fields, e.tickField("disabled", "May no longer sign in", "what they recorded is kept"))
	} else {
		sec.Fields = append(sec.Fields, field{Type: "password", Name: "password", Label: "Password", Help: "10 characters at least; empty: cannot sign in yet", Fault: e.Fault("password")})
	}
	p.Sections = []section{sec}
	return s.showForm(r, status, p)
}

func (s *site) newPerson(r *request) error {
	return s.showPerson(r, http.StatusOK, newEntry(url.Values{"id": {uuid.Must(uuid.NewV7()).String()}, "role": {"technician"}}, noUnits), models.User{})
}

// personOf puts what was typed into u; the rest of u stays.
func personOf(e *entry, u models.User) models.User {
	u.Name, u.Email, u.Role, u.Disabled = e.text("name"), e.text("email"), models.Role(e.text("role")), e.ticked("disabled")
	u.Depots = nil
	for _, d := range e.sent["depots"] {
		u.Depots = append(u.Depots, models.DepotID(d))
	}
	for _, name := range []string{"name", "email", "role", "depots", "password"} {
		e.as(name, name)
	}
	return u
}

func (s *site) addPerson(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	e := newEntry(sent, noUnits)
	u := personOf(e, models.User{ID: models.UserID(e.text("id"))})
	if _, err := s.Fleet.AddUser(r.ctx(), r.actor, u, sent.Get("password")); err != nil {
		if e.take(err) {
			return s.showPerson(r, http.StatusUnprocessableEntity, e, models.User{})
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings/people?said=saved")
}

func personValues(u models.User) url.Values {
	v := url.Values{"name": {u.Name}, "email": {u.Email}, "role": {string(u.Role)}, "version": {strconv.FormatInt(u.Version, 10)}}
	for _, d := range u.Depots {
		v.Add("depots", string(d))
	}
	if u.Disabled {
		v.Set("disabled", "1")
	}
	return v
}

func (s *site) personForm(r *request) error {
	u, err := s.Fleet.User(r.ctx(), r.actor, models.UserID(r.Param("id")))
	if err != nil {
		return err
	}
	return s.showPerson(r, http.StatusOK, newEntry(personValues(u), noUnits), u)
}

func (s *site) editPerson(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	old, err := s.Fleet.User(r.ctx(), r.actor, models.UserID(r.Param("id")))
	if err != nil {
		return err
	}
	e := newEntry(sent, noUnits)
	u := personOf(e, old)
	u.Version = e.version()
	if _, err := s.Fleet.EditUser(r.ctx(), r.actor, u); err != nil {
		if errors.Is(err, models.Stale) {
			e.compare(personValues(old))
			return s.showPerson(r, http.StatusConflict, e, old)
		}
		if e.take(err) {
			return s.showPerson(r, http.StatusUnprocessableEntity, e, old)
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings/people?said=saved")
}

func (s *site) resetPassword(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	u, err := s.Fleet.User(r.ctx(), r.actor, models.UserID(r.Param("id")))
	if err != nil {
		return err
	}
	if err := s.Fleet.SetPassword(r.ctx(), r.actor, u.ID, sent.Get("password")); err != nil {
		e := newEntry(personValues(u), noUnits)
		e.as("password", "password")
		if e.take(err) {
			return s.showPerson(r, http.StatusUnprocessableEntity, e, u)
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings/people?said=saved")
}
