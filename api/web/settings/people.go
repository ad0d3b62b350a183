package settings

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"

	"github.com/google/uuid"

	"rimledger/api/web/form"
	"rimledger/api/web/site"
	"rimledger/models"
)

type peoplePage struct {
	People []personLine
}

type personLine struct {
	models.User
	Where []string // names of depots; none: all
}

func (s *room) people(r *site.Request) error {
	list, err := s.Fleet.Users(r.Ctx(), r.Actor)
	if err != nil {
		return err
	}

	var p peoplePage
	for _, u := range list {
		line := personLine{User: u}
		for _, d := range u.Depots {
			line.Where = append(line.Where, r.Depot(d).Name)
		}

		p.People = append(p.People, line)
	}

	return r.Show("people", "settings", "People", p)
}

func (s *room) showPerson(r *site.Request, status int, e *form.Entry, u models.User) error {
	sec := form.Section{
		Legend: "Person",
		Fields: []form.Field{
			e.TextField("name", "Name", "", ""),
			e.TextField("email", "Email address", "", "to sign in with"),
			e.SelectField(
				"role",
				"Role",
				"",
				[]form.Option{
					{Value: "viewer", Label: "viewer: reads"},
					{Value: "technician", Label: "technician: records inspections and work"},
					{Value: "manager", Label: "manager: everything"},
				},
			),
			e.ChecksField("depots", "Depots (none ticked means all)", r.DepotOptions()),
		},
	}

	p := site.FormPage{
		Heading: "New person",
		Intro:   "Give the password by word of mouth; they change it under Settings.",
		Action:  "/settings/people/new",
		Entry:   e,
	}

	if u.ID != "" {
		p.Heading, p.Intro, p.Action = u.Name, "", "/settings/people/"+string(u.ID)
		p.Version, p.Person = e.Version(), &u
		sec.Fields = append(sec.Fields, e.TickField("disabled", "May no longer sign in", "what they recorded is kept"))
	} else {
		sec.Fields = append(sec.Fields, form.Field{
			Type:  "password",
			Name:  "password",
			Label: "Password",
			Help:  "10 characters at least; empty: cannot sign in yet",
			Fault: e.Fault("password"),
		})
	}

	p.Sections = []form.Section{sec}
	return s.ShowForm(r, status, p)
}

func (s *room) newPerson(r *site.Request) error {
	if err := r.Actor.MayAddUser(); err != nil {
		return err
	}

	return s.showPerson(
		r,
		http.StatusOK,
		form.NewEntry(url.Values{"id": {uuid.Must(uuid.NewV7()).String()}, "role": {"technician"}}, form.NoUnits),
		models.User{},
	)
}

// personOf puts what was typed into u; the rest of u stays.
func personOf(e *form.Entry, u models.User) models.User {
	u.Name, u.Email = e.Text("name"), e.Text("email")
	u.Role, u.Disabled = models.Role(e.Text("role")), e.Ticked("disabled")

	u.Depots = nil
	for _, d := range e.Sent["depots"] {
		u.Depots = append(u.Depots, models.DepotID(d))
	}

	for _, name := range []string{"name", "email", "role", "depots", "password"} {
		e.MapField(name, name)
	}
	return u
}

func (s *room) addPerson(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}
	e := form.NewEntry(sent, form.NoUnits)

	u := personOf(e, models.User{ID: models.UserID(e.Text("id"))})
	if _, err := s.Fleet.AddUser(r.Ctx(), r.Actor, u, sent.Get("password")); err != nil {
		if e.ApplyError(err) {
			return s.showPerson(r, http.StatusUnprocessableEntity, e, models.User{})
		}
		return err
	}

	return r.Redirect(http.StatusSeeOther, "/settings/people?said=saved")
}

func personValues(u models.User) url.Values {
	v := url.Values{
		"name":    {u.Name},
		"email":   {u.Email},
		"role":    {string(u.Role)},
		"version": {strconv.FormatInt(u.Version, 10)},
	}

	for _, d := range u.Depots {
		v.Add("depots", string(d))
	}

	if u.Disabled {
		v.Set("disabled", "1")
	}
	return v
}

func (s *room) personForm(r *site.Request) error {
	u, err := s.Fleet.User(r.Ctx(), r.Actor, models.UserID(r.Param("id")))
	if err != nil {
		return err
	}
	return s.showPerson(r, http.StatusOK, form.NewEntry(personValues(u), form.NoUnits), u)
}

func (s *room) editPerson(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	old, err := s.Fleet.User(r.Ctx(), r.Actor, models.UserID(r.Param("id")))
	if err != nil {
		return err
	}

	e := form.NewEntry(sent, form.NoUnits)
	u := personOf(e, old)

	u.Version = e.Version()
	if _, err := s.Fleet.EditUser(r.Ctx(), r.Actor, u); err != nil {
		if errors.Is(err, models.Stale) {
			e.ShowConflict(personValues(old))
			return s.showPerson(r, site.StatusOf(err), e, old)
		}
		if e.ApplyError(err) {
			return s.showPerson(r, http.StatusUnprocessableEntity, e, old)
		}
		return err
	}

	return r.Redirect(http.StatusSeeOther, "/settings/people?said=saved")
}

func (s *room) resetPassword(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	u, err := s.Fleet.User(r.Ctx(), r.Actor, models.UserID(r.Param("id")))
	if err != nil {
		return err
	}

	if err := s.Fleet.SetPassword(r.Ctx(), r.Actor, u.ID, sent.Get("password")); err != nil {
		e := form.NewEntry(personValues(u), form.NoUnits)
		e.MapField("password", "password")
		if e.ApplyError(err) {
			return s.showPerson(r, http.StatusUnprocessableEntity, e, u)
		}
		return err
	}

	return r.Redirect(http.StatusSeeOther, "/settings/people?said=saved")
}
