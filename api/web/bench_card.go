package web

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"

	"rimledger/models"
	"rimledger/models/units"
)

// cardPage is a balance job on one printed page.
type cardPage struct {
	Torque string // of the nuts; empty: not noted
	benchSubject
	Job      *models.BalanceJob
	Back     string
	Zone     clock
	Units    units.Style
	Shown    []cardLine
	Fitted   []cardLine
	Removed  []cardLine
	After    []cardLine
	Checks   []cardCheck
	Surface  []string // where adhesive weights go on
	Planes   string
	Mode     string
	Dial     dial
	Retorque string
	Cautions []string
	Drift    string
	Withdraw string
	Gone     string // when, by whom and why it was withdrawn or replaced
}

// cardCheck is one thing to look at before the weights.
type cardCheck struct {
	Done bool
	Text string
}

// cardLine is one weight or plane with its angle in large figures.
type cardLine struct{ Mass, Angle, Text string }

// retorqueText says when the nuts are to be checked again.
func retorqueText(p models.Policy, u units.Style) string {
	km := u.WriteDistance(units.Distance(p.RetorqueKM) * units.Kilometre)
	return fmt.Sprintf("If the wheel was off: check nut torque again after at most %s, or %s where no odometer is known (industry practice 80 to 160 km).", km, plural(p.RetorqueDays, "day", "days"))
}

// balanceCard shows one job, made to be printed.
func (s *site) balanceCard(r *request) error {
	e, err := s.Fleet.Event(r.ctx(), r.actor, models.EventID(r.Param("id")))
	if err != nil {
		return err
	}
	job, ok := e.(*models.BalanceJob)
	if !ok {
		return models.Errorf(models.NotFound, "that entry is no balance job")
	}
	t, err := s.Fleet.Tire(r.ctx(), r.actor, job.TireID)
	if err != nil {
		return err
	}
	b := benchSubject{Tire: t.Tire, State: t.State, Depot: r.depot(job.DepotID), Position: job.Position}
	if job.VehicleID != "" {
		v, err := s.Fleet.Vehicle(r.ctx(), r.actor, job.VehicleID)
		if err != nil {
			return err
		}
		b.Vehicle = &v
	}
	if job.WheelID != "" {
		w, err := s.Fleet.Wheel(r.ctx(), r.actor, job.WheelID)
		if err != nil {
			return err
		}
		b.Wheel = &w
	}
	f := &benchForm{workForm: workForm{entry: newEntry(sentOf(job, r.units(b.Depot)), r.units(b.Depot))}, benchSubject: b, now: r.now}
	p := cardPage{benchSubject: b, Job: job, Back: b.back(), Zone: r.clock(b.Depot), Units: f.units, Mode: named(modeNames, job.Mode), Planes: named(planeNames, job.Planes),
		Cautions: f.cautions(), Dial: f.recordedDial()}
	if slices.ContainsFunc(job.Fitted, func(w models.FittedWeight) bool { return w.Type == "adhesive" }) {
		p.Surface = surfaceSteps
	}
	for _, k := range models.BalanceChecks {
		done := slices.Contains(job.Checks, k)
		if done || !job.CheckSpin && (k != "surface" || p.Surface != nil) { // of a check spin, what was done
			p.Checks = append(p.Checks, cardCheck{done, checkNames[k]})
		}
	}
	p.Shown, p.After = planeLines(job.Shown, f.units), planeLines(job.ShownAfter, f.units)
	p.Fitted, p.Removed = weightLines(job.Fitted, f.units), weightLines(job.Removed, f.units)
	if job.TorqueNM > 0 {
		p.Torque = f.units.WriteTorque(units.Torque(job.TorqueNM))
	}
	if b.Vehicle != nil && !job.CheckSpin {
		p.Retorque = retorqueText(b.Vehicle.Policy, f.units)
	}
	if done, err := s.Fleet.JobRecord(r.ctx(), r.actor, job); err != nil {
		return err
	} else if done.Drift != nil {
		p.Drift = tellDrift(*done.Drift, f.units)
	}
	p.Withdraw, p.Gone = r.withdrawal(job), r.gone(job, nil, p.Zone)
	return r.render("balancejob", "vehicles", "Balance job, tire "+t.Tire.Number, p)
}

func named(list []option, value string) string {
	for _, o := range list {
		if o.Value == value {
			return o.Label
		}
	}
	return plain(value)
}

func planeLines(list []models.PlaneUnbalance, u units.Style) []cardLine {
	var out []cardLine
	for _, p := range list {
		text := p.Plane + " plane"
		if p.Unrounded != nil {
			text += ", unrounded " + u.WriteTypedMass(p.Unrounded.Value, p.Unrounded.Text)
		}
		out = append(out, cardLine{u.WriteTypedMass(p.Mass.Value, p.Mass.Text), cmp.Or(placed(p), "–"), text})
	}
	return out
}

// placed writes the angle of p; no unbalance has none.
func placed(p models.PlaneUnbalance) string {
	if p.Mass.Value == 0 && (p.Unrounded == nil || p.Unrounded.Value == 0) {
		return ""
	}
	return fmt.Sprintf("%g°", float64(p.Angle))
}

func weightLines(list []models.FittedWeight, u units.Style) []cardLine {
	var out []cardLine
	for _, w := range list {
		out = append(out, cardLine{u.WriteTypedMass(w.Mass.Value, w.Mass.Text), fmt.Sprintf("%g°", float64(w.Angle)), w.Type + ", " + planeName(w.Plane) + prefixed(", ", w.Place)})
	}
	return out
}

// sentOf writes a job as the bench form would send it, to draw it again.
func sentOf(e *models.BalanceJob, u units.Style) url.Values {
	v := url.Values{"mode": {e.Mode}, "planes": {e.Planes}, "segments": {"5 g"}, "clips": {"5 g"}}
	angle := func(a units.Angle) string { return u.WriteAsTyped(strconv.FormatFloat(float64(a), 'f', -1, 64)) }
	for _, p := range e.Shown {
		v.Set("shown."+p.Plane+".mass", u.WriteAsTyped(p.Mass.Text))
		v.Set("shown."+p.Plane+".angle", angle(p.Angle))
	}
	for i, w := range e.Fitted {
		at := "fitted." + strconv.Itoa(i)
		v.Set(at+".mass", u.WriteAsTyped(w.Mass.Text))
		v.Set(at+".angle", angle(w.Angle))
		v.Set(at+".plane", w.Plane)
	}
	if g := e.Geometry; g != nil {
		for _, l := range geometryLengths(g) {
			if *l.At > 0 {
				v.Set("geometry."+l.Name, u.WriteLength(*l.At, units.MM))
			}
		}
		v.Set("geometry.spokes", anglesText(g.Spokes))
		setBlocked(v, "geometry.blocked", g.Blocked)
	}
	return v
}
