package fleet_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// By hand. A tire on 1L is read 14.0 mm at 100,000 km, when it comes there, and 10.0 mm
// at 140,000 km, when it goes to 2R: 4.0 mm in 40,000 km are 0.100 mm per 1,000 km. One
// reading with a gauge in tenths has a variance of 0.1²/12 + 0.2² + 0.15² = 0.0633 mm²,
// a standard deviation of 0.252 mm; the difference of two, over 40 thousand km, one of
// sqrt(2) * 0.252 / 40 = 0.0089, and 1.645 of these to either side are 0.085 to 0.115.
// On 2R it is read 9.0 mm at 180,000 km: 0.025 mm per 1,000 km, 0.010 to 0.040, though
// 1.0 mm is less than the 1.6 mm that such a gauge must see. It then is the spare for
// 5,000 km, which it does not roll, and comes back to 1L, where nobody has read it. What
// is usual there pulls the last depth of each stay by a tenth of a mm or two, over
// 40 thousand km: hence the tolerances.
func TestWearAtEachPlace(t *testing.T) {
	t.Parallel()

	w := newWorld(t)
	v := must(
		w.fleet.CreateVehicle(
			w.ctx,
			w.boss,
			models.Vehicle{
				ID:      newID[models.VehicleID](),
				DepotID: w.depot.ID,
				Number:  "T-02",
				Class:   models.Tractor,
				Spares:  1,
				Axles: []models.Axle{
					{Steered: true, Pressure: w.vehicle.Axles[0].Pressure},
					{Driven: true, Pressure: w.vehicle.Axles[1].Pressure},
				},
			},
		),
	)(
		t,
	)

	meta := func(odometer string) models.Meta {
		m := w.meta(odometer)
		m.VehicleID, m.Person = v.ID, "Odd Fennimore"
		return m
	}

	tire := w.tire("S1")
	tire.NewDepths = []units.Length{18 * units.Millimetre}
	tire = must(w.fleet.CreateTire(w.ctx, w.boss, tire))(t)

	read := func(odometer, depth string, at models.Position) {
		t.Helper()
		d := must(models.ParseDepth(depth, units.BareNone))(t)
		w.record(
			&models.Inspection{Meta: meta(odometer), Gauge: models.Gauge{Name: "G2", Resolution: units.Millimetre / 10},
				Readings: []models.Reading{{Position: at, Depths: [][]*models.Depth{{&d}}}}},
		)
	}

	move := func(odometer string, from, to models.Position) {
		t.Helper()
		w.record(
			&models.Removal{
				Meta:    meta(odometer),
				Removed: []models.Removed{{Position: from, To: models.InStock, Reason: models.SeasonChange}},
			},
		)

		w.after(time.Minute)
		w.record(&models.Fit{Meta: meta(odometer), Fittings: []models.Fitting{{TireID: tire.ID, Position: to}}})
	}

	w.record(
		&models.Fit{
			Meta:     meta("100,000 km"),
			Existing: true,
			Fittings: []models.Fitting{{TireID: tire.ID, Position: "1L"}},
		},
	)

	read("100,000 km", "14.0 mm", "1L")
	w.after(100 * day)
	read("140,000 km", "10.0 mm", "1L")
	move("140,000 km", "1L", "2R")
	w.after(100 * day)
	read("180,000 km", "9.0 mm", "2R")
	move("180,000 km", "2R", "SP1")

	w.after(20 * day)
	move("185,000 km", "SP1", "1L")
	w.after(10 * day)
	w.record(&models.OdometerEntry{Meta: meta("189,000 km")})

	o := must(w.fleet.TireOutlook(w.ctx, w.boss, tire.ID))(t)
	if len(o.Stays) != 4 {
		t.Fatalf("stays %+v, want 4", o.Stays)
	}

	near := func(what string, got, want, within float64) {
		t.Helper()
		if math.Abs(got-want) > within {
			t.Errorf("%s: %.4f, want %.4f within %g", what, got, want, within)
		}
	}

	for i, want := range []struct {
		at             models.Position
		km, start, end float64
		rate, lo, hi   float64
		readings       int
		tooEarly       bool
	}{
		{"1L", 40_000, 14, 10, 0.100, 0.085, 0.115, 2, false},
		{"2R", 40_000, 10, 9, 0.025, 0.010, 0.040, 1, true},
	} {
		s := o.Stays[i]
		if s.Position != want.at || s.Readings != want.readings || s.TooEarly != want.tooEarly || !s.KMKnown ||
			s.Judged ||
			s.Late ||
			s.Start == nil ||
			s.End == nil ||
			s.Wear == nil {
			t.Fatalf("%s: %+v", want.at, s)
		}

		lo, hi := s.Wear.Within90()
		near(fmt.Sprint(want.at, " km"), s.KM, want.km, 1e-6)
		near(fmt.Sprint(want.at, " start"), s.Start.MM, want.start, 0.2)
		near(fmt.Sprint(want.at, " end"), s.End.MM, want.end, 0.2)
		near(fmt.Sprint(want.at, " rate"), s.Wear.RateMM, want.rate, 0.005)
		near(fmt.Sprint(want.at, " low end"), lo, want.lo, 0.005)
		near(fmt.Sprint(want.at, " high end"), hi, want.hi, 0.005)
	}

	if s := o.Stays[2]; s.Position != "SP1" || s.KM != 0 || !s.KMKnown || s.Wear != nil || s.End != nil {
		t.Errorf("the spare: %+v", s)
	}

	if s := o.Stays[3]; s.Position != "1L" || s.To != nil || !s.Judged || math.Abs(s.KM-4000) > 1 || s.Wear != nil ||
		s.End != nil ||
		s.Readings != 0 ||
		s.Start == nil ||
		math.Abs(s.Start.MM-9) > 0.2 {
		t.Errorf("back on 1L: %+v", s)
	}
}

// A tread whose new depth is no longer in the record begins with what was read of it,
// and is marked as replaced. Where no odometer is known there is no distance and no rate.
func TestWearOfAFormerTread(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	id := w.tires["1R"]
	w.after(60 * day)
	w.record(w.inspection("215,000 mi", all("18/32")))
	w.after(60 * day)
	w.record(w.inspection("230,000 mi", all("16/32")))

	w.record(
		&models.Removal{
			Meta:    w.meta("unknown"),
			Removed: []models.Removed{{Position: "1R", To: models.AtRetreader, Reason: models.RetreadPull}},
		},
	)

	w.after(day)

	w.record(
		&models.TireMove{
			Meta:      models.Meta{ID: newID[models.EventID](), At: w.now},
			TireID:    id,
			To:        models.InStock,
			NewDepths: []units.Length{24 * units.ThirtySecond},
		},
	)

	o := must(w.fleet.TireOutlook(w.ctx, w.boss, id))(t)
	if len(o.Stays) != 1 {
		t.Fatalf("stays %+v", o.Stays)
	}

	s := o.Stays[0]
	if !s.Former || !s.Late || s.Start == nil || math.Abs(s.Start.MM-18*25.4/32) > 1e-9 ||
		math.Abs(s.LateKM-15_000*1.609344) > 1 {
		t.Errorf(
			"the former tread begins with %+v (late %v, %g km), want the 18/32 in that were read 15,000 mi on",
			s.Start,
			s.Late,
			s.LateKM,
		)
	}

	// 2/32 in 15,000 mi: 1.5875 mm / 24.14 thousand km = 0.0658.
	if s.Wear == nil || math.Abs(s.Wear.RateMM-0.0658) > 0.01 {
		t.Errorf("its rate: %+v, want 0.066", s.Wear)
	}
}
