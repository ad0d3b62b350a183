package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/store"
	"rimledger/models/units"
)

// TestKilled kills the server with SIGKILL in a stream of inspections, three
// times: after each restart all answered ones are there, none twice.
func TestKilled(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	s := newShell(t)
	vehicle, token := s.fleetWithToken()
	program := filepath.Join(s.dir, "rimledger")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}

	answered := map[string]bool{}

	at := time.Now().Add(-72 * time.Hour).UTC().Truncate(time.Second)
	for round := range 3 {
		base, server := s.start(program)
		stop := time.AfterFunc(700*time.Millisecond, func() { _ = server.Process.Kill() })

		for i := range 2000 {
			at = at.Add(time.Second)
			id := uuid.Must(uuid.NewV7()).String()
			if !postInspection(base, token, vehicle, id, at, fmt.Sprintf("6.%d mm", i%2)) {
				break
			}
			answered[id] = true
		}

		stop.Stop()
		_ = server.Process.Kill()
		_ = server.Wait()
		t.Logf("round %d: %d answered in all", round+1, len(answered))
	}

	if len(answered) < 10 {
		t.Fatalf("only %d inspections were answered; the test proves nothing", len(answered))
	}

	st, err := store.Open(context.Background(), s.db(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	var events, distinct int
	row := st.DB().QueryRow("SELECT COUNT(*), COUNT(DISTINCT at) FROM events WHERE kind = 'inspection'")
	if err := row.Scan(&events, &distinct); err != nil {
		t.Fatal(err)
	}

	if events != distinct || events < len(answered) || events > len(answered)+3 {
		t.Errorf(
			"%d inspections of %d times in the record for %d answers; at most one a round may be there unanswered",
			events,
			distinct,
			len(answered),
		)
	}

	for id := range answered {
		err := st.Read(context.Background(), func(r models.Reader) error {
			_, err := r.Event(context.Background(), models.EventID(id))
			return err
		})
		if err != nil {
			t.Errorf("inspection %s was answered and is gone: %v", id, err)
		}
	}
}

// fleetWithToken makes a car with one tire, and a token that may write.
func (s *shell) fleetWithToken() (vehicle models.VehicleID, token string) {
	s.t.Helper()
	d := s.depot()
	ctx := context.Background()
	st, err := store.Open(ctx, s.db(), store.Options{})
	if err != nil {
		s.t.Fatal(err)
	}
	defer st.Close()

	f := fleet.New(st, fleet.Options{})

	id := func() string { return uuid.Must(uuid.NewV7()).String() }
	v, err := f.CreateVehicle(
		ctx,
		command(),
		models.Vehicle{
			ID:      models.VehicleID(id()),
			DepotID: d.ID,
			Number:  "C-01",
			Class:   models.Car,
			Axles:   []models.Axle{{Steered: true}, {Driven: true}},
		},
	)
	if err != nil {
		s.t.Fatal(err)
	}

	tire, err := f.CreateTire(
		ctx,
		command(),
		models.Tire{
			ID:        models.TireID(id()),
			DepotID:   d.ID,
			Number:    "R1",
			Size:      "205/55R16",
			NewDepths: []units.Length{8 * units.Millimetre},
		},
	)
	if err != nil {
		s.t.Fatal(err)
	}

	fit := &models.Fit{
		Meta:     models.Meta{ID: models.EventID(id()), VehicleID: v.ID, At: time.Now().Add(-100 * time.Hour)},
		Existing: true,
		Fittings: []models.Fitting{{TireID: tire.ID, Position: "1L"}},
	}
	if _, err := f.Record(ctx, command(), fit); err != nil {
		s.t.Fatal(err)
	}

	s.ok("a long enough word\n", "user", "add", "lee@larkfield.example", "--name", "Lee Marsh", "--role", "manager")
	out := strings.Fields(s.ok("", "token", "add", "lee@larkfield.example", "--name", "stream"))
	return v.ID, out[len(out)-1]
}

// start starts the program and waits until it answers.
func (s *shell) start(program string) (base string, server *exec.Cmd) {
	s.t.Helper()
	server = exec.Command(program, "--db", s.db(), "serve", "--listen", "127.0.0.1:0")
	out, err := server.StdoutPipe()
	if err != nil {
		s.t.Fatal(err)
	}
	if err := server.Start(); err != nil {
		s.t.Fatal(err)
	}

	s.t.Cleanup(func() { _ = server.Process.Kill() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		s.t.Fatalf("the server printed no address: %v", err)
	}
	_, base, ok := strings.Cut(strings.TrimSpace(line), "answering on ")
	if !ok {
		s.t.Fatalf("the server printed %q", line)
	}

	return base, server
}

// postInspection reports whether the inspection was answered as recorded.
func postInspection(base, token string, vehicle models.VehicleID, id string, at time.Time, depth string) bool {
	body, err := json.Marshal(map[string]any{"id": id, "vehicle_id": vehicle, "at": at,
		"readings": []any{map[string]any{"position": "1L", "depths": [][]string{{depth}}}}})
	if err != nil {
		return false
	}

	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, base+"/api/v1/inspections", bytes.NewReader(body))
	if err != nil {
		return false
	}
	req.Header.Set("Authorization", "Bearer "+token)
	req.Header.Set("Content-Type", "application/json")

	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return false
	}
	defer res.Body.Close()

	return res.StatusCode == http.StatusOK || res.StatusCode == http.StatusCreated
}
