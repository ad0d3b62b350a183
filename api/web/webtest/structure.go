package webtest

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// Has reports whether a node has an attribute.
func Has(n *html.Node, name string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == name })
}

// FaultsOf lists what a person who does not see the page, or has no mouse,
// would stumble over. Rules of WCAG 2.2: 1.1.1 (drawings have a text), 1.3.1
// and 4.1.2 (fields and buttons have names), 2.4.2 (a title), 3.1.1 (a
// language); and of HTML: an id is used once.
func FaultsOf(t testing.TB, page string) []string {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}

	s := &structure{ids: map[string]int{}, labels: map[string]bool{}}
	s.walk(doc, s.collect)
	s.walk(doc, s.check)

	for id, n := range s.ids {
		if n > 1 {
			s.faults = append(s.faults, fmt.Sprintf("id %q stands %d times", id, n))
		}
	}

	if s.h1 != 1 {
		s.faults = append(s.faults, fmt.Sprintf("%d headings of the first level, want 1", s.h1))
	}
	return s.faults
}

type structure struct {
	ids    map[string]int
	labels map[string]bool // ids that a label names
	h1     int
	faults []string
}

func (s *structure) walk(n *html.Node, visit func(*html.Node)) {
	if n.Type == html.ElementNode {
		visit(n)
	}
	for c := range n.ChildNodes() {
		s.walk(c, visit)
	}
}

// Attr returns the value of an attribute; empty: it has none.
func Attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// Text returns the words within a node.
func Text(n *html.Node) string {
	if n.Type == html.TextNode {
		return n.Data
	}
	var b strings.Builder
	for c := range n.ChildNodes() {
		b.WriteString(Text(c))
	}
	return strings.TrimSpace(b.String())
}

func (s *structure) collect(n *html.Node) {
	if id := Attr(n, "id"); id != "" {
		s.ids[id]++
	}
	if n.Data == "label" && Text(n) != "" {
		s.labels[Attr(n, "for")] = true
	}
}

//revive:disable-next-line:cyclomatic
func (s *structure) check(n *html.Node) {
	named := Attr(n, "aria-label") != ""

	switch n.Data {
	case "h1":
		s.h1++
	case "html":
		if Attr(n, "lang") == "" {
			s.faults = append(s.faults, "the page says no language")
		}
	case "title", "button", "legend", "th":
		if Text(n) == "" && n.Namespace == "" {
			s.faults = append(s.faults, n.Data+" without a text")
		}
	case "svg":
		if Attr(n, "aria-hidden") != "true" && !(Attr(n, "role") == "img" && named) {
			s.faults = append(s.faults, "a drawing without a text")
		}
	case "a":
		if Text(n) == "" && !named {
			s.faults = append(s.faults, "a link without a text to "+Attr(n, "href"))
		}
		if to, ok := strings.CutPrefix(Attr(n, "href"), "#"); ok && s.ids[to] == 0 {
			s.faults = append(s.faults, "a link to #"+to+", which is not on the page")
		}
	case "input", "select", "textarea":
		if Attr(n, "type") != "hidden" && !named && !(Attr(n, "id") != "" && s.labels[Attr(n, "id")]) && !inLabel(n) {
			s.faults = append(s.faults, "field "+Attr(n, "name")+" without a name")
		}
	}
}

func inLabel(n *html.Node) bool {
	for p := n.Parent; p != nil; p = p.Parent {
		if p.Data == "label" {
			return true
		}
	}
	return false
}
