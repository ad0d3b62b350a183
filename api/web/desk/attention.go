package desk

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
)

// mostFindings is how many findings of a vehicle are looked at.
const mostFindings = 200

// attentionPage is the manager's start page.
type attentionPage struct {
	Filter   site.ListFilter
	Counts   []depotCount
	Vehicles []attentionVehicle
	site.ListEnds
	Also    []models.Vehicle // chosen for the booking and not on this page
	Zone    say.Clock
	Now     time.Time
	Changed changedLine
	Entry   *form.Entry // the booking form
	Manages bool
	Print   string // address of the list as a sheet to print
	ByPull  bool   // sorted by date to the pull point
	Sort    string // address of the list in the other order
	Empty   bool   // there is no vehicle at all
}

// attentionVehicle is one vehicle with what is open on it.
type attentionVehicle struct {
	models.VehicleRow
	Depot  models.Depot
	Zone   say.Clock
	Groups []models.FindingGroup
	More   int         // groups that are not shown
	Chosen bool        // for the booking
	Booked *say.Booked // nil: not booked in
}

// depotCount is a row of the counts by depot.
type depotCount struct {
	Depot models.Depot
	Cells []countCell
}

type countCell struct {
	Urgency  models.Urgency
	Findings int
	Vehicles int
	Address  string
}

func (s *room) attention(r *site.Request) error {
	return s.showAttention(r, http.StatusOK, newBooking(r))
}

func (s *room) showAttention(r *site.Request, status int, e *form.Entry) error {
	page, shown, limit := "attention", 4, site.PerPage
	if r.QueryParam("view") == "print" {
		page, shown, limit = "printed", 20, maxPrinted
	}

	// By pull point all vehicles with a date are listed, not only those with a finding.
	f, q := r.VehicleFilter()
	byPull := r.QueryParam("sort") == "pull"
	q.Attention, q.ByPull = !byPull, byPull
	rows, next, err := s.Fleet.Vehicles(r.Ctx(), r.Actor, q, r.ListPage(limit))
	if err != nil {
		return err
	}

	p := attentionPage{
		Filter:  f,
		Now:     r.Now,
		Zone:    r.Clock(models.Depot{}),
		Entry:   e,
		Manages: r.Manages(),
		Print:   r.AddressWith("view", "print"),
		ByPull:  byPull,
	}

	p.Sort = r.AddressWith("sort", map[bool]string{true: "", false: "pull"}[byPull])
	if p.Changed, err = s.changedSince(r, f.Depot); err != nil {
		return err
	}

	for _, row := range rows {
		d := r.Depot(row.Vehicle.DepotID)
		v := attentionVehicle{VehicleRow: row, Depot: d, Zone: r.Clock(d)}

		all, _, err := s.Fleet.Findings(
			r.Ctx(),
			r.Actor,
			models.FindingFilter{VehicleID: row.Vehicle.ID},
			models.Page{Limit: mostFindings},
		)
		if err != nil {
			return err
		}

		v.Booked = say.NewBooked(all, r.Now, v.Zone)
		groups := models.GroupFindings(all, r.Now)
		v.Groups = groups[:min(shown, len(groups))]
		v.Chosen = slices.Contains(e.Sent["vehicle"], string(row.Vehicle.ID))
		v.More = len(groups) - len(v.Groups)
		p.Vehicles = append(p.Vehicles, v)
	}

	if p.ListEnds, err = s.VehicleEnds(r, q, len(rows), next, f.Any); err != nil {
		return err
	}
	// What was ticked on another page of the list stays ticked.
	if p.Also, err = s.chosenBesides(r, e.Sent["vehicle"], rows); err != nil {
		return err
	}

	// An empty list means that all is well, or that there is no vehicle yet.
	if len(rows) == 0 {
		some, _, err := s.Fleet.Vehicles(r.Ctx(), r.Actor, models.VehicleFilter{}, models.Page{Limit: 1})
		if err != nil {
			return err
		}
		p.Empty = len(some) == 0
	}

	counts, err := s.Fleet.Counts(r.Ctx(), r.Actor)
	if err != nil {
		return err
	}
	p.Counts = countRows(r.Depots, counts)
	return r.ShowStatus(status, page, "attention", "Attention list", p)
}

func countRows(depots []models.Depot, counts []models.UrgencyCount) []depotCount {
	var out []depotCount
	for _, d := range depots {
		row := depotCount{Depot: d}
		for _, u := range say.Urgencies {
			c := countCell{
				Urgency: u,
				Address: "/?" + url.Values{"depot": {string(d.ID)}, "urgency": {u.String()}}.Encode(),
			}

			for _, n := range counts {
				if n.DepotID == d.ID && n.Urgency == u {
					c.Findings, c.Vehicles = n.Findings, n.Vehicles
				}
			}

			row.Cells = append(row.Cells, c)
		}

		out = append(out, row)
	}

	return out
}

// findingPage is one finding with what can be done about it.
type findingPage struct {
	Finding models.Finding
	Vehicle models.Vehicle
	Depot   models.Depot
	Zone    say.Clock
	Now     time.Time
	By      string // who acknowledged it
	Entry   *form.Entry
	Until   string
	Why     string
	Longest string // the last day to which it can be acknowledged
	Manages bool
}

func (s *room) finding(r *site.Request) error {
	return s.showFinding(r, http.StatusOK, form.NewEntry(url.Values{}, r.Units(models.Depot{})))
}

func (s *room) showFinding(r *site.Request, status int, e *form.Entry) error {
	f, err := s.Fleet.Finding(r.Ctx(), r.Actor, models.FindingID(r.Param("id")))
	if err != nil {
		return err
	}
	view, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, f.VehicleID)
	if err != nil {
		return err
	}

	z := r.Clock(view.Depot)
	days := 180
	if f.Urgency == models.OffTheRoad {
		days = 7
	}

	p := findingPage{
		Finding: f,
		Vehicle: view.Vehicle,
		Depot:   view.Depot,
		Zone:    z,
		Now:     r.Now,
		Entry:   e,
		Manages: r.Manages(),
		Until:   e.Text("until"),
		Why:     e.Text("why"),
		Longest: r.Now.In(z.Location).AddDate(0, 0, days-1).Format(time.DateOnly),
	}

	if f.Ack != nil {
		p.By = s.PeopleNames(r)[f.Ack.By]
	}
	return r.ShowStatus(status, "finding", "attention", f.Title, p)
}

func (s *room) acknowledge(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	id := models.FindingID(r.Param("id"))
	f, err := s.Fleet.Finding(r.Ctx(), r.Actor, id)
	if err != nil {
		return err
	}

	e := form.NewEntry(sent, r.Units(models.Depot{}))
	var until time.Time

	said := "unack"
	if !e.Ticked("withdraw") {
		said = "ack"
		day, err := time.ParseInLocation(time.DateOnly, e.Text("until"), say.Zone(r.Depot(f.DepotID)))
		if err != nil {
			e.AddFault("until", "write the day until which it is set aside, such as 2026-11-25")
			return s.showFinding(r, http.StatusUnprocessableEntity, e)
		}
		until = day.Add(24*time.Hour - time.Minute) // to the end of that day
	}

	if _, err := s.Fleet.Acknowledge(r.Ctx(), r.Actor, id, until, e.Text("why")); err != nil {
		e.MapField("until", "until")
		e.MapField("why", "why")
		if e.ApplyError(err) {
			return s.showFinding(r, http.StatusUnprocessableEntity, e)
		}
		return err
	}

	return r.Redirect(http.StatusSeeOther, "/findings/"+string(id)+"?said="+said)
}
