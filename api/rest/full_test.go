package rest_test

import (
	"fmt"
	"strings"
	"testing"
)

// A full disk is a fault of the server that says so; nothing is half done, and
// the same request succeeds once there is room.
func TestFullDisk(t *testing.T) {
	t.Parallel()
	c := serve(t)
	y := c.truckDepot()
	before := c.do("GET", "/vehicles/"+y.vehicle, nil).want(200)

	// SAE J1939-71 tire location: second axle, fourth tire from the left, both from 0; from memory.
	if got := before.at("locations.2RO"); got != "19" {
		t.Errorf("2RO is at location %s", got)
	}

	var pages int
	if err := c.store.DB().QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}

	room := func(pages int) {
		t.Helper()
		if _, err := c.store.DB().Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages)); err != nil {
			t.Fatal(err)
		}
	}

	room(pages)
	body := y.inspection()
	body["note"] = strings.Repeat("more than fits into what pages have left ", 45)
	full := c.do("POST", "/inspections", body).want(503)
	if got := full.at("detail"); !strings.Contains(got, "nothing was half done") {
		t.Errorf("answer %q", got)
	}

	after := c.do("GET", "/vehicles/"+y.vehicle, nil).want(200)
	if string(after.raw) != string(before.raw) {
		t.Errorf("the vehicle changed:\n%s\n%s", before.raw, after.raw)
	}

	room(1 << 30)
	c.do("POST", "/inspections", body).want(201)
}
