package fleet_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/units"
)

// TestBoundsOfRecording: both sides of what an entry may hold; the bounds are chosen by us,
// 26 mm and 32/32 in are the deepest tread a gauge reads. A value that is only asked about is
// not refused.
func TestBoundsOfRecording(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)

	inspect := func(change func(*models.Inspection, *models.Reading)) func() models.Event {
		return func() models.Event {
			e := w.inspection("unknown", all("19/32"))
			e.Readings = e.Readings[:1]
			change(e, &e.Readings[0])
			return e
		}
	}
	depths := func(grooves, stations int, text string) [][]*models.Depth {
		d := must(models.ParseDepth(text, units.BareNone))(t)
		out := make([][]*models.Depth, grooves)
		for g := range out {
			for range stations {
				out[g] = append(out[g], &d)
			}
		}
		return out
	}
	grid := func(grooves, stations int, text string) func() models.Event {
		return inspect(func(_ *models.Inspection, r *models.Reading) { r.Depths = depths(grooves, stations, text) })
	}
	observe := func(o models.Observation) func() models.Event {
		o.Code = models.ObsCupping
		return inspect(func(_ *models.Inspection, r *models.Reading) { r.Observations = []models.Observation{o} })
	}
	gauge := func(step units.Length) func() models.Event {
		return inspect(func(e *models.Inspection, _ *models.Reading) { e.Gauge.Resolution = step })
	}
	torque := func(nm float64) func() models.Event {
		return func() models.Event { return &models.Retorque{Meta: w.meta("unknown"), TorqueNM: nm} }
	}
	shake := func(change func(*models.Vibration)) func() models.Event {
		return func() models.Event {
			e := &models.Vibration{Meta: w.meta("unknown")}
			change(e)
			return e
		}
	}
	bands := func(n int) func() models.Event {
		return shake(func(e *models.Vibration) {
			for i := range n {
				from := 10 + 20*float64(i)
				e.Bands = append(e.Bands, models.SpeedBand{FromKMH: from, WorstKMH: from + 5, ToKMH: from + 10})
			}
		})
	}
	aligned := func(axles ...int) func() models.Event {
		return func() models.Event { return &models.Alignment{Meta: w.meta("unknown"), Axles: axles} }
	}
	noted := func(n int) func() models.Event {
		return func() models.Event {
			e := &models.Alignment{Meta: w.meta("unknown")}
			e.Note = strings.Repeat("x", n)
			return e
		}
	}
	repaired := func(n int) func() models.Event {
		return func() models.Event {
			return &models.Repair{Meta: w.meta("unknown"), Position: "1L", What: strings.Repeat("x", n)}
		}
	}
	last := len(w.vehicle.Axles)

	for _, row := range []struct {
		name  string
		entry func() models.Event
		field string // "": not refused
	}{
		{"8 grooves", grid(8, 1, "19/32"), ""},
		{"9 grooves", grid(9, 1, "19/32"), "readings[0].depths"},
		{"36 stations", grid(3, 36, "19/32"), ""},
		{"37 stations", grid(3, 37, "19/32"), "readings[0].depths[0]"},
		{"no stations", inspect(func(_ *models.Inspection, r *models.Reading) {
			r.Depths = [][]*models.Depth{{}, {}}
		}), "readings[0].depths[0]"},
		{"grooves that differ in stations", inspect(func(_ *models.Inspection, r *models.Reading) {
			r.Depths[1] = append(r.Depths[1], r.Depths[1][0])
		}), "readings[0].depths[1]"},
		{"nothing worn off is left", grid(3, 1, "0 mm"), ""},
		{"26 mm", grid(3, 1, "26 mm"), ""},
		{"a gauge of 2 mm", gauge(2 * units.Millimetre), ""},
		{"a gauge of more", gauge(2*units.Millimetre + 1), "gauge.resolution"},
		{"a gauge of less than nothing", gauge(-1), "gauge.resolution"},
		{"60 cups", observe(models.Observation{Count: 60}), ""},
		{"61 cups", observe(models.Observation{Count: 61}), "readings[0].observations[0].count"},
		{"-1 cups", observe(models.Observation{Count: -1}), "readings[0].observations[0].count"},
		{"a note of 500", observe(models.Observation{Note: strings.Repeat("x", 500)}), ""},
		{"a note of 501", observe(models.Observation{Note: strings.Repeat("x", 501)}),
			"readings[0].observations[0].note"},
		{"a size below nothing", observe(models.Observation{Size: -1}), "readings[0].observations[0].size"},
		{"a spacing below nothing", observe(models.Observation{Spacing: -1}), "readings[0].observations[0].size"},

		{"2000 N·m", torque(2000), ""}, {"more", torque(2000.5), "torque_nm"},
		{"less than none", torque(-1), "torque_nm"},
		{"250 km/h", shake(func(e *models.Vibration) { e.WorstKMH = 250 }), ""},
		{"251 km/h", shake(func(e *models.Vibration) { e.WorstKMH = 251 }), "worst_kmh"},
		{"-1 km/h", shake(func(e *models.Vibration) { e.WorstKMH = -1 }), "worst_kmh"},
		{"worst where it starts", shake(func(e *models.Vibration) { e.StartsKMH, e.WorstKMH = 80, 80 }), ""},
		{"worst below", shake(func(e *models.Vibration) { e.StartsKMH, e.WorstKMH = 80, 79 }), "worst_kmh"},
		{"where it starts alone", shake(func(e *models.Vibration) { e.StartsKMH = 80 }), ""},
		{"it fades where it is worst", shake(func(e *models.Vibration) { e.WorstKMH, e.FadesKMH = 80, 80 }), ""},
		{"it fades below", shake(func(e *models.Vibration) { e.WorstKMH, e.FadesKMH = 80, 79 }), "fades_kmh"},
		{"8 bands", bands(8), ""}, {"9 bands", bands(9), "bands"},
		{"bands that touch", shake(func(e *models.Vibration) {
			e.Bands = []models.SpeedBand{{FromKMH: 80, ToKMH: 90}, {FromKMH: 60, ToKMH: 80}}
		}), ""},
		{"bands that overlap", shake(func(e *models.Vibration) {
			e.Bands = []models.SpeedBand{{FromKMH: 79, ToKMH: 90}, {FromKMH: 60, ToKMH: 80}}
		}), "bands[0].from_kmh"},
		{"felt in one place", shake(func(e *models.Vibration) { e.FeltAt = models.ShakePlaces[0] }), ""},
		{"felt in a list", shake(func(e *models.Vibration) { e.Places = models.ShakePlaces[:2] }), ""},
		{"felt in both forms", shake(func(e *models.Vibration) {
			e.FeltAt, e.Places = models.ShakePlaces[0], models.ShakePlaces[:1]
		}), "places"},
		{"a report of nothing", shake(func(*models.Vibration) {}), "worst_kmh"},
		{"a report of empty lists", shake(func(e *models.Vibration) {
			e.Bands, e.Places = []models.SpeedBand{}, []string{}
		}), "worst_kmh"},
		{"a note alone", shake(func(e *models.Vibration) { e.Note = "shakes" }), ""},

		{"the last axle", aligned(1, last), ""}, {"one more", aligned(last + 1), "axles"},
		{"axle 0", aligned(0), "axles"},
		{"a text of 2000", noted(2000), ""}, {"a text of 2001", noted(2001), "note"},
		{"a repair in 500", repaired(500), ""}, {"a repair in 501", repaired(501), "what"},
		{"a repair of nothing", repaired(0), "what"},
		{"a cost below nothing", func() models.Event {
			return &models.Repair{Meta: w.meta("unknown"), Position: "1L", What: "valve", CostCents: -1}
		}, "cost_cents"},
		{"a repair of no tire", func() models.Event {
			return &models.Repair{Meta: w.meta("unknown"), What: "valve"}
		}, "tire_id"},
	} {
		_, err := w.fleet.Record(w.ctx, w.boss, row.entry())
		if row.field == "" {
			if err != nil && !errors.Is(err, models.Held) {
				t.Errorf("%s: %v", row.name, err)
			}
			continue
		}
		if bad := wantKind(t, err, models.Invalid); bad.Fields[0].Name != row.field {
			t.Errorf("%s: %+v, want field %s", row.name, bad.Fields, row.field)
		}
	}
}

// TestBoundsOfAPhoto: 700,000 bytes and 2048 pixels on each side (chosen by us).
func TestBoundsOfAPhoto(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	add := func(data []byte) error {
		_, err := w.fleet.AddPhoto(w.ctx, w.boss, models.Photo{ID: newID[models.PhotoID](), VehicleID: w.vehicle.ID,
			Data: data})
		return err
	}

	for size, ok := range map[[2]int]bool{{2048, 8}: true, {2049, 8}: false, {8, 2048}: true, {8, 2049}: false} {
		if err := add(shot(t, size[0], size[1])); (err == nil) != ok {
			t.Errorf("%v pixels: %v", size, err)
		}
	}

	small := shot(t, 8, 8)
	for bytes, ok := range map[int]bool{700_000: true, 700_001: false} {
		padded := append(append([]byte{}, small...), make([]byte, bytes-len(small))...)
		if err := add(padded); (err == nil) != ok {
			t.Error(fmt.Sprint(bytes, " bytes: ", err))
		}
	}
}
