package web

import (
	"net/url"
	"strings"

	"rimledger/models"
	"rimledger/models/units"
)

// boxLists are the lists of a depot's box of weights, as they stand on its form.
var boxLists = []struct {
	Name, Label, Path string
	Of                func(*models.Box) *[]models.Mass
}{
	{"box.light_clips", "Clips, light wheels", "box.light_clips", func(b *models.Box) *[]models.Mass { return &b.LightClips }},
	{"box.light_segments", "Adhesive segments, light wheels", "box.light_segments", func(b *models.Box) *[]models.Mass { return &b.LightSegments }},
	{"box.heavy_clips", "Clips, heavy wheels", "box.heavy_clips", func(b *models.Box) *[]models.Mass { return &b.HeavyClips }},
	{"box.heavy_segments", "Adhesive segments, heavy wheels", "box.heavy_segments", func(b *models.Box) *[]models.Mass { return &b.HeavySegments }},
}

func boxSection(f *entry) section {
	s := section{Legend: "Box of balance weights", Hint: "The sizes that the shop has, with spaces or ; between, in the depot's unit or with their own: 5 g; 10 g; 0.25 oz. The bench proposes from them; empty: usual sizes. The bench can keep them too."}
	for _, l := range boxLists {
		s.Fields = append(s.Fields, f.textField(l.Name, l.Label, "", ""))
	}
	return s
}

func setBox(v url.Values, b models.Box, u units.Style) {
	for _, l := range boxLists {
		v.Set(l.Name, sizesText(*l.Of(&b), u))
	}
}

func boxOf(e *entry, mass units.Unit) models.Box {
	var b models.Box
	for _, l := range boxLists {
		*l.Of(&b) = e.sizes(l.Name, mass)
		e.as(l.Path, l.Name)
	}
	return b
}

// sizes reads masses with spaces between.
func (e *entry) sizes(name string, mass units.Unit) []models.Mass {
	var out []models.Mass
	for _, w := range masses(e.text(name)) {
		m, err := models.ParseMass(e.units.Plain(w), mass)
		if err != nil {
			e.fault(name, remedy(err))
			return nil
		}
		out = append(out, m)
	}
	return out
}

// masses takes a list of masses apart: "5 g 10 g 0.25oz" and "5 10 15".
func masses(text string) []string {
	var out []string
	for _, w := range list(text) {
		if n := len(out); n > 0 && (w[0] < '0' || w[0] > '9') && w[0] != '.' {
			out[n-1] += " " + w
			continue
		}
		out = append(out, w)
	}
	return out
}

func sizesText(list []models.Mass, u units.Style) string {
	var out []string
	for _, m := range list {
		out = append(out, u.WriteAsTyped(m.Text))
	}
	return strings.Join(out, "; ")
}
