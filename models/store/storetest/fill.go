package storetest

import (
	"reflect"
	"strconv"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"rimledger/models"
)

// filler draws values in which every field is set, so that a field that the
// store forgets is missed. Ids that must exist are those of the world; a tire or
// a position is used once in a value.
type filler struct {
	t     *rapid.T
	w     *world
	tires int
	place int
}

// full draws a T with every field set.
func full[T any](t *rapid.T, w *world) T {
	var v T
	fillAll(t, w, &v)
	return v
}

// fillAll sets every field of what to points to.
func fillAll(t *rapid.T, w *world, to any) {
	f := &filler{t: t, w: w}
	v := reflect.ValueOf(to).Elem()
	f.fill(v, v.Type().Name())
}

// characters are what a text is drawn from: any but NUL, which every use-case refuses.
var characters = rapid.Rune().Filter(func(r rune) bool { return r != 0 && utf8.ValidRune(r) })

func (f *filler) fill(v reflect.Value, name string) {
	if f.known(v, name) {
		return
	}

	switch v.Kind() {
	case reflect.String:
		v.SetString(rapid.StringOfN(characters, 1, 12, -1).Draw(f.t, name))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int:
		v.SetInt(int64(rapid.IntRange(1, 1<<31-1).Draw(f.t, name)))
	case reflect.Int64:
		v.SetInt(rapid.Int64Range(1, 1<<62).Draw(f.t, name))
	case reflect.Float64:
		v.SetFloat(rapid.Float64Range(1e-12, 1e15).Draw(f.t, name))
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		f.fill(v.Elem(), name)
	case reflect.Slice:
		n := rapid.IntRange(1, 2).Draw(f.t, name+" length")
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		for i := range n {
			f.fill(v.Index(i), name+"["+strconv.Itoa(i)+"]")
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f.fill(v.Field(i), name+"."+v.Type().Field(i).Name)
		}
	default:
		f.t.Fatalf("%s: no way to fill a %s", name, v.Type())
	}
}

// known fills what has a meaning to the store, and says whether it did.
func (f *filler) known(v reflect.Value, name string) bool {
	p := v.Addr().Interface()
	return f.refer(p) || makeID(p) || f.draw(p, name)
}

// refer fills the id of something that is in the world, or a place of its vehicle.
func (f *filler) refer(p any) bool {
	switch p := p.(type) {
	case *models.DepotID:
		*p = f.w.depots[0].ID
	case *models.VehicleID:
		*p = f.w.vehicle.ID
	case *models.WheelID:
		*p = f.w.wheel.ID
	case *models.UserID:
		*p = f.w.user.ID
	case *models.TireID:
		*p = f.w.tires[f.tires%len(f.w.tires)].ID
		f.tires++
	case *models.Position:
		places := models.Positions([]models.Axle{{}, {Dual: true}, {Dual: true}, {Dual: true}}, 2)
		*p = places[f.place%len(places)]
		f.place++
	default:
		return false
	}

	return true
}

// makeID fills an id that must not be there yet.
func makeID(p any) bool {
	switch p := p.(type) {
	case *models.EventID:
		*p = newID[models.EventID]()
	case *models.FitmentID:
		*p = newID[models.FitmentID]()
	case *models.FindingID:
		*p = newID[models.FindingID]()
	case *models.PhotoID:
		*p = newID[models.PhotoID]()
	case *models.TokenID:
		*p = newID[models.TokenID]()
	default:
		return false
	}

	return true
}

// draw fills what not every value of its kind will do for.
func (f *filler) draw(p any, name string) bool {
	switch p := p.(type) {
	case *time.Time:
		us := rapid.Int64Range(-2_000_000_000_000_000, 4_000_000_000_000_000).Draw(f.t, name) // 1906 to 2096
		*p = time.UnixMicro(us).UTC()
	case *[]byte:
		*p = rapid.SliceOfN(rapid.Byte(), 1, 64).Draw(f.t, name)
	case *models.Urgency:
		all := []models.Urgency{models.OffTheRoad, models.DoNow, models.Plan, models.Watch}
		*p = rapid.SampledFrom(all).Draw(f.t, name)
	default:
		return false
	}

	return true
}
