package settings

import (
	"testing"

	"rimledger/models"
	"rimledger/models/units"
)

func TestPolicyFormIsComplete(t *testing.T) {
	t.Parallel()
	fields := map[string]bool{}
	for _, g := range policyGroups {
		for _, f := range g.Fields {
			fields[f.Name] = true
		}
	}
	for name := range patchValues(models.DepotPolicy{}, units.Style{Set: units.US}) {
		if name != "version" && !fields[name] {
			t.Errorf("policy field %s is not on the form", name)
		}
	}
}
