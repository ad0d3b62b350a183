// Package assess turns what is known of a vehicle into findings: what is wrong
// or due, how urgent it is, the evidence in numbers, what to do first, and the
// caution that stands where the work is.
//
// It is pure: everything it uses is in the Snapshot, the time included. It
// advises; it passes or fails no vehicle in law, and each finding that rests on
// a published rule says so. Computations are those of the packages legal, wear,
// pattern and tiresize; intervals and pull points are those of the policy.
package assess

import (
	"cmp"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/tiresize"
	"rimledger/models/units"
)

// Snapshot is a vehicle with everything that findings rest on.
type Snapshot struct {
	Now     time.Time
	Zone    *time.Location // of the depot; nil: UTC
	Depot   models.Depot
	Policy  models.Policy
	Vehicle models.Vehicle
	State   models.VehicleState
	Tires   []models.TireWithState // mounted on the vehicle
}

// Result is what an assessment comes to.
type Result struct {
	// Findings are in the order of the vehicle's places, then those of the whole
	// vehicle, one for each key. They have no ID, OpenedAt and UpdatedAt yet.
	Findings []models.Finding
	// NextCheck is when time alone may change the findings; nil: never.
	NextCheck *time.Time
	// PullAt is when the first tire is at its pull point or legal limit, as read
	// or as forecast (median); nil if no tire says.
	PullAt *time.Time
	// LegalMinimum is the strictest number in force at each place, the depot's
	// own rules included; a place without one is absent.
	LegalMinimum map[models.Position]units.Length
}

// Assess returns the findings of a vehicle. A retired vehicle has none. The
// order of the tires does not matter.
func Assess(s Snapshot) Result {
	c := checked(s, false)
	return Result{Findings: c.findings, NextCheck: c.next, PullAt: c.pullAt, LegalMinimum: c.minimum}
}

// checked makes every check. lists keeps what comes due, however far ahead.
func checked(s Snapshot, lists bool) *checker {
	c := &checker{
		Snapshot: s,
		lists:    lists,
		minimum:  map[models.Position]units.Length{},
		seen:     map[models.FindingKey]bool{},
		laws:     map[legal.Place]law{},
		sizes:    map[string]tiresize.Designation{},
	}

	if s.Vehicle.Retired {
		return c
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	c.place()

	for _, p := range c.places {
		c.damage(p)
		c.legal(p)
		c.pull(p)
		c.pressure(p)
		c.age(p)
		c.retread(p)
		c.rimOverLegal(p)

		c.balance(p)
		c.pattern(p)
		c.fastWear(p)
		c.doubts(p)
		c.notRead(p)
	}

	c.matches()
	c.empty()
	c.inspected()
	c.rotated()
	c.aligned()
	c.retorqued()
	c.complaints()

	return c
}

// checker gathers the findings of one assessment.
type checker struct {
	Snapshot
	places   []*place
	findings []models.Finding
	seen     map[models.FindingKey]bool
	next     *time.Time
	lists    bool  // whether ahead is kept
	ahead    []Due // in the order of the checks
	pullAt   *time.Time
	minimum  map[models.Position]units.Length
	laws     map[legal.Place]law             // worked out once for each sort of place
	sizes    map[string]tiresize.Designation // by text; the zero one could not be read
}

// place is a mounted tire with what many checks ask of it.
type place struct {
	*models.TireWithState
	at     models.Position
	axle   models.Axle
	spare  bool
	read   *models.Measured // newest reading with a depth; nil: none
	least  models.Depth     // its shallowest
	looked *models.Measured // newest reading with depths or observations; nil: none
}

// place sets out the tires in the order of the vehicle's places. A tire on a
// place that the vehicle no longer has comes last.
func (c *checker) place() {
	order := map[models.Position]int{}
	for i, at := range c.Vehicle.Positions() {
		order[at] = i - 1000
	}

	for i := range c.Tires {
		t := &c.Tires[i]
		p := &place{
			TireWithState: t,
			at:            t.State.Position,
			axle:          c.Vehicle.AxleAt(t.State.Position),
			spare:         t.State.Position.IsSpare(),
		}

		for _, m := range []*models.Measured{t.State.Last, t.State.Previous, t.State.Kept} {
			if m == nil {
				continue
			}

			least, ok := m.Reading.Min()
			if ok && p.read == nil {
				p.read, p.least = m, least
			}
			if p.looked == nil && (ok || len(m.Reading.Observations) > 0) {
				p.looked = m
			}
		}

		c.places = append(c.places, p)
	}

	slices.SortStableFunc(c.places, func(a, b *place) int {
		return cmp.Or(order[a.at]-order[b.at], cmp.Compare(a.at, b.at), cmp.Compare(a.Tire.ID, b.Tire.ID))
	})
}

// on returns the tire at a place, or nil.
func (c *checker) on(at models.Position) *place {
	i := slices.IndexFunc(c.places, func(p *place) bool { return p.at == at })
	if i < 0 || at == "" {
		return nil
	}
	return c.places[i]
}

// observed returns the newest observation with a code at a place.
func (p *place) observed(code models.ObservationCode) (models.Observation, bool) {
	if p.looked == nil {
		return models.Observation{}, false
	}
	all := p.looked.Reading.Observations
	i := slices.IndexFunc(all, func(o models.Observation) bool { return o.Code == code })
	if i < 0 {
		return models.Observation{}, false
	}
	return all[i], true
}

// add records a finding at p, or of the whole vehicle where p is nil; the first
// of a key stays. Since defaults to now.
func (c *checker) add(p *place, f models.Finding) {
	if p != nil {
		f.Position, f.TireID = p.at, p.Tire.ID
	}
	f.DepotID, f.VehicleID = c.Depot.ID, c.Vehicle.ID
	if f.Since.IsZero() {
		f.Since = c.Now
	}

	f.Since = instant(f.Since)
	if f.DueAt != nil {
		at := instant(*f.DueAt)
		f.DueAt = &at
	}
	if key := f.Key(); !c.seen[key] {
		c.seen[key] = true
		c.findings = append(c.findings, f)
	}
}

// has reports whether a finding about p was added with one of the codes and at
// least an urgency.
func (c *checker) has(p *place, least models.Urgency, codes ...models.FindingCode) bool {
	return slices.ContainsFunc(c.findings, func(f models.Finding) bool {
		return f.TireID == p.Tire.ID && f.Position == p.at && f.Urgency <= least && slices.Contains(codes, f.Code)
	})
}

// flipsAt notes that the findings may change at t.
func (c *checker) flipsAt(t time.Time) {
	t = instant(t)
	if t.After(c.Now) && (c.next == nil || t.Before(*c.next)) {
		c.next = &t
	}
}

// instant is t as it is kept: UTC, to the microsecond.
func instant(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }

// days is a number of days as a duration, bounded so that it stays a date.
func days(n float64) time.Duration {
	return time.Duration(min(max(n, -36500), 36500) * 24 * float64(time.Hour))
}
