package form

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

// as many: each name is its own field in the form.
func (e *Entry) MapFields(names ...string) {
	for _, n := range names {
		e.MapField(n, n)
	}
}

// TickValue is the value of a tick box: "1" for true, empty for false.
func TickValue(b bool) string {
	if b {
		return "1"
	}
	return ""
}

// PositiveText writes a number, and nothing for zero, which means not known.
func PositiveText(n float64, u units.Style) string {
	if n == 0 {
		return ""
	}
	return u.WriteAsTyped(strconv.FormatFloat(n, 'f', -1, 64))
}

func MoneyText(cents int64, u units.Style) string {
	if cents == 0 {
		return ""
	}
	return u.WriteNumber(float64(cents)/100, 2)
}

// Parts splits a list typed with semicolons, or with commas where these part no
// decimals.
func (e *Entry) Parts(name string) []string {
	text := e.Text(name)
	if e.Units.Plain("1,5") == "1.5" {
		text = strings.ReplaceAll(text, ", ", "; ")
	} else {
		text = strings.ReplaceAll(text, ",", ";")
	}

	var out []string
	for p := range strings.SplitSeq(text, ";") {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}

	return out
}

// Entry is a form as it was sent: what was typed, and what is wrong with it.
// Nothing that was typed is ever dropped on a refusal.
type Entry struct {
	Sent   url.Values
	Units  units.Style       // of who types
	faults map[string]string // by the name of the field in the form
	alias  map[string]string // path in the use-case's answer -> field in the form
	Other  []models.Field    // faults that belong beside no field
	Held   []models.Field    // values to confirm
	AtOnce bool              // what takes a tire off the road is recorded without them
	Msg    string            // what was wrong as a whole
}

// NoUnits is for forms without quantities.
var NoUnits units.Style

func NewEntry(sent url.Values, u units.Style) *Entry {
	return &Entry{Sent: sent, Units: u, faults: map[string]string{}, alias: map[string]string{}}
}

func (e *Entry) Text(name string) string { return strings.TrimSpace(e.Sent.Get(name)) }

func (e *Entry) Ticked(name string) bool { return e.Sent.Get(name) != "" }

// AddFault notes what is wrong with a field of the form.
func (e *Entry) AddFault(name, what string) {
	if e.faults[name] == "" {
		e.faults[name] = what
	}
}

// Fault is what is wrong with a field of a form. The page shows it beside the
// field, which names it as its description.
type Fault struct{ Name, Text string }

// Fault returns what is wrong with a field of the form, or nil.
func (e *Entry) Fault(name string) *Fault {
	if e.faults[name] == "" {
		return nil
	}
	return &Fault{name, e.faults[name]}
}

// OK reports whether everything could be read.
func (e *Entry) OK() bool { return len(e.faults) == 0 }

// MapField says that the use-case's path is shown at the form's field.
func (e *Entry) MapField(path, name string) { e.alias[path] = name }

// Remedy returns the part of a parse error that says what would be right.
func Remedy(err error) string {
	var p *units.ParseError
	if errors.As(err, &p) {
		return strconv.Quote(p.Text) + ": " + p.Reason
	}
	return err.Error()
}

func (e *Entry) Depth(name string) *models.Depth {
	t := e.Text(name)
	if t == "" {
		return nil
	}
	d, err := models.ParseDepth(e.Units.Plain(t), e.Units.Depth)
	if err != nil {
		e.AddFault(name, Remedy(err))
		return nil
	}
	return &d
}

func (e *Entry) Pressure(name string) *models.Pressure {
	t := e.Text(name)
	if t == "" {
		return nil
	}
	p, err := models.ParsePressure(e.Units.Plain(t), e.Units.Pressure)
	if err != nil {
		e.AddFault(name, Remedy(err))
		return nil
	}
	return &p
}

func (e *Entry) Mass(name string) (models.Mass, bool) {
	t := e.Text(name)
	if t == "" {
		return models.Mass{}, false
	}
	m, err := models.ParseMass(e.Units.Plain(t), e.Units.Mass)
	if err != nil {
		e.AddFault(name, Remedy(err))
		return models.Mass{}, false
	}
	return m, true
}

func (e *Entry) odometer(name string) models.Odometer {
	if e.Ticked(name + "_unknown") {
		return models.Odometer{}
	}
	o, err := models.ParseOdometer(e.Units.Plain(e.Text(name)), e.Units.Distance)
	if err != nil {
		e.AddFault(name, Remedy(err))
	}
	o.Estimated = o.Known && e.Ticked(name+"_estimated")
	return o
}

func (e *Entry) Number(name, unit string) float64 {
	t := e.Text(name)
	if t == "" {
		return 0
	}
	n, err := strconv.ParseFloat(e.Units.Plain(t), 64)
	if err != nil || n != n || n < 0 || n > 1e9 {
		e.AddFault(name, strconv.Quote(t)+": write a number in "+unit+", 0 or more")
		return 0
	}
	return n
}

func (e *Entry) Whole(name, of string) int {
	t := e.Text(name)
	if t == "" {
		return 0
	}
	n, err := strconv.Atoi(e.Units.Plain(t))
	if err != nil || n < 0 {
		e.AddFault(name, strconv.Quote(t)+": write a whole number of "+of+", 0 or more")
		return 0
	}
	return n
}

// Torque reads the torque of wheel nuts to the nearest tenth of a newton metre,
// closer than any wrench.
func (e *Entry) Torque() float64 {
	const name = "torque_nm"
	e.MapField(name, name)
	t := e.Text(name)
	if t == "" {
		return 0
	}
	v, err := units.ParseTorque(e.Units.Plain(t), e.Units.Torque())
	if err != nil {
		e.AddFault(name, Remedy(err))
		return 0
	}
	return math.Round(float64(v)*10) / 10
}

// TorqueText writes a torque so that torque reads the same again.
func TorqueText(nm float64, u units.Style) string {
	if nm == 0 {
		return ""
	}
	value := nm
	if u.Torque() == units.LbFt {
		if value = math.Round(units.Torque(nm).PoundFeet()); math.Round(value*float64(units.PoundFoot)*10)/10 != nm {
			value = math.Round(units.Torque(nm).PoundFeet()*100) / 100
		}
	}
	return PositiveText(value, u)
}

// Cents reads an amount of money.
func (e *Entry) Cents(name string) int64 {
	n := e.Number(name, "money, such as 125.50")
	return int64(n*100 + 0.5)
}

// localTime is how a browser writes a moment without a zone.
const localTime = "2006-01-02T15:04"

// eventTime returns when it happened: as written by hand, or when the form was made.
func (e *Entry) eventTime(z *time.Location) time.Time {
	if t := e.Text("at"); t != "" {
		at, err := time.ParseInLocation(localTime, t, z)
		if err != nil {
			e.AddFault("at", strconv.Quote(t)+": write the day and the time, such as 2026-11-25T14:30")
		}
		return at
	}
	at, err := time.Parse(time.RFC3339Nano, e.Text("made"))
	if err != nil {
		e.AddFault("at", "write when it was done")
	}
	return at
}

// Meta reads what every form about an event sends.
func (e *Entry) Meta(v models.VehicleID, z *time.Location) models.Meta {
	e.MapField("id", "at")
	return models.Meta{
		ID: models.EventID(e.Text("id")), VehicleID: v, At: e.eventTime(z), Odometer: e.odometer("odometer"),
		Person: e.Text("person"), Note: e.Text("note"), Confirmed: e.Sent["confirm"],
	}
}

// Fresh starts a form: its id makes a double submit one record.
func Fresh(now time.Time) url.Values {
	return url.Values{"id": {NewEventID()}, "made": {now.UTC().Format(time.RFC3339Nano)}}
}

func NewEventID() string { return uuid.Must(uuid.NewV7()).String() }

// ApplyError puts each fault of a refusal beside its field. It returns false if err
// does not refuse what was typed.
func (e *Entry) ApplyError(err error) bool {
	var m *models.Error
	if !errors.As(err, &m) {
		return false
	}

	switch m.Kind {
	case models.Held:
		e.Held, e.AtOnce = m.Fields, m.Recorded != ""
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
		if name, ok := e.fieldOf(f.Name); ok {
			e.AddFault(name, f.Remedy)
		} else if m.Kind != models.Held {
			e.Other = append(e.Other, f)
		}
	}

	return true
}

// Problem is one thing that is wrong, with the field beside which it is shown.
type Problem struct{ Field, Text string }

// Problems lists what is wrong, by the names of the fields.
func (e *Entry) Problems() []Problem {
	var out []Problem
	for _, name := range slices.Sorted(maps.Keys(e.faults)) {
		out = append(out, Problem{name, e.faults[name]})
	}
	return out
}

// fieldOf finds the form's field for a path of the use-case: the path itself, or
// the longest beginning of it that was given a place.
func (e *Entry) fieldOf(path string) (string, bool) {
	best, name := -1, ""
	for p, n := range e.alias {
		if strings.HasPrefix(path, p) && len(p) > best {
			best, name = len(p), n
		}
	}
	if best >= 0 {
		return name, true
	}
	_, sent := e.Sent[path]
	return path, sent
}

// Confirmed reports whether a held value was ticked already.
func (e *Entry) Confirmed(code string) bool { return slices.Contains(e.Sent["confirm"], code) }

// Value returns what was typed into a field.
func (e *Entry) Value(name string) string { return e.Sent.Get(name) }

// Version reads which version an edit started from.
func (e *Entry) Version() int64 {
	n, err := strconv.ParseInt(e.Text("version"), 10, 64)
	if err != nil {
		return 0
	}
	return n
}

// ShowConflict shows, beside what was typed, what someone else saved in the
// meantime; sending again saves over it knowingly.
func (e *Entry) ShowConflict(saved url.Values) {
	e.Msg = "Someone else saved this in the meantime. Each field that differs shows beside it what is saved now; " +
		"yours is still in the field. Save again to put yours in its place"
	for name, v := range saved {
		if name != "version" && strings.TrimSpace(v[0]) != e.Text(name) {
			text := v[0]
			if text == "" {
				text = "nothing"
			}
			e.AddFault(name, "saved meanwhile: "+text)
		}
	}
	e.Sent.Set("version", saved.Get("version"))
}
