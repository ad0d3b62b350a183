package bench

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/bench"
	"rimledger/models/fleet"
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

// onVehicle is what is known of the vehicle, nothing for a loose assembly.
func (b benchSubject) onVehicle() fleet.VehicleView {
	if b.Vehicle == nil {
		return fleet.VehicleView{}
	}
	return *b.Vehicle
}

// assembly says what limits depend on.
func (b benchSubject) assembly() bench.Assembly {
	a := bench.Assembly{Size: b.Tire.Size}
	if b.Vehicle != nil {
		a.Class = string(b.Vehicle.Vehicle.Class)
		if !b.Position.IsSpare() {
			a.AxleRole = string(b.Vehicle.Vehicle.AxleAt(b.Position).Role())
		}
	}
	return a
}

// heavy reports whether heavy limits apply.
func (b benchSubject) heavy() bool { return b.assembly().Heavy() }

// back is where the assembly's own page is.
func (b benchSubject) back() string {
	if b.Vehicle != nil {
		return "/vehicles/" + string(b.Vehicle.Vehicle.ID)
	}
	return "/tires/" + string(b.Tire.ID)
}

// benchForm is the bench page's form.
type benchForm struct {
	*form.Entry
	benchSubject
	wheels []models.Wheel // to choose from, where the record has none under the tire
	now    time.Time
}

// benchPage shows it, in the order of the work.
type benchPage struct {
	benchSubject
	Entry     *form.Entry
	Back      string
	Zone      say.Clock
	Cautions  []string
	Steps     benchSteps
	Result    benchResult
	Records   bool // who may only look works things out and saves nothing
	Retorque  string
	Choosable bool // the wheel can be chosen
	Last      *models.BalanceRecord
	LastJob   string // address of its card
	LastSays  []string
}

// onBench finds the assembly that the address names.
func (s *room) onBench(r *site.Request) (benchSubject, error) {
	if pos := r.Param("position"); pos != "" {
		v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, models.VehicleID(r.Param("id")))
		if err != nil {
			return benchSubject{}, err
		}

		p, err := models.ParsePosition(pos)

		i := slices.IndexFunc(v.Tires, func(t models.TireWithState) bool { return t.State.Position == p })
		if err != nil || i < 0 {
			return benchSubject{}, models.Errorf(
				models.NotFound,
				"no tire is recorded at %.20s of vehicle %s; fit one first",
				pos,
				v.Vehicle.Number,
			)
		}

		b := benchSubject{Vehicle: &v, Position: p, Tire: v.Tires[i].Tire, State: v.Tires[i].State, Depot: v.Depot,
			Path: "/vehicles/" + string(v.Vehicle.ID) + "/bench/" + string(p)}
		return b, nil
	}

	// Without a position the address names a loose assembly.
	t, err := s.Fleet.Tire(r.Ctx(), r.Actor, models.TireID(r.Param("id")))
	if err != nil {
		return benchSubject{}, err
	}

	if t.State.VehicleID != "" {
		return benchSubject{}, models.Errorf(
			models.Conflict,
			"tire %s is mounted at %s; open the bench from its vehicle",
			t.Tire.Number,
			t.State.Position,
		)
	}

	return benchSubject{
		Tire:  t.Tire,
		State: t.State,
		Depot: r.Depot(t.Tire.DepotID),
		Path:  "/tires/" + string(t.Tire.ID) + "/bench",
	}, nil
}

// onBench says what limits depend on in the job that is typed.
func (f *benchForm) onBench() bench.Assembly {
	a := f.assembly()
	a.Complaint = f.Text("why") == string(models.BalanceComplaint)
	return a
}

func (s *room) newBench(r *site.Request, sent url.Values) (*benchForm, error) {
	b, err := s.onBench(r)
	if err != nil {
		return nil, err
	}
	f := &benchForm{Entry: form.NewEntry(sent, r.Units(b.Depot)), benchSubject: b, now: r.Now}
	return f, s.findWheelUnder(r, f)
}

// bench shows an empty form with what is remembered.
func (s *room) bench(r *site.Request) error {
	sent := form.Fresh(r.Now)
	f, err := s.newBench(r, sent)
	if err != nil {
		return err
	}
	f.propose()

	if err := s.proposeMachine(r, f); err != nil {
		return err
	}

	for _, name := range []string{"why", "check_spin"} {
		if v := r.QueryParam(name); v != "" {
			sent.Set(name, v)
		}
	}

	return s.showBench(r, http.StatusOK, f)
}

// postBench works out what was typed, takes a proposal over, keeps the box, or
// records the job.
func (s *room) postBench(r *site.Request) error {
	sent, err := r.PostedForm()
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
	case "wheel":
		f.proposeGeometry()
	case "box":
		return s.keepBox(r, f)
	case "save":
		return s.saveBench(r, f)
	case "part":
		return s.benchPart(r, f)
	}

	return s.showBench(r, http.StatusOK, f)
}

// benchPart answers htmx with the worked-out parts of the page alone.
func (s *room) benchPart(r *site.Request, f *benchForm) error {
	return s.ShowPart(r, "bench", "benchparts", f.workOut())
}

func (s *room) saveBench(r *site.Request, f *benchForm) error {
	job := f.job()
	if !f.OK() {
		f.Msg = "Some fields could not be read"
		return s.showBench(r, http.StatusUnprocessableEntity, f)
	}

	done, err := s.Fleet.Record(r.Ctx(), r.Actor, job)
	if err != nil {
		if r.SentBefore(f.Entry, err) || f.ApplyError(err) {
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

func (s *room) showBench(r *site.Request, status int, f *benchForm) error {
	p := benchPage{
		benchSubject: f.benchSubject,
		Entry:        f.Entry,
		Back:         f.back(),
		Zone:         r.Clock(f.Depot),
		Cautions:     f.cautions(),
		Result:       f.workOut(),
		Records:      r.Records(),
		Choosable:    len(f.wheels) > 0,
		Last:         f.State.Balance,
	}

	p.Steps = f.steps(p.Records)

	// On a fresh page the first field gets the focus; after a refusal the message does.
	if f.Msg == "" && r.Request().Method == http.MethodGet {
		p.Steps.Shown[0].First = true
	}
	if p.Last != nil {
		p.LastJob = "/balance-jobs/" + string(p.Last.EventID)
		p.LastSays = say.DescribeBalanceRecord(*p.Last, f.Units)
	}

	if f.Vehicle != nil {
		p.Retorque = retorqueText(f.Vehicle.Policy, f.Units)
	}

	name := f.Tire.Number
	if f.Vehicle != nil {
		name = string(f.Position) + " of " + f.Vehicle.Vehicle.Number
	}

	return r.ShowStatus(status, "bench", "vehicles", "Bench: "+name, p)
}
