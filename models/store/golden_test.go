package store_test

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/store"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// plain sets every field of what to points to, the same on every run: texts are
// the names of their fields, numbers count up, lists have one member, an id is
// the same wherever a thing of its kind is meant.
func plain(to any) {
	n := 0

	var fill func(v reflect.Value, name string)
	fill = func(v reflect.Value, name string) {
		n++
		if at, ok := v.Addr().Interface().(*time.Time); ok {
			*at = time.Date(2026, 3, 30, 4, 5, 6, n*1000, time.UTC)
			return
		}

		switch v.Kind() {
		case reflect.String:
			v.SetString(name)
			for i, id := range []any{models.DepotID(""), models.VehicleID(""), models.TireID(""), models.WheelID(""), models.FitmentID(""),
				models.EventID(""), models.FindingID(""), models.UserID(""), models.TokenID(""), models.PhotoID("")} {
				if v.Type() == reflect.TypeOf(id) {
					v.SetString(fmt.Sprintf("00000000-0000-7000-8000-%012d", i+1))
				}
			}
		case reflect.Bool:
			v.SetBool(true)
		case reflect.Int, reflect.Int64:
			v.SetInt(int64(n))
		case reflect.Float64:
			v.SetFloat(float64(n) + 0.5)
		case reflect.Pointer:
			v.Set(reflect.New(v.Type().Elem()))
			fill(v.Elem(), name)
		case reflect.Slice:
			v.Set(reflect.MakeSlice(v.Type(), 1, 1))
			fill(v.Index(0), name)
		case reflect.Struct:
			for i := range v.NumField() {
				fill(v.Field(i), v.Type().Field(i).Name)
			}
		default:
			panic(fmt.Sprintf("no way to fill a %s", v.Type()))
		}
	}

	v := reflect.ValueOf(to).Elem()
	fill(v, v.Type().Name())
}

func filled[T any]() T {
	var v T
	plain(&v)
	return v
}

// stored is a document that the store keeps, and how it is found.
type stored struct {
	name, query string
	empty       any // pointer to an empty value of its type
}

// The stored form is a promise: a record written by an earlier version must be
// read by a later one. Where a golden file changes, a field that was renamed or
// dropped needs a migration of the documents; a new field is read as zero from
// old ones, which must be right.
func TestStoredForm(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	s := open(t, newFile(t), store.Options{Migrate: true, Volatile: true})

	docs := []stored{
		{"depot", "SELECT doc FROM depots", new(models.Depot)},
		{"policy", "SELECT doc FROM depot_policies", new(models.DepotPolicy)},
		{"vehicle", "SELECT doc FROM vehicles", new(models.Vehicle)},
		{"vehicle_state", "SELECT state FROM vehicles", new(models.VehicleState)},
		{"tire", "SELECT doc FROM tires", new(models.Tire)},
		{"tire_state", "SELECT state FROM tires", new(models.TireState)},
		{"wheel", "SELECT doc FROM wheels", new(models.Wheel)},
		{"fitment", "SELECT doc FROM fitments", new(models.Fitment)},
		{"finding", "SELECT doc FROM findings", new(models.Finding)},
		{"user", "SELECT doc FROM users", new(models.User)},
		{"token", "SELECT doc FROM tokens", new(models.Token)},
		{"change", "SELECT doc FROM changes", new(models.Change)},
		{"digest_slot", "SELECT doc FROM digest_slots", new(models.DigestSlot)},
	}

	err := s.Write(ctx, func(tx models.Tx) error {
		v, tire := filled[models.Vehicle](), filled[models.Tire]()
		for _, err := range []error{
			tx.PutDepot(ctx, filled[models.Depot]()), tx.PutDepotPolicy(ctx, filled[models.DepotPolicy]()),
			tx.PutVehicle(ctx, v), tx.PutVehicleState(ctx, v.ID, filled[models.VehicleState](), models.Standing{}),
			tx.PutTire(ctx, tire), tx.PutTireStates(ctx, map[models.TireID]models.TireState{tire.ID: filled[models.TireState]()}, true),
			tx.PutWheel(ctx, filled[models.Wheel]()), tx.PutFitments(ctx, []models.Fitment{filled[models.Fitment]()}),
			tx.PutFindings(ctx, []models.Finding{filled[models.Finding]()}), tx.PutUser(ctx, filled[models.User]()),
			tx.PutToken(ctx, filled[models.Token]()), tx.AddChange(ctx, filled[models.Change]()), tx.PutDigestSlot(ctx, filled[models.DigestSlot]()),
		} {
			if err != nil {
				return err
			}
		}

		for i, kind := range []models.EventKind{models.KindInspection, models.KindOdometer, models.KindFit, models.KindRemoval,
			models.KindRotation, models.KindBalance, models.KindRepair, models.KindAlignment, models.KindRetorque, models.KindService,
			models.KindVibration, models.KindClearance, models.KindTireMove, models.KindVoid, models.KindWheelCheck} {
			e := models.NewEvent(kind)
			plain(e)
			e.Header().ID = models.EventID(fmt.Sprintf("00000000-0000-7000-9000-%012d", i))
			if err := tx.AddEvents(ctx, e); err != nil {
				return err
			}

			docs = append(
				docs,
				stored{
					"event_" + string(kind),
					"SELECT doc FROM events WHERE kind = '" + string(kind) + "'",
					models.NewEvent(kind),
				},
			)
		}

		return nil
	})

	if err != nil {
		t.Fatal(err)
	}

	for _, d := range docs {
		var doc string
		if err := s.DB().QueryRow(d.query).Scan(&doc); err != nil {
			t.Fatal(err)
		}
		golden(t, d, doc)
	}
}

func golden(t *testing.T, d stored, doc string) {
	t.Helper()
	file := filepath.Join("..", "..", "testdata", "golden", "store", d.name+".json")
	var got bytes.Buffer
	if err := json.Indent(&got, []byte(doc), "", "  "); err != nil {
		t.Fatal(err)
	}
	got.WriteByte('\n')

	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}

	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got.String()); diff != "" {
		t.Errorf("the stored form of a %s changed (-before +now); see TestStoredForm:\n%s", d.name, diff)
	}
	strict := json.NewDecoder(bytes.NewReader(want))
	strict.DisallowUnknownFields()

	if err := strict.Decode(d.empty); err != nil {
		t.Errorf("a stored %s is not read whole any more: %v", d.name, err)
	}
}
