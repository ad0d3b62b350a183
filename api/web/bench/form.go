package bench

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/units"
)

// ownRows is how many weights of the technician's own choice the form takes, and
// openRows how many of them are unfolded at once.
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

	e := &models.BalanceJob{
		Meta:     f.Meta(vehicle, say.Zone(f.Depot)),
		Position: f.Position,
		TireID:   f.Tire.ID,
		WheelID:  f.wheelID(),
		Why:      models.BalanceWhy(f.Text("why")),
		Mode:     f.Text("mode"),
		Planes: f.Text(
			"planes",
		),
		CheckSpin:  f.Ticked("check_spin"),
		Machine:    f.Text("machine"),
		SelfCheck:  f.day("self_check"),
		Checks:     f.Sent["checks"],
		WeightsOff: f.Ticked("weights_off"),
		TorqueNM:   f.Torque(),
	}

	e.Shown, e.ShownAfter = f.shown("shown"), f.shown("after")
	e.Fitted, e.Removed = f.weights("fitted"), f.weights("removed")

	// An empty geometry would replace what the record has.
	g := f.geometry()
	if !emptyGeometry(g) {
		e.Geometry = &g
	}

	if f.Text("media.type")+f.Text("media.dose") != "" {
		e.Media = &models.BalanceMedia{Type: f.Text("media.type"), Dose: f.Text("media.dose")}
		if in := f.day("media.in"); in != nil {
			e.Media.In = *in
		}
	}

	for _, name := range []string{"why", "mode", "planes", "wheel_id", "check_spin", "machine", "self_check", "checks", "odometer", "at", "person", "note",
		"media.type", "media.dose", "media.in", "geometry.flange", "geometry.spokes", "geometry.spoke_width", "geometry.blocked"} {
		f.MapField(name, name)
	}

	// A job that changes nothing and shows nothing is a form sent too early.
	if !e.CheckSpin && len(e.Fitted)+len(e.Removed) == 0 && len(e.ShownAfter) == 0 {
		f.AddFault("fitted.0.mass", "say what was fitted: take the proposal over, or write it here; or tick check spin")
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
	radii := g.OuterRadius + g.InnerRadius + g.AdhesiveRadius + g.BackRadius
	offsets := g.InnerOffset + g.AdhesiveOffset + g.BackOffset
	return radii+offsets+g.SpokeWidth == 0 && len(g.Spokes)+len(g.Blocked) == 0 && g.Flange == ""
}

// day reads a date field; nil if empty.
func (f *benchForm) day(name string) *time.Time {
	t := f.Text(name)
	if t == "" {
		return nil
	}
	d, err := time.ParseInLocation(time.DateOnly, t, say.Zone(f.Depot))
	if err != nil {
		f.AddFault(name, strconv.Quote(t)+": write the day, such as 2026-11-25")
		return nil
	}
	d = d.UTC()
	return &d
}

// where reads a position around the wheel as a shop writes it (units.ParsePosition); any turn
// is taken, the answer says what was made of it. A distance counts along the circle of
// radius mm. Where a weight is, needed says that an empty field is a fault: nobody fits a
// weight nowhere.
func (f *benchForm) where(name string, needed bool, radius float64) units.Angle {
	t := f.Text(name)
	if t == "" {
		if needed {
			f.AddFault(name, "empty: write where, in degrees clockwise from the valve, or by the clock, such as 4:30")
		}
		return 0
	}

	at, err := units.ParsePosition(f.Units.Plain(t), units.LengthFromMillimetres(radius))
	if err != nil {
		f.AddFault(name, form.Remedy(err))
	}
	return at
}

// radiusOf is the radius in mm of a plane of the form, 0 if not measured.
func (f *benchForm) radiusOf(plane string) float64 {
	return circleAt(f.geometry(), f.pair().place(plane)).RadiusMM
}

func (f *benchForm) shown(prefix string) []models.PlaneUnbalance {
	var out []models.PlaneUnbalance

	path := map[string]string{"shown": "shown", "after": "shown_after"}[prefix]
	for _, p := range shownPlanes {
		name := prefix + "." + p
		m, ok := f.Mass(name + ".mass")
		if !ok {
			continue
		}
		u := models.PlaneUnbalance{Plane: p, Mass: m}
		if m, ok := f.Mass(name + ".unrounded"); ok {
			u.Unrounded = &m
		}
		u.Angle = f.where(name+".angle", m.Value > 0 || u.Grams() > 0, f.radiusOf(p))

		at := fmt.Sprintf("%s[%d]", path, len(out))
		f.MapField(at, name+".mass")
		f.MapField(at+".angle", name+".angle")
		f.MapField(at+".unrounded", name+".unrounded")
		out = append(out, u)
	}

	return out
}

func (f *benchForm) weights(prefix string) []models.FittedWeight {
	var out []models.FittedWeight
	for i := range ownRows {
		name := prefix + "." + strconv.Itoa(i)
		m, ok := f.Mass(name + ".mass")
		if !ok {
			continue
		}

		w := models.FittedWeight{
			Plane: f.pair().plane(f.Text(name + ".plane")),
			Type:  f.Text(name + ".type"),
			Mass:  m,
			Place: f.Text(name + ".place"),
		}
		w.Angle = f.where(name+".angle", m.Value > 0, f.radiusOf(w.Plane))
		if w.Type == "" {
			w.Type = string(f.pair().kind(w.Plane))
		}

		at := fmt.Sprintf("%s[%d]", prefix, len(out))
		f.MapField(at, name+".mass")
		f.MapField(at+".angle", name+".angle")
		f.MapField(at+".plane", name+".plane")
		out = append(out, w)
	}

	return out
}

func (f *benchForm) length(name string) units.Length {
	name = "geometry." + name
	t := f.Text(name)
	f.MapField(name, name)
	if t == "" {
		return 0
	}
	l, err := units.ParseLength(f.Units.Plain(t), units.MM)
	if err != nil {
		f.AddFault(name, form.Remedy(err))
	}
	return l
}

func (f *benchForm) geometry() models.WheelGeometry {
	g := models.WheelGeometry{
		Flange:      f.Text("geometry.flange"),
		OuterRadius: f.length("outer_radius"),
		InnerRadius: f.length("inner_radius"),
		InnerOffset: f.length("inner_offset"),
		AdhesiveRadius: f.length(
			"adhesive_radius",
		),
		AdhesiveOffset: f.length("adhesive_offset"),
		BackRadius:     f.length("back_radius"),
		BackOffset:     f.length("back_offset"),
		SpokeWidth:     f.length("spoke_width"),
	}

	for _, w := range form.SplitList(f.Text("geometry.spokes")) {
		v, err := strconv.ParseFloat(f.Units.Plain(strings.TrimSuffix(w, "°")), 64)
		if err != nil {
			f.AddFault("geometry.spokes", strconv.Quote(w)+": write angles with spaces between, such as 0 72 144")
			break
		}
		g.Spokes = append(g.Spokes, v)
	}

	g.Blocked = f.Blocked("geometry.blocked")
	return g
}
