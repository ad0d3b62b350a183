package site

import (
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"log/slog"
	"path"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"rimledger/models"
)

//go:embed templates
var templates embed.FS

// pages are the parsed templates, one set a page, each over the same layout.
type pages map[string]*template.Template

// New starts a site on e with the pages that need no room: signing in, refusals,
// addresses that are not there. funcs are functions for templates beside those of
// this package. New fails only if an embedded template is broken.
func New(e *echo.Echo, d Deps, funcs template.FuncMap) (*Site, error) {
	if d.Now == nil {
		d.Now = time.Now
	}
	if d.Log == nil {
		d.Log = slog.Default()
	}

	layout := template.New("layout").Funcs(words).Funcs(funcs)
	layout, err := layout.ParseFS(templates, "templates/layout.html", "templates/part_*.html")
	if err != nil {
		return nil, fmt.Errorf("parse layout: %w", err)
	}
	s := &Site{Deps: d, Echo: e, layout: layout, pages: pages{}}
	if err := s.addPages(layout, templates); err != nil {
		return nil, err
	}

	e.GET("/sign-in", s.forStrangers(s.signInForm))
	e.POST("/sign-in", s.forStrangers(s.signIn))
	e.POST("/sign-out", s.forStrangers(s.signOut))
	e.GET("/first", s.forStrangers(s.firstForm))
	e.POST("/first", s.forStrangers(s.first))
	e.RouteNotFound("/*", s.notFound)

	return s, nil
}

// AddPages parses the templates of a room: parts that its pages share, in files
// templates/part_*.html, and pages, in files templates/page_*.html. A page is
// shown by the name of its file without that beginning and ending.
func (s *Site) AddPages(rooms ...fs.FS) error {
	shared, err := s.layout.Clone()
	if err != nil {
		return err
	}

	for _, files := range rooms {
		parts, err := fs.Glob(files, "templates/part_*.html")
		if err != nil {
			return err
		}
		if len(parts) == 0 {
			continue
		}
		if shared, err = shared.ParseFS(files, parts...); err != nil {
			return fmt.Errorf("parse parts: %w", err)
		}
	}

	for _, files := range rooms {
		if err := s.addPages(shared, files); err != nil {
			return err
		}
	}

	return nil
}

// addPages parses the pages of one folder, each over what they share.
func (s *Site) addPages(shared *template.Template, files fs.FS) error {
	names, err := fs.Glob(files, "templates/page_*.html")
	if err != nil {
		return err
	}

	for _, file := range names {
		set, err := shared.Clone()
		if err == nil {
			set, err = set.ParseFS(files, file)
		}

		if err != nil {
			return fmt.Errorf("parse %s: %w", file, err)
		}

		name := strings.TrimSuffix(strings.TrimPrefix(path.Base(file), "page_"), ".html")
		if s.pages[name] != nil {
			return fmt.Errorf("two pages are named %s", name)
		}
		s.pages[name] = set
	}

	return nil
}

// notFound answers for an address that is not there, with their way around for
// who is signed in.
func (s *Site) notFound(c echo.Context) error {
	if strings.HasPrefix(c.Request().URL.Path, "/api/") {
		return echo.ErrNotFound // the API answers in its own form
	}
	if actor, err := s.Who(c); err == nil {
		if r, err := s.RequestOf(c, actor); err == nil {
			c.Set(signedInKey, r)
		}
	}
	return s.Failed(c, models.Errorf(models.NotFound, "no page has the address %.80s", c.Request().URL.Path))
}
