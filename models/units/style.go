package units

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// Notation writes and reads numbers and dates as one country does. The words around
// them are English everywhere.
type Notation interface {
	// Tag is the language tag with the country, such as de-CH.
	Tag() string
	// Number writes a plain decimal numeral such as "-1234.5" with the country's
	// signs; grouped sets off the thousands.
	Number(plain string, grouped bool) string
	// Plain returns what a person typed with its numerals made plain. It keeps what
	// is no numeral of the country.
	Plain(typed string) string
	// Date writes a day with its year, Weekday one with the day of the week and
	// without a year, Time a time of day, each in the zone of t.
	Date(t time.Time) string
	Weekday(t time.Time) string
	Time(t time.Time) string
}

// Style is the units and the notation of one reader. Without a Notation it writes for
// machines: a decimal point, dates as in ISO 8601.
type Style struct {
	Set
	Notation Notation
}

// WriteDepth writes a length in the reader's unit of depth: see FormatLength.
func (s Style) WriteDepth(l Length) string { return s.WriteAsTyped(FormatLength(l, s.Depth)) }

// WriteTread writes depths across a tread, from outboard to inboard, with the unit once,
// such as "3.9 | 4.0 | 4.1 mm".
func (s Style) WriteTread(across []Length) string {
	words, unit := make([]string, len(across)), ""
	for i, l := range across {
		words[i], unit, _ = strings.Cut(s.WriteDepth(l), " ")
	}
	return strings.TrimSpace(strings.Join(words, " | ") + " " + unit)
}

// WriteLength writes a length in u, which need not be the reader's own.
func (s Style) WriteLength(l Length, u Unit) string { return s.WriteAsTyped(FormatLength(l, u)) }

// WriteSmall writes a run-out, a gap or a difference of diameters: in mm with at
// most two decimals. A reader of 32nds gets inches: with three decimals, or one from
// 1 in on, since a bulge is not measured to a thousandth.
func (s Style) WriteSmall(l Length) string {
	if s.Depth == In32 && l >= Inch {
		return s.WriteAsTyped(trimmed(l.Inches(), 1)) + " in"
	}
	if s.Depth == In32 {
		return s.WriteAsTyped(trimmed(l.Inches(), 3)) + " in"
	}
	return s.WriteAsTyped(trimmed(l.Millimetres(), 2)) + " mm"
}

// WriteEstimate writes an estimated depth in mm with one decimal; below zero it is zero.
func (s Style) WriteEstimate(mm float64) string {
	return s.WriteAsTyped(FormatEstimate(max(mm, 0), s.Depth))
}

// WriteDistance writes a distance in whole kilometres or miles.
func (s Style) WriteDistance(d Distance) string { return s.WriteAsTyped(FormatDistance(d, s.Distance)) }

// WriteAbout writes a distance that is only estimated, with three significant figures.
func (s Style) WriteAbout(d Distance) string {
	per, whole := Kilometre, math.Round(d.Kilometres())
	if s.Distance == Mi {
		per, whole = Mile, math.Round(d.Miles())
	}

	if step := math.Pow10(int(math.Log10(max(whole, 1))) - 2); step > 1 {
		whole = math.Round(whole/step) * step
	}
	return s.WriteDistance(Distance(whole) * per)
}

// WritePressure writes a pressure: see FormatPressure.
func (s Style) WritePressure(p Pressure) string { return s.WriteAsTyped(FormatPressure(p, s.Pressure)) }

// WriteMass writes a mass: see FormatMass.
func (s Style) WriteMass(m Mass) string { return s.WriteAsTyped(FormatMass(m, s.Mass)) }

// Torque is the unit in which the reader's torque wrench is read: with depths in
// 32nds of an inch pound-feet, else newton metres (common practice, no source).
func (s Style) Torque() Unit {
	if s.Depth == In32 {
		return LbFt
	}
	return NM
}

// WriteTorque writes a torque as wrenches show it: see FormatTorque.
func (s Style) WriteTorque(t Torque) string { return s.WriteAsTyped(FormatTorque(t, s.Torque())) }

// WriteSpeed writes a speed in km/h as whole km/h or mph.
func (s Style) WriteSpeed(kmh float64) string {
	if s.Distance == Mi {
		return s.WriteNumber(kmh/Mile.Kilometres(), 0) + " mph"
	}
	return s.WriteNumber(kmh, 0) + " km/h"
}

// WriteNumber writes f with so many decimals, thousands not set off.
func (s Style) WriteNumber(f float64, decimals int) string {
	return s.WriteAsTyped(strconv.FormatFloat(f, 'f', decimals, 64))
}

// WriteCount writes a whole number with its thousands set off.
func (s Style) WriteCount(n int64) string { return s.WriteAsTyped(Thousands(n)) }

// WriteDate writes the day of t in its zone, with the year.
func (s Style) WriteDate(t time.Time) string {
	if s.Notation == nil {
		return t.Format(time.DateOnly)
	}
	return s.Notation.Date(t)
}

// WriteWeekday writes the day of t in its zone with the day of the week, without
// the year.
func (s Style) WriteWeekday(t time.Time) string {
	if s.Notation == nil {
		return t.Format("Mon 2006-01-02")
	}
	return s.Notation.Weekday(t)
}

// WriteMoment writes the day and the time of day of t in its zone.
func (s Style) WriteMoment(t time.Time) string {
	if s.Notation == nil {
		return t.Format("2006-01-02 15:04")
	}
	return s.Notation.Date(t) + ", " + s.Notation.Time(t)
}

// WriteTime writes the time of day of t in its zone.
func (s Style) WriteTime(t time.Time) string {
	if s.Notation == nil {
		return t.Format("15:04")
	}
	return s.Notation.Time(t)
}

// Plain returns what the reader typed in the form that the parsers of this package
// read.
func (s Style) Plain(typed string) string {
	if s.Notation == nil {
		return typed
	}
	return s.Notation.Plain(typed)
}

// WriteTypedDepth writes a depth that someone, or a law, wrote as text. Text in the
// reader's unit is written as it is; other text follows the depth in the reader's unit,
// in parentheses.
func (s Style) WriteTypedDepth(l Length, text string) string {
	if strings.HasSuffix(text, "/32") {
		text += " in"
	}

	same := In32Typed(text)
	if s.Depth != In32 {
		same = endsIn(text, s.Depth)
	}
	return s.withTyped(s.WriteDepth(l), text, same)
}

// WriteTypedPressure writes a pressure as WriteTypedDepth does a depth.
func (s Style) WriteTypedPressure(p Pressure, text string) string {
	return s.withTyped(s.WritePressure(p), text, endsIn(text, s.Pressure))
}

// WriteTypedDistance writes a distance as WriteTypedDepth does a depth; in the
// reader's own unit its thousands are set off.
func (s Style) WriteTypedDistance(d Distance, text string) string {
	own := s.WriteDistance(d)
	if endsIn(text, s.Distance) {
		return own
	}
	return s.withTyped(own, text, false)
}

// WriteTypedMass writes a mass as WriteTypedDepth does a depth.
func (s Style) WriteTypedMass(m Mass, text string) string {
	return s.withTyped(s.WriteMass(m), text, endsIn(text, s.Mass))
}

func endsIn(text string, u Unit) bool {
	return strings.HasSuffix(strings.ToLower(text), strings.ToLower(string(u)))
}

// withTyped returns own with the typed text behind it, or only one of them if typed is
// empty or already in the reader's unit.
func (s Style) withTyped(own, typed string, same bool) string {
	switch {
	case typed == "":
		return own
	case same:
		return s.WriteAsTyped(typed)
	}
	return own + " (" + s.WriteAsTyped(typed) + ")"
}

// WriteAsTyped writes a plain quantity, such as "5.5 mm", with its numeral in the
// reader's notation and otherwise as it is.
func (s Style) WriteAsTyped(quantity string) string {
	if s.Notation == nil {
		return quantity
	}

	end := 0
	for end < len(quantity) && strings.IndexByte("-0123456789.,", quantity[end]) >= 0 {
		end++
	}

	numeral := quantity[:end]
	return s.Notation.Number(strings.ReplaceAll(numeral, ",", ""), strings.Contains(numeral, ",")) + quantity[end:]
}
