package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rimledger/models/demo"
)

// unitOrCount is what the label of a field for a number says: a unit, or that
// something is counted.
var unitOrCount = regexp.MustCompile(`\b(mm|32nds|in|inch|inches|kPa|psi|bar|km|mi|g|oz|N·m|kg|mph|km/h|days|years|months|USD|EUR|GBP|degrees|g·mm|rpm|m/s|Hz)\b|°|%|/32|counted|how often|how many|seats|spokes|places|currency|retread|revolutions|number|Valid for`)

// TestNumbersHaveUnits goes over the fields for numbers on every page, in both
// systems of units: each says what it is measured in, and in the person's own.
func TestNumbersHaveUnits(t *testing.T) {
	t.Parallel()
	f, server := demoFleet(t)
	y := &yard{t: t, server: server, fleet: f}
	p := y.stranger()
	p.post("/sign-in", url.Values{"email": {demo.People[0].Email}, "password": {demo.People[0].Password}}).wants(t, http.StatusSeeOther)
	for _, set := range []struct {
		units url.Values
		other *regexp.Regexp // does not stand beside a field
	}{
		{url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}}, regexp.MustCompile(`\((32nds|psi|kPa|mi|mph|oz)\)`)},
		{url.Values{"depth": {"32nd"}, "pressure": {"psi"}, "distance": {"mi"}, "mass": {"oz"}}, regexp.MustCompile(`\((bar|kPa|km|km/h|g)\)`)},
	} {
		p.post("/settings/units", set.units).wants(t, http.StatusSeeOther)
		for _, pg := range everyPage(t, f) {
			if pg.stranger {
				continue
			}
			for _, field := range numbersOn(t, p.get(pg.path).Body) {
				if field.number && !unitOrCount.MatchString(field.label) {
					t.Errorf("%s: %s says no unit: %q", pg.path, field.name, field.label)
				}
				if wrong := set.other.FindString(field.label); wrong != "" {
					t.Errorf("%s: %s is asked in %s of a person who reads %v", pg.path, field.name, wrong, set.units)
				}
			}
		}
	}
}

type numberField struct {
	name, label string
	number      bool // the field is for a number and nothing else
}

// numbersOn lists the fields of a page in which numbers can be typed, with their labels.
func numbersOn(t *testing.T, body string) []numberField {
	doc := must(html.Parse(strings.NewReader(body)))(t)
	labels := map[string]string{}
	var inputs []*html.Node
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		if n.Data == "label" && attr(n, "for") != "" {
			labels[attr(n, "for")] = text(n)
		}
		if n.Data == "input" && slices.Contains([]string{"", "text"}, attr(n, "type")) {
			inputs = append(inputs, n)
		}
	}
	var out []numberField
	for _, n := range inputs {
		label := attr(n, "aria-label") + " " + labels[attr(n, "id")]
		for up := n.Parent; up != nil && strings.TrimSpace(label) == ""; up = up.Parent {
			if up.Data == "label" {
				label = text(up)
			}
		}
		out = append(out, numberField{attr(n, "name"), strings.Join(strings.Fields(label), " "), slices.Contains([]string{"decimal", "numeric"}, attr(n, "inputmode"))})
	}
	return out
}
