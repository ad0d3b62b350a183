package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"rimledger/models"
)

// namesField reports whether err is Invalid because of the field name.
func namesField(err error, name string) bool {
	var e *models.Error
	return errors.As(err, &e) && e.Kind == models.Invalid &&
		slices.ContainsFunc(e.Fields, func(f models.Field) bool { return f.Name == name })
}

func peopleLists(t *testing.T, w *world) {
	zoe := models.User{ID: newID[models.UserID](), Name: "Zoe Example", Email: "zoe@example.org"}
	bo := models.User{ID: newID[models.UserID](), Name: "Bo Example", Email: "bo@example.org"}
	token := func(hash string, at int, u models.User) models.Token {
		return models.Token{ID: newID[models.TokenID](), UserID: u.ID, Hash: hash, CreatedAt: w.at(at)}
	}

	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(
			tx.PutUser(ctx, zoe),
			tx.PutUser(ctx, bo),
			tx.PutToken(ctx, token("h2", 2, bo)),
			tx.PutToken(ctx, token("h1", 1, bo)),
			tx.PutToken(ctx, token("h3", 3, zoe)),
		)
	})

	users := one(t, w, func(ctx context.Context, r models.Reader) ([]models.User, error) { return r.Users(ctx) })
	names := strings.Join(collect(users, func(u models.User) string { return u.Name }), ", ")
	if got := names; got != "Ana Example, Bo Example, Zoe Example" {
		t.Errorf("users: got %q", got)
	}

	tokens := one(
		t,
		w,
		func(ctx context.Context, r models.Reader) ([]models.Token, error) { return r.Tokens(ctx, bo.ID) },
	)
	if got := strings.Join(collect(tokens, func(k models.Token) string { return k.Hash }), " "); got != "h1 h2" {
		t.Errorf("tokens: got %q", got)
	}

	policies := one(t, w, func(ctx context.Context, r models.Reader) ([]models.DepotPolicy, error) {
		return r.DepotPolicies(ctx, w.depots[0].ID)
	})
	if len(policies) != 0 {
		t.Errorf("a depot that changes nothing has %d policies", len(policies))
	}
}

func changeLists(t *testing.T, w *world) {
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		for i := range 7 {
			if err := tx.AddChange(ctx, w.change(i)); err != nil {
				return err
			}
		}
		return nil
	})

	what := func(c models.Change) string { return c.What }
	checkLists(t, w, []listCase[models.ChangeFilter]{
		{"all, newest first", models.ChangeFilter{}, "6 5 4 3 2 1 0"},
		{"entity", models.ChangeFilter{Entity: "depot"}, "5 3 1"},
		{"one thing", models.ChangeFilter{Entity: "tire", ID: "id0"}, "6 0"},
		{"by a person", models.ChangeFilter{By: "someone"}, "6"},
		{"within one depot", models.ChangeFilter{Within: []models.DepotID{w.depots[0].ID}}, "4 0"},
		{"within the other depot, of a kind", models.ChangeFilter{Entity: "depot", Within: []models.DepotID{w.depots[1].ID}}, "5 1"},
		{"within two depots", models.ChangeFilter{Within: []models.DepotID{w.depots[0].ID, w.depots[1].ID}}, "5 4 3 1 0"},
		{"within a depot without changes", models.ChangeFilter{Within: []models.DepotID{newID[models.DepotID]()}}, ""},
	}, models.Reader.Changes, what, 2)
}

// change returns the change number i of seven, all of one moment: the order is that of
// writing.
func (w *world) change(i int) models.Change {
	c := models.Change{
		At:     w.at(1),
		By:     w.user.ID,
		Entity: []string{"tire", "depot"}[i%2],
		ID:     fmt.Sprint("id", i%3),
		What:   fmt.Sprint(i),
	}

	if i == 6 {
		c.By = "someone"
	}
	for d, concerns := range []string{"0 3 4", "1 3 5"} { // the others concern all depots
		if strings.Contains(concerns, c.What) {
			c.Depots = append(c.Depots, w.depots[d].ID)
		}
	}

	return c
}

func findingLists(t *testing.T, w *world) {
	far := w.newVehicle("F-1")
	far.DepotID, far.Class = w.depots[1].ID, models.Bus

	finding := func(
		title string, v models.Vehicle, code models.FindingCode, u models.Urgency, since, due, closed int,
	) models.Finding {
		f := models.Finding{
			ID:        newID[models.FindingID](),
			DepotID:   v.DepotID,
			VehicleID: v.ID,
			Code:      code,
			Urgency:   u,
			Title:     title,
			Since:     w.at(since),
		}

		if due > 0 {
			at := w.at(due)
			f.DueAt = &at
		}
		if closed > 0 {
			at := w.at(closed)
			f.ClosedAt = &at
		}

		return f
	}

	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(tx.PutVehicle(ctx, far), tx.PutFindings(ctx, []models.Finding{
			finding("p2", w.vehicle, models.BelowPull, models.Plan, 2, 0, 0),
			finding("p1", far, models.BelowPull, models.Plan, 1, 50, 0),
			finding("off", w.vehicle, models.Damage, models.OffTheRoad, 9, 0, 0),
			finding("w", w.vehicle, models.AgeWatch, models.Watch, 0, 100, 0),
			finding("c1", w.vehicle, models.Damage, models.OffTheRoad, 1, 0, 61),
			finding("c2", far, models.RunFlat, models.DoNow, 1, 0, 62),
		}))
	})

	title := func(f models.Finding) string { return f.Title }
	checkLists(t, w, []listCase[models.FindingFilter]{
		{"open, by urgency and since", models.FindingFilter{}, "off p1 p2 w"},
		{"closed, newest first", models.FindingFilter{Closed: true}, "c2 c1"},
		{"depot", models.FindingFilter{Depots: []models.DepotID{w.depots[1].ID}}, "p1"},
		{"vehicle", models.FindingFilter{VehicleID: w.vehicle.ID}, "off p2 w"},
		{"class", models.FindingFilter{Class: models.Bus}, "p1"},
		{"urgency", models.FindingFilter{Urgency: models.Plan}, "p1 p2"},
		{"codes", models.FindingFilter{Codes: []models.FindingCode{models.AgeWatch, models.Damage}}, "off w"},
		{"due before, not at", models.FindingFilter{DueBefore: w.at(100)}, "p1"},
		{"text in the title", models.FindingFilter{Text: "OFF"}, "off"},
		{"text in the vehicle's number", models.FindingFilter{Text: "f-1"}, "p1"},
	}, models.Reader.Findings, title, 1, 3)

	findingsMove(t, w)
}

// findingsMove: the vehicle goes to another depot, and its findings with it.
func findingsMove(t *testing.T, w *world) {
	t.Helper()

	titles := func(list []models.Finding) string {
		return strings.Join(collect(list, func(f models.Finding) string { return f.Title }), " ")
	}

	open := one(t, w, func(ctx context.Context, r models.Reader) ([]models.Finding, error) {
		return r.OpenFindings(ctx, w.vehicle.ID)
	})
	if got := titles(open); got != "off p2 w" {
		t.Errorf("open on the vehicle: got %q", got)
	}

	for i := range open {
		open[i].DepotID = w.depots[1].ID
	}

	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutFindings(ctx, open) })

	w.read(t, func(ctx context.Context, r models.Reader) error {
		list, _, err := r.Findings(
			ctx, models.FindingFilter{Depots: []models.DepotID{w.depots[1].ID}}, models.Page{Limit: 9},
		)
		if got := titles(list); got != "off p1 p2 w" {
			t.Errorf("of the depot that the vehicle went to: got %q", got)
		}
		return err
	})
}

func findingCounts(t *testing.T, w *world) {
	putRows(t, w, []row{
		{number: "a", depot: 0, class: models.Car, worst: models.Plan, findings: 1},
		{number: "b", depot: 0, class: models.Car, worst: models.Plan, findings: 1},
		{number: "c", depot: 1, class: models.Car, worst: models.DoNow, findings: 1},
	})

	closed, worse := w.at(3), w.at(6)
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		a, err := tx.VehicleByNumber(ctx, w.depots[0].ID, "a")
		if err != nil {
			return err
		}

		second := models.Finding{
			ID:        newID[models.FindingID](),
			DepotID:   a.DepotID,
			VehicleID: a.ID,
			Code:      models.AgeLimit,
			Urgency:   models.Plan,
			OpenedAt:  w.at(5),
		}

		done := models.Finding{
			ID:        newID[models.FindingID](),
			DepotID:   a.DepotID,
			VehicleID: a.ID,
			Code:      models.Damage,
			Urgency:   models.DoNow,
			ClosedAt:  &closed,
		}

		third := models.Finding{
			ID:        newID[models.FindingID](),
			DepotID:   a.DepotID,
			VehicleID: a.ID,
			Code:      models.RunFlat,
			Urgency:   models.Plan,
			OpenedAt:  w.at(1),
			WorseAt:   &worse,
			WorseFrom: models.Watch,
		}

		return tx.PutFindings(ctx, []models.Finding{second, done, third})
	})

	changed := func(depot, since int) models.ChangedCount {
		return one(t, w, func(ctx context.Context, r models.Reader) (models.ChangedCount, error) {
			return r.CountChanged(ctx, []models.DepotID{w.depots[depot].ID}, w.at(since))
		})
	}
	same(t, "changed from the minute it closed on", changed(0, 3), models.ChangedCount{New: 1, Worse: 1, Closed: 1})
	same(t, "changed after it closed and before it opened", changed(0, 4), models.ChangedCount{New: 1, Worse: 1})
	same(t, "changed after all", changed(0, 7), models.ChangedCount{})
	same(t, "changed at another depot", changed(1, 3), models.ChangedCount{})

	list := one(t, w, func(ctx context.Context, r models.Reader) ([]models.FindingCode, error) {
		open, _, err := r.Findings(
			ctx,
			models.FindingFilter{Depots: []models.DepotID{w.depots[0].ID}, ChangedSince: w.at(5)},
			models.Page{Limit: 9},
		)

		closed, _, err2 := r.Findings(
			ctx, models.FindingFilter{ChangedSince: w.at(3), Closed: true}, models.Page{Limit: 9},
		)

		codes := collect(append(open, closed...), func(f models.Finding) models.FindingCode { return f.Code })
		return codes, firstError(err, err2)
	})

	slices.Sort(list)
	same(t, "what changed", list, []models.FindingCode{models.AgeLimit, models.Damage, models.RunFlat})
	first := models.UrgencyCount{DepotID: w.depots[0].ID, Urgency: models.Plan, Findings: 4, Vehicles: 2}
	second := models.UrgencyCount{DepotID: w.depots[1].ID, Urgency: models.DoNow, Findings: 1, Vehicles: 1}
	both := []models.UrgencyCount{first, second}
	if second.DepotID < first.DepotID {
		slices.Reverse(both)
	}

	same(
		t,
		"counts of all depots",
		one(t, w, func(ctx context.Context, r models.Reader) ([]models.UrgencyCount, error) {
			return r.CountOpen(ctx, nil)
		}),
		both,
	)

	same(t, "counts of one depot", one(t, w, func(ctx context.Context, r models.Reader) ([]models.UrgencyCount, error) {
		return r.CountOpen(ctx, []models.DepotID{w.depots[1].ID})
	}), []models.UrgencyCount{second})
}
