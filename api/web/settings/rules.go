package settings

import (
	"fmt"
	"slices"

	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models/legal"
)

// rulesPage lists the published minima, a group for each law.
type rulesPage struct {
	Used   []lawGroup // by the depots that the person sees; open
	Others []lawGroup // folded
}

// lawGroup is the rules of one country, state or province.
type lawGroup struct {
	legal.Jurisdiction
	Rules  []legal.Rule // minimum depths
	Also   []legal.Rule // on other numbers, winter tires and damage
	Depots []string     // that chose it, or a law that it is part of
	Open   bool
}

// Counted says how many rules there are, and how many of them are off.
func (g lawGroup) Counted() string {
	off := 0
	for _, r := range g.Rules {
		if !r.On() {
			off++
		}
	}
	if off == 0 {
		return say.Plural(len(g.Rules), "rule", "rules")
	}
	return fmt.Sprintf("%s, %d off", say.Plural(len(g.Rules), "rule", "rules"), off)
}

// otherRules returns the rules that are no minimum depth.
func otherRules() []legal.Rule {
	var out []legal.Rule
	for _, o := range legal.Others() {
		out = append(out, o.Rule)
	}
	for _, w := range legal.Winters() {
		out = append(out, w.Rule)
	}
	for _, g := range legal.AllGuidance() {
		out = append(out, g.Rule)
	}
	return out
}

//revive:disable-next-line:cognitive-complexity
func (s *room) rules(r *site.Request) error {
	all := legal.Jurisdictions()

	depots := map[string][]string{} // by law
	for _, d := range r.Depots {
		for code := d.Jurisdiction; code != ""; {
			depots[code] = append(depots[code], d.Name)
			i := slices.IndexFunc(all, func(j legal.Jurisdiction) bool { return j.Code == code })
			if i < 0 {
				break
			}
			code = all[i].Parent
		}
	}

	var p rulesPage
	for _, j := range all {
		g := lawGroup{Jurisdiction: j, Depots: depots[j.Code], Open: len(depots[j.Code]) > 0}
		for _, rule := range legal.All() {
			if slices.Contains(rule.Jurisdictions, j.Code) {
				g.Rules = append(g.Rules, rule)
			}
		}
		for _, rule := range otherRules() {
			if slices.Contains(rule.Jurisdictions, j.Code) {
				g.Also = append(g.Also, rule)
			}
		}

		if g.Open {
			p.Used = append(p.Used, g)
		} else {
			p.Others = append(p.Others, g)
		}
	}

	return r.Show("rules", "settings", "Legal minimum depths", p)
}
