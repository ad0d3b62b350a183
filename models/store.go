package models

import (
	"context"
	"time"

	"rimledger/models/wear"
)

// Store keeps the record. It answers with errors of kind NotFound and Conflict
// as said at each method; anything else is Internal or Unavailable.
type Store interface {
	// Write runs fn in one transaction, committed durably before Write
	// returns nil, rolled back whole otherwise. On SQLite writes run one after
	// another.
	Write(ctx context.Context, fn func(Tx) error) error
	// Read runs fn on one consistent snapshot.
	Read(ctx context.Context, fn func(Reader) error) error
}

// Page asks for part of a list. After is the Next of the page before.
type Page struct {
	After string
	Limit int // 1 to 500; the store answers at most that many
}

// Reader reads the record. Each getter returns NotFound if there is no such thing.
type Reader interface {
	Depot(ctx context.Context, id DepotID) (Depot, error)
	Depots(ctx context.Context) ([]Depot, error) // by name
	DepotPolicies(ctx context.Context, id DepotID) ([]DepotPolicy, error)

	Vehicle(ctx context.Context, id VehicleID) (Vehicle, VehicleState, error)
	VehicleByNumber(ctx context.Context, d DepotID, number string) (Vehicle, error)
	Vehicles(ctx context.Context, f VehicleFilter, p Page) (list []VehicleRow, next string, err error)
	// CountVehicles counts those that f finds, and stops counting at most.
	CountVehicles(ctx context.Context, f VehicleFilter, most int) (int, error)
	// VehiclesToCheck lists vehicles whose NextCheck is not after now, oldest first.
	VehiclesToCheck(ctx context.Context, now time.Time, limit int) ([]VehicleID, error)

	Tire(ctx context.Context, id TireID) (Tire, TireState, error)
	TireByNumber(ctx context.Context, d DepotID, number string) (Tire, error)
	TiresOn(ctx context.Context, vehicles ...VehicleID) ([]TireWithState, error)
	Tires(ctx context.Context, f TireFilter, p Page) (list []TireWithState, next string, err error)

	Wheel(ctx context.Context, id WheelID) (Wheel, error)
	Wheels(ctx context.Context, d DepotID, p Page) (list []Wheel, next string, err error)

	Event(ctx context.Context, id EventID) (Event, error)
	// Events lists by time of happening, newest first, or oldest first with
	// f.Ascending (then all that match, for replay, if p.Limit is 0).
	Events(ctx context.Context, f EventFilter, p Page) (list []Event, next string, err error)
	Fitments(ctx context.Context, f FitmentFilter) ([]Fitment, error) // by start

	Photo(ctx context.Context, id PhotoID) (Photo, error)

	Finding(ctx context.Context, id FindingID) (Finding, error)
	OpenFindings(ctx context.Context, vehicles ...VehicleID) ([]Finding, error)
	Findings(ctx context.Context, f FindingFilter, p Page) (list []Finding, next string, err error)
	// CountOpen counts open findings by depot and urgency.
	CountOpen(ctx context.Context, depots []DepotID) ([]UrgencyCount, error)
	// CountChanged counts the findings that changed at or after since.
	CountChanged(ctx context.Context, depots []DepotID, since time.Time) (ChangedCount, error)

	User(ctx context.Context, id UserID) (User, error)
	UserByEmail(ctx context.Context, email string) (User, error)
	Users(ctx context.Context) ([]User, error)
	Token(ctx context.Context, hash string) (Token, error)
	TokenByID(ctx context.Context, id TokenID) (Token, error)
	Tokens(ctx context.Context, u UserID) ([]Token, error)
	Changes(ctx context.Context, f ChangeFilter, p Page) (list []Change, next string, err error)

	// Figures lists how depots stood, by day, then depot.
	Figures(ctx context.Context, f FiguresFilter) ([]Figures, error)

	// Learning returns what the fleet's fitments last taught; NotFound if nothing has been learned.
	Learning(ctx context.Context) (Learning, error)
	// EachWear brings what every running and every ended fitment says of its
	// wear rate to yield, one after another, and stops at its error.
	EachWear(ctx context.Context, yield func(wear.Summary) error) error

	// Receipts returns the fingerprints under which ids were first written; an id
	// that never was is not among them.
	Receipts(ctx context.Context, ids ...string) (map[string]Fingerprint, error)
	DigestSlot(ctx context.Context, d DepotID, slot string) (DigestSlot, error)
	DigestSlots(ctx context.Context, d DepotID, limit int) ([]DigestSlot, error) // newest first
}

// Tx reads and writes within one transaction. Put methods insert or replace
// the whole thing by id; a second thing with a unique number is a Conflict.
type Tx interface {
	Reader
	Writer
}

// Writer is the half of a Tx that writes.
type Writer interface {
	PutDepot(ctx context.Context, d Depot) error
	PutDepotPolicy(ctx context.Context, p DepotPolicy) error
	PutVehicle(ctx context.Context, v Vehicle) error // keeps state and standing
	// PutVehicleState saves what history and assessment come to.
	PutVehicleState(ctx context.Context, id VehicleID, s VehicleState, st Standing) error
	PutTire(ctx context.Context, t Tire) error // keeps state
	// PutTireStates saves states; where none of the tires moved, status and place
	// stay as they are.
	PutTireStates(ctx context.Context, states map[TireID]TireState, moved bool) error
	PutWheel(ctx context.Context, w Wheel) error

	// AddEvents appends events with their readings; a second event with
	// the same id is a Conflict.
	AddEvents(ctx context.Context, all ...Event) error
	// Supersede marks old as superseded by the event by.
	Supersede(ctx context.Context, old, by EventID) error
	// PutFitments inserts or replaces fitments by id; DeleteFitments removes
	// derived ones on a replay.
	PutFitments(ctx context.Context, f []Fitment) error
	DeleteFitments(ctx context.Context, t TireID) error

	AddPhoto(ctx context.Context, p Photo) error
	PutFindings(ctx context.Context, f []Finding) error

	// PutFigures saves figures in place of those of the same depots and days.
	PutFigures(ctx context.Context, all ...Figures) error
	PutLearning(ctx context.Context, l Learning) error

	PutUser(ctx context.Context, u User) error
	PutToken(ctx context.Context, t Token) error
	AddChange(ctx context.Context, c Change) error
	// AddReceipts notes that ids were written with this content; Conflict if one was already.
	AddReceipts(ctx context.Context, all ...Receipt) error

	// ClaimDigestSlot inserts s if depot and slot are new, and says whether it did.
	ClaimDigestSlot(ctx context.Context, s DigestSlot) (bool, error)
	PutDigestSlot(ctx context.Context, s DigestSlot) error
}

// Standing is what lists need to know of a vehicle without opening it.
type Standing struct {
	Worst     Urgency    // of open findings that are off the road or not quiet; None if there are none
	Since     time.Time  // of the oldest finding of that urgency
	Findings  int        // open ones
	DueAt     *time.Time // earliest due date of open findings
	NextCheck *time.Time // when time alone changes what is found
	PullAt    *time.Time // when the first of its tires is at its pull point or legal limit: read or forecast (median)
}

// VehicleRow is a vehicle as lists show it.
type VehicleRow struct {
	Vehicle  Vehicle
	State    VehicleState
	Standing Standing
}

// TireWithState is a tire with what its history comes to.
type TireWithState struct {
	Tire  Tire
	State TireState
}

// VehicleFilter narrows a list of vehicles. Zero fields do not narrow.
type VehicleFilter struct {
	Depots    []DepotID
	Class     Class
	Urgency   Urgency
	Code      FindingCode // with an open finding of this code
	DueBefore time.Time
	Text      string // in number, description, row or a mounted tire's number
	Retired   bool   // list retired vehicles instead
	Attention bool   // only with open findings, by urgency, then since, then number; else by number
	ByPull    bool   // only with a known PullAt, by it, then number
}

// TireFilter narrows a list of tires, which is by number.
type TireFilter struct {
	Depots []DepotID
	Status TireStatus
	Text   string
}

// EventFilter narrows a list of events.
type EventFilter struct {
	VehicleID  VehicleID
	TireID     TireID
	WheelID    WheelID // those that have it in WheelsOf
	Kinds      []EventKind
	Ascending  bool
	Superseded bool // include superseded events
}

// Fitment is one tire on one position from one moment to another.
type Fitment struct {
	ID        FitmentID
	TireID    TireID
	VehicleID VehicleID
	Position  Position
	WheelID   WheelID
	From      Point
	To        *Point        // nil while it lasts
	Wear      *wear.Summary // what it said of the wear rate, once it has ended; nil if nothing
}

// Learning is what the fleet's own fitments taught of wear rates.
type Learning struct {
	At     time.Time
	Priors wear.Priors
}

// FitmentFilter narrows a list of fitments.
type FitmentFilter struct {
	TireID    TireID
	VehicleID VehicleID
	At        time.Time // lasting at this moment; zero: any
}

// FindingFilter narrows a list of findings, which is by urgency, since and id,
// or by closing time, newest first, for closed ones.
type FindingFilter struct {
	Depots    []DepotID
	VehicleID VehicleID
	Class     Class
	Urgency   Urgency
	Codes     []FindingCode
	DueBefore time.Time
	// ChangedSince lists what opened or got more urgent at or after this time,
	// with Closed what closed.
	ChangedSince time.Time
	Text         string
	Closed       bool
}

// ChangedCount is how many findings changed: new ones that are still open, open
// ones that got more urgent after they opened, and those that closed.
type ChangedCount struct{ New, Worse, Closed int }

// UrgencyCount is a number of open findings.
type UrgencyCount struct {
	DepotID  DepotID
	Urgency  Urgency
	Findings int
	Vehicles int
}

// ChangeFilter narrows the audit trail, newest first.
type ChangeFilter struct {
	Entity, ID string
	By         UserID
	Within     []DepotID // only what concerns some of these depots and no other; empty: does not narrow
}

// DigestSlot is one due digest: a depot and the civil date and hour it was due
// in the depot's own zone. It is claimed once, whoever asks.
type DigestSlot struct {
	DepotID    DepotID
	Slot       string // such as 2026-03-30T06:00
	DueAt      time.Time
	From, To   time.Time // the week it covers
	ClaimedAt  time.Time
	Deliveries []Delivery
	DoneAt     *time.Time
	LastError  string
}

// Delivery is one recipient's copy of a digest.
type Delivery struct {
	To      string
	SentAt  *time.Time
	Refused string // the server's last word, if it refused for good
	Tries   int
}
