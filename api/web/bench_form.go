package web

import (
	"fmt"
	"math"
	"net/url"
	"strconv"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// ownRows is how many weights of the technician's own choice the form takes, and
// openRows how many of them stand open at once.
const (
	ownRows  = 4
	openRows = 2
)

// job reads the form as a balance job.
func (f *benchForm) job() *models.BalanceJob {
	var vehicle models.VehicleID
	if f.Vehicle != nil {
		vehicle = f.Vehicle.Vehicle.ID
	}
	e := &models.BalanceJob{Meta: f.meta(vehicle, zone(f.Depot)), Position: f.Position, TireID: f.Tire.ID, WheelID: f.wheelID(), Why: models.BalanceWhy(f.text("why")), Mode: f.text("mode"),
		Planes: f.text("planes"), CheckSpin: f.ticked("check_spin"), Machine: f.text("machine"), SelfCheck: f.day("self_check"), Checks: f.sent["checks"],
		WeightsOff: f.ticked("weights_off"), TorqueNM: f.torque()}
	e.Shown, e.ShownAfter = f.shown("shown"), f.shown("after")
	e.Fitted, e.Removed = f.weights("fitted"), f.weights("removed")
	g := f.geometry()
	if !emptyGeometry(g) {
		e.Geometry = &g
	}
	if f.text("media.type")+f.text("media.dose") != "" {
		e.Media = &models.BalanceMedia{Type: f.text("media.type"), Dose: f.text("media.dose")}
		if in := f.day("media.in"); in != nil {
			e.Media.In = *in
		}
	}
	for _, name := range []string{"why", "mode", "planes", "wheel_id", "check_spin", "machine", "self_check", "checks", "odometer", "at", "person", "note",
		"media.type", "media.dose", "media.in", "geometry.flange", "geometry.spokes", "geometry.spoke_width", "geometry.blocked"} {
		f.as(name, name)
	}
	if !e.CheckSpin && len(e.Fitted)+len(e.Removed) == 0 && len(e.ShownAfter) == 0 {
		f.fault("fitted.0.mass", "say what was fitted: take the proposal over, or write it here; or tick check spin")
	}
	return e
}

// wheelID is the wheel under the tire: what the record says, else what was chosen.
func (f *benchForm) wheelID() models.WheelID {
	if f.Wheel == nil {
		return ""
	}
	return f.Wheel.ID
}

func emptyGeometry(g models.WheelGeometry) bool {
	return g.OuterRadius+g.InnerRadius+g.AdhesiveRadius+g.BackRadius+g.InnerOffset+g.AdhesiveOffset+g.BackOffset+g.SpokeWidth == 0 && len(g.Spokes)+len(g.Blocked) == 0 && g.Flange == ""
}

// day reads a date field; nil if empty.
func (f *benchForm) day(name string) *time.Time {
	t := f.text(name)
	if t == "" {
		return nil
	}
	d, err := time.ParseInLocation(time.DateOnly, t, zone(f.Depot))
	if err != nil {
		f.fault(name, strconv.Quote(t)+": write the day, such as 2026-11-25")
		return nil
	}
	d = d.UTC()
	return &d
}

// angle reads degrees; any turn is taken, the answer says what was made of it.
func (f *benchForm) angle(name string) units.Angle {
	t := strings.TrimSuffix(f.text(name), "°")
	if t == "" {
		return 0
	}
	v, err := strconv.ParseFloat(f.units.Plain(t), 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > 36000 {
		f.fault(name, strconv.Quote(t)+": write degrees clockwise from the valve, seen from outside")
		return 0
	}
	return units.Angle(v)
}

func (f *benchForm) shown(prefix string) []models.PlaneUnbalance {
	var out []models.PlaneUnbalance
	path := map[string]string{"shown": "shown", "after": "shown_after"}[prefix]
	for _, p := range shownPlanes {
		name := prefix + "." + p
		m, ok := f.mass(name + ".mass")
		if !ok {
			continue
		}
		u := models.PlaneUnbalance{Plane: p, Mass: m, Angle: f.angle(name + ".angle")}
		if m, ok := f.mass(name + ".unrounded"); ok {
			u.Unrounded = &m
		}
		at := fmt.Sprintf("%s[%d]", path, len(out))
		f.as(at, name+".mass")
		f.as(at+".angle", name+".angle")
		f.as(at+".unrounded", name+".unrounded")
		out = append(out, u)
	}
	return out
}

func (f *benchForm) weights(prefix string) []models.FittedWeight {
	var out []models.FittedWeight
	for i := range ownRows {
		name := prefix + "." + strconv.Itoa(i)
		m, ok := f.mass(name + ".mass")
		if !ok {
			continue
		}
		w := models.FittedWeight{Plane: f.pair().plane(f.text(name + ".plane")), Type: f.text(name + ".type"), Mass: m, Angle: f.angle(name + ".angle"), Place: f.text(name + ".place")}
		if w.Type == "" {
			w.Type = string(f.pair().kind(w.Plane))
		}
		at := fmt.Sprintf("%s[%d]", prefix, len(out))
		f.as(at, name+".mass")
		f.as(at+".angle", name+".angle")
		f.as(at+".plane", name+".plane")
		out = append(out, w)
	}
	return out
}

func (f *benchForm) length(name string) units.Length {
	name = "geometry." + name
	t := f.text(name)
	f.as(name, name)
	if t == "" {
		return 0
	}
	l, err := units.ParseLength(f.units.Plain(t), units.MM)
	if err != nil {
		f.fault(name, remedy(err))
	}
	return l
}

func (f *benchForm) geometry() models.WheelGeometry {
	g := models.WheelGeometry{Flange: f.text("geometry.flange"), OuterRadius: f.length("outer_radius"), InnerRadius: f.length("inner_radius"), InnerOffset: f.length("inner_offset"),
		AdhesiveRadius: f.length("adhesive_radius"), AdhesiveOffset: f.length("adhesive_offset"), BackRadius: f.length("back_radius"), BackOffset: f.length("back_offset"), SpokeWidth: f.length("spoke_width")}
	for _, w := range list(f.text("geometry.spokes")) {
		v, err := strconv.ParseFloat(f.units.Plain(strings.TrimSuffix(w, "°")), 64)
		if err != nil {
			f.fault("geometry.spokes", strconv.Quote(w)+": write angles with spaces between, such as 0 72 144")
			break
		}
		g.Spokes = append(g.Spokes, v)
	}
	g.Blocked = f.blocked("geometry.blocked")
	return g
}

// blocked reads where nothing fits: everywhere, and at each place for weights alone.
func (e *entry) blocked(name string) []models.Arc {
	out := e.arcs(name, "")
	for _, place := range models.WeightPlaces {
		out = append(out, e.arcs(name+"."+place, place)...)
	}
	return out
}

// setBlocked writes them into the fields that blocked reads.
func setBlocked(sent url.Values, name string, all []models.Arc) {
	sent.Set(name, arcsText(all, ""))
	for _, place := range models.WeightPlaces {
		sent.Set(name+"."+place, arcsText(all, place))
	}
}

// arcs reads stretches of the circle at a place: 350-10 170-190.
func (e *entry) arcs(name, place string) []models.Arc {
	var out []models.Arc
	for _, w := range list(e.text(name)) {
		from, to, ok := strings.Cut(w, "-")
		a, errA := strconv.ParseFloat(from, 64)
		b, errB := strconv.ParseFloat(to, 64)
		if !ok || errA != nil || errB != nil {
			e.fault(name, strconv.Quote(w)+": write from-to, clockwise, such as 350-10")
			return nil
		}
		out = append(out, models.Arc{From: a, To: b, At: place})
	}
	return out
}

// list takes words apart at spaces and semicolons.
func list(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ';' || r == '\t' })
}

func numbersText(all []float64) string {
	var out []string
	for _, a := range all {
		out = append(out, strconv.FormatFloat(a, 'f', -1, 64))
	}
	return strings.Join(out, " ")
}

// arcsText writes the stretches of one place; of no place, those of every place.
func arcsText(all []models.Arc, place string) string {
	var out []string
	for _, a := range all {
		if a.At != place {
			continue
		}
		out = append(out, fmt.Sprintf("%g-%g", a.From, a.To))
	}
	return strings.Join(out, " ")
}
