package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
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

func freshID() string { return uuid.Must(uuid.NewV7()).String() }

// benchFleet is a database with tractors on ten tires each, and a token.
type benchFleet struct {
	store    *store.Store
	fleet    *fleet.Service
	depot    models.Depot
	vehicles []models.VehicleID
	token    string
}

func newBenchFleet(b *testing.B, vehicles int) *benchFleet {
	b.Helper()
	ctx := context.Background()
	st, err := store.Open(ctx, filepath.Join(b.TempDir(), "bench.sqlite"), store.Options{Migrate: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { st.Close() })
	f := &benchFleet{store: st, fleet: fleet.New(st, fleet.Options{}), depot: models.Depot{ID: models.DepotID(freshID()), Name: "Alder Yard",
		TimeZone: "America/Chicago", Jurisdiction: "US", Units: units.US, Currency: "USD"}}
	if f.depot, err = f.fleet.CreateDepot(ctx, command(), f.depot); err != nil {
		b.Fatal(err)
	}
	user := models.User{ID: models.UserID(freshID()), Name: "Lee Marsh", Email: "lee@larkfield.example", Role: models.Manager}
	secret, hash := access.NewSecret()
	f.token = secret
	err = st.Write(ctx, func(tx models.Tx) error {
		if err := tx.PutUser(ctx, user); err != nil {
			return err
		}
		return tx.PutToken(ctx, models.Token{ID: models.TokenID(freshID()), UserID: user.ID, Name: "bench", Hash: hash, ExpiresAt: time.Now().Add(time.Hour)})
	})
	if err != nil {
		b.Fatal(err)
	}
	psi := models.Pressure{Value: 100 * units.PSI, Text: "100 psi"}
	axles := []models.Axle{{Steered: true, Pressure: psi}, {Driven: true, Dual: true, Pressure: psi}, {Driven: true, Dual: true, Pressure: psi}}
	for n := range vehicles {
		v := models.Vehicle{ID: models.VehicleID(freshID()), DepotID: f.depot.ID, Number: fmt.Sprintf("T-%05d", n), Class: models.Tractor, MaxMassKG: 23600, Axles: axles}
		if _, err := f.fleet.CreateVehicle(ctx, command(), v); err != nil {
			b.Fatal(err)
		}
		fit := &models.Fit{Meta: models.Meta{ID: models.EventID(freshID()), VehicleID: v.ID, At: time.Now().Add(-24 * 400 * time.Hour)}, Existing: true}
		for i, p := range v.Positions() {
			t := models.Tire{ID: models.TireID(freshID()), DepotID: f.depot.ID, Number: fmt.Sprintf("R%05d-%d", n, i), Size: "295/75R22.5",
				NewDepths: []units.Length{20 * units.ThirtySecond, 20 * units.ThirtySecond, 20 * units.ThirtySecond}}
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

// inspectionBody is the JSON of a ten-wheel inspection.
func inspectionBody(v models.VehicleID, n int) []byte {
	axles := []models.Axle{{}, {Dual: true}, {Dual: true}}
	var readings []any
	for i, p := range models.Positions(axles, 0) {
		d := fmt.Sprintf("%d.%d/32", 15-n%8, (n+i)%10)
		readings = append(readings, map[string]any{"position": p, "depths": [][]string{{d}, {d}, {d}}, "pressure": fmt.Sprintf("%d psi", 96+(n+i)%5)})
	}
	body, err := json.Marshal(map[string]any{"id": freshID(), "vehicle_id": v, "at": time.Now().Add(-time.Hour * time.Duration(9000-n)),
		"odometer": fmt.Sprintf("%d mi", 200_000+n*10), "readings": readings,
		"confirmed": []string{"same_as_last", "odometer_leap"}})
	if err != nil {
		panic(err)
	}
	return body
}

// BenchmarkInspection compares a ten-wheel inspection over HTTP, assessed and
// durably committed, with a bare handler that decodes the same JSON and makes
// the same number of inserts in one durable transaction.
func BenchmarkInspection(b *testing.B) {
	b.Run("rimledger", func(b *testing.B) {
		f := newBenchFleet(b, 50)
		h, err := api.New(api.Deps{Fleet: f.fleet, Sessions: f.store.Sessions(), Version: "bench"})
		if err != nil {
			b.Fatal(err)
		}
		post(b, h, f.token, "/api/v1/inspections", func(n int) []byte {
			return inspectionBody(f.vehicles[n%len(f.vehicles)], n/len(f.vehicles))
		})
	})
	b.Run("bare", func(b *testing.B) {
		db := bareDB(b)
		post(b, bareHandler(db), "", "/", func(n int) []byte { return inspectionBody("0192f0c1-7a3b-7def-8123-456789abcdef", n) })
	})
}

// post sends b.N bodies one after another and reports the 99th percentile.
func post(b *testing.B, h http.Handler, token, path string, body func(int) []byte) {
	b.Helper()
	server := httptest.NewServer(h)
	defer server.Close()
	var times []time.Duration
	b.ResetTimer()
	for n := range b.N {
		b.StopTimer()
		req, err := http.NewRequest(http.MethodPost, server.URL+path, bytes.NewReader(body(n)))
		if err != nil {
			b.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/json")
		if token != "" {
			req.Header.Set("Authorization", "Bearer "+token)
		}
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
	slices.Sort(times)
	b.ReportMetric(float64(times[len(times)*99/100].Microseconds())/1000, "p99-ms")
}

func bareDB(b *testing.B) *sql.DB {
	b.Helper()
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(b.TempDir(), "bare.sqlite")+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(`CREATE TABLE events (id TEXT PRIMARY KEY, doc TEXT);
		CREATE TABLE event_tires (event_id TEXT, tire INTEGER, PRIMARY KEY (event_id, tire));
		CREATE TABLE readings (event_id TEXT, position TEXT, min_nm INTEGER, pressure REAL, PRIMARY KEY (event_id, position))`); err != nil {
		b.Fatal(err)
	}
	return db
}

func bareHandler(db *sql.DB) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		var in struct {
			ID       string
			Readings []struct {
				Position, Pressure string
				Depths             [][]string
			}
		}
		raw, err := io.ReadAll(r.Body)
		if err == nil {
			err = json.Unmarshal(raw, &in)
		}
		if err == nil {
			err = bareInsert(db, in.ID, raw, len(in.Readings), func(i int) string { return in.Readings[i].Position })
		}
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
		}
	}
}

func bareInsert(db *sql.DB, id string, raw []byte, n int, position func(int) string) error {
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if _, err := tx.Exec("INSERT INTO events VALUES (?, ?)", id, raw); err != nil {
		return err
	}
	for i := range n {
		if _, err := tx.Exec("INSERT INTO event_tires VALUES (?, ?)", id, i); err != nil {
			return err
		}
		if _, err := tx.Exec("INSERT INTO readings VALUES (?, ?, ?, ?)", id, position(i), 7, 100.0); err != nil {
			return err
		}
	}
	return tx.Commit()
}

// BenchmarkImport compares the import of 5,000 odometer rows with raw prepared
// inserts of the same rows in one transaction.
func BenchmarkImport(b *testing.B) {
	const rows = 5000
	b.Run("rimledger", func(b *testing.B) {
		f := newBenchFleet(b, 20)
		b.ResetTimer()
		for n := range b.N {
			batch := fleet.ImportBatch{Kind: "odometers", DepotID: f.depot.ID, Confirm: true}
			for i := range rows {
				batch.Rows = append(batch.Rows, fleet.ImportRow{Line: i + 2, Cells: map[string]string{"vehicle": fmt.Sprintf("T-%05d", i%20),
					"at": time.Date(2026, 1, 1, 0, n*rows+i, 0, 0, time.UTC).Format(time.RFC3339), "odometer": fmt.Sprintf("%d km", 300_000+i)}})
			}
			if _, err := f.fleet.Import(context.Background(), command(), batch); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
	})
	b.Run("raw inserts", func(b *testing.B) {
		db := bareDB(b)
		for n := range b.N {
			tx, err := db.Begin()
			if err != nil {
				b.Fatal(err)
			}
			insert, err := tx.Prepare("INSERT INTO events VALUES (?, ?)")
			if err != nil {
				b.Fatal(err)
			}
			for i := range rows {
				if _, err := insert.Exec(freshID(), fmt.Sprintf(`{"vehicle": "T-%05d", "odometer": %d, "run": %d}`, i%20, 300_000+i, n)); err != nil {
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

// BenchmarkAttention reads the first page of the attention list of 10,000
// vehicles, against one SQL query that finds the most worn tires of as many
// vehicles by the slope of their readings.
func BenchmarkAttention(b *testing.B) {
	const vehicles = 10_000
	f := newBenchFleet(b, 1)
	ctx := context.Background()
	err := f.store.Write(ctx, func(tx models.Tx) error {
		for n := range vehicles {
			v := models.Vehicle{ID: models.VehicleID(freshID()), DepotID: f.depot.ID, Number: fmt.Sprintf("V-%05d", n), Class: models.Car, Axles: []models.Axle{{Steered: true}, {}}}
			if err := tx.PutVehicle(ctx, v); err != nil {
				return err
			}
			st := models.Standing{Worst: models.Urgency(1 + n%4), Since: time.Now().Add(-time.Duration(n) * time.Minute), Findings: 1 + n%3}
			if err := tx.PutVehicleState(ctx, v.ID, models.VehicleState{}, st); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	b.Run("attention list", func(b *testing.B) {
		for range b.N {
			rows, _, err := f.fleet.Vehicles(ctx, command(), models.VehicleFilter{Attention: true}, models.Page{Limit: 50})
			if err != nil || len(rows) != 50 {
				b.Fatal(len(rows), err)
			}
		}
	})
	b.Run("slopes in SQL", func(b *testing.B) {
		db := bareDB(b)
		if _, err := db.Exec(`CREATE TABLE depths (tire INTEGER, km REAL, mm REAL);
			WITH RECURSIVE t (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM t WHERE n < 40000 * 8 - 1)
			INSERT INTO depths SELECT n / 8, (n % 8) * 5000, 8 - (n % 8) * 0.5 - (n / 8 % 7) * 0.1 FROM t; CREATE INDEX depths_tire ON depths (tire)`); err != nil {
			b.Fatal(err)
		}
		b.ResetTimer()
		for range b.N {
			rows, err := db.Query(`SELECT tire, (COUNT(*) * SUM(km * mm) - SUM(km) * SUM(mm)) / (COUNT(*) * SUM(km * km) - SUM(km) * SUM(km)) AS slope
				FROM depths GROUP BY tire ORDER BY slope LIMIT 50`)
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
