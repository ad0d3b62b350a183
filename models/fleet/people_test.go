package fleet_test

import (
	"errors"
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/fleet"
)

// An address that nobody could sign in with, since it would be cut, is not taken.
// RFC 5321 allows 64 bytes before the @ and 255 after it.
func TestLengthOfAMailAddress(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	longest := strings.Repeat("x", 320-len("@fleet.example")) + "@fleet.example"
	for email, kind := range map[string]models.Kind{longest: "", "x" + longest: models.Invalid} {
		_, err := w.fleet.AddUser(w.ctx, w.boss, models.User{Name: "Invented", Email: email, Role: models.Viewer}, "")
		if kind == "" && err != nil || kind != "" && !errors.Is(err, kind) {
			t.Errorf("%d bytes: %v", len(email), err)
		}
	}
	if got := fleet.TypedEmail(" " + strings.ToUpper(longest[1:]) + " and more"); got != longest[1:] {
		t.Errorf("typed with more behind it: %q", got)
	}
}

// Whoever may not set a password is refused before the password is looked at, and
// so before it is hashed.
func TestSetPasswordAsksFirst(t *testing.T) {
	t.Parallel()
	w := newWorld(t)

	var people []models.User
	for _, email := range []string{"lee@fleet.example", "kim@fleet.example"} {
		invented := models.User{Name: "Invented", Email: email, Role: models.Viewer}
		people = append(people, must(w.fleet.AddUser(w.ctx, w.boss, invented, ""))(t))
	}

	lee := fleet.Actor{User: people[0], Source: models.FromPage}
	if err := w.fleet.SetPassword(w.ctx, lee, people[1].ID, "short"); !errors.Is(err, models.Forbidden) {
		t.Errorf("another's password: %v", err)
	}
	if err := w.fleet.SetPassword(w.ctx, lee, people[0].ID, "short"); !errors.Is(err, models.Invalid) {
		t.Errorf("a short password of one's own: %v", err)
	}
}

// That a mail address is taken says nothing of people whom a manager may not see.
func TestTakenMailAddress(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.otherDepot("Birch Yard")
	there := w.person("Kim Vale", other)
	narrow := w.as(models.Manager, w.depot.ID)
	own := models.User{Name: "Lee Marsh", Email: "lee@fleet.example", Role: models.Viewer,
		Depots: []models.DepotID{w.depot.ID}}
	own = must(w.fleet.AddUser(w.ctx, narrow, own, ""))(t)

	for _, c := range []struct {
		what  string
		actor fleet.Actor
		names bool
	}{{"a manager of another depot", narrow, false}, {"a manager of all depots", w.boss, true}} {
		taken := models.User{Name: "Invented", Email: there.Email, Role: models.Viewer, Depots: own.Depots}
		_, err := w.fleet.AddUser(w.ctx, c.actor, taken, "")
		changed := own
		changed.Email = there.Email
		_, err2 := w.fleet.EditUser(w.ctx, c.actor, changed)

		for _, err := range []error{err, err2} {
			e := wantKind(t, err, models.Conflict)
			if len(e.Fields) != 1 || e.Fields[0].Name != "email" {
				t.Fatalf("%s: the field is not named: %+v", c.what, e)
			}
			text := e.Msg + " " + e.Fields[0].Remedy
			if named := strings.Contains(text, "exists") && strings.Contains(text, there.Name); named != c.names {
				t.Errorf("%s reads %q", c.what, text)
			}
		}
	}
}
