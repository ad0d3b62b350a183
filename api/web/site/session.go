package site

import (
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"rimledger/api/problem"
	"rimledger/api/web/form"
	"rimledger/models"
	"rimledger/models/fleet"
)

// keptPrefix marks the fields of a form that was sent without a session; they
// travel through the sign-in page so that nothing that was typed is lost.
const keptPrefix = "kept."

// signInPage asks who is there.
type signInPage struct {
	Email   string
	Problem string
	To      string // where to go afterwards: a path of this site
	Kept    []keptField
}

type keptField struct{ Name, Value string }

// resumePage offers to send again what was typed before signing in.
type resumePage struct {
	To     string
	Fields []keptField
}

// firstPage makes the first manager.
type firstPage struct {
	Key   string
	Entry *form.Entry
	Name  string
	Email string
}

// forStrangers wraps pages that need nobody to be signed in.
func (s *Site) forStrangers(h echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		c.Request().Body = http.MaxBytesReader(c.Response(), c.Request().Body, 2*MaxForm)

		if err := c.Request().ParseForm(); err != nil {
			return s.Failed(
				c,
				models.Errorf(models.Invalid, "the form could not be read; it may have been cut off on the way"),
			)
		}

		if err := h(c); err != nil {
			return s.Failed(c, err)
		}
		return nil
	}
}

// Who returns who sends the request, as acting through the pages.
func (s *Site) Who(c echo.Context) (fleet.Actor, error) {
	a, err := s.Auth.Who(c.Request())
	if a.Token == nil {
		a.Source = models.FromPage
	}
	return a, err
}

// local returns to if it is a path of this site, else "/".
func local(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") ||
		strings.ContainsAny(to, "\\\r\n") {
		return "/"
	}
	return to
}

// askToSignIn answers a person who is not signed in. It keeps the form that they
// sent. If htmx asked for a part of a page, the whole page goes to sign-in, except
// where something is typed: that page stays until a button is pressed.
func (s *Site) askToSignIn(c echo.Context) error {
	if c.Request().Header.Get("HX-Request") != "" {
		if c.Request().Method == http.MethodPost {
			return s.write(
				c,
				http.StatusUnauthorized,
				"problem",
				frame{Title: "Signed out", Body: problemPage{Heading: "You were signed out",
					Remedy: "What you typed is still here. Press the button below it: you are asked to sign in, " +
						"and it comes along."}},
			)
		}

		c.Response().Header().Set("HX-Redirect", "/sign-in?"+url.Values{"to": {c.Request().URL.RequestURI()}}.Encode())
	}

	p := signInPage{To: c.Request().URL.RequestURI()}
	if c.Request().Method == http.MethodPost {
		if err := c.Request().ParseForm(); err != nil {
			return s.Failed(
				c,
				models.Errorf(models.Invalid, "the form could not be read; it may have been cut off on the way"),
			)
		}
		p.Problem = "You were signed out. Sign in to go on; what you entered is kept."
		p.Kept = keptFields(c.Request().PostForm, keptPrefix)
	}

	return s.write(c, http.StatusUnauthorized, "signin", frame{Title: "Sign in", Body: p})
}

// keptFields lists a form's fields in a steady order, with a prefix to their names.
// Passwords are never sent back to a page.
func keptFields(form url.Values, prefix string) []keptField {
	var out []keptField
	for _, name := range slices.Sorted(maps.Keys(form)) {
		if strings.Contains(name, "password") {
			continue
		}
		for _, v := range form[name] {
			out = append(out, keptField{prefix + name, v})
		}
	}
	return out
}

// keptValues returns the fields that came along, under their own names.
func keptValues(form url.Values) []keptField {
	var out []keptField
	for _, f := range keptFields(form, "") {
		if name, ok := strings.CutPrefix(f.Name, keptPrefix); ok {
			out = append(out, keptField{name, f.Value})
		}
	}
	return out
}

func (s *Site) signInForm(c echo.Context) error {
	if _, err := s.Who(c); err == nil {
		return c.Redirect(http.StatusSeeOther, local(c.QueryParam("to")))
	}
	return s.write(c, http.StatusOK, "signin", frame{Title: "Sign in", Body: signInPage{To: local(c.QueryParam("to"))}})
}

func (s *Site) signIn(c echo.Context) error {
	form := c.Request().PostForm
	to, kept := local(form.Get("to")), keptValues(form)

	_, err := s.Auth.SignIn(c.Response(), c.Request(), c.RealIP(), form.Get("email"), form.Get("password"))
	switch {
	case err != nil:
		return s.signInAgain(c, err, to, kept)
	case len(kept) > 0:
		return s.write(c, http.StatusOK, "resume", frame{Title: "Your entry was kept", Body: resumePage{to, kept}})
	}
	return c.Redirect(http.StatusSeeOther, to)
}

// signInAgain shows the sign-in page with why the last try failed, if another one
// may go well.
func (s *Site) signInAgain(c echo.Context, err error, to string, kept []keptField) error {
	var e *models.Error
	if !errors.As(err, &e) {
		return err
	}

	p := signInPage{Email: fleet.TypedEmail(c.Request().PostForm.Get("email")), To: to}
	switch {
	case e.Kind == models.Unauthenticated:
		p.Problem = "The mail address or the password is wrong."
	case e.Wait > 0:
		p.Problem = models.Capitalize(e.Msg) + "."
		c.Response().Header().Set("Retry-After", problem.RetryAfter(err))
	default:
		return err
	}

	for _, f := range kept {
		p.Kept = append(p.Kept, keptField{keptPrefix + f.Name, f.Value})
	}
	return s.write(c, problem.Status(e.Kind), "signin", frame{Title: "Sign in", Body: p})
}

func (s *Site) signOut(c echo.Context) error {
	if err := s.Auth.SignOut(c.Request().Context()); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/sign-in")
}

func (s *Site) firstForm(c echo.Context) error {
	if err := s.Auth.CheckFirst(c.Request().Context(), c.QueryParam("key")); err != nil {
		return err
	}
	return s.showFirst(c, http.StatusOK, form.NewEntry(url.Values{"key": {c.QueryParam("key")}}, form.NoUnits))
}

func (s *Site) showFirst(c echo.Context, status int, e *form.Entry) error {
	p := firstPage{Key: e.Text("key"), Entry: e, Name: e.Text("name"), Email: e.Text("email")}
	return s.write(c, status, "first", frame{Title: "The first manager", Body: p})
}

func (s *Site) first(c echo.Context) error {
	e := form.NewEntry(c.Request().PostForm, form.NoUnits)
	for _, name := range []string{"name", "email", "password"} {
		e.MapField(name, name)
	}

	_, err := s.Auth.First(
		c.Response(), c.Request(), e.Text("key"), e.Text("name"), e.Text("email"), e.Sent.Get("password"),
	)
	if err != nil {
		if e.ApplyError(err) {
			return s.showFirst(c, http.StatusUnprocessableEntity, e)
		}
		return err
	}

	return c.Redirect(http.StatusSeeOther, "/settings")
}
