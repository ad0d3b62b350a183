package rest

import (
	"context"
	"encoding/json"
	"net/http"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// User is a person.
type User struct {
	ID       string   `json:"id,omitempty"       format:"uuid"`
	Name     string   `json:"name"                             minLength:"1" maxLength:"80"`
	Email    string   `json:"email"                                          maxLength:"200"`
	Role     Role     `json:"role"`
	Depots   []string `json:"depots,omitempty"                                               nullable:"false" maxItems:"500" doc:"Left out: all depots."`
	Units    *Units   `json:"units,omitempty"                                                                                doc:"Left out: the depot's."`
	Notation string   `json:"notation,omitempty"                             maxLength:"35"                                  doc:"Language tag with the country as which the pages write numbers and dates. Left out: as the browser asks." example:"en-GB"`
	Disabled bool     `json:"disabled,omitempty"`
	Stamp
}

// NewUser is a person with a first password.
type NewUser struct {
	User
	Password string `json:"password,omitempty" writeOnly:"true" maxLength:"200" doc:"Left out: cannot sign in until one is set."`
}

func (u User) model(id string, version int64) models.User {
	m := models.User{
		ID:       models.UserID(id),
		Name:     u.Name,
		Email:    u.Email,
		Role:     models.Role(u.Role),
		Depots:   list(u.Depots, func(d string) models.DepotID { return models.DepotID(d) }),
		Notation: u.Notation,
		Disabled: u.Disabled,
		Stamp:    models.Stamp{Version: version},
	}
	if u.Units != nil {
		set := u.Units.model()
		m.Units = &set
	}
	return m
}

func userOf(m models.User) User {
	u := User{
		ID:       string(m.ID),
		Name:     m.Name,
		Email:    m.Email,
		Role:     Role(m.Role),
		Depots:   list(m.Depots, func(d models.DepotID) string { return string(d) }),
		Notation: m.Notation,
		Disabled: m.Disabled,
		Stamp:    stampOf(m.Stamp),
	}
	if m.Units != nil {
		set := unitsOf(*m.Units)
		u.Units = &set
	}
	return u
}

// Password is a new password.
type Password struct {
	Password string `json:"password" writeOnly:"true" maxLength:"200" doc:"10 to 200 characters."`
}

// Me is who sends the request.
type Me struct {
	User  User   `json:"user"`
	Token *Token `json:"token,omitempty" doc:"The API token it came with."`
}

// Token gives a program the rights of a person.
type Token struct {
	ID        string     `json:"id"`
	Name      string     `json:"name"`
	ReadOnly  bool       `json:"read_only"`
	CreatedAt time.Time  `json:"created_at"`
	ExpiresAt time.Time  `json:"expires_at"`
	RevokedAt *time.Time `json:"revoked_at,omitempty"`
	LastUsed  *time.Time `json:"last_used,omitempty"`
}

// TokenWish is what a new token is to be.
type TokenWish struct {
	Name      string    `json:"name"                minLength:"1" maxLength:"80" doc:"What it is for."`
	ReadOnly  bool      `json:"read_only,omitempty"`
	ExpiresAt time.Time `json:"expires_at"                                       doc:"Within two years."`
}

// NewToken is a token with its secret.
type NewToken struct {
	Token
	Secret string `json:"secret" doc:"Shown this once: send it as Authorization: Bearer."`
}

func tokenOf(m models.Token) Token {
	return Token{string(m.ID), m.Name, m.ReadOnly, m.CreatedAt, m.ExpiresAt, m.RevokedAt, m.LastUsed}
}

// Change is one line of the audit trail.
type Change struct {
	At     time.Time       `json:"at"`
	By     string          `json:"by"`
	Source string          `json:"source"`
	Entity string          `json:"entity"`
	ID     string          `json:"id"`
	What   string          `json:"what"`
	Before json.RawMessage `json:"before,omitempty" doc:"As the record keeps it."`
	After  json.RawMessage `json:"after,omitempty"  doc:"As the record keeps it."`
}

func changeOf(m models.Change) Change {
	return Change{m.At, string(m.By), string(m.Source), m.Entity, m.ID, m.What, rawJSON(m.Before), rawJSON(m.After)}
}

func rawJSON(s string) json.RawMessage {
	if s == "" {
		return nil
	}
	return json.RawMessage(s)
}

// emptyOut is an answer without a body.
type emptyOut struct{ Status int }

func (s *server) registerPeople() {
	const tag = "People"
	find := func(ctx context.Context, a fleet.Actor, id string) (models.User, error) {
		return s.Fleet.User(ctx, a, models.UserID(id))
	}

	resource[NewUser, models.User]{path: "/users", tag: tag, name: "person",
		wire:    func(m models.User) NewUser { return NewUser{User: userOf(m)} },
		model:   func(u NewUser, id string, version int64) models.User { return u.model(id, version) },
		id:      func(u NewUser) string { return u.ID },
		version: func(m models.User) int64 { return m.Version },
		edit:    s.Fleet.EditUser, get: find}.registerEdit(s)

	register(
		s,
		post("/users", tag, "Add a person", ""),
		func(ctx context.Context, a fleet.Actor, in *bodyIn[NewUser]) (*tagged[User], error) {
			u, err := s.Fleet.AddUser(ctx, a, in.Body.model(idOrNew(in.Body.ID), 0), in.Body.Password)
			if err != nil {
				return nil, err
			}
			return withTag(u.Version, userOf(u)), nil
		},
	)

	register(
		s,
		get("/users", tag, "List people", "By name."),
		func(ctx context.Context, a fleet.Actor, _ *struct{}) (*pageOut[User], error) {
			all, err := s.Fleet.Users(ctx, a)
			return paged(all, "", err, userOf)
		},
	)

	register(
		s,
		get("/users/{id}", tag, "Get a person", "Oneself, or for a manager somebody whose depots the manager sees."),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*tagged[User], error) {
			u, err := find(ctx, a, in.ID)
			if err != nil {
				return nil, err
			}
			return withTag(u.Version, userOf(u)), nil
		},
	)

	password := put(
		"/users/{id}/password",
		tag,
		"Set a password",
		"One's own, or for a manager that of somebody whose depots the manager sees.",
	)
	password.DefaultStatus = http.StatusNoContent
	register(s, password, func(ctx context.Context, a fleet.Actor, in *struct {
		ByID
		Body Password
	}) (*emptyOut, error) {
		return &emptyOut{http.StatusNoContent}, s.Fleet.SetPassword(ctx, a, models.UserID(in.ID), in.Body.Password)
	})

	register(
		s,
		get("/me", tag, "Get who I am", ""),
		func(_ context.Context, a fleet.Actor, _ *struct{}) (*bodyOut[Me], error) {
			return bodyOrError(Me{userOf(a.User), maybe(a.Token, tokenOf)}, nil)
		},
	)

	register(
		s,
		get("/changes", tag, "List changes", "The audit trail of edits, newest first. Events are their own trail."),
		func(ctx context.Context, a fleet.Actor, in *struct {
			Paging
			Entity string `query:"entity" enum:"depot,vehicle,tire,wheel,policy,user,token,finding"`
			ID     string `query:"id" maxLength:"80"`
			By     string `query:"by" maxLength:"40" doc:"Id of a person."`
		}) (*pageOut[Change], error) {
			found, next, err := s.Fleet.Changes(
				ctx,
				a,
				models.ChangeFilter{Entity: in.Entity, ID: in.ID, By: models.UserID(in.By)},
				in.Paging.model(),
			)
			return paged(found, next, err, changeOf)
		},
	)

	s.registerTokens()
}

func (s *server) registerTokens() {
	const tag = "Tokens"
	register(
		s,
		get("/tokens", tag, "List my tokens", "Without their secrets."),
		func(ctx context.Context, a fleet.Actor, _ *struct{}) (*pageOut[Token], error) {
			all, err := s.Fleet.Tokens(ctx, a)
			return paged(all, "", err, tokenOf)
		},
	)

	register(
		s,
		post(
			"/tokens",
			tag,
			"Make a token",
			"For oneself, by a signed-in person. The secret is shown once and not kept, so this is the one write "+
				"that cannot be repeated.",
		),
		func(ctx context.Context, a fleet.Actor, in *bodyIn[TokenWish]) (*bodyOut[NewToken], error) {
			t, secret, err := s.Fleet.AddToken(
				ctx,
				a,
				models.Token{Name: in.Body.Name, ReadOnly: in.Body.ReadOnly, ExpiresAt: in.Body.ExpiresAt},
			)
			return bodyOrError(NewToken{tokenOf(t), secret}, err)
		},
	)

	revoke := get(
		"/tokens/{id}",
		tag,
		"Revoke a token",
		"One's own, or for a manager that of somebody whose depots the manager sees.",
	)
	revoke.Method, revoke.DefaultStatus = http.MethodDelete, http.StatusNoContent
	register(s, revoke, func(ctx context.Context, a fleet.Actor, in *ByID) (*emptyOut, error) {
		return &emptyOut{http.StatusNoContent}, s.Fleet.RevokeToken(ctx, a, models.TokenID(in.ID))
	})
}
