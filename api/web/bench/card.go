package bench

import (
	"cmp"
	"fmt"
	"slices"

	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/bench"
	"rimledger/models/units"
)

// cardPage is a balance job on one printed page.
type cardPage struct {
	Torque string // of the nuts; empty: not noted
	benchSubject
	Job      *models.BalanceJob
	Back     string
	Zone     say.Clock
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
	Differ   bool // a check spin and its repeat do not agree
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
	within := u.WriteDistance(units.DistanceFromKilometres(p.RetorqueKM))
	practice := "80 to 160 km"
	if u.Distance == units.Mi {
		practice = "50 to 100 mi"
	}

	return fmt.Sprintf(
		"If the wheel was off: check nut torque again after at most %s, or %s where no odometer is known (industry "+
			"practice %s).",
		within,
		say.Plural(p.RetorqueDays, "day", "days"), practice,
	)
}

// balanceCard shows one job, made to be printed.
func (s *room) balanceCard(r *site.Request) error {
	job, err := s.balanceJob(r)
	if err != nil {
		return err
	}
	subject, err := s.jobSubject(r, job)
	if err != nil {
		return err
	}

	p := newCard(r, job, subject)
	p.addChecks()
	p.addWeights()
	p.addTorque()
	if err := s.addDrift(r, &p); err != nil {
		return err
	}

	p.Withdraw, p.Gone = r.WithdrawAddress(job), r.GoneText(job, nil, p.Zone)
	return r.Show("balancejob", "vehicles", "Balance job, tire "+p.Tire.Number, p)
}

// balanceJob returns the job that the address names.
func (s *room) balanceJob(r *site.Request) (*models.BalanceJob, error) {
	e, err := s.Fleet.Event(r.Ctx(), r.Actor, models.EventID(r.Param("id")))
	if err != nil {
		return nil, err
	}
	job, ok := e.(*models.BalanceJob)
	if !ok {
		return nil, models.Errorf(models.NotFound, "that entry is no balance job")
	}

	return job, nil
}

// jobSubject returns the assembly of a job as the record knows it now.
func (s *room) jobSubject(r *site.Request, job *models.BalanceJob) (benchSubject, error) {
	t, err := s.Fleet.Tire(r.Ctx(), r.Actor, job.TireID)
	if err != nil {
		return benchSubject{}, err
	}

	b := benchSubject{Tire: t.Tire, State: t.State, Depot: r.Depot(job.DepotID), Position: job.Position}
	if job.VehicleID != "" {
		v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, job.VehicleID)
		if err != nil {
			return benchSubject{}, err
		}
		b.Vehicle = &v
	}

	if job.WheelID != "" {
		w, err := s.Fleet.Wheel(r.Ctx(), r.Actor, job.WheelID)
		if err != nil {
			return benchSubject{}, err
		}
		b.Wheel = &w
	}

	return b, nil
}

// newCard returns the card of a job with its head and its drawing.
func newCard(r *site.Request, job *models.BalanceJob, b benchSubject) cardPage {
	u := r.Units(b.Depot)

	return cardPage{
		benchSubject: b,
		Job:          job,
		Back:         b.back(),
		Zone:         r.Clock(b.Depot),
		Units:        u,
		Mode:         named(modeNames, job.Mode),
		Planes:       named(planeNames, job.Planes),
		Cautions:     b.cautions(),
		Dial:         recordedDial(job, u),
	}
}

// addChecks lists what is to be looked at before the weights; of a check spin, only
// what was done.
func (p *cardPage) addChecks() {
	if slices.ContainsFunc(p.Job.Fitted, func(w models.FittedWeight) bool { return w.Type == "adhesive" }) {
		p.Surface = surfaceSteps
	}

	for _, k := range models.BalanceChecks {
		done := slices.Contains(p.Job.Checks, k)
		asked := !p.Job.CheckSpin && (k != "surface" || p.Surface != nil)
		if done || asked {
			p.Checks = append(p.Checks, cardCheck{done, checkNames[k]})
		}
	}
}

// addWeights lists what the machine showed and what was fitted and removed.
func (p *cardPage) addWeights() {
	p.Shown, p.After = planeLines(p.Job.Shown, p.Units), planeLines(p.Job.ShownAfter, p.Units)
	p.Fitted, p.Removed = weightLines(p.Job.Fitted, p.Units), weightLines(p.Job.Removed, p.Units)

	twice := len(p.Job.Shown) > 0 && len(p.Job.ShownAfter) > 0
	p.Differ = p.Job.CheckSpin && twice && !p.Job.Verdict.Proven
}

// addTorque says how tight the nuts are and when to check them again.
func (p *cardPage) addTorque() {
	if p.Job.TorqueNM > 0 {
		p.Torque = p.Units.WriteTorque(units.Torque(p.Job.TorqueNM))
	}
	if p.Vehicle != nil && !p.Job.CheckSpin {
		p.Retorque = retorqueText(p.Vehicle.Policy, p.Units)
	}
}

// addDrift says how far the assembly has changed since the job before.
func (s *room) addDrift(r *site.Request, p *cardPage) error {
	done, err := s.Fleet.JobRecord(r.Ctx(), r.Actor, p.Job)
	if err != nil {
		return err
	}

	if done.Drift != nil {
		p.Drift = say.DescribeDrift(*done.Drift, p.Units)
	}
	return nil
}

func planeLines(list []models.PlaneUnbalance, u units.Style) []cardLine {
	var out []cardLine
	for _, p := range list {
		text := p.Plane + " plane"
		if p.Unrounded != nil {
			text += ", unrounded " + u.WriteTypedMass(p.Unrounded.Value, p.Unrounded.Text)
		}
		out = append(out, cardLine{u.WriteTypedMass(p.Mass.Value, p.Mass.Text), cmp.Or(say.AngleText(p), "–"), text})
	}
	return out
}

func weightLines(list []models.FittedWeight, u units.Style) []cardLine {
	var out []cardLine
	for _, w := range list {
		out = append(
			out,
			cardLine{
				u.WriteTypedMass(w.Mass.Value, w.Mass.Text),
				fmt.Sprintf("%g°", float64(w.Angle)),
				w.Type + ", " + say.PlaneName(w.Plane) + say.Prefixed(", ", w.Place),
			},
		)
	}
	return out
}

// recordedDial draws a job as it was recorded.
func recordedDial(e *models.BalanceJob, u units.Style) dial {
	pair := pairOf(e.Planes)
	w := drawing{
		units:   u,
		pair:    pair,
		allowed: pair.allowed(e.Mode, nil),
		shown:   e.Shown,
		kind:    "own",
		left:    leftByRecord(e, pair),
	}

	if e.Geometry != nil {
		w.wheel = *e.Geometry
	}

	for _, x := range e.Fitted {
		w.weights = append(w.weights, dialWeight{pair.plane(x.Plane), float64(x.Angle), x.Mass.Text})
	}

	return w.dial()
}

// leftByRecord returns what the fitted weights leave of what was shown. It is nil where
// a plane was not shown, or where it or a weight sits was not measured. The record does
// not say how long a weight is: each counts as a point.
func leftByRecord(e *models.BalanceJob, pair shownPair) *dialLeft {
	if e.Geometry == nil {
		return nil
	}

	in := bench.Input{Planes: pair.circles(*e.Geometry)}
	if isStatic(e.Mode) {
		in.Problem.Mode = balance.Static
	}
	if !showing(&in, e.Shown) {
		return nil
	}

	before, _, err := in.Unbalance()
	if err != nil {
		return nil
	}

	var weights []balance.Lump
	for _, x := range e.Fitted {
		at := circleAt(*e.Geometry, pair.place(x.Plane))
		weights = append(
			weights,
			balance.Lump{
				MassG:    float64(x.Mass.Value),
				RadiusMM: at.RadiusMM,
				Deg:      float64(x.Angle),
				OffsetMM: at.OffsetMM,
			},
		)
	}

	// Weights off a plane act on both planes, so they are moved there first.
	cured, _, err := balance.Resolve(in.Planes, weights...)
	if err != nil {
		return nil
	}

	// What is left points at the heavy side; the card shows what would correct it.
	heavy := balance.Unbalance{
		Inner: balance.Sum(before.Inner, cured.Inner),
		Outer: balance.Sum(before.Outer, cured.Outer),
	}

	inner, outer := heavy.Correction(in.Planes)

	return &dialLeft{balance.Left{Unbalance: heavy, InnerG: inner.MassG, OuterG: outer.MassG,
		Static: heavy.Static(), StaticG: heavy.Static().At((in.Planes.Inner.RadiusMM + in.Planes.Outer.RadiusMM) / 2),
	}, before, isStatic(e.Mode)}
}
