package form

import (
	"strings"

	"rimledger/models/units"
)

// Depths reads a list of depths, one a groove.
func (e *Entry) Depths(name string) []units.Length {
	var out []units.Length
	for _, text := range e.Parts(name) {
		d, err := units.ParseDepth(e.Units.Plain(text), e.Units.Depth)
		if err != nil {
			e.AddFault(name, Remedy(err))
			return nil
		}
		out = append(out, d)
	}
	return out
}

func DepthsText(list []units.Length, u units.Style) string {
	var out []string
	for _, l := range list {
		out = append(out, u.WriteDepth(l))
	}
	return strings.Join(out, "; ")
}
