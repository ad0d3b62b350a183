package main

import (
	"bufio"
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Limits of how the code is laid out; chosen by us after measuring services
// that read well, in which 11 to 14 % of a body's lines are blank.
const (
	maxColumns      = 120 // of a Go line, a tab counts four
	wallLines       = 25  // a longer body has paragraphs
	maxAssigned     = 3   // values of one assignment
	minBlankShare   = 0.08
	maxBlankShare   = 0.16
	maxPackageLines = 4000 // of a package under api/web
)

// layout is what is counted over Go files.
type layout struct {
	bodies, bodyLines, blankLines, commentLines int
	longBodies                                  int
	walls, wide, manyAssigned                   []string // where, as file:line
}

// testOnly reports whether a package, or its folder, holds what tests share: only
// test files import it.
func testOnly(pkg string) bool { return strings.HasSuffix(pkg, "test") }

// remaining is how many faults are left from before; lower the numbers as they go.
type remaining struct{ walls, wide, manyAssigned int }

// TestLayout measures how the Go code is laid out and fails where it stops to
// read in paragraphs. Run it with -v for the figures.
func TestLayout(t *testing.T) {
	t.Parallel()

	var production, tests layout
	webLines := map[string]int{}
	eachGoFile(t, func(path string, src []byte) {
		if dir := filepath.ToSlash(filepath.Dir(path)); strings.HasSuffix(path, "_test.go") || testOnly(dir) {
			tests.add(t, path, src)
			return
		}

		production.add(t, path, src)
		if dir := filepath.ToSlash(filepath.Dir(path)); strings.Contains(dir, "api/web") {
			webLines[dir] += bytes.Count(src, []byte("\n"))
		}
	})

	production.report(t, "production code", remaining{})
	tests.report(t, "tests", remaining{})

	for dir, n := range webLines {
		t.Logf("%s: %d lines", dir, n)
		if n > maxPackageLines {
			t.Errorf("%s has %d lines; a room has at most %d", dir, n, maxPackageLines)
		}
	}
}

// report logs the figures of l and fails the test where they break a limit.
func (l layout) report(t *testing.T, what string, left remaining) {
	t.Helper()

	blank := float64(l.blankLines) / float64(l.bodyLines)
	t.Logf("%s: %d bodies, %d over %d lines; %.1f %% of their lines blank, %.1f %% comments",
		what, l.bodies, l.longBodies, wallLines, 100*blank, 100*float64(l.commentLines)/float64(l.bodyLines))
	if blank < minBlankShare || blank > maxBlankShare {
		t.Errorf("%s: the share of blank lines is %.1f %%; want %.0f to %.0f %%",
			what, 100*blank, 100*minBlankShare, 100*maxBlankShare)
	}

	for _, fault := range []struct {
		what   string
		places []string
		most   int
	}{
		{"bodies are long and without a paragraph", l.walls, left.walls},
		{"lines are too wide", l.wide, left.wide},
		{"assignments have too many values", l.manyAssigned, left.manyAssigned},
	} {
		t.Logf("%s: %d %s", what, len(fault.places), fault.what)
		if len(fault.places) > fault.most {
			t.Errorf("%s: %d %s, at most %d are left from before: %s",
				what, len(fault.places), fault.what, fault.most, strings.Join(fault.places, ", "))
		}
	}
}

// add counts one file.
func (l *layout) add(t *testing.T, path string, src []byte) {
	t.Helper()

	fset := token.NewFileSet()
	file, err := parser.ParseFile(fset, path, src, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}

	var lines []string
	for s := bufio.NewScanner(bytes.NewReader(src)); s.Scan(); {
		lines = append(lines, s.Text())
	}

	mayBeWide := exempt(fset, file)
	for i, line := range lines {
		if columns(line) > maxColumns && !mayBeWide[i+1] {
			l.wide = append(l.wide, place(path, i+1))
		}
	}

	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			if len(n.Lhs) > maxAssigned {
				l.manyAssigned = append(l.manyAssigned, place(path, fset.Position(n.Pos()).Line))
			}
		case *ast.FuncDecl:
			if n.Body != nil {
				l.addBody(path, lines, fset.Position(n.Body.Lbrace).Line, fset.Position(n.Body.Rbrace).Line)
			}
		}
		return true
	})
}

// addBody counts the lines between a body's braces, which are on these lines.
func (l *layout) addBody(path string, lines []string, open, end int) {
	if end-open < 2 {
		return
	}

	blank := 0
	for _, line := range lines[open : end-1] {
		switch trimmed := strings.TrimSpace(line); {
		case trimmed == "":
			blank++
		case strings.HasPrefix(trimmed, "//"):
			l.commentLines++
		}
	}

	n := end - open - 1
	l.bodies++
	l.bodyLines += n
	l.blankLines += blank
	if n <= wallLines {
		return
	}
	l.longBodies++
	if blank == 0 {
		l.walls = append(l.walls, place(path, open))
	}
}

// exempt returns the lines that may be wide: the tag of a field and raw text,
// which Go cannot break, and the rows of a table, which are read across.
func exempt(fset *token.FileSet, file *ast.File) map[int]bool {
	out := map[int]bool{}
	add := func(n ast.Node) {
		for line := fset.Position(n.Pos()).Line; line <= fset.Position(n.End()).Line; line++ {
			out[line] = true
		}
	}

	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BasicLit:
			if n.Kind == token.STRING && strings.HasPrefix(n.Value, "`") {
				add(n)
			}
		case *ast.CompositeLit:
			switch n.Type.(type) {
			case *ast.ArrayType, *ast.MapType:
				add(n)
			}
		}
		return true
	})

	return out
}

// columns returns how wide a line is shown, a tab counting four columns.
func columns(line string) int { return len([]rune(strings.ReplaceAll(line, "\t", "    "))) }

// place names a line of a file of the project.
func place(path string, line int) string {
	rel, err := filepath.Rel(filepath.Join("..", ".."), path)
	if err != nil {
		rel = path
	}
	return filepath.ToSlash(rel) + ":" + strconv.Itoa(line)
}

// eachGoFile calls do with every Go file of the project.
func eachGoFile(t *testing.T, do func(path string, src []byte)) {
	t.Helper()

	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && strings.HasPrefix(d.Name(), ".") && path != root {
			return fs.SkipDir
		}
		if !strings.HasSuffix(path, ".go") {
			return nil
		}

		src, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		do(path, src)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
