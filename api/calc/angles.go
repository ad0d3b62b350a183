package calc

import (
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"rimledger/models"
	"rimledger/models/units"
)

// amounts are the fields that mean nothing without an angle beside them, and angles the
// fields that hold it.
var (
	amounts = []string{"MassG", "Amount", "Amplitude", "GMM", "DepthMM", "AmplitudeMM"}
	angles  = []string{"Deg", "MostDeg"}
)

// anglesGiven refuses an amount without its angle, such as a mass that is nowhere: read as
// 0 degrees it would be put on the valve. in is plain JSON, to is what it is read into.
func anglesGiven(in, to any) error {
	var f models.Faults
	findAngles(&f, "", in, reflect.TypeOf(to))
	return f.Err("the input")
}

// findAngles adds a fault for each amount without an angle in a value that is read into
// type t; path is where it stands.
func findAngles(f *models.Faults, path string, in any, t reflect.Type) {
	switch t.Kind() {
	case reflect.Pointer:
		findAngles(f, path, in, t.Elem())
	case reflect.Slice, reflect.Array:
		list, _ := in.([]any)
		for i, v := range list {
			findAngles(f, fmt.Sprintf("%s[%d]", path, i), v, t.Elem())
		}
	case reflect.Struct:
		object, _ := in.(map[string]any)
		angleOf(f, path, object, t)
		for _, name := range slices.Sorted(maps.Keys(object)) {
			if x, found := fieldOf(t, name); found {
				findAngles(f, join(path, name), object[name], x.Type)
			}
		}
	}
}

// angleOf adds a fault where one object holds an amount and not its angle.
func angleOf(f *models.Faults, path string, object map[string]any, t reflect.Type) {
	has := func(names []string, counts func(any) bool) bool {
		return slices.ContainsFunc(slices.Collect(maps.Keys(object)), func(name string) bool {
			x, found := fieldOf(t, name)
			return found && slices.Contains(names, x.Name) && counts(object[name])
		})
	}

	for _, angle := range angles {
		if _, found := t.FieldByName(angle); !found {
			continue
		}

		given := has([]string{angle}, func(v any) bool { return v != nil })
		if !given && has(amounts, func(v any) bool { return v != nil && v != 0.0 }) {
			f.Add(join(path, snakeCase(angle)), "", "must say where: degrees clockwise, such as 120")
		}
	}
}

// fieldOf finds the field of a struct that a snake-case name stands for, also in embedded
// structs.
func fieldOf(t reflect.Type, name string) (reflect.StructField, bool) {
	plain := strings.ReplaceAll(name, "_", "")
	return t.FieldByNameFunc(func(field string) bool { return strings.EqualFold(field, plain) })
}

// join writes the path of a field of the object at path.
func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

// typedRead returns plain JSON with what a shop types read as numbers, where a number goes
// into a field of the type of to: positions such as "4:30" into degrees, masses such as
// "1/4 oz" into grams. A distance along the rim counts on the radius of the plane that it is
// given for, or on the one that it names.
func typedRead(in, to any) (any, error) {
	var f models.Faults
	r := typedReader{faults: &f}
	out := r.read("", in, reflect.TypeOf(to))
	return out, f.Err("the input")
}

// typedReader reads texts. inner and outer are the radii of the planes around it, radius
// that of the plane that it is in; mm, 0 where not known.
type typedReader struct {
	faults               *models.Faults
	inner, outer, radius float64
}

func (r typedReader) read(path string, in any, t reflect.Type) any {
	switch v := in.(type) {
	case []any:
		if t.Kind() == reflect.Slice || t.Kind() == reflect.Array {
			for i := range v {
				v[i] = r.read(fmt.Sprintf("%s[%d]", path, i), v[i], t.Elem())
			}
		}
	case map[string]any:
		r.object(path, v, t)
	}
	return in
}

// object reads the texts of one object.
func (r typedReader) object(path string, object map[string]any, t reflect.Type) {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct {
		return
	}

	r.planes(object)
	for _, name := range slices.Sorted(maps.Keys(object)) {
		x, found := fieldOf(t, name)
		if !found {
			continue
		}
		if text, isText := object[name].(string); isText {
			object[name] = r.number(join(path, name), x, text)
			continue
		}
		object[name] = r.in(name).read(join(path, name), object[name], x.Type)
	}
}

// planes takes up the radii that an object gives.
func (r *typedReader) planes(object map[string]any) {
	radiusIn := func(v any) float64 {
		plane, _ := v.(map[string]any)
		mm, _ := plane["radius_mm"].(float64)
		return mm
	}

	if mm, given := object["radius_mm"].(float64); given {
		r.radius = mm
	}
	if planes, given := object["planes"].(map[string]any); given {
		r.inner, r.outer = radiusIn(planes["inner"]), radiusIn(planes["outer"])
	}
}

// in returns the reader for what stands in a field of that name.
func (r typedReader) in(name string) typedReader {
	switch {
	case strings.Contains(name, "inner"):
		r.radius = r.inner
	case strings.Contains(name, "outer"), name == "single":
		r.radius = r.outer
	}
	return r
}

// number reads a text that goes into field x; a text that goes into no angle and no mass
// stays.
func (r typedReader) number(path string, x reflect.StructField, text string) any {
	t := x.Type
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t.Kind() != reflect.Float64 {
		return text
	}

	var v float64
	var err error
	switch {
	case strings.HasSuffix(x.Name, "Deg"):
		var at units.Angle
		at, err = units.ParsePosition(text, units.LengthFromMillimetres(r.radius))
		v = float64(at)
	case x.Name == "MassG":
		var m units.Mass
		m, err = units.ParseMass(text, units.BareNone)
		v = float64(m)
	default:
		return text
	}

	var parse *units.ParseError
	if errors.As(err, &parse) {
		r.faults.Add(path, text, "%s", parse.Reason)
	}
	return v
}
