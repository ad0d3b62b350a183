package form

import (
	"strings"

	"rimledger/models"
	"rimledger/models/units"
)

// Sizes reads masses with spaces between.
func (e *Entry) Sizes(name string, mass units.Unit) []models.Mass {
	var out []models.Mass
	for _, w := range Masses(e.Text(name)) {
		m, err := models.ParseMass(e.Units.Plain(w), mass)
		if err != nil {
			e.AddFault(name, Remedy(err))
			return nil
		}
		out = append(out, m)
	}
	return out
}

// Masses takes a list of masses apart: "5 g 10 g 0.25oz" and "5 10 15".
func Masses(text string) []string {
	var out []string
	for _, w := range SplitList(text) {
		if n := len(out); n > 0 && (w[0] < '0' || w[0] > '9') && w[0] != '.' {
			out[n-1] += " " + w
			continue
		}
		out = append(out, w)
	}
	return out
}

func SizesText(list []models.Mass, u units.Style) string {
	var out []string
	for _, m := range list {
		out = append(out, u.WriteAsTyped(m.Text))
	}
	return strings.Join(out, "; ")
}
