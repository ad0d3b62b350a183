package models

import (
	"unicode"
	"unicode/utf8"

	"rimledger/models/units"
)

// Typed is a quantity together with the words it was given in, so that a page
// can show what the inspector wrote.
type Typed[T any] struct {
	Value T
	Text  string // such as "7/32" or "5.5 mm"
}

// The quantities that are kept as typed.
type (
	Depth    = Typed[units.Length]
	Pressure = Typed[units.Pressure]
	Mass     = Typed[units.Mass]
)

// ParseDepth reads a tread depth and keeps the text.
func ParseDepth(text string, bare units.Unit) (Depth, error) {
	v, err := units.ParseDepth(text, bare)
	return Depth{v, withUnit(text, bare)}, err
}

// ParsePressure reads a gauge pressure and keeps the text.
func ParsePressure(text string, bare units.Unit) (Pressure, error) {
	v, err := units.ParsePressure(text, bare)
	return Pressure{v, withUnit(text, bare)}, err
}

// ParseMass reads a mass and keeps the text.
func ParseMass(text string, bare units.Unit) (Mass, error) {
	v, err := units.ParseMass(text, bare)
	return Mass{v, withUnit(text, bare)}, err
}

// withUnit adds the unit to a bare number, since kept text must say its unit.
func withUnit(text string, bare units.Unit) string {
	if bare == units.BareNone || text == "" {
		return text
	}
	if last, _ := utf8.DecodeLastRuneInString(text); !unicode.IsDigit(last) && !unicode.Is(unicode.No, last) {
		return text // fractions such as ¼ are numbers too
	}
	if len(text) > 3 && text[len(text)-3:] == "/32" {
		return text
	}

	if bare == units.In32 {
		return text + "/32"
	}
	return text + " " + string(bare)
}

// Odometer is what the vehicle's distance counter showed, which may be unknown.
type Odometer struct {
	Known     bool
	Value     units.Distance
	Text      string // as typed
	Estimated bool   // not read but judged by the inspector
}

// ParseOdometer reads an odometer: a distance, or "unknown" or nothing.
func ParseOdometer(text string, bare units.Unit) (Odometer, error) {
	if text == "" || text == "unknown" {
		return Odometer{}, nil
	}
	v, err := units.ParseDistance(text, bare)
	if err != nil {
		return Odometer{}, err
	}
	return Odometer{Known: true, Value: v, Text: withUnit(text, bare)}, nil
}
