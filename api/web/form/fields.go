package form

import (
	"slices"

	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/units"
)

// Section is a group of fields.
type Section struct {
	Legend, Hint string
	Rows         string // class of the grid, where fields belong together in rows
	Fields       []Field
}

// Field is one field of a form.
type Field struct {
	Type    string // text, number, area, select, checks, tick
	Name    string
	Label   string
	Unit    string
	Help    string
	Options []Option
	Value   string
	Fault   *Fault
	Wide    bool
	Class   string // further class of its label
	First   bool   // has the focus when the page opens
}

type Option struct {
	Value, Label string
	Chosen       bool
}

// MetaSection asks what every event says.
func (f *Entry) MetaSection(v models.Vehicle, last models.Odometer) Section {
	var fields []Field
	if !v.NoOdometer {
		help := "leave empty if unknown"
		if last.Known {
			help += "; last " + f.Units.WriteTypedDistance(last.Value, last.Text)
		}
		fields = append(fields, f.TextField("odometer", "Odometer", string(f.Units.Distance), help))
	}
	return Section{Legend: "When and who", Fields: append(fields,
		Field{Type: "time", Name: "at", Label: "When, if not now", Value: f.Value("at"), Fault: f.Fault("at")},
		f.TextField("person", "Who, if not you", "", ""), f.AreaField("note", "Note", ""))}
}

func (f *Entry) TextField(name, label, unit, help string) Field {
	return Field{
		Type:  "text",
		Name:  name,
		Label: label,
		Unit:  unit,
		Help:  help,
		Value: f.Value(name),
		Fault: f.Fault(name),
	}
}

func (f *Entry) NumberField(name, label, unit string) Field {
	return Field{Type: "number", Name: name, Label: label, Unit: unit, Value: f.Value(name), Fault: f.Fault(name)}
}

func (f *Entry) AreaField(name, label, help string) Field {
	return Field{
		Type:  "area",
		Name:  name,
		Label: label,
		Help:  help,
		Value: f.Value(name),
		Fault: f.Fault(name),
		Wide:  true,
	}
}

func (f *Entry) TickField(name, label, help string) Field {
	x := Field{Type: "tick", Name: name, Label: label, Help: help, Fault: f.Fault(name)}
	if f.Ticked(name) {
		x.Value = "1"
	}
	return x
}

// SelectField offers options; the empty one comes first if none says otherwise.
func (f *Entry) SelectField(name, label, empty string, options []Option) Field {
	x := Field{Type: "select", Name: name, Label: label, Value: f.Value(name), Fault: f.Fault(name)}
	if empty != "" {
		x.Options = append(x.Options, Option{"", empty, x.Value == ""})
	}
	for _, o := range options {
		o.Chosen = o.Value == x.Value
		x.Options = append(x.Options, o)
	}
	return x
}

func (f *Entry) ChecksField(name, label string, options []Option) Field {
	x := Field{Type: "checks", Name: name, Label: label, Fault: f.Fault(name), Wide: true}
	for _, o := range options {
		o.Chosen = slices.Contains(f.Sent[name], o.Value)
		x.Options = append(x.Options, o)
	}
	return x
}

// CodeOptions returns an option for each code, with the code in plain words.
func CodeOptions[T ~string](list ...T) []Option {
	var out []Option
	for _, c := range list {
		out = append(out, Option{Value: string(c), Label: say.Plain(string(c))})
	}
	return out
}

func (f *Entry) TorqueField(v models.Vehicle) Field {
	x := f.NumberField("torque_nm", "Nuts tightened to", string(f.Units.Torque()))
	if t := v.TorqueNM; t > 0 {
		x.Help = "the record says " + f.Units.WriteTorque(units.Torque(t)) +
			" for this vehicle; check the maker's number"
	}
	return x
}
