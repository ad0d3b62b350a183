package site

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"rimledger/api/problem"
	"rimledger/api/web/say"
	"rimledger/models"
)

// frame is what every page shows around its body.
type frame struct {
	Title    string
	Nav      string // the entry of the navigation that this page belongs to
	Notation string // language tag of the country as which the person reads
	Person   string // empty: nobody is signed in
	ID       models.UserID
	Reads    string // see Request.Reads
	Records  bool   // the person may record inspections and work
	Manages  bool
	Notice   string // what was just done
	Version  string
	Now      time.Time // and Zone: printed on paper, where Person is set
	Zone     say.Clock // of the first depot that the person sees
	Body     any
}

// write renders a page into memory first, so that a fault in a template never
// sends half a page.
func (s *Site) write(c echo.Context, status int, page string, f frame) error {
	f.Version = s.Version
	var b bytes.Buffer
	if err := s.pages[page].ExecuteTemplate(&b, "layout", f); err != nil {
		return fmt.Errorf("render page %s: %w", page, err)
	}
	return c.HTMLBlob(status, b.Bytes())
}

// ShowPart renders one named part of a page, for a script that puts it in place.
func (s *Site) ShowPart(c echo.Context, page, name string, data any) error {
	var b bytes.Buffer
	if err := s.pages[page].ExecuteTemplate(&b, name, data); err != nil {
		return fmt.Errorf("render %s of page %s: %w", name, page, err)
	}
	return c.HTMLBlob(http.StatusOK, b.Bytes())
}

// notices are what may be said after a redirect; the address names one.
var notices = map[string]string{
	"inspection": "Inspection recorded.",
	"done":       "Recorded.",
	"saved":      "Saved.",
	"ack":        "Acknowledged. It stays listed, quietly, until the date you gave.",
	"password":   "Your password is changed. You stay signed in here and are signed out everywhere else.",
	"mailed":     "Sent. The digest is on its way to your own mail address.",
	"mailedonce": "You asked for this copy before, so it was mailed once only. If none has come after some minutes, " +
		"press the button again.",
	"booked": "Booked in. Each finding of the vehicles you chose says so, with your name.",
	"unack":  "Acknowledgement withdrawn.",
	"token": "That token was made before, and its secret was shown then, once. If it is lost, revoke it below " +
		"and make another.",
	"repeated": "This was recorded before; nothing was added.",
}

// ShowStatus renders a page with an HTTP status. nav is its entry of the navigation.
func (r *Request) ShowStatus(status int, page, nav, title string, body any) error {
	f := r.frame()
	f.Title, f.Nav, f.Body = title, nav, body
	f.Notice = notices[r.QueryParam("said")]
	return r.Site.write(r.Context, status, page, f)
}

// frame returns what every page shows of the person and how they read.
func (r *Request) frame() frame {
	return frame{
		Notation: r.notationTag(),
		Person:   r.Actor.User.Name,
		ID:       r.Actor.User.ID,
		Reads:    r.Reads(),
		Records:  r.Records(),
		Manages:  r.Manages(),
		Now:      r.Now,
		Zone:     r.Clock(models.Depot{}),
	}
}

// Show renders a page with status 200.
func (r *Request) Show(page, nav, title string, body any) error {
	return r.ShowStatus(http.StatusOK, page, nav, title, body)
}

// problemPage is what the error page says.
type problemPage struct {
	Heading, Text, Remedy string
	Fields                []models.Field
	Request               string // to quote to whoever runs the server
}

// errorTexts say of each kind of error what happened and what a person can do.
var errorTexts = map[models.Kind]struct {
	heading, remedy string
}{
	models.Invalid: {
		"That could not be accepted",
		"Nothing was changed. Go back, put right what is named here and send it again.",
	},
	models.Held: {
		"Measure again, or confirm",
		"Nothing was recorded. Go back, measure again what is named here, or confirm what you are sure of.",
	},
	models.NotFound: {
		"There is nothing here",
		"The address may be mistyped, or what it names belongs to a depot that you do not see. Search for the " +
			"vehicle or the tire; a manager can let you see more depots.",
	},
	models.Conflict: {
		"That contradicts what is recorded",
		"Nothing was recorded. Look at the timeline of the vehicle or the tire for what is there, then go back and " +
			"put your entry right.",
	},
	models.Stale: {
		"Someone else saved this in the meantime",
		"Yours was not saved. Open it again to see what is there now, then make your change in it.",
	},
	models.Unauthenticated: {
		"Sign in first",
		"Then open this page again. A calendar program needs a new address from the settings.",
	},
	models.Forbidden: {
		"Your role does not allow this",
		"Nothing was changed. Ask a manager of the depot to do it, or to give you a role that may.",
	},
	models.TooLarge: {
		"That is more than is taken at once",
		"Nothing was recorded. Go back and send less at a time: a smaller file or photo, or a shorter text.",
	},
	models.RateLimited: {
		"Too many tries",
		"Who has forgotten a password is given a new one by a manager.",
	},
	models.Unavailable: {
		"The record cannot be reached just now",
		"Nothing was lost or half done. Wait a minute, then go back and send the same again; twice makes one " +
			"record. If it stays so, tell whoever runs this server.",
	},
	models.Internal: {
		"Something broke on our side",
		"Nothing was half done. Go back and try again: sent twice makes one record. If it happens again, tell " +
			"whoever runs this server the number below.",
	},
}

// signedInKey is where a request of a person who is signed in is kept with the
// context, so that a page about an error keeps their way around.
const signedInKey = "signed in"

// Fault answers with a page about what went wrong outside of any page, such as
// a session that cannot be read.
func (s *Site) Fault(c echo.Context, err error) {
	var h *echo.HTTPError
	if errors.As(err, &h) && h.Code < http.StatusInternalServerError {
		err = models.Errorf(models.NotFound, "no page answers to this at %.80s", c.Request().URL.Path)
	}
	if err := s.Failed(c, err); err != nil {
		s.Log.ErrorContext(c.Request().Context(), "page failed", "error", err)
	}
}

// StatusOf returns the HTTP status of err, by the table that the API uses too.
func StatusOf(err error) int { return problem.Status(models.KindOf(err)) }

// Failed answers with a page about err. The text of unknown errors stays in the log.
func (s *Site) Failed(c echo.Context, err error) error {
	var tooBig *http.MaxBytesError
	if errors.As(err, &tooBig) {
		err = models.Errorf(models.TooLarge, "a form may send at most 1 MB")
	}

	kind := models.KindOf(err)
	texts, known := errorTexts[kind]
	if !known {
		texts = errorTexts[models.Internal]
	}
	p := problemPage{Heading: texts.heading, Remedy: texts.remedy}

	if after := problem.RetryAfter(err); after != "" {
		c.Response().Header().Set("Retry-After", after)
	}

	if kind == models.Unavailable && models.WaitOf(err) > 0 {
		p.Heading, p.Remedy = "Too much to do just now", "Nothing was changed. Wait that long, go back and send the "+
			"same again."
	}

	var e *models.Error
	if errors.As(err, &e) && kind != models.Internal {
		p.Text, p.Fields = models.Capitalize(e.Msg), e.Fields
	} else {
		p.Request = problem.RequestID(c.Request().Context())
		s.Log.ErrorContext(c.Request().Context(), "page failed", "path", c.Path(), "request", p.Request, "error", err)
	}

	var f frame
	if r, ok := c.Get(signedInKey).(*Request); ok {
		f = r.frame()
	}
	f.Title, f.Body = p.Heading, p

	return s.write(c, problem.Status(kind), "problem", f)
}
