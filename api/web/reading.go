package web

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"rimledger/models"
)

// duePage lists what wants work within the next days, by day.
type duePage struct {
	Depot   string
	Depots  []models.Depot
	Overdue []dueLine
	Ahead   []dueLine
	Days    int
	More    bool
	Now     time.Time
}

// dueLine is one job that is due, at one or several places of a vehicle.
type dueLine struct {
	Finding models.Finding
	Also    []models.Position // where the same is due on the same day
	Vehicle string
	Depot   models.Depot
	Zone    *time.Location
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
	list, next, err := s.Fleet.Findings(r.ctx(), r.actor, q, models.Page{Limit: most})
	if err != nil {
		return err
	}
	p.More = next != ""
	rows, _, err := s.Fleet.Vehicles(r.ctx(), r.actor, models.VehicleFilter{Depots: q.Depots, DueBefore: q.DueBefore}, models.Page{Limit: 500})
	if err != nil {
		return err
	}
	numbers := map[models.VehicleID]string{}
	for _, row := range rows {
		numbers[row.Vehicle.ID] = row.Vehicle.Number
	}
	for _, f := range list {
		if f.DueAt == nil {
			continue
		}
		d := r.depot(f.DepotID)
		line := dueLine{Finding: f, Depot: d, Zone: zone(d)}
		if line.Vehicle, err = s.number(r, f.VehicleID, numbers); err != nil {
			return err
		}
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
				a.DueAt.In(o.Zone).Format(time.DateOnly) == b.DueAt.In(l.Zone).Format(time.DateOnly)
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
	Mine    string // where a copy for the person would go; empty: nothing can be mailed
	Problem string
	Zone    *time.Location
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
	err = s.DigestToMe(r.ctx(), r.actor, models.DepotID(sent.Get("depot")))
	if models.KindOf(err) == models.Unavailable {
		s.Log.WarnContext(r.ctx(), "digest not sent", "error", err)
		return s.showDigest(r, http.StatusServiceUnavailable, "The mail server did not take it. Nothing was sent; try again in a while, or tell whoever runs this server.")
	}
	if err != nil {
		return err
	}
	return r.Redirect(http.StatusSeeOther, said("/digest?"+url.Values{"depot": {sent.Get("depot")}}.Encode(), "mailed"))
}

func (s *site) showDigest(r *request, status int, trouble string) error {
	p := digestPage{Depots: r.depots, Zone: time.UTC, Problem: trouble}
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
	p.Zone = zone(p.Depot)
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

type term struct{ Word, Meaning string }

type findingHelp struct {
	Code    models.FindingCode
	Meaning string
}

// terms are the words of the trade as the pages use them.
var terms = []term{
	{"tire", "What others write tyre; searching takes both."},
	{"position", "Axle from the front, side, and on duals outer or inner: 1L, 2RO, 2LI; SP1 is a spare. Left is the driver's left facing forward."},
	{"tread depth", "From the tread down to the bottom of a groove. Grooves are counted from the outboard shoulder to the inboard one."},
	{"station", "A place around the tire; the first is at the valve, the others follow clockwise seen from outside."},
	{"tread bar", "Our drawing of a tire: a bar for each groove, hanging as deep as the rubber that is left. A crooked edge is uneven wear."},
	{"major groove", "A main groove of the tread; law often speaks of these only."},
	{"wear bar", "A raised strip in the groove; level tread means that the tire is worn out. Also: treadwear indicator."},
	{"legal minimum", "The depth below which the rule that applies wants the tire off. It is compared in the rule's own unit."},
	{"pull point", "The depth at which your policy takes a tire off, before the law does."},
	{"cupping", "Dips around the tire. Also: scalloping."},
	{"feathering", "Rib edges worn to one side, sharp to the hand one way and smooth the other. Also: saw-tooth."},
	{"heel and toe", "Blocks worn more at one end than at the other."},
	{"erosion", "A thin channel worn along the edge of a rib. Also: river wear."},
	{"imbalance", "Mass that is not even around the wheel; standards write unbalance. Static shakes up and down, couple from side to side."},
	{"run-out", "How far the wheel or tire is from round (radial) or from straight (lateral)."},
	{"balance weight", "Clip or adhesive. Angles are degrees clockwise from the valve seen from outside the vehicle."},
	{"damper", "What others call shock absorber."},
	{"alignment", "Toe, camber, caster and thrust of the axles. Also: tracking."},
	{"dual", "Two wheels side by side on one end of an axle. Also: twin."},
	{"retread", "A casing with a new tread. Also: recap, remould."},
	{"casing", "What is left of the tire under the tread."},
	{"TIN", "Tire identification number, which ends with the week and year of making."},
	{"off the road", "The vehicle should not run until this is settled."},
	{"do now", "Before the next trip, or at the next stop at the yard."},
	{"plan", "Book it; there is time."},
	{"watch", "Look at it at each inspection."},
}

func (s *site) help(r *request) error {
	p := helpPage{Terms: terms}
	for _, c := range findingCodes {
		p.Findings = append(p.Findings, findingHelp{c, explanations[c]})
	}
	return r.render("help", "help", "Help", p)
}
