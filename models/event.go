package models

import (
	"cmp"
	"slices"
	"time"

	"rimledger/models/units"
	"rimledger/models/wear"
)

// EventKind says what happened.
type EventKind string

// The kinds of events.
const (
	KindInspection EventKind = "inspection"
	KindOdometer   EventKind = "odometer"
	KindFit        EventKind = "fit"
	KindRemoval    EventKind = "removal"
	KindRotation   EventKind = "rotation"
	KindBalance    EventKind = "balance"
	KindRepair     EventKind = "repair"
	KindAlignment  EventKind = "alignment"
	KindRetorque   EventKind = "retorque"
	KindService    EventKind = "service"
	KindVibration  EventKind = "vibration"
	KindClearance  EventKind = "clearance"
	KindTireMove   EventKind = "tire_move"
	KindWheelCheck EventKind = "wheel_check"
	KindVoid       EventKind = "void"
)

// Source says by which way something came into the record.
type Source string

// The ways into the record.
const (
	FromPage   Source = "page"
	FromAPI    Source = "api"
	FromImport Source = "import"
	FromCLI    Source = "command"
	FromDemo   Source = "demo"
)

// Meta is what every event says: what it is about, when it happened, who says
// so. The record is append-only: a correction is a new event of the same kind
// that Supersedes the old one with a Reason; the old one stays readable.
type Meta struct {
	ID         EventID
	VehicleID  VehicleID // empty for what happens to a tire off any vehicle
	DepotID    DepotID   // set by the use-case
	At         time.Time // when it happened
	Odometer   Odometer
	Person     string // who did it, as written on the sheet; defaults to who recorded it
	Note       string
	Supersedes EventID
	Reason     string   // of a correction
	Confirmed  []string // codes of held values that a person confirmed
	// Set by the use-case when it is recorded:
	RecordedAt time.Time
	RecordedBy UserID
	Source     Source
	// AlongKM is the vehicle's odometer, km: as read, or estimated from its use per
	// day with standard deviation AlongSDKM. AlongKnown is false where even an
	// estimate is not possible.
	AlongKM, AlongSDKM float64
	AlongKnown         bool
	// Priors is what the fleet had taught, when this was recorded, of the places
	// where it begins a wear estimate; a place that is absent begins with the
	// embedded default. Kept here so that a replay begins the same way.
	Priors []PlacePrior
	// Set when a later event superseded this one:
	SupersededBy EventID
}

// PlacePrior is what the fleet had taught of the wear at a position.
type PlacePrior struct {
	Position Position
	Learned  wear.Learned
}

// Event is something that happened to a vehicle or a tire.
type Event interface {
	// Header returns the event's own Meta, which the use-case completes.
	Header() *Meta
	Kind() EventKind
	// TireIDs lists the tires whose history this event belongs to.
	TireIDs() []TireID
}

// Header returns m itself; it makes every struct that embeds Meta an Event.
func (m *Meta) Header() *Meta { return m }

// Inspection is one visit to a vehicle.
type Inspection struct {
	Meta
	Gauge    Gauge
	Readings []Reading
	Vehicle  []Observation // on the vehicle as a whole: dampers, looseness
}

// Gauge is the depth gauge that was used.
type Gauge struct {
	Name       string       // the gauge's own number, may be empty
	Resolution units.Length // smallest step; zero if not known
}

// Reading is what was found at one position. A place that could not be read
// is absent, never copied from its mate.
type Reading struct {
	Position Position
	TireID   TireID     // resolved by the use-case: the tire that was there
	Depths   [][]*Depth // grooves outboard to inboard, each with the same stations; nil: not read
	// Stations is where around the tire each station lies, rising; empty: evenly spaced
	// from the valve.
	Stations     []Station
	Around       units.Length // the tread's circumference by tape, for stations by tape; 0: not measured
	Pressure     *Pressure
	Hot          bool // pressure taken on a warm tire
	NotReached   bool // the valve could not be reached
	Observations []Observation
	Photos       []PhotoID // at most MaxPhotos
}

// Empty reports whether nothing was read or seen at the place, not even that its valve
// could not be reached.
func (r Reading) Empty() bool {
	return len(r.Depths) == 0 && r.Pressure == nil && !r.NotReached && len(r.Observations) == 0 && len(r.Photos) == 0
}

// Min returns the shallowest depth of the reading, false if no depth was read.
func (r Reading) Min() (Depth, bool) {
	var least *Depth
	for _, g := range r.Depths {
		for _, d := range g {
			if d != nil && (least == nil || d.Value < least.Value) {
				least = d
			}
		}
	}
	if least == nil {
		return Depth{}, false
	}
	return *least, true
}

// Across returns the least depth of each groove that was read, outboard to inboard.
func (r Reading) Across() []units.Length {
	var out []units.Length
	for _, g := range r.Depths {
		var least *Depth
		for _, d := range g {
			if d != nil && (least == nil || d.Value < least.Value) {
				least = d
			}
		}
		if least != nil {
			out = append(out, least.Value)
		}
	}
	return out
}

// Mean returns the mean over grooves of each groove's mean, false if no depth was read.
func (r Reading) Mean() (units.Length, bool) {
	var sum, grooves units.Length
	for _, g := range r.Depths {
		var s, n units.Length
		for _, d := range g {
			if d != nil {
				s, n = s+d.Value, n+1
			}
		}

		if n > 0 {
			sum, grooves = sum+s/n, grooves+1
		}
	}

	if grooves == 0 {
		return 0, false
	}
	return sum / grooves, true
}

// ObservationCode names what hand and eye find.
type ObservationCode string

// What hand and eye find at a position.
const (
	ObsSmooth        ObservationCode = "smooth"
	ObsCupping       ObservationCode = "cupping"
	ObsFeathering    ObservationCode = "feathering"
	ObsHeelToe       ObservationCode = "heel_toe"
	ObsFlatSpot      ObservationCode = "flat_spot"
	ObsDiagonal      ObservationCode = "diagonal"
	ObsErosion       ObservationCode = "erosion"
	ObsRibDepression ObservationCode = "rib_depression"
	ObsAlternateLug  ObservationCode = "alternate_lug"
	ObsShoulderStep  ObservationCode = "shoulder_step"    // step on the outer part of a shoulder rib
	ObsDepression    ObservationCode = "depression_local" // local patch on a shoulder
	ObsCut           ObservationCode = "cut"              // not to the cord
	ObsCutToCord     ObservationCode = "cut_to_cord"      // off the road
	ObsBulge         ObservationCode = "bulge"            // off the road
	ObsExposedCord   ObservationCode = "exposed_cord"     // off the road
	ObsSeparation    ObservationCode = "separation"       // off the road
	ObsFlat          ObservationCode = "flat"             // off the road
	ObsLeak          ObservationCode = "leak"             // audible: off the road
	ObsContact       ObservationCode = "contact"          // touches body or its dual: off the road
	ObsWedged        ObservationCode = "wedged"           // object between duals: off the road
	ObsLooseNuts     ObservationCode = "loose_nuts"       // loose or missing: off the road
	ObsCrackedWheel  ObservationCode = "cracked_wheel"
	ObsNail          ObservationCode = "nail"
	ObsCracks        ObservationCode = "sidewall_cracks"
	ObsMissingWeight ObservationCode = "missing_weight"
	ObsValve         ObservationCode = "valve"
	ObsWearBar       ObservationCode = "wear_bar" // tread level with the wear indicator
	ObsDirt          ObservationCode = "dirt"     // mud, ice or stones in the wheel
)

// PositionCodes lists what can be found at a position, VehicleCodes what can be
// found on the vehicle as a whole.
var (
	PositionCodes = []ObservationCode{ObsSmooth, ObsCupping, ObsFeathering, ObsHeelToe, ObsFlatSpot, ObsDiagonal,
		ObsErosion, ObsRibDepression, ObsAlternateLug, ObsShoulderStep, ObsDepression, ObsCut, ObsCutToCord, ObsBulge, ObsExposedCord, ObsSeparation,
		ObsFlat, ObsLeak, ObsContact, ObsWedged, ObsLooseNuts, ObsCrackedWheel, ObsNail, ObsCracks, ObsMissingWeight,
		ObsValve, ObsWearBar, ObsDirt}
	VehicleCodes = []ObservationCode{ObsDamperLeak, ObsLooseness, ObsPull, ObsBrakeDrag}
)

// What is found on the vehicle as a whole.
const (
	ObsDamperLeak ObservationCode = "damper_leak"
	ObsLooseness  ObservationCode = "looseness"  // bearing, kingpin, tie rod
	ObsPull       ObservationCode = "pull"       // runs to one side
	ObsBrakeDrag  ObservationCode = "brake_drag" // a brake drags, locks or runs hot
)

// TakesOffRoad reports whether a tire or wheel with c must not run until it is
// cleared. Sources: 49 CFR 393.75(a) as quoted in public texts; inspection
// practice.
func (c ObservationCode) TakesOffRoad() bool {
	switch c {
	case ObsCutToCord, ObsBulge, ObsExposedCord, ObsSeparation, ObsFlat, ObsLeak, ObsContact, ObsWedged,
		ObsLooseNuts, ObsCrackedWheel:
		return true
	}
	return false
}

// Observation is one finding of hand or eye.
type Observation struct {
	Code      ObservationCode
	Count     int          // of cups or spots; 0 if not counted
	Spacing   units.Length // between cups; 0 if not measured
	Size      units.Length // of a cut or bulge; 0 if not measured
	Direction string       // feather edges: inward or outward
	Place     string       // outer_shoulder, outer, center, inner, inner_shoulder, sidewall_outer, sidewall_inner
	Axle      int          // for what is found on the vehicle: axle number, 0 for all
	Note      string
}

// OdometerEntry is an odometer reading by itself.
type OdometerEntry struct{ Meta }

// Fit puts tires on empty places of a vehicle.
type Fit struct {
	Meta
	// Existing records tires found already on the vehicle: nothing is known of
	// their balance and torque, and nothing was done now.
	Existing bool
	Fittings []Fitting
	TorqueNM float64
}

// Fitting is one tire, on a wheel if that is known, put on one place.
type Fitting struct {
	TireID   TireID
	WheelID  WheelID
	Position Position
	// Rim is what was known of the wheel's own run-out, set by the use-case and
	// kept here so that a replay finds the same.
	Rim []TruenessRecord
}

// RemovalReason says why a tire came off.
type RemovalReason string

// Why tires come off.
const (
	WornEven             RemovalReason = "worn_even"
	WornUneven           RemovalReason = "worn_uneven"
	PunctureRepairable   RemovalReason = "puncture_repairable"
	PunctureUnrepairable RemovalReason = "puncture_unrepairable"
	CutSnag              RemovalReason = "cut_snag"
	ImpactBulge          RemovalReason = "impact_bulge"
	RunLow               RemovalReason = "run_low"
	Separation           RemovalReason = "separation"
	BeadDamage           RemovalReason = "bead_damage"
	AgeWeather           RemovalReason = "age_weather"
	FlatSpot             RemovalReason = "flat_spot"
	Mismatch             RemovalReason = "mismatch"
	Recall               RemovalReason = "recall"
	RetreadPull          RemovalReason = "retread_pull"
	SoldWithVehicle      RemovalReason = "sold_with_vehicle"
	SeasonChange         RemovalReason = "season_change"
	ReasonUnknown        RemovalReason = "unknown"
)

// RemovalReasons lists every reason.
var RemovalReasons = []RemovalReason{WornEven, WornUneven, PunctureRepairable, PunctureUnrepairable, CutSnag,
	ImpactBulge, RunLow, Separation, BeadDamage, AgeWeather, FlatSpot, Mismatch, Recall, RetreadPull,
	SoldWithVehicle, SeasonChange, ReasonUnknown}

// Removal takes tires off a vehicle.
type Removal struct {
	Meta
	Removed []Removed
}

// Removed is one tire taken off, with what is known of it at that moment.
type Removed struct {
	Position Position
	TireID   TireID // resolved by the use-case
	Reason   RemovalReason
	To       TireStatus // stock, at_retreader or scrapped
	MinDepth *Depth
	OuterOut bool // the branded sidewall faced out
}

// Rotation moves tires between places of one vehicle: a permutation, recorded
// whole or not at all.
type Rotation struct {
	Meta
	Moves    []Move
	TorqueNM float64
}

// Move is one tire going from one place to another.
type Move struct {
	From, To Position
	TireID   TireID // resolved by the use-case
}

// Repair is a repair to one tire.
type Repair struct {
	Meta
	Position  Position
	TireID    TireID
	What      string
	Demounted bool // the tire came off its wheel: it must be balanced again
	CostCents int64
}

// Alignment is wheel alignment of some axles.
type Alignment struct {
	Meta
	Axles      []int // empty: all
	Found, Set string
}

// Retorque is the check of wheel nut torque after wheels were off.
type Retorque struct {
	Meta
	Positions []Position // empty: all
	TorqueNM  float64
}

// Service is work on the parts that decide wear: dampers, bearings, steering.
type Service struct {
	Meta
	What string // dampers, bearings, steering, brakes, other
	Axle int    // 0: all
}

// Vibration is a driver's report of a shake. A zero field was not answered: it is not
// known. Course and Felt read its speeds and places in both forms.
type Vibration struct {
	Meta
	// StartsKMH, WorstKMH, FadesKMH and FeltAt are the form of a report with one band and
	// one place, in which reports were stored before there were Bands and Places.
	StartsKMH, WorstKMH, FadesKMH float64 // 0: not known
	ReturnsHigher                 bool
	FeltAt                        string      // one of ShakePlaces
	Bands                         []SpeedBand // at most MaxSpeedBands
	Places                        []string    // each one of ShakePlaces
	Braking, Throttle, Neutral    string      // effect of each: worse, better, same, only or empty
	Since                         string      // fit, rotation, pothole, repair, parked, gradual or empty
	Audible                       bool        // a growl or slap that is heard
	WarmFixes                     bool        // the shake ends after 10 to 15 minutes of driving
	Settles                       EventID     // in a later report: the event whose complaint is over
	// Corrects lists the reports whose place this one takes, the first one first; set by the
	// use-case. A report that settles one of them settles this one.
	Corrects []EventID
}

// SpeedBand is a range of speeds, km/h, in which a shake is felt; 0 is "not known", but
// one of the three speeds is known.
type SpeedBand struct {
	FromKMH, WorstKMH, ToKMH float64
	Strength                 string // one of ShakeStrengths, or empty
}

// MaxSpeedBands is the most bands of one report: chosen by us.
const MaxSpeedBands = 8

// The words of a report of a shake: where it is felt, and how strong it is, weakest
// first.
var (
	ShakePlaces    = []string{"steering_wheel", "dash", "pedal", "seat", "floor", "body"}
	ShakeStrengths = []string{"light", "clear", "strong"}
)

// Lowest returns the lowest speed of b that is known, 0 if none is.
func (b SpeedBand) Lowest() float64 { return cmp.Or(b.FromKMH, b.WorstKMH, b.ToKMH) }

// Highest returns the highest speed of b that is known, 0 if none is.
func (b SpeedBand) Highest() float64 { return cmp.Or(b.ToKMH, b.WorstKMH, b.FromKMH) }

// Course returns the bands of v, lowest first; a report in the form of one band has a
// list of one, one without a speed has none.
func (v Vibration) Course() []SpeedBand {
	if one := v.oneBand(); len(v.Bands) == 0 && one != (SpeedBand{}) {
		return []SpeedBand{one}
	}

	bands := slices.Clone(v.Bands)
	slices.SortStableFunc(bands, func(a, b SpeedBand) int { return cmp.Compare(a.Lowest(), b.Lowest()) })
	return bands
}

// Felt returns the places where the shake of v is felt.
func (v Vibration) Felt() []string {
	if len(v.Places) == 0 && v.FeltAt != "" {
		return []string{v.FeltAt}
	}
	return slices.Clone(v.Places)
}

func (v Vibration) oneBand() SpeedBand {
	return SpeedBand{FromKMH: v.StartsKMH, WorstKMH: v.WorstKMH, ToKMH: v.FadesKMH}
}

// Clearance is a named person's word that damage found earlier no longer
// keeps the tire off the road.
type Clearance struct {
	Meta
	Position Position
	TireID   TireID
	Codes    []ObservationCode
}

// TireMove changes what a tire off any vehicle is: to the retreader, back with
// a new tread, scrapped.
type TireMove struct {
	Meta
	TireID    TireID
	To        TireStatus
	Scrap     RemovalReason  // why scrapped
	NewDepths []units.Length // on return from the retreader: depths of the new tread
	CostCents int64
}

// Void withdraws the superseded event without putting another in its place.
type Void struct{ Meta }

func (*Inspection) Kind() EventKind    { return KindInspection }
func (*OdometerEntry) Kind() EventKind { return KindOdometer }
func (*Fit) Kind() EventKind           { return KindFit }
func (*Removal) Kind() EventKind       { return KindRemoval }
func (*Rotation) Kind() EventKind      { return KindRotation }
func (*BalanceJob) Kind() EventKind    { return KindBalance }
func (*Repair) Kind() EventKind        { return KindRepair }
func (*Alignment) Kind() EventKind     { return KindAlignment }
func (*Retorque) Kind() EventKind      { return KindRetorque }
func (*Service) Kind() EventKind       { return KindService }
func (*Vibration) Kind() EventKind     { return KindVibration }
func (*Clearance) Kind() EventKind     { return KindClearance }
func (*TireMove) Kind() EventKind      { return KindTireMove }
func (*WheelCheck) Kind() EventKind    { return KindWheelCheck }
func (*Void) Kind() EventKind          { return KindVoid }

// NewEvent returns an empty event of kind k, or nil if there is none.
//
//revive:disable-next-line:cyclomatic
func NewEvent(k EventKind) Event {
	switch k {
	case KindInspection:
		return new(Inspection)
	case KindOdometer:
		return new(OdometerEntry)
	case KindFit:
		return new(Fit)
	case KindRemoval:
		return new(Removal)
	case KindRotation:
		return new(Rotation)
	case KindBalance:
		return new(BalanceJob)
	case KindRepair:
		return new(Repair)
	case KindAlignment:
		return new(Alignment)
	case KindRetorque:
		return new(Retorque)
	case KindService:
		return new(Service)
	case KindVibration:
		return new(Vibration)
	case KindClearance:
		return new(Clearance)
	case KindTireMove:
		return new(TireMove)
	case KindWheelCheck:
		return new(WheelCheck)
	case KindVoid:
		return new(Void)
	}

	return nil
}

func (e *Inspection) TireIDs() []TireID {
	return collect(e.Readings, func(r Reading) TireID { return r.TireID })
}
func (*OdometerEntry) TireIDs() []TireID { return nil }
func (e *Fit) TireIDs() []TireID {
	return collect(e.Fittings, func(f Fitting) TireID { return f.TireID })
}
func (e *Removal) TireIDs() []TireID {
	return collect(e.Removed, func(r Removed) TireID { return r.TireID })
}
func (e *Rotation) TireIDs() []TireID {
	return collect(e.Moves, func(m Move) TireID { return m.TireID })
}
func (e *BalanceJob) TireIDs() []TireID { return one(e.TireID) }
func (e *Repair) TireIDs() []TireID     { return one(e.TireID) }
func (*Alignment) TireIDs() []TireID    { return nil }
func (*Retorque) TireIDs() []TireID     { return nil }
func (*Service) TireIDs() []TireID      { return nil }
func (*Vibration) TireIDs() []TireID    { return nil }
func (e *Clearance) TireIDs() []TireID  { return one(e.TireID) }
func (e *TireMove) TireIDs() []TireID   { return one(e.TireID) }
func (e *WheelCheck) TireIDs() []TireID { return one(e.TireID) }
func (*Void) TireIDs() []TireID         { return nil }

// WheelsOf lists the wheels that e was done on or puts under tires, as far as the
// record knew them: those of a balance job, a wheel check and a fit.
func WheelsOf(e Event) []WheelID {
	var all []WheelID
	switch e := e.(type) {
	case *BalanceJob:
		all = []WheelID{e.WheelID}
	case *WheelCheck:
		all = []WheelID{e.WheelID}
	case *Fit:
		for _, f := range e.Fittings {
			all = append(all, f.WheelID)
		}
	}

	slices.Sort(all)
	return slices.DeleteFunc(slices.Compact(all), func(id WheelID) bool { return id == "" })
}

func one(id TireID) []TireID {
	if id == "" {
		return nil
	}
	return []TireID{id}
}

func collect[T any](items []T, id func(T) TireID) []TireID {
	var out []TireID
	for _, it := range items {
		if t := id(it); t != "" {
			out = append(out, t)
		}
	}
	return out
}
