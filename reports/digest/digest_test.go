package digest_test

import (
	"flag"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/legal"
	"rimledger/models/notation"
	"rimledger/models/units"
	"rimledger/reports/digest"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// day parses an instant. Every name and number below is invented.
func day(s string) time.Time {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return t
}

// week returns the digest of a week in which nothing happened.
func week() fleet.Digest {
	return fleet.Digest{
		Depot: models.Depot{
			ID:       "0190c0de-0000-7000-8000-000000000001",
			Name:     "Alder Yard",
			TimeZone: "America/Chicago",
			Units:    units.US,
		},
		Style: units.Style{Set: units.US, Notation: notation.OfPlace("US")},
		From:  day("2026-03-23T11:00:00Z"),
		To:    day("2026-03-30T11:00:00Z"),
		At:    day("2026-03-30T11:00:20Z"),
	}
}

// part returns a part of a digest that lists all its findings.
func part(lines ...fleet.DigestLine) fleet.DigestPart {
	return fleet.DigestPart{Lines: lines, Count: len(lines)}
}

// full returns a digest with every part.
func full() fleet.Digest {
	d := week()
	due, dueKM := day("2026-04-07T05:00:00Z"), 210_000*units.Mile
	line := func(vehicle, row string, p models.Position, f models.Finding) fleet.DigestLine {
		f.VehicleID, f.Position = models.VehicleID("0190c0de-0000-7000-8000-0000000001"+vehicle[len(vehicle)-2:]), p
		return fleet.DigestLine{Finding: f, VehicleNumber: vehicle, Class: models.Tractor, Row: row}
	}

	// 03:00 UTC on 28 March is still 27 March in Chicago.
	d.OffRoad = part(line("T-04", "B", "1L", models.Finding{Code: models.BelowLegal, Urgency: models.OffTheRoad,
		Title: "3/32 in at 1L, below the legal 4/32 in", FirstJob: "Take it off the road and change the tire at 1L.",
		Evidence: []models.Evidence{
			{Text: "least depth measured 3/32 in on the inner groove on 27 March; gauge steps of 1/32 in"},
			{Text: "second line, not mailed"},
		},
		Safety: "Do not drive it.",
		Notice: "49 CFR 393.75(b), read 2026-01-10: front wheels of a truck tractor at least 4/32 in.",
		Since:  day("2026-03-28T03:00:00Z")}))

	d.DoNow = part(line("T-11", "", "", models.Finding{
		Code:        models.InspectionOverdue,
		Urgency:     models.DoNow,
		Title:       "inspection overdue by 12 days",
		FirstJob:    "Measure every tire.",
		Evidence:    []models.Evidence{{Text: "last measured Mon 16 Feb 2026, every 30 days or 10,000 mi"}},
		Since:       day("2026-03-18T05:00:00Z"),
		DueAt:       &due,
		DueOdometer: &dueKM,
		Estimated:   true,
	}), line("T-12 <b>", "row & lane", "2RO", models.Finding{
		Code:     models.RetorqueDue,
		Urgency:  models.DoNow,
		Title:    `nuts at 2RO not "re-torqued" after fitting`,
		FirstJob: "Re-torque the nuts at 2RO with a torque wrench.",
		Safety:   "A wheel that comes off kills.",
		Since:    day("2026-03-25T15:00:00Z"),
	}))

	d.DueSoon = part(line("TR-21", "C", "2LO", models.Finding{Code: models.PullForecast, Urgency: models.Plan,
		Title:    "2LO reaches its pull point 4/32 in about 7 April",
		FirstJob: "Order and plan the change.", Since: day("2026-03-30T11:00:00Z"), DueAt: &due}))

	d.Suspects = part(line("B-31", "", "1R", models.Finding{Code: models.SuspectImbalance, Urgency: models.Plan,
		Title:    "wear at 1R points to imbalance",
		FirstJob: "Look for a lost weight and dirt in the wheel, then check run-out before balancing.",
		Evidence: []models.Evidence{
			{Text: "one dip around the tread at 1R, 2/32 in deep, while its axle mate is even", Points: 3},
		}, Since: day("2026-03-20T11:00:00Z")}))

	d.NeverMeasured = part(line("C-41", "F", "", models.Finding{Code: models.NeverInspected, Urgency: models.DoNow,
		Title: "never measured", FirstJob: "Measure every tire.", Since: day("2026-01-05T12:00:00Z")}))

	d.Counts = []models.UrgencyCount{
		{Urgency: models.OffTheRoad, Findings: 1},
		{Urgency: models.DoNow, Findings: 3},
		{Urgency: models.Plan, Findings: 9},
		{Urgency: models.Watch, Findings: 4},
	}

	d.OpenedSince, d.ClosedSince = 5, 2
	return d
}

// quiet returns a digest of a metric depot without findings.
func quiet() fleet.Digest {
	d := week()
	d.Depot.Name, d.Depot.TimeZone, d.Depot.Units = "Hof Erlengrund", "Europe/Berlin", units.Metric
	d.Style = units.Style{Set: units.Metric, Notation: notation.OfPlace("DE")}
	d.From, d.To, d.At = day("2026-03-23T05:00:00Z"), day("2026-03-30T04:00:00Z"), day("2026-03-30T04:00:10Z")
	return d
}

func TestGolden(t *testing.T) {
	t.Parallel()

	for _, tt := range []struct {
		name, base string
		digest     fleet.Digest
	}{
		{"full", "https://tires.larkfield.example/", full()},
		{"quiet", "", quiet()},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			m, err := digest.Render(tt.digest, tt.base)
			if err != nil {
				t.Fatal(err)
			}
			golden(t, tt.name+".txt", "Subject: "+m.Subject+"\n\n"+m.Text)
			golden(t, tt.name+".html", m.HTML)
		})
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("..", "..", "testdata", "golden", "digest", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}

	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(strings.ReplaceAll(string(want), "\r\n", "\n"), got); diff != "" {
		t.Errorf("%s differs (-want +got):\n%s", path, diff)
	}
}

func TestText(t *testing.T) {
	t.Parallel()
	m, err := digest.Render(full(), "")
	if err != nil {
		t.Fatal(err)
	}

	for i, line := range strings.Split(m.Text, "\n") {
		if n := utf8.RuneCountInString(line); n > 72 {
			t.Errorf("line %d has %d columns: %s", i+1, n, line)
		}
	}

	plain := strings.Join(strings.Fields(m.Text), " ")
	for _, want := range []string{
		"T-04: 3/32 in at 1L, below the legal 4/32 in",
		"First: Take it off the road",
		"Least depth measured 3/32 in",
		"Since Fri, Mar 27, 2026", // in the depot's zone
		"due Tue, Apr 7, 2026 or at 210,000 mi, estimated",
		"Week from Mon, Mar 23, 2026, 6:00 am to Mon, Mar 30, 2026, 6:00 am (America/Chicago)",
		"In that week 5 findings opened and 2 closed.",
		legal.Notice, "49 CFR 393.75(b), read 2026-01-10", "can kill",
	} {
		if !strings.Contains(plain, want) {
			t.Errorf("the text lacks %q", want)
		}
	}

	if strings.Contains(m.Text, "second line, not mailed") || strings.Contains(m.Text, "http") {
		t.Error("the text has a second line of evidence, or a link")
	}
}

func TestHTML(t *testing.T) {
	t.Parallel()
	m, err := digest.Render(full(), "https://tires.larkfield.example")
	if err != nil {
		t.Fatal(err)
	}
	if regexp.MustCompile(`(?i)<(img|link|script|style|iframe|form|object)|src=|url\(|@import`).MatchString(m.HTML) {
		t.Error("the HTML loads or runs something")
	}
	if strings.Contains(m.HTML, "T-12 <b>") || !strings.Contains(m.HTML, "T-12 &lt;b&gt;") {
		t.Error("a vehicle number was not escaped")
	}

	if !strings.Contains(m.HTML, "https://tires.larkfield.example/vehicles/0190c0de-0000-7000-8000-000000000104") {
		t.Error("the vehicle is not linked")
	}
}

func TestManyFindings(t *testing.T) {
	t.Parallel()
	d := week()
	for i := range fleet.DigestListed {
		d.DoNow.Lines = append(d.DoNow.Lines,
			fleet.DigestLine{VehicleNumber: fmt.Sprintf("U-%d", i), Finding: models.Finding{Title: "rotation overdue"}})
	}

	d.DoNow.Count = 1000
	d.DueSoon = fleet.DigestPart{Lines: d.DoNow.Lines[:1], Count: 7}
	linked, err := digest.Render(d, "https://tires.larkfield.example")
	if err != nil {
		t.Fatal(err)
	}

	const at = "https://tires.larkfield.example/?depot=0190c0de-0000-7000-8000-000000000001&urgency=do+now"
	if !strings.Contains(linked.Text, at) || !strings.Contains(html.UnescapeString(linked.HTML), at) ||
		!strings.Contains(linked.Text, "and 6 more, see the due list:\nhttps://tires.larkfield.example/due?depot=") {
		t.Errorf("the mail does not say where the rest is: %s", linked.Text)
	}

	m, err := digest.Render(d, "")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(m.Text, "DO NOW (1000)") || !strings.Contains(m.Text, "and 960 more") || len(m.Text) > 10_000 {
		t.Errorf("a long list is not cut: %d bytes", len(m.Text))
	}
}

func TestUnknownZone(t *testing.T) {
	t.Parallel()
	d := week()
	d.Depot.TimeZone = "Europe/Nowhere"
	if _, err := digest.Render(d, ""); err == nil {
		t.Error("accepted")
	}
}
