package web

import (
	"fmt"
	"net/url"

	"rimledger/models"
	"rimledger/models/units"
)

// ownRuleRows is how many own rules the form of a depot holds; through the API
// there can be more, which the form then shows as well.
const ownRuleRows = 3

func ownName(i int, field string) string { return fmt.Sprintf("own.%d.%s", i, field) }

// ownRows returns how many rows of own rules the form has.
func (e *entry) ownRows() int {
	n := 0
	for ; e.sent.Has(ownName(n, "min_depth")); n++ {
	}
	return max(n, ownRuleRows)
}

// ownRuleSection asks for a depot's own minima.
func ownRuleSection(f *entry) section {
	s := section{Legend: "Your own minimum depths, stricter than the law", Hint: "The stricter of the law and your own minimum counts. Leave the depth empty where there is none."}
	roles := []option{{Value: string(models.RoleSteer), Label: "steer axle"}, {Value: string(models.RoleDrive), Label: "drive axle"}, {Value: string(models.RoleTrailer), Label: "free-rolling axle"}}
	for i := range f.ownRows() {
		s.Fields = append(s.Fields, f.textField(ownName(i, "min_depth"), fmt.Sprintf("Minimum %d, depth", i+1), "", "with its unit, or in the depot's"),
			f.selectField(ownName(i, "class"), "for", "every class", codes(models.Classes...)), f.selectField(ownName(i, "role"), "on", "every axle", append([]option(nil), roles...)),
			f.textField(ownName(i, "reason"), "because", "", ""))
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
func ownRulesOf(e *entry, u units.Style) []models.OwnRule {
	var out []models.OwnRule
	for i := range e.ownRows() {
		text := e.text(ownName(i, "min_depth"))
		if text == "" {
			continue
		}
		d, err := models.ParseDepth(u.Plain(text), u.Depth)
		if err != nil {
			e.fault(ownName(i, "min_depth"), remedy(err))
			continue
		}
		at := fmt.Sprintf("own_rules[%d]", len(out))
		for _, name := range []string{"min_depth", "class", "role", "reason"} {
			e.as(at+"."+name, ownName(i, name))
		}
		out = append(out, models.OwnRule{MinDepth: d, Class: models.Class(e.text(ownName(i, "class"))), Role: models.AxleRole(e.text(ownName(i, "role"))), Reason: e.text(ownName(i, "reason"))})
	}
	return out
}
