package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/assess"
	"rimledger/models/fleet"
	"rimledger/models/tiresize"
	"rimledger/models/units"
)

// benchSubject is the assembly on the bench: at a place of a vehicle, or loose.
type benchSubject struct {
	Vehicle  *fleet.VehicleView // nil for a loose assembly
	Position models.Position
	Tire     models.Tire
	State    models.TireState
	Depot    models.Depot
	Wheel    *models.Wheel // nil if the record knows none under the tire
	Path     string        // address of the page
}

// assembly says what limits depend on.
func (b benchSubject) assembly() assess.Assembly {
	a := assess.Assembly{Size: b.Tire.Size}
	if b.Vehicle != nil {
		a.Class = b.Vehicle.Vehicle.Class
		if !b.Position.IsSpare() {
			a.Role = b.Vehicle.Vehicle.AxleAt(b.Position).Role()
		}
	}
	return a
}

// heavy reports whether heavy limits apply.
func (b benchSubject) heavy() bool { return assess.LimitsOf(b.assembly()).Needed != nil }

// back is where the assembly's own page is.
func (b benchSubject) back() string {
	if b.Vehicle != nil {
		return "/vehicles/" + string(b.Vehicle.Vehicle.ID)
	}
	return "/tires/" + string(b.Tire.ID)
}

// benchForm is the bench page's form.
type benchForm struct {
	workForm
	benchSubject
	now time.Time
}

// benchPage shows it.
type benchPage struct {
	benchSubject
	Entry     *entry
	Back      string
	Zone      *time.Location
	Before    []string // what to look at before the weights
	Why, How  []section
	Measured  []section
	Work      []section
	After     []section
	Result    benchResult
	Retorque  string
	Last      *models.BalanceRecord
	LastJob   string // address of its card
	LastLines []string
}

func (s *site) mountBench(get, post func(string, handler)) {
	for _, path := range []string{"/vehicles/:id/bench/:position", "/tires/:id/bench"} {
		get(path, s.bench)
		post(path, s.benched)
	}
	get("/bench", s.benchSums)
	get("/balance-jobs/:id", s.balanceCard)
	get("/vehicles/:id/find-wheel", s.findWheel)
}

// onBench finds the assembly that the address names.
func (s *site) onBench(r *request) (benchSubject, error) {
	if pos := r.Param("position"); pos != "" {
		v, err := s.Fleet.Vehicle(r.ctx(), r.actor, models.VehicleID(r.Param("id")))
		if err != nil {
			return benchSubject{}, err
		}
		p, err := models.ParsePosition(pos)
		i := slices.IndexFunc(v.Tires, func(t models.TireWithState) bool { return t.State.Position == p })
		if err != nil || i < 0 {
			return benchSubject{}, models.Errorf(models.NotFound, "no tire is recorded at %.20s of vehicle %s; fit one first", pos, v.Vehicle.Number)
		}
		b := benchSubject{Vehicle: &v, Position: p, Tire: v.Tires[i].Tire, State: v.Tires[i].State, Depot: v.Depot,
			Path: "/vehicles/" + string(v.Vehicle.ID) + "/bench/" + string(p)}
		return b, s.wheelUnder(r, &b)
	}
	t, err := s.Fleet.Tire(r.ctx(), r.actor, models.TireID(r.Param("id")))
	if err != nil {
		return benchSubject{}, err
	}
	if t.State.VehicleID != "" {
		return benchSubject{}, models.Errorf(models.Conflict, "tire %s is mounted at %s; open the bench from its vehicle", t.Tire.Number, t.State.Position)
	}
	return benchSubject{Tire: t.Tire, State: t.State, Depot: r.depot(t.Tire.DepotID), Path: "/tires/" + string(t.Tire.ID) + "/bench"}, nil
}

func (s *site) wheelUnder(r *request, b *benchSubject) error {
	if b.State.WheelID == "" {
		return nil
	}
	w, err := s.Fleet.Wheel(r.ctx(), r.actor, b.State.WheelID)
	b.Wheel = &w
	return err
}

func (s *site) newBench(r *request, sent url.Values) (*benchForm, error) {
	b, err := s.onBench(r)
	if err != nil {
		return nil, err
	}
	f := &benchForm{workForm: workForm{entry: newEntry(sent, r.units(b.Depot))}, benchSubject: b, now: r.now}
	f.view.Depot = b.Depot
	if b.Vehicle != nil {
		f.view = *b.Vehicle
	}
	return f, nil
}

// bench shows an empty form with what is remembered of the wheel.
func (s *site) bench(r *request) error {
	sent := fresh(r.now)
	f, err := s.newBench(r, sent)
	if err != nil {
		return err
	}
	f.propose()
	for _, name := range []string{"why", "check_spin"} {
		if v := r.QueryParam(name); v != "" {
			sent.Set(name, v)
		}
	}
	return s.showBench(r, http.StatusOK, f)
}

// benched works out what was typed, takes a proposal over, or records the job.
func (s *site) benched(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	f, err := s.newBench(r, sent)
	if err != nil {
		return err
	}
	switch sent.Get("do") {
	case "take":
		f.takeProposal(f.workOut())
	case "save":
		return s.saveBench(r, f)
	case "part":
		return s.benchPart(r, f)
	}
	return s.showBench(r, http.StatusOK, f)
}

// benchPart answers the script with the worked-out part of the page alone.
func (s *site) benchPart(r *request, f *benchForm) error {
	var b strings.Builder
	if err := s.pages["bench"].ExecuteTemplate(&b, "benchresult", f.workOut()); err != nil {
		return err
	}
	return r.HTML(http.StatusOK, b.String())
}

func (s *site) saveBench(r *request, f *benchForm) error {
	job := f.job()
	if !f.ok() {
		f.Msg = "Some fields could not be read"
		return s.showBench(r, http.StatusUnprocessableEntity, f)
	}
	done, err := s.Fleet.Record(r.ctx(), r.actor, job)
	if err != nil {
		if r.sentBefore(f.entry, err) || f.take(err) {
			return s.showBench(r, http.StatusUnprocessableEntity, f)
		}
		return err
	}
	said := "done"
	if done.Repeated {
		said = "repeated"
	}
	return r.Redirect(http.StatusSeeOther, "/balance-jobs/"+string(done.Event.Header().ID)+"?said="+said)
}

func (s *site) showBench(r *request, status int, f *benchForm) error {
	z := zone(f.Depot)
	p := benchPage{benchSubject: f.benchSubject, Entry: f.entry, Back: f.back(), Zone: z, Before: f.beforeWeights(), Result: f.workOut(), Last: f.State.Balance}
	p.Why, p.Measured, p.Work, p.After = f.layoutWhy(), f.layoutGeometry(), f.layoutWork(), f.layoutAfter()
	if p.Last != nil {
		p.LastJob = "/balance-jobs/" + string(p.Last.EventID)
		p.LastLines = tellRecord(*p.Last)
	}
	if f.Vehicle != nil {
		p.Retorque = retorqueText(f.Vehicle.Policy, f.units)
	}
	if !r.may(access.Record) {
		p.After = nil // who may only look works things out and saves nothing
	}
	name := f.Tire.Number
	if f.Vehicle != nil {
		name = string(f.Position) + " of " + f.Vehicle.Vehicle.Number
	}
	return r.show(status, "bench", "vehicles", "Bench: "+name, p)
}

// propose fills in what is remembered of the wheel: measured at an earlier job,
// else what the rim code says.
func (f *benchForm) propose() {
	var g models.WheelGeometry
	switch {
	case f.Wheel != nil && f.Wheel.OuterRadius+f.Wheel.AdhesiveRadius+f.Wheel.InnerRadius > 0:
		g = f.Wheel.WheelGeometry
	case f.State.Balance != nil && f.State.Balance.Geometry != nil:
		g = *f.State.Balance.Geometry
	default:
		if f.Wheel != nil {
			g = f.Wheel.WheelGeometry
		}
		if d, err := tiresize.Parse(f.Tire.Size); err == nil {
			r := units.Length(d.RimCode / 2 * float64(units.Inch))
			g.OuterRadius, g.InnerRadius = r, r
		}
	}
	for name, l := range map[string]units.Length{"geometry.outer_radius": g.OuterRadius, "geometry.inner_radius": g.InnerRadius, "geometry.inner_offset": g.InnerOffset,
		"geometry.adhesive_radius": g.AdhesiveRadius, "geometry.adhesive_offset": g.AdhesiveOffset, "geometry.back_radius": g.BackRadius, "geometry.back_offset": g.BackOffset} {
		if l > 0 {
			f.sent.Set(name, units.FormatLength(l, units.MM))
		}
	}
	f.sent.Set("geometry.flange", g.Flange)
	f.sent.Set("geometry.spokes", anglesText(g.Spokes))
	f.sent.Set("geometry.blocked", arcsText(g.Blocked))
	f.sent.Set("planes", "flanges")
	if b := f.State.Balance; b != nil && b.Planes != "" {
		f.sent.Set("planes", b.Planes)
	}
	f.sent.Set("mode", "two_plane")
	f.sent.Set("clips", usualClips(f.heavy(), f.units.Mass))
	f.sent.Set("segments", usualSegments(f.heavy(), f.units.Mass))
}
