package static

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"regexp"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"
)

//go:embed *.js *.css *.png *.svg *.txt
var files embed.FS

// read returns an embedded file that is known to be there.
func read(name string) []byte {
	b, err := files.ReadFile(name)
	if err != nil {
		panic(err) // an embedded file cannot be missing
	}
	return b
}

// namesLike are the names of the embedded files that match a pattern.
func namesLike(pattern string) []string {
	files, err := fs.Glob(files, pattern)
	if err != nil {
		panic(err) // the pattern is wrong
	}
	for i, name := range files {
		files[i] = path.Base(name)
	}
	return files
}

// Version names the embedded files by their content: a changed file is
// fetched anew, and a phone drops what it kept of the old ones.
var Version = func() string {
	sum := sha256.New()
	for _, name := range namesLike("*") {
		b := read(name)
		fmt.Fprintf(sum, "%s %d\n", name, len(b))
		sum.Write(b)
	}
	return hex.EncodeToString(sum.Sum(nil))[:16]
}()

// Asset is the address of an embedded file. The version is a folder, so that a
// module that imports "./keep.js" gets the file of its own version.
func Asset(name string) string { return "/static/" + Version + "/" + name }

// Answer answers embedded files. A page that was built before the files changed
// is sent on to those there are: what is imported from there fits.
func Answer(c echo.Context) error {
	version, name := path.Split(c.Param("*"))
	b, err := files.ReadFile(name)
	if err != nil {
		return c.NoContent(http.StatusNotFound)
	}

	h := c.Response().Header()
	if version != Version+"/" {
		h.Set("Cache-Control", "no-store")
		return c.Redirect(http.StatusTemporaryRedirect, Asset(name))
	}
	h.Set("Cache-Control", "public, max-age=31536000, immutable")

	return c.Blob(http.StatusOK, mime.TypeByExtension(path.Ext(name)), b)
}

// importLine matches an import of another of our modules, or the last line of one
// that takes several.
var importLine = regexp.MustCompile(`(?m)^(?:import|.* from) "\./([^"/]+\.js)";`)

// imports are the modules that each script imports, by name.
var imports = func() map[string][]string {
	out := map[string][]string{}
	for _, name := range namesLike("*.js") {
		if strings.HasSuffix(name, ".min.js") {
			continue // another project's, in one piece
		}
		for _, match := range importLine.FindAllSubmatch(read(name), -1) {
			out[name] = append(out[name], string(match[1]))
		}
	}
	return out
}()

// withImports are these scripts with all that they import, at any depth, each once.
func withImports(entries ...string) []string {
	found := slices.Clone(entries)
	for i := 0; i < len(found); i++ {
		for _, name := range imports[found[i]] {
			if !slices.Contains(found, name) {
				found = append(found, name)
			}
		}
	}
	return found
}

// Module writes the tag of a script that is a module, and has the browser fetch
// what it imports at the same time, not one after the other.
func Module(name string) template.HTML {
	var tags strings.Builder
	for _, imported := range withImports(name)[1:] {
		fmt.Fprintf(&tags, "<link rel=\"modulepreload\" href=\"%s\">\n", Asset(imported))
	}
	fmt.Fprintf(&tags, "<script type=\"module\" src=\"%s\"></script>\n", Asset(name))
	return template.HTML(tags.String())
}

// yardAssets are the files that the yard needs without a network: what its page
// asks for.
var yardAssets = slices.Concat(
	[]string{"style.css", "yard.css", "mark.svg", "mark-192.png"},
	withImports("page.js", "phone.js", "yard.js"),
)
