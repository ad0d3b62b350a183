package web

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"rimledger/models"
)

// Every code of a finding explains itself in two sentences: those that package
// models declares are read from its source, so that a new one is not forgotten.
func TestFindingsExplainThemselves(t *testing.T) {
	t.Parallel()
	file, err := parser.ParseFile(token.NewFileSet(), "../../models/finding.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	sentence := regexp.MustCompile(`[.?!]( [A-Z]|$)`)
	count := 0
	ast.Inspect(file, func(n ast.Node) bool {
		v, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		if of, ok := v.Type.(*ast.Ident); !ok || of.Name != "FindingCode" {
			return true
		}
		for _, x := range v.Values {
			code, err := strconv.Unquote(x.(*ast.BasicLit).Value)
			if err != nil {
				t.Fatal(err)
			}
			count++
			if n := len(sentence.FindAllString(explain(models.FindingCode(code)), -1)); n != 2 {
				t.Errorf("%s explains itself in %d sentences, want 2: %q", code, n, explain(models.FindingCode(code)))
			}
		}
		return true
	})
	if count < 30 || count != len(explanations) {
		t.Errorf("%d codes are declared, %d explained", count, len(explanations))
	}
}

// tradeWords are words of the trade that somebody new to it does not know (from
// memory, common practice); what of them stands on a page is in the glossary.
var tradeWords = []string{"adhesive", "alignment", "attention list", "balance weight", "bead", "bulge", "camber", "caster", "casing", "center bore", "check spin", "clip", "cord", "couple",
	"cupping", "damper", "depot", "digest", "drive axle", "dual", "erosion", "feather", "finding", "fitment", "flange", "flat spot", "free-rolling axle", "gauge", "groove", "heel and toe", "imbalance",
	"kingpin", "legal minimum", "lifting axle", "match mounting", "odometer", "off the road", "parking row", "policy", "pull point", "re-torque", "regroove", "residual", "retread", "rib", "rim", "rotate",
	"run flat", "run-out", "seated", "segment", "separation", "shoulder", "sidewall", "spoke", "static", "station", "steer axle", "thrust", "TIN", "toe", "torque", "tread bar", "tread depth", "unrolled", "valve", "wear bar"}

// TestGlossary looks for each of these words on the pages, and in the glossary.
func TestGlossary(t *testing.T) {
	t.Parallel()
	var pages, glossary strings.Builder
	files, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f == "templates/page_help.html" {
			continue
		}
		b, err := templateFiles.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		pages.Write(b)
	}
	for _, e := range explanations {
		pages.WriteString(e + "\n")
	}
	for _, n := range observationNames {
		pages.WriteString(n + "\n")
	}
	for _, w := range works {
		pages.WriteString(w.Title + " " + w.Intro + "\n")
	}
	for _, x := range terms {
		glossary.WriteString(x.Word + ": " + x.Meaning + "\n")
	}
	on := func(text, word string) bool {
		return regexp.MustCompile(`(?i)\b` + regexp.QuoteMeta(word)).MatchString(text)
	}
	found := 0
	for _, w := range tradeWords {
		if !on(pages.String(), w) {
			continue
		}
		found++
		if !on(glossary.String(), w) {
			t.Errorf("%q stands on a page and not in the glossary", w)
		}
	}
	if found < 40 {
		t.Errorf("only %d of the words stand on a page; were they renamed?", found)
	}
}
