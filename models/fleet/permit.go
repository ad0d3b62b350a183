package fleet

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"sync"
	"time"
	"unicode"

	"rimledger/models"
	"rimledger/models/access"
)

// Every use-case that answers a person goes through readAs or writeAs, with the
// ids that the request names. What a person may do is decided in this file alone.

// readAs returns what fn reads on one snapshot for a, who must have permission p
// and see everything that refs name.
func readAs[T any](ctx context.Context, s *Service, a Actor, p access.Permission, refs []reference,
	fn func(models.Reader) (T, error)) (T, error) {
	var out T
	if err := a.may(p); err != nil {
		return out, err
	}

	return read(ctx, s, func(r models.Reader) (T, error) {
		if err := a.requireVisible(ctx, r, refs); err != nil {
			return out, err
		}
		return fn(r)
	})
}

// writeAs runs fn in one transaction for a, who must have permission p, may
// write, and must see everything that refs name.
func (s *Service) writeAs(ctx context.Context, a Actor, p access.Permission, refs []reference,
	fn func(tx models.Tx, now time.Time) error) error {
	if err := a.mayWrite(p); err != nil {
		return err
	}

	return s.write(ctx, func(tx models.Tx, now time.Time) error {
		if err := a.requireVisible(ctx, tx, refs); err != nil {
			return err
		}
		return fn(tx, now)
	})
}

// may returns an Unauthenticated or Forbidden error unless a has permission p.
func (a Actor) may(p access.Permission) error {
	if a.User.ID == "" || a.User.Disabled {
		return models.Errorf(models.Unauthenticated, "sign in first")
	}
	if !access.Can(a.User.Role, p) {
		return models.Errorf(models.Forbidden, "a %s may not do this; ask a manager", a.User.Role)
	}
	return nil
}

// mayWrite is may for what changes the record: a token that only reads changes
// nothing, not even its own person.
func (a Actor) mayWrite(p access.Permission) error {
	if err := a.may(p); err != nil {
		return err
	}
	if a.Token != nil && a.Token.ReadOnly {
		return models.Errorf(models.Forbidden, "token %q may only read; make one that may write", a.Token.Name)
	}
	return nil
}

// mayGrant refuses a person who sees some depots only to make one who sees all.
// That the depots of u are visible is checked with the other ids of the request.
func (a Actor) mayGrant(u models.User) error {
	if len(a.User.Depots) > 0 && len(u.Depots) == 0 {
		return models.Errorf(models.Forbidden, "only a manager of all depots gives access to all depots")
	}
	return nil
}

// depots narrows a wanted list of depots to those that a sees. none reports that
// nothing is left to see.
func (a Actor) depots(want []models.DepotID) (list []models.DepotID, none bool) {
	if len(a.User.Depots) == 0 {
		return want, false
	}
	if len(want) == 0 {
		return a.User.Depots, false
	}

	for _, d := range want {
		if a.User.Sees(d) {
			list = append(list, d)
		}
	}

	return list, len(list) == 0
}

// requireDepot returns NotFound, as for a thing that does not exist, unless a
// sees depot d, which the thing called what belongs to.
func (a Actor) requireDepot(d models.DepotID, what string) error {
	if !a.User.Sees(d) {
		return notFound(what)
	}
	return nil
}

// notFound is the answer for what does not exist and for what a person may not
// see. The text is that of the store.
func notFound(what string) error { return models.Errorf(models.NotFound, "no such %s", what) }

// seesPerson reports whether a may know of person u: oneself, or somebody all of
// whose depots a sees.
func (a Actor) seesPerson(u models.User) bool {
	if a.User.ID == u.ID || len(a.User.Depots) == 0 {
		return true
	}
	for _, d := range u.Depots {
		if !a.User.Sees(d) {
			return false
		}
	}
	return len(u.Depots) > 0
}

// reference is an id that the input of a use-case names. Field is where it is in
// the input, such as fittings[0].tire_id; empty where the id is the input itself,
// as in the address of a page.
type reference struct {
	Field string
	ID    any
}

// requireVisible returns a NotFound error for the first of refs that does not
// exist or that a may not see; the two are answered alike.
func (a Actor) requireVisible(ctx context.Context, r models.Reader, refs []reference) error {
	for _, ref := range refs {
		err := a.visible(ctx, r, ref.ID)
		var missing *models.Error
		if ref.Field != "" && errors.As(err, &missing) && missing.Kind == models.NotFound {
			what := strings.TrimPrefix(missing.Msg, "no such ")
			var f models.Faults
			f.Add(ref.Field, fmt.Sprint(ref.ID), "names no %s in the record", what)
			return &models.Error{Kind: models.NotFound, Msg: missing.Msg, Fields: f}
		}

		if err != nil {
			return err
		}
	}

	return nil
}

// visible returns nil if a sees the thing with this id, NotFound if not.
//
//revive:disable-next-line:cyclomatic
func (a Actor) visible(ctx context.Context, r models.Reader, id any) error {
	switch id := id.(type) {
	case models.DepotID:
		if err := a.requireDepot(id, "depot"); err != nil {
			return err
		}
		_, err := r.Depot(ctx, id)
		return err
	case models.VehicleID:
		v, _, err := r.Vehicle(ctx, id)
		if err != nil {
			return err
		}
		return a.requireDepot(v.DepotID, "vehicle")
	case models.TireID:
		return a.visibleTire(ctx, r, id)
	case models.WheelID:
		w, err := r.Wheel(ctx, id)
		if err != nil {
			return err
		}
		return a.requireDepot(w.DepotID, "wheel")
	case models.EventID:
		return a.visibleEvent(ctx, r, id)
	case models.FindingID:
		f, err := r.Finding(ctx, id)
		if err != nil {
			return err
		}
		return a.requireDepot(f.DepotID, "finding")
	case models.PhotoID:
		return a.visiblePhoto(ctx, r, id)
	case models.UserID:
		u, err := r.User(ctx, id)
		if err == nil && !a.seesPerson(u) {
			err = notFound("person")
		}
		return err
	case models.TokenID:
		return a.visibleToken(ctx, r, id)
	}

	return fmt.Errorf("no rule says who sees a %T", id)
}

// visibleTire says that a tire is seen by whoever sees its depot or the vehicle
// that it is on: a vehicle that is lent out takes its tires along.
func (a Actor) visibleTire(ctx context.Context, r models.Reader, id models.TireID) error {
	t, st, err := r.Tire(ctx, id)
	if err != nil || a.User.Sees(t.DepotID) {
		return err
	}
	return a.visibleThrough(ctx, r, "tire", st.VehicleID)
}

// visibleThrough returns nil if a sees one of the things with these ids, in which
// what is found, and NotFound if not.
func (a Actor) visibleThrough(ctx context.Context, r models.Reader, what string, ids ...any) error {
	for _, ref := range references(ids...) {
		if err := a.visible(ctx, r, ref.ID); !errors.Is(err, models.NotFound) {
			return err
		}
	}
	return notFound(what)
}

// visibleEvent says that an event is seen by whoever sees the depot where it
// happened, or today's depot of a vehicle or tire in whose history it is.
func (a Actor) visibleEvent(ctx context.Context, r models.Reader, id models.EventID) error {
	e, err := r.Event(ctx, id)
	if err != nil || a.User.Sees(e.Header().DepotID) {
		return err
	}
	return a.visibleThrough(ctx, r, "event", e.Header().VehicleID, e.TireIDs())
}

// visiblePhoto says that a photo is seen by whoever sees its vehicle.
func (a Actor) visiblePhoto(ctx context.Context, r models.Reader, id models.PhotoID) error {
	p, err := r.Photo(ctx, id)
	if err != nil {
		return err
	}
	v, _, err := r.Vehicle(ctx, p.VehicleID)
	if err != nil {
		return err
	}
	return a.requireDepot(v.DepotID, "photo")
}

// visibleToken says that a token is known to its person and to a manager who
// sees that person.
func (a Actor) visibleToken(ctx context.Context, r models.Reader, id models.TokenID) error {
	t, err := r.TokenByID(ctx, id)
	if err != nil || t.UserID == a.User.ID {
		return err
	}
	if !access.Can(a.User.Role, access.Administer) {
		return notFound("token")
	}
	return a.visibleThrough(ctx, r, "token", t.UserID)
}

// references collects every id that inputs name, in the order of their fields.
// An input is an id itself, or a struct, in which all fields are looked at. A
// struct's own ID is not among them: it may be new. Nor are the fields that the
// use-cases fill in.
func references(inputs ...any) []reference {
	var out []reference
	for _, in := range inputs {
		collectIDs(reflect.ValueOf(in), "", &out)
	}
	return out
}

// filledIn are the fields that are the thing's own or that use-cases fill in:
// what a client writes there counts for nothing. Photos must be of the
// inspection's own vehicle, which says the same of one that does not exist.
var filledIn = map[string]bool{"ID": true, "Stamp": true, "By": true, "RecordedBy": true, "SupersededBy": true,
	"Rim": true, "RunOut": true, "MeasuredBy": true, "Corrects": true, "PasswordHash": true, "Photos": true}

// idTypes are the types of ids whose visibility can be checked.
var idTypes = map[reflect.Type]bool{
	reflect.TypeFor[models.DepotID]():   true,
	reflect.TypeFor[models.VehicleID](): true,
	reflect.TypeFor[models.TireID]():    true,
	reflect.TypeFor[models.WheelID]():   true,
	reflect.TypeFor[models.EventID]():   true,
	reflect.TypeFor[models.FindingID](): true,
	reflect.TypeFor[models.PhotoID]():   true,
	reflect.TypeFor[models.UserID]():    true,
	reflect.TypeFor[models.TokenID]():   true,
}

// collectIDs adds the ids in v, which is at field, to out.
func collectIDs(v reflect.Value, field string, out *[]reference) {
	if !v.IsValid() || !containsIDs(v.Type()) {
		return
	}

	switch v.Kind() {
	case reflect.String:
		if v.Len() > 0 {
			*out = append(*out, reference{field, v.Interface()})
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			collectIDs(v.Elem(), field, out)
		}
	case reflect.Slice:
		for i := range v.Len() {
			collectIDs(v.Index(i), fmt.Sprintf("%s[%d]", field, i), out)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if filledIn[f.Name] {
				continue
			}
			collectIDs(v.Field(i), inside(field, f), out)
		}
	}
}

// inside returns where field f of a struct at path is, in the names of the API.
func inside(path string, f reflect.StructField) string {
	if f.Anonymous {
		return path
	}
	name := snakeCase(f.Name)
	if path == "" {
		return name
	}
	return path + "." + name
}

// snakeCase writes the name of a Go field as the API does: TireID is tire_id.
func snakeCase(name string) string {
	var b strings.Builder
	upper := true // the letter before
	for _, c := range name {
		if unicode.IsUpper(c) && !upper {
			b.WriteByte('_')
		}
		upper = unicode.IsUpper(c)
		b.WriteRune(unicode.ToLower(c))
	}
	return b.String()
}

// withIDs remembers which types contain ids (bool by reflect.Type), so that the
// depths of an inspection are not walked.
var withIDs sync.Map

func containsIDs(t reflect.Type) bool {
	if known, ok := withIDs.Load(t); ok {
		return known.(bool)
	}
	contains := findsIDs(t)
	withIDs.Store(t, contains)
	return contains
}

func findsIDs(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.String:
		return idTypes[t]
	case reflect.Pointer, reflect.Slice:
		return containsIDs(t.Elem())
	case reflect.Interface:
		return true
	case reflect.Struct:
		for i := range t.NumField() {
			if f := t.Field(i); f.IsExported() && !filledIn[f.Name] && containsIDs(f.Type) {
				return true
			}
		}
	}

	return false
}
