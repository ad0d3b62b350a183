package models

import (
	"slices"
	"time"

	"rimledger/models/units"
)

// Role is what a person may do.
type Role string

// The roles, least first.
const (
	Viewer     Role = "viewer"
	Technician Role = "technician"
	Manager    Role = "manager"
)

// Roles lists every role, least first.
var Roles = []Role{Viewer, Technician, Manager}

// User is a person who signs in, or whose tokens act.
type User struct {
	ID           UserID
	Name         string
	Email        string // lower case; what the person signs in with
	Role         Role
	Depots       []DepotID  // empty: all depots
	PasswordHash string     // argon2id; empty: cannot sign in with a password
	Units        *units.Set // nil: the depot's
	// Notation is the language tag, such as de-CH, of the country as which the person
	// writes numbers and dates; empty: as the browser asks.
	Notation string
	Disabled bool
	// PasswordSetAt is when the password was last replaced; sessions that began
	// before are over. Zero: it is still the first one.
	PasswordSetAt time.Time
	Stamp
}

// Sees reports whether the person may see depot d.
func (u User) Sees(d DepotID) bool { return len(u.Depots) == 0 || slices.Contains(u.Depots, d) }

// Token gives a program the rights of a person. The secret is shown once; Hash is kept.
type Token struct {
	ID        TokenID
	UserID    UserID
	Name      string
	Hash      string
	ReadOnly  bool
	Feed      bool // opens the calendar feed and nothing else
	CreatedAt time.Time
	ExpiresAt time.Time
	RevokedAt *time.Time
	LastUsed  *time.Time
}

// Change is one line of the audit trail: an edit of something that is not an
// event. Before and After are JSON text; secrets are left out.
type Change struct {
	At     time.Time
	By     UserID
	Source Source
	Entity string // depot, vehicle, tire, wheel, policy, user, token, finding
	ID     string
	What   string // created, edited, acknowledged, revoked
	// Depots are those that the thing belongs to, before and after the edit; of a
	// person or a token those that the person sees. None: all depots.
	Depots []DepotID
	Before string
	After  string
}
