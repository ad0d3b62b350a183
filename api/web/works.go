package web

import (
	"errors"
	"net/http"
	"net/url"
	"slices"

	"rimledger/models"
	"rimledger/models/fleet"
)

// work is one kind of work that is recorded by a form on a vehicle.
type work struct {
	Kind     string // in the address
	Title    string
	Intro    string
	Cautions func(models.Vehicle) []string
	layout   func(*workForm) []section
	build    func(*workForm) models.Event
}

// workForm is a form being laid out or read.
type workForm struct {
	*entry
	view  fleet.VehicleView
	stock []models.TireWithState // tires in stock at the depot, where the form needs them
}

// section is a group of fields.
type section struct {
	Legend, Hint string
	Rows         string // class of the grid, where fields belong together in rows
	Fields       []field
}

// field is one field of a form.
type field struct {
	Type    string // text, number, area, select, checks, tick
	Name    string
	Label   string
	Unit    string
	Help    string
	Options []option
	Value   string
	Fault   *fault
	Wide    bool
	Class   string // further class of its label
	First   bool   // has the focus when the page opens
}

type option struct {
	Value, Label string
	Chosen       bool
}

// workOrder is how the kinds of work stand on the vehicle's page.
var workOrder = []string{"rotate", "fit", "remove", "repair", "wheel-check", "retorque", "alignment", "service", "odometer", "vibration", "clearance"}

// works are the kinds of work, by their name in the address.
var works = worksByKind()

func worksByKind() map[string]work {
	out := map[string]work{}
	for _, w := range slices.Concat(wheelWorks(), benchWorks(), plainWorks()) {
		out[w.Kind] = w
	}
	return out
}

// workLink names a kind of work and its form.
type workLink struct{ Kind, Title string }

func vehicleWorks() []workLink {
	var out []workLink
	for _, k := range workOrder {
		out = append(out, workLink{k, works[k].Title})
	}
	return out
}

// workPage shows a form.
type workPage struct {
	fleet.VehicleView
	Work     work
	Cautions []string
	Entry    *entry
	Sections []section
}

func (s *site) workOn(r *request, sent url.Values) (work, *workForm, error) {
	w, ok := works[r.Param("kind")]
	if !ok {
		return work{}, nil, models.Errorf(models.NotFound, "there is no form for that kind of work")
	}
	v, err := s.Fleet.Vehicle(r.ctx(), r.actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return work{}, nil, err
	}
	f := &workForm{entry: newEntry(sent, r.units(v.Depot)), view: v}
	if w.Kind == "fit" {
		f.stock, _, err = s.Fleet.Tires(r.ctx(), r.actor, models.TireFilter{Depots: []models.DepotID{v.Depot.ID}, Status: models.InStock}, models.Page{Limit: 500})
	}
	return w, f, err
}

func (s *site) workForm(r *request) error {
	sent := fresh(r.now)
	for _, name := range []string{"position", "supersedes", "settles"} {
		if v := r.QueryParam(name); v != "" {
			sent.Set(name, v)
		}
	}
	w, f, err := s.workOn(r, sent)
	if err != nil {
		return err
	}
	return s.showWork(r, http.StatusOK, w, f)
}

func (s *site) showWork(r *request, status int, w work, f *workForm) error {
	p := workPage{VehicleView: f.view, Work: w, Entry: f.entry, Sections: append(w.layout(f), f.metaSection(f.view.Vehicle, f.view.State.Odometer))}
	if w.Cautions != nil {
		p.Cautions = w.Cautions(f.view.Vehicle)
	}
	return r.show(status, "work", "vehicles", w.Title+" · "+f.view.Vehicle.Number, p)
}

func (s *site) workDone(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	w, f, err := s.workOn(r, sent)
	if err != nil {
		return err
	}
	ev := w.build(f)
	if !f.ok() {
		f.Msg = "Some fields could not be read"
		return s.showWork(r, http.StatusUnprocessableEntity, w, f)
	}
	done, err := s.Fleet.Record(r.ctx(), r.actor, ev)
	if err != nil {
		if r.sentBefore(f.entry, err) || f.take(err) {
			return s.showWork(r, http.StatusUnprocessableEntity, w, f)
		}
		return err
	}
	said := "done"
	if done.Repeated {
		said = "repeated"
	}
	return r.Redirect(http.StatusSeeOther, "/vehicles/"+string(f.view.Vehicle.ID)+"?said="+said)
}

// sentBefore reports whether a refusal means that an earlier version of this
// form is in the record already. The form then gets a new number, so that
// sending it again, knowingly, records it as well.
func (r *request) sentBefore(e *entry, err error) bool {
	if !errors.Is(err, models.Conflict) {
		return false
	}
	if _, err := r.site.Fleet.Event(r.ctx(), r.actor, models.EventID(e.text("id"))); err != nil {
		return false
	}
	e.sent.Set("id", newEventID())
	e.Msg = "An earlier version of this form is already recorded; see the timeline. If that one was wrong, withdraw it there. Send this one only if it is to be recorded as well"
	return true
}

// metaSection asks what every event says.
func (f *entry) metaSection(v models.Vehicle, last models.Odometer) section {
	var fields []field
	if !v.NoOdometer {
		help := "leave empty if unknown"
		if last.Known {
			help += "; last " + f.units.WriteTypedDistance(last.Value, last.Text)
		}
		fields = append(fields, f.textField("odometer", "Odometer", string(f.units.Distance), help))
	}
	return section{Legend: "When and who", Fields: append(fields,
		field{Type: "time", Name: "at", Label: "When, if not now", Value: f.Value("at"), Fault: f.Fault("at")},
		f.textField("person", "Who, if not you", "", ""), f.areaField("note", "Note", ""))}
}

// header reads what metaSection asks.
func (f *workForm) header() models.Meta {
	m := f.meta(f.view.Vehicle.ID, zone(f.view.Depot))
	for _, name := range []string{"odometer", "at", "person", "note"} {
		f.as(name, name)
	}
	return m
}

func (f *entry) textField(name, label, unit, help string) field {
	return field{Type: "text", Name: name, Label: label, Unit: unit, Help: help, Value: f.Value(name), Fault: f.Fault(name)}
}

func (f *entry) numberField(name, label, unit string) field {
	return field{Type: "number", Name: name, Label: label, Unit: unit, Value: f.Value(name), Fault: f.Fault(name)}
}

func (f *entry) areaField(name, label, help string) field {
	return field{Type: "area", Name: name, Label: label, Help: help, Value: f.Value(name), Fault: f.Fault(name), Wide: true}
}

func (f *entry) tickField(name, label, help string) field {
	x := field{Type: "tick", Name: name, Label: label, Help: help, Fault: f.Fault(name)}
	if f.ticked(name) {
		x.Value = "1"
	}
	return x
}

// selectField offers options; the empty one comes first if none says otherwise.
func (f *entry) selectField(name, label, empty string, options []option) field {
	x := field{Type: "select", Name: name, Label: label, Value: f.Value(name), Fault: f.Fault(name)}
	if empty != "" {
		x.Options = append(x.Options, option{"", empty, x.Value == ""})
	}
	for _, o := range options {
		o.Chosen = o.Value == x.Value
		x.Options = append(x.Options, o)
	}
	return x
}

func (f *entry) checksField(name, label string, options []option) field {
	x := field{Type: "checks", Name: name, Label: label, Fault: f.Fault(name), Wide: true}
	for _, o := range options {
		o.Chosen = slices.Contains(f.sent[name], o.Value)
		x.Options = append(x.Options, o)
	}
	return x
}

// codes turns codes of ours into options.
func codes[T ~string](list ...T) []option {
	var out []option
	for _, c := range list {
		out = append(out, option{Value: string(c), Label: plain(string(c))})
	}
	return out
}

// mountedAt lists the places that hold a tire, with its number.
func (f *workForm) mountedAt() []option {
	var out []option
	for _, t := range f.view.Tires {
		out = append(out, option{Value: string(t.State.Position), Label: string(t.State.Position) + ", tire " + t.Tire.Number})
	}
	return out
}

func (f *workForm) empty() []models.Position {
	var out []models.Position
	for _, p := range f.view.Vehicle.Positions() {
		if !slices.ContainsFunc(f.view.Tires, func(t models.TireWithState) bool { return t.State.Position == p }) {
			out = append(out, p)
		}
	}
	return out
}
