package rest

import (
	"encoding/json"
	"errors"
	"math"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"rimledger/models"
	"rimledger/models/units"
)

// Quantities are text with a unit on the wire, as a person writes them, and
// come back as they were typed. They are read when the whole body is there, so
// that every bad one is named at once with its place.

// Depth is a tread depth.
type Depth struct{ d models.Depth }

// Length is any other length; what comes back is exact, in 32nds of an inch
// where that is whole, else in millimetres.
type Length struct {
	l    units.Length
	text string // as sent, until it is read
}

// Size is a small length that comes back as it was typed.
type Size struct{ s models.Size }

// stationPlace is a place around a tire that comes back as it was typed.
type stationPlace struct{ s models.Station }

// Pressure is a gauge pressure.
type Pressure struct{ p models.Pressure }

// Mass is a mass.
type Mass struct{ m models.Mass }

// Odometer is an odometer reading, or "unknown".
type Odometer struct{ o models.Odometer }

// gridDepth is a place of a depth grid: a depth, or null where it was not read.
type gridDepth struct{ d *models.Depth }

func quantity(description string, examples ...any) *huma.Schema {
	most := 40
	return &huma.Schema{Type: huma.TypeString, MaxLength: &most, Description: description, Examples: examples}
}

// refused says why the text at pb could not be read.
func refused(pb *huma.PathBuffer, text string, err error) []error {
	if err == nil {
		return nil
	}
	remedy := err.Error()
	var p *units.ParseError
	if errors.As(err, &p) {
		remedy = p.Reason
	}
	return []error{&huma.ErrorDetail{Location: pb.String(), Value: text, Message: remedy}}
}

func (*Depth) Schema(huma.Registry) *huma.Schema {
	return quantity("Tread depth with its unit.", "7/32", "5.5 mm")
}
func (d Depth) MarshalText() ([]byte, error)     { return []byte(d.d.Text), nil }
func (d *Depth) UnmarshalText(text []byte) error { d.d.Text = string(text); return nil }

// Resolve reads the text.
func (d *Depth) Resolve(_ huma.Context, pb *huma.PathBuffer) (errs []error) {
	text := d.d.Text
	v, err := models.ParseDepth(text, units.BareNone)
	d.d = v
	return refused(pb, text, err)
}

func (*gridDepth) Schema(r huma.Registry) *huma.Schema {
	s := (*Depth)(nil).Schema(r)
	s.Nullable = true
	return s
}

func (c gridDepth) MarshalJSON() ([]byte, error) {
	if c.d == nil {
		return []byte("null"), nil
	}
	return json.Marshal(c.d.Text)
}

func (c *gridDepth) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		return nil
	}
	c.d = new(models.Depth)
	return json.Unmarshal(b, &c.d.Text)
}

// Resolve reads the text.
func (c *gridDepth) Resolve(_ huma.Context, pb *huma.PathBuffer) []error {
	if c.d == nil {
		return nil
	}
	text := c.d.Text
	v, err := models.ParseDepth(text, units.BareNone)
	c.d = &v
	return refused(pb, text, err)
}

func (*Length) Schema(huma.Registry) *huma.Schema {
	return quantity("Length with its unit.", "4/32 in", "3.2 mm")
}
func (l Length) MarshalText() ([]byte, error) { return []byte(exactLength(l.l)), nil }

func (l *Length) UnmarshalText(text []byte) error { l.text = string(text); return nil }

// Resolve reads the text.
func (l *Length) Resolve(_ huma.Context, pb *huma.PathBuffer) []error {
	v, err := units.ParseLength(l.text, units.BareNone)
	text := l.text
	*l = Length{l: v}
	return refused(pb, text, err)
}

// exactLength writes l so that it reads back as exactly l.
func exactLength(l units.Length) string {
	if l != 0 && l%units.ThirtySecond == 0 {
		return strconv.FormatInt(int64(l/units.ThirtySecond), 10) + "/32 in"
	}
	return strconv.FormatFloat(l.Millimetres(), 'f', -1, 64) + " mm"
}

func (*Size) Schema(huma.Registry) *huma.Schema {
	return quantity("Small length with its unit.", "0.060 in", "2/32 in", "1.5 mm")
}
func (s Size) MarshalText() ([]byte, error)     { return []byte(s.s.Text), nil }
func (s *Size) UnmarshalText(text []byte) error { s.s.Text = string(text); return nil }

// Resolve reads the text.
func (s *Size) Resolve(_ huma.Context, pb *huma.PathBuffer) []error {
	text := s.s.Text
	v, err := models.ParseSize(text)
	s.s = v
	return refused(pb, text, err)
}

func (*stationPlace) Schema(huma.Registry) *huma.Schema {
	return quantity("Place around the tire, clockwise from the valve seen from outside: an angle, a clock with the "+
		"valve at 12, or a length by tape on the tread.", "20°", "4:30", "180 mm")
}
func (s stationPlace) MarshalText() ([]byte, error)     { return []byte(s.s.Text), nil }
func (s *stationPlace) UnmarshalText(text []byte) error { s.s.Text = string(text); return nil }

// Resolve reads the text.
func (s *stationPlace) Resolve(_ huma.Context, pb *huma.PathBuffer) []error {
	text := s.s.Text
	v, err := models.ParseStation(text)
	s.s = v
	return refused(pb, text, err)
}

func (*Pressure) Schema(huma.Registry) *huma.Schema {
	return quantity("Gauge pressure with its unit.", "105 psi", "7.2 bar", "720 kPa")
}
func (p Pressure) MarshalText() ([]byte, error)     { return []byte(p.p.Text), nil }
func (p *Pressure) UnmarshalText(text []byte) error { p.p.Text = string(text); return nil }

// Resolve reads the text.
func (p *Pressure) Resolve(_ huma.Context, pb *huma.PathBuffer) []error {
	text := p.p.Text
	v, err := models.ParsePressure(text, units.BareNone)
	p.p = v
	return refused(pb, text, err)
}

func (*Mass) Schema(huma.Registry) *huma.Schema {
	return quantity("Mass with its unit.", "50 g", "1.75 oz")
}
func (m Mass) MarshalText() ([]byte, error)     { return []byte(m.m.Text), nil }
func (m *Mass) UnmarshalText(text []byte) error { m.m.Text = string(text); return nil }

// Resolve reads the text.
func (m *Mass) Resolve(_ huma.Context, pb *huma.PathBuffer) []error {
	text := m.m.Text
	v, err := models.ParseMass(text, units.BareNone)
	m.m = v
	return refused(pb, text, err)
}

func (*Odometer) Schema(huma.Registry) *huma.Schema {
	return quantity("What the distance counter showed, with its unit, or unknown.", "12,340 mi", "19859 km", "unknown")
}

func (o Odometer) MarshalText() ([]byte, error) {
	if !o.o.Known && o.o.Text == "" {
		return []byte("unknown"), nil
	}
	return []byte(o.o.Text), nil
}
func (o *Odometer) UnmarshalText(text []byte) error { o.o.Text = string(text); return nil }

// Resolve reads the text.
func (o *Odometer) Resolve(_ huma.Context, pb *huma.PathBuffer) []error {
	text := strings.TrimSpace(o.o.Text)
	v, err := models.ParseOdometer(text, units.BareNone)
	o.o = v
	return refused(pb, text, err)
}

// kilometres returns a known odometer as a number.
func kilometres(o models.Odometer) *float64 {
	if !o.Known {
		return nil
	}
	km := o.Value.Kilometres()
	return &km
}

// wheelPosition is a wheel place, in any letter case.
type wheelPosition string

func (*wheelPosition) Schema(huma.Registry) *huma.Schema {
	return quantity(
		"Wheel place: axle from the front, L or R, and O or I on duals; SP1 is a spare.",
		"1L",
		"2RO",
		"SP1",
	)
}

// Resolve reads the text.
func (p *wheelPosition) Resolve(_ huma.Context, pb *huma.PathBuffer) []error {
	if *p == "" {
		return nil
	}
	v, err := models.ParsePosition(string(*p))
	if err != nil {
		return []error{&huma.ErrorDetail{Location: pb.String(), Value: string(*p),
			Message: "is not a position; write the axle from the front, L or R, and O or I on duals: 1L, 2RO, 2RI, " +
				"or SP1 for a spare"}}
	}
	*p = wheelPosition(v)
	return nil
}

// exactPressure writes p in the unit in which it is a whole number, kPa if
// there is none.
func exactPressure(p units.Pressure) string {
	if psi := math.Round(p.PSI()); units.Pressure(psi)*units.PSI == p && p != 0 {
		return strconv.FormatFloat(psi, 'f', 0, 64) + " psi"
	}
	return strconv.FormatFloat(float64(p), 'f', -1, 64) + " kPa"
}

// inMetric puts texts with marks (see units.Style.Render) into words with metric
// units and a decimal point, as the numbers beside them are.
func inMetric(texts []string) []string {
	out := make([]string, len(texts))
	for i, text := range texts {
		out[i] = units.Style{Set: units.Metric}.Render(text)
	}
	return out
}
