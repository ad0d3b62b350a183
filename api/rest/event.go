package rest

import (
	"encoding/json"
	"reflect"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"rimledger/models"
)

// Meta is what every event says. What the server adds is read-only: it is ignored in
// what is sent, but for a depot, which must be the right one.
type Meta struct {
	ID                string    `json:"id,omitempty"                 format:"uuid" doc:"Made by whoever first writes it down (UUIDv7); the same id with the same content gives the first answer again. The server makes one if it is left out."`
	Kind              string    `json:"kind,omitempty"                             doc:"What happened."                                                                                                                                         readOnly:"true"`
	VehicleID         string    `json:"vehicle_id,omitempty"         format:"uuid" doc:"The vehicle; left out only for what happens to a tire off any vehicle."`
	DepotID           string    `json:"depot_id,omitempty"                             doc:"The depot where it happened: that of the vehicle, or of the tire. May be left out; another one is refused."                                                                                                             readOnly:"true"`
	At                time.Time `json:"at"                                         doc:"When it happened."`
	Odometer          Odometer  `json:"odometer"                                   doc:"The vehicle's odometer then."                                                                                                                                           required:"false"`
	OdometerKM        *float64  `json:"odometer_km,omitempty"                      doc:"The odometer as a number, km."                                                                                                                          readOnly:"true"`
	OdometerEstimated bool      `json:"odometer_estimated,omitempty"               doc:"Not read but judged."`
	Person            string    `json:"person,omitempty"                           doc:"Who did it, as written on the sheet; whoever sends it if left out."                                                                                                                      maxLength:"2000"`
	Note              string    `json:"note,omitempty"                                                                                                                                                                                                                           maxLength:"2000"`
	Supersedes        string    `json:"supersedes,omitempty"         format:"uuid" doc:"A correction: the event of the same kind that this one replaces."`
	Reason            string    `json:"reason,omitempty"                           doc:"Why it is corrected."                                                                                                                                                                    maxLength:"2000"`
	Confirmed         []string  `json:"confirmed,omitempty"                        doc:"Codes of held values that a person confirmed."                                                                                                                                                            nullable:"false" maxItems:"500"`

	SupersededBy string     `json:"superseded_by,omitempty" readOnly:"true" doc:"The event that corrected this one."`
	RecordedAt   *time.Time `json:"recorded_at,omitempty"   readOnly:"true"`
	RecordedBy   string     `json:"recorded_by,omitempty"   readOnly:"true"`
	Source       string     `json:"source,omitempty"        readOnly:"true" doc:"page, api, import, command or demo."`
	AlongKM      *float64   `json:"along_km,omitempty"      readOnly:"true" doc:"Where the vehicle was on its odometer, km: as read, or judged from its use per day."`
}

func (m *Meta) meta() *Meta { return m }

func (m *Meta) model() models.Meta {
	odometer := m.Odometer.o

	odometer.Estimated = odometer.Known && m.OdometerEstimated
	return models.Meta{
		ID:         models.EventID(idOrNew(m.ID)),
		VehicleID:  models.VehicleID(m.VehicleID),
		DepotID:    models.DepotID(m.DepotID),
		At:         m.At,
		Odometer:   odometer,
		Person:     m.Person,
		Note:       m.Note,
		Supersedes: models.EventID(m.Supersedes),
		Reason:     m.Reason,
		Confirmed:  m.Confirmed,
	}
}

func metaOf(e models.Event) Meta {
	h := e.Header()
	m := Meta{
		ID:                string(h.ID),
		Kind:              string(e.Kind()),
		VehicleID:         string(h.VehicleID),
		DepotID:           string(h.DepotID),
		At:                h.At,
		Odometer:          Odometer{h.Odometer},
		OdometerKM:        kilometres(h.Odometer),
		OdometerEstimated: h.Odometer.Estimated,
		Person:            h.Person,
		Note:              h.Note,
		Supersedes:        string(h.Supersedes),
		Reason:            h.Reason,
		Confirmed:         h.Confirmed,
		SupersededBy:      string(h.SupersededBy),
		RecordedAt:        moment(h.RecordedAt),
		RecordedBy:        string(h.RecordedBy),
		Source:            string(h.Source),
	}

	if h.AlongKnown {
		m.AlongKM = &h.AlongKM
	}
	return m
}

// wireEvent is an event as the API writes it: *W takes the place of the event
// type E of the domain.
type wireEvent[W any, E models.Event] interface {
	*W
	meta() *Meta
	event(models.Meta) E
	from(E)
}

// eventKind is one kind of event: where it is sent, and how it is written.
type eventKind struct {
	kind     models.EventKind
	wire     func(models.Event) any
	schema   reflect.Type
	register func(*server)
}

// kindOf describes a kind of event that is posted to path.
func kindOf[W any, E models.Event, P wireEvent[W, E]](
	kind models.EventKind,
	path, summary, description string,
) eventKind {
	wire := func(e models.Event) W {
		var w W
		P(&w).from(e.(E))
		*P(&w).meta() = metaOf(e)
		return w
	}

	return eventKind{
		kind:   kind,
		wire:   func(e models.Event) any { return wire(e) },
		schema: reflect.TypeFor[W](),
		register: func(s *server) {
			registerEvent(
				s,
				path,
				summary,
				description,
				func(w *W) models.Event { return P(w).event(P(w).meta().model()) },
				wire,
			)
		},
	}
}

// eventKinds are all kinds of events.
var eventKinds = []eventKind{
	kindOf[Inspection, *models.Inspection](
		models.KindInspection,
		"/inspections",
		"Record an inspection",
		"One visit to a vehicle. A place that could not be read is left out or null, never copied from its mate. "+
			"Values that are believable only if confirmed are answered with a problem of kind held: measure again, "+
			"or send the same with the codes in confirmed.",
	),
	kindOf[OdometerReading, *models.OdometerEntry](
		models.KindOdometer,
		"/odometers",
		"Record an odometer reading",
		"A reading by itself, from any source.",
	),
	kindOf[Fit, *models.Fit](
		models.KindFit,
		"/fitments",
		"Fit tires",
		"Puts tires on empty places of a vehicle. Torque the nuts, and record the check of torque after the first "+
			"kilometres.",
	),
	kindOf[Removal, *models.Removal](
		models.KindRemoval, "/removals", "Take tires off", "Takes tires off a vehicle and says why.",
	),
	kindOf[Rotation, *models.Rotation](
		models.KindRotation,
		"/rotations",
		"Rotate tires",
		"Moves tires between places of one vehicle: a permutation, recorded whole or not at all.",
	),
	kindOf[BalanceJob, *models.BalanceJob](
		models.KindBalance,
		"/balance-jobs",
		"Record a balance job",
		"What the balancer showed, what was fitted, what it showed after; also a check spin.",
	),
	kindOf[Repair, *models.Repair](models.KindRepair, "/repairs", "Record a repair of a tire", ""),
	kindOf[Alignment, *models.Alignment](models.KindAlignment, "/alignments", "Record a wheel alignment", ""),
	kindOf[Retorque, *models.Retorque](models.KindRetorque, "/retorques", "Record a check of nut torque", ""),
	kindOf[Service, *models.Service](
		models.KindService, "/services", "Record work on dampers, bearings, steering or brakes", "",
	),
	kindOf[VibrationReport, *models.Vibration](
		models.KindVibration,
		"/vibration-reports",
		"Record a driver's report of a shake",
		"Speeds are km/h; 0 is not known.",
	),
	kindOf[Clearance, *models.Clearance](
		models.KindClearance,
		"/clearances",
		"Clear damage",
		"A named person's word that damage found earlier no longer keeps the tire off the road.",
	),
	kindOf[TireMove, *models.TireMove](
		models.KindTireMove,
		"/tire-moves",
		"Move a tire that is off any vehicle",
		"To the retreader, back with a new tread, or scrapped.",
	),
	kindOf[WheelCheck, *models.WheelCheck](
		models.KindWheelCheck,
		"/wheel-checks",
		"Record bead seat and run-out of an assembly",
		"What was measured of one assembly, on the vehicle or loose. Each measure stands until the same is measured "+
			"again, or the tire comes off its wheel; run-out of the rim stays with the wheel.",
	),
	kindOf[Void, *models.Void](
		models.KindVoid,
		"/voids",
		"Withdraw an event",
		"Withdraws the superseded event without another in its place; it stays readable.",
	),
}

// Event is an event of any kind; kind says which.
type Event struct{ wire any }

// MarshalJSON writes the event itself.
func (e Event) MarshalJSON() ([]byte, error) { return json.Marshal(e.wire) }

// Schema is any of the kinds.
func (Event) Schema(r huma.Registry) *huma.Schema {
	s := &huma.Schema{Description: "An event; kind says which of these it is."}
	for _, k := range eventKinds {
		s.AnyOf = append(s.AnyOf, r.Schema(k.schema, true, ""))
	}
	return s
}

func eventOf(e models.Event) Event {
	for _, k := range eventKinds {
		if k.kind == e.Kind() {
			return Event{k.wire(e)}
		}
	}
	return Event{metaOf(e)}
}
