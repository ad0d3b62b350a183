package desk

import (
	"net/http"
	"net/url"

	"github.com/google/uuid"

	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
)

// digestPage shows the mail of a depot as it would go out now.
type digestPage struct {
	Depots  []models.Depot
	Depot   models.Depot
	Subject string
	Text    string
	Slots   []models.DigestSlot
	NewID   string // of the form that asks for a copy: pressed twice it is one mail
	Mine    string // where a copy for the person would go; empty: nothing can be mailed
	Problem string
	Next    string // when the next one goes out
	Zone    say.Clock
}

func (s *room) digest(r *site.Request) error { return s.showDigest(r, http.StatusOK, "") }

// digestToMe mails the digest as it is now to the person who asks.
func (s *room) digestToMe(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	if s.DigestToMe == nil {
		return models.Errorf(
			models.Unavailable,
			"this server has no mail server to hand a digest to; whoever runs it can name one",
		)
	}

	depot := models.DepotID(sent.Get("depot"))
	before, err := s.Fleet.ClaimCopy(r.Ctx(), r.Actor, sent.Get("id"), depot)
	if err != nil {
		return err
	}
	back := "/digest?" + url.Values{"depot": {string(depot)}}.Encode()
	if before {
		return r.Redirect(http.StatusSeeOther, site.WithNotice(back, "mailedonce"))
	}

	err = s.DigestToMe(r.Ctx(), r.Actor, depot)
	if models.KindOf(err) == models.Unavailable {
		s.Log.WarnContext(r.Ctx(), "digest not sent", "error", err)
		return s.showDigest(
			r,
			http.StatusServiceUnavailable,
			"The mail server did not take it, so nothing was sent. Wait some minutes and press the button again; if "+
				"it fails again, tell whoever runs this server.",
		)
	}

	if err != nil {
		return err
	}
	return r.Redirect(http.StatusSeeOther, site.WithNotice(back, "mailed"))
}

func (s *room) showDigest(r *site.Request, status int, trouble string) error {
	p := digestPage{
		Depots:  r.Depots,
		Zone:    r.Clock(models.Depot{}),
		Problem: trouble,
		NewID:   uuid.Must(uuid.NewV7()).String(),
	}

	if s.DigestToMe != nil {
		p.Mine = r.Actor.User.Email
	}
	if len(r.Depots) == 0 {
		return r.Show("digest", "digest", "Digest", p)
	}

	id := models.DepotID(r.FormValue("depot"))
	if id == "" {
		id = r.Depots[0].ID
	}
	if p.Depot = r.Depot(id); p.Depot.ID == "" {
		return models.Errorf(models.NotFound, "no such depot")
	}
	p.Zone, p.Next = r.Clock(p.Depot), s.NextDigest(r, p.Depot)

	mail, err := s.DigestPreview(r.Ctx(), r.Actor, id)
	if err != nil {
		return err
	}
	p.Subject, p.Text = mail.Subject, mail.Text

	if r.QueryParam("as") == "html" {
		// The mail styles itself inline, which no page of ours may: it is handed
		// out as a file.
		r.Response().Header().Set("Content-Disposition", `attachment; filename="digest.html"`)
		return r.HTML(http.StatusOK, mail.HTML)
	}

	if p.Slots, err = s.Fleet.DigestSlots(r.Ctx(), r.Actor, id, 8); err != nil {
		return err
	}
	return r.ShowStatus(status, "digest", "digest", "Digest", p)
}
