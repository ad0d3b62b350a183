package calc

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"rimledger/models"
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
