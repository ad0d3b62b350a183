package digest

import (
	_ "embed"
	"html/template"
	"strings"
)

//go:embed digest.html
var source string

// layout uses tables and inline styles only, since mail programs read little more. It
// loads nothing from other servers, and no color stands without its background, so that
// a program that darkens mails keeps the words readable.
var layout = template.Must(template.New("digest").Parse(source))

// html returns p as an HTML document.
func (p page) html() (string, error) {
	var b strings.Builder
	err := layout.Execute(&b, struct {
		page
		Safety string
	}{p, safety})
	return b.String(), err
}
