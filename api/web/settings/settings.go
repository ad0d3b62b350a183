package settings

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/google/uuid"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/notation"
	"rimledger/models/units"
)

// settingsPage is a person's own settings and the way to the others.
type settingsPage struct {
	Entry   *form.Entry
	Units   form.Section
	Tokens  []models.Token
	Token   form.Section
	Secret  string // of a token just made, or an address with one: shown once
	Feed    bool   // Secret is an address of the calendar
	NewID   string // of the token or address made next: a double submit makes one
	Depots  []models.Depot
	Manages bool
	Now     time.Time
	Zone    say.Clock
}

func (s *room) settings(r *site.Request) error {
	return s.showSettings(r, http.StatusOK, form.NewEntry(url.Values{"days": {"365"}}, form.NoUnits), "")
}

func (s *room) showSettings(r *site.Request, status int, e *form.Entry, secret string) error {
	tokens, err := s.Fleet.Tokens(r.Ctx(), r.Actor)
	if err != nil {
		return err
	}

	p := settingsPage{
		Entry:   e,
		Tokens:  tokens,
		NewID:   newTokenID(),
		Secret:  secret,
		Feed:    strings.Contains(secret, "/calendar.ics"),
		Depots:  r.Depots,
		Manages: r.Administers(),
		Now:     r.Now,
		Zone:    r.Clock(models.Depot{}),
	}

	if len(r.Depots) > 0 {
		p.Zone = r.Clock(r.Depots[0])
	}
	if u := r.Actor.User.Units; u != nil && e.Text("depth") == "" {
		setUnitValues(e.Sent, *u)
	}
	if !e.Sent.Has("notation") {
		e.Sent.Set("notation", r.Actor.User.Notation)
	}

	p.Units = form.Section{
		Legend: "Units, numbers and dates",
		Hint: "Units are those of each depot unless you choose your own. What was typed is kept as it was typed; " +
			"your own unit is shown beside it.",
		Fields: append(
			unitFields(e, "as the depot"),
			e.SelectField("notation", "Numbers and dates as in", "as my browser asks", notations(r.Now)),
		),
	}

	p.Token = form.Section{
		Legend: "Make an API token",
		Hint:   "A program acts with it as you. It is shown once.",
		Fields: []form.Field{
			e.TextField("name", "What it is for", "", ""),
			e.NumberField("days", "Valid for", "days"),
			e.TickField("read_only", "May only read", ""),
		},
	}

	return r.ShowStatus(status, "settings", "settings", "Settings", p)
}

// notations offers the countries with how each writes.
func notations(now time.Time) []form.Option {
	var out []form.Option
	for _, c := range notation.Choices {
		if n, ok := notation.For(c.Tag); ok {
			out = append(
				out,
				form.Option{
					Value: c.Tag,
					Label: fmt.Sprintf(
						"%s: %s, %s, %s", c.Country, n.Date(now), n.Time(now), n.Number("12345.6", true),
					),
				},
			)
		}
	}

	return out
}

// unitFields offers the units; empty names the choice of none, if there is one.
func unitFields(f *form.Entry, empty string) []form.Field {
	return []form.Field{
		f.SelectField(
			"depth",
			"Depth",
			empty,
			[]form.Option{
				{Value: string(units.MM), Label: "mm"},
				{Value: string(units.In32), Label: "32nds of an inch"},
			},
		),
		f.SelectField("pressure", "Pressure", empty, form.CodeOptions(units.KPa, units.Psi, units.BarUnit)),
		f.SelectField("distance", "Distance", empty, form.CodeOptions(units.KM, units.Mi)),
		f.SelectField("mass", "Mass", empty, form.CodeOptions(units.G, units.Oz)),
	}
}

func setUnitValues(v url.Values, u units.Set) {
	v.Set("depth", string(u.Depth))
	v.Set("pressure", string(u.Pressure))
	v.Set("distance", string(u.Distance))
	v.Set("mass", string(u.Mass))
}

func unitSet(e *form.Entry) units.Set {
	return units.Set{
		Depth:    units.Unit(e.Text("depth")),
		Pressure: units.Unit(e.Text("pressure")),
		Distance: units.Unit(e.Text("distance")),
		Mass:     units.Unit(e.Text("mass")),
	}
}

func (s *room) setUnits(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}
	e := form.NewEntry(sent, form.NoUnits)

	u, err := s.Fleet.User(r.Ctx(), r.Actor, r.Actor.User.ID)
	if err != nil {
		return err
	}
	var was, none units.Set
	if u.Units != nil {
		was = *u.Units
	}

	set := unitSet(e)
	if set == was && e.Text("notation") == u.Notation {
		return r.Redirect(http.StatusSeeOther, "/settings?said=saved")
	}
	u.Units, u.Notation = nil, e.Text("notation")
	if set != none {
		u.Units = &set
	}

	e.MapField("units", "depth")
	e.MapField("notation", "notation")

	if _, err := s.Fleet.EditUser(r.Ctx(), r.Actor, u); err != nil {
		if e.ApplyError(err) {
			return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
		}
		return err
	}

	return r.Redirect(http.StatusSeeOther, "/settings?said=saved")
}

func (s *room) setPassword(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	e := form.NewEntry(sent, form.NoUnits)
	if err := s.Auth.Confirm(r.Request(), r.RealIP(), r.Actor.User, sent.Get("old_password")); err != nil {
		if models.KindOf(err) != models.Unauthenticated {
			return err
		}
		e.AddFault("old_password", "is not your present password")
		return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
	}

	e.MapField("password", "password")
	if err := s.Fleet.SetPassword(r.Ctx(), r.Actor, r.Actor.User.ID, sent.Get("password")); err != nil {
		if e.ApplyError(err) {
			return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
		}
		return err
	}

	if err := s.Auth.Renew(r.Response(), r.Request(), r.Actor.User.ID); err != nil {
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings?said=password")
}

func newTokenID() string { return uuid.Must(uuid.NewV7()).String() }

// tokenID is the number that the form was shown with.
func tokenID(e *form.Entry) models.TokenID {
	if id := e.Text("id"); id != "" {
		return models.TokenID(id)
	}
	return models.TokenID(newTokenID())
}

func (s *room) addToken(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}
	e := form.NewEntry(sent, form.NoUnits)
	t := models.Token{ID: tokenID(e), Name: e.Text("name"), ReadOnly: e.Ticked("read_only"),
		ExpiresAt: r.Now.AddDate(0, 0, e.Whole("days", "days"))}
	e.MapField("name", "name")
	e.MapField("expires_at", "days")

	if !e.OK() {
		return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
	}

	_, secret, err := s.Fleet.AddToken(r.Ctx(), r.Actor, t)
	if err != nil {
		if errors.Is(err, models.Conflict) {
			return r.Redirect(http.StatusSeeOther, "/settings?said=token")
		}
		if e.ApplyError(err) {
			return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
		}
		return err
	}

	return s.showSettings(r, http.StatusOK, form.NewEntry(url.Values{"days": {"365"}}, form.NoUnits), secret)
}

// addFeed makes an address of the calendar feed and shows it once.
func (s *room) addFeed(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	t := models.Token{
		ID:        tokenID(form.NewEntry(sent, form.NoUnits)),
		Name:      "calendar address",
		ReadOnly:  true,
		Feed:      true,
		ExpiresAt: r.Now.AddDate(1, 11, 0),
	}

	_, secret, err := s.Fleet.AddToken(r.Ctx(), r.Actor, t)
	if errors.Is(err, models.Conflict) {
		return r.Redirect(http.StatusSeeOther, "/settings?said=token")
	}

	if err != nil {
		return err
	}

	address := url.URL{
		Scheme:   r.Scheme(),
		Host:     r.Request().Host,
		Path:     "/calendar.ics",
		RawQuery: url.Values{"key": {secret}}.Encode(),
	}

	return s.showSettings(r, http.StatusOK, form.NewEntry(url.Values{"days": {"365"}}, form.NoUnits), address.String())
}

func (s *room) revokeToken(r *site.Request) error {
	if err := s.Fleet.RevokeToken(r.Ctx(), r.Actor, models.TokenID(r.Param("id"))); err != nil {
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings?said=saved")
}

// auditPage is the trail of edits, newest first.
type auditPage struct {
	Changes     []changeLine
	First, Next string
	Zone        say.Clock
}

type changeLine struct {
	models.Change
	Who  string
	Name string // of what was changed; empty if it is not recorded
}

func (s *room) audit(r *site.Request) error {
	list, next, err := s.Fleet.Changes(
		r.Ctx(),
		r.Actor,
		models.ChangeFilter{Entity: r.QueryParam("entity"), ID: r.QueryParam("id")},
		r.ListPage(site.PerPage*2),
	)
	if err != nil {
		return err
	}

	names := s.PeopleNames(r)

	p := auditPage{Zone: r.Clock(models.Depot{})}
	for _, c := range list {
		who := names[c.By]
		if who == "" {
			who = "somebody of another depot"
		}
		p.Changes = append(p.Changes, changeLine{c, who, nameOf(c)})
	}

	p.First, p.Next = r.Paging(next)
	return r.Show("audit", "settings", "Audit trail", p)
}

// nameOf finds what a changed thing is called.
func nameOf(c models.Change) string {
	var thing struct{ Number, Name string }
	for _, text := range []string{c.After, c.Before} {
		if json.Unmarshal([]byte(text), &thing) == nil && thing.Number+thing.Name != "" {
			return thing.Number + thing.Name
		}
	}
	return ""
}
