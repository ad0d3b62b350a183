package settings

import (
	"net/url"
	"testing"

	"rimledger/api/web/form"
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

// TestPolicyPageSpeaksMiles: the page of a depot that drives miles shows round miles, and
// a value that is shown rounded in another unit is kept as it was (1 mi is 1.609344 km).
func TestPolicyPageSpeaksMiles(t *testing.T) {
	t.Parallel()

	help := map[string]string{}
	us := form.NewEntry(url.Values{}, units.Style{Set: units.US})
	for _, s := range policySections(us, models.DefaultPolicy(models.Tractor, units.US)) {
		for _, f := range s.Fields {
			help[f.Name] = f.Help
		}
	}
	for name, want := range map[string]string{"RebalanceKM": "default 50,000 mi", "RotateKM": "default 75,000 mi",
		"RetorqueKM": "default 100 mi"} {
		if help[name] != want {
			t.Errorf("%s: %q, want %q", name, help[name], want)
		}
	}

	exact := 80_467.2 // 50,000 mi, shown as 80,467 km
	old := models.DepotPolicy{Patch: models.PolicyPatch{RotateKM: &exact}}
	metric := units.Style{Set: units.Metric}
	sent := patchValues(old, metric)
	if got := patch(form.NewEntry(sent, metric), old).RotateKM; got == nil || *got != exact {
		t.Errorf("sent back unchanged: %v km, want %v", got, exact)
	}

	sent.Set("RotateKM", "80,468 km")
	if got := patch(form.NewEntry(sent, metric), old).RotateKM; got == nil || *got != 80_468 {
		t.Errorf("changed: %v km, want 80468", got)
	}
}
