package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"rimledger/api"
	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/fleet"
	"rimledger/models/store"
	"rimledger/models/units"
)

var benchVehicles = flag.Int("vehicles", 1000, "how many vehicles the benchmarks' databases hold")

func freshID() string { return uuid.Must(uuid.NewV7()).String() }

// benchFleet is a database with tractors on ten tires each, fitted and balanced
// on benchStart, and a token. Its clock shows what now says.
type benchFleet struct {
	store    *store.Store
	fleet    *fleet.Service
	depot    models.Depot
	vehicles []models.VehicleID
	token    string
	now      atomic.Int64 // Unix seconds
}

var benchStart = time.Date(2025, 1, 6, 6, 0, 0, 0, time.UTC)

func (f *benchFleet) clock() time.Time { return time.Unix(f.now.Load(), 0) }

func newBenchFleet(b *testing.B, vehicles int) *benchFleet {
	b.Helper()
	ctx := context.Background()
	st, err := store.Open(ctx, filepath.Join(b.TempDir(), "bench.sqlite"), store.Options{Migrate: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { st.Close() })
	f := &benchFleet{store: st, depot: models.Depot{ID: models.DepotID(freshID()), Name: "Alder Yard",
		TimeZone: "America/Chicago", Jurisdiction: "US", Units: units.US, Currency: "USD"}}
	f.now.Store(benchStart.Unix())

	f.fleet = fleet.New(st, fleet.Options{Now: f.clock})
	if f.depot, err = f.fleet.CreateDepot(ctx, command(), f.depot); err != nil {
		b.Fatal(err)
	}

	user := models.User{
		ID:    models.UserID(freshID()),
		Name:  "Lee Marsh",
		Email: "lee@larkfield.example",
		Role:  models.Manager,
	}

	secret, hash := access.NewSecret()
	f.token = secret

	err = st.Write(ctx, func(tx models.Tx) error {
		if err := tx.PutUser(ctx, user); err != nil {
			return err
		}
		return tx.PutToken(
			ctx,
			models.Token{
				ID:        models.TokenID(freshID()),
				UserID:    user.ID,
				Name:      "bench",
				Hash:      hash,
				ExpiresAt: benchStart.AddDate(10, 0, 0),
			},
		)
	})
	if err != nil {
		b.Fatal(err)
	}

	psi := models.Pressure{Value: 100 * units.PSI, Text: "100 psi"}
	axles := []models.Axle{
		{Steered: true, Pressure: psi},
		{Driven: true, Dual: true, Pressure: psi},
		{Driven: true, Dual: true, Pressure: psi},
	}

	for n := range vehicles {
		v := models.Vehicle{
			ID:        models.VehicleID(freshID()),
			DepotID:   f.depot.ID,
			Number:    fmt.Sprintf("T-%05d", n),
			Class:     models.Tractor,
			MaxMassKG: 23600,
			Axles:     axles,
		}

		if _, err := f.fleet.CreateVehicle(ctx, command(), v); err != nil {
			b.Fatal(err)
		}

		start := models.Odometer{Known: true, Value: 100_000 * units.Mile}
		fit := &models.Fit{
			Meta:     models.Meta{ID: models.EventID(freshID()), VehicleID: v.ID, At: benchStart, Odometer: start},
			Existing: true,
		}

		for i, p := range v.Positions() {
			t := models.Tire{
				ID:        models.TireID(freshID()),
				DepotID:   f.depot.ID,
				Number:    fmt.Sprintf("R%05d-%d", n, i),
				Size:      "295/75R22.5",
				NewDepths: []units.Length{20 * units.ThirtySecond, 20 * units.ThirtySecond, 20 * units.ThirtySecond},
			}

			if _, err := f.fleet.CreateTire(ctx, command(), t); err != nil {
				b.Fatal(err)
			}

			fit.Fittings = append(fit.Fittings, models.Fitting{TireID: t.ID, Position: p})
		}

		if _, err := f.fleet.Record(ctx, command(), fit); err != nil {
			b.Fatal(err)
		}

		f.vehicles = append(f.vehicles, v.ID)
	}

	return f
}

// crowd copies the vehicles and tires of f, rows and documents, until there are
// n vehicles.
func (f *benchFleet) crowd(b *testing.B, n int) {
	b.Helper()

	const newID = "substr(v.id, 1, 24) || printf('%012x', n)"
	for _, text := range []string{
		`WITH RECURSIVE n (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < ?1), v AS (SELECT *, row_number() OVER () AS k FROM vehicles)
		INSERT INTO vehicles (id, depot_id, number, class, retired, worst, since, findings, due_at, next_check, search, doc, state)
		SELECT ` + newID + `, depot_id, printf('C-%06d', n), class, retired, 1 + n % 4, since + n, 1 + n % 3, due_at, next_check, printf('c-%06d', n),
			json_set(doc, '$.ID', ` + newID + `, '$.Number', printf('C-%06d', n)), state FROM n JOIN v ON k = 1 + n % ?2`,
		`WITH RECURSIVE n (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < ?1), v AS (SELECT *, row_number() OVER () AS k FROM vehicles WHERE number LIKE 'T-%'),
		c AS (SELECT t.*, substr(t.id, 1, 24) || printf('%06x', n) || substr(t.id, 31) AS tire, ` + newID + ` AS vehicle, n FROM n JOIN v ON k = 1 + n % ?2 JOIN tires t ON t.vehicle_id = v.id)
		INSERT INTO tires (id, depot_id, number, status, vehicle_id, position, search, doc, state)
		SELECT tire, depot_id, printf('C-%06d-', n) || position, status, vehicle, position, search, json_set(doc, '$.ID', tire), json_set(state, '$.VehicleID', vehicle) FROM c`,
	} {
		if _, err := f.store.DB().Exec(text, n-len(f.vehicles), len(f.vehicles)); err != nil {
			b.Fatal(err)
		}
	}
}

// inspectionBody is the JSON of the n-th ten-wheel inspection of a tractor that
// is looked at every ten days, runs 2,000 miles between, and wears 1.1 to 1.5
// thirty-seconds per 10,000 miles at the ten places.
func inspectionBody(v models.VehicleID, n int) (body []byte, at time.Time) {
	axles := []models.Axle{{}, {Dual: true}, {Dual: true}}
	at = benchStart.AddDate(0, 0, 10*(n+1))

	var readings []any
	for i, p := range models.Positions(axles, 0) {
		depth := 20 - float64(n+1)*0.02*float64(11+i%5)

		d := func(off int) string { return fmt.Sprintf("%.1f/32", depth+0.1*float64((n+off)%3)) }
		readings = append(
			readings,
			map[string]any{
				"position": p,
				"depths":   [][]string{{d(0)}, {d(1)}, {d(2)}},
				"pressure": fmt.Sprintf("%d psi", 99+(n+i)%3),
			},
		)
	}

	body, err := json.Marshal(
		map[string]any{
			"id":         freshID(),
			"vehicle_id": v,
			"at":         at,
			"odometer":   fmt.Sprintf("%d mi", 100_000+2000*(n+1)),
			"readings":   readings,
		},
	)
	if err != nil {
		panic(err)
	}

	return body, at.Add(time.Hour)
}

// BenchmarkInspection compares a ten-wheel inspection over HTTP, assessed and
// durably committed, with a bare handler that decodes the same JSON and writes
// the same rows to the same tables with prepared statements.
func BenchmarkInspection(b *testing.B) {
	b.Run("rimledger", func(b *testing.B) {
		f := newBenchFleet(b, 50)
		f.crowd(b, *benchVehicles)
		h, err := api.New(api.Deps{Fleet: f.fleet, Sessions: f.store.Sessions(), Version: "bench"})
		if err != nil {
			b.Fatal(err)
		}
		post(b, f, h)
	})

	b.Run("bare", func(b *testing.B) {
		f := newBenchFleet(b, 50)
		f.crowd(b, *benchVehicles)
		post(b, f, newBareHandler(b, f.store.DB()))
	})
}

// BenchmarkReassess assesses 4,000 vehicles with 40,000 tires again, against the
// slopes of their 2,000,000 readings in SQL, in SQLite and in PostgreSQL.
func BenchmarkReassess(b *testing.B) {
	const vehicles, readings = 4000, 50
	b.Run("rimledger", func(b *testing.B) {
		f := newBenchFleet(b, 50)
		h, err := api.New(api.Deps{Fleet: f.fleet, Sessions: f.store.Sessions(), Version: "bench"})
		if err != nil {
			b.Fatal(err)
		}

		for n := range 6 * len(f.vehicles) {
			body, now := inspectionBody(f.vehicles[n%len(f.vehicles)], n/len(f.vehicles))
			f.now.Store(now.Unix())
			req := httptest.NewRequest(http.MethodPost, "/api/v1/inspections", bytes.NewReader(body))
			req.Header.Set("Content-Type", "application/json")
			req.Header.Set("Authorization", "Bearer "+f.token)

			rec := httptest.NewRecorder()
			if h.ServeHTTP(rec, req); rec.Code >= 300 {
				b.Fatal(rec.Code, rec.Body)
			}
		}

		f.crowd(b, vehicles)
		if _, err := f.fleet.AssessAll(context.Background(), nil); err != nil { // opens what the copies lack
			b.Fatal(err)
		}

		var peak uint64
		b.ResetTimer()

		for range b.N {
			f.now.Add(3600)

			n, err := f.fleet.AssessAll(context.Background(), func(int) {
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				peak = max(peak, m.HeapInuse)
			})
			if err != nil || n != vehicles {
				b.Fatal(n, err)
			}
		}

		b.ReportMetric(float64(peak)/1e6, "peak-MB")
	})

	const slopes = "SELECT count(slope) FROM (SELECT tire, (COUNT(*) * SUM(km * mm) - SUM(km) * SUM(mm)) / " +
		"(COUNT(*) * SUM(km * km) - SUM(km) * SUM(km)) AS slope FROM depths GROUP BY tire) s"

	b.Run("slopes in SQLite", func(b *testing.B) {
		db := bareDB(b)
		mustExec(b, db, `CREATE TABLE depths (tire INTEGER, km REAL, mm REAL)`)
		mustExec(b, db, fmt.Sprintf(`WITH RECURSIVE t (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM t WHERE n < %d - 1)
			INSERT INTO depths SELECT n / %d, (n %% %[2]d) * 2000, 16 - (n %% %[2]d) * 0.2 - (n %% 7) * 0.1 FROM t`, vehicles*10*readings, readings))
		mustExec(b, db, "CREATE INDEX depths_tire ON depths (tire, km, mm)")
		countTires(b, db, slopes, vehicles*10)
	})

	b.Run("regr_slope in PostgreSQL", func(b *testing.B) {
		dsn := os.Getenv("RIMLEDGER_TEST_POSTGRES")
		if dsn == "" {
			b.Skip("RIMLEDGER_TEST_POSTGRES names no PostgreSQL")
		}
		db, err := sql.Open("pgx", dsn)
		if err != nil {
			b.Fatal(err)
		}
		defer db.Close()

		db.SetMaxOpenConns(1) // temporary tables live in one connection
		mustExec(
			b,
			db,
			fmt.Sprintf(`CREATE TEMPORARY TABLE depths AS SELECT n / %[2]d AS tire, ((n %% %[2]d) * 2000)::float8 AS km,
			(16 - (n %% %[2]d) * 0.2 - (n %% 7) * 0.1)::float8 AS mm FROM generate_series(0, %[1]d - 1) n`, vehicles*10*readings, readings),
		)

		mustExec(b, db, "CREATE INDEX ON depths (tire)")
		mustExec(b, db, "ANALYZE depths")

		countTires(
			b,
			db,
			"SELECT count(slope) FROM (SELECT tire, regr_slope(mm, km) AS slope FROM depths GROUP BY tire) s",
			vehicles*10,
		)
	})
}

func mustExec(b *testing.B, db *sql.DB, text string) {
	b.Helper()
	if _, err := db.Exec(text); err != nil {
		b.Fatal(err)
	}
}

// countTires times a query that comes to a slope for each of want tires.
func countTires(b *testing.B, db *sql.DB, query string, want int) {
	b.Helper()
	b.ResetTimer()
	for range b.N {
		var n int
		if err := db.QueryRow(query).Scan(&n); err != nil || n != want {
			b.Fatal(n, err)
		}
	}
}

// post sends b.N inspections one after another and reports the 99th percentile.
func post(b *testing.B, f *benchFleet, h http.Handler) {
	b.Helper()
	server := httptest.NewServer(h)
	defer server.Close()
	var times []time.Duration
	b.ResetTimer()

	for n := range b.N {
		b.StopTimer()
		body, now := inspectionBody(f.vehicles[n%len(f.vehicles)], n/len(f.vehicles))
		f.now.Store(now.Unix())
		req, err := http.NewRequest(http.MethodPost, server.URL+"/api/v1/inspections", bytes.NewReader(body))
		if err != nil {
			b.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("Authorization", "Bearer "+f.token)

		b.StartTimer()
		began := time.Now()
		res, err := server.Client().Do(req)
		if err != nil {
			b.Fatal(err)
		}
		answer, err := io.ReadAll(res.Body)
		res.Body.Close()
		times = append(times, time.Since(began))

		if err != nil || res.StatusCode >= 300 {
			b.Fatalf("inspection %d: %s, %v\n%s", n, res.Status, err, answer)
		}
	}

	b.StopTimer()
	reportP99(b, times)
}

func reportP99(b *testing.B, times []time.Duration) {
	slices.Sort(times)
	b.ReportMetric(float64(times[len(times)*99/100].Microseconds())/1000, "p99-ms")
}

// bareHandler writes an inspection's rows and knows nothing of tires.
type bareHandler struct {
	db                                        *sql.DB
	receipt, event, link, reading, tire, unit *sql.Stmt
	tires                                     map[string]map[string]string // of a vehicle, by position
}

func newBareHandler(b *testing.B, db *sql.DB) *bareHandler {
	b.Helper()
	h := &bareHandler{db: db, tires: map[string]map[string]string{}}
	rows, err := db.Query("SELECT vehicle_id, position, id FROM tires")
	if err != nil {
		b.Fatal(err)
	}

	for rows.Next() {
		var vehicle, position, id string
		if err := rows.Scan(&vehicle, &position, &id); err != nil {
			b.Fatal(err)
		}
		if h.tires[vehicle] == nil {
			h.tires[vehicle] = map[string]string{}
		}
		h.tires[vehicle][position] = id
	}

	if err := rows.Close(); err != nil {
		b.Fatal(err)
	}

	for text, to := range map[string]**sql.Stmt{
		"INSERT INTO receipts (id, fingerprint, at) VALUES (?, ?, ?)": &h.receipt,
		"INSERT INTO events (id, kind, vehicle_id, at, recorded_at, superseded_by, doc) VALUES (?, 'inspection', ?, " +
			"?, ?, '', ?)": &h.event,
		"INSERT INTO event_tires (event_id, tire_id) VALUES (?, ?)": &h.link,
		"INSERT INTO readings (event_id, tire_id, vehicle_id, position, at, odometer_mm, min_nm, mean_nm, " +
			"pressure_kpa) VALUES (?, ?, ?, ?, ?, 1, 2, 3, 4)": &h.reading,
		"UPDATE tires SET state = ? WHERE id = ?":                                             &h.tire,
		"UPDATE vehicles SET state = ?, due_at = ?, next_check = ?, pull_at = 1 WHERE id = ?": &h.unit,
	} {
		if *to, err = db.Prepare(text); err != nil {
			b.Fatal(err)
		}
	}

	return h
}

func (h *bareHandler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var in struct {
		ID, Odometer string
		Vehicle      string `json:"vehicle_id"`
		At           time.Time
		Readings     []struct {
			Position, Pressure string
			Depths             [][]string
		}
	}

	raw, err := io.ReadAll(r.Body)
	if err == nil {
		err = json.Unmarshal(raw, &in)
	}

	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}

	// As large as what the program keeps: 2,010 bytes a tire, 780 a vehicle, 2,900 an
	// event; and never the same twice, or SQLite would leave the pages alone.
	text := strings.Repeat(in.ID, 81)
	doc := append(raw, text[:max(0, 2900-len(raw))]...)

	tx, err := h.db.Begin()
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	defer tx.Rollback()

	exec := func(s *sql.Stmt, args ...any) {
		if err == nil {
			_, err = tx.Stmt(s).Exec(args...)
		}
	}

	at := in.At.UnixMicro()
	exec(h.receipt, in.ID, in.ID+in.ID, at)
	exec(h.event, in.ID, in.Vehicle, at, at, doc)

	for _, rd := range in.Readings {
		tire := h.tires[in.Vehicle][rd.Position]
		exec(h.link, in.ID, tire)
		exec(h.reading, in.ID, tire, in.Vehicle, rd.Position, at)
		exec(h.tire, text[:2010], tire)
	}

	exec(h.unit, text[:780], at, at, in.Vehicle)
	if err == nil {
		err = tx.Commit()
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
	}
}

func bareDB(b *testing.B) *sql.DB {
	b.Helper()
	db, err := sql.Open(
		"sqlite3",
		"file:"+filepath.Join(b.TempDir(), "bare.sqlite")+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate",
	)
	if err != nil {
		b.Fatal(err)
	}

	b.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("CREATE TABLE events (id TEXT PRIMARY KEY, doc TEXT)"); err != nil {
		b.Fatal(err)
	}

	return db
}

// BenchmarkImport compares the import of 5,000 odometer rows with prepared
// inserts of the same rows, into the same tables, in one transaction.
func BenchmarkImport(b *testing.B) {
	const rows = 5000
	f := newBenchFleet(b, 20)
	f.now.Store(benchStart.AddDate(9, 0, 0).Unix())

	b.Run("rimledger", func(b *testing.B) {
		for n := range b.N {
			batch := fleet.ImportBatch{Kind: "odometers", DepotID: f.depot.ID, Confirm: true}
			for i := range rows {
				at := benchStart.Add(time.Duration(b.N*10*rows+n*rows+i) * time.Second)
				batch.Rows = append(batch.Rows, fleet.ImportRow{Line: i + 2,
					Cells: []string{fmt.Sprintf("T-%05d", i%20), at.Format(time.RFC3339), fmt.Sprintf("%d km",
						300_000+i)}})
			}

			if _, err := f.fleet.Import(context.Background(), command(), batch); err != nil {
				b.Fatal(err)
			}
		}

		b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
	})

	b.Run("raw inserts", func(b *testing.B) {
		h := newBareHandler(b, f.store.DB())
		for n := range b.N {
			tx, err := h.db.Begin()
			if err != nil {
				b.Fatal(err)
			}

			receipt, event := tx.Stmt(h.receipt), tx.Stmt(h.event)
			for i := range rows {
				v := string(f.vehicles[i%20])
				id := uuid.NewSHA1(uuid.NameSpaceOID, fmt.Appendf(nil, "%d %d %d", b.N, n, i)).
					String()

					// as an import's ids are
				doc := fmt.Sprintf(
					`{"ID":"%s","DepotID":"%s","VehicleID":"%s","At":"%s","Odometer":{"Known":true,"Value":%d,"Text":"%d km"},"run":%d}`,
					id,
					f.depot.ID,
					v,
					benchStart.Format(time.RFC3339),
					300_000+i,
					300_000+i,
					n,
				)

				if _, err := receipt.Exec(id, id+id, i); err != nil {
					b.Fatal(err)
				}
				if _, err := event.Exec(id, v, i, i, doc); err != nil {
					b.Fatal(err)
				}
			}

			if err := tx.Commit(); err != nil {
				b.Fatal(err)
			}
		}

		b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
	})
}

// BenchmarkAttention reads the first page of the attention list, against one
// SQL query that finds the most worn tires of as many vehicles by the slope of
// their readings.
func BenchmarkAttention(b *testing.B) {
	f := newBenchFleet(b, 50)
	f.crowd(b, *benchVehicles)

	ctx := context.Background()
	b.Run("attention list", func(b *testing.B) {
		var times []time.Duration
		for range b.N {
			began := time.Now()

			rows, _, err := f.fleet.Vehicles(
				ctx,
				command(),
				models.VehicleFilter{Attention: true},
				models.Page{Limit: 50},
			)
			if err != nil || len(rows) != 50 {
				b.Fatal(len(rows), err)
			}

			times = append(times, time.Since(began))
		}

		reportP99(b, times)
	})

	b.Run("slopes in SQL", func(b *testing.B) {
		db := bareDB(b)
		if _, err := db.Exec(`CREATE TABLE depths (tire INTEGER, km REAL, mm REAL);
			WITH RECURSIVE t (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM t WHERE n < ? * 10 * 8 - 1)
			INSERT INTO depths SELECT n / 8, (n % 8) * 5000, 8 - (n % 8) * 0.5 - (n / 8 % 7) * 0.1 FROM t; CREATE INDEX depths_tire ON depths (tire)`, *benchVehicles); err != nil {
			b.Fatal(err)
		}

		b.ResetTimer()

		for range b.N {
			rows, err := db.Query(
				`SELECT tire, (COUNT(*) * SUM(km * mm) - SUM(km) * SUM(mm)) / (COUNT(*) * SUM(km * km) - SUM(km) * SUM(km)) AS slope
				FROM depths GROUP BY tire ORDER BY slope LIMIT 50`,
			)
			if err != nil {
				b.Fatal(err)
			}

			n := 0
			for rows.Next() {
				n++
			}

			if err := rows.Close(); err != nil || n != 50 {
				b.Fatal(n, err)
			}
		}
	})
}
