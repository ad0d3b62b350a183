package form

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"rimledger/api/web/say"
	"rimledger/models"
)

// Blocked reads where nothing fits: everywhere, and at each place for weights alone.
func (e *Entry) Blocked(name string) []models.Arc {
	out := e.arcs(name, "")
	for _, place := range models.WeightPlaces {
		out = append(out, e.arcs(name+"."+place, place)...)
	}
	return out
}

// SetBlocked writes them into the fields that blocked reads.
func SetBlocked(sent url.Values, name string, all []models.Arc) {
	sent.Set(name, arcsText(all, ""))
	for _, place := range models.WeightPlaces {
		sent.Set(name+"."+place, arcsText(all, place))
	}
}

// arcs reads stretches of the circle at a place: 350-10 170-190.
func (e *Entry) arcs(name, place string) []models.Arc {
	var out []models.Arc
	for _, w := range SplitList(e.Text(name)) {
		from, to, ok := strings.Cut(w, "-")
		a, errA := strconv.ParseFloat(from, 64)
		b, errB := strconv.ParseFloat(to, 64)
		if !ok || errA != nil || errB != nil {
			e.AddFault(name, strconv.Quote(w)+": write from-to, clockwise, such as 350-10")
			return nil
		}
		out = append(out, models.Arc{From: a, To: b, At: place})
	}
	return out
}

// SplitList takes words apart at spaces and semicolons.
func SplitList(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ';' || r == '\t' })
}

func NumbersText(all []float64) string {
	var out []string
	for _, a := range all {
		out = append(out, strconv.FormatFloat(a, 'f', -1, 64))
	}
	return strings.Join(out, " ")
}

// arcsText writes the stretches of one place; of no place, those of every place.
func arcsText(all []models.Arc, place string) string {
	var out []string
	for _, a := range all {
		if a.At != place {
			continue
		}
		out = append(out, fmt.Sprintf("%g-%g", a.From, a.To))
	}
	return strings.Join(out, " ")
}

// BlockedFields ask where nothing fits, everywhere and at each place.
func BlockedFields(f *Entry, name string) []Field {
	out := []Field{f.TextField(name, "Nothing fits from–to, anywhere", "°", "valve, sensor: 350-10 170-190")}
	for _, p := range models.WeightPlaces {
		x := f.TextField(name+"."+p, "Nothing fits, "+say.PlaceName(p)+" alone", "°", "")
		x.Class = map[string]string{"outer_flange": "of-outer", "band": "of-band", "back_band": "of-back", "inner_flange": "of-inner"}[p]
		out = append(out, x)
	}
	return out
}
