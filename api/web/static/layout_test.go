package static

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/tdewolff/parse/v2"
	"github.com/tdewolff/parse/v2/css"
)

// maxColumns is how long a line of a script or of a style sheet may be.
const maxColumns = 120

// ownFiles returns our own files with this ending, by name: all but those that
// are vendored as they came.
func ownFiles(t *testing.T, ending string) map[string][]byte {
	t.Helper()
	names, err := filepath.Glob("*" + ending)
	if err != nil {
		t.Fatal(err)
	}
	if ending == ".css" {
		names = append(names, filepath.Join("..", "..", "rest", "reference.css"))
	}

	own := map[string][]byte{}
	for _, name := range names {
		if strings.HasSuffix(name, ".min"+ending) {
			continue
		}
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		own[filepath.Base(name)] = text
	}

	if len(own) < 2 {
		t.Fatalf("found %d files that end in %s", len(own), ending)
	}
	return own
}

// TestLinesAreShort reads every script and style sheet of ours.
func TestLinesAreShort(t *testing.T) {
	t.Parallel()

	for _, ending := range []string{".css", ".js"} {
		for name, text := range ownFiles(t, ending) {
			for i, line := range bytes.Split(text, []byte("\n")) {
				if n := utf8.RuneCount(line); n > maxColumns {
					t.Errorf("%s:%d has %d columns, want at most %d", name, i+1, n, maxColumns)
				}
				if bytes.HasSuffix(line, []byte(" ")) || bytes.Contains(line, []byte("\t")) {
					t.Errorf("%s:%d ends in a space or holds a tab", name, i+1)
				}
			}
		}
	}
}

// TestStylesAreOneDeclarationALine asks that a declaration, an opening and a
// closing brace each end their line, and so does each selector of a list.
func TestStylesAreOneDeclarationALine(t *testing.T) {
	t.Parallel()
	for name, text := range ownFiles(t, ".css") {
		for _, line := range crowdedLines(t, text) {
			t.Errorf("%s:%d goes on after a declaration, a brace or a selector", name, line)
		}
	}
}

// The check finds what it is there for.
func TestCrowdedLines(t *testing.T) {
	t.Parallel()

	for _, tt := range []struct {
		css  string
		want int
	}{
		{"a {\n  color: red;\n}\n", 0},
		{"a,\nb {\n  font: 1rem serif, sans-serif;\n}\n", 0},
		{"a:is(b, c) {\n  color: red; /* a remark */\n}\n", 0},
		{"a:hover,\nb:focus {\n  transition: color 1s, margin 1s;\n}\n", 0},
		{"a, b {\n  color: red;\n}\n", 1},
		{"a:hover, b:focus {\n  color: red;\n}\n", 1},
		{"a {\n  color: red; margin: 0;\n}\n", 1},
		{"a { color: red;\n}\n", 1},
		{"@media print {\n  a {\n    content: \"; {\";\n  } }\n", 1},
	} {
		if got := crowdedLines(t, []byte(tt.css)); len(got) != tt.want {
			t.Errorf("%q: lines %v are crowded, want %d", tt.css, got, tt.want)
		}
	}
}

// crowdedLines returns the lines on which something follows what should end them.
func crowdedLines(t *testing.T, text []byte) (crowded []int) {
	t.Helper()
	lexer := css.NewLexer(parse.NewInputBytes(text))
	line, brackets := 1, 0
	statementEnded, commaEnded, atRule := false, false, false

	var afterCommas []int // they count once a brace shows that it was a list of selectors
	for {
		kind, token := lexer.Next()
		switch kind {
		case css.ErrorToken:
			if err := lexer.Err(); !errors.Is(err, io.EOF) {
				t.Fatal(err)
			}
			return crowded
		case css.WhitespaceToken:
			if n := bytes.Count(token, []byte("\n")); n > 0 {
				line += n
				statementEnded, commaEnded = false, false
			}
			continue
		case css.CommentToken:
			line += bytes.Count(token, []byte("\n"))
			continue
		}

		if statementEnded {
			crowded = append(crowded, line)
		}
		if commaEnded {
			afterCommas = append(afterCommas, line)
		}

		statementEnded, commaEnded = false, false

		switch kind {
		case css.FunctionToken, css.LeftParenthesisToken, css.LeftBracketToken:
			brackets++
		case css.RightParenthesisToken, css.RightBracketToken:
			brackets--
		case css.AtKeywordToken:
			atRule = true
		case css.CommaToken:
			commaEnded = brackets == 0
		case css.LeftBraceToken:
			if !atRule {
				crowded = append(crowded, afterCommas...)
			}
			statementEnded, atRule, afterCommas = true, false, nil
		case css.RightBraceToken, css.SemicolonToken:
			statementEnded, atRule, afterCommas = true, false, nil
		}
	}
}
