package rest

import (
	"context"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// Finding is what the tool says about a vehicle or one of its places.
type Finding struct {
	ID            string     `json:"id"`
	DepotID       string     `json:"depot_id"`
	VehicleID     string     `json:"vehicle_id"`
	Position      string     `json:"position,omitempty"        doc:"Left out: the whole vehicle."`
	TireID        string     `json:"tire_id,omitempty"`
	Code          string     `json:"code"                                                                                                                                        example:"below_legal"`
	Urgency       Urgency    `json:"urgency"`
	Title         string     `json:"title"`
	Evidence      []Evidence `json:"evidence"`
	FirstJob      string     `json:"first_job"                 doc:"What to do first."`
	Safety        string     `json:"safety,omitempty"          doc:"Caution for the work."`
	Notice        string     `json:"notice,omitempty"          doc:"Of a legal warning: citation, when it was read, who decides."`
	Since         *time.Time `json:"since,omitempty"           doc:"When the condition began, as far as known."`
	DueAt         *time.Time `json:"due_at,omitempty"`
	DueOdometerKM *float64   `json:"due_odometer_km,omitempty"`
	Estimated     bool       `json:"estimated"                 doc:"Rests on an estimate, such as an unknown odometer."`
	OpenedAt      time.Time  `json:"opened_at"`
	WorseAt       *time.Time `json:"worse_at,omitempty"        doc:"When it last got more urgent."`
	WorseFrom     string     `json:"worse_from,omitempty"      doc:"The urgency that it had before."`
	UpdatedAt     time.Time  `json:"updated_at"`
	ClosedAt      *time.Time `json:"closed_at,omitempty"`
	ClosedBy      string     `json:"closed_by,omitempty"       doc:"What closed it."`
	Ack           *Ack       `json:"acknowledged,omitempty"`
	Booking       *Ack       `json:"booking_before,omitempty"  doc:"The booking that stood on its vehicle when it opened or got more urgent: it is not part of what was booked."`
}

// FindingGroup is what is found on several wheels of a vehicle: the open findings of one
// code and urgency, either all acknowledged or none of them.
type FindingGroup struct {
	Code       string   `json:"code"         example:"rebalance_overdue"`
	Urgency    Urgency  `json:"urgency"`
	Title      string   `json:"title"        example:"balance overdue at 2LO, 2RO"`
	Positions  []string `json:"positions"    doc:"Empty: the whole vehicle."`
	FirstJobs  []string `json:"first_jobs"   doc:"What to do first, each job once."`
	Quiet      bool     `json:"quiet"        doc:"Acknowledged or booked in."`
	FindingIDs []string `json:"finding_ids"  doc:"Of the findings of the vehicle that it is made of."`
}

func findingGroupOf(g models.FindingGroup) FindingGroup {
	return FindingGroup{
		Code:       string(g.Code),
		Urgency:    Urgency(g.Urgency.String()),
		Title:      g.Title(),
		Positions:  items(g.Positions(), func(p models.Position) string { return string(p) }),
		FirstJobs:  items(g.FirstJobs(), func(s string) string { return s }),
		Quiet:      g.Quiet,
		FindingIDs: items(g.Findings, func(f models.Finding) string { return string(f.ID) }),
	}
}

// Evidence is one line that supports a finding.
type Evidence struct {
	Text   string `json:"text"`
	Source string `json:"source,omitempty"`
	Points int    `json:"points,omitempty" doc:"In a scored account."`
}

// Ack is a person's word that a finding is known.
type Ack struct {
	By    string    `json:"by"`
	At    time.Time `json:"at"`
	Until time.Time `json:"until"`
	Why   string    `json:"why"`
	// Booked is a civil date.
	Booked string `json:"booked,omitempty" format:"date" doc:"Day on which the shop takes the vehicle in, if it is booked in."`
}

// AckWish acknowledges a finding.
type AckWish struct {
	Until time.Time `json:"until" doc:"It is quiet until then."`
	Why   string    `json:"why"                                 minLength:"1" maxLength:"500"`
}

// Booking books vehicles into the shop.
type Booking struct {
	ID         string   `json:"id"             format:"uuid" doc:"Made by the sender."`
	VehicleIDs []string `json:"vehicle_ids"    format:"uuid"                                minItems:"1" maxItems:"200"`
	Day        string   `json:"day"            format:"date" doc:"At each vehicle's depot."`
	Note       string   `json:"note,omitempty"                                                                          maxLength:"400"`
}

// Booked says what a booking came to.
type Booked struct {
	Vehicles int  `json:"vehicles"`
	Findings int  `json:"findings" doc:"That are acknowledged by it."`
	Repeated bool `json:"repeated"`
}

func (b Booking) model() fleet.Booking {
	return fleet.Booking{
		ID:       b.ID,
		Vehicles: list(b.VehicleIDs, func(id string) models.VehicleID { return models.VehicleID(id) }),
		Day:      b.Day,
		Note:     b.Note,
	}
}

func findingOf(m models.Finding) Finding {
	f := Finding{
		ID:        string(m.ID),
		DepotID:   string(m.DepotID),
		VehicleID: string(m.VehicleID),
		Position:  string(m.Position),
		TireID:    string(m.TireID),
		Code:      string(m.Code),
		Urgency:   Urgency(m.Urgency.String()),
		Title:     m.Title,
		Evidence:  items(m.Evidence, func(e models.Evidence) Evidence { return Evidence(e) }),
		FirstJob:  m.FirstJob,
		Safety:    m.Safety,
		Notice:    m.Notice,
		Since:     moment(m.Since),
		DueAt:     m.DueAt,
		Estimated: m.Estimated,
		OpenedAt:  m.OpenedAt,
		WorseAt:   m.WorseAt,
		WorseFrom: m.WorseFrom.String(),
		UpdatedAt: m.UpdatedAt,
		ClosedAt:  m.ClosedAt,
		ClosedBy:  m.ClosedBy,
	}

	if m.DueOdometer != nil {
		km := m.DueOdometer.Kilometres()
		f.DueOdometerKM = &km
	}
	f.Ack, f.Booking = maybe(m.Ack, ackOf), maybe(m.Booking, ackOf)
	return f
}

func ackOf(m models.Ack) Ack { return Ack{string(m.By), m.At, m.Until, m.Why, m.Booked} }

// UrgencyCount is a number of open findings.
type UrgencyCount struct {
	DepotID  string  `json:"depot_id"`
	Urgency  Urgency `json:"urgency"`
	Findings int     `json:"findings"`
	Vehicles int     `json:"vehicles"`
}

// findingsIn narrows a list of findings.
type findingsIn struct {
	Paging
	Depot     string     `query:"depot"         format:"uuid"`
	Vehicle   string     `query:"vehicle"       format:"uuid"`
	Class     Class      `query:"class"`
	Urgency   Urgency    `query:"urgency"`
	Code      []string   `query:"code"                        maxItems:"40" doc:"One or more codes, separated by commas."`
	DueBefore time.Time  `query:"due_before"`
	Changed   time.Time  `query:"changed_since"                             doc:"What opened or got more urgent since, with closed what closed."`
	Text      textFilter `query:"text"                                                                                                           maxLength:"80"`
	Closed    bool       `query:"closed"                                    doc:"Closed findings instead, newest first."`
}

func (in findingsIn) model() models.FindingFilter {
	return models.FindingFilter{
		Depots:       depotsOf(in.Depot),
		VehicleID:    models.VehicleID(in.Vehicle),
		Class:        models.Class(in.Class),
		Urgency:      in.Urgency.model(),
		Codes:        list(in.Code, func(c string) models.FindingCode { return models.FindingCode(c) }),
		DueBefore:    in.DueBefore,
		ChangedSince: in.Changed,
		Text:         in.Text.model(),
		Closed:       in.Closed,
	}
}

// dueAhead is how far ahead the due list looks unless the request names another.
const dueAhead = 14 * 24 * time.Hour

func (s *server) registerFindings() {
	const tag = "Findings"
	found := func(ctx context.Context, a fleet.Actor, in findingsIn) (*pageOut[Finding], error) {
		all, next, err := s.Fleet.Findings(ctx, a, in.model(), in.Paging.model())
		return paged(all, next, err, findingOf)
	}
	register(s, get("/findings", tag, "List findings", "Open ones by urgency, then since when."),
		func(ctx context.Context, a fleet.Actor, in *findingsIn) (*pageOut[Finding], error) {
			return found(ctx, a, *in)
		})

	register(
		s,
		get(
			"/due",
			tag,
			"List what is due",
			"Open findings with work due before a time, by urgency; two weeks ahead if due_before is left out.",
		),
		func(ctx context.Context, a fleet.Actor, in *findingsIn) (*pageOut[Finding], error) {
			if in.DueBefore.IsZero() {
				in.DueBefore = s.Now().UTC().Add(dueAhead)
			}
			return found(ctx, a, *in)
		},
	)

	register(
		s,
		get("/findings/{id}", tag, "Get a finding", "Open or closed."),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*bodyOut[Finding], error) {
			f, err := s.Fleet.Finding(ctx, a, models.FindingID(in.ID))
			return bodyOrError(findingOf(f), err)
		},
	)

	register(
		s,
		put(
			"/findings/{id}/acknowledgement",
			tag,
			"Acknowledge a finding",
			"It stays listed but quiet until the time given.",
		),
		func(ctx context.Context, a fleet.Actor, in *struct {
			ByID
			Body AckWish
		}) (*bodyOut[Finding], error) {
			f, err := s.Fleet.Acknowledge(ctx, a, models.FindingID(in.ID), in.Body.Until, in.Body.Why)
			return bodyOrError(findingOf(f), err)
		},
	)

	withdraw := get("/findings/{id}/acknowledgement", tag, "Withdraw an acknowledgement", "")
	withdraw.Method = "DELETE"
	register(s, withdraw, func(ctx context.Context, a fleet.Actor, in *ByID) (*bodyOut[Finding], error) {
		f, err := s.Fleet.Acknowledge(ctx, a, models.FindingID(in.ID), time.Time{}, "")
		return bodyOrError(findingOf(f), err)
	})

	register(
		s,
		post(
			"/bookings",
			tag,
			"Book vehicles into the shop",
			"Acknowledges what is open on each of them until the end of that day: all of them or none. The same id "+
				"again changes nothing.",
		),
		func(ctx context.Context, a fleet.Actor, in *struct{ Body Booking }) (*bodyOut[Booked], error) {
			b, err := s.Fleet.BookIn(ctx, a, in.Body.model())
			return bodyOrError(Booked{b.Vehicles, b.Findings, b.Repeated}, err)
		},
	)

	register(s, get("/counts", tag, "Count open findings", "By depot and urgency."),
		func(ctx context.Context, a fleet.Actor, _ *struct{}) (*pageOut[UrgencyCount], error) {
			all, err := s.Fleet.Counts(ctx, a)
			return paged(all, "", err, func(c models.UrgencyCount) UrgencyCount {
				return UrgencyCount{string(c.DepotID), Urgency(c.Urgency.String()), c.Findings, c.Vehicles}
			})
		})
}
