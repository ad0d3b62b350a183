package assess

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/bench"
	"rimledger/models/tiresize"
	"rimledger/models/vibration"
)

// SearchState is the result of the spins and jobs of one wheel since a complaint.
type SearchState string

// The states of a wheel in a search.
const (
	ToSpin   SearchState = "to spin"
	Cleared  SearchState = "cleared"
	OverSpin SearchState = "over the limit"
	Balanced SearchState = "balanced since"
)

// SearchWheel is one wheel of a search.
type SearchWheel struct {
	Position models.Position
	Tire     models.Tire
	State    SearchState
	Why      string                // why it comes before other wheels; empty: no reason
	Record   *models.BalanceRecord // the job or spin since the complaint; nil if none counts
	Over     string                // what is too far from zero, where State is OverSpin; quantities are marked
}

// Search is the guided search for the wheel behind a driver's complaint. It is
// computed from the record alone: what was spun and balanced since the report.
type Search struct {
	Complaint models.Complaint
	Says      []string // what the report points to
	// Reading is the report read against the orders of the wheel; nil if it says too little.
	Reading   *vibration.Reading
	Elsewhere string // why balancing will not cure it; empty if it may
	Clears    string // what clears a wheel; quantities are marked
	Wheels    []SearchWheel
	Next      models.Position // the wheel to spin or balance next; empty if none is left
	Balance   bool            // Next is to be balanced, not spun
	Then      string          // what to do now
	AllClear  bool            // every wheel is near zero and none needed work
}

// underLoad is the advice when every wheel spins to zero and the shake remains
// (makers' workshop manuals; in our own words).
const underLoad = "Every wheel is near zero, so weights will not cure it. Check under load: " +
	"turn the wheels with the weight of the vehicle on them, or measure run-out of each assembly on its hub " +
	"and loaded radial force, since a stiff place in a tire or a seat that is off shows only then. " +
	"Look at hubs, studs, brakes, driveline and dampers, too."

// FindWheel returns the search for the newest open complaint of a vehicle; false if
// there is none. The front pair comes first when the steering wheel shakes, the
// others first when seat or floor do (rule of thumb of workshop manuals); within
// a group a wheel with a weight missing, over its limit or not balanced since
// it was fitted comes first. A spin or a job since the report clears its wheel only near
// zero, whatever limit it was judged by when it was recorded (bench.Assembly.Limits).
func FindWheel(s Snapshot) (Search, bool) {
	if len(s.State.Complaints) == 0 {
		return Search{}, false
	}

	c := &checker{Snapshot: s, sizes: map[string]tiresize.Designation{}}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	c.arrange()

	out := Search{Complaint: s.State.Complaints[len(s.State.Complaints)-1]}
	out.Says = []string{c.describeShake(out.Complaint.Report)}

	// After a complaint a wheel is clear only near zero, not within its usual limit.
	shaking := Assembly{Class: s.Vehicle.Class}.Bench()
	shaking.Complaint = true
	out.Clears = bench.Judge(bench.Done{Assembly: shaking}).Limit

	// Without a reading the steered wheels come first: they shake most noticeably.
	front := true
	if r, err := vibration.Read(c.report(out.Complaint.Report)); err == nil {
		out.Reading = &r
		front = r.End != vibration.Rear
		if r.End != "" {
			out.Says = append(out.Says, r.EndReason.Text)
		}

		// These causes are not cured by weights.
		switch first := r.First(); first {
		case vibration.Brake, vibration.Driveline, vibration.Engine, vibration.ParkedFlats, vibration.RunOut:
			out.Elsewhere = afterReport[first]
		}
	}

	for _, p := range c.places {
		if !p.spare {
			out.Wheels = append(out.Wheels, c.searchWheel(p, out.Complaint.At))
		}
	}

	slices.SortStableFunc(out.Wheels, func(a, b SearchWheel) int { return spinOrder(a, front) - spinOrder(b, front) })
	out.chooseNext()
	return out, true
}

// spinOrder returns the rank of a wheel, lowest first: the end that shakes, within it
// the wheels with a reason.
func spinOrder(w SearchWheel, front bool) int {
	n := 2
	if (w.Position.Axle() == 1) == front {
		n = 0
	}
	if w.Why == "" {
		n++
	}
	return n
}

// suspicion returns why the wheel at p may be the one that shakes, "" if nothing
// is recorded against it.
func (p *place) suspicion() string {
	b := p.State.Balance
	switch {
	case p.State.MissingWeight != nil:
		return "a weight is missing"
	case p.State.UnbalancedSince != nil:
		return "not balanced since it was fitted or repaired"
	case b != nil && b.Verdict.Proven && !b.Verdict.Within:
		return "its last job left it over the limit"
	default:
		return ""
	}
}

// searchWheel returns the state of the wheel at p in a search for what has shaken since
// since.
func (c *checker) searchWheel(p *place, since time.Time) SearchWheel {
	w := SearchWheel{Position: p.at, Tire: p.Tire, State: ToSpin, Why: p.suspicion()}
	b, off := p.State.Balance, p.State.UnbalancedSince

	// Only a job with a proven result after the complaint, on the assembly as it is, counts.
	if b == nil || b.At.Before(since) || !b.Verdict.Proven || off != nil && b.At.Before(off.At) {
		return w
	}

	v := nearZero(b, c.assembly(p))
	if !v.Proven {
		return w
	}

	w.Record = b
	switch {
	case !v.Within || !b.Verdict.Within:
		w.State, w.Over = OverSpin, cmp.Or(v.Reason, b.Verdict.Reason)
	case b.CheckSpin:
		w.State = Cleared
	default:
		w.State = Balanced
	}

	return w
}

// chooseNext fills Next, Balance, Then and AllClear from the states of the wheels.
func (s *Search) chooseNext() {
	first := func(state SearchState) *SearchWheel {
		for i := range s.Wheels {
			if s.Wheels[i].State == state {
				return &s.Wheels[i]
			}
		}
		return nil
	}

	over, open, done := first(OverSpin), first(ToSpin), first(Balanced)

	// A wheel that is over comes before all others; one balanced since asks for a drive first.
	switch {
	case over != nil:
		s.Next, s.Balance = over.Position, true
		s.Then = fmt.Sprintf("The wheel at %s is not near zero: %s. ", over.Position, over.Over) + overJob(over.Record)
	case done != nil:
		s.Then = fmt.Sprintf("The wheel at %s was over and is balanced now. Drive it. "+
			"If the shake is gone, settle the report; if not, go on.", done.Position)
		if open != nil {
			s.Next = open.Position
		} else {
			s.Then += " " + underLoad
		}
	case open != nil:
		s.Next = open.Position
		s.Then = fmt.Sprintf("Spin the wheel at %s with nothing removed.", open.Position)
	case len(s.Wheels) > 0:
		s.AllClear, s.Then = true, underLoad
	default:
		s.Then = "No tire is in the record on this vehicle: enter the tires that are there first."
	}
}
