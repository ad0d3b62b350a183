package say

import (
	"go/ast"
	"go/parser"
	"go/token"
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
	file, err := parser.ParseFile(token.NewFileSet(), "../../../models/finding.go", nil, 0)
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
			if n := len(sentence.FindAllString(Explain(models.FindingCode(code)), -1)); n != 2 {
				t.Errorf("%s explains itself in %d sentences, want 2: %q", code, n, Explain(models.FindingCode(code)))
			}
		}

		return true
	})

	if count < 30 || count != len(Explanations) {
		t.Errorf("%d codes are declared, %d explained", count, len(Explanations))
	}
}

// Every code has its words: nobody should read an identifier.
func TestWordsAreComplete(t *testing.T) {
	t.Parallel()
	for _, c := range append(models.PositionCodes, models.VehicleCodes...) {
		if ObservationNames[c] == "" {
			t.Errorf("observation %s has no words", c)
		}
	}
	for k := range EventNames {
		if models.NewEvent(k) == nil {
			t.Errorf("%s is named and is no event", k)
		}
	}
}

// A list that names a finding in few words also says what to do first, for every code.
func TestFindingsHaveJobs(t *testing.T) {
	t.Parallel()
	for _, c := range FindingCodes {
		if c.Words() == "" || strings.Contains(c.Words(), "_") || c.Job() == "" {
			t.Errorf("%s: words %q, job %q", c, c.Words(), c.Job())
		}
	}
}
