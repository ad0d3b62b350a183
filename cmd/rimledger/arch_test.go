package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// allowed is who may import whom inside the project. Test files may import
// more; a package that is not in the table fails the test.
var allowed = map[string][]string{
	"models/units":     {},
	"models/badinput":  {},
	"models/notation":  {"models/units"},
	"models/tiresize":  {"models/units"},
	"models/legal":     {"models/units"},
	"models/wear":      {"models/badinput", "models/units"},
	"models/vibration": {"models/badinput", "models/units"},
	"models/pattern":   {"models/badinput", "models/units", "models/vibration"},
	"models/balance":   {"models/badinput", "models/units"},
	"models/bench":     {"models/badinput", "models/balance", "models/tiresize", "models/units"},
	"models":           {"models/units", "models/wear"},
	"models/access":    {"models"},
	"models/history":   {"models", "models/units", "models/wear", "models/balance"},
	"models/assess": {
		"models",
		"models/units",
		"models/history",
		"models/tiresize",
		"models/legal",
		"models/wear",
		"models/pattern",
		"models/vibration",
		"models/balance",
		"models/bench",
	},
	"models/fleet": {
		"models",
		"models/access",
		"models/assess",
		"models/history",
		"models/legal",
		"models/notation",
		"models/pattern",
		"models/tiresize",
		"models/units",
		"models/wear",
	},
	"models/demo":            {"models", "models/fleet", "models/tiresize", "models/units"},
	"models/store":           {"models", "models/history", "models/units", "models/wear"},
	"models/store/storetest": {"models", "models/units", "models/wear"},
	"reports/digest":         {"models", "models/fleet", "models/legal", "models/units"},
	"reports/mail":           {},
	"reports/calendar":       {},
	"reports/jobs":           {"models", "models/fleet", "models/units", "reports/digest", "reports/mail"},
	"reports/sheet":          {"models", "models/fleet", "models/units"},
	"api/problem":            {"models"},
	"api/calc": {"models", "models/badinput", "models/balance", "models/bench", "models/pattern", "models/tiresize",
		"models/units", "models/vibration", "models/wear"},
	"api/auth": {"api/problem", "models", "models/access", "models/fleet"},
	"api/rest": {
		"api/auth",
		"api/calc",
		"api/problem",
		"models",
		"models/access",
		"models/assess",
		"models/fleet",
		"models/legal",
		"models/notation",
		"models/units",
		"reports/sheet",
		"models/pattern",
		"models/wear",
	},
	"api/web/say":    {"models", "models/notation", "models/units"},
	"api/web/form":   {"api/web/say", "models", "models/units"},
	"api/web/static": {},
	"api/web/draw": {
		"api/web/say",
		"models",
		"models/fleet",
		"models/history",
		"models/pattern",
		"models/units",
		"models/vibration",
		"models/wear",
	},
	"api/web/site": {
		"api/auth",
		"api/problem",
		"api/web/form",
		"api/web/say",
		"models",
		"models/access",
		"models/fleet",
		"models/units",
	},
	"api/web/yard": {
		"api/problem",
		"api/web/form",
		"api/web/say",
		"api/web/site",
		"models",
		"models/fleet",
		"models/pattern",
		"models/units",
	},
	"api/web/work": {"api/web/form", "api/web/say", "api/web/site", "models", "models/fleet", "models/units"},
	"api/web/bench": {
		"api/web/form",
		"api/web/say",
		"api/web/site",
		"models",
		"models/balance",
		"models/bench",
		"models/fleet",
		"models/units",
	},
	"api/web/desk": {"api/web/form", "api/web/say", "api/web/site", "models", "models/fleet", "reports/calendar"},
	"api/web/record": {
		"api/web/draw",
		"api/web/form",
		"api/web/say",
		"api/web/site",
		"models",
		"models/assess",
		"models/fleet",
		"models/units",
	},
	"api/web/settings": {
		"api/web/form",
		"api/web/say",
		"api/web/site",
		"models",
		"models/legal",
		"models/notation",
		"models/units",
	},
	"api/web/sheets": {"api/web/form", "api/web/say", "api/web/site", "models", "models/fleet", "reports/sheet"},
	"api/web": {
		"api/web/bench",
		"api/web/desk",
		"api/web/record",
		"api/web/settings",
		"api/web/sheets",
		"api/web/site",
		"api/web/static",
		"api/web/work",
		"api/web/yard",
	},
	"api": {"api/auth", "api/calc", "api/problem", "api/rest", "api/web", "models", "models/fleet"},

	"reports/sheet/sheettest": {},
	"api/web/webtest": {
		"api",
		"models",
		"models/demo",
		"models/fleet",
		"models/modeltest",
		"models/store",
		"models/units",
		"reports/jobs",
	},
	"models/modeltest": {},
}

// mostImports is how many packages of the project one of the pages may import, by
// our own choice: what needs more does more than one thing. api/web only mounts
// the others and is not counted.
const mostImports = 8

func TestPagesImportFewPackages(t *testing.T) {
	t.Parallel()

	for pkg, may := range allowed {
		if strings.HasPrefix(pkg, "api/web/") && !testOnly(pkg) && len(may) > mostImports {
			t.Errorf("%s may import %d packages of the project, want %d at most", pkg, len(may), mostImports)
		}
	}
}

// pure packages compute: no clock, no files, no network, no database.
var pure = []string{"models/units", "models/badinput", "models/tiresize", "models/legal", "models/wear",
	"models/vibration", "models/pattern", "models/balance", "models/bench", "models/history", "models/assess"}

func TestImportRules(t *testing.T) {
	t.Parallel()

	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && strings.HasPrefix(d.Name(), ".") && path != root {
			return fs.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}

		rel, err := filepath.Rel(root, filepath.Dir(path))
		if err != nil {
			return err
		}
		checkImports(t, filepath.ToSlash(rel), path)
		return nil
	})

	if err != nil {
		t.Fatal(err)
	}
}

func checkImports(t *testing.T, pkg, path string) {
	t.Helper()
	command := strings.HasPrefix(pkg, "cmd/")
	may, known := allowed[pkg]
	if !known && !command {
		t.Errorf("package %s is not in the table of allowed imports; add it with what it may import", pkg)
		return
	}

	src, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	f, err := parser.ParseFile(token.NewFileSet(), path, src, parser.ImportsOnly)
	if err != nil {
		t.Fatal(err)
	}

	for _, imp := range f.Imports {
		name, err := strconv.Unquote(imp.Path.Value)
		if err != nil {
			t.Fatal(err)
		}

		local, ours := strings.CutPrefix(name, "rimledger/")
		switch {
		case ours && testOnly(local) && !testOnly(pkg):
			t.Errorf("%s imports %s, which is for tests only", path, name)
		case command:
		case ours && !slices.Contains(may, local):
			t.Errorf("%s imports %s, which %s may not", path, name, pkg)
		case !ours && slices.Contains(pure, pkg) && !pureImport(name):
			t.Errorf("%s imports %s; %s only computes", path, name, pkg)
		}
	}
}

// pureImport reports whether a computing package may use a library.
func pureImport(name string) bool {
	if strings.HasPrefix(name, "gonum.org/v1/gonum/") {
		return true
	}
	switch name {
	case "os", "log", "log/slog", "net", "net/http", "database/sql", "context", "math/rand", "math/rand/v2":
		return false
	}
	return !strings.Contains(strings.Split(name, "/")[0], ".")
}
