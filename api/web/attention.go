package web

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"time"

	"rimledger/models"
)

// perPage is how many entries a list shows at once.
const perPage = 25

// looked is how many findings of a vehicle are looked at for its booking.
const looked = 50

// attentionPage is the manager's start page.
type attentionPage struct {
	Filter   listFilter
	Counts   []depotCount
	Vehicles []attentionVehicle
	listEnds
	Also    []models.Vehicle // chosen for the booking and not on this page
	Zone    clock
	Now     time.Time
	Changed changedLine
	Entry   *entry // the booking form
	Manages bool
	Print   string // address of the list as a sheet to print
	ByPull  bool   // sorted by date to the pull point
	Sort    string // address of the list in the other order
	Empty   bool   // there is no vehicle at all
}

// attentionVehicle is one vehicle with what is open on it.
type attentionVehicle struct {
	models.VehicleRow
	Depot    models.Depot
	Zone     clock
	Findings []models.Finding
	More     int
	Chosen   bool    // for the booking
	Booked   *booked // nil: not booked in
}

// booked is a booking of a vehicle that stands.
type booked struct {
	Day  string // civil date
	Zone clock
	New  int // findings that came since
}

func newBooked(findings []models.Finding, now time.Time, z clock) *booked {
	b := models.StandingBooking(findings, now)
	if b == nil {
		return nil
	}
	out := booked{Day: b.Booked, Zone: z}
	for _, f := range findings {
		if f.NewSinceBooking(now) {
			out.New++
		}
	}
	return &out
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

// listFilter is the filter of a list of vehicles as the address says it.
type listFilter struct {
	Path                                         string // of the list
	Apart                                        bool   // the search stands above the other fields
	Depot, Class, Urgency, Code, Due, Text, Sort string
	Depots                                       []models.Depot
	Classes                                      []models.Class
	Urgencies                                    []models.Urgency
	Codes                                        []models.FindingCode
	Problem                                      string // what of the address could not be read
	Any                                          bool
}

// InUse reports whether any of the fields is used that can be folded away.
func (f listFilter) InUse() bool {
	return f.Depot+f.Class+f.Urgency+f.Code+f.Due != "" || f.Text != "" && !f.Apart
}

// filter reads the filter from the address. What cannot be read is said and
// left out: a shared link should still show a list.
func (r *request) filter() (listFilter, models.VehicleFilter) {
	f := listFilter{Path: r.Request().URL.Path, Depot: r.QueryParam("depot"), Class: r.QueryParam("class"), Urgency: r.QueryParam("urgency"), Code: r.QueryParam("code"),
		Due: r.QueryParam("due"), Text: r.QueryParam("q"), Sort: r.QueryParam("sort"), Depots: r.depots, Classes: models.Classes, Urgencies: urgencies, Codes: findingCodes}
	q := models.VehicleFilter{Code: models.FindingCode(f.Code), Text: f.Text}
	if len(f.Text) > 100 || models.CleanText(f.Text) != "" {
		f.Problem, q.Text = "The search text must be clean text of at most 100 characters.", ""
	}
	if f.Depot != "" {
		q.Depots = []models.DepotID{models.DepotID(f.Depot)}
	}
	if f.Class != "" {
		q.Class = models.Class(f.Class)
		if !q.Class.Valid() {
			f.Problem, q.Class = "There is no such class of vehicle.", ""
		}
	}
	if f.Urgency != "" {
		u, err := models.ParseUrgency(f.Urgency)
		if err != nil {
			f.Problem = "There is no such urgency; choose one of the four words."
		}
		q.Urgency = u
	}
	if f.Code != "" && explanations[q.Code] == "" {
		f.Problem, q.Code = "There is no such kind of finding.", ""
	}
	if f.Due != "" {
		due, err := time.ParseInLocation(time.DateOnly, f.Due, zone(r.depot(models.DepotID(f.Depot))))
		if err != nil {
			f.Problem = "The date is not one; write it as 2026-11-25."
		} else {
			q.DueBefore = due.AddDate(0, 0, 1)
		}
	}
	f.Any = f.Depot+f.Class+f.Urgency+f.Code+f.Due+f.Text != ""
	return f, q
}

// with returns the present address with one value changed, from the first page.
func (r *request) with(name, value string) string {
	q := url.Values{}
	for k, v := range r.QueryParams() {
		if k != "said" && k != "after" && len(v) > 0 && v[0] != "" {
			q.Set(k, v[0])
		}
	}
	if value == "" {
		q.Del(name)
	} else {
		q.Set(name, value)
	}
	if len(q) == 0 {
		return r.Request().URL.Path
	}
	return r.Request().URL.Path + "?" + q.Encode()
}

// paging returns the addresses of the first and of the next page.
func (r *request) paging(next string) (firstPage, nextPage string) {
	if r.QueryParam("after") != "" {
		firstPage = r.with("after", "")
	}
	if next != "" {
		nextPage = r.with("after", next)
	}
	return firstPage, nextPage
}

func (r *request) page(limit int) models.Page {
	return models.Page{After: r.QueryParam("after"), Limit: limit}
}

func (s *site) attention(r *request) error { return s.showAttention(r, http.StatusOK, r.newBooking()) }

func (s *site) showAttention(r *request, status int, e *entry) error {
	page, shown, limit := "attention", 4, perPage
	if r.QueryParam("view") == "print" {
		page, shown, limit = "printed", 20, maxPrinted
	}
	f, q := r.filter()
	byPull := r.QueryParam("sort") == "pull"
	q.Attention, q.ByPull = !byPull, byPull
	rows, next, err := s.Fleet.Vehicles(r.ctx(), r.actor, q, r.page(limit))
	if err != nil {
		return err
	}
	p := attentionPage{Filter: f, Now: r.now, Zone: r.clock(models.Depot{}), Entry: e, Manages: r.manages(), Print: r.with("view", "print"), ByPull: byPull}
	p.Sort = r.with("sort", map[bool]string{true: "", false: "pull"}[byPull])
	if p.Changed, err = s.changedSince(r, f.Depot); err != nil {
		return err
	}
	for _, row := range rows {
		d := r.depot(row.Vehicle.DepotID)
		v := attentionVehicle{VehicleRow: row, Depot: d, Zone: r.clock(d)}
		all, _, err := s.Fleet.Findings(r.ctx(), r.actor, models.FindingFilter{VehicleID: row.Vehicle.ID}, models.Page{Limit: looked})
		if err != nil {
			return err
		}
		v.Booked, v.Findings = newBooked(all, r.now, v.Zone), all[:min(shown, len(all))]
		v.Chosen = slices.Contains(e.sent["vehicle"], string(row.Vehicle.ID))
		v.More = max(row.Standing.Findings-len(v.Findings), 0)
		p.Vehicles = append(p.Vehicles, v)
	}
	if p.listEnds, err = s.vehicleEnds(r, q, len(rows), next, f.Any); err != nil {
		return err
	}
	if p.Also, err = s.chosenBesides(r, e.sent["vehicle"], rows); err != nil {
		return err
	}
	if len(rows) == 0 {
		some, _, err := s.Fleet.Vehicles(r.ctx(), r.actor, models.VehicleFilter{}, models.Page{Limit: 1})
		if err != nil {
			return err
		}
		p.Empty = len(some) == 0
	}
	counts, err := s.Fleet.Counts(r.ctx(), r.actor)
	if err != nil {
		return err
	}
	p.Counts = countRows(r.depots, counts)
	return r.show(status, page, "attention", "Attention list", p)
}

func countRows(depots []models.Depot, counts []models.UrgencyCount) []depotCount {
	var out []depotCount
	for _, d := range depots {
		row := depotCount{Depot: d}
		for _, u := range urgencies {
			c := countCell{Urgency: u, Address: "/?" + url.Values{"depot": {string(d.ID)}, "urgency": {u.String()}}.Encode()}
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
	Zone    clock
	Now     time.Time
	By      string // who acknowledged it
	Entry   *entry
	Until   string
	Why     string
	Longest string // the last day to which it can be acknowledged
	Manages bool
}

func (s *site) finding(r *request) error {
	return s.showFinding(r, http.StatusOK, newEntry(url.Values{}, r.units(models.Depot{})))
}

func (s *site) showFinding(r *request, status int, e *entry) error {
	f, err := s.Fleet.Finding(r.ctx(), r.actor, models.FindingID(r.Param("id")))
	if err != nil {
		return err
	}
	view, err := s.Fleet.Vehicle(r.ctx(), r.actor, f.VehicleID)
	if err != nil {
		return err
	}
	z := r.clock(view.Depot)
	days := 180
	if f.Urgency == models.OffTheRoad {
		days = 7
	}
	p := findingPage{Finding: f, Vehicle: view.Vehicle, Depot: view.Depot, Zone: z, Now: r.now, Entry: e, Manages: r.manages(),
		Until: e.text("until"), Why: e.text("why"), Longest: r.now.In(z.Location).AddDate(0, 0, days-1).Format(time.DateOnly)}
	if f.Ack != nil {
		p.By = s.names(r)[f.Ack.By]
	}
	return r.show(status, "finding", "attention", f.Title, p)
}

// names gives people their names where the person may know them. Users answers
// managers only; others see no name.
func (s *site) names(r *request) map[models.UserID]string {
	out := map[models.UserID]string{r.actor.User.ID: r.actor.User.Name, "system": "Rimledger"}
	people, err := s.Fleet.Users(r.ctx(), r.actor)
	if err != nil {
		return out
	}
	for _, u := range people {
		out[u.ID] = u.Name
	}
	return out
}

func (s *site) acknowledge(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	id := models.FindingID(r.Param("id"))
	f, err := s.Fleet.Finding(r.ctx(), r.actor, id)
	if err != nil {
		return err
	}
	e := newEntry(sent, r.units(models.Depot{}))
	var until time.Time
	said := "unack"
	if !e.ticked("withdraw") {
		said = "ack"
		day, err := time.ParseInLocation(time.DateOnly, e.text("until"), zone(r.depot(f.DepotID)))
		if err != nil {
			e.fault("until", "write the day until which it is set aside, such as 2026-11-25")
			return s.showFinding(r, http.StatusUnprocessableEntity, e)
		}
		until = day.Add(24*time.Hour - time.Minute) // to the end of that day
	}
	if _, err := s.Fleet.Acknowledge(r.ctx(), r.actor, id, until, e.text("why")); err != nil {
		e.as("until", "until")
		e.as("why", "why")
		if e.take(err) {
			return s.showFinding(r, http.StatusUnprocessableEntity, e)
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/findings/"+string(id)+"?said="+said)
}

// form reads a posted form. A body that is too large or no form is refused.
func (r *request) form() (url.Values, error) {
	if err := r.Request().ParseForm(); err != nil {
		var tooBig *http.MaxBytesError
		if errors.As(err, &tooBig) {
			return nil, err
		}
		return nil, models.Errorf(models.Invalid, "the form could not be read; it may have been cut off on the way")
	}
	return r.Request().PostForm, nil
}
