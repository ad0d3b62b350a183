package settings

import (
	"net/url"

	"rimledger/api/web/form"
	"rimledger/models"
	"rimledger/models/units"
)

// boxLists are the lists of a depot's box of weights, in the order of its form.
var boxLists = []struct {
	Name, Label, Path string
	Of                func(*models.Box) *[]models.Mass
}{
	{
		"box.light_clips",
		"Clips, light wheels",
		"box.light_clips",
		func(b *models.Box) *[]models.Mass { return &b.LightClips },
	},
	{
		"box.light_segments",
		"Adhesive segments, light wheels",
		"box.light_segments",
		func(b *models.Box) *[]models.Mass { return &b.LightSegments },
	},
	{
		"box.heavy_clips",
		"Clips, heavy wheels",
		"box.heavy_clips",
		func(b *models.Box) *[]models.Mass { return &b.HeavyClips },
	},
	{
		"box.heavy_segments",
		"Adhesive segments, heavy wheels",
		"box.heavy_segments",
		func(b *models.Box) *[]models.Mass { return &b.HeavySegments },
	},
}

func boxSection(f *form.Entry) form.Section {
	s := form.Section{
		Legend: "Box of balance weights",
		Hint: "The sizes that the shop has, with spaces or ; between, in the depot's unit or with their own: 5 g; " +
			"10 g; 0.25 oz. The bench proposes from them; empty: usual sizes. The bench can keep them too.",
	}
	for _, l := range boxLists {
		s.Fields = append(s.Fields, f.TextField(l.Name, l.Label, "", ""))
	}
	return s
}

func setBox(v url.Values, b models.Box, u units.Style) {
	for _, l := range boxLists {
		v.Set(l.Name, form.SizesText(*l.Of(&b), u))
	}
}

func readBox(e *form.Entry, mass units.Unit) models.Box {
	var b models.Box
	for _, l := range boxLists {
		*l.Of(&b) = e.Sizes(l.Name, mass)
		e.MapField(l.Path, l.Name)
	}
	return b
}
