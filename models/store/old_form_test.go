package store_test

import (
	"context"
	"slices"
	"testing"

	"rimledger/models"
	"rimledger/models/store"
)

// storedBefore puts an event into the record as an earlier version wrote it.
func storedBefore(t *testing.T, e models.Event, doc string) models.Event {
	t.Helper()
	ctx := context.Background()
	s := open(t, newFile(t), store.Options{Migrate: true, Volatile: true})

	v, id := filled[models.Vehicle](), models.EventID("00000000-0000-7000-9000-000000000010")
	*e.Header() = models.Meta{ID: id, VehicleID: v.ID, DepotID: v.DepotID}
	err := s.Write(ctx, func(tx models.Tx) error {
		for _, err := range []error{tx.PutDepot(ctx, filled[models.Depot]()), tx.PutVehicle(ctx, v),
			tx.AddEvents(ctx, e)} {
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}

	if _, err := s.DB().Exec("UPDATE events SET doc = ? WHERE id = ?", doc, string(id)); err != nil {
		t.Fatal(err)
	}

	var got models.Event
	err = s.Read(ctx, func(r models.Reader) error {
		var err error
		got, err = r.Event(ctx, id)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// A report stored on 30 November 2026, before there were bands and places, reads as a
// list of one band and one place.
func TestShakeStoredBefore(t *testing.T) {
	t.Parallel()

	got, ok := storedBefore(t, &models.Vibration{}, `{"ID": "00000000-0000-7000-9000-000000000010",
		"VehicleID": "00000000-0000-7000-8000-000000000002", "DepotID": "00000000-0000-7000-8000-000000000001",
		"At": "2026-03-30T04:05:06.000006Z", "Odometer": {"Known": false, "Value": 0, "Text": "", "Estimated": false},
		"Person": "", "Note": "", "StartsKMH": 70, "WorstKMH": 95, "FadesKMH": 115, "ReturnsHigher": false,
		"FeltAt": "steering_wheel", "Braking": "same", "Throttle": "", "Neutral": "", "Since": "gradual",
		"Audible": false, "WarmFixes": false, "Settles": ""}`).(*models.Vibration)
	if !ok {
		t.Fatal("no vibration report comes back")
	}

	want := []models.SpeedBand{{FromKMH: 70, WorstKMH: 95, ToKMH: 115}}
	if !slices.Equal(got.Course(), want) || !slices.Equal(got.Felt(), []string{"steering_wheel"}) {
		t.Errorf("reads as %+v felt at %v, want %+v at the steering wheel", got.Course(), got.Felt(), want)
	}
}

// A reading stored on 30 November 2026, before stations had places of their own, is one at
// evenly spaced stations.
func TestReadingStoredBefore(t *testing.T) {
	t.Parallel()

	got, ok := storedBefore(t, &models.Inspection{}, `{"ID": "00000000-0000-7000-9000-000000000010",
		"VehicleID": "00000000-0000-7000-8000-000000000002", "DepotID": "00000000-0000-7000-8000-000000000001",
		"At": "2026-03-30T04:05:06.000006Z", "Gauge": {"Name": "", "Resolution": 0}, "Readings": [{"Position": "1L",
		"TireID": "00000000-0000-7000-8000-000000000003", "Depths": [[{"Value": 7143750, "Text": "9/32"}, null,
		{"Value": 6350000, "Text": "8/32"}]], "Pressure": null, "Hot": false, "NotReached": false,
		"Observations": null, "Photos": null}], "Vehicle": null}`).(*models.Inspection)
	if !ok || len(got.Readings) != 1 {
		t.Fatalf("comes back as %+v", got)
	}

	r := got.Readings[0]
	if least, _ := r.Min(); least.Text != "8/32" || len(r.Depths[0]) != 3 || r.Stations != nil || r.Around != 0 {
		t.Errorf("reads as %+v", r)
	}
}
