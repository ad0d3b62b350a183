package api_test

import (
	"fmt"
	"net"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// A client that hangs up in the middle of a body is no fault of ours: the log
// has its request, and no error.
func TestHangUpInABody(t *testing.T) {
	t.Parallel()
	st := open(t)
	f := fleet.New(st, fleet.Options{})
	system := fleet.System(models.FromCLI)
	u, err := f.AddUser(t.Context(), system, models.User{Name: "Invented", Email: "lee@fleet.example",
		Role: models.Manager}, "")
	if err != nil {
		t.Fatal(err)
	}
	_, secret, err := f.AddToken(t.Context(), system, models.Token{UserID: u.ID, Name: "invented",
		ExpiresAt: time.Now().AddDate(0, 1, 0)})
	if err != nil {
		t.Fatal(err)
	}

	url, log := serve(t, st, st.Sessions(), st.Ping)
	conn, err := net.Dial("tcp", strings.TrimPrefix(url, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(conn, "POST /api/v1/depots HTTP/1.1\r\nHost: ledger.example\r\nAuthorization: Bearer %s\r\n"+
		"Content-Type: application/json\r\nContent-Length: 1000\r\n\r\n{\"name\": ", secret)
	if err := conn.Close(); err != nil {
		t.Fatal(err)
	}

	for end := time.Now().Add(10 * time.Second); !strings.Contains(log.String(), `"path":"/api/v1/depots"`); {
		if time.Now().After(end) {
			t.Fatalf("the request is not in the log: %s", log)
		}
		time.Sleep(5 * time.Millisecond)
	}

	if text := log.String(); !strings.Contains(text, `"status":400`) || strings.Contains(text, `"level":"ERROR"`) {
		t.Errorf("the log says %s", text)
	}
}
