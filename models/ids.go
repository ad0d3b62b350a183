package models

import (
	"crypto/sha256"
	"encoding/hex"
	"time"
)

// Identifiers are UUIDs in canonical lower-case text, made by whoever first
// writes the thing down (UUIDv7 on a phone), which makes every write repeatable.
type (
	DepotID   string
	VehicleID string
	TireID    string
	WheelID   string
	FitmentID string
	EventID   string
	FindingID string
	UserID    string
	TokenID   string
	PhotoID   string
)

// ValidID reports whether s is a UUID in canonical lower-case text.
func ValidID[T ~string](s T) bool {
	if len(s) != 36 {
		return false
	}

	for i := range len(s) {
		c := s[i]
		switch i {
		case 8, 13, 18, 23:
			if c != '-' {
				return false
			}
		default:
			if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
				return false
			}
		}
	}

	return true
}

// Fingerprint is a digest of content: a repeated write has the same one, another
// write under the same id a different one.
type Fingerprint string

// Receipt notes that an id was written, with which content, and when.
type Receipt struct {
	ID          string
	Fingerprint Fingerprint
	At          time.Time
}

// FingerprintOf returns the fingerprint of b.
func FingerprintOf(b []byte) Fingerprint {
	sum := sha256.Sum256(b)
	return Fingerprint(hex.EncodeToString(sum[:]))
}
