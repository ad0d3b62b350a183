package desk

import (
	"slices"
	"time"

	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
)

// duePage lists what needs work within the next days, by day.
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
	Zone    say.Clock
}

// dueAhead is how many days the due list looks ahead.
const dueAhead = 14

func (s *room) due(r *site.Request) error {
	const most = 300
	p := duePage{Depot: r.QueryParam("depot"), Depots: r.Depots, Days: dueAhead, Now: r.Now}
	q := models.FindingFilter{DueBefore: r.Now.AddDate(0, 0, dueAhead)}
	if p.Depot != "" {
		q.Depots = []models.DepotID{models.DepotID(p.Depot)}
	}

	list, next, err := s.Fleet.Findings(r.Ctx(), r.Actor, q, r.ListPage(most))
	if err != nil {
		return err
	}
	p.First, p.Next = r.Paging(next)

	rows, _, err := s.Fleet.Vehicles(
		r.Ctx(),
		r.Actor,
		models.VehicleFilter{Depots: q.Depots, DueBefore: q.DueBefore},
		models.Page{Limit: 500},
	)
	if err != nil {
		return err
	}

	// Most vehicles come with one query; the rest are read one by one below.
	known := map[models.VehicleID]models.Vehicle{}
	for _, row := range rows {
		known[row.Vehicle.ID] = row.Vehicle
	}

	for _, f := range list {
		if f.DueAt == nil {
			continue
		}

		d := r.Depot(f.DepotID)
		line := dueLine{Finding: f, Depot: d, Zone: r.Clock(d)}
		v, err := s.VisibleVehicle(r, f.VehicleID, known)
		if err != nil {
			return err
		}

		line.Vehicle, line.Row = v.Number, v.ParkingRow
		if f.DueAt.Before(r.Now) {
			p.Overdue = append(p.Overdue, line)
		} else {
			p.Ahead = append(p.Ahead, line)
		}
	}

	// Within a day the order of urgency stays.
	byDay := func(a, b dueLine) int { return a.Finding.DueAt.Compare(*b.Finding.DueAt) }
	slices.SortStableFunc(p.Overdue, byDay)
	slices.SortStableFunc(p.Ahead, byDay)
	p.Overdue, p.Ahead = joined(p.Overdue), joined(p.Ahead)
	return r.Show("due", "due", "Due list", p)
}

// joined merges what is due on one vehicle, for one reason, on one day.
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
