package rest_test

import (
	"encoding/csv"
	"encoding/json"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"rimledger/models/fleet"
	"rimledger/reports/sheet"
	"rimledger/reports/sheet/sheettest"
)

// A sheet is taken as a file, tried or recorded, and comes out again.
func TestSheets(t *testing.T) {
	t.Parallel()
	c := serve(t)
	depot := c.do("POST", "/depots", depotBody()).want(201).at("id")
	body := "number,class,axles\r\nB-1,bus,S2 D4\r\n"
	send := func(query, body string) answer {
		t.Helper()
		return c.do("POST", "/depots/"+depot+"/imports/vehicles"+query, body, "Content-Type: text/csv")
	}

	if a := send("?dry_run=true", body).want(200); a.at("created") != "1" || a.at("dry_run") != "true" {
		t.Errorf("tried: %s", a.raw)
	}
	if a := send("", body).want(200); a.at("created") != "1" {
		t.Errorf("recorded: %s", a.raw)
	}
	if a := send("", body).want(200); a.at("unchanged") != "1" || a.at("created") != "0" {
		t.Errorf("again: %s", a.raw)
	}

	send("", "number,class,axles\nB-2,boat,S2\n").want(422)
	send("", strings.Repeat("x", 17<<20)).want(413)
	a := c.do("GET", "/depots/"+depot+"/sheets/vehicles?format=csv", nil).want(200)
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(a.raw), "\ufeff"))).ReadAll()
	if err != nil || len(rows) != 2 || rows[1][0] != "B-1" {
		t.Errorf("came out as %q: %v", rows, err)
	}

	c.do("GET", "/depots/"+depot+"/sheets/people", nil).want(422)
}

// Sheets that would exhaust the server are refused within bounds chosen by us,
// and the server answers on. Not parallel, since it measures the heap.
func TestHostileSheets(t *testing.T) {
	c := serve(t)

	depot := c.do("POST", "/depots", depotBody()).want(201).at("id")
	for _, h := range sheettest.All() {
		if h.Slow {
			continue // the package sheet reads these
		}

		t.Run(h.Name, func(t *testing.T) {
			body := string(h.Make())
			var a answer
			cost := sheettest.Measure(func() {
				a = c.do("POST", "/depots/"+depot+"/imports/odometers?dry_run=true", body, "Content-Type: text/csv")
			})
			t.Logf("%d bytes: status %d, heap %.0f MB, %s: %.300s", len(body), a.status, cost.HeapMB, cost.CPU, a.raw)

			if a.status != 413 && a.status != 422 {
				t.Errorf("status %d, want 413 or 422", a.status)
			}

			most, sent := sheettest.MostCPU(), 4*float64(len(body))/1e6
			if cost.HeapMB > sheettest.MostHeapMB()+sent || cost.CPU > most {
				t.Errorf("took %.0f MB of heap and %s; at most %.0f MB beside the body and its copies, and %s",
					cost.HeapMB, cost.CPU, sheettest.MostHeapMB(), most)
			}
		})
	}

	c.do("GET", "/depots/"+depot, nil).want(200)
}

// TestKindsOfSheets: the document offers the kinds and formats that are imported and
// exported, all of them and no other.
func TestKindsOfSheets(t *testing.T) {
	t.Parallel()

	text, err := os.ReadFile(keptDocument)
	if err != nil {
		t.Fatal(err)
	}
	type operation struct {
		Parameters []struct {
			Name   string
			Schema struct{ Enum []string }
		}
	}
	var doc struct {
		Paths map[string]map[string]operation
	}
	_ = json.Unmarshal(text, &doc) // enums of numbers elsewhere do not fit, and do not matter

	for _, c := range []struct {
		path, method, name string
		want               []string
	}{
		{"/depots/{id}/imports/{kind}", "post", "kind", fleet.ImportKinds},
		{"/depots/{id}/sheets/{kind}", "get", "kind", sheet.ExportKinds},
		{"/depots/{id}/sheets/{kind}", "get", "format", slices.Sorted(maps.Keys(sheet.Formats))},
	} {
		var got []string
		for _, p := range doc.Paths[c.path][c.method].Parameters {
			if p.Name == c.name {
				got = p.Schema.Enum
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s of %s %s: %q, want %q", c.name, c.method, c.path, got, c.want)
		}
	}
}
