package static

import (
	"bytes"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/tdewolff/parse/v2"
	"github.com/tdewolff/parse/v2/js"
)

// browserNames are what our modules may use without a declaration: the names of
// ECMAScript and of the browser's window and worker scopes that they need.
var browserNames = strings.Fields(`
	AbortController AbortSignal Array Boolean BroadcastChannel DOMParser Date Error Infinity Intl JSON Map
	Math MessageEvent NaN Number Object Promise Request ResizeObserver Response Set String URL
	URLSearchParams Uint8Array addEventListener btoa caches clearTimeout clients confirm createImageBitmap
	crypto document encodeURIComponent fetch getComputedStyle globalThis indexedDB localStorage location
	matchMedia navigator print scrollTo setTimeout skipWaiting undefined
`)

// script is a parsed module of ours.
type script struct {
	ast     *js.AST
	exports []string
}

func parseModules(t *testing.T) map[string]script {
	t.Helper()
	out := map[string]script{}
	for name, text := range ownFiles(t, ".js") {
		ast, err := js.Parse(parse.NewInputBytes(text), js.Options{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = script{ast, exportedNames(ast)}
	}
	return out
}

func exportedNames(ast *js.AST) (names []string) {
	for _, statement := range ast.List {
		export, ok := statement.(*js.ExportStmt)
		if !ok {
			continue
		}

		switch decl := export.Decl.(type) {
		case *js.FuncDecl:
			names = append(names, string(decl.Name.Data))
		case *js.ClassDecl:
			names = append(names, string(decl.Name.Data))
		case *js.VarDecl:
			for _, binding := range decl.List {
				if v, ok := binding.Binding.(*js.Var); ok {
					names = append(names, string(v.Data))
				}
			}
		}
	}

	return names
}

// TestModulesFit parses every script as a module: each name that it uses is its
// own, imported or the browser's; what it imports is exported there; and what the
// server reads of its imports, for the tags of pages and for what a phone keeps,
// is the same.
func TestModulesFit(t *testing.T) {
	t.Parallel()

	scripts := parseModules(t)
	for name, s := range scripts {
		var imported, bound []string
		for _, statement := range s.ast.List {
			line, ok := statement.(*js.ImportStmt)
			if !ok {
				continue
			}
			from := strings.TrimPrefix(string(bytes.Trim(line.Module, `"`)), "./")
			imported = append(imported, from)

			for _, alias := range line.List {
				bound = append(bound, string(alias.Binding))
				if string(alias.Name) == "*" {
					checkMembers(t, name, s.ast, string(alias.Binding), scripts[from].exports)
				}
			}

			checkImport(t, name, from, line, scripts)
		}

		if !slices.Equal(imported, imports[name]) {
			t.Errorf("%s imports %v, the server reads %v", name, imported, imports[name])
		}

		for _, v := range s.ast.Scope.Undeclared {
			unknown := string(v.Data)
			if !slices.Contains(browserNames, unknown) && !slices.Contains(bound, unknown) {
				t.Errorf("%s uses %s, which it neither declares nor imports", name, unknown)
			}
		}
	}

	// Only pages, the worker's address and other modules load modules.
	loaded := withImports("page.js", "phone.js", "plainform.js", "swaps.js", "trend.js", "yard.js", "worker.js")

	for name := range maps.Keys(scripts) {
		if !slices.Contains(loaded, name) {
			t.Errorf("nothing loads %s", name)
		}
	}
}

func checkImport(t *testing.T, name, from string, line *js.ImportStmt, scripts map[string]script) {
	t.Helper()
	source, ours := scripts[from]
	if !ours && !slices.Contains(namesLike("*.min.js"), from) {
		t.Errorf("%s imports %s, which is not there", name, from)
	}

	for _, alias := range line.List {
		wanted := string(alias.Name)
		if wanted == "" {
			wanted = string(alias.Binding)
		}
		if wanted != "*" && !slices.Contains(source.exports, wanted) {
			t.Errorf("%s imports %s from %s, which exports %v", name, wanted, from, source.exports)
		}
	}
}

// checkMembers asks that what is used of a module that is imported as a whole is
// exported there.
func checkMembers(t *testing.T, name string, ast *js.AST, binding string, exports []string) {
	t.Helper()
	js.Walk(memberVisitor(func(object, member string) {
		if object == binding && !slices.Contains(exports, member) {
			t.Errorf("%s uses %s.%s, of which only %v are exported", name, object, member, exports)
		}
	}), ast)
}

// memberVisitor is given each object that is a plain name, and its member.
type memberVisitor func(object, member string)

func (visit memberVisitor) Enter(n js.INode) js.IVisitor {
	if dot, ok := n.(*js.DotExpr); ok {
		if object, ok := dot.X.(*js.Var); ok {
			visit(object.String(), dot.Y.String())
		}
	}
	return visit
}

func (visit memberVisitor) Exit(js.INode) {}
