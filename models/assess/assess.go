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

// Result is the outcome of an assessment.
type Result struct {
	// Findings are in the order of the vehicle's places, then those of the whole
	// vehicle, one for each key. They have no ID, OpenedAt and UpdatedAt yet.
	Findings []models.Finding
	// NextCheck is the first time after Now at which the findings may change without
	// a new entry; nil: never.
	NextCheck *time.Time
	// PullAt is when the first tire is at its pull point or legal limit, as read
	// or as forecast (median); nil if neither is known for any tire.
	PullAt *time.Time
	// LegalMinimum is the largest minimum depth in force at each place, the depot's
	// own rules included; a place without a rule is absent.
	LegalMinimum map[models.Position]units.Length
	// Ask is what to do by hand at each place before anything else: measure a tire that is
	// by estimate below the legal minimum, count dips whose number is open.
	Ask map[models.Position][]string
}

// Assess returns the findings of a vehicle. A retired vehicle has none. The
// order of the tires does not matter.
func Assess(s Snapshot) Result {
	c := runChecks(s, false)
	return Result{
		Findings:     c.findings,
		NextCheck:    c.next,
		PullAt:       c.pullAt,
		LegalMinimum: c.minimum,
		Ask:          c.ask,
	}
}

// runChecks makes every check. If keepDues is set, it also keeps all that comes due,
// however far ahead.
func runChecks(s Snapshot, keepDues bool) *checker {
	c := &checker{
		Snapshot: s,
		keepDues: keepDues,
		minimum:  map[models.Position]units.Length{},
		ask:      map[models.Position][]string{},
		added:    map[models.FindingKey]bool{},
		laws:     map[legal.Place]law{},
		sizes:    map[string]tiresize.Designation{},
	}

	if s.Vehicle.Retired {
		return c
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	c.arrange()

	// The order matters: pull leaves out what legal has reported, and pattern reads
	// what balance has reported.
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
	c.winterTires()
	c.emptyPlaces()
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
	added    map[models.FindingKey]bool
	next     *time.Time // Result.NextCheck
	keepDues bool       // whether dues are kept
	dues     []Due      // in the order of the checks
	pullAt   *time.Time
	minimum  map[models.Position]units.Length
	ask      map[models.Position][]string
	laws     map[legal.Place]law             // cache: one for each sort of place
	sizes    map[string]tiresize.Designation // cache by text; the zero value is a text that does not parse
}

// place is a mounted tire with the values that many checks need.
type place struct {
	*models.TireWithState
	at        models.Position
	axle      models.Axle
	spare     bool
	read      *models.Measured // newest reading with a depth; nil: none
	least     models.Depth     // shallowest depth of read
	inspected *models.Measured // newest reading with depths or observations; nil: none
}

// arrange fills places, in the order of the vehicle's positions. A tire at a
// position that the vehicle no longer has comes last.
func (c *checker) arrange() {
	// The vehicle's positions get negative numbers: the zero of a missing key then
	// sorts behind them.
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

		// Newest first. A visit may bring a pressure only, so that depths and
		// observations can be those of an older one.
		for _, m := range []*models.Measured{t.State.Last, t.State.Previous, t.State.Kept} {
			if m == nil {
				continue
			}

			least, ok := m.Reading.Min()
			if ok && p.read == nil {
				p.read, p.least = m, least
			}
			if p.inspected == nil && (ok || len(m.Reading.Observations) > 0) {
				p.inspected = m
			}
		}

		c.places = append(c.places, p)
	}

	slices.SortStableFunc(c.places, func(a, b *place) int {
		return cmp.Or(order[a.at]-order[b.at], cmp.Compare(a.at, b.at), cmp.Compare(a.Tire.ID, b.Tire.ID))
	})
}

// placeAt returns the tire at a place, or nil.
func (c *checker) placeAt(at models.Position) *place {
	i := slices.IndexFunc(c.places, func(p *place) bool { return p.at == at })
	if i < 0 || at == "" { // a wheel without a mate has "" for its mate's position
		return nil
	}
	return c.places[i]
}

// observed returns the newest observation with a code at a place.
func (p *place) observed(code models.ObservationCode) (models.Observation, bool) {
	if p.inspected == nil {
		return models.Observation{}, false
	}
	all := p.inspected.Reading.Observations
	i := slices.IndexFunc(all, func(o models.Observation) bool { return o.Code == code })
	if i < 0 {
		return models.Observation{}, false
	}
	return all[i], true
}

// add records a finding at p, or about the whole vehicle if p is nil. Of several
// findings with one key it keeps the first. Since defaults to now.
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

	if key := f.Key(); !c.added[key] {
		c.added[key] = true
		c.findings = append(c.findings, f)
	}
}

// has reports whether a finding about p was added that has one of the codes and is
// at least as urgent as least.
func (c *checker) has(p *place, least models.Urgency, codes ...models.FindingCode) bool {
	return slices.ContainsFunc(c.findings, func(f models.Finding) bool {
		return f.TireID == p.Tire.ID && f.Position == p.at && f.Urgency <= least && slices.Contains(codes, f.Code)
	})
}

// scheduleRecheck notes that the findings may change at t; times up to now are
// ignored.
func (c *checker) scheduleRecheck(t time.Time) {
	t = instant(t)
	if t.After(c.Now) && (c.next == nil || t.Before(*c.next)) {
		c.next = &t
	}
}

// instant returns t as the database keeps it: UTC, to the microsecond.
func instant(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }

// days returns a number of days as a duration. It is bounded at a hundred years, so
// that adding it to a date does not overflow.
func days(n float64) time.Duration {
	return time.Duration(min(max(n, -36500), 36500) * 24 * float64(time.Hour))
}
