package main

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"rimledger/api"
	"rimledger/api/calc"
	"rimledger/models/fleet"
	"rimledger/models/store"
)

// handler serves the shell's database, with every calculator, to a manager who
// is known by the token that comes back.
func (s *shell) handler() (h http.Handler, token string) {
	s.t.Helper()

	s.ok(
		"a long enough word\n",
		"user",
		"add",
		"lee@larkfield.example",
		"--name",
		"Lee Marsh (invented)",
		"--role",
		"manager",
	)

	added := s.ok("", "token", "add", "lee@larkfield.example", "--name", "test", "--days", "30")
	for _, w := range strings.Fields(added) {
		if strings.HasPrefix(w, "rl_") {
			token = w
		}
	}

	st, err := store.Open(context.Background(), s.db(), store.Options{})
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { st.Close() })

	h, err = api.New(
		api.Deps{
			Fleet:       fleet.New(st, fleet.Options{}),
			Sessions:    st.Sessions(),
			Version:     "test",
			Calculators: calc.All(),
		},
	)
	if err != nil {
		s.t.Fatal(err)
	}

	return h, token
}

// TestCalculatorsRefuseBadInput: the command line and the API refuse the same
// input with the same words, which name the field, its value and what would be
// right; no answer holds what is no number.
func TestCalculatorsRefuseBadInput(t *testing.T) {
	t.Parallel()
	s := newShell(t)
	s.depot()
	h, token := s.handler()

	wear := func(readings string) string {
		return `{"class":"tractor","axle_role":"steer","new_mm":15.9,"fresh":true,"start_km":100000,"now_km":180000,"limit_mm":4.8,"readings":[` + readings + `]}`
	}

	tread := func(depths, more string) string { return `{"depths_mm":` + depths + `,"new_mm":[10]` + more + `}` }
	for _, c := range []struct{ name, calc, in, want string }{
		{"a depth above new", "wear-forecast", wear(`{"km":120000,"depth_mm":19}`), "reading 1"},
		{"a negative depth", "wear-forecast", wear(`{"km":120000,"depth_mm":-1}`), "-1"},
		{"a distance that goes back", "wear-forecast", wear(`{"km":140000,"depth_mm":14},{"km":120000,"depth_mm":13}`), "reading 2"},
		{"a distance before the fitting", "wear-forecast", wear(`{"km":90000,"depth_mm":14}`), "reading 1"},
		{"a depth that is no number", "wear-forecast", wear(`{"km":120000,"depth_mm":NaN}`), "not JSON"},
		{"a depth as text", "wear-forecast", wear(`{"km":120000,"depth_mm":"deep"}`), "does not fit"},
		{"a depth beyond all numbers", "wear-forecast", wear(`{"km":120000,"depth_mm":1e999}`), "1e999"},
		{"now before the last reading", "wear-forecast", strings.Replace(wear(`{"km":170000,"depth_mm":12}`), "180000", "150000", 1), "150000"},
		{"a class that is none", "wear-forecast", strings.Replace(wear(``), `"tractor"`, `"sled"`, 1), "or empty for any"},
		{"an axle that is none", "wear-forecast", strings.Replace(wear(``), `"steer"`, `"left"`, 1), "axle_role"},
		{"a use below zero", "wear-forecast", strings.Replace(wear(``), `"fresh"`, `"km_per_day":-5,"fresh"`, 1), "km_per_day"},
		{"more than a vehicle covers in a day", "wear-forecast", strings.Replace(wear(``), `"fresh"`, `"km_per_day":9000,"fresh"`, 1), "0.1 to 5000 km"},
		{"a limit below zero", "wear-forecast", strings.Replace(wear(``), `4.8`, `-1`, 1), "-1"},
		{"no new depth", "wear-forecast", strings.Replace(wear(``), `15.9`, `0`, 1), "new depth"},
		{"an empty grid", "tread-pattern", tread(`[]`, ``), "at least one depth"},
		{"a grid of holes", "tread-pattern", tread(`[[null,null],[null,null]]`, ``), "no depth was read"},
		{"a depth above new in a grid", "tread-pattern", tread(`[[12]]`, ``), "deeper than new"},
		{"a negative depth in a grid", "tread-pattern", tread(`[[-0.5]]`, ``), "out of range"},
		{"one station repeated", "tread-pattern", tread(`[[6,6,6]]`, `,"stations_deg":[0,120,120]`), "one station given twice"},
		{"grooves with other stations", "tread-pattern", tread(`[[6,6,6],[6,6]]`, ``), "different numbers of stations"},
		{"a bead gap below zero", "tread-pattern", tread(`[[6]]`, `,"facts":{"bead_gap_variation_mm":-1}`), "bead gap"},
		{"zero speed", "vibration-orders", `{"size":"295/75R22.5","kmh":0}`, "speed"},
		{"a size that is none", "vibration-orders", `{"size":"big","kmh":80}`, "big"},
		{"an unbalance below zero", "vibration-orders", `{"size":"295/75R22.5","kmh":80,"unbalance_gmm":-5}`, "unbalance"},
		{"a report that says nothing", "vibration-report", `{"class":"car"}`, "at least one answer"},
		{"a size that is none, asked for itself", "tire-size", `{"size":"295/75R"}`, "295/75R"},
	} {
		out, err := s.run(c.in, "calc", c.calc)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: the command line answers %q, %v; want %q", c.name, out, err, c.want)
			continue
		}

		req := httptest.NewRequest(http.MethodPost, "/api/v1/calc/"+c.calc, strings.NewReader(c.in))
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("Authorization", "Bearer "+token)
		rec := httptest.NewRecorder()
		h.ServeHTTP(rec, req)

		body := rec.Body.String()
		if rec.Code != http.StatusUnprocessableEntity && rec.Code != http.StatusBadRequest {
			t.Errorf("%s: the API answers %d %s", c.name, rec.Code, body)
		}
		if c.want != "not JSON" && !strings.Contains(strings.ReplaceAll(body, `\"`, `"`), c.want) {
			t.Errorf("%s: the API says %s; want %q", c.name, body, c.want)
		}

		var told struct {
			Errors []struct{ Field, Remedy string }
		}
		if err := json.Unmarshal(rec.Body.Bytes(), &told); err != nil ||
			c.want != "not JSON" &&
				(len(told.Errors) == 0 || told.Errors[0].Field == "" || told.Errors[0].Remedy == "") {
			t.Errorf("%s: the API names no field: %s", c.name, body)
		}

		if ct := rec.Header().Get("Content-Type"); !strings.HasPrefix(ct, "application/problem+json") {
			t.Errorf("%s: answered as %q", c.name, ct)
		}
	}
}
