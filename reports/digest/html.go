package digest

import (
	_ "embed"
	"html/template"
	"strings"
)

//go:embed digest.html
var source string

// layout uses tables and inline styles only: mail programs read little more,
// and nothing is loaded from anywhere.
var layout = template.Must(template.New("digest").Parse(source))

func (p page) html() (string, error) {
	var b strings.Builder
	err := layout.Execute(&b, struct {
		page
		Advice, Safety string
	}{p, advice, safety})
	return b.String(), err
}
