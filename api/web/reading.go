package web

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
)

// duePage lists what wants work within the next days, by day.
type duePage struct {
	Depot   string
	Depots  []models.Depot
	Overdue []dueLine
	Ahead   []dueLine
	Days    int
	First   string
	Next    string
	Now     time.Time
}

// dueLine is one job that is due, at one or several places of a vehicle.
type dueLine struct {
	Finding models.Finding
	Also    []models.Position // where the same is due on the same day
	Vehicle string
	Row     string // where it is parked; may be empty
	Depot   models.Depot
	Zone    clock
}

// dueAhead is how many days the due list looks ahead.
const dueAhead = 14

func (s *site) due(r *request) error {
	const most = 300
	p := duePage{Depot: r.QueryParam("depot"), Depots: r.depots, Days: dueAhead, Now: r.now}
	q := models.FindingFilter{DueBefore: r.now.AddDate(0, 0, dueAhead)}
	if p.Depot != "" {
		q.Depots = []models.DepotID{models.DepotID(p.Depot)}
	}
	list, next, err := s.Fleet.Findings(r.ctx(), r.actor, q, r.page(most))
	if err != nil {
		return err
	}
	p.First, p.Next = r.paging(next)
	rows, _, err := s.Fleet.Vehicles(r.ctx(), r.actor, models.VehicleFilter{Depots: q.Depots, DueBefore: q.DueBefore}, models.Page{Limit: 500})
	if err != nil {
		return err
	}
	known := map[models.VehicleID]models.Vehicle{}
	for _, row := range rows {
		known[row.Vehicle.ID] = row.Vehicle
	}
	for _, f := range list {
		if f.DueAt == nil {
			continue
		}
		d := r.depot(f.DepotID)
		line := dueLine{Finding: f, Depot: d, Zone: r.clock(d)}
		v, err := s.seen(r, f.VehicleID, known)
		if err != nil {
			return err
		}
		line.Vehicle, line.Row = v.Number, v.ParkingRow
		if f.DueAt.Before(r.now) {
			p.Overdue = append(p.Overdue, line)
		} else {
			p.Ahead = append(p.Ahead, line)
		}
	}
	byDay := func(a, b dueLine) int { return a.Finding.DueAt.Compare(*b.Finding.DueAt) }
	slices.SortStableFunc(p.Overdue, byDay)
	slices.SortStableFunc(p.Ahead, byDay)
	p.Overdue, p.Ahead = joined(p.Overdue), joined(p.Ahead)
	return r.render("due", "due", "Due list", p)
}

// joined brings together what is due on one vehicle, for one reason, on one day.
func joined(lines []dueLine) []dueLine {
	var out []dueLine
	for _, l := range lines {
		i := slices.IndexFunc(out, func(o dueLine) bool {
			a, b := o.Finding, l.Finding
			return a.VehicleID == b.VehicleID && a.Code == b.Code && a.Urgency == b.Urgency &&
				a.DueAt.In(o.Zone.Location).Format(time.DateOnly) == b.DueAt.In(l.Zone.Location).Format(time.DateOnly)
		})
		if i < 0 {
			out = append(out, l)
		} else if l.Finding.Position != "" {
			out[i].Also = append(out[i].Also, l.Finding.Position)
		}
	}
	return out
}

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
	Zone    clock
}

func (s *site) digest(r *request) error { return s.showDigest(r, http.StatusOK, "") }

// digestToMe mails the digest as it is now to the person who asks.
func (s *site) digestToMe(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	if s.DigestToMe == nil {
		return models.Errorf(models.Unavailable, "this server has no mail server to hand a digest to; whoever runs it can name one")
	}
	depot := models.DepotID(sent.Get("depot"))
	before, err := s.Fleet.ClaimCopy(r.ctx(), r.actor, sent.Get("id"), depot)
	if err != nil {
		return err
	}
	back := "/digest?" + url.Values{"depot": {string(depot)}}.Encode()
	if before {
		return r.Redirect(http.StatusSeeOther, said(back, "mailedonce"))
	}
	err = s.DigestToMe(r.ctx(), r.actor, depot)
	if models.KindOf(err) == models.Unavailable {
		s.Log.WarnContext(r.ctx(), "digest not sent", "error", err)
		return s.showDigest(r, http.StatusServiceUnavailable, "The mail server did not take it, so nothing was sent. Wait some minutes and press the button again; if it fails again, tell whoever runs this server.")
	}
	if err != nil {
		return err
	}
	return r.Redirect(http.StatusSeeOther, said(back, "mailed"))
}

func (s *site) showDigest(r *request, status int, trouble string) error {
	p := digestPage{Depots: r.depots, Zone: r.clock(models.Depot{}), Problem: trouble, NewID: uuid.Must(uuid.NewV7()).String()}
	if s.DigestToMe != nil {
		p.Mine = r.actor.User.Email
	}
	if len(r.depots) == 0 {
		return r.render("digest", "digest", "Digest", p)
	}
	id := models.DepotID(r.FormValue("depot"))
	if id == "" {
		id = r.depots[0].ID
	}
	if p.Depot = r.depot(id); p.Depot.ID == "" {
		return models.Errorf(models.NotFound, "no such depot")
	}
	p.Zone, p.Next = r.clock(p.Depot), s.nextDigest(r, p.Depot)
	var html string
	var err error
	if p.Subject, p.Text, html, err = s.DigestPreview(r.ctx(), r.actor, id); err != nil {
		return err
	}
	if r.QueryParam("as") == "html" {
		// The mail styles itself inline, which no page of ours may: it is handed
		// out as a file.
		r.Response().Header().Set("Content-Disposition", `attachment; filename="digest.html"`)
		return r.HTML(http.StatusOK, html)
	}
	if p.Slots, err = s.Fleet.DigestSlots(r.ctx(), r.actor, id, 8); err != nil {
		return err
	}
	return r.show(status, "digest", "digest", "Digest", p)
}

// helpPage is the glossary and what findings mean.
type helpPage struct {
	Terms    []term
	Findings []findingHelp
}

type findingHelp struct {
	Code    models.FindingCode
	Meaning string
}

func (s *site) help(r *request) error {
	p := helpPage{Terms: terms}
	for _, c := range findingCodes {
		p.Findings = append(p.Findings, findingHelp{c, explanations[c]})
	}
	return r.render("help", "help", "Help", p)
}
