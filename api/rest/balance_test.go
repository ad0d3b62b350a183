package rest_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
)

func (y *truckDepot) balanceJob(change func(object)) object {
	j := object{
		"id":         uuid.NewString(),
		"vehicle_id": y.vehicle,
		"at":         noon.Add(-time.Hour),
		"odometer":   "unknown",
		"position":   "1L",
		"why":        "interval",
		"mode":       "two_plane",
		"planes":     "flanges",
		"shown": []object{
			{"plane": "outer", "mass": "3.5 oz", "angle_deg": 450},
			{"plane": "inner", "mass": "0 oz", "angle_deg": 0},
		},
		"fitted": []object{{"plane": "outer", "type": "clip", "mass": "3.5 oz", "angle_deg": -270}},
		"shown_after": []object{
			{"plane": "outer", "mass": "0 oz", "angle_deg": 360},
			{"plane": "inner", "mass": "0 oz", "angle_deg": 0},
		},
	}

	change(j)
	return j
}

// TestBalanceNotes: an angle outside 0-360 is brought into a turn, and the answer
// says so, at once and whenever the job is read.
func TestBalanceNotes(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	j := y.balanceJob(func(j object) { j["geometry"] = object{"spokes_deg": []int{-72}} })
	y.do("POST", "/balance-jobs", j).want(201)
	one := y.do("GET", "/events/"+j["id"].(string), nil).want(200)

	var notes []string
	for i := range 4 {
		notes = append(notes, one.at("balance_job.notes."+string(rune('0'+i))), one.at("notes."+string(rune('0'+i))))
	}

	for _, want := range []string{"shown, outer plane: 450° taken as 90°", "shown after, outer plane: 360° taken " +
		"as 0°", "fitted, outer plane: -270° taken as 90°", "spoke: -72° taken as 288°"} {
		if !slices.Contains(notes, want) {
			t.Errorf("no note %q: %s", want, one.raw)
		}
	}
}

// TestBalanceJobsOfAnAssembly: the jobs of a tire and of a wheel are listed with what
// each came to; weights may sit where the machine does not show, and an arc may be
// blocked at one place alone.
func TestBalanceJobsOfAnAssembly(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	wheel := uuid.NewString()
	y.do("POST", "/wheels", object{"id": wheel, "depot_id": y.depot, "number": "W-1", "diameter_in": 22.5,
		"width_in": 8.25, "material": "steel"}).
		want(201)

	j := y.balanceJob(func(j object) {
		j["wheel_id"], j["weights_off"] = wheel, true
		j["fitted"] = []object{{"plane": "band", "type": "adhesive", "mass": "100 g", "angle_deg": 90}}
		j["geometry"] = object{
			"adhesive_radius": "240 mm",
			"adhesive_offset": "60 mm",
			"spoke_width":     "40 mm",
			"blocked":         []object{{"from_deg": 350, "to_deg": 10, "at": "band"}},
		}
	})

	y.do("POST", "/balance-jobs", j).want(201)
	list := y.do("GET", "/wheels/"+wheel+"/balance-jobs", nil).want(200)
	if list.at("items.0.job.id") != j["id"] || list.at("items.0.record.weights.0.plane") != "band" ||
		list.at("items.0.tire_number") == "" ||
		list.at("items.1") != "" {
		t.Errorf("of the wheel: %s", list.raw)
	}

	tire := list.at("items.0.job.tire_id")
	if of := y.do("GET", "/tires/"+tire+"/balance-jobs", nil).want(200); of.at("items.0.job.id") != j["id"] {
		t.Errorf("of the tire %s: %s", tire, of.raw)
	}

	if w := y.do("GET", "/wheels/"+wheel, nil).want(200); w.at("blocked.0.at") != "band" ||
		w.at("spoke_width") != "40 mm" {
		t.Errorf("the wheel: %s", w.raw)
	}

	y.do("GET", "/wheels/"+uuid.NewString()+"/balance-jobs", nil).want(404)
}

// TestBadBalanceJobs: each is refused by the name of its field, with what would be right.
func TestBadBalanceJobs(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()

	first := func(j object, list string) object { return j[list].([]object)[0] }
	for name, tt := range map[string]struct {
		change      func(object)
		field, says string
	}{
		"a mass beyond any wheel's": {func(j object) { first(j, "shown")["mass"] = "2500 g" }, "shown[0].mass", "no wheel takes more"},
		"a mass below zero":         {func(j object) { first(j, "fitted")["mass"] = "-5 g" }, "fitted[0].mass", "negative"},
		"a mass without its unit":   {func(j object) { first(j, "fitted")["mass"] = "5" }, "fitted[0].mass", "no unit"},
		"an angle beyond counting":  {func(j object) { first(j, "shown")["angle_deg"] = 1e9 }, "shown[0].angle", "clockwise from the valve"},
		"an arc at no place":        {func(j object) { j["geometry"] = object{"blocked": []object{{"from_deg": 0, "to_deg": 9, "at": "hub"}}} }, "geometry.blocked[0].at", "band"},
		"a plane there is not":      {func(j object) { first(j, "shown")["plane"] = "middle" }, "shown[0].plane", "outer"},
		"one plane twice":           {func(j object) { first(j, "shown")["plane"] = "inner" }, "shown[1].plane", "twice"},
		"a check spin with weights": {func(j object) { j["check_spin"] = true }, "check_spin", "record a balance " +
			"job instead"},
		"a self-check to come":      {func(j object) { j["self_check"] = noon.Add(time.Hour) }, "self_check", "not be after the job"},
		"media without a dose":      {func(j object) { j["media"] = object{"type": "beads", "dose": "", "in": noon.Add(-time.Hour)} }, "media.dose", "maker's chart"},
		"a rim beyond any wheel's":  {func(j object) { j["geometry"] = object{"outer_radius": "2 m"} }, "geometry.outer_radius", ""},
		"a torque beyond any nut's": {func(j object) { j["torque_nm"] = 5000 }, "torque_nm", "2000"},
		"a way there is not":        {func(j object) { j["mode"] = "by eye" }, "mode", "two_plane"},
	} {
		a := y.do("POST", "/balance-jobs", y.balanceJob(tt.change)).want(422)
		if a.at("errors.0.field") != tt.field ||
			!strings.Contains(a.at("errors.0.remedy")+a.at("errors.0.message"), tt.says) {
			t.Errorf("%s: %s", name, a.raw)
		}
	}

	none := y.do("POST", "/balance-jobs", y.balanceJob(func(j object) { j["wheel_id"] = uuid.NewString() })).want(404)
	if none.at("errors.0.field") != "wheel_id" || none.at("errors.0.remedy") != "names no wheel in the record" {
		t.Errorf("a wheel that is not there: %s", none.raw)
	}
}

// TestBoxOfWeights: a depot's box comes back as it was given; a size that no
// weight has is refused by name.
func TestBoxOfWeights(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	d := depotBody()
	d["box"] = object{"light_segments": []string{"0.25 oz"}, "heavy_clips": []string{"25 g", "4 oz"}}
	made := y.do("POST", "/depots", d).want(201)

	one := y.do("GET", "/depots/"+made.at("id"), nil).want(200)
	if one.at("box.heavy_clips.1") != "4 oz" || one.at("box.light_segments.0") != "0.25 oz" ||
		one.at("box.light_clips") != "" {
		t.Errorf("the box comes back as %s", one.raw)
	}

	d = depotBody()
	d["box"] = object{"heavy_clips": []string{"25 g", "0 g"}}
	if a := y.do("POST", "/depots", d).want(422); a.at("errors.0.field") != "box.heavy_clips[1]" {
		t.Errorf("a size of nothing: %s", a.raw)
	}
}
