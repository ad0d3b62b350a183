package history_test

import (
	"encoding/json"
	"fmt"
	"slices"
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

// life draws a believable life of the car: events in order of time that keep one tire in
// one place.
type life struct {
	*rapid.T
	at     time.Time
	km     float64
	places map[models.Position]models.TireID
	depth  map[models.TireID]float64 // mm
	stock  []models.TireID
	events []models.Event
}

// played returns the events of a drawn life.
func played(t *rapid.T) []models.Event {
	l := &life{
		T:      t,
		at:     time.Date(2024, 1, 1, 8, 0, 0, 0, time.UTC),
		km:     10_000,
		places: map[models.Position]models.TireID{},
		depth:  map[models.TireID]float64{},
	}
	for _, x := range tires() {
		l.stock = append(l.stock, x.ID)
		l.depth[x.ID] = 8
	}

	for range rapid.IntRange(1, 25).Draw(t, "events") {
		switch rapid.IntRange(0, 8).Draw(t, "kind") {
		case 0:
			l.fit()
		case 1:
			l.remove()
		case 2:
			l.rotate()
		case 3:
			l.balance()
		case 4:
			l.checkWheel()
		case 5:
			l.repair()
		default:
			l.inspect()
		}
	}

	return l.events
}

// meta moves the time and the odometer on, wears the tires, and returns the next event's
// header.
func (l *life) meta() models.Meta {
	l.at = l.at.Add(time.Duration(rapid.IntRange(1, 40*24).Draw(l.T, "hours")) * time.Hour)
	step := rapid.Float64Range(0, 2000).Draw(l.T, "km")
	l.km += step
	for _, id := range l.places {
		l.depth[id] = max(l.depth[id]-step/1000*0.1, 0.5)
	}

	m := models.Meta{
		ID:        models.EventID(fmt.Sprintf("e%03d", len(l.events))),
		VehicleID: car.ID,
		At:        l.at,
		Person:    rapid.SampledFrom([]string{"Odd", "Prue"}).Draw(l.T, "person"),
	}

	// What the fleet has taught changes from one event to the next.
	for _, p := range car.Positions() {
		if rapid.Bool().Draw(l.T, "taught") {
			m.Priors = append(m.Priors, models.PlacePrior{Position: p, Learned: wear.Learned{
				Level:    "role",
				Fitments: len(l.events) + 1,
				Ratio:    rapid.Float64Range(0.5, 2).Draw(l.T, "ratio"),
				SD:       rapid.Float64Range(0.1, 0.5).Draw(l.T, "sd"),
			}})
		}
	}

	if rapid.IntRange(0, 4).Draw(l.T, "odometer") > 0 {
		m.Odometer = models.Odometer{Known: true, Value: units.DistanceFromKilometres(l.km), Text: "km"}
		m.AlongKM, m.AlongKnown = m.Odometer.Value.Kilometres(), true
	}

	return m
}

func (l *life) add(e models.Event) { l.events = append(l.events, e) }

func (l *life) fit() {
	e := &models.Fit{Meta: l.meta(), Existing: rapid.Bool().Draw(l.T, "existing")}
	for _, p := range car.Positions() {
		if l.places[p] == "" && len(l.stock) > 0 {
			l.places[p], l.stock = l.stock[0], l.stock[1:]
			e.Fittings = append(e.Fittings, models.Fitting{TireID: l.places[p], Position: p})
		}
	}
	l.add(e)
}

func (l *life) remove() {
	p := rapid.SampledFrom(car.Positions()).Draw(l.T, "place")
	id := l.places[p]
	if id == "" {
		return
	}

	l.add(&models.Removal{
		Meta:    l.meta(),
		Removed: []models.Removed{{Position: p, TireID: id, Reason: models.Mismatch, To: models.InStock}},
	})
	delete(l.places, p)
	l.stock = append(l.stock, id)
}

func (l *life) rotate() {
	left, right := l.places["1L"], l.places["1R"]
	if left == "" || right == "" {
		return
	}

	l.add(&models.Rotation{
		Meta: l.meta(),
		Moves: []models.Move{
			{From: "1L", To: "1R", TireID: left},
			{From: "1R", To: "1L", TireID: right},
		},
	})
	l.places["1L"], l.places["1R"] = right, left
}

func (l *life) balance() {
	id := l.places["1L"]
	if id == "" {
		return
	}

	thirty := models.Mass{Value: 30, Text: "30 g"}
	l.add(&models.BalanceJob{
		Meta:       l.meta(),
		Position:   "1L",
		TireID:     id,
		Verdict:    models.BalanceVerdict{Proven: true, Within: rapid.Bool().Draw(l.T, "within")},
		WeightsOff: rapid.Bool().Draw(l.T, "bare"),
		Fitted:     []models.FittedWeight{{Plane: "outer", Type: "clip", Mass: thirty}},
		Shown:      []models.PlaneUnbalance{{Plane: "outer", Mass: thirty}},
	})
}

func (l *life) checkWheel() {
	id := l.places["1R"]
	if id == "" {
		return
	}

	one := models.Size{Value: units.Millimetre, Text: "1 mm"}
	l.add(&models.WheelCheck{
		Meta:     l.meta(),
		Position: "1R",
		TireID:   id,
		WheelID:  "w",
		Measures: []models.TruenessMeasure{
			{What: models.BeadGap, Place: "outer", Value: one},
			{What: models.WheelRadial, Value: one},
		},
	})
}

func (l *life) repair() {
	id := l.places["1R"]
	if id == "" {
		return
	}

	l.add(&models.Repair{
		Meta:      l.meta(),
		Position:  "1R",
		TireID:    id,
		Demounted: rapid.Bool().Draw(l.T, "demounted"),
	})
}

func (l *life) inspect() {
	e := &models.Inspection{Meta: l.meta(), Gauge: models.Gauge{Resolution: units.Millimetre / 10}}
	for _, p := range car.Positions() {
		id := l.places[p]
		if id == "" {
			continue
		}

		mm := l.depth[id] + rapid.Float64Range(-0.3, 0.3).Draw(l.T, "error")
		d := models.Depth{Value: units.LengthFromMillimetres(max(mm, 0)), Text: "mm"}
		r := models.Reading{Position: p, TireID: id, Depths: [][]*models.Depth{{&d}, {&d}}}
		if rapid.IntRange(0, 5).Draw(l.T, "bulge") == 0 {
			r.Observations = []models.Observation{{Code: models.ObsBulge}}
		}
		e.Readings = append(e.Readings, r)
	}
	l.add(e)
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

// TestReplay: folding events one by one, saved and loaded in between, gives exactly the
// state that a replay of all of them gives. No place ever has two running fitments.
func TestReplay(t *testing.T) {
	t.Parallel()

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

		running := map[models.Position]bool{}
		for _, tire := range tires() {
			replayTire(t, tire, events, running)
		}
	})
}

// replayTire compares folding and replaying the events of one tire, and notes its running
// fitment.
func replayTire(t *rapid.T, tire models.Tire, events []models.Event, running map[models.Position]bool) {
	state, fitments, mine := foldTire(t, tire, events)

	replayed, list := history.ReplayTire(tire, map[models.VehicleID]models.Vehicle{car.ID: car}, mine)
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
		if f.To != nil {
			continue
		}

		if running[f.Position] {
			t.Fatalf("two tires at %s", f.Position)
		}
		running[f.Position] = true
		if state.Position != f.Position {
			t.Fatalf("tire %s is at %q, its fitment at %q", tire.ID, state.Position, f.Position)
		}
	}
}

// foldTire folds the events of one tire one by one, and returns these events too.
func foldTire(
	t *rapid.T,
	tire models.Tire,
	events []models.Event,
) (models.TireState, map[models.FitmentID]models.Fitment, []models.Event) {
	state, fitments := models.TireState{Status: models.InStock}, map[models.FitmentID]models.Fitment{}
	var mine []models.Event
	for _, e := range events {
		if !slices.Contains(e.TireIDs(), tire.ID) {
			continue
		}

		mine = append(mine, e)
		state = stored(t, state)
		for _, f := range history.Fitments(tire, car, state, e) {
			fitments[f.ID] = f
		}
		history.Tire(&state, tire, car, e)
	}
	return state, fitments, mine
}

// TestRetreadBeginsANewLife: readings and wear of the old tread end with a new one.
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
		t.Errorf("after the retreader the state still describes the old tread: %+v", s)
	}
}
