package web

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// timelineEntry is one event as the timeline tells it.
type timelineEntry struct {
	ID         models.EventID
	Kind       models.EventKind
	At         time.Time
	RecordedAt time.Time
	Odometer   string
	Person     string
	Summary    string // of many lines, which are folded away
	Photos     []shownPhoto
	Lines      []string
	Card       string // address of a balance job's card
	Withdraw   string // address of the form that withdraws it; empty if the person may not, or it is done
	Note       string
	Reason     string // of a correction
	Gone       string // when, by whom and why it was withdrawn or replaced; empty if it counts
	Source     models.Source
	Zone       clock
}

// timeline tells events, those about one tire only as far as they are about it.
func (r *request) timeline(events []models.Event, u units.Style, z clock, tire models.TireID) []timelineEntry {
	var out []timelineEntry
	for _, e := range events {
		h := e.Header()
		t := timelineEntry{ID: h.ID, Kind: e.Kind(), At: h.At, RecordedAt: h.RecordedAt, Person: h.Person, Note: h.Note, Reason: h.Reason,
			Source: h.Source, Zone: z}
		if i, ok := e.(*models.Inspection); ok {
			t.Summary, t.Lines = tellInspection(i, tire, u)
			t.Photos = photosOf(i, tire)
		} else {
			t.Lines = tell(e, u)
		}
		if t.Kind == models.KindBalance {
			t.Card = "/balance-jobs/" + string(h.ID)
		}
		switch {
		case h.Odometer.Known && h.Odometer.Estimated:
			t.Odometer = u.WriteTypedDistance(h.Odometer.Value, h.Odometer.Text) + " (judged)"
		case h.Odometer.Known:
			t.Odometer = u.WriteTypedDistance(h.Odometer.Value, h.Odometer.Text)
		}
		t.Withdraw, t.Gone = r.withdrawal(e), r.gone(e, events, z)
		out = append(out, t)
	}
	return out
}

// withdrawal is the address of the form that withdraws e; empty if the person
// may not, or e no longer counts.
func (r *request) withdrawal(e models.Event) string {
	h := e.Header()
	about := e.TireIDs()
	switch {
	case !r.records() || h.SupersededBy != "" || e.Kind() == models.KindVoid:
		return ""
	case h.VehicleID != "":
		return "/vehicles/" + string(h.VehicleID) + "/do/withdraw?supersedes=" + string(h.ID)
	case len(about) > 0:
		return "/tires/" + string(about[0]) + "/withdraw?supersedes=" + string(h.ID)
	}
	return ""
}

// gone says when, by whom and why e was withdrawn or replaced; empty if it still
// counts. known are events already at hand.
func (r *request) gone(e models.Event, known []models.Event, z clock) string {
	by := e.Header().SupersededBy
	if by == "" {
		return ""
	}
	i := slices.IndexFunc(known, func(k models.Event) bool { return k.Header().ID == by })
	var last models.Event
	if i >= 0 {
		last = known[i]
	} else if found, err := r.site.Fleet.Event(r.ctx(), r.actor, by); err == nil {
		last = found
	} else {
		return "withdrawn or replaced by a later entry"
	}
	what := "replaced"
	if last.Kind() == models.KindVoid {
		what = "withdrawn"
	}
	h := last.Header()
	return fmt.Sprintf("%s %s by %s: %s", what, z.date(h.RecordedAt), h.Person, h.Reason)
}

// tell says in lines what an event was.
func tell(e models.Event, u units.Style) []string {
	switch e := e.(type) {
	case *models.Fit:
		var at []string
		for _, f := range e.Fittings {
			at = append(at, string(f.Position))
		}
		line := "at " + strings.Join(at, ", ")
		if e.Existing {
			line += " (found there, nothing was done)"
		}
		return append([]string{line}, torque(e.TorqueNM, u)...)
	case *models.Removal:
		var lines []string
		for _, x := range e.Removed {
			line := fmt.Sprintf("%s: %s, to %s", x.Position, plain(string(x.Reason)), plain(string(x.To)))
			if x.MinDepth != nil {
				line += ", " + u.WriteTypedDepth(x.MinDepth.Value, x.MinDepth.Text) + " left"
			}
			lines = append(lines, line)
		}
		return lines
	case *models.Rotation:
		var moves []string
		for _, m := range e.Moves {
			moves = append(moves, fmt.Sprintf("%s to %s", m.From, m.To))
		}
		return append([]string{strings.Join(moves, ", ")}, torque(e.TorqueNM, u)...)
	case *models.BalanceJob:
		return tellBalance(e, u)
	case *models.Repair:
		line := e.What
		if e.Position != "" {
			line = string(e.Position) + ": " + line
		}
		if e.Demounted {
			line += " (taken off its wheel)"
		}
		return []string{line}
	case *models.Alignment:
		return nonEmpty(axlesText(e.Axles), prefixed("found ", e.Found), prefixed("set ", e.Set))
	case *models.Retorque:
		where := "all wheels"
		if len(e.Positions) > 0 {
			where = fmt.Sprint(e.Positions)
		}
		return append([]string{where}, torque(e.TorqueNM, u)...)
	case *models.Service:
		if e.Axle > 0 {
			return []string{fmt.Sprintf("%s, axle %d", e.What, e.Axle)}
		}
		return []string{e.What}
	case *models.Vibration:
		return tellVibration(e, u)
	case *models.Clearance:
		var codes []string
		for _, c := range e.Codes {
			codes = append(codes, observationName(c))
		}
		return []string{fmt.Sprintf("%s: %s", e.Position, strings.Join(codes, ", "))}
	case *models.WheelCheck:
		return tellWheelCheck(e)
	case *models.TireMove:
		return []string{"to " + plain(string(e.To))}
	}
	return nil
}

// shownPhoto is a photo of one place.
type shownPhoto struct {
	ID       models.PhotoID
	Position models.Position
}

// photosOf lists the photos of an inspection; of one tire only, if that is named.
func photosOf(e *models.Inspection, tire models.TireID) []shownPhoto {
	var out []shownPhoto
	for _, r := range e.Readings {
		for _, id := range r.Photos {
			if tire == "" || r.TireID == tire {
				out = append(out, shownPhoto{id, r.Position})
			}
		}
	}
	return out
}

// tellInspection says what was read in one line, and in a line a position; of
// one tire only, if that is named.
func tellInspection(e *models.Inspection, tire models.TireID, u units.Style) (summary string, lines []string) {
	var least models.Depth
	var at models.Position
	for _, r := range e.Readings {
		if tire != "" && r.TireID != tire {
			continue
		}
		if d, ok := r.Min(); ok && (at == "" || d.Value < least.Value) {
			least, at = d, r.Position
		}
		parts := nonEmpty(strings.Join(typed(r, u), "; "), prefixed("pressure ", pressureText(r, u)))
		for _, o := range r.Observations {
			parts = append(parts, tellObservation(o))
		}
		lines = append(lines, string(r.Position)+": "+strings.Join(parts, "; "))
	}
	if tire != "" {
		return "", lines
	}
	for _, o := range e.Vehicle {
		lines = append(lines, "Vehicle: "+tellObservation(o))
	}
	summary = plural(len(e.Readings), "position", "positions")
	if at != "" {
		summary += fmt.Sprintf(", shallowest %s at %s", u.WriteTypedDepth(least.Value, least.Text), at)
	}
	return summary, lines
}

func tellObservation(o models.Observation) string {
	s := observationName(o.Code)
	if o.Count > 0 {
		s = fmt.Sprintf("%d %s", o.Count, s)
	}
	if o.Direction != "" {
		s += " " + o.Direction
	}
	if o.Place != "" {
		s += ", " + plain(o.Place)
	}
	if o.Axle > 0 {
		s += fmt.Sprintf(", axle %d", o.Axle)
	}
	if o.Note != "" {
		s += ": " + o.Note
	}
	return s
}

func tellBalance(e *models.BalanceJob, u units.Style) []string {
	what := plain(string(e.Why))
	if e.CheckSpin {
		what = "check spin"
	}
	if e.Position != "" {
		what = string(e.Position) + ": " + what
	}
	lines := []string{what + ", " + plain(e.Mode)}
	if len(e.Shown) > 0 {
		lines = append(lines, "shown "+planes(e.Shown, u))
	}
	for _, w := range e.Fitted {
		lines = append(lines, fmt.Sprintf("fitted %s %s, %s, at %g°", u.WriteTypedMass(w.Mass.Value, w.Mass.Text), w.Type, planeName(w.Plane), float64(w.Angle)))
	}
	if len(e.ShownAfter) > 0 {
		lines = append(lines, "after "+planes(e.ShownAfter, u))
	}
	switch v := e.Verdict; {
	case v.Within:
		lines = append(lines, "within the limit: "+u.Render(v.Limit))
	case v.Proven:
		lines = append(lines, "over the limit: "+u.Render(v.Reason))
	default:
		lines = append(lines, "not proven: "+v.Reason)
	}
	if e.Media != nil {
		lines = append(lines, fmt.Sprintf("loose media inside: %s, %s, put in %s", e.Media.Type, e.Media.Dose, u.WriteDate(e.Media.In)))
	}
	lines = append(lines, e.Notes...)
	return append(lines, torque(e.TorqueNM, u)...)
}

// tellRecord says what is kept of the newest job of an assembly.
func tellRecord(b models.BalanceRecord, u units.Style) []string {
	out := []string{plain(string(b.Why)) + "."}
	if b.CheckSpin {
		out[0] = "check spin."
	}
	switch {
	case b.Verdict.Within:
		out = append(out, "Within the limit.")
	case b.Verdict.Proven:
		out = append(out, "Over the limit: "+u.Render(b.Verdict.Reason)+".")
	default:
		out = append(out, "Not proven: "+b.Verdict.Reason+".")
	}
	if b.Drift != nil && b.Drift.WorstG > 0 {
		out = append(out, tellDrift(*b.Drift, u))
	}
	return out
}

// tellDrift says how what an assembly asks for has changed since the job before.
func tellDrift(d models.BalanceDrift, u units.Style) string {
	start := "Since the job before, what the bare assembly asks for has changed: "
	if d.LeftOn {
		start = "Since the job before, with the weights left on, what it asks for has changed: "
	}
	if !slices.ContainsFunc(d.Planes, func(p models.PlaneUnbalance) bool { return p.Mass.Value > 0 }) {
		return strings.TrimSuffix(start, "has changed: ") + "has not changed."
	}
	var parts []string
	for _, p := range d.Planes {
		change := "nothing"
		if p.Mass.Value > 0 {
			change = fmt.Sprintf("%s at %.0f°", u.WriteMass(units.Mass(math.Round(float64(p.Mass.Value)*10)/10)), float64(p.Angle))
		}
		parts = append(parts, p.Plane+" "+change)
	}
	return start + strings.Join(parts, ", ") + "."
}

func planes(list []models.PlaneUnbalance, u units.Style) string {
	var out []string
	for _, p := range list {
		out = append(out, p.Plane+" "+u.WriteTypedMass(p.Mass.Value, p.Mass.Text)+prefixed(" at ", placed(p)))
	}
	return strings.Join(out, ", ")
}

func tellVibration(e *models.Vibration, u units.Style) []string {
	if e.Settles != "" {
		return []string{"an earlier complaint is gone"}
	}
	speed := func(label string, kmh float64) string {
		if kmh == 0 {
			return ""
		}
		return label + " " + u.WriteSpeed(kmh)
	}
	parts := nonEmpty(speed("starts", e.StartsKMH), speed("worst", e.WorstKMH), speed("fades", e.FadesKMH),
		prefixed("felt in the ", plain(e.FeltAt)), prefixed("braking: ", e.Braking), prefixed("throttle: ", e.Throttle),
		prefixed("neutral: ", e.Neutral), vibrationSince[e.Since], onlyIf(e.Audible, "heard"), onlyIf(e.WarmFixes, "gone when warm"))
	return []string{strings.Join(parts, ", ")}
}

// vibrationSince says since when a vehicle shakes.
var vibrationSince = map[string]string{"fit": "since tires were fitted", "rotation": "since a rotation", "pothole": "since a pothole",
	"repair": "since a repair", "parked": "since it stood for long", "gradual": "it came gradually"}

func axlesText(axles []int) string {
	if len(axles) == 0 {
		return "all axles"
	}
	return fmt.Sprintf("axles %v", axles)
}

func torque(nm float64, u units.Style) []string {
	if nm == 0 {
		return nil
	}
	return []string{"nuts at " + u.WriteTorque(units.Torque(nm))}
}

func prefixed(before, s string) string {
	if s == "" {
		return ""
	}
	return before + s
}

func onlyIf(ok bool, s string) string {
	if ok {
		return s
	}
	return ""
}

func nonEmpty(list ...string) []string {
	var out []string
	for _, s := range list {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}
