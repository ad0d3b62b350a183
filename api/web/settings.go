package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/notation"
	"rimledger/models/units"
)

func (s *site) mountSettings() {
	s.get("/settings", s.settings)
	s.post("/settings/units", s.setUnits)
	s.post("/settings/password", s.setPassword)
	s.post("/settings/tokens", s.addToken)
	s.post("/settings/tokens/:id/revoke", s.revokeToken)
	s.get("/settings/rules", s.rules)
	s.get("/settings/audit", s.audit)
	s.mountDepots()
	s.mountPeople()
}

// settingsPage is a person's own settings and the way to the others.
type settingsPage struct {
	Entry   *entry
	Units   section
	Tokens  []models.Token
	Token   section
	Secret  string // of a token just made, or an address with one: shown once
	Feed    bool   // Secret is an address of the calendar
	NewID   string // of the token or address made next: a double submit makes one
	Depots  []models.Depot
	Manages bool
	Now     time.Time
	Zone    clock
}

func (s *site) settings(r *request) error {
	return s.showSettings(r, http.StatusOK, newEntry(url.Values{"days": {"365"}}, noUnits), "")
}

func (s *site) showSettings(r *request, status int, e *entry, secret string) error {
	tokens, err := s.Fleet.Tokens(r.ctx(), r.actor)
	if err != nil {
		return err
	}
	p := settingsPage{Entry: e, Tokens: tokens, NewID: newTokenID(), Secret: secret, Feed: strings.Contains(secret, "/calendar.ics"), Depots: r.depots, Manages: r.administers(), Now: r.now, Zone: r.clock(models.Depot{})}
	if len(r.depots) > 0 {
		p.Zone = r.clock(r.depots[0])
	}
	if u := r.actor.User.Units; u != nil && e.text("depth") == "" {
		setUnitValues(e.sent, *u)
	}
	if !e.sent.Has("notation") {
		e.sent.Set("notation", r.actor.User.Notation)
	}
	p.Units = section{Legend: "Units, numbers and dates", Hint: "Units are those of each depot unless you choose your own. What was typed is kept as it was typed; in your own unit it stands beside.",
		Fields: append(e.unitFields("as the depot"), e.selectField("notation", "Numbers and dates as in", "as my browser asks", notations(r.now)))}
	p.Token = section{Legend: "Make an API token", Hint: "A program acts with it as you. It is shown once.", Fields: []field{
		e.textField("name", "What it is for", "", ""), e.numberField("days", "Valid for", "days"), e.tickField("read_only", "May only read", "")}}
	return r.show(status, "settings", "settings", "Settings", p)
}

// notations offers the countries with how each writes.
func notations(now time.Time) []option {
	var out []option
	for _, c := range notation.Choices {
		if n, ok := notation.For(c.Tag); ok {
			out = append(out, option{Value: c.Tag, Label: fmt.Sprintf("%s: %s, %s, %s", c.Country, n.Date(now), n.Time(now), n.Number("12345.6", true))})
		}
	}
	return out
}

// unitFields offers the units; empty names the choice of none, if there is one.
func (f *entry) unitFields(empty string) []field {
	return []field{
		f.selectField("depth", "Depth", empty, []option{{Value: string(units.MM), Label: "mm"}, {Value: string(units.In32), Label: "32nds of an inch"}}),
		f.selectField("pressure", "Pressure", empty, codes(units.KPa, units.Psi, units.BarUnit)),
		f.selectField("distance", "Distance", empty, codes(units.KM, units.Mi)),
		f.selectField("mass", "Mass", empty, codes(units.G, units.Oz)),
	}
}

func setUnitValues(v url.Values, u units.Set) {
	v.Set("depth", string(u.Depth))
	v.Set("pressure", string(u.Pressure))
	v.Set("distance", string(u.Distance))
	v.Set("mass", string(u.Mass))
}

func (e *entry) unitSet() units.Set {
	return units.Set{Depth: units.Unit(e.text("depth")), Pressure: units.Unit(e.text("pressure")), Distance: units.Unit(e.text("distance")), Mass: units.Unit(e.text("mass"))}
}

func (s *site) setUnits(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	e := newEntry(sent, noUnits)
	u, err := s.Fleet.User(r.ctx(), r.actor, r.actor.User.ID)
	if err != nil {
		return err
	}
	var was, none units.Set
	if u.Units != nil {
		was = *u.Units
	}
	set := e.unitSet()
	if set == was && e.text("notation") == u.Notation {
		return r.Redirect(http.StatusSeeOther, "/settings?said=saved")
	}
	u.Units, u.Notation = nil, e.text("notation")
	if set != none {
		u.Units = &set
	}
	e.as("units", "depth")
	e.as("notation", "notation")
	if _, err := s.Fleet.EditUser(r.ctx(), r.actor, u); err != nil {
		if e.take(err) {
			return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings?said=saved")
}

func (s *site) setPassword(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	e := newEntry(sent, noUnits)
	if err := s.Auth.Confirm(r.Request(), r.RealIP(), r.actor.User, sent.Get("old_password")); err != nil {
		if models.KindOf(err) != models.Unauthenticated {
			return err
		}
		e.fault("old_password", "is not your present password")
		return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
	}
	e.as("password", "password")
	if err := s.Fleet.SetPassword(r.ctx(), r.actor, r.actor.User.ID, sent.Get("password")); err != nil {
		if e.take(err) {
			return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
		}
		return err
	}
	if err := s.Auth.Renew(r.Response(), r.Request(), r.actor.User.ID); err != nil {
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings?said=password")
}

func newTokenID() string { return uuid.Must(uuid.NewV7()).String() }

// tokenID is the number that the form was shown with.
func tokenID(e *entry) models.TokenID {
	if id := e.text("id"); id != "" {
		return models.TokenID(id)
	}
	return models.TokenID(newTokenID())
}

func (s *site) addToken(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	e := newEntry(sent, noUnits)
	t := models.Token{ID: tokenID(e), Name: e.text("name"), ReadOnly: e.ticked("read_only"),
		ExpiresAt: r.now.AddDate(0, 0, e.whole("days", "days"))}
	e.as("name", "name")
	e.as("expires_at", "days")
	if !e.ok() {
		return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
	}
	_, secret, err := s.Fleet.AddToken(r.ctx(), r.actor, t)
	if err != nil {
		if errors.Is(err, models.Conflict) {
			return r.Redirect(http.StatusSeeOther, "/settings?said=token")
		}
		if e.take(err) {
			return s.showSettings(r, http.StatusUnprocessableEntity, e, "")
		}
		return err
	}
	return s.showSettings(r, http.StatusOK, newEntry(url.Values{"days": {"365"}}, noUnits), secret)
}

// addFeed makes an address of the calendar feed and shows it once.
func (s *site) addFeed(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	t := models.Token{ID: tokenID(newEntry(sent, noUnits)), Name: "calendar address", ReadOnly: true, Feed: true, ExpiresAt: r.now.AddDate(1, 11, 0)}
	_, secret, err := s.Fleet.AddToken(r.ctx(), r.actor, t)
	if errors.Is(err, models.Conflict) {
		return r.Redirect(http.StatusSeeOther, "/settings?said=token")
	}
	if err != nil {
		return err
	}
	address := url.URL{Scheme: r.Scheme(), Host: r.Request().Host, Path: "/calendar.ics", RawQuery: url.Values{"key": {secret}}.Encode()}
	return s.showSettings(r, http.StatusOK, newEntry(url.Values{"days": {"365"}}, noUnits), address.String())
}

func (s *site) revokeToken(r *request) error {
	if err := s.Fleet.RevokeToken(r.ctx(), r.actor, models.TokenID(r.Param("id"))); err != nil {
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings?said=saved")
}

// auditPage is the trail of edits, newest first.
type auditPage struct {
	Changes     []changeLine
	First, Next string
	Zone        clock
}

type changeLine struct {
	models.Change
	Who  string
	Name string // of the thing, where the record of the edit tells it
}

func (s *site) audit(r *request) error {
	list, next, err := s.Fleet.Changes(r.ctx(), r.actor, models.ChangeFilter{Entity: r.QueryParam("entity"), ID: r.QueryParam("id")}, r.page(perPage*2))
	if err != nil {
		return err
	}
	names := s.names(r)
	p := auditPage{Zone: r.clock(models.Depot{})}
	for _, c := range list {
		who := names[c.By]
		if who == "" {
			who = "somebody of another depot"
		}
		p.Changes = append(p.Changes, changeLine{c, who, nameOf(c)})
	}
	p.First, p.Next = r.paging(next)
	return r.render("audit", "settings", "Audit trail", p)
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

// version reads which version an edit started from.
func (e *entry) version() int64 {
	n, err := strconv.ParseInt(e.text("version"), 10, 64)
	if err != nil {
		return 0
	}
	return n
}
