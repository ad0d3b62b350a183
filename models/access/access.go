// Package access says who may do what, and keeps secrets as hashes: passwords
// with argon2id, API tokens (long random secrets) with SHA-256. A device from
// which a person signed in carries a mark that is signed with their password's
// hash. It knows no HTTP and no database.
package access

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"

	"rimledger/models"
)

// Permission is something that a role may do.
type Permission string

// The permissions.
const (
	View       Permission = "view"
	Record     Permission = "record"     // inspections and work
	Manage     Permission = "manage"     // vehicles, tires, policies, acknowledging
	Administer Permission = "administer" // people and depots
)

// Can reports whether role r has permission p.
func Can(r models.Role, p Permission) bool {
	switch p {
	case View:
		return r == models.Viewer || r == models.Technician || r == models.Manager
	case Record:
		return r == models.Technician || r == models.Manager
	case Manage, Administer:
		return r == models.Manager
	}
	return false
}

// NewSecret returns a random token secret to show once, and the hash to keep.
func NewSecret() (secret, hash string) {
	b := make([]byte, 32)
	_, _ = rand.Read(b) // never fails: crypto/rand aborts the program instead
	secret = "rl_" + base64.RawURLEncoding.EncodeToString(b)
	return secret, HashSecret(secret)
}

// HashSecret returns the hash under which a token secret is kept.
func HashSecret(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}
