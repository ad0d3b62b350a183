package fleet

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/notation"
	"rimledger/models/units"
)

// Digest is what a depot's weekly mail says. It counts vehicles, each once under its
// worst finding; every count is exact, however many there are.
type Digest struct {
	Depot    models.Depot
	Style    units.Style // in which it is written: the depot's units and notation
	From, To time.Time   // the week it covers
	At       time.Time   // when it was put together
	Now      models.Figures
	Before   *models.Figures // kept when the week began; nil: none
	Vehicles []DigestVehicle // worst first; see DigestListed
	Rest     int             // vehicles with something open that is not set aside and not among Vehicles
	Due      []DigestDue     // what is due within the week to come, most vehicles first
	Shop     []DigestShop    // who is booked in within the week to come, by day, then number
	Order    []SizeCount     // tires of Now.AtPull by size, most first
	Opened   int             // vehicles with a finding that opened in the week
	Closed   int             // vehicles with a finding that closed in the week
}

// DigestListed bounds the vehicles of a digest that are not off the road: those are
// listed whatever their number.
const DigestListed = 20

// DigestVehicle is a vehicle that must not run, has something to do now, or shows wear
// that points to imbalance.
type DigestVehicle struct {
	ID          models.VehicleID
	Number, Row string
	Group       models.FindingGroup // the worst
	More        int                 // other groups that are do now or worse
	New         bool                // the worst opened or got more urgent in the week
	Booked      string              // civil date of its booking; empty: not booked in
	Tread       *DigestTread        // where the worst is about a depth
}

// DigestTread is the shallowest reading of the places that a group names.
type DigestTread struct {
	Position models.Position
	Across   []units.Length // least depth of each groove, outboard to inboard
	Legal    units.Length   // strictest legal minimum in force there; 0: none
	Pull     units.Length   // pull point of the policy; 0: none
}

// DigestDue is a kind of work with the number of vehicles on which it is due.
type DigestDue struct {
	Code     models.FindingCode
	Vehicles int
}

// DigestShop is a vehicle that is booked in.
type DigestShop struct {
	Number string
	Day    string // civil date
}

// SizeCount is a number of tires of one size.
type SizeCount struct {
	Size  string
	Tires int
}

// DigestLine is one finding with the vehicle it is about.
type DigestLine struct {
	Finding       models.Finding
	VehicleNumber string
	Class         models.Class
	Row           string
}

// DigestOf puts together the digest of a depot for a week. It reads the vehicles page by
// page and keeps in memory only those that are listed.
func (s *Service) DigestOf(ctx context.Context, a Actor, id models.DepotID, from, to time.Time) (Digest, error) {
	now := s.now()
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) (Digest, error) {
		depot, err := r.Depot(ctx, id)
		if err != nil {
			return Digest{}, err
		}

		d := digestBuilder{Digest: Digest{
			Depot: depot,
			Style: units.Style{Set: depot.Units, Notation: notation.OfPlace(depot.Jurisdiction)},
			From:  from,
			To:    to,
			At:    now,
		}}
		for _, step := range []func(context.Context, models.Reader) error{
			d.countNow, d.findBefore, d.listVehicles, d.countClosed,
		} {
			if err := step(ctx, r); err != nil {
				return Digest{}, err
			}
		}
		return d.Digest, nil
	})
}

// digestBuilder gathers a digest.
type digestBuilder struct {
	Digest
	count *figureCount
	due   map[models.FindingCode]int
	list  []listedVehicle // what may be listed
}

// listedVehicle is a vehicle that a digest lists if there is room.
type listedVehicle struct {
	id     models.VehicleID
	number string
	worst  models.Urgency
	since  time.Time
}

// countNow counts how the depot stands, and gathers what is due and booked in.
func (d *digestBuilder) countNow(ctx context.Context, r models.Reader) error {
	var err error
	if d.count, err = newFigureCount(d.Depot, d.At); err != nil {
		return err
	}
	d.due = map[models.FindingCode]int{}
	if err := d.count.countOpen(ctx, r, d.Depot.ID, d.addVehicle); err != nil {
		return err
	}

	d.Now = d.count.done()
	for code, n := range d.due {
		d.Due = append(d.Due, DigestDue{code, n})
	}
	slices.SortFunc(d.Due, func(a, b DigestDue) int {
		return cmp.Or(b.Vehicles-a.Vehicles, cmp.Compare(a.Code, b.Code))
	})
	slices.SortFunc(d.Shop, func(a, b DigestShop) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Number, b.Number))
	})

	for _, size := range slices.Sorted(maps.Keys(d.count.pullSizes)) {
		d.Order = append(d.Order, SizeCount{size, d.count.pullSizes[size]})
	}
	slices.SortStableFunc(d.Order, func(a, b SizeCount) int { return b.Tires - a.Tires })
	return nil
}

// addVehicle gathers what one vehicle adds besides the figures.
func (d *digestBuilder) addVehicle(row models.VehicleRow, open []models.Finding) {
	due := map[models.FindingCode]bool{}
	opened := false
	for _, f := range open {
		opened = opened || d.covers(f.OpenedAt)
		if d.count.dueThisWeek(f) {
			due[f.Code] = true
		}
	}

	for code := range due {
		d.due[code]++
	}
	if opened {
		d.Opened++
	}
	if b := models.StandingBooking(open, d.At); d.count.booked(b) {
		d.Shop = append(d.Shop, DigestShop{row.Vehicle.Number, b.Booked})
	}

	worst, since := models.WorstOf(open, d.At)
	suspect := slices.ContainsFunc(open, func(f models.Finding) bool {
		return f.Code == models.SuspectImbalance && f.Urgency == models.Plan && !f.Quiet(d.At)
	})
	if worst == models.OffTheRoad || worst == models.DoNow || worst == models.Plan && suspect {
		d.list = append(d.list, listedVehicle{row.Vehicle.ID, row.Vehicle.Number, worst, since})
	}
	if worst != models.None {
		d.Rest++ // listVehicles takes those away that it lists
	}
}

// findBefore finds the figures to compare with: those of the day on which the week began,
// or of one of the three days before it, since a server that stood still keeps none.
func (d *digestBuilder) findBefore(ctx context.Context, r models.Reader) error {
	zone, err := d.Depot.Zone()
	if err != nil {
		return err
	}

	begin := d.From.In(zone)
	kept, err := r.Figures(ctx, models.FiguresFilter{
		Depots: []models.DepotID{d.Depot.ID},
		From:   begin.AddDate(0, 0, -3).Format(time.DateOnly),
		To:     begin.Format(time.DateOnly),
	})
	if err == nil && len(kept) > 0 {
		d.Before = &kept[len(kept)-1]
	}
	return err
}

// listVehicles lists the vehicles that are off the road, then those with something to do
// now, then those whose wear points to imbalance; the oldest first.
func (d *digestBuilder) listVehicles(ctx context.Context, r models.Reader) error {
	slices.SortFunc(d.list, func(a, b listedVehicle) int {
		return cmp.Or(
			cmp.Compare(a.worst, b.worst), a.since.Compare(b.since), cmp.Compare(a.number, b.number))
	})
	d.list = d.list[:min(len(d.list), d.Now.OffRoad+DigestListed)]
	d.Rest -= len(d.list)

	for _, v := range d.list {
		sc, err := loadScene(ctx, r, v.id)
		if err != nil {
			return err
		}
		open, err := r.OpenFindings(ctx, v.id)
		if err != nil {
			return err
		}
		renderFindings(d.Style, open)
		d.Vehicles = append(d.Vehicles, d.vehicle(sc, open, v.worst))
	}

	return nil
}

// vehicle returns a vehicle of the digest whose worst urgency is u.
func (d *digestBuilder) vehicle(sc *scene, open []models.Finding, u models.Urgency) DigestVehicle {
	v := DigestVehicle{ID: sc.vehicle.ID, Number: sc.vehicle.Number, Row: sc.vehicle.ParkingRow}
	if b := models.StandingBooking(open, d.At); b != nil {
		v.Booked = b.Booked
	}

	v.Group, v.More = d.worstGroup(open, u)
	for _, f := range v.Group.Findings {
		v.New = v.New || d.covers(f.OpenedAt) || f.WorseAt != nil && d.covers(*f.WorseAt)
	}
	switch v.Group.Code {
	case models.BelowLegal, models.NearLegal, models.BelowPull:
		v.Tread = sc.tread(v.Group.Positions(), d.At)
	}
	return v
}

// worstGroup returns the group of a vehicle's findings for which the digest lists it, and
// how many others are do now or worse. What is set aside does not count, unless it takes
// the vehicle off the road.
func (d *digestBuilder) worstGroup(
	open []models.Finding, u models.Urgency) (worst models.FindingGroup, others int) {
	for _, g := range models.GroupFindings(open, d.At) {
		if g.Quiet && g.Urgency != models.OffTheRoad {
			continue
		}

		about := g.Urgency == u && (u != models.Plan || g.Code == models.SuspectImbalance)
		switch {
		case about && worst.Findings == nil:
			worst = g
		case g.Urgency <= models.DoNow:
			others++
		}
	}
	return worst, others
}

// tread returns the shallowest reading of places, nil if none was read.
func (sc *scene) tread(places []models.Position, now time.Time) *DigestTread {
	var out *DigestTread
	var least units.Length
	for _, p := range places {
		t := sc.at(p)
		if t == nil || t.State.LastRead() == nil {
			continue
		}
		reading := t.State.LastRead().Reading
		if d, read := reading.Min(); read && (out == nil || d.Value < least) {
			least = d.Value
			out = &DigestTread{Position: p, Across: reading.Across()}
		}
	}

	if out != nil {
		out.Legal = sc.assess(now).LegalMinimum[out.Position]
		out.Pull = sc.policy.Pull(sc.vehicle.AxleAt(out.Position).Role())
	}
	return out
}

// countClosed counts the vehicles with a finding that closed in the week.
func (d *digestBuilder) countClosed(ctx context.Context, r models.Reader) error {
	vehicles := map[models.VehicleID]bool{}
	closed := models.FindingFilter{Depots: []models.DepotID{d.Depot.ID}, Closed: true, ChangedSince: d.From}
	err := eachFinding(ctx, r, closed, func(f models.Finding) error {
		if d.covers(*f.ClosedAt) {
			vehicles[f.VehicleID] = true
		}
		return nil
	})
	d.Closed = len(vehicles)
	return err
}

// covers reports whether t lies in the digest's week.
func (d *Digest) covers(t time.Time) bool { return !t.Before(d.From) && t.Before(d.To) }

// eachFinding reads findings page by page.
func eachFinding(ctx context.Context, r models.Reader, f models.FindingFilter, do func(models.Finding) error) error {
	page := models.Page{Limit: 500}
	for {
		list, next, err := r.Findings(ctx, f, page)
		if err != nil {
			return err
		}

		for _, x := range list {
			if err := do(x); err != nil {
				return err
			}
		}

		if next == "" {
			return nil
		}

		page.After = next
	}
}
