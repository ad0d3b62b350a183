package assess_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/units"
	"rimledger/models/wear"
)

const (
	in32 = units.ThirtySecond
	day  = 24 * time.Hour
)

var now = time.Date(2026, 6, 15, 12, 0, 0, 0, time.UTC)

func ago(d time.Duration) time.Time { return now.Add(-d) }

func km(n float64) models.Odometer {
	return models.Odometer{Known: true, Value: units.DistanceFromKilometres(n)}
}

func depth(l units.Length) *models.Depth {
	text := units.FormatLength(l, units.In32)
	return &models.Depth{Value: l, Text: strings.TrimSuffix(text, " in")}
}

// usStyle is the units and notation of the tests' depot.
var usStyle = units.Style{Set: units.US}

func psi(p float64) *models.Pressure {
	return &models.Pressure{Value: units.Pressure(p) * units.PSI, Text: fmt.Sprintf("%g psi", p)}
}

// grid is one depth at so many grooves and stations.
func grid(l units.Length, grooves, stations int) [][]*models.Depth {
	g := make([][]*models.Depth, grooves)
	for i := range g {
		for range stations {
			g[i] = append(g[i], depth(l))
		}
	}
	return g
}

// scene is a snapshot of a vehicle on which nothing is wrong and nothing is due for weeks;
// the rows of a table change it.
type scene struct{ assess.Snapshot }

// tractor returns a tractor on which nothing is wrong.
func tractor() *scene {
	return healthy(models.Tractor, "US", models.Axle{Steered: true}, models.Axle{Driven: true, Dual: true},
		models.Axle{Driven: true, Dual: true})
}

func car(jurisdiction string) *scene {
	return healthy(models.Car, jurisdiction, models.Axle{Steered: true, Driven: true}, models.Axle{})
}

func healthy(class models.Class, jurisdiction string, axles ...models.Axle) *scene {
	target := 100 * units.PSI
	for i := range axles {
		axles[i].Pressure = models.Pressure{Value: target, Text: "100 psi"}
	}

	done := models.Point{EventID: "e1", At: ago(20 * day), Odometer: km(102_000)}

	visit := models.Point{EventID: "e2", At: ago(2 * day), Odometer: km(103_800)}
	s := &scene{
		assess.Snapshot{
			Now:    now,
			Zone:   time.UTC,
			Depot:  models.Depot{ID: "d", Jurisdiction: jurisdiction, Units: units.US},
			Policy: models.DefaultPolicy(class, units.Metric),
			Vehicle: models.Vehicle{
				ID:    "v",
				Class: class,
				Axles: axles,
				Stamp: models.Stamp{CreatedAt: ago(400 * day)},
			},
			State: models.VehicleState{
				Odometer:       km(103_800),
				OdometerAt:     visit.At,
				LastInspection: &visit,
				LastPressure:   &visit,
				LastRotation:   &done,
				Use: wear.Use{
					KMPerDay:  100,
					Info:      1,
					DailySDKM: 120,
					DriftSDKM: 2,
					Known:     true,
					Day:       float64(visit.At.Unix()) / 86400,
					XKM:       103_800,
					Readings:  9,
				},
			},
		},
	}

	for i, at := range s.Vehicle.Positions() {
		fitted := models.Point{EventID: "e1", At: ago(20 * day), Odometer: km(102_000)}
		s.Tires = append(s.Tires, models.TireWithState{
			Tire: models.Tire{
				ID:        models.TireID(fmt.Sprintf("t%02d", i)),
				Number:    fmt.Sprint(i),
				Size:      "295/75R22.5 144/141L",
				NewDepths: []units.Length{18 * in32, 18 * in32, 18 * in32},
			},
			State: models.TireState{
				Status:    models.Mounted,
				VehicleID: "v",
				Position:  at,
				FittedOn:  &fitted,
				PlacedAt:  &fitted,
				Balance: &models.BalanceRecord{
					Point:     fitted,
					VehicleID: "v",
					Verdict:   models.BalanceVerdict{Proven: true, Within: true},
				},
				Last: &models.Measured{Point: visit, VehicleID: "v", Person: "Odd Fennimore (invented)",
					Reading: models.Reading{Position: at, Depths: grid(14*in32, 3, 1), Pressure: psi(100)}},
			}})
	}

	return s
}

// at returns the tire at a place.
func (s *scene) at(p models.Position) *models.TireWithState {
	i := slices.IndexFunc(s.Tires, func(t models.TireWithState) bool { return t.State.Position == p })
	return &s.Tires[i]
}

func (s *scene) reading(p models.Position) *models.Reading { return &s.at(p).State.Last.Reading }

// all sets one depth on every tire, so that mates match.
func (s *scene) all(l units.Length) *scene {
	for i := range s.Tires {
		s.Tires[i].State.Last.Reading.Depths = grid(l, 3, 1)
	}
	return s
}

// axle sets one depth at every place of an axle.
func (s *scene) axle(n int, l units.Length) *scene {
	for i := range s.Tires {
		if s.Tires[i].State.Position.Axle() == n {
			s.Tires[i].State.Last.Reading.Depths = grid(l, 3, 1)
		}
	}
	return s
}

// observe adds an observation to the newest reading at p.
func (s *scene) observe(p models.Position, codes ...models.ObservationCode) *scene {
	for _, c := range codes {
		s.reading(p).Observations = append(s.reading(p).Observations, models.Observation{Code: c})
	}
	return s
}

// brief returns findings as lines that tables compare.
func brief(r assess.Result) []string {
	var out []string
	for _, f := range r.Findings {
		out = append(out, strings.TrimSpace(fmt.Sprintf("%s %s: %s", f.Position, f.Code, f.Urgency)))
	}
	slices.Sort(out)
	return out
}

// row is one case: a changed scene and every finding that must follow.
type row struct {
	name string // says the rule, with its source
	of   *scene
	want []string
}

func run(t *testing.T, rows []row) {
	t.Helper()
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			slices.Sort(r.want)
			if diff := cmp.Diff(r.want, brief(assess.Assess(r.of.Snapshot))); diff != "" {
				t.Errorf("findings (-want +got):\n%s", diff)
			}
		})
	}
}

// with changes a scene in place and returns it.
func (s *scene) with(spoil func(*scene)) *scene {
	spoil(s)
	return s
}

// one returns the only finding with a code.
func one(t *testing.T, s *scene, code models.FindingCode) models.Finding {
	t.Helper()
	var found []models.Finding
	for _, f := range assess.Assess(s.Snapshot).Findings {
		if f.Code == code {
			found = append(found, f)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d findings %s, want one", len(found), code)
	}
	return found[0]
}

func TestNothingWrong(t *testing.T) {
	t.Parallel()
	run(t, []row{
		{"a healthy tractor", tractor(), nil},
		{"a healthy car in Britain", car("GB"), nil},
		{
			"a retired vehicle, whatever is wrong",
			tractor().all(0).with(func(s *scene) { s.Vehicle.Retired = true }),
			nil,
		},
		{"a jurisdiction without rules", car(""), nil},
	})
}
