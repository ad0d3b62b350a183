package main

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"runtime"
	"strings"
	"testing"

	"rimledger/api"
	"rimledger/models"
	"rimledger/models/access"
)

// crowdFindings copies the open findings of the vehicles of f to the copies that
// crowd made of them.
func (f *benchFleet) crowdFindings(b *testing.B, n int) (open int) {
	b.Helper()

	_, err := f.store.DB().
		Exec(`WITH RECURSIVE n (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < ?1), v AS (SELECT *, row_number() OVER () AS k FROM vehicles WHERE number LIKE 'T-%'),
		c AS (SELECT f.*, substr(f.id, 1, 24) || printf('%06x', n) || substr(f.id, 31) AS copy, substr(v.id, 1, 24) || printf('%012x', n) AS vehicle
			FROM n JOIN v ON k = 1 + n % ?2 JOIN findings f ON f.vehicle_id = v.id WHERE f.closed_at IS NULL)
		INSERT INTO findings (id, depot_id, vehicle_id, code, urgency, since, opened_at, worse_at, due_at, closed_at, search, doc)
		SELECT copy, depot_id, vehicle, code, urgency, since, opened_at, worse_at, due_at, closed_at, search, json_set(doc, '$.ID', copy, '$.VehicleID', vehicle) FROM c`,
			n-len(f.vehicles), len(f.vehicles))
	if err != nil {
		b.Fatal(err)
	}

	if err := f.store.DB().QueryRow("SELECT count(*) FROM findings WHERE closed_at IS NULL").Scan(&open); err != nil {
		b.Fatal(err)
	}
	return open
}

// BenchmarkCalendar times the page of a month and the feed for a calendar
// program, which look at every open finding, against reading those rows.
func BenchmarkCalendar(b *testing.B) {
	ctx := context.Background()
	f := newBenchFleet(b, 50)
	f.now.Store(benchStart.AddDate(1, 0, 0).Unix())
	if _, err := f.fleet.AssessAll(ctx, nil); err != nil {
		b.Fatal(err)
	}
	f.crowd(b, *benchVehicles)
	open := f.crowdFindings(b, *benchVehicles)

	user := models.User{
		ID:    models.UserID(freshID()),
		Name:  "Mara Quill",
		Email: "mara@larkfield.example",
		Role:  models.Manager,
	}

	if _, err := f.fleet.AddUser(ctx, command(), user, "a long enough word"); err != nil {
		b.Fatal(err)
	}

	secret, hash := access.NewSecret()
	err := f.store.Write(ctx, func(tx models.Tx) error {
		return tx.PutToken(
			ctx,
			models.Token{
				ID:        models.TokenID(freshID()),
				UserID:    user.ID,
				Name:      "calendar",
				Hash:      hash,
				ReadOnly:  true,
				Feed:      true,
				ExpiresAt: benchStart.AddDate(10, 0, 0),
			},
		)
	})
	if err != nil {
		b.Fatal(err)
	}

	h, err := api.New(api.Deps{Fleet: f.fleet, Sessions: f.store.Sessions(), Version: "bench", Now: f.clock})
	if err != nil {
		b.Fatal(err)
	}

	signIn := httptest.NewRequest(
		http.MethodPost,
		"/sign-in",
		strings.NewReader(url.Values{"email": {user.Email}, "password": {"a long enough word"}}.Encode()),
	)
	signIn.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	signedIn := httptest.NewRecorder()
	h.ServeHTTP(signedIn, signIn)

	get := func(b *testing.B, path, ends string) {
		var peak uint64
		for range b.N {
			req := httptest.NewRequest(http.MethodGet, path, nil)
			for _, c := range signedIn.Result().Cookies() {
				req.AddCookie(c)
			}

			rec := &tail{header: http.Header{}}
			h.ServeHTTP(rec, req)
			if rec.status != http.StatusOK || !strings.Contains(rec.end, ends) {
				b.Fatal(rec.status, rec.end)
			}

			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			peak = max(peak, m.HeapInuse)
		}

		b.ReportMetric(float64(peak)/1e6, "heap-MB")
		b.ReportMetric(float64(open), "findings")
	}

	month := f.clock().Format("2006-01")
	b.Run("month", func(b *testing.B) { get(b, "/due/calendar?month="+month, "</html>") })
	b.Run("feed", func(b *testing.B) { get(b, "/calendar.ics?key="+secret, "END:VCALENDAR") })

	b.Run("rows", func(b *testing.B) {
		for range b.N {
			rows, err := f.store.DB().Query("SELECT doc FROM findings WHERE closed_at IS NULL")
			if err != nil {
				b.Fatal(err)
			}

			n := 0
			for rows.Next() {
				var doc string
				if err := rows.Scan(&doc); err != nil {
					b.Fatal(err)
				}
				n++
			}

			if err := rows.Close(); err != nil || n != open {
				b.Fatal(n, err)
			}
		}
	})
}

// tail keeps the status and the end of an answer, so that the answer itself
// takes no memory.
type tail struct {
	header http.Header
	status int
	end    string
}

func (t *tail) Header() http.Header    { return t.header }
func (t *tail) WriteHeader(status int) { t.status = status }
func (t *tail) Write(b []byte) (int, error) {
	if t.status == 0 {
		t.status = http.StatusOK
	}
	t.end = (t.end + string(b[max(0, len(b)-200):]))
	t.end = t.end[max(0, len(t.end)-200):]
	return len(b), nil
}
