package access

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"time"

	"rimledger/models"
)

// DeviceLife is how long a device stays known after a sign-in; chosen by us.
const DeviceLife = 365 * 24 * time.Hour

// A mark is the device's id, the second since 1970 at which it was made, and
// the signature of both.
const (
	deviceIDBytes = 16
	madeBytes     = 8
	markBytes     = deviceIDBytes + madeBytes + sha256.Size
)

// NewDeviceMark returns a new mark for a device from which u has signed in. It
// is signed with the hash of the password, so a new password ends it.
func NewDeviceMark(u models.User, now time.Time) string {
	b := make([]byte, deviceIDBytes, markBytes)
	_, _ = rand.Read(b) // never fails: crypto/rand aborts the program instead

	b = binary.BigEndian.AppendUint64(b, uint64(now.Unix()))
	return base64.RawURLEncoding.EncodeToString(append(b, signature(u, b)...))
}

// DeviceOf returns the id of the device with this mark, or "" unless the mark
// was made for u, under the password of today, within DeviceLife.
func DeviceOf(u models.User, mark string, now time.Time) string {
	if u.PasswordHash == "" || len(mark) != base64.RawURLEncoding.EncodedLen(markBytes) {
		return ""
	}

	b, err := base64.RawURLEncoding.DecodeString(mark)
	if err != nil || !hmac.Equal(b[deviceIDBytes+madeBytes:], signature(u, b[:deviceIDBytes+madeBytes])) {
		return ""
	}

	made := time.Unix(int64(binary.BigEndian.Uint64(b[deviceIDBytes:])), 0)
	if !now.Before(made.Add(DeviceLife)) {
		return ""
	}

	return hex.EncodeToString(b[:deviceIDBytes])
}

func signature(u models.User, signed []byte) []byte {
	h := hmac.New(sha256.New, []byte(u.PasswordHash))
	h.Write([]byte("rimledger device of " + string(u.ID) + "\n"))
	h.Write(signed)
	return h.Sum(nil)
}
