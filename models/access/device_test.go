package access_test

import (
	"encoding/base64"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/access"
)

func TestDeviceMarks(t *testing.T) {
	t.Parallel()
	made := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	lee := models.User{ID: "lee", PasswordHash: "a hash"}
	mark := access.NewDeviceMark(lee, made)
	device := access.DeviceOf(lee, mark, made)
	if device == "" {
		t.Fatal("the mark is not known")
	}

	if again := access.DeviceOf(lee, access.NewDeviceMark(lee, made), made); again == device || again == "" {
		t.Errorf("two devices are %q and %q", device, again)
	}

	raw, err := base64.RawURLEncoding.DecodeString(mark)
	if err != nil {
		t.Fatal(err)
	}

	for i := range raw { // a bit changed anywhere: id, time or signature
		raw[i] ^= 1
		if got := access.DeviceOf(lee, base64.RawURLEncoding.EncodeToString(raw), made); got != "" {
			t.Errorf("byte %d changed: %q", i, got)
		}
		raw[i] ^= 1
	}

	const second = time.Second
	for _, c := range []struct {
		name  string
		user  models.User
		mark  string
		after time.Duration
		want  string
	}{
		{"a second before its end", lee, mark, access.DeviceLife - second, device},
		{"at its end", lee, mark, access.DeviceLife, ""},
		{"another person with the same hash", models.User{ID: "kim", PasswordHash: "a hash"}, mark, 0, ""},
		{"a new password", models.User{ID: "lee", PasswordHash: "another hash"}, mark, 0, ""},
		{"no password", models.User{ID: "lee"}, access.NewDeviceMark(models.User{ID: "lee"}, made), 0, ""},
		{"nobody", models.User{}, access.NewDeviceMark(models.User{}, made), 0, ""},
		{"no mark", lee, "", 0, ""},
		{"cut", lee, mark[:len(mark)-1], 0, ""},
		{"longer", lee, mark + "A", 0, ""},
		{"not base64", lee, "*" + mark[1:], 0, ""},
	} {
		if got := access.DeviceOf(c.user, c.mark, made.Add(c.after)); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
