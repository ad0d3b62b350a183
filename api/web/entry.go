package web

import (
	"errors"
	"maps"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/units"
)

// entry is a form as it was sent: what was typed, and what is wrong with it.
// Nothing that was typed is ever dropped on a refusal.
type entry struct {
	sent   url.Values
	units  units.Style       // of who types
	errors map[string]string // by the name of the field in the form
	alias  map[string]string // path in the use-case's answer -> field in the form
	Other  []models.Field    // faults that belong beside no field
	Held   []models.Field    // values to confirm
	Msg    string            // what was wrong as a whole
}

// noUnits is for forms that hold no quantity.
var noUnits units.Style

func newEntry(sent url.Values, u units.Style) *entry {
	return &entry{sent: sent, units: u, errors: map[string]string{}, alias: map[string]string{}}
}

func (e *entry) text(name string) string { return strings.TrimSpace(e.sent.Get(name)) }

func (e *entry) ticked(name string) bool { return e.sent.Get(name) != "" }

// fault notes what is wrong with a field of the form.
func (e *entry) fault(name, what string) {
	if e.errors[name] == "" {
		e.errors[name] = what
	}
}

// fault is what is wrong with a field of a form; it stands beside the field,
// which names it as its description.
type fault struct{ Name, Text string }

// Fault returns what is wrong with a field of the form, or nil.
func (e *entry) Fault(name string) *fault {
	if e.errors[name] == "" {
		return nil
	}
	return &fault{name, e.errors[name]}
}

// ok reports whether everything could be read.
func (e *entry) ok() bool { return len(e.errors) == 0 }

// as says that the use-case's path is shown at the form's field.
func (e *entry) as(path, name string) { e.alias[path] = name }

// remedy returns the part of a parse error that says what would be right.
func remedy(err error) string {
	var p *units.ParseError
	if errors.As(err, &p) {
		return strconv.Quote(p.Text) + ": " + p.Reason
	}
	return err.Error()
}

func (e *entry) depth(name string) *models.Depth {
	t := e.text(name)
	if t == "" {
		return nil
	}
	d, err := models.ParseDepth(e.units.Plain(t), e.units.Depth)
	if err != nil {
		e.fault(name, remedy(err))
		return nil
	}
	return &d
}

func (e *entry) pressure(name string) *models.Pressure {
	t := e.text(name)
	if t == "" {
		return nil
	}
	p, err := models.ParsePressure(e.units.Plain(t), e.units.Pressure)
	if err != nil {
		e.fault(name, remedy(err))
		return nil
	}
	return &p
}

func (e *entry) mass(name string) (models.Mass, bool) {
	t := e.text(name)
	if t == "" {
		return models.Mass{}, false
	}
	m, err := models.ParseMass(e.units.Plain(t), e.units.Mass)
	if err != nil {
		e.fault(name, remedy(err))
		return models.Mass{}, false
	}
	return m, true
}

func (e *entry) odometer(name string) models.Odometer {
	if e.ticked(name + "_unknown") {
		return models.Odometer{}
	}
	o, err := models.ParseOdometer(e.units.Plain(e.text(name)), e.units.Distance)
	if err != nil {
		e.fault(name, remedy(err))
	}
	o.Estimated = o.Known && e.ticked(name+"_estimated")
	return o
}

func (e *entry) number(name, unit string) float64 {
	t := e.text(name)
	if t == "" {
		return 0
	}
	n, err := strconv.ParseFloat(e.units.Plain(t), 64)
	if err != nil || n != n || n < 0 || n > 1e9 {
		e.fault(name, strconv.Quote(t)+": write a number in "+unit+", 0 or more")
		return 0
	}
	return n
}

func (e *entry) whole(name, of string) int {
	t := e.text(name)
	if t == "" {
		return 0
	}
	n, err := strconv.Atoi(e.units.Plain(t))
	if err != nil || n < 0 {
		e.fault(name, strconv.Quote(t)+": write a whole number of "+of+", 0 or more")
		return 0
	}
	return n
}

// torque reads the torque of wheel nuts to the nearest tenth of a newton metre,
// closer than any wrench.
func (e *entry) torque() float64 {
	const name = "torque_nm"
	e.as(name, name)
	t := e.text(name)
	if t == "" {
		return 0
	}
	v, err := units.ParseTorque(e.units.Plain(t), e.units.Torque())
	if err != nil {
		e.fault(name, remedy(err))
		return 0
	}
	return math.Round(float64(v)*10) / 10
}

// torqueValue writes a torque so that torque reads the same again.
func torqueValue(nm float64, u units.Style) string {
	if nm == 0 {
		return ""
	}
	value := nm
	if u.Torque() == units.LbFt {
		if value = math.Round(units.Torque(nm).PoundFeet()); math.Round(value*float64(units.PoundFoot)*10)/10 != nm {
			value = math.Round(units.Torque(nm).PoundFeet()*100) / 100
		}
	}
	return positive(value, u)
}

// cents reads an amount of money.
func (e *entry) cents(name string) int64 {
	n := e.number(name, "money, such as 125.50")
	return int64(n*100 + 0.5)
}

// localTime is how a browser writes a moment without a zone.
const localTime = "2006-01-02T15:04"

// when returns when it happened: as written by hand, or when the form was made.
func (e *entry) when(z *time.Location) time.Time {
	if t := e.text("at"); t != "" {
		at, err := time.ParseInLocation(localTime, t, z)
		if err != nil {
			e.fault("at", strconv.Quote(t)+": write the day and the time, such as 2026-11-25T14:30")
		}
		return at
	}
	at, err := time.Parse(time.RFC3339Nano, e.text("made"))
	if err != nil {
		e.fault("at", "write when it was done")
	}
	return at
}

// meta reads what every form about an event sends.
func (e *entry) meta(v models.VehicleID, z *time.Location) models.Meta {
	e.as("id", "at")
	return models.Meta{
		ID: models.EventID(e.text("id")), VehicleID: v, At: e.when(z), Odometer: e.odometer("odometer"),
		Person: e.text("person"), Note: e.text("note"), Confirmed: e.sent["confirm"],
	}
}

// fresh starts a form: its id makes a double submit one record.
func fresh(now time.Time) url.Values {
	return url.Values{"id": {newEventID()}, "made": {now.UTC().Format(time.RFC3339Nano)}}
}

func newEventID() string { return uuid.Must(uuid.NewV7()).String() }

// take puts the faults of a refusal beside the fields they speak of. It reports
// false if err is no refusal of what was typed.
func (e *entry) take(err error) bool {
	var m *models.Error
	if !errors.As(err, &m) {
		return false
	}
	switch m.Kind {
	case models.Held:
		e.Held = m.Fields
	case models.Invalid, models.Conflict, models.Stale:
	case models.NotFound:
		if len(m.Fields) == 0 { // the page itself is about what is not there
			return false
		}
	default:
		return false
	}
	e.Msg = m.Msg
	for _, f := range m.Fields {
		if name, ok := e.field(f.Name); ok {
			e.fault(name, f.Remedy)
		} else if m.Kind != models.Held {
			e.Other = append(e.Other, f)
		}
	}
	return true
}

// Problem is one thing that is wrong, with the field that it stands beside.
type Problem struct{ Field, Text string }

// Problems lists what is wrong, by the names of the fields.
func (e *entry) Problems() []Problem {
	var out []Problem
	for _, name := range slices.Sorted(maps.Keys(e.errors)) {
		out = append(out, Problem{name, e.errors[name]})
	}
	return out
}

// field finds the form's field for a path of the use-case: the path itself, or
// the longest beginning of it that was given a place.
func (e *entry) field(path string) (string, bool) {
	best, name := -1, ""
	for p, n := range e.alias {
		if strings.HasPrefix(path, p) && len(p) > best {
			best, name = len(p), n
		}
	}
	if best >= 0 {
		return name, true
	}
	_, sent := e.sent[path]
	return path, sent
}

// Confirmed reports whether a held value was ticked already.
func (e *entry) Confirmed(code string) bool { return slices.Contains(e.sent["confirm"], code) }
