package desk

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"time"

	"github.com/google/uuid"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
)

// maxPrinted is how many vehicles are on a sheet to print.
const maxPrinted = 200

// newBooking starts the booking form under the list: its id makes a double
// submit one booking.
func newBooking(r *site.Request) *form.Entry {
	return form.NewEntry(url.Values{"id": {uuid.Must(uuid.NewV7()).String()}}, form.NoUnits)
}

// bookIn books the chosen vehicles in, or shows the list again with the choice
// and what was wrong with it.
func (s *room) bookIn(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}
	e := form.NewEntry(sent, form.NoUnits)

	b := fleet.Booking{ID: e.Text("id"), Day: e.Text("day"), Note: e.Text("note")}
	for _, id := range sent["vehicle"] {
		b.Vehicles = append(b.Vehicles, models.VehicleID(id))
	}

	e.MapField("vehicles", "vehicle")
	e.MapField("day", "day")
	e.MapField("note", "note")

	done, err := s.Fleet.BookIn(r.Ctx(), r.Actor, b)
	switch {
	case errors.Is(err, models.Conflict):
		// The same form was sent before with another choice: this is a new booking.
		e.Sent.Set("id", uuid.Must(uuid.NewV7()).String())
		e.Msg = "An earlier booking from this page is already recorded. Send this one only if it is to be recorded " +
			"as well"
		return s.showAttention(r, site.StatusOf(err), e)
	case err != nil && e.ApplyError(err):
		return s.showAttention(r, http.StatusUnprocessableEntity, e)
	case err != nil:
		return err
	}

	said := "booked"
	if done.Repeated {
		said = "repeated"
	}

	return r.Redirect(http.StatusSeeOther, r.AddressWith("said", said))
}

// chosenBesides returns the vehicles of a refused booking that are not among the
// rows shown, because they were chosen further down the list.
func (s *room) chosenBesides(r *site.Request, chosen []string, rows []models.VehicleRow) ([]models.Vehicle, error) {
	var out []models.Vehicle

	numbers := map[models.VehicleID]models.Vehicle{}
	for _, id := range chosen {
		v := models.Vehicle{ID: models.VehicleID(id)}
		if slices.ContainsFunc(rows, func(row models.VehicleRow) bool { return row.Vehicle.ID == v.ID }) {
			continue
		}
		var err error
		if v.Number, err = s.VehicleNumber(r, v.ID, numbers); err != nil {
			return nil, err
		}

		if v.Number != "" {
			out = append(out, v)
		}
	}

	return out, nil
}

// changedLine says how much changed since a day, with the way to what.
type changedLine struct {
	Since   string // civil date
	Zone    say.Clock
	Count   models.ChangedCount
	Address string
}

// weekAgo returns the civil date a week back and its first moment, by the
// clock of a depot, or of the first one that the person sees.
func weekAgo(r *site.Request, depot models.Depot) (string, time.Time) {
	if depot.ID == "" && len(r.Depots) > 0 {
		depot = r.Depots[0]
	}
	y, m, d := r.Now.In(say.Zone(depot)).Date()
	from := time.Date(y, m, d-7, 0, 0, 0, 0, say.Zone(depot))
	return from.Format(time.DateOnly), from
}

func narrowed(depot string) []models.DepotID {
	if depot == "" {
		return nil
	}
	return []models.DepotID{models.DepotID(depot)}
}

func (s *room) changedSince(r *site.Request, depot string) (changedLine, error) {
	civil, from := weekAgo(r, r.Depot(models.DepotID(depot)))
	count, err := s.Fleet.Changed(r.Ctx(), r.Actor, narrowed(depot), from)
	l := changedLine{Since: civil, Zone: r.Clock(r.Depot(models.DepotID(depot))), Count: count, Address: "/changed"}
	if depot != "" {
		l.Address += "?" + url.Values{"depot": {depot}}.Encode()
	}
	return l, err
}

// changedPage lists what is new, worse and closed since a day.
type changedPage struct {
	Since, Depot, Problem string
	Zone                  say.Clock
	Depots                []models.Depot
	New, Worse, Closed    changedList
}

type changedList struct {
	Name  string
	Lines []changedFinding
	More  bool
}

// changedFinding is one finding with when it changed.
type changedFinding struct {
	dueLine
	At    time.Time
	Worse bool
}

// maxChanged is how many findings each list of changes shows.
const maxChanged = 100

// add puts a finding into the list of its change since a time: closed, worse or new.
func (p *changedPage) add(l dueLine, from time.Time) {
	list, line := &p.New, changedFinding{dueLine: l, At: l.Finding.OpenedAt}
	switch f := l.Finding; {
	case f.ClosedAt != nil:
		list, line.At = &p.Closed, *f.ClosedAt
	case f.OpenedAt.Before(from):
		list, line.At, line.Worse = &p.Worse, *f.WorseAt, true
	}

	if len(list.Lines) == maxChanged {
		list.More = true
		return
	}
	list.Lines = append(list.Lines, line)
}

// markMore notes that there are more findings, closed or open, than were read.
func (p *changedPage) markMore(closed bool) {
	if closed {
		p.Closed.More = true
	} else {
		p.New.More, p.Worse.More = true, true
	}
}

func (s *room) changed(r *site.Request) error {
	p := changedPage{
		Depot:  r.QueryParam("depot"),
		Depots: r.Depots,
		New:    changedList{Name: "new"},
		Worse:  changedList{Name: "worse"},
		Closed: changedList{Name: "closed"},
	}

	depot := r.Depot(models.DepotID(p.Depot))
	civil, from := weekAgo(r, depot)

	p.Since, p.Zone = civil, r.Clock(r.Depot(models.DepotID(p.Depot)))
	if t := r.QueryParam("since"); t != "" {
		if day, err := time.ParseInLocation(time.DateOnly, t, from.Location()); err != nil {
			p.Problem = "The date is not one; write it as " + civil + "."
		} else {
			p.Since, from = t, day
		}
	}

	// Closed findings are a list of their own in the store.
	numbers := map[models.VehicleID]models.Vehicle{}
	for _, closed := range []bool{false, true} {
		list, next, err := s.Fleet.Findings(
			r.Ctx(),
			r.Actor,
			models.FindingFilter{Depots: narrowed(p.Depot), ChangedSince: from, Closed: closed},
			models.Page{Limit: 2 * maxChanged},
		)
		if err != nil {
			return err
		}

		for _, f := range list {
			number, err := s.VehicleNumber(r, f.VehicleID, numbers)
			if err != nil {
				return err
			}
			d := r.Depot(f.DepotID)
			p.add(dueLine{Finding: f, Vehicle: number, Depot: d, Zone: r.Clock(d)}, from)
		}

		if next != "" {
			p.markMore(closed)
		}
	}

	return r.Show("changed", "attention", "What changed", p)
}
