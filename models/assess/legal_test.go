package assess_test

import (
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/legal"
	"rimledger/models/units"
)

// TestLegal has rows on both sides of each limit. Numbers, as read: 49 CFR 393.75(b)(c);
// GB C&U reg. 27(4); 19VAC30-70-130; Norway's regulation no. 92 § 1-4 by the road authority.
func TestLegal(t *testing.T) {
	t.Parallel()

	mm := units.LengthFromMillimetres
	norway := func(at time.Time) *scene {
		s := healthy(models.Tractor, "NO", models.Axle{Steered: true}, models.Axle{Driven: true})
		s.Policy = models.Policy{DueDays: 14, ForecastDays: 30}
		s.all(mm(4))
		for i := range s.Tires {
			s.Tires[i].Tire.Winter = true
		}
		s.Now = at
		return s
	}

	run(t, []row{
		{
			"393.75(b): steer at 4/32 is at the number",
			tractor().axle(1, 4*in32),
			[]string{"1L near_legal: do now", "1R near_legal: do now"},
		},
		{
			"393.75(b): one nanometre below",
			tractor().axle(1, 4*in32-1),
			[]string{"1L below_legal: off the road", "1R below_legal: off the road"},
		},
		{"393.75(c): drive at 2/32", tractor().with(func(s *scene) { s.axle(2, 2*in32).Policy.DualDepth = 0 }),
			[]string{
				"2LO near_legal: do now",
				"2LI near_legal: do now",
				"2RO near_legal: do now",
				"2RI near_legal: do now",
			}},
		{"393.75(c): one nanometre below", tractor().axle(2, 2*in32-1),
			[]string{
				"2LO below_legal: off the road",
				"2LI below_legal: off the road",
				"2RO below_legal: off the road",
				"2RI below_legal: off the road",
			}},
		{
			"a mean of 5/32 with one point at 3/32 on a steer tire is illegal (sanity case d)",
			tractor().axle(1, 5*in32).with(func(s *scene) {
				s.reading("1L").Depths[0][0] = depth(3 * in32)
				s.reading("1L").Depths[1][0] = depth(7 * in32)
			}),
			[]string{
				"1L below_legal: off the road",
				"1R below_pull: do now",
				"1L uneven_wear: watch",
				"1L suspect_alignment: watch",
			},
		},
		{
			"front axle of a trailer at 3/32 is legal (393.75(b) names power units)",
			healthy(models.Trailer, "US", models.Axle{}, models.Axle{}).axle(1, 3*in32),
			[]string{"1L below_pull: do now", "1R below_pull: do now"},
		},
		{
			"car in Britain at 2/32 = 1.5875 mm (sanity case a)",
			car("GB").axle(1, 2*in32),
			[]string{"1L below_legal: off the road", "1R below_legal: off the road"},
		},
		{
			"car in Britain at 1.6 mm",
			car("GB").axle(1, mm(1.6)),
			[]string{"1L near_legal: do now", "1R near_legal: do now"},
		},
		{
			"Virginia wants two adjacent grooves at three places: one place cannot tell",
			car("US-VA").axle(1, 1*in32),
			[]string{"1L near_legal: do now", "1R near_legal: do now"},
		},
		{"Virginia, all three places", car("US-VA").axle(1, 1*in32).with(func(s *scene) {
			s.reading("1L").Depths, s.reading("1R").Depths = grid(in32, 3, 3), grid(in32, 3, 3)
		}), []string{"1L below_legal: off the road", "1R below_legal: off the road"}},
		{"the depot's own number is stricter", tractor().axle(1, 4*in32+1).with(func(s *scene) {
			s.Depot.OwnRules = []models.OwnRule{
				{Role: models.RoleSteer, MinDepth: models.Depth{Value: 5 * in32, Text: "5/32"}, Reason: "wet roads"},
			}
		}), []string{"1L below_legal: off the road", "1R below_legal: off the road"}},
		{"the depot's own number for another role", tractor().axle(1, 8*in32+1).with(func(s *scene) {
			s.Depot.OwnRules = []models.OwnRule{
				{
					Role:     models.RoleTrailer,
					MinDepth: models.Depth{Value: 12 * in32, Text: "12/32"},
					Reason:   "wet roads",
				},
			}
		}), nil},
		{"a spare below the number stops nobody", spare(in32), []string{"SP1 below_legal: plan"}},
		{"a spare at 3/32 is legal, pull points are not for spares", spare(3 * in32), nil},
		{
			"level with the wear indicator, as seen",
			tractor().observe("1L", models.ObsWearBar),
			[]string{"1L near_legal: do now"},
		},
		{
			"level with the wear indicator at one place leaves it open in Virginia: three are wanted",
			car("US-VA").observe("1L", models.ObsWearBar),
			[]string{"1L near_legal: do now"},
		},
		{
			"level with the wear indicator at any place fails in Quebec (C-24.2 r. 32 s. 159)",
			car("CA-QC").observe("1L", models.ObsWearBar),
			[]string{"1L below_legal: off the road"},
		},
		{
			"pressures alone were read last: the depths before count",
			tractor().axle(1, 3*in32).with(pressureOnly("1L")),
			[]string{"1L below_legal: off the road", "1R below_legal: off the road"},
		},
		{
			"Germany at 1.5 mm: off the road, whatever winter asks",
			car("DE").axle(1, mm(1.5)),
			[]string{"1L below_legal: off the road", "1R below_legal: off the road"},
		},
		{"Norway in summer: 1.6 mm", norway(time.Date(2026, 9, 30, 12, 0, 0, 0, time.UTC)), nil},
		{
			"Norway a month before 1 November: 5 mm ahead",
			norway(time.Date(2026, 10, 2, 0, 0, 0, 0, time.UTC)),
			[]string{"1L near_legal: plan", "1R near_legal: plan", "2L near_legal: plan", "2R near_legal: plan"},
		},
		{
			"Norway the second before",
			norway(time.Date(2026, 10, 31, 23, 59, 59, 0, time.UTC)),
			[]string{"1L near_legal: plan", "1R near_legal: plan", "2L near_legal: plan", "2R near_legal: plan"},
		},
		{
			"Norway on 1 November",
			norway(time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)),
			[]string{
				"1L below_legal: off the road",
				"1R below_legal: off the road",
				"2L below_legal: off the road",
				"2R below_legal: off the road",
			},
		},
	})
}

// spare is a healthy tractor with a spare of one depth, never balanced.
func spare(l units.Length) *scene {
	s := tractor()
	t := s.Tires[0]
	last := *t.State.Last
	t.Tire.ID, t.State.Position = "spare", "SP1"
	t.State.Balance, t.State.Last = nil, &last
	last.Reading.Depths = grid(l, 3, 1)
	s.Vehicle.Spares = 1
	s.Tires = append(s.Tires, t)
	return s
}

// pressureOnly makes the newest reading at p one without depths.
func pressureOnly(p models.Position) func(*scene) {
	return func(s *scene) {
		t := s.at(p)
		t.State.Previous = t.State.Last
		t.State.Last = &models.Measured{
			Point:     models.Point{At: ago(day)},
			VehicleID: "v",
			Reading:   models.Reading{Position: p, Pressure: psi(100)},
		}
	}
}

// TestLegalWords: a legal warning names the depth, the rule, when it was read and who
// decides.
func TestLegalWords(t *testing.T) {
	t.Parallel()
	s := tractor()
	s.reading("1L").Depths[0][0] = depth(3 * in32)
	f := one(t, s, models.BelowLegal)
	if got, want := usStyle.Render(f.Title), "3/32 in at 1L, below the legal 4/32 in"; got != want {
		t.Errorf("title %q, want %q", got, want)
	}

	metric := units.Style{Set: units.Metric} // a reader in mm also sees the text that was typed
	if got, want := metric.Render(f.Title), "2.38 mm (3/32 in) at 1L, below the legal 3.18 mm (4/32 in)"; got != want {
		t.Errorf("title %q, want %q", got, want)
	}

	for _, want := range []string{"393.75(b)", "2026-11", legal.Notice} {
		if !strings.Contains(f.Notice, want) {
			t.Errorf("notice %q lacks %q", f.Notice, want)
		}
	}

	if !f.Since.Equal(ago(2*day)) || f.Position != "1L" || f.TireID != "t00" || f.VehicleID != "v" || f.DepotID != "d" {
		t.Errorf("finding %+v: want since the reading, with its place, tire, vehicle and depot", f)
	}
	if f.Safety == "" || f.FirstJob == "" || len(f.Evidence) < 2 {
		t.Errorf("finding %+v lacks caution, first job or evidence", f)
	}

	got := assess.Assess(s.Snapshot).LegalMinimum
	if got["1L"] != 4*in32 || got["2LI"] != 2*in32 || len(got) != 10 {
		t.Errorf("legal minimum %v, want 4/32 in on steer and 2/32 in on eight drive places", got)
	}
}

// TestPull: 6/32 and 4/32 in are a transit agency's pull points (read), the band of
// watching, 2/32 in above them, is chosen by us.
func TestPull(t *testing.T) {
	t.Parallel()

	run(t, []row{
		{
			"steer one nanometre below 6/32",
			tractor().axle(1, 6*in32-1),
			[]string{"1L below_pull: do now", "1R below_pull: do now"},
		},
		{"steer at 6/32", tractor().axle(1, 6*in32), []string{"1L below_pull: do now", "1R below_pull: do now"}},
		{
			"steer one nanometre above",
			tractor().axle(1, 6*in32+1),
			[]string{"1L near_pull: watch", "1R near_pull: watch"},
		},
		{"steer at 8/32", tractor().axle(1, 8*in32), []string{"1L near_pull: watch", "1R near_pull: watch"}},
		{"steer one nanometre above 8/32", tractor().axle(1, 8*in32+1), nil},
		{
			"drive at 4/32",
			healthy(models.Tractor, "US", models.Axle{Steered: true}, models.Axle{Driven: true}).axle(2, 4*in32),
			[]string{"2L below_pull: do now", "2R below_pull: do now"},
		},
		{
			"pull points switched off",
			tractor().axle(1, 5*in32).with(func(s *scene) { s.Policy.PullSteer = 0 }),
			[]string{"1L near_pull: watch", "1R near_pull: watch"},
		}, // the legal 4/32 applies
	})
}

// TestOwnRuleWords: the title shows a depot's own minimum in the reader's unit and as
// typed; the notice shows it as typed.
func TestOwnRuleWords(t *testing.T) {
	t.Parallel()
	s := tractor()
	s.Depot.OwnRules = []models.OwnRule{
		{Role: models.RoleSteer, MinDepth: models.Depth{Value: 5 * in32, Text: "5/32"}, Reason: "wet roads"},
	}
	s.reading("1L").Depths[0][0] = depth(9 * in32 / 2)

	f := one(t, s, models.BelowLegal)
	if got, want := usStyle.Render(f.Title), "4.5/32 in at 1L, below the depot's own 5/32 in"; got != want {
		t.Errorf("title %q, want %q", got, want)
	}

	metric := units.Style{Set: units.Metric}
	want := "3.57 mm (4.5/32 in) at 1L, below the depot's own 3.97 mm (5/32 in)"
	if got := metric.Render(f.Title); got != want {
		t.Errorf("title %q, want %q", got, want)
	}
	if !strings.HasPrefix(f.Notice, "5/32 in: ") {
		t.Errorf("notice %q; want the minimum as the depot wrote it", f.Notice)
	}
}
