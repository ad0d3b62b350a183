package bench

import (
	"fmt"
	"slices"
	"strings"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/balance"
)

// shownPair are the two of models.WeightPlaces that the machine shows, which the form
// and the record call outer and inner.
type shownPair struct{ outer, inner string }

// pairOf returns the pair that a value of models.BalancePlanes names.
func pairOf(planes string) shownPair {
	outer, inner := models.PairOf(planes)
	return shownPair{outer, inner}
}

// place returns the place of a wheel that a plane of the form is.
func (p shownPair) place(plane string) string {
	switch plane {
	case "outer", "single":
		return p.outer
	case "inner":
		return p.inner
	}

	return plane
}

// plane returns what the form calls a place of a wheel.
func (p shownPair) plane(place string) string {
	switch place {
	case p.outer:
		return "outer"
	case p.inner:
		return "inner"
	}

	return place
}

// kind returns how weights are attached in a plane of the form.
func (p shownPair) kind(plane string) balance.Kind {
	if strings.HasSuffix(p.place(plane), "band") {
		return balance.Adhesive
	}
	return balance.Clip
}

// allowed lists the planes of the form that weights may go into: at the places that
// are ticked, or else those of the mode.
func (p shownPair) allowed(mode string, ticked []string) []string {
	var out []string
	for _, place := range models.WeightPlaces {
		if slices.Contains(ticked, place) {
			out = append(out, p.plane(place))
		}
	}

	switch {
	case len(out) > 0:
		return out
	case mode == "hidden": // behind the spokes instead of in sight
		return []string{p.plane("band"), "inner"}
	}

	return []string{"outer", "inner"}
}

// circles returns where the two planes lie on a wheel.
func (p shownPair) circles(g models.WheelGeometry) balance.Planes {
	return balance.Planes{Outer: circleAt(g, p.outer), Inner: circleAt(g, p.inner)}
}

// circleAt returns where a place of a wheel lies.
func circleAt(g models.WheelGeometry, place string) balance.Plane {
	radius, depth := g.At(place)
	return balance.Plane{RadiusMM: radius.Millimetres(), OffsetMM: -depth.Millimetres()}
}

// pair is the pair of planes that the form says the machine shows.
func (f *benchForm) pair() shownPair { return pairOf(f.Text("planes")) }

// allowed lists the planes of the form that weights may go into.
func (f *benchForm) allowed() []string { return f.pair().allowed(f.Text("mode"), f.Sent["places"]) }

// measureFields are the fields for radius and depth of a place; the outer flange's
// depth is zero by definition.
var measureFields = map[string][2]string{
	"outer_flange": {"geometry.outer_radius", ""},
	"band":         {"geometry.adhesive_radius", "geometry.adhesive_offset"},
	"back_band": {
		"geometry.back_radius",
		"geometry.back_offset",
	},
	"inner_flange": {"geometry.inner_radius", "geometry.inner_offset"},
}

// fieldsOf names the form's fields for the radius of both planes shown and the depth
// of the inner one.
func (f *benchForm) fieldsOf() (outer, inner, depth string) {
	in := measureFields[f.pair().place("inner")]
	return measureFields[f.pair().place("outer")][0], in[0], in[1]
}

// place is where weights may go in a plane of the form, with what is blocked there.
func (f *benchForm) place(g models.WheelGeometry, plane string) balance.Place {
	at := f.pair().place(plane)
	p := balance.Place{Name: plane, Plane: circleAt(g, at), Kind: f.pair().kind(plane)}
	for _, a := range g.Blocked {
		if a.At == "" || a.At == at {
			p.Blocked = append(p.Blocked, balance.Arc{FromDeg: a.From, ToDeg: a.To})
		}
	}

	if f.Text("mode") == "hidden" && at == "band" {
		for i, s := range g.Spokes {
			name := fmt.Sprintf("spoke %d", i+1)
			p.Spots = append(p.Spots, balance.Spot{Name: name, Deg: s, WidthMM: g.SpokeWidth.Millimetres()})
		}
	}

	return p
}

// places lists where weights may go. What is not measured of them is a fault beside
// its field.
func (f *benchForm) places() []balance.Place {
	g, flat := f.geometry(), f.static()

	var out []balance.Place
	for _, plane := range f.allowed() {
		p := f.place(g, plane)
		at := f.pair().place(plane)

		measured := measureFields[at]
		if p.Plane.RadiusMM == 0 {
			f.AddFault(
				measured[0],
				"zero: weights may go on the "+say.PlaceName(
					at,
				)+"; measure from the axle's center to the middle of the weight",
			)
		}

		if p.Plane.OffsetMM == 0 && measured[1] != "" && !flat && plane == at {
			f.AddFault(
				measured[1],
				"zero: weights may go on the "+say.PlaceName(
					at,
				)+"; measure how far inward it lies from the outer flange",
			)
		}

		out = append(out, p)
	}

	// Weights hide only behind spokes, and only on the band.
	if f.Text("mode") == "hidden" {
		switch i := slices.IndexFunc(out, func(p balance.Place) bool { return f.pair().place(p.Name) == "band" }); {
		case i < 0:
			f.AddFault("places", "weights hide on the adhesive band: tick it, or do not hide the weights")
		case len(out[i].Spots) == 0:
			f.AddFault("geometry.spokes", "no place allowed: write where the spokes are, or do not hide the weights")
		}
	}

	return out
}

// static reports whether one plane is balanced.
func (f *benchForm) static() bool { return isStatic(f.Text("mode")) }

// isStatic reports whether a mode of the form balances one plane.
func isStatic(mode string) bool { return mode == "single_plane" || mode == "on_vehicle" }

// withOwn is p with the places of the technician's own weights, wherever they are.
func (f *benchForm) withOwn(p balance.Problem, own []balance.Piece) balance.Problem {
	g := f.geometry()
	p.Places = slices.Clone(p.Places)
	for _, w := range own {
		if !slices.ContainsFunc(p.Places, func(q balance.Place) bool { return q.Name == w.Place }) {
			p.Places = append(p.Places, f.place(g, w.Place))
		}
	}
	return p
}

// placeOptions are the planes that a weight may be in: those shown, and the other
// places of a wheel.
func (f *benchForm) placeOptions() []form.Option {
	out := []form.Option{
		{Value: "outer", Label: say.PlaceName("outer")},
		{Value: "inner", Label: say.PlaceName("inner")},
	}
	for _, place := range models.WeightPlaces {
		if f.pair().plane(place) == place {
			out = append(out, form.Option{Value: place, Label: say.PlaceName(place)})
		}
	}
	return out
}

// placesField asks where weights may go.
func (f *benchForm) placesField() form.Field {
	var all []form.Option
	for _, p := range models.WeightPlaces {
		all = append(all, form.Option{Value: p, Label: say.PlaceName(p)})
	}
	x := f.ChecksField("places", "Weights may go on", all)
	x.Help = "none ticked: where the machine shows"
	return x
}

// placesNow says where weights may go, if not where the machine shows.
func (f *benchForm) placesNow() string {
	var names []string
	for _, plane := range f.allowed() {
		names = append(names, say.PlaceName(f.pair().place(plane)))
	}
	if pair := f.pair(); strings.Join(names, ", ") == say.PlaceName(pair.outer)+", "+say.PlaceName(pair.inner) {
		return ""
	}
	return "weights on " + strings.Join(names, ", ")
}
