package assess_test

import (
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/balance"
	"rimledger/models/bench"
	"rimledger/models/units"
)

// TestJudgeBalance: 0.25 oz (7.09 g) a flange, workshop manual of a light truck
// of 2000; total weight before correction 16 oz steer, 20 oz elsewhere, 14 oz on
// 19.5 in, 24 oz wide base: TMC RP 214 edition C, table B, quoted second-hand;
// residual 60 g and 150 g: Wang, Vehicle Noise and Vibration Refinement, table 16.1.
func TestJudgeBalance(t *testing.T) {
	t.Parallel()
	both := func(outer, inner float64) []models.PlaneUnbalance {
		g := func(v float64) models.Mass { return models.Mass{Value: units.Mass(v), Text: "g"} }
		return []models.PlaneUnbalance{{Plane: "outer", Mass: g(outer)}, {Plane: "inner", Mass: g(inner)}}
	}

	car := assess.Assembly{Class: models.Car, Role: models.RoleSteer, Size: "205/55R16 91V"}
	steer := assess.Assembly{Class: models.Tractor, Role: models.RoleSteer, Size: "295/75R22.5 144/141L"}
	drive := assess.Assembly{Class: models.Tractor, Role: models.RoleDrive, Size: "295/75R22.5 144/141L"}
	rigid := assess.Assembly{Class: models.RigidTruck, Size: "11R22.5 146/143L"}
	wide := assess.Assembly{Class: models.Tractor, Role: models.RoleSteer, Size: "385/65R22.5 160K"}

	left := func(outer float64) models.BalanceJob { return models.BalanceJob{ShownAfter: both(outer, 0)} }
	bare := func(each float64) models.BalanceJob {
		return models.BalanceJob{WeightsOff: true, Shown: both(each, each), ShownAfter: both(0, 0)}
	}

	shakes := func(outer, inner float64) models.BalanceJob {
		return models.BalanceJob{Why: models.BalanceComplaint, CheckSpin: true, Shown: both(outer, inner)}
	}

	for _, row := range []struct {
		name           string
		a              assess.Assembly
		e              models.BalanceJob
		proven, within bool
		reason         string
	}{
		{"7 g left on a car", car, models.BalanceJob{ShownAfter: both(7, 5)}, true, true, ""},
		{"7.1 g left on a car", car, models.BalanceJob{ShownAfter: both(7.1, 0)}, true, false, "7.1 g is left"},
		{"unrounded counts", car, models.BalanceJob{ShownAfter: func() []models.PlaneUnbalance {
			p := both(0, 0)
			p[0].Unrounded = &models.Mass{Value: 8, Text: "8 g"}
			return p
		}()}, true, false, "8 g is left"},
		{"nothing shown after", car, models.BalanceJob{Shown: both(0, 0)}, false, false, "spin it again"},
		{"one plane shown after", car, models.BalanceJob{ShownAfter: both(0, 0)[:1]}, false, false, "inner plane"},
		{"a check spin", car, models.BalanceJob{CheckSpin: true, Shown: both(0, 5)}, true, true, ""},
		{"16 oz on a steer axle", steer, bare(226.7), true, true, ""},
		{"more on a steer axle", steer, bare(228), true, false, "16 oz"},
		{"the same on a drive axle", drive, bare(228), true, true, ""},
		{"the same with weights on says nothing", steer,
			models.BalanceJob{Shown: both(228, 228), ShownAfter: both(0, 0)}, true, true, ""},
		{"151 g left on a tractor", steer, left(151), true, false, "150 g"},
		{"61 g left on a rigid truck", rigid, left(61), true, false, "60 g"},
		{"a loose 19.5", assess.Assembly{Size: "225/70R19.5 128/126N"}, bare(200), true, false, "14 oz"},
		{"a loose 22.5 without a load index", assess.Assembly{Size: "295/75R22.5"}, left(100), true, true, ""},
		{"a loose 20 without a load index", assess.Assembly{Size: "255/45R20"}, left(8), true, false, "0.25 oz"},
		{"a wide base single", wide, bare(340), true, true, ""},
		{"1 oz left after a complaint", steer, shakes(28.34, 0), true, true, ""},
		{"more left after a complaint", steer, shakes(28.4, 0), true, false, "1 oz"},
		{"1 oz in each plane after a complaint", steer, shakes(28, 28), true, false, "sum of both planes"},
		{"a car after a complaint", car, shakes(7, 0), true, true, ""},
		{"both planes of a car after a complaint", car, shakes(5, 5), true, false, "sum of both planes"},
		{"a loose car tire", assess.Assembly{Size: "205/55R16 91V"}, left(8), true, false, "0.25 oz"},
	} {
		v := assess.JudgeBalance(&row.e, row.a)
		reason := units.Style{Set: units.Metric}.Render(v.Reason)
		if v.Proven != row.proven || v.Within != row.within || !strings.Contains(reason, row.reason) ||
			v.Limit == "" {
			t.Errorf("%s: %+v, want proven %t, within %t, reason with %q", row.name, v, row.proven, row.within,
				row.reason)
		}
	}
}

// TestHeavyClasses: the bench counts the same vehicles as heavy as the record does.
func TestHeavyClasses(t *testing.T) {
	t.Parallel()
	for _, c := range models.Classes {
		if got := (assess.Assembly{Class: c, Size: "205/55R16 91V"}).Bench().Heavy(); got != c.Heavy() {
			t.Errorf("%s: heavy %v on the bench, %v in the record", c, got, c.Heavy())
		}
	}

	wheel := balance.Planes{Inner: balance.Plane{RadiusMM: 200, OffsetMM: -100}, Outer: balance.Plane{RadiusMM: 200}}
	for _, role := range []models.AxleRole{models.RoleSteer, models.RoleDrive, models.RoleTrailer} {
		for _, c := range models.Classes {
			a := assess.Assembly{Class: c, Role: role}
			_, _, err := bench.Problem(bench.Input{Assembly: a.Bench(), Planes: wheel})
			if err != nil {
				t.Errorf("%s, %s: %v", c, role, err)
			}
		}
	}
}
