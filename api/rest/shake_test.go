package rest_test

import (
	"fmt"
	"maps"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
)

// shake is a vibration report of the yard's truck with these fields.
func (y truckDepot) shake(fields object) object {
	body := object{"id": uuid.NewString(), "vehicle_id": y.vehicle, "at": noon.Add(-time.Hour)}
	maps.Copy(body, fields)
	return body
}

// The classic course: felt from 45 km/h, gone at 62, back and worse at 85 to 90.
func course() []object {
	return []object{{"from_kmh": 45, "to_kmh": 62, "strength": "light"},
		{"from_kmh": 85, "to_kmh": 90, "strength": "strong"}}
}

// A report holds several bands of speed and places, and the finding reads each against
// the orders of the wheel.
func TestShakeOfSeveralBands(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()

	a := y.do("POST", "/vibration-reports", y.shake(object{"bands": course(), "places": []string{"seat", "floor"}})).
		want(201)
	for path, want := range map[string]string{"event.bands.0.from_kmh": "45", "event.bands.1.to_kmh": "90",
		"event.bands.1.strength": "strong", "event.bands.1.worst_kmh": "", "event.places.1": "floor",
		"event.starts_kmh": ""} {
		if got := a.at(path); got != want {
			t.Errorf("%s is %q, want %q", path, got, want)
		}
	}

	for _, want := range []string{"two pushes a turn meet wheel hop", "one push a turn meets wheel hop",
		"felt at the seat and floor", "28 mph to 39 mph (light) and again 53 mph to 56 mph (strong)"} {
		if !strings.Contains(string(a.raw), want) {
			t.Errorf("the finding lacks %q: %s", want, a.raw)
		}
	}
}

// The form of one band is still taken, reads as a list of one, and an answer sent back
// is the same report.
func TestShakeInTheFormOfOneBand(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()

	body := y.shake(object{"starts_kmh": 70, "worst_kmh": 95, "felt_at": "steering_wheel"})
	a := y.do("POST", "/vibration-reports", body).want(201)
	for path, want := range map[string]string{"event.starts_kmh": "70", "event.bands.0.from_kmh": "70",
		"event.bands.0.worst_kmh": "95", "event.places.0": "steering_wheel", "event.felt_at": "steering_wheel"} {
		if got := a.at(path); got != want {
			t.Errorf("%s is %q, want %q", path, got, want)
		}
	}

	maps.Copy(body, object{"bands": []object{{"from_kmh": 70, "worst_kmh": 95}}, "places": []string{"steering_wheel"}})
	if again := y.do("POST", "/vibration-reports", body).want(200); again.at("repeated") != "true" {
		t.Errorf("what was answered is another report: %s", again.raw)
	}
}

// What cannot be is refused with its field, its value and what would be right.
func TestBadShakes(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	band := func(fields ...object) object { return object{"bands": fields} }

	nine := object{"bands": make([]object, 9)}
	for i := range 9 {
		nine["bands"].([]object)[i] = object{"from_kmh": 20 + i}
	}

	for _, c := range []struct {
		name, field, want string
		body              object
	}{
		{"bands that overlap", "bands[1].from_kmh", "overlaps",
			band(object{"from_kmh": 45, "to_kmh": 62}, object{"from_kmh": 61})},
		{"bands that overlap, the higher first", "bands[0].from_kmh", "overlaps",
			band(object{"from_kmh": 61}, object{"from_kmh": 45, "to_kmh": 62})},
		{"worst below the start", "bands[0].worst_kmh", "is below where it starts",
			band(object{"from_kmh": 85, "worst_kmh": 80})},
		{"worst above the end", "bands[0].to_kmh", "is below where it starts or is worst",
			band(object{"worst_kmh": 91, "to_kmh": 90})},
		{"a band of nothing", "bands[0].from_kmh", "has a speed", band(object{"strength": "light"})},
		{"a strength that is none", "bands[0].strength", "", band(object{"from_kmh": 45, "strength": "huge"})},
		{"a speed of 251", "bands[0].to_kmh", "250 km/h", band(object{"to_kmh": 251})},
		{"nine bands", "bands", "", nine},
		{"both forms of speeds", "bands", "in one form", object{"worst_kmh": 70, "bands": course()}},
		{"both forms of places", "places", "in one form", object{"felt_at": "dash", "places": []string{"seat"}}},
		{"a place twice", "places[1]", "named twice", object{"places": []string{"seat", "seat"}}},
		{"a place that is none", "places[0]", "", object{"places": []string{"roof"}}},
	} {
		a := y.do("POST", "/vibration-reports", y.shake(c.body))
		if a.status != 422 && a.status != 400 {
			t.Errorf("%s: status %d: %s", c.name, a.status, a.raw)
			continue
		}

		named := false
		for i := range 12 {
			at := fmt.Sprintf("errors.%d.", i)
			field := strings.TrimPrefix(a.at(at+"field"), "body.")
			named = named || field == c.field && strings.Contains(a.at(at+"remedy"), c.want)
		}
		if !named {
			t.Errorf("%s: no fault at %s that says %q: %s", c.name, c.field, c.want, a.raw)
		}
	}

	y.do("POST", "/vibration-reports", y.shake(band(object{"from_kmh": 45, "to_kmh": 62}, object{"from_kmh": 62}))).
		want(201)
}
