package fleet_test

import (
	"math"
	"testing"
	"time"

	"rimledger/models"
)

// TestTiresToOrder: 10 tires that wear 3 to 6/32 in 20,000 mi and 200 days, from 20/32
// to 6/32, are all due long before a year is over; steer tires with their higher
// pull point first. What is due adds up to no more than what is mounted.
func TestTiresToOrder(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for i, depth := range []string{"17/32", "11/32", "6/32"} {
		w.after(200 * 24 * time.Hour)
		w.confirm(w.inspection([]string{"220,000 mi", "240,000 mi", "260,000 mi"}[i], all(depth)))
	}

	list := must(w.fleet.TiresToOrder(w.ctx, w.boss, nil, 12))(t)
	if len(list) != 1 || len(list[0].Sizes) != 1 || len(list[0].All) != 12 || list[0].Untold != 0 {
		t.Fatalf("orders %+v", list)
	}

	var sum float64
	for _, n := range list[0].All {
		if n.Lo80 > n.Median || n.Median > n.Hi80 || n.Hi80 > 10 {
			t.Errorf("a month of %+v", n)
		}
		sum += n.Mean
	}

	if sum < 8 || sum > 10 {
		t.Errorf("%.2f tires within a year, want most of ten", sum)
	}
	if _, err := w.fleet.TiresToOrder(w.ctx, w.boss, nil, 13); err == nil {
		t.Error("13 months were not refused")
	}

	o := must(w.fleet.PlaceOutlook(w.ctx, w.boss, w.vehicle.ID, "1L"))(t)
	if len(o.Track) != 3 || o.Pull == nil || len(o.Pull.Way) == 0 || o.Account == nil {
		t.Fatalf("the outlook of 1L is %+v", o)
	}

	for i, p := range o.Track { // 20,000 mi of 1.609344 km each
		if want := 32186.88 * float64(i); !p.RanKnown || math.Abs(p.RanKM-want) > 0.01 {
			t.Errorf("reading %d after %g km (known: %v), want %g", i, p.RanKM, p.RanKnown, want)
		}
	}

	if _, err := w.fleet.PlaceOutlook(w.ctx, w.boss, w.vehicle.ID, "9L"); err == nil {
		t.Error("a place that is not there has an outlook")
	} else {
		wantKind(t, err, models.NotFound)
	}
}
