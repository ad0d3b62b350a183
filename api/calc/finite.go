package calc

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"

	"rimledger/models"
)

// finite reports whether an answer holds only numbers that JSON can write.
func finite(v any) bool {
	switch v := v.(type) {
	case float64:
		return !math.IsNaN(v) && !math.IsInf(v, 0)
	case []any:
		return !slices.ContainsFunc(v, func(e any) bool { return !finite(e) })
	case map[string]any:
		return !slices.ContainsFunc(slices.Collect(maps.Values(v)), func(e any) bool { return !finite(e) })
	}
	return true
}

// tooExtreme refuses an input whose answer is beyond all numbers: it names the number that is
// farthest from one, by powers of ten.
func tooExtreme(name string, in []byte) error {
	var plain any
	if err := json.Unmarshal(in, &plain); err != nil {
		return err
	}

	field, value := "", 1.0
	var find func(path string, v any)
	find = func(path string, v any) {
		switch v := v.(type) {
		case float64:
			if v != 0 && math.Abs(math.Log10(math.Abs(v))) > math.Abs(math.Log10(math.Abs(value))) {
				field, value = path, v
			}
		case []any:
			for i, e := range v {
				find(path+"["+strconv.Itoa(i)+"]", e)
			}
		case map[string]any:
			for _, k := range slices.Sorted(maps.Keys(v)) {
				find(join(path, k), v[k])
			}
		}
	}
	find("", plain)

	var f models.Faults
	f.Add(field, fmt.Sprint(value), "makes the answer no finite number: give a value that a wheel has")
	return f.Err(name)
}
