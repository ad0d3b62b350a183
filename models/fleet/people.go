package fleet

import (
	"context"
	"errors"
	"fmt"
	"net/mail"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/notation"
)

// maxEmail is the most bytes of a mail address: 64 before the @ and 255 after it
// (RFC 5321, 4.5.3.1.1 and 4.5.3.1.2).
const maxEmail = 320

// TypedEmail returns a mail address as it is kept: in lower case, without spaces
// around it. What is longer than any address is cut first.
func TypedEmail(typed string) string {
	return strings.ToLower(strings.TrimSpace(typed[:min(len(typed), maxEmail)]))
}

// checkUser tidies and checks a person.
func checkUser(u *models.User) error {
	u.Email = strings.ToLower(strings.TrimSpace(u.Email))
	var f models.Faults
	if !models.ValidID(u.ID) {
		f.Add("id", string(u.ID), "must be a UUID in lower-case text")
	}
	if n := len([]rune(u.Name)); n < 1 || n > 80 || models.CleanText(u.Name) != "" {
		f.Add("name", u.Name, "must have 1 to 80 characters")
	}

	if a, err := mail.ParseAddress(u.Email); err != nil || a.Address != u.Email {
		f.Add("email", u.Email, "must be a plain mail address such as lee@fleet.example")
	} else if len(u.Email) > maxEmail {
		f.Add("email", u.Email, "must have at most %d characters", maxEmail)
	}

	oneOf(&f, "role", string(u.Role), string(models.Viewer), string(models.Technician), string(models.Manager))

	for i, d := range u.Depots {
		if !models.ValidID(d) {
			f.Add(fmt.Sprintf("depots[%d]", i), string(d), "must be a depot id")
		}
	}

	if u.Units != nil && !u.Units.Valid() {
		f.Add(
			"units",
			fmt.Sprint(*u.Units),
			"must be depth mm or 32nd, pressure kPa, psi or bar, distance km or mi, mass g or oz",
		)
	}

	if _, known := notation.For(u.Notation); u.Notation != "" && !known {
		f.Add("notation", u.Notation, "must be a language tag with a country, such as en-US or de-CH, or be left out")
	}
	return f.Err("person")
}

// withoutSecret is what the audit trail and lists show of a person.
func withoutSecret(u models.User) models.User { u.PasswordHash = ""; return u }

// userChange is a line of the audit trail about a person. States are the person
// before and after the change, or the present state alone; the change concerns all
// depots that any of them sees.
func userChange(what string, states ...models.User) models.Change {
	c := models.Change{Entity: "user", ID: string(states[0].ID), What: what}
	for _, u := range states {
		if len(u.Depots) == 0 {
			c.Depots = nil // all depots
			return c
		}
		c.Depots = append(c.Depots, u.Depots...)
	}

	slices.Sort(c.Depots)
	c.Depots = slices.Compact(c.Depots)
	return c
}

// requireFreeEmail returns a Conflict error if somebody else signs in with the mail
// address of u. It does not name people whom the manager may not see.
func requireFreeEmail(ctx context.Context, r models.Reader, a Actor, u models.User) error {
	other, err := r.UserByEmail(ctx, u.Email)
	if errors.Is(err, models.NotFound) || err == nil && other.ID == u.ID {
		return nil
	}
	if err != nil {
		return err
	}

	text, remedy := "this mail address cannot be used", "choose another, or ask a manager of all depots"
	if a.seesPerson(other) {
		text = "a person who signs in as " + u.Email + " exists already"
		remedy = "is that of " + other.Name + "; each person has an address of their own"
	}
	var f models.Faults
	f.Add("email", u.Email, "%s", remedy)
	return &models.Error{Kind: models.Conflict, Msg: text, Fields: f}
}

// MayAddUser returns an Unauthenticated or Forbidden error unless a may add people.
func (a Actor) MayAddUser() error { return a.may(access.Administer) }

// AddUser adds a person; without a password they cannot sign in until one is set.
func (s *Service) AddUser(ctx context.Context, a Actor, u models.User, password string) (models.User, error) {
	if u.ID == "" {
		u.ID = models.UserID(s.newID())
	}
	u.PasswordHash = ""
	if err := a.mayWrite(access.Administer); err != nil { // before a password is hashed
		return u, err
	}

	if err := errors.Join(a.mayGrant(u), checkUser(&u)); err != nil {
		return u, err
	}

	// The fingerprint is of the person without the hash, which differs each time.
	content := u
	if password != "" {
		var err error
		if u.PasswordHash, err = access.HashPassword(ctx, password); err != nil {
			return u, err
		}
	}

	err := s.writeAs(ctx, a, access.Administer, references(u), func(tx models.Tx, now time.Time) error {
		content.Stamp = models.Stamp{}
		before, err := s.claimID(ctx, tx, string(u.ID), content, now)
		if err != nil {
			return err
		}

		if before {
			if u, err = tx.User(ctx, u.ID); err == nil && !a.seesPerson(u) {
				err = idUsed(string(content.ID))
			}
			return err
		}

		if err := requireFreeEmail(ctx, tx, a, u); err != nil {
			return err
		}

		u.Stamp = stamped(a, now)
		if err := tx.PutUser(ctx, u); err != nil {
			return err
		}

		return s.audit(ctx, tx, a, now, userChange("created", u), nil, withoutSecret(u))
	})

	if err != nil {
		return models.User{}, err
	}
	return withoutSecret(u), nil
}

// EditUser saves u over the version it started from; the password stays.
// People may change their own name, units and notation; the rest takes a manager.
func (s *Service) EditUser(ctx context.Context, a Actor, u models.User) (models.User, error) {
	if err := checkUser(&u); err != nil {
		return u, err
	}

	// Who is no manager edits themselves, by the permission that everybody has.
	p, own := access.Administer, a.User.ID == u.ID && !access.Can(a.User.Role, access.Administer)

	// Of an edit of oneself only these fields count.
	if own {
		p = access.View
	}

	err := s.writeAs(ctx, a, p, references(u.ID, u), func(tx models.Tx, now time.Time) error {
		old, err := tx.User(ctx, u.ID)
		if err != nil {
			return err
		}

		if own {
			wanted := u
			u = old
			u.Name, u.Units, u.Notation = wanted.Name, wanted.Units, wanted.Notation
			u.Version = wanted.Version
		} else if err := a.mayGrant(u); err != nil {
			return err
		}

		if u.ID == a.User.ID && u.Disabled {
			return models.Errorf(models.Invalid, "you cannot disable yourself; ask another manager")
		}

		if err := requireFreeEmail(ctx, tx, a, u); err != nil {
			return err
		}

		// The form has no password, so the old one is kept.
		u.PasswordHash = old.PasswordHash
		if u.Stamp, err = restamped(a, now, u.Stamp, old.Stamp, withoutSecret(old)); err != nil {
			return err
		}
		if err := tx.PutUser(ctx, u); err != nil {
			return err
		}

		return s.audit(ctx, tx, a, now, userChange("edited", u, old), withoutSecret(old), withoutSecret(u))
	})

	return withoutSecret(u), err
}

// SetPassword sets a person's own password, or anybody's for a manager. It ends
// the sessions of the person that began before.
func (s *Service) SetPassword(ctx context.Context, a Actor, id models.UserID, password string) error {
	p := access.View
	if a.User.ID != id || a.Token != nil {
		p = access.Administer
	}

	find := func(r models.Reader) (models.User, error) { return r.User(ctx, id) }

	// Hashing is dear, so whoever may not set the password is refused before it.
	if err := a.mayWrite(p); err != nil {
		return err
	}
	if _, err := readAs(ctx, s, a, p, references(id), find); err != nil {
		return err
	}

	hash, err := access.HashPassword(ctx, password)
	if err != nil {
		return err
	}

	return s.writeAs(ctx, a, p, references(id), func(tx models.Tx, now time.Time) error {
		u, err := find(tx)
		if err != nil {
			return err
		}

		u.PasswordHash, u.PasswordSetAt = hash, now

		u.Version, u.UpdatedAt, u.UpdatedBy = u.Version+1, now, a.User.ID
		if err := tx.PutUser(ctx, u); err != nil {
			return err
		}

		return s.audit(ctx, tx, a, now, userChange("password set", u), nil, nil)
	})
}

// Users lists the people of whom a may know, by name.
func (s *Service) Users(ctx context.Context, a Actor) ([]models.User, error) {
	all, err := readAs(
		ctx,
		s,
		a,
		access.Administer,
		nil,
		func(r models.Reader) ([]models.User, error) { return r.Users(ctx) },
	)

	var visible []models.User
	for _, u := range all {
		if a.seesPerson(u) {
			visible = append(visible, withoutSecret(u))
		}
	}

	return visible, err
}

// User returns oneself, or for a manager anybody of whom they may know.
func (s *Service) User(ctx context.Context, a Actor, id models.UserID) (models.User, error) {
	p := access.Administer
	if a.User.ID == id {
		p = access.View
	}

	u, err := readAs(
		ctx, s, a, p, references(id), func(r models.Reader) (models.User, error) { return r.User(ctx, id) },
	)

	return withoutSecret(u), err
}

// Signed returns the person of a session, or an Unauthenticated error if they
// do not exist or are disabled.
func (s *Service) Signed(ctx context.Context, id models.UserID) (models.User, error) {
	u, err := read(ctx, s, func(r models.Reader) (models.User, error) { return r.User(ctx, id) })
	if errors.Is(err, models.NotFound) || err == nil && u.Disabled {
		return models.User{}, models.Errorf(models.Unauthenticated, "sign in again")
	}
	return withoutSecret(u), err
}

// HasUsers reports whether anybody can sign in yet.
func (s *Service) HasUsers(ctx context.Context) (bool, error) {
	all, err := read(ctx, s, func(r models.Reader) ([]models.User, error) { return r.Users(ctx) })
	return len(all) > 0, err
}

// SignIn returns the person with this mail address and password. The answer is
// the same, and takes as long, for an unknown address and a wrong password. It
// returns an Unavailable error while too many passwords are being checked, sooner
// to a stranger.
func (s *Service) SignIn(ctx context.Context, c access.Caller, email, password string) (models.User, error) {
	if len(password) > access.MaxPassword {
		return models.User{}, errWrongSignIn
	}

	u, err := s.byEmail(ctx, email)
	if err != nil {
		return models.User{}, err
	}

	right, err := access.CheckPassword(ctx, c, password, u.PasswordHash)
	if err != nil {
		return models.User{}, err
	}

	if !right || u.Disabled {
		return models.User{}, errWrongSignIn
	}
	return withoutSecret(u), nil
}

var errWrongSignIn = models.Errorf(models.Unauthenticated, "mail address or password is wrong")

// PasswordSetAt returns when the person with this mail address was given the
// password of today; the zero time for a first password, and for nobody.
func (s *Service) PasswordSetAt(ctx context.Context, email string) (time.Time, error) {
	u, err := s.byEmail(ctx, email)
	return u.PasswordSetAt, err
}

// byEmail returns the person with a mail address as it was typed, or nobody.
func (s *Service) byEmail(ctx context.Context, typed string) (models.User, error) {
	u, err := read(ctx, s, func(r models.Reader) (models.User, error) { return r.UserByEmail(ctx, TypedEmail(typed)) })
	if errors.Is(err, models.NotFound) {
		return models.User{}, nil
	}
	return u, err
}

// MarkDevice returns a mark for the device from which a person has signed in, by
// which KnownDevice knows it until the person's password is set anew.
func (s *Service) MarkDevice(ctx context.Context, id models.UserID) (string, error) {
	now := s.now()
	u, err := read(ctx, s, func(r models.Reader) (models.User, error) { return r.User(ctx, id) })
	if err != nil {
		return "", err
	}
	return access.NewDeviceMark(u, now), nil
}

// KnownDevice returns the id of the device with this mark, or "" unless the
// person with this mail address signed in from it under their password of today.
func (s *Service) KnownDevice(ctx context.Context, email, mark string) (string, error) {
	now := s.now()
	u, err := s.byEmail(ctx, email)
	if err != nil {
		return "", err
	}
	return access.DeviceOf(u, mark, now), nil
}

// maxTokenLife is the longest life of an API token.
const maxTokenLife = 2 * 366 * 24 * time.Hour

// AddToken makes an API token for the actor and returns its secret, which is
// not kept and not shown again.
func (s *Service) AddToken(ctx context.Context, a Actor, t models.Token) (models.Token, string, error) {
	if a.Token != nil {
		return t, "", models.Errorf(models.Forbidden, "a token cannot make tokens; sign in")
	}
	if t.ID == "" {
		t.ID = models.TokenID(s.newID())
	}
	if t.UserID == "" || a.Source != models.FromCLI {
		t.UserID = a.User.ID
	}

	var secret string
	err := s.writeAs(ctx, a, access.View, nil, func(tx models.Tx, now time.Time) error {
		if err := checkToken(t, now); err != nil {
			return err
		}

		content := models.Token{ID: t.ID, UserID: t.UserID, Name: t.Name, ReadOnly: t.ReadOnly, Feed: t.Feed}
		before, err := s.claimID(ctx, tx, string(t.ID), content, now)
		if err != nil {
			return err
		}

		// The first answer cannot be given again: only the hash of the secret is kept.
		if before {
			return models.Errorf(models.Conflict,
				"this token was made already and its secret is not shown again; make another")
		}

		secret, t.Hash = access.NewSecret()
		t.CreatedAt, t.ExpiresAt = now, t.ExpiresAt.UTC().Truncate(time.Microsecond)
		if err := tx.PutToken(ctx, t); err != nil {
			return err
		}
		change, err := tokenChange(ctx, tx, t, "created")
		if err != nil {
			return err
		}

		shown := map[string]any{"name": t.Name, "read_only": t.ReadOnly, "expires_at": t.ExpiresAt}
		return s.audit(ctx, tx, a, now, change, nil, shown)
	})

	return t, secret, err
}

func checkToken(t models.Token, now time.Time) error {
	var f models.Faults
	if !models.ValidID(t.ID) {
		f.Add("id", string(t.ID), "must be a UUID in lower-case text")
	}
	if n := len([]rune(t.Name)); n < 1 || n > 80 || models.CleanText(t.Name) != "" {
		f.Add("name", t.Name, "must have 1 to 80 characters and say what the token is for")
	}
	if !t.ExpiresAt.After(now) || t.ExpiresAt.After(now.Add(maxTokenLife)) {
		f.Add("expires_at", t.ExpiresAt.Format(time.RFC3339), "must be after now and within two years")
	}
	return f.Err("token")
}

// tokenChange is a line of the audit trail about token t, which concerns the
// depots of its person.
func tokenChange(ctx context.Context, r models.Reader, t models.Token, what string) (models.Change, error) {
	u, err := r.User(ctx, t.UserID)
	return models.Change{Entity: "token", ID: string(t.ID), What: what, Depots: u.Depots}, err
}

// RevokeToken ends one of the actor's tokens, or for a manager one of anybody of
// whom they may know.
func (s *Service) RevokeToken(ctx context.Context, a Actor, id models.TokenID) error {
	return s.writeAs(ctx, a, access.View, references(id), func(tx models.Tx, now time.Time) error {
		t, err := tx.TokenByID(ctx, id)
		if err != nil || t.RevokedAt != nil {
			return err
		}

		t.RevokedAt = &now
		if err := tx.PutToken(ctx, t); err != nil {
			return err
		}

		change, err := tokenChange(ctx, tx, t, "revoked")
		if err != nil {
			return err
		}

		return s.audit(ctx, tx, a, now, change, nil, nil)
	})
}

// Tokens lists the actor's tokens.
func (s *Service) Tokens(ctx context.Context, a Actor) ([]models.Token, error) {
	return readAs(
		ctx,
		s,
		a,
		access.View,
		nil,
		func(r models.Reader) ([]models.Token, error) { return r.Tokens(ctx, a.User.ID) },
	)
}

// Authenticate returns who acts with an API token's secret. Unknown, expired
// and revoked tokens, and those of disabled people, are Unauthenticated.
func (s *Service) Authenticate(ctx context.Context, secret string) (Actor, error) {
	a, err := s.authenticate(ctx, secret)
	if err == nil && a.Token.Feed {
		return Actor{}, models.Errorf(
			models.Unauthenticated, "token %q opens the calendar only; make one for the API", a.Token.Name,
		)
	}
	return a, err
}

// AuthenticateFeed returns who asks for the calendar feed by the secret in its
// address, which opens nothing else.
func (s *Service) AuthenticateFeed(ctx context.Context, secret string) (Actor, error) {
	a, err := s.authenticate(ctx, secret)
	if err == nil && !a.Token.Feed {
		return Actor{}, models.Errorf(
			models.Unauthenticated,
			"this is no address of a calendar; make one under settings",
		)
	}
	return a, err
}

// authenticate is Authenticate for a token of any use.
func (s *Service) authenticate(ctx context.Context, secret string) (Actor, error) {
	now := s.now()

	a, err := read(ctx, s, func(r models.Reader) (Actor, error) {
		t, err := r.Token(ctx, access.HashSecret(secret))
		if err != nil {
			return Actor{}, err
		}
		u, err := r.User(ctx, t.UserID)
		return Actor{User: withoutSecret(u), Token: &t, Source: models.FromAPI}, err
	})

	// The refusal of a known token names it, since its owner has to find it among several.
	switch {
	case errors.Is(err, models.NotFound):
		return Actor{}, models.Errorf(models.Unauthenticated, "unknown token")
	case err != nil:
		return Actor{}, err
	case a.Token.RevokedAt != nil:
		return Actor{}, models.Errorf(
			models.Unauthenticated,
			"token %q was revoked on %s",
			a.Token.Name,
			a.Token.RevokedAt.Format(time.DateOnly),
		)
	case !now.Before(a.Token.ExpiresAt):
		return Actor{}, models.Errorf(
			models.Unauthenticated,
			"token %q expired on %s",
			a.Token.Name,
			a.Token.ExpiresAt.Format(time.DateOnly),
		)
	case a.User.Disabled:
		return Actor{}, models.Errorf(models.Unauthenticated, "the person of token %q is disabled", a.Token.Name)
	}

	return a, nil
}

// Changes lists the audit trail, newest first: what concerns no depot besides
// those that a sees.
func (s *Service) Changes(
	ctx context.Context,
	a Actor,
	f models.ChangeFilter,
	p models.Page,
) ([]models.Change, string, error) {
	f.Within = a.User.Depots
	l, err := readAs(ctx, s, a, access.Administer, nil, func(r models.Reader) (listed[models.Change], error) {
		items, next, err := r.Changes(ctx, f, p)
		return listed[models.Change]{items, next}, err
	})
	return l.items, l.next, err
}
