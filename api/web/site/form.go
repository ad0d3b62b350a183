package site

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"rimledger/api/web/form"
	"rimledger/models"
)

// Managing answers with h those who may manage; the use-cases would refuse the others later.
func Managing(h Handler) Handler {
	return func(r *Request) error {
		if !r.Manages() {
			return models.Errorf(
				models.Forbidden,
				"a %s may not change vehicles, tires and wheels; ask a manager",
				r.Actor.User.Role,
			)
		}
		return h(r)
	}
}

// WithNotice adds what was just done to an address.
func WithNotice(to, what string) string {
	if strings.Contains(to, "?") {
		return to + "&said=" + what
	}
	return to + "?said=" + what
}

// PostedForm reads a posted form. A body that is too large or no form is refused.
func (r *Request) PostedForm() (url.Values, error) {
	if err := r.Request().ParseForm(); err != nil {
		var tooBig *http.MaxBytesError
		if errors.As(err, &tooBig) {
			return nil, err
		}
		return nil, models.Errorf(models.Invalid, "the form could not be read; it may have been cut off on the way")
	}
	return r.Request().PostForm, nil
}

// FormPage is a form of the settings.
type FormPage struct {
	Heading, Intro string
	Action         string
	Entry          *form.Entry
	Sections       []form.Section
	Version        int64
	Back, BackText string         // the way back; empty: the settings
	Nav            string         // entry of the navigation; empty: the settings
	Depot          *models.Depot  // with links to its policies
	Classes        []models.Class // of those links
	Person         *models.User   // whose password may be set
}

func (s *Site) ShowForm(r *Request, status int, p FormPage) error {
	p.Classes = models.Classes
	if p.Back == "" {
		p.Back, p.BackText, p.Nav = "/settings", "Settings", "settings"
	}
	return r.ShowStatus(status, "form", p.Nav, p.Heading, p)
}

func (r *Request) DepotOptions() []form.Option {
	var out []form.Option
	for _, d := range r.Depots {
		out = append(out, form.Option{Value: string(d.ID), Label: d.Name})
	}
	return out
}

// SentBefore reports whether a refusal means that an earlier version of this
// form is in the record already. The form then gets a new number, so that
// sending it again, knowingly, records it as well.
func (r *Request) SentBefore(e *form.Entry, err error) bool {
	if !errors.Is(err, models.Conflict) {
		return false
	}
	if _, err := r.Site.Fleet.Event(r.Ctx(), r.Actor, models.EventID(e.Text("id"))); err != nil {
		return false
	}
	e.Sent.Set("id", form.NewEventID())
	e.Msg = "An earlier version of this form is already recorded; see the timeline. If that one was wrong, withdraw " +
		"it there. Send this one only if it is to be recorded as well"
	return true
}
