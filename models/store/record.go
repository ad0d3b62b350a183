package store

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"sync"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"rimledger/models"
)

// The records: the rows of the tables, one struct a table.
type (
	depotRecord struct {
		ID, Name, Doc string
	}
	depotPolicyRecord struct {
		DepotID, Class string
		Doc            string
	}
	vehicleRecord struct {
		ID, DepotID, Number, Class string
		Retired                    bool
		Worst, Since, Findings     int64
		DueAt, NextCheck, PullAt   *int64
		Search, Doc, State         string
	}
	tireRecord struct {
		ID, DepotID, Number, Status  string
		VehicleID                    *string
		Position, Search, Doc, State string
	}
	wheelRecord struct {
		ID, DepotID, Number, Doc string
	}
	photoRecord struct {
		ID, VehicleID, Doc string
		Data               []byte
	}
	eventRecord struct {
		ID, Kind       string
		VehicleID      *string
		At, RecordedAt int64
		SupersededBy   string
		Doc            string
	}
	eventTireRecord struct {
		EventID, TireID string
	}
	eventWheelRecord struct {
		EventID, WheelID string
	}
	readingRecord struct {
		EventID, TireID, VehicleID, Position string
		At                                   int64
		OdometerMM                           *int64   `gorm:"column:odometer_mm"`
		MinNM                                *int64   `gorm:"column:min_nm"`
		MeanNM                               *int64   `gorm:"column:mean_nm"`
		PressureKPa                          *float64 `gorm:"column:pressure_kpa"`
	}
	fitmentRecord struct {
		ID, TireID, VehicleID, Position string
		FromAt                          int64
		ToAt                            *int64
		Doc                             string
	}
	findingRecord struct {
		ID, DepotID, VehicleID, Code string
		Urgency, Since, OpenedAt     int64
		WorseAt, DueAt, ClosedAt     *int64
		Search, Doc                  string
	}
	userRecord struct {
		ID, Email, Name, Doc string
	}
	tokenRecord struct {
		ID, UserID, Hash string
		CreatedAt        int64
		Doc              string
	}
	changeRecord struct {
		Seq                         int64 `gorm:"primaryKey;autoIncrement"`
		At                          int64
		ChangedBy, Entity, EntityID string
		Doc                         string
	}
	receiptRecord struct {
		ID, Fingerprint string
		At              int64
	}
	slotRecord struct {
		DepotID, Slot, Doc string
	}
	sessionRecord struct {
		Token  string
		Data   []byte
		Expiry int64
	}
)

func (depotRecord) TableName() string       { return "depots" }
func (depotPolicyRecord) TableName() string { return "depot_policies" }
func (vehicleRecord) TableName() string     { return "vehicles" }
func (tireRecord) TableName() string        { return "tires" }
func (wheelRecord) TableName() string       { return "wheels" }
func (photoRecord) TableName() string       { return "photos" }
func (eventRecord) TableName() string       { return "events" }
func (eventTireRecord) TableName() string   { return "event_tires" }
func (eventWheelRecord) TableName() string  { return "event_wheels" }
func (readingRecord) TableName() string     { return "readings" }
func (fitmentRecord) TableName() string     { return "fitments" }
func (findingRecord) TableName() string     { return "findings" }
func (userRecord) TableName() string        { return "users" }
func (tokenRecord) TableName() string       { return "tokens" }
func (changeRecord) TableName() string      { return "changes" }
func (receiptRecord) TableName() string     { return "receipts" }
func (slotRecord) TableName() string        { return "digest_slots" }
func (sessionRecord) TableName() string     { return "sessions" }

// micros returns t as microseconds since 1970; the zero time is before any other.
func micros(t time.Time) int64 { return t.UnixMicro() }

func microsOf(t *time.Time) *int64 {
	if t == nil {
		return nil
	}
	n := micros(*t)
	return &n
}

// fromMicros is the reverse of micros.
func fromMicros(n int64) time.Time { return time.UnixMicro(n).UTC() }

func fromMicrosOf(n *int64) *time.Time {
	if n == nil {
		return nil
	}
	t := fromMicros(*n)
	return &t
}

func nullable[T ~string](s T) *string {
	if s == "" {
		return nil
	}
	text := string(s)
	return &text
}

// encode encodes an entity under its Go field names, without empty
// fields. Everything in the entities can be encoded except NaN and infinities,
// which the use-cases refuse.
func encode(v any) (string, error) {
	b := buffers.Get().(*bytes.Buffer)
	defer buffers.Put(b)
	b.Reset()
	if err := json.MarshalWrite(b, v, json.OmitZeroStructFields(true)); err != nil {
		return "", fmt.Errorf("encode %T: %w", v, err)
	}
	return b.String(), nil
}

var buffers = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// decode reads an entity back.
func decode[T any](text string) (T, error) {
	var v T
	if err := json.UnmarshalRead(strings.NewReader(text), &v); err != nil {
		return v, fmt.Errorf("decode %T: %w", v, err)
	}
	return v, nil
}

// decodeAll reads a list of entities back, a long one on all processors.
func decodeAll[R, T any](records []R, one func(R) (T, error)) ([]T, error) {
	workers := min(runtime.GOMAXPROCS(0), 1+len(records)/100)
	out := make([]T, len(records))
	errs := make([]error, workers)
	var wg sync.WaitGroup

	decode := func(w int) {
		for i := w; i < len(records) && errs[w] == nil; i += workers {
			out[i], errs[w] = one(records[i])
		}
	}

	for w := range workers - 1 {
		wg.Go(func() { decode(w) })
	}

	decode(workers - 1)
	wg.Wait()
	return out, errors.Join(errs...)
}

func decodeEvent(r eventRecord) (models.Event, error) {
	e := models.NewEvent(models.EventKind(r.Kind))
	if e == nil {
		return nil, fmt.Errorf("event %s has the unknown kind %q", r.ID, r.Kind)
	}
	if err := json.Unmarshal([]byte(r.Doc), e); err != nil {
		return nil, fmt.Errorf("decode event %s: %w", r.ID, err)
	}
	e.Header().SupersededBy = models.EventID(r.SupersededBy)
	return e, nil
}

// searchText is what a text filter looks in.
func searchText(parts ...string) string { return strings.ToLower(strings.Join(parts, "\n")) }

// like is the pattern of a text filter.
func like(text string) string {
	return "%" + strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`).
		Replace(strings.ToLower(strings.TrimSpace(text))) +
		"%"
}

// Cursors contain the sort key of the last row of a page.
func cursor(key ...any) string {
	b, err := json.Marshal(key)
	if err != nil {
		panic(err) // keys are texts and integers
	}
	return base64.RawURLEncoding.EncodeToString(b)
}

// readCursor fills to with the key of a cursor.
func readCursor(text string, to ...any) error {
	var f models.Faults
	f.Add("after", text, "must be the next of an earlier page of the same list")
	b, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil {
		return f.Err("page")
	}

	var key []jsontext.Value
	if json.Unmarshal(b, &key) != nil || len(key) != len(to) {
		return f.Err("page")
	}

	for i := range to {
		if json.Unmarshal(key[i], to[i]) != nil {
			return f.Err("page")
		}
	}

	return nil
}

// limit returns how many rows a page has at most.
func limit(p models.Page) int { return min(max(p.Limit, 1), 500) }
