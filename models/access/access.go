// Package access says who may do what, and keeps secrets as hashes: passwords
// with argon2id, API tokens (long random secrets) with SHA-256. It knows no
// HTTP and no database.
package access

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"

	"github.com/alexedwards/argon2id"

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

// Bounds of a password, in bytes.
const (
	MinPassword = 10
	MaxPassword = 200
)

// HashPassword returns the argon2id hash of a password between MinPassword and
// MaxPassword bytes, or an Invalid error that does not repeat it.
func HashPassword(password string) (string, error) {
	if len(password) < MinPassword || len(password) > MaxPassword {
		var f models.Faults
		f.Add("password", "", "must have %d to %d characters", MinPassword, MaxPassword)
		return "", f.Err("password")
	}
	return argon2id.CreateHash(password, argon2id.DefaultParams)
}

// unknown is compared when there is no such person, so that the answer takes as long.
var unknown, _ = argon2id.CreateHash(rand.Text(), argon2id.DefaultParams)

// CheckPassword reports whether password has this hash. An empty hash never
// matches and takes as long as a wrong password.
func CheckPassword(password, hash string) bool {
	if hash == "" {
		_, _ = argon2id.ComparePasswordAndHash(password, unknown)
		return false
	}
	ok, err := argon2id.ComparePasswordAndHash(password, hash)
	return err == nil && ok
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
