package rest_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"rimledger/models"
)

// sheetRows is how many rows the sheets of TestOthersWriteDuringAnImport have.
const sheetRows = 20_000

// odometerSheet has a row for each of sheetRows minutes after from, on the vehicles
// whose numbers begin with prefix, one after another.
func odometerSheet(prefix string, vehicles int, from time.Time, km func(i int) int) string {
	var b strings.Builder
	b.WriteString("vehicle,at,odometer\n")
	for i := range sheetRows {
		at := from.Add(time.Duration(i) * time.Minute).Format(time.RFC3339)
		fmt.Fprintf(&b, "%s-%d,%s,%d km\n", prefix, i%vehicles, at, km(i))
	}
	return b.String()
}

// While a large sheet is tried or imported, another person's small writes are
// answered within 3 s each (chosen by us). Not parallel, since it measures time.
func TestOthersWriteDuringAnImport(t *testing.T) {
	y := serve(t).truckDepot()
	send := func(kind, query, body string) answer {
		return y.do("POST", "/depots/"+y.depot+"/imports/"+kind+query, body, "Content-Type: text/csv")
	}

	vehicles := "number,class,axles\n"
	newest := "vehicle,at,odometer\n"
	for i := range 20 {
		vehicles += fmt.Sprintf("A-%d,bus,S2 D4\nL-%d,bus,S2 D4\n", i, i)
		newest += fmt.Sprintf("L-%d,%s,900000 km\n", i, noon.Add(-time.Hour).Format(time.RFC3339))
	}
	send("vehicles", "", vehicles).want(200)
	send("odometers", "", newest).want(200)

	tires := "number,size,new_depths\n"
	for i := range sheetRows {
		tires += fmt.Sprintf("S%05d,295/75R22.5,18/32 18/32\n", i)
	}
	from := noon.AddDate(0, 0, -20)
	rising := func(i int) int { return 100_000 + i }

	other := y.as(models.Technician, y.depot)
	other.http = &http.Client{Timeout: 3 * time.Second}
	written := 0
	write := func() time.Duration {
		began := time.Now()
		written++
		other.do("POST", "/odometers", object{
			"vehicle_id": y.vehicle,
			"at":         noon.Add(time.Duration(written-20_000) * time.Second),
			"odometer":   fmt.Sprintf("%d km", 200_000+written),
		}).want(201)
		return time.Since(began)
	}

	late := odometerSheet("L", 20, from, rising)
	falling := func(i int) int { return 900_000 - i }
	const try = "?dry_run=true"

	for _, sheet := range []struct {
		name, kind, query, body string
		status                  int
	}{
		{"unknown vehicles", "odometers", "", odometerSheet("U", sheetRows, from, rising), 422},
		{"every row refused", "odometers", "", odometerSheet("A", 20, from, falling), 422},
		{"late, tried", "odometers", try, late, 200},
		{"late", "odometers", "", late, 200},
		{"in order, tried", "odometers", try, odometerSheet("A", 20, from, rising), 200},
		{"in order", "odometers", "", odometerSheet("A", 20, from, rising), 200},
		{"tires", "tires", "", tires, 200},
	} {
		t.Run(sheet.name, func(t *testing.T) {
			began := time.Now()
			answered := make(chan answer)
			go func() { answered <- send(sheet.kind, sheet.query, sheet.body) }()

			slowest, writes := time.Duration(0), 0
			for {
				select {
				case a := <-answered:
					t.Logf("answered after %s; %d writes beside it, the slowest took %s",
						time.Since(began), writes, slowest)
					a.want(sheet.status)
					return
				default:
					slowest = max(slowest, write())
					writes++
				}
			}
		})
	}
}
