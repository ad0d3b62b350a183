package web_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"rimledger/models/modeltest"
)

// maxTemplateColumns is the longest line of a template (chosen by us).
const maxTemplateColumns = 160

// A line of a template starts one block-level element at most, and no condition
// stands before it, so that a change shows as one line in a diff.
var (
	blockTag = regexp.MustCompile(`</?(?:` + strings.Join(blockElements, "|") + `)\b`)
	control  = regexp.MustCompile(`\{\{-? ?(?:if|with|range|else|end|define|block)\b`)
)

// blockElements begin a line of their own: the block-level elements of HTML, the parts
// of a table and of a list, and what stands in the head of a page.
var blockElements = strings.Fields(`html head body title base link meta style address article aside blockquote caption
	col colgroup dd details dialog div dl dt fieldset figcaption figure footer form h1 h2 h3 h4 h5 h6 header hr legend li
	main nav ol optgroup option p pre section summary table tbody td tfoot th thead tr ul`)

func TestTemplatesAreLaidOut(t *testing.T) {
	t.Parallel()
	files := modeltest.Must(filepath.Glob("*/templates/*.html"))(t)
	if len(files) == 0 {
		t.Fatal("no templates")
	}

	for _, file := range append(files, "../rest/reference.html", "../../reports/digest/digest.html") {
		for _, fault := range layoutFaults(string(modeltest.Must(os.ReadFile(file))(t))) {
			t.Errorf("%s:%s", file, fault)
		}
	}
}

// layoutFaults lists what is wrong with the layout of a template, each with its line.
func layoutFaults(source string) []string {
	var faults []string

	open := map[string][]int{} // by name: how far the elements are indented that a later line closes

	for i, line := range strings.Split(source, "\n") {
		report := func(format string, args ...any) {
			faults = append(faults, fmt.Sprintf("%d: %s", i+1, fmt.Sprintf(format, args...)))
		}

		if n := utf8.RuneCountInString(line); n > maxTemplateColumns {
			report("%d columns, want %d at most", n, maxTemplateColumns)
		}
		if strings.TrimRight(line, " \t\r") != line || strings.Contains(line, "\t") {
			report("a tab, or white space at the end")
		}

		starts := 0
		for _, at := range blockTag.FindAllStringIndex(line, -1) {
			if strings.HasPrefix(line[at[0]:], "</") {
				continue
			}
			if starts++; starts == 2 {
				report("a second block-level element starts: %s", line[at[0]:])
			}
			if action := control.FindString(line[:at[0]]); action != "" && starts == 1 {
				report("%s}} stands before %s, want a line of its own", action, line[at[0]:at[1]])
			}
		}

		text := strings.TrimLeft(line, " ")
		at := blockTag.FindStringIndex(text)
		if at == nil || at[0] > 0 {
			continue
		}

		tag, indent := text[:at[1]], len(line)-len(text)
		if indent%2 != 0 {
			report("%s is indented by %d, want steps of two", tag, indent)
		}

		if name, closes := strings.CutPrefix(tag, "</"); !closes {
			if !strings.Contains(text, "</"+tag[1:]+">") {
				open[tag[1:]] = append(open[tag[1:]], indent)
			}
		} else if n := len(open[name]) - 1; n < 0 || open[name][n] != indent {
			report("%s is not indented as the start of its element", tag)
		} else {
			open[name] = open[name][:n]
		}
	}

	return faults
}

// The check finds what it is there for.
func TestLayoutFaults(t *testing.T) {
	t.Parallel()

	for _, tt := range []struct {
		name, source string
		want         int
	}{
		{"one element a line", "<ul>\n  {{- range .}}\n    <li><b>{{.}}</b></li>\n  {{- end}}\n</ul>\n", 0},
		{"a condition within a tag", "<option value=\"1\"{{if .Chosen}} selected{{end}}>{{.}}</option>\n", 0},
		{"a start tag over two lines", "<form method=\"get\"\n    action=\"/\">\n</form>\n", 0},
		{"160 columns", "<p>" + strings.Repeat("ö", 153) + "</p>\n", 0},
		{"161 columns", "<p>" + strings.Repeat("ö", 154) + "</p>\n", 1},
		{"a second element on the line", "<tr><td>{{.}}</td></tr>\n", 1},
		{"a condition before an element", "{{if .}}<p>{{.}}</p>{{end}}\n", 1},
		{"an end before an element", "{{end}}<p>{{.}}</p>\n", 1},
		{"a closing tag beside its element's column", "<ul>\n  </ul>\n", 1},
		{"three spaces", "   <p>{{.}}</p>\n", 1},
		{"a space at the end", "<p>{{.}}</p> \n", 1},
	} {
		if got := layoutFaults(tt.source); len(got) != tt.want {
			t.Errorf("%s: faults %q, want %d", tt.name, got, tt.want)
		}
	}
}
