// Package storetest checks what every store must do: one suite, run against each
// database, so that SQLite and PostgreSQL answer alike.
package storetest

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rimledger/models"
)

// Exercise runs every behaviour of the port against stores that open returns;
// each call of open must give an empty store of its own.
func Exercise(t *testing.T, open func(testing.TB) models.Store) {
	t.Helper()

	for _, c := range []struct {
		name string
		run  func(*testing.T, *world)
	}{
		{"entities come back whole", entitiesComeBackWhole},
		{"events come back whole", eventsComeBackWhole},
		{"empty fields stay empty", emptyFieldsStayEmpty},
		{"a put replaces and keeps what is derived", putReplaces},
		{"what is not there is not found", notFound},
		{"a unique value is taken once", conflicts},
		{"what is referred to must exist", missingReferences},
		{"a failed write leaves nothing", rollback},
		{"a write sees itself", writeSeesItself},
		{"a read is one snapshot", snapshot},
		{"no update is lost", noLostUpdate},
		{"vehicles: filters", vehicleFilters},
		{"vehicles: pages", vehiclePages},
		{"vehicles: those to check", vehiclesToCheck},
		{"tires: filters and pages", tireLists},
		{"wheels: pages", wheelPages},
		{"events: filters and pages", eventLists},
		{"fitments: filters", fitmentLists},
		{"wear: what running and ended fitments say", wearSummaries},
		{"what was learned is replaced", learnings},
		{"findings: filters and pages", findingLists},
		{"findings: counts", findingCounts},
		{"changes: filters and pages", changeLists},
		{"people and tokens: lists", peopleLists},
		{"digest slots are claimed once", digestSlots},
		{"figures by day and depot", figures},
		{"nothing of no vehicle", noVehicles},
		{"a cursor is refused unless it is one of ours", badCursors},
		{"text is searched as written", textSearch},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.run(t, newWorld(t, open(t)))
		})
	}
}

// world is a small invented fleet in an empty store.
type world struct {
	store    models.Store
	depots   []models.Depot // three
	vehicle  models.Vehicle
	tires    []models.Tire // enough for any drawn event
	wheel    models.Wheel
	user     models.User
	midnight time.Time
}

func newID[T ~string]() T { return T(uuid.NewString()) }

func newWorld(t testing.TB, s models.Store) *world {
	t.Helper()
	w := &world{store: s, midnight: time.Date(2026, 3, 30, 0, 0, 0, 0, time.UTC)}
	w.depots = []models.Depot{
		{ID: newID[models.DepotID](), Name: "Alder Yard", TimeZone: "UTC"},
		{ID: newID[models.DepotID](), Name: "Birch Yard", TimeZone: "UTC"},
		{ID: newID[models.DepotID](), Name: "Dell Yard", TimeZone: "UTC"},
	}

	w.vehicle = w.newVehicle("T-1")
	for i := range 8 {
		w.tires = append(w.tires, w.newTire(fmt.Sprintf("A%03d", i)))
	}

	w.wheel = models.Wheel{ID: newID[models.WheelID](), DepotID: w.depots[0].ID, Number: "W-1"}
	w.user = models.User{
		ID:    newID[models.UserID](),
		Name:  "Ana Example",
		Email: "ana@example.org",
		Role:  models.Manager,
	}

	w.write(t, func(ctx context.Context, tx models.Tx) error {
		steps := []error{
			tx.PutDepot(ctx, w.depots[0]),
			tx.PutDepot(ctx, w.depots[1]),
			tx.PutDepot(ctx, w.depots[2]),
			tx.PutVehicle(ctx, w.vehicle),
			tx.PutWheel(ctx, w.wheel),
			tx.PutUser(ctx, w.user),
		}

		for _, tire := range w.tires {
			steps = append(steps, tx.PutTire(ctx, tire))
		}
		return firstError(steps...)
	})

	return w
}

func (w *world) newVehicle(number string) models.Vehicle {
	return models.Vehicle{ID: newID[models.VehicleID](), DepotID: w.depots[0].ID, Number: number, Class: models.Tractor}
}

func (w *world) newTire(number string) models.Tire {
	return models.Tire{ID: newID[models.TireID](), DepotID: w.depots[0].ID, Number: number}
}

// at is a moment n minutes into the record.
func (w *world) at(n int) time.Time { return w.midnight.Add(time.Duration(n) * time.Minute) }

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// failer is what a test and a drawn example have in common.
type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

// write runs fn in one transaction that must succeed.
func (w *world) write(t failer, fn func(context.Context, models.Tx) error) {
	t.Helper()
	ctx := context.Background()
	if err := w.store.Write(ctx, func(tx models.Tx) error { return fn(ctx, tx) }); err != nil {
		t.Fatalf("write: %v", err)
	}
}

// tryWrite runs fn in one transaction and returns its error.
func (w *world) tryWrite(fn func(context.Context, models.Tx) error) error {
	ctx := context.Background()
	return w.store.Write(ctx, func(tx models.Tx) error { return fn(ctx, tx) })
}

// read runs fn on one snapshot, which must succeed.
func (w *world) read(t failer, fn func(context.Context, models.Reader) error) {
	t.Helper()
	ctx := context.Background()
	if err := w.store.Read(ctx, func(r models.Reader) error { return fn(ctx, r) }); err != nil {
		t.Fatalf("read: %v", err)
	}
}

// one reads a single value, which must be there.
func one[T any](t failer, w *world, get func(context.Context, models.Reader) (T, error)) T {
	t.Helper()
	var got T
	w.read(t, func(ctx context.Context, r models.Reader) (err error) {
		got, err = get(ctx, r)
		return err
	})
	return got
}

// same fails unless got is want to the last field, nil and empty apart, and
// every instant is in UTC.
func same(t failer, what string, got, want any) {
	t.Helper()
	exact := cmp.Comparer(func(a, b time.Time) bool { return a == b })
	if diff := cmp.Diff(want, got, exact); diff != "" {
		t.Fatalf("%s did not come back as it was put (-put +got):\n%s", what, diff)
	}
}

// pages reads a whole list page by page, each of at most n, and fails if a page
// is longer or the list does not end.
func pages[T any](t *testing.T, n int, list func(models.Page) ([]T, string, error)) []T {
	t.Helper()
	var all []T

	page := models.Page{Limit: n}
	for range 100 {
		part, next, err := list(page)
		if err != nil {
			t.Fatalf("page after %q: %v", page.After, err)
		}
		if len(part) > n {
			t.Fatalf("page of %d has %d", n, len(part))
		}

		all = append(all, part...)
		if next == "" {
			return all
		}

		if len(part) < n {
			t.Fatalf("a page of %d of %d names a next one", len(part), n)
		}

		page.After = next
	}

	t.Fatal("the list does not end after 100 pages")
	return nil
}

// collect maps a list, to compare what matters.
func collect[T, K any](list []T, key func(T) K) []K {
	out := make([]K, len(list))
	for i, v := range list {
		out[i] = key(v)
	}
	return out
}

// listCase is a filter and what its list is to be: a word for each, spaces between.
type listCase[F any] struct {
	name string
	f    F
	want string
}

// checkLists reads the list of each filter in pages of each size and compares its words.
func checkLists[T, F any](
	t *testing.T,
	w *world,
	cases []listCase[F],
	list func(models.Reader, context.Context, F, models.Page) ([]T, string, error),
	word func(T) string,
	sizes ...int,
) {
	t.Helper()

	for _, c := range cases {
		for _, n := range sizes {
			var got []T
			w.read(t, func(ctx context.Context, r models.Reader) error {
				got = pages(t, n, func(p models.Page) ([]T, string, error) { return list(r, ctx, c.f, p) })
				return nil
			})
			if words := strings.Join(collect(got, word), " "); words != c.want {
				t.Errorf("%s, in pages of %d: got %q, want %q", c.name, n, words, c.want)
			}
		}
	}
}
