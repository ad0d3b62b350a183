package jobs_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/store"
	"rimledger/models/units"
	"rimledger/reports/jobs"
	"rimledger/reports/mail"
)

// databases runs a test on an empty database of each kind. Without PostgreSQL it skips
// that one, unless everything is required.
func databases(t *testing.T, test func(t *testing.T, dsn string)) {
	t.Run("sqlite", func(t *testing.T) {
		t.Parallel()
		test(t, filepath.Join(t.TempDir(), "record.sqlite"))
	})

	t.Run("postgres", func(t *testing.T) {
		t.Parallel()
		base := os.Getenv("RIMLEDGER_TEST_POSTGRES")
		switch {
		case base == "" && os.Getenv("RIMLEDGER_TEST_REQUIRE_ALL") == "1":
			t.Fatal("RIMLEDGER_TEST_POSTGRES is not set; " +
				"give the URL of a database in which the tests may make schemas")
		case base == "":
			t.Skip("not tested on PostgreSQL: set RIMLEDGER_TEST_POSTGRES " +
				"to the URL of a database in which the tests may make schemas")
		}

		test(t, newSchema(t, base))
	})
}

// newSchema makes an empty schema that is dropped when the test ends.
func newSchema(t *testing.T, base string) string {
	t.Helper()
	db, err := sql.Open("pgx", base)
	if err != nil {
		t.Fatal(err)
	}
	name := "jobs_" + strings.ReplaceAll(uuid.NewString(), "-", "")
	if _, err := db.Exec("CREATE SCHEMA " + name); err != nil {
		t.Fatal(err)
	}

	t.Cleanup(func() {
		if _, err := db.Exec("DROP SCHEMA " + name + " CASCADE"); err != nil {
			t.Error(err)
		}
		db.Close()
	})

	sep := "?"
	if strings.Contains(base, "?") {
		sep = "&"
	}

	return base + sep + "search_path=" + name
}

// clock is a clock that tests set.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) set(now time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = now
}

// post is a mail server that counts the messages it gets. It refuses addresses beginning
// with gone@ for good, and puts busy@ off as many times as busy says.
type post struct {
	mu    sync.Mutex
	sent  map[string]int // by key and recipient
	tried map[string]int // by recipient
	texts map[string]string
	busy  int
	gate  chan struct{} // if not nil, each message waits for it
}

func newPost() *post {
	return &post{sent: map[string]int{}, tried: map[string]int{}, texts: map[string]string{}}
}

func (p *post) Send(ctx context.Context, m mail.Message) error {
	p.mu.Lock()
	p.tried[m.To]++
	tries, gate := p.tried[m.To], p.gate
	p.mu.Unlock()

	if gate != nil {
		select {
		case <-gate:
		case <-ctx.Done():
			return ctx.Err()
		}
	}

	switch {
	case strings.HasPrefix(m.To, "gone@"):
		return fmt.Errorf("%w: 550 no such mailbox", mail.ErrRefused)
	case strings.HasPrefix(m.To, "busy@") && tries <= p.busy:
		return errors.New("451 try again later")
	}

	p.mu.Lock()
	defer p.mu.Unlock()
	key := m.Key[strings.IndexByte(m.Key, ' ')+1:] + " " + m.To
	p.sent[key]++
	p.texts[key] = m.Text
	return nil
}

func (p *post) counts() map[string]int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return maps.Clone(p.sent)
}

func (p *post) tries(to string) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.tried[to]
}

// server is one program on a database.
type server struct {
	store *store.Store
	fleet *fleet.Service
	jobs  *jobs.Runner
}

// open opens a server on a database, with the clock of the test and short retries.
func open(t *testing.T, dsn string, c *clock, sender mail.Sender) *server {
	t.Helper()
	st, err := store.Open(t.Context(), dsn, store.Options{Migrate: true})
	if err != nil {
		t.Fatal(err)
	}

	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})

	s := &server{store: st, fleet: fleet.New(st, fleet.Options{Now: c.Now})}
	s.jobs, err = jobs.New(jobs.Config{
		Fleet:   s.fleet,
		DB:      st.DB(),
		Dialect: st.Dialect(),
		Sender:  sender,
		From:    "digest@larkfield.example",
		Now:     c.Now,
		Backoff: func(int) time.Duration { return 10 * time.Millisecond },
	})
	if err != nil {
		t.Fatal(err)
	}

	return s
}

// start runs the jobs until the test ends.
func (s *server) start(t *testing.T) {
	t.Helper()
	if err := s.jobs.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.stop(t) })
}

func (s *server) stop(t *testing.T) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	if err := s.jobs.Stop(ctx); err != nil {
		t.Error(err)
	}
}

// depot creates a depot with an invented name.
func (s *server) depot(t *testing.T, name, zone, cron string, recipients ...string) models.Depot {
	t.Helper()
	d, err := s.fleet.CreateDepot(t.Context(), fleet.System(models.FromCLI), models.Depot{
		ID:           models.DepotID(uuid.Must(uuid.NewV7()).String()),
		Name:         name,
		TimeZone:     zone,
		Jurisdiction: "DE",
		Units:        units.Metric,
		Currency:     "EUR",
		DigestCron:   cron,
		Recipients:   recipients,
	})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func (s *server) slots(t *testing.T, d models.Depot) []models.DigestSlot {
	t.Helper()
	list, err := s.fleet.DigestSlots(t.Context(), fleet.System(models.FromCLI), d.ID, 100)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// eventually waits until ok returns true.
func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	modeltest.Eventually(t, what, ok)
}

// idle waits until nothing is left in the queue that could be worked on now.
func (s *server) idle(t *testing.T) {
	t.Helper()
	const left = "SELECT count(*) FROM river_job WHERE state IN ('available', 'running', 'retryable')"
	eventually(t, "the queue is empty", func() bool {
		var n int
		if err := s.store.DB().QueryRowContext(t.Context(), left).Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n == 0
	})
}

// TestTwoServersSendOnce: two servers that start and sweep at the same time, and a restart,
// send each copy once.
func TestTwoServersSendOnce(t *testing.T) {
	t.Parallel()

	databases(t, func(t *testing.T, dsn string) {
		c, p := &clock{now: at(t, "2026-03-25T12:00:00Z")}, newPost()
		a := open(t, dsn, c, p)
		b := open(t, dsn, c, p)

		want := map[string]int{}
		var depots []models.Depot
		for i := range 4 {
			to := []string{fmt.Sprintf("yard%d@larkfield.example", i), fmt.Sprintf("office%d@larkfield.example", i)}
			depots = append(depots, a.depot(t, fmt.Sprintf("Yard %d", i), "Europe/Berlin", "0 6 * * 1", to...))
			want["2026-03-30T06:00 "+to[0]], want["2026-03-30T06:00 "+to[1]] = 1, 1
		}

		// Both start at once, so that both also create the queue's tables.
		c.set(at(t, "2026-03-30T04:00:01Z"))
		var both sync.WaitGroup
		for _, s := range []*server{a, b} {
			both.Go(func() {
				if err := s.jobs.Start(t.Context()); err != nil {
					t.Error(err)
				}
			})
		}
		both.Wait()
		t.Cleanup(func() { a.stop(t); b.stop(t) })

		done := func() bool {
			return !slices.ContainsFunc(depots, func(d models.Depot) bool {
				s := a.slots(t, d)
				return len(s) != 1 || s[0].DoneAt == nil
			})
		}

		eventually(t, "all digests done", done)
		for range 3 {
			if err := errors.Join(a.jobs.Sweep(t.Context()), b.jobs.Sweep(t.Context())); err != nil {
				t.Fatal(err)
			}
		}

		a.stop(t)
		b.stop(t)
		a.start(t) // a restart sends nothing again
		if err := a.jobs.Sweep(t.Context()); err != nil {
			t.Fatal(err)
		}
		a.idle(t)
		a.stop(t)

		if diff := cmp.Diff(want, p.counts()); diff != "" {
			t.Errorf("sent (-want +got):\n%s", diff)
		}
	})
}

// TestRetries: a refused recipient is tried once, a busy one until it accepts, one whose
// address differs only in case not at all, and nobody gets a second copy.
func TestRetries(t *testing.T) {
	t.Parallel()

	databases(t, func(t *testing.T, dsn string) {
		c, p := &clock{now: at(t, "2026-03-25T12:00:00Z")}, newPost()
		p.busy = 2
		s := open(t, dsn, c, p)
		d := s.depot(t, "Hof Erlengrund", "Europe/Berlin", "0 6 * * 1", "gone@larkfield.example",
			"yard@larkfield.example", "busy@larkfield.example", "Yard@larkfield.example")

		c.set(at(t, "2026-03-30T04:00:00Z"))
		s.start(t)
		eventually(t, "digest done", func() bool { l := s.slots(t, d); return len(l) == 1 && l[0].DoneAt != nil })
		s.stop(t)

		sent := map[string]int{
			"2026-03-30T06:00 yard@larkfield.example": 1,
			"2026-03-30T06:00 busy@larkfield.example": 1,
		}
		if diff := cmp.Diff(sent, p.counts()); diff != "" {
			t.Errorf("sent (-want +got):\n%s", diff)
		}

		for to, want := range map[string]int{
			"gone@larkfield.example": 1,
			"yard@larkfield.example": 1,
			"busy@larkfield.example": 3,
			"Yard@larkfield.example": 0,
		} {
			if got := p.tries(to); got != want {
				t.Errorf("%s was tried %d times, want %d", to, got, want)
			}
		}

		slot := s.slots(t, d)[0]
		if got := slot.Deliveries; len(got) != 3 || got[0].SentAt != nil ||
			!strings.Contains(got[0].Refused, "no such mailbox") ||
			got[1].SentAt == nil || got[2].Tries != 3 || slot.LastError != "" {
			t.Errorf("the ledger says %+v", slot)
		}
	})
}

// TestAfterDowntime: the machine is off from the first of March to the second of April: of five
// Mondays only the last is mailed, for its own week of 167 hours.
func TestAfterDowntime(t *testing.T) {
	t.Parallel()

	databases(t, func(t *testing.T, dsn string) {
		c, p := &clock{now: at(t, "2026-03-01T12:00:00Z")}, newPost()
		s := open(t, dsn, c, p)
		d := s.depot(t, "Hof Erlengrund", "Europe/Berlin", "0 6 * * 1", "yard@larkfield.example")
		c.set(at(t, "2026-04-02T12:00:00Z"))
		s.start(t)
		eventually(t, "digest sent", func() bool { return len(p.counts()) > 0 })
		s.stop(t)

		if diff := cmp.Diff(map[string]int{"2026-03-30T06:00 yard@larkfield.example": 1}, p.counts()); diff != "" {
			t.Errorf("sent (-want +got):\n%s", diff)
		}

		slot := s.slots(t, d)[0]
		if !slot.From.Equal(at(t, "2026-03-23T05:00:00Z")) || !slot.To.Equal(at(t, "2026-03-30T04:00:00Z")) {
			t.Errorf("covers %s to %s", slot.From, slot.To)
		}

		if text := p.texts["2026-03-30T06:00 yard@larkfield.example"]; !strings.Contains(text,
			"Week from Mon, 23 Mar 2026 to Mon, 30 Mar 2026") {
			t.Errorf("the mail does not name its week:\n%s", text)
		}
	})
}

// TestOverClockChanges: sweeping every hour over both changes of the clocks sends each date
// once.
func TestOverClockChanges(t *testing.T) {
	t.Parallel()

	for _, from := range []string{"2026-03-27T12:00:00Z", "2026-10-23T12:00:00Z"} {
		t.Run(from, func(t *testing.T) {
			t.Parallel()
			c, p := &clock{now: at(t, from)}, newPost()
			s := open(t, filepath.Join(t.TempDir(), "record.sqlite"), c, p)
			s.depot(t, "Hof Erlengrund", "Europe/Berlin", "30 2 * * *", "yard@larkfield.example")
			s.start(t)

			want := map[string]int{}
			for hour := range 4 * 24 {
				now := at(t, from).Add(time.Duration(hour) * time.Hour)
				c.set(now)
				if err := s.jobs.Sweep(t.Context()); err != nil {
					t.Fatal(err)
				}
				if date := now.Format(time.DateOnly); hour >= 12 {
					want[date+"T02:30 yard@larkfield.example"] = 1
				}
			}

			// From noon UTC, 96 hours cover four nights.
			eventually(t, "all sent", func() bool { return len(p.counts()) >= 4 })
			s.stop(t)

			if diff := cmp.Diff(want, p.counts()); diff != "" {
				t.Errorf("sent (-want +got):\n%s", diff)
			}
		})
	}
}

// TestNothingDue: a depot whose schedule is newer than the slot, one without a schedule and
// one without recipients get no digest.
func TestNothingDue(t *testing.T) {
	t.Parallel()
	c, p := &clock{now: at(t, "2026-03-31T12:00:00Z")}, newPost()
	s := open(t, filepath.Join(t.TempDir(), "record.sqlite"), c, p)
	s.depot(t, "made after this week's slot", "Europe/Berlin", "0 6 * * 1", "yard@larkfield.example")
	s.depot(t, "wants no digest", "Europe/Berlin", "", "yard@larkfield.example")
	s.depot(t, "has no recipients", "Europe/Berlin", "* * * * *")
	c.set(at(t, "2026-04-01T12:00:00Z"))
	s.start(t)

	if err := s.jobs.Sweep(t.Context()); err != nil {
		t.Fatal(err)
	}

	s.idle(t)
	s.stop(t)
	if got := p.counts(); len(got) != 0 {
		t.Errorf("sent %v", got)
	}
}

// TestRunDigest: a digest that is asked for three times is sent once; a slot that cannot be
// read or is not due and an unknown depot are errors.
func TestRunDigest(t *testing.T) {
	t.Parallel()
	c, p := &clock{now: at(t, "2026-03-31T12:00:00Z")}, newPost()
	s := open(t, filepath.Join(t.TempDir(), "record.sqlite"), c, p)
	d := s.depot(t, "Hof Erlengrund", "Europe/Berlin", "", "yard@larkfield.example")
	s.start(t)

	for range 3 {
		if err := s.jobs.RunDigest(t.Context(), d.ID, "2026-03-31T14:00"); err != nil {
			t.Fatal(err)
		}
	}

	for _, slot := range []string{"yesterday", "2026-03-31T14:01"} { // no slot, not due yet
		if err := s.jobs.RunDigest(t.Context(), d.ID, slot); !errors.Is(err, models.Invalid) {
			t.Errorf("slot %s: got %v, want Invalid", slot, err)
		}
	}

	err := s.jobs.RunDigest(t.Context(), models.DepotID(uuid.NewString()), "2026-03-31T14:00")
	if !errors.Is(err, models.NotFound) {
		t.Errorf("unknown depot: got %v, want NotFound", err)
	}

	eventually(t, "sent", func() bool { return p.counts()["2026-03-31T14:00 yard@larkfield.example"] == 1 })
}

// TestStopWaits: Stop waits for a message that is being sent until its context ends.
func TestStopWaits(t *testing.T) {
	t.Parallel()

	for _, tt := range []struct {
		name     string
		patience time.Duration
		release  bool
		wantSent int
	}{
		{"for the message on its way", 10 * time.Second, true, 1},
		{"but not longer than it is given", 100 * time.Millisecond, false, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			c, p := &clock{now: at(t, "2026-03-25T12:00:00Z")}, newPost()
			p.gate = make(chan struct{})
			s := open(t, filepath.Join(t.TempDir(), "record.sqlite"), c, p)
			s.depot(t, "Hof Erlengrund", "Europe/Berlin", "0 6 * * 1", "yard@larkfield.example")
			c.set(at(t, "2026-03-30T04:00:00Z"))

			ctx, cancel := context.WithCancel(t.Context())
			if err := s.jobs.Start(ctx); err != nil {
				t.Fatal(err)
			}
			if err := s.jobs.Start(ctx); err == nil {
				t.Error("started twice")
			}

			eventually(t, "message on its way", func() bool { return p.tries("yard@larkfield.example") == 1 })
			cancel() // the end of Start's context does not stop the work
			if tt.release {
				time.AfterFunc(300*time.Millisecond, func() { close(p.gate) })
			}

			patience, end := context.WithTimeout(t.Context(), tt.patience)
			defer end()
			if err := s.jobs.Stop(patience); err != nil {
				t.Fatal(err)
			}
			if got := p.counts()["2026-03-30T06:00 yard@larkfield.example"]; got != tt.wantSent {
				t.Errorf("sent %d, want %d", got, tt.wantSent)
			}
			if err := s.jobs.Stop(t.Context()); err != nil {
				t.Errorf("stopping again: %v", err)
			}
		})
	}
}

// TestAssessedByTime: a vehicle whose next check has come is assessed, also on a server
// without mail.
func TestAssessedByTime(t *testing.T) {
	t.Parallel()
	c := &clock{now: at(t, "2026-03-02T12:00:00Z")}
	s := open(t, filepath.Join(t.TempDir(), "record.sqlite"), c, nil)
	d := s.depot(t, "Hof Erlengrund", "Europe/Berlin", "0 6 * * 1", "yard@larkfield.example")
	v, err := s.fleet.CreateVehicle(t.Context(), fleet.System(models.FromCLI), models.Vehicle{
		ID:      models.VehicleID(uuid.Must(uuid.NewV7()).String()),
		DepotID: d.ID,
		Number:  "T-01",
		Class:   models.Tractor,
		Axles:   []models.Axle{{Steered: true}, {Driven: true, Dual: true}},
	})
	if err != nil {
		t.Fatal(err)
	}

	tire, err := s.fleet.CreateTire(t.Context(), fleet.System(models.FromCLI), models.Tire{
		ID:        models.TireID(uuid.Must(uuid.NewV7()).String()),
		DepotID:   d.ID,
		Number:    "R-01",
		Size:      "295/75R22.5 144/141L",
		NewDepths: []units.Length{16 * units.Millimetre},
	})
	if err != nil {
		t.Fatal(err)
	}

	fit := &models.Fit{
		Meta: models.Meta{
			ID:        models.EventID(uuid.Must(uuid.NewV7()).String()),
			VehicleID: v.ID,
			At:        at(t, "2026-03-02T11:00:00Z"),
		},
		Fittings: []models.Fitting{{TireID: tire.ID, Position: "1L"}},
	}
	if _, err := s.fleet.Record(t.Context(), fleet.System(models.FromCLI), fit); err != nil {
		t.Fatal(err)
	}

	c.set(at(t, "2027-03-02T12:00:00Z"))
	waiting := func() (n int) {
		err := s.store.Read(t.Context(), func(r models.Reader) error {
			list, err := r.VehiclesToCheck(t.Context(), c.Now(), 10)
			n = len(list)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	if waiting() == 0 {
		t.Fatal("no vehicle waits for a check; the test checks nothing")
	}

	s.start(t)
	eventually(t, "vehicle assessed", func() bool { return waiting() == 0 })
}

func TestNewRefuses(t *testing.T) {
	t.Parallel()
	if _, err := jobs.New(jobs.Config{Dialect: "oracle"}); err == nil {
		t.Error("accepted a database that has no queue")
	}
}

// TestEvery: the loop calls at once and then at each interval, for weeks.
func TestEvery(t *testing.T) {
	t.Parallel()

	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 21*24*time.Hour+time.Second)
		defer cancel()

		calls, last := 0, time.Now()
		jobs.Every(ctx, 30*time.Second, func() {
			if calls++; time.Since(last) > 30*time.Second {
				t.Error("a turn was left out")
			}
			last = time.Now()
		})

		if want := 21*24*120 + 1; calls != want { // at once, then twice a minute for three weeks
			t.Errorf("looked %d times, want %d", calls, want)
		}
	})
}
