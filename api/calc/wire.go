package calc

import (
	"bytes"
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"unicode"

	"rimledger/models"
	"rimledger/models/units"
)

// metric is how the calculators write the quantities in their texts: programs and
// logs read one set of units.
var metric = units.Style{Set: units.Metric}

// wireValue returns what a computation takes or returns in the form in which it is
// written as JSON: structs as objects under snake-case names, with the quantities
// that are marked in texts rendered.
func wireValue(v any) any { return writtenValue(reflect.ValueOf(v)) }

func writtenValue(v reflect.Value) any {
	switch v.Kind() {
	case reflect.Struct:
		out := map[string]any{}
		addFields(out, v)
		return out
	case reflect.Slice, reflect.Array:
		return writtenList(v)
	case reflect.Map:
		return writtenMap(v)
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			return nil
		}
		return writtenValue(v.Elem())
	case reflect.String:
		return metric.Render(v.String())
	case reflect.Invalid:
		return nil
	}

	// Numbers and truth values are written as they are.
	return v.Interface()
}

// addFields adds the fields of a struct. Those of an embedded struct become its own,
// as encoding/json has it.
func addFields(out map[string]any, v reflect.Value) {
	for field, value := range v.Fields() {
		switch {
		case field.Anonymous:
			addFields(out, value)
		case field.IsExported():
			out[snakeCase(field.Name)] = writtenValue(value)
		}
	}
}

func writtenList(v reflect.Value) any {
	if v.Kind() == reflect.Slice && v.IsNil() {
		return nil
	}

	out := make([]any, v.Len())
	for i := range out {
		out[i] = writtenValue(v.Index(i))
	}

	return out
}

// writtenMap keeps the keys as they are: they are words of the person who asks.
func writtenMap(v reflect.Value) any {
	if v.IsNil() {
		return nil
	}

	out := map[string]any{}
	for key, value := range v.Seq2() {
		out[key.String()] = writtenValue(value)
	}

	return out
}

// readJSON reads JSON with snake-case names into v and refuses unknown ones.
func readJSON(in []byte, v any) error {
	var plain any
	if err := json.Unmarshal(in, &plain); err != nil {
		return models.Errorf(models.Invalid, "the input is not JSON: %v", err)
	}

	if err := anglesGiven(plain, v); err != nil {
		return err
	}
	plain, err := typedRead(plain, v)
	if err != nil {
		return err
	}

	// Without underscores a name matches its field, since case does not count.
	b, err := json.Marshal(renamed(plain, func(s string) string { return strings.ReplaceAll(s, "_", "") }))
	if err != nil {
		return err
	}

	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()

	if err := d.Decode(v); err != nil {
		return decodeError(err)
	}

	return nil
}

// decodeError returns an error of the decoder as an Invalid error that names the field.
func decodeError(err error) error {
	var f models.Faults
	var kind *json.UnmarshalTypeError

	_, name, unknown := strings.Cut(err.Error(), "unknown field ")

	switch {
	case errors.As(err, &kind):
		right := "as in the example"
		if kind.Type.Kind() == reflect.Float64 {
			right = "a number"
		}
		f.Add(snakeCase(kind.Field), kind.Value, "does not fit: must be %s", right)
	case unknown:
		f.Add(strings.Trim(name, `"`), "", "is not known here; the example has all that are")
	default:
		f.Add("", "", "%s", strings.TrimPrefix(err.Error(), "json: "))
	}

	return f.Err("the input")
}

// renamed returns a plain JSON value with the names of its objects changed.
func renamed(v any, name func(string) string) any {
	switch v := v.(type) {
	case map[string]any:
		out := make(map[string]any, len(v))
		for k, e := range v {
			out[name(k)] = renamed(e, name)
		}
		return out
	case []any:
		for i := range v {
			v[i] = renamed(v[i], name)
		}
	}

	return v
}

// snakeCase writes a Go field name in snake case: MassG mass_g, NowKM now_km.
func snakeCase(name string) string {
	runes := []rune(name)
	var b strings.Builder
	for i, r := range runes {
		if startsWord(runes, i) {
			b.WriteByte('_')
		}
		b.WriteRune(unicode.ToLower(r))
	}

	return b.String()
}

// startsWord reports whether the rune at i starts a word inside a field name: a
// capital after a small letter, or the last capital of an abbreviation that a word
// follows.
func startsWord(name []rune, i int) bool {
	if i == 0 || !unicode.IsUpper(name[i]) || name[i-1] == '.' {
		return false
	}
	return !unicode.IsUpper(name[i-1]) || i+1 < len(name) && unicode.IsLower(name[i+1])
}
