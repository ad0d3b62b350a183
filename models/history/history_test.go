package history_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// car is a vehicle on four tires.
var car = models.Vehicle{ID: "v", Class: models.Car, Axles: []models.Axle{{Steered: true}, {Driven: true}}}

func tires() []models.Tire {
	var out []models.Tire
	for i := range 5 {
		out = append(out, models.Tire{ID: models.TireID(fmt.Sprintf("t%d", i)), Size: "205/55R16",
			NewDepths: []units.Length{8 * units.Millimetre, 8 * units.Millimetre, 8 * units.Millimetre}})
	}
	return out
}

// played draws a believable life of the car: events in order of time that keep
// one tire in one place.
func played(t *rapid.T) []models.Event {
	at := time.Date(2024, 1, 1, 8, 0, 0, 0, time.UTC)
	km := 10_000.0
	places := map[models.Position]models.TireID{}
	depth := map[models.TireID]float64{}

	stock := []models.TireID{}
	for _, x := range tires() {
		stock, depth[x.ID] = append(stock, x.ID), 8
	}

	var out []models.Event
	meta := func() models.Meta {
		at = at.Add(time.Duration(rapid.IntRange(1, 40*24).Draw(t, "hours")) * time.Hour)
		step := rapid.Float64Range(0, 2000).Draw(t, "km")
		km += step

		for _, id := range places {
			depth[id] = max(depth[id]-step/1000*0.1, 0.5)
		}

		m := models.Meta{
			ID:        models.EventID(fmt.Sprintf("e%03d", len(out))),
			VehicleID: car.ID,
			At:        at,
			Person:    rapid.SampledFrom([]string{"Odd", "Prue"}).Draw(t, "person"),
		}

		for _, p := range car.Positions() { // what the fleet had taught changes from one event to the next
			if rapid.Bool().Draw(t, "taught") {
				m.Priors = append(
					m.Priors,
					models.PlacePrior{Position: p, Learned: wear.Learned{Level: "role", Fitments: len(out) + 1,
						Ratio: rapid.Float64Range(0.5, 2).
							Draw(t, "ratio"),
						SD: rapid.Float64Range(0.1, 0.5).Draw(t, "sd")}},
				)
			}
		}

		if rapid.IntRange(0, 4).Draw(t, "odometer") > 0 {
			m.Odometer = models.Odometer{Known: true, Value: units.DistanceFromKilometres(km), Text: "km"}
			m.AlongKM, m.AlongKnown = m.Odometer.Value.Kilometres(), true
		}

		return m
	}

	for range rapid.IntRange(1, 25).Draw(t, "events") {
		switch rapid.IntRange(0, 8).Draw(t, "kind") {
		case 0:
			e := &models.Fit{Meta: meta(), Existing: rapid.Bool().Draw(t, "existing")}
			for _, p := range car.Positions() {
				if places[p] == "" && len(stock) > 0 {
					places[p], stock = stock[0], stock[1:]
					e.Fittings = append(e.Fittings, models.Fitting{TireID: places[p], Position: p})
				}
			}
			out = append(out, e)
		case 1:
			p := rapid.SampledFrom(car.Positions()).Draw(t, "place")
			if id := places[p]; id != "" {
				out = append(
					out,
					&models.Removal{
						Meta: meta(),
						Removed: []models.Removed{
							{Position: p, TireID: id, Reason: models.Mismatch, To: models.InStock},
						},
					},
				)

				delete(places, p)
				stock = append(stock, id)
			}
		case 2:
			if places["1L"] != "" && places["1R"] != "" {
				out = append(
					out,
					&models.Rotation{
						Meta: meta(),
						Moves: []models.Move{
							{From: "1L", To: "1R", TireID: places["1L"]},
							{From: "1R", To: "1L", TireID: places["1R"]},
						},
					},
				)

				places["1L"], places["1R"] = places["1R"], places["1L"]
			}
		case 3:
			if id := places["1L"]; id != "" {
				out = append(
					out,
					&models.BalanceJob{
						Meta:     meta(),
						Position: "1L",
						TireID:   id,
						Verdict:  models.BalanceVerdict{Proven: true, Within: rapid.Bool().Draw(t, "within")},
						WeightsOff: rapid.Bool().
							Draw(t, "bare"),
						Fitted: []models.FittedWeight{
							{Plane: "outer", Type: "clip", Mass: models.Mass{Value: 30, Text: "30 g"}},
						},
						Shown: []models.PlaneUnbalance{{Plane: "outer", Mass: models.Mass{Value: 30, Text: "30 g"}}},
					},
				)
			}
		case 4:
			if id := places["1R"]; id != "" {
				out = append(
					out,
					&models.WheelCheck{
						Meta:     meta(),
						Position: "1R",
						TireID:   id,
						WheelID:  "w",
						Measures: []models.TrueMeasure{
							{
								What:  models.BeadGap,
								Place: "outer",
								Value: models.Size{Value: units.Millimetre, Text: "1 mm"},
							}, {What: models.WheelRadial, Value: models.Size{Value: units.Millimetre, Text: "1 mm"}}},
					},
				)
			}
		case 5:
			if id := places["1R"]; id != "" {
				out = append(
					out,
					&models.Repair{
						Meta:      meta(),
						Position:  "1R",
						TireID:    id,
						Demounted: rapid.Bool().Draw(t, "demounted"),
					},
				)
			}
		default:
			e := &models.Inspection{Meta: meta(), Gauge: models.Gauge{Resolution: units.Millimetre / 10}}
			for _, p := range car.Positions() {
				id := places[p]
				if id == "" {
					continue
				}

				d := models.Depth{
					Value: units.LengthFromMillimetres(
						max(depth[id]+rapid.Float64Range(-0.3, 0.3).Draw(t, "error"), 0),
					),
					Text: "mm",
				}

				r := models.Reading{Position: p, TireID: id, Depths: [][]*models.Depth{{&d}, {&d}}}
				if rapid.IntRange(0, 5).Draw(t, "bulge") == 0 {
					r.Observations = []models.Observation{{Code: models.ObsBulge}}
				}
				e.Readings = append(e.Readings, r)
			}

			out = append(out, e)
		}
	}

	return out
}

// stored returns v as a store gives it back.
func stored[T any](t *rapid.T, v T) T {
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	var out T
	if err := json.Unmarshal(b, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// TestReplay: folding events one by one, saved and loaded in between, comes to
// exactly what replaying them all comes to.
func TestReplay(t *testing.T) {
	t.Parallel()

	vehicles := map[models.VehicleID]models.Vehicle{car.ID: car}
	rapid.Check(t, func(t *rapid.T) {
		events := played(t)
		var vehicle models.VehicleState
		for _, e := range events {
			vehicle = stored(t, vehicle)
			history.Vehicle(&vehicle, car, e)
		}

		if diff := cmp.Diff(stored(t, history.ReplayVehicle(car, events)), stored(t, vehicle)); diff != "" {
			t.Fatalf("vehicle (-replayed +folded):\n%s", diff)
		}

		lasting := map[models.Position]bool{}
		for _, tire := range tires() {
			state := models.TireState{Status: models.InStock}
			var mine []models.Event

			fitments := map[models.FitmentID]models.Fitment{}
			for _, e := range events {
				for _, id := range e.TireIDs() {
					if id == tire.ID {
						mine = append(mine, e)
						state = stored(t, state)
						for _, f := range history.Fitments(tire, car, state, e) {
							fitments[f.ID] = f
						}
						history.Tire(&state, tire, car, e)
					}
				}
			}

			replayed, list := history.ReplayTire(tire, vehicles, mine)
			if diff := cmp.Diff(stored(t, replayed), stored(t, state)); diff != "" {
				t.Fatalf("tire %s (-replayed +folded):\n%s", tire.ID, diff)
			}
			if len(list) != len(fitments) {
				t.Fatalf("tire %s: %d fitments replayed, %d folded", tire.ID, len(list), len(fitments))
			}

			for _, f := range list {
				if diff := cmp.Diff(stored(t, f), stored(t, fitments[f.ID])); diff != "" {
					t.Fatalf("fitment (-replayed +folded):\n%s", diff)
				}

				if f.To == nil {
					if lasting[f.Position] {
						t.Fatalf("two tires at %s", f.Position)
					}
					lasting[f.Position] = true
					if state.Position != f.Position {
						t.Fatalf("tire %s is at %q, its fitment at %q", tire.ID, state.Position, f.Position)
					}
				}
			}
		}
	})
}

func TestRetreadBeginsANewLife(t *testing.T) {
	t.Parallel()
	tire := tires()[0]

	at := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	meta := func(days int, km float64) models.Meta {
		return models.Meta{
			ID:         models.EventID(fmt.Sprint(days)),
			VehicleID:  car.ID,
			At:         at.AddDate(0, 0, days),
			AlongKM:    km,
			AlongKnown: true,
		}
	}

	three := models.Depth{Value: 3 * units.Millimetre, Text: "3 mm"}
	s, _ := history.ReplayTire(tire, map[models.VehicleID]models.Vehicle{car.ID: car}, []models.Event{
		&models.Fit{Meta: meta(0, 0), Fittings: []models.Fitting{{TireID: tire.ID, Position: "1L"}}},
		&models.Inspection{
			Meta:     meta(100, 20_000),
			Readings: []models.Reading{{Position: "1L", TireID: tire.ID, Depths: [][]*models.Depth{{&three}}}},
		},
		&models.Removal{
			Meta: meta(101, 20_100),
			Removed: []models.Removed{
				{Position: "1L", TireID: tire.ID, Reason: models.RetreadPull, To: models.AtRetreader},
			},
		},
		&models.TireMove{
			Meta:      models.Meta{ID: "back", At: at.AddDate(0, 0, 150)},
			TireID:    tire.ID,
			To:        models.InStock,
			NewDepths: []units.Length{7 * units.Millimetre},
		},
	})

	if s.Last != nil || s.MinWear != nil || s.Status != models.InStock {
		t.Errorf("after the retreader the state still holds the old tread: %+v", s)
	}
}
