package models

import (
	"fmt"
	"strings"
	"time"

	"rimledger/models/units"
)

// Urgency says how soon a finding wants work; lower is sooner.
type Urgency int

// The four steps of urgency. None means that nothing is wanted.
const (
	None Urgency = iota
	OffTheRoad
	DoNow
	Plan
	Watch
)

var urgencyWords = [...]string{"", "off the road", "do now", "plan", "watch"}

// String returns the words that are shown: "off the road", "do now", "plan", "watch".
func (u Urgency) String() string {
	if u < None || int(u) >= len(urgencyWords) {
		return fmt.Sprintf("Urgency(%d)", int(u))
	}
	return urgencyWords[u]
}

// ParseUrgency reads the words of String.
func ParseUrgency(s string) (Urgency, error) {
	for i, w := range urgencyWords {
		if i > 0 && w == s {
			return Urgency(i), nil
		}
	}
	return None, fmt.Errorf("%q is not an urgency; write off the road, do now, plan or watch", s)
}

// FindingCode names what the tool says.
type FindingCode string

// What the tool says about a vehicle or a position.
const (
	BelowLegal FindingCode = "below_legal"
	// NearLegal: measured at the number, or below it by less than sampling can resolve.
	NearLegal         FindingCode = "near_legal"
	BelowPull         FindingCode = "below_pull"
	NearPull          FindingCode = "near_pull"
	PullForecast      FindingCode = "pull_forecast"
	EstimatedBelow    FindingCode = "below_legal_estimated" // by the forecast's median; nobody has measured it
	Damage            FindingCode = "damage"
	DamageMinor       FindingCode = "damage_minor"
	PressureLow       FindingCode = "pressure_low"
	RunFlat           FindingCode = "run_flat"
	DualPressureApart FindingCode = "dual_pressure_apart"
	DualMismatch      FindingCode = "dual_mismatch"
	AxleMismatch      FindingCode = "axle_mismatch"
	NeverInspected    FindingCode = "never_inspected"
	InspectionOverdue FindingCode = "inspection_overdue"
	PressureOverdue   FindingCode = "pressure_overdue"
	NotBalanced       FindingCode = "not_balanced" // fitted or repaired and not balanced since
	BalanceOverLimit  FindingCode = "balance_over_limit"
	RebalanceOverdue  FindingCode = "rebalance_overdue"
	WeightMissing     FindingCode = "weight_missing"
	RotationOverdue   FindingCode = "rotation_overdue"
	AlignmentOverdue  FindingCode = "alignment_overdue"
	RetorqueDue       FindingCode = "retorque_due"
	AgeWatch          FindingCode = "age_watch"
	AgeLimit          FindingCode = "age_limit"
	RetreadBarred     FindingCode = "retread_barred"
	RimOverLegal      FindingCode = "rim_over_legal"
	NoWinterMark      FindingCode = "no_winter_mark" // where and when the law wants marked winter tires
	UnevenWear        FindingCode = "uneven_wear"
	SuspectImbalance  FindingCode = "suspect_imbalance"
	SuspectAlignment  FindingCode = "suspect_alignment"
	SuspectDampers    FindingCode = "suspect_dampers"
	SuspectPressure   FindingCode = "suspect_pressure"
	SuspectOther      FindingCode = "suspect_other"
	FastWear          FindingCode = "fast_wear"
	VibrationOpen     FindingCode = "vibration_open"
	SuspectData       FindingCode = "suspect_data"
	EmptyPosition     FindingCode = "empty_position"
)

// findingWords has the codes that do not read well as they are.
var findingWords = map[FindingCode]string{
	BelowLegal:        "tread below the legal minimum",
	NearLegal:         "tread at the legal minimum",
	BelowPull:         "tread at the pull point",
	NearPull:          "tread near the pull point",
	PullForecast:      "reaches its pull point",
	EstimatedBelow:    "by estimate below the legal minimum",
	DamageMinor:       "minor damage",
	PressureLow:       "low pressure",
	DualPressureApart: "dual pressures apart",
	DualMismatch:      "dual pair not matched",
	AxleMismatch:      "axle not matched",
	NeverInspected:    "never measured",
	PressureOverdue:   "pressure check overdue",
	BalanceOverLimit:  "balance over its limit",
	RebalanceOverdue:  "balance overdue",
	WeightMissing:     "balance weight missing",
	RetorqueDue:       "re-torque due",
	AgeWatch:          "old enough to watch",
	AgeLimit:          "past its age limit",
	RimOverLegal:      "rim runs out over the rule",
	RetreadBarred:     "retread not allowed here",
	SuspectImbalance:  "imbalance suspected",
	SuspectAlignment:  "alignment suspected",
	SuspectDampers:    "dampers suspected",
	SuspectPressure:   "wrong pressure suspected",
	SuspectOther:      "other cause suspected",
	VibrationOpen:     "shake reported",
	SuspectData:       "readings in doubt",
	NoWinterMark:      "winter mark missing",
}

// Words returns the code in the words of the yard, such as "low pressure".
func (c FindingCode) Words() string {
	if w, ok := findingWords[c]; ok {
		return w
	}
	return strings.ReplaceAll(string(c), "_", " ")
}

// findingJobs says in few words what to do first, where a list has no room for
// Finding.FirstJob, which says how and with which care.
var findingJobs = map[FindingCode]string{
	BelowLegal: "fit another tire", NearLegal: "measure all around", BelowPull: "change the tire", NearPull: "read at each inspection",
	PullForecast: "book the change", EstimatedBelow: "measure before the next trip",
	Damage: "change, repair or clear it", DamageMinor: "have it looked at", PressureLow: "find the leak",
	RunFlat: "no air; wheel off, look inside", DualPressureApart: "find why, then set both", DualMismatch: "pair them anew",
	AxleMismatch: "pair them at the next change", NeverInspected: "read every wheel", InspectionOverdue: "read every wheel",
	PressureOverdue: "check pressures cold", NotBalanced: "balance it", BalanceOverLimit: "check seating and run-out",
	RebalanceOverdue: "balance it", WeightMissing: "balance it", RotationOverdue: "rotate", AlignmentOverdue: "align the axles",
	RetorqueDue: "re-torque the nuts", AgeWatch: "look for cracks", AgeLimit: "change the tire", RetreadBarred: "move it to another axle",
	RimOverLegal: "change the wheel", NoWinterMark: "look at the sidewalls", UnevenWear: "read it again",
	SuspectImbalance: "check the causes, then balance", SuspectAlignment: "check the alignment", SuspectDampers: "check the dampers",
	SuspectPressure: "check the pressures", SuspectOther: "look at the wheel", FastWear: "look for the cause",
	VibrationOpen: "drive it and look", SuspectData: "read it again", EmptyPosition: "record the tire",
}

// Job returns what to do first about c in few words; empty where no words are set.
func (c FindingCode) Job() string { return findingJobs[c] }

// Evidence is one line that supports a finding, in words with its numbers.
type Evidence struct {
	Text   string
	Source string // of a rule or threshold: citation, status and date, or "policy"
	Points int    // in a scored account; 0 where nothing is scored
}

// Finding is what the tool says about a vehicle or one of its positions.
type Finding struct {
	ID          FindingID
	DepotID     DepotID
	VehicleID   VehicleID
	Position    Position // empty: the whole vehicle
	TireID      TireID   // the tire at Position when it was found
	Code        FindingCode
	Urgency     Urgency
	Title       string // one line, such as "3/32 in at 1L, below the legal 4/32 in"
	Evidence    []Evidence
	FirstJob    string     // what to do first
	Safety      string     // caution shown beside the work; may be empty
	Notice      string     // of a legal warning: citation, when read, who decides
	Since       time.Time  // when the condition began, as far as known
	DueAt       *time.Time // when work is due or a limit is reached; nil if not about time
	DueOdometer *units.Distance
	Estimated   bool // rests on an estimate, such as an unknown odometer
	OpenedAt    time.Time
	WorseAt     *time.Time // when it last got more urgent; nil if it never did
	WorseFrom   Urgency    // what it was before WorseAt
	UpdatedAt   time.Time
	ClosedAt    *time.Time
	ClosedBy    string // what closed it, in words
	Ack         *Ack
	// Booking is the booking of its vehicle at the time when the finding opened or
	// got more urgent, so that it is not part of what was booked; nil if the
	// vehicle was not booked in then.
	Booking *Ack
}

// Ack is a person's word that a finding is known: it stays listed but quiet
// until Until.
type Ack struct {
	By    UserID
	At    time.Time
	Until time.Time
	Why   string
	// Booked is the day on which the shop takes the vehicle in, a civil date at
	// its depot such as 2026-12-03; empty if it is only acknowledged.
	Booked string
}

// Quiet reports whether f is acknowledged for now. A booking does not quiet a tire that is
// by estimate below the legal minimum: it is to be measured before the next trip.
func (f Finding) Quiet(now time.Time) bool {
	if f.Ack == nil || !now.Before(f.Ack.Until) {
		return false
	}
	return f.Code != EstimatedBelow || f.Ack.Booked == ""
}

// NewSinceBooking reports whether f opened or got worse after its vehicle was
// booked in, and nobody has acknowledged it since. It is false once the booking
// is over.
func (f Finding) NewSinceBooking(now time.Time) bool {
	return f.Booking != nil && f.Ack == nil && now.Before(f.Booking.Until)
}

// StandingBooking returns the newest booking of a vehicle whose day is not over,
// given its findings; nil if it is not booked in.
func StandingBooking(findings []Finding, now time.Time) *Ack {
	var out *Ack
	for _, f := range findings {
		for _, b := range []*Ack{f.Ack, f.Booking} {
			if b != nil && b.Booked != "" && now.Before(b.Until) && (out == nil || b.At.After(out.At)) {
				out = b
			}
		}
	}
	return out
}

// WorstOf returns the urgency of the worst of a vehicle's open findings and when the
// first of that urgency began; None if there are none. A finding that is set aside does
// not count, unless it takes the vehicle off the road: acknowledged or booked in, the
// vehicle must not run all the same.
func WorstOf(open []Finding, now time.Time) (worst Urgency, since time.Time) {
	for _, f := range open {
		if f.Quiet(now) && f.Urgency != OffTheRoad {
			continue
		}
		if worst == None || f.Urgency < worst || f.Urgency == worst && f.Since.Before(since) {
			worst, since = f.Urgency, f.Since
		}
	}
	return worst, since
}

// FindingKey identifies a finding on a vehicle: findings about the same thing share it.
type FindingKey struct {
	Position Position
	TireID   TireID
	Code     FindingCode
}

// Key returns what makes f the same finding as another on its vehicle.
func (f Finding) Key() FindingKey { return FindingKey{f.Position, f.TireID, f.Code} }
