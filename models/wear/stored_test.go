package wear_test

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"rimledger/models/wear"
)

// fill gives every field of v, however deep, a value of its own.
func fill(v reflect.Value, n *int) {
	*n++
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), n)
		}
	case reflect.Float64:
		v.SetFloat(math.Nextafter(1/float64(*n), 2)) // digits to the last
	case reflect.Int:
		v.SetInt(int64(1000 * *n))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.String:
		v.SetString(strings.Repeat("w", *n))
	default:
		panic("a field of kind " + v.Kind().String() + " has no stored form")
	}
}

// A state that is stored is read back bit for bit, whichever of its fields are set.
func TestStoredState(t *testing.T) {
	t.Parallel()
	var full wear.State
	n := 0
	fill(reflect.ValueOf(&full).Elem(), &n)

	odd := wear.State{XKM: math.Inf(1), LastZ: math.Copysign(0, -1), Count: -1, Pending: true}
	for name, s := range map[string]wear.State{"empty": {}, "full": full, "odd": odd} {
		text, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		got := full // what stood there before is gone
		if err := json.Unmarshal(text, &got); err != nil || got != s ||
			math.Signbit(got.LastZ) != math.Signbit(s.LastZ) {
			t.Errorf("%s: got %+v, %v; want %+v", name, got, err, s)
		}

		for cut := 1; cut < len(text)-1; cut += 4 {
			if err := json.Unmarshal([]byte(string(text[:cut])+`"`), new(wear.State)); err == nil {
				t.Errorf("%s: a state cut off after %d of %d bytes is read", name, cut, len(text))
			}
		}
	}
}

// Earlier versions stored a state under the names of its fields.
func TestStoredStateOfEarlierVersions(t *testing.T) {
	t.Parallel()
	const text = `{"Prior":{"RateMean":0.065,"OutlierZ":3,"Source":` +
		`{"Embedded":true,"Level":"embedded","Status":"judged"}},` +
		`"XKM":180246.528,"DepthMM":14.7903046670518,"Count":6,"Pending":true}`

	var got wear.State
	want := wear.State{Prior: wear.Prior{RateMean: 0.065, OutlierZ: 3, Source: wear.Source{Embedded: true,
		Level: "embedded", Status: "judged"}}, XKM: 180246.528, DepthMM: 14.7903046670518, Count: 6, Pending: true}
	if err := json.Unmarshal([]byte(text), &got); err != nil || got != want {
		t.Errorf("got %+v, %v; want %+v", got, err, want)
	}

	for _, bad := range []string{`7`, `[]`, `""`, `"Ag=="`, `"not base64"`, `"AQ=="`} {
		if err := json.Unmarshal([]byte(bad), &got); err == nil || !strings.Contains(err.Error(), "wear state") {
			t.Errorf("%s: got %v, want an error that says what it is", bad, err)
		}
	}
}
