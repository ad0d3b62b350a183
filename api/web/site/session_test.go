package site

import (
	"testing"
)

func TestLocal(t *testing.T) {
	t.Parallel()
	for to, want := range map[string]string{"/": "/", "/vehicles?q=1": "/vehicles?q=1", "": "/", "//elsewhere.example": "/", "https://elsewhere.example": "/",
		`/\elsewhere.example`: "/", "/x\r\nSet-Cookie: a=b": "/", "vehicles": "/"} {
		if got := local(to); got != want {
			t.Errorf("local(%q) = %q, want %q", to, got, want)
		}
	}
}
