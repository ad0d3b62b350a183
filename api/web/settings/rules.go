package settings

import (
	"fmt"
	"slices"

	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
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

// rules shows the published minima, those that a depot uses first.
func (s *room) rules(r *site.Request) error {
	depots := depotsByLaw(r.Depots)

	var p rulesPage
	for _, j := range legal.Jurisdictions() {
		g := lawGroup{
			Jurisdiction: j,
			Rules:        rulesOf(j, legal.All()),
			Also:         rulesOf(j, otherRules()),
			Depots:       depots[j.Code],
			Open:         len(depots[j.Code]) > 0,
		}

		if g.Open {
			p.Used = append(p.Used, g)
		} else {
			p.Others = append(p.Others, g)
		}
	}

	return r.Show("rules", "settings", "Legal minimum depths", p)
}

// depotsByLaw returns the names of depots by the code of the law that they chose, and
// of every law that it is part of.
func depotsByLaw(depots []models.Depot) map[string][]string {
	parents := map[string]string{}
	for _, j := range legal.Jurisdictions() {
		parents[j.Code] = j.Parent
	}

	out := map[string][]string{}
	for _, d := range depots {
		for code := d.Jurisdiction; code != ""; code = parents[code] {
			out[code] = append(out[code], d.Name)
		}
	}
	return out
}

// rulesOf returns those of a list of rules that one law has.
func rulesOf(j legal.Jurisdiction, all []legal.Rule) []legal.Rule {
	var out []legal.Rule
	for _, rule := range all {
		if slices.Contains(rule.Jurisdictions, j.Code) {
			out = append(out, rule)
		}
	}
	return out
}
