package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rimledger/api/web/webtest"
	"rimledger/models/demo"
	"rimledger/models/modeltest"
)

// unitOrCount is what the label of a field for a number says: a unit, or that
// something is counted.
var unitOrCount = regexp.MustCompile(
	`\b(mm|32nds|in|inch|inches|kPa|psi|bar|km|mi|g|oz|N·m|lb·ft|kg|mph|km/h|days|years|months|USD|EUR|GBP|degrees|g·mm|rpm|m/s|Hz)\b|°|%|/32|counted|how often|how many|seats|spokes|places|currency|retread|revolutions|number|Valid for`,
)

// TestNumbersHaveUnits goes over the fields for numbers on every page, in both
// systems of units: each says what it is measured in, and in the person's own.
func TestNumbersHaveUnits(t *testing.T) {
	t.Parallel()
	f, server := webtest.DemoFleet(t)
	y := &webtest.World{T: t, Server: server, Fleet: f}
	p := y.Stranger()
	p.Post("/sign-in", url.Values{"email": {demo.People[0].Email}, "password": {demo.People[0].Password}}).
		Wants(t, http.StatusSeeOther)

	for _, set := range []struct {
		units url.Values
		other *regexp.Regexp // does not stand beside a field
	}{
		{url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}}, regexp.MustCompile(`\((32nds|psi|kPa|mi|mph|oz)\)`)},
		{url.Values{"depth": {"32nd"}, "pressure": {"psi"}, "distance": {"mi"}, "mass": {"oz"}}, regexp.MustCompile(`\((bar|kPa|km|km/h|g)\)`)},
	} {
		p.Post("/settings/units", set.units).Wants(t, http.StatusSeeOther)

		for _, pg := range everyPage(t, f) {
			if pg.stranger {
				continue
			}

			for _, field := range numbersOn(t, p.Get(pg.path).Body) {
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
	doc := modeltest.Must(html.Parse(strings.NewReader(body)))(t)
	labels := map[string]string{}

	var inputs []*html.Node
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		if n.Data == "label" && webtest.Attr(n, "for") != "" {
			labels[webtest.Attr(n, "for")] = webtest.Text(n)
		}
		if n.Data == "input" && slices.Contains([]string{"", "text"}, webtest.Attr(n, "type")) {
			inputs = append(inputs, n)
		}
	}

	var out []numberField
	for _, n := range inputs {
		label := webtest.Attr(n, "aria-label") + " " + labels[webtest.Attr(n, "id")]
		for up := n.Parent; up != nil && strings.TrimSpace(label) == ""; up = up.Parent {
			if up.Data == "label" {
				label = webtest.Text(up)
			}
		}

		out = append(
			out,
			numberField{
				webtest.Attr(n, "name"),
				strings.Join(strings.Fields(label), " "),
				slices.Contains([]string{"decimal", "numeric"}, webtest.Attr(n, "inputmode")),
			},
		)
	}

	return out
}

var (
	// quantity is a number as measured things are written: with a decimal point, or
	// with commas between thousands. Whole small numbers are mostly counts.
	quantity = regexp.MustCompile(`[\d.,/]*\d[\d.,/]*`)
	measured = regexp.MustCompile(`^(\d+\.\d+|\d{1,3}(,\d{3})+(\.\d+)?)$`)
	// unitAfter stands behind a quantity, or behind the last of a list or range of them.
	unitAfter = regexp.MustCompile(
		`^((, | to | and | × | / )[\d.,]+)*[ \x{a0}]?(mm|in|km|mi|kPa|psi|bar|g·mm|g|oz|kg|N m|km/h|mph|Hz|°|%|times|days|years|points)\b|^((, | to | and )[\d.,]+)*(°|%)`,
	)
	// unitless is what is written like a quantity and is none: sizes of tires,
	// citations of rules, versions.
	unitless = regexp.MustCompile(
		`\b\d+(/\d+)?Z?R\d+(\.\d)?\S*( \d+/\d+\w)?|CFR \d+\.\d+\S*|COMAR [\d.]+|\b\d{4}-\d{2}-\d{2}|§ ?[\d.]+`,
	)
)

// quantitiesWithoutUnit lists the quantities in a text that no unit follows.
func quantitiesWithoutUnit(s string) []string {
	var out []string
	s = unitless.ReplaceAllString(strings.Join(strings.Fields(s), " "), "")
	for _, at := range quantity.FindAllStringIndex(s, -1) {
		number := strings.TrimRight(s[at[0]:at[1]], ".,/")
		rest := s[at[0]+len(number):]
		if measured.MatchString(number) && !unitAfter.MatchString(rest) {
			out = append(out, s[max(0, at[0]-30):min(len(s), at[1]+30)])
		}
	}
	return out
}

// TestQuantitiesHaveUnits reads what the main pages print, in both systems of units.
// Drawings, whose captions tell the unit, and small whole numbers are left out.
func TestQuantitiesHaveUnits(t *testing.T) {
	t.Parallel()

	for text, want := range map[string]int{"worn 3.2 mm at 1L": 0, "worn 3.2 at 1L": 1, "62,138 mi there": 0, "62,138 there": 1, "between 0.1 and 0.2 mm": 0, "295/75R22.5 144/141L": 0,
		"49 CFR 393.75(b)": 0, "cold 7.2 bar, 7.1 bar": 0, "rate 0.120": 1} {
		if got := quantitiesWithoutUnit(text); len(got) != want {
			t.Errorf("%q: %q stand without a unit, want %d", text, got, want)
		}
	}

	f, server := webtest.DemoFleet(t)
	y := &webtest.World{T: t, Server: server, Fleet: f}
	p := y.Stranger()
	p.Post("/sign-in", url.Values{"email": {demo.People[0].Email}, "password": {demo.People[0].Password}}).
		Wants(t, http.StatusSeeOther)

	main := []string{"attention", "vehicle", "place", "tire", "bench", "balancejob", "due", "finding"}
	for _, set := range []url.Values{{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}}, {"depth": {"32nd"}, "pressure": {"psi"}, "distance": {"mi"}, "mass": {"oz"}}} {
		p.Post("/settings/units", set).Wants(t, http.StatusSeeOther)

		for _, pg := range everyPage(t, f) {
			if !slices.Contains(main, pg.name) {
				continue
			}

			seen := 0
			for _, block := range blocksOf(t, p.Get(pg.path).Body) {
				for _, q := range quantitiesWithoutUnit(block) {
					t.Errorf("%s: no unit beside a number in %q", pg.name, q)
				}
				seen += len(regexp.MustCompile(`\d (mm|in|km|mi|psi|bar|g|oz)\b`).FindAllString(block, -1))
			}

			if seen == 0 {
				t.Errorf("%s prints no quantity at all", pg.name)
			}
		}
	}
}

// blocksOf returns the texts of a page's main part, a block each, without drawings and fields.
func blocksOf(t *testing.T, body string) []string {
	t.Helper()
	doc := modeltest.Must(html.Parse(strings.NewReader(body)))(t)
	skip := []string{"svg", "script", "select", "textarea", "footer", "header"}

	block := []string{
		"p",
		"li",
		"td",
		"th",
		"dd",
		"dt",
		"h1",
		"h2",
		"h3",
		"summary",
		"figcaption",
		"pre",
		"label",
		"legend",
		"caption",
		"div",
		"section",
	}

	var out []string
	var b strings.Builder
	flush := func() {
		if s := strings.TrimSpace(b.String()); s != "" {
			out = append(out, s)
		}
		b.Reset()
	}

	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		switch {
		case n.Type == html.TextNode:
			b.WriteString(n.Data)
		case n.Type == html.ElementNode && slices.Contains(skip, n.Data):
			return
		}

		is := n.Type == html.ElementNode && (slices.Contains(block, n.Data) || n.Data == "br")
		if is {
			flush()
		}

		for c := range n.ChildNodes() {
			walk(c)
		}

		if is {
			flush()
		}
	}

	walk(doc)
	flush()
	return out
}
