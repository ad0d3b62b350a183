package settings

import (
	"fmt"
	"net/url"

	"rimledger/api/web/form"
	"rimledger/models"
	"rimledger/models/units"
)

// ownRuleRows is how many own rules the form of a depot shows; through the API
// there can be more, which the form then shows as well.
const ownRuleRows = 3

func ownName(i int, field string) string { return fmt.Sprintf("own.%d.%s", i, field) }

// ownRows returns how many rows of own rules the form has.
func ownRows(e *form.Entry) int {
	n := 0
	for ; e.Sent.Has(ownName(n, "min_depth")); n++ {
	}
	return max(n, ownRuleRows)
}

// ownRuleSection asks for a depot's own minima.
func ownRuleSection(f *form.Entry) form.Section {
	s := form.Section{
		Legend: "Your own minimum depths, stricter than the law",
		Hint:   "The stricter of the law and your own minimum counts. Leave the depth empty where there is none.",
	}

	roles := []form.Option{
		{Value: string(models.RoleSteer), Label: "steer axle"},
		{Value: string(models.RoleDrive), Label: "drive axle"},
		{Value: string(models.RoleTrailer), Label: "free-rolling axle"},
	}

	for i := range ownRows(f) {
		s.Fields = append(
			s.Fields,
			f.TextField(
				ownName(i, "min_depth"),
				fmt.Sprintf("Minimum %d, depth", i+1),
				"",
				"with its unit, or in the depot's",
			),
			f.SelectField(ownName(i, "class"), "for", "every class", form.CodeOptions(models.Classes...)),
			f.SelectField(ownName(i, "role"), "on", "every axle", append([]form.Option(nil), roles...)),
			f.TextField(ownName(i, "reason"), "because", "", ""),
		)
	}

	return s
}

func setOwnRules(v url.Values, list []models.OwnRule, u units.Style) {
	for i := range max(len(list)+1, ownRuleRows) {
		var r models.OwnRule
		if i < len(list) {
			r = list[i]
		}
		v.Set(ownName(i, "min_depth"), u.WriteAsTyped(r.MinDepth.Text))
		v.Set(ownName(i, "class"), string(r.Class))
		v.Set(ownName(i, "role"), string(r.Role))
		v.Set(ownName(i, "reason"), r.Reason)
	}
}

// ownRulesOf reads the own minima; a row without a depth is none.
func ownRulesOf(e *form.Entry, u units.Style) []models.OwnRule {
	var out []models.OwnRule
	for i := range ownRows(e) {
		text := e.Text(ownName(i, "min_depth"))
		if text == "" {
			continue
		}
		d, err := models.ParseDepth(u.Plain(text), u.Depth)
		if err != nil {
			e.AddFault(ownName(i, "min_depth"), form.Remedy(err))
			continue
		}

		at := fmt.Sprintf("own_rules[%d]", len(out))
		for _, name := range []string{"min_depth", "class", "role", "reason"} {
			e.MapField(at+"."+name, ownName(i, name))
		}

		out = append(
			out,
			models.OwnRule{
				MinDepth: d,
				Class:    models.Class(e.Text(ownName(i, "class"))),
				Role:     models.AxleRole(e.Text(ownName(i, "role"))),
				Reason:   e.Text(ownName(i, "reason")),
			},
		)
	}

	return out
}
