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
	"pgregory.net/rapid"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/legal"
	"rimledger/models/notation"
	"rimledger/models/units"
	"rimledger/reports/digest"
)

var update = flag.Bool("update", false, "rewrite the golden files")

const base = "https://tires.larkfield.example"

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

// vehicle returns a row about one finding of code c at places.
func vehicle(number string, u models.Urgency, c models.FindingCode, places ...models.Position) fleet.DigestVehicle {
	v := fleet.DigestVehicle{
		ID:     models.VehicleID("0190c0de-0000-7000-8000-0000000001" + number[len(number)-2:]),
		Number: number,
		Row:    "B",
		Group:  models.FindingGroup{Code: c, Urgency: u},
	}
	for _, p := range places {
		v.Group.Findings = append(v.Group.Findings,
			models.Finding{Code: c, Urgency: u, Position: p, Since: day("2026-03-20T05:00:00Z")})
	}
	if len(places) == 0 {
		v.Group.Findings = []models.Finding{{Code: c, Urgency: u}}
	}
	return v
}

// full returns a digest that has everything.
func full() fleet.Digest {
	d := week()
	d.Now = models.Figures{Vehicles: 40, OffRoad: 2, DoNow: 3, DueThisWeek: 4, InShop: 1, InTime: 37, AtPull: 9}
	d.Before = &models.Figures{Vehicles: 38, OffRoad: 1, DoNow: 5, DueThisWeek: 2, InTime: 30, AtPull: 7}

	shallow := vehicle("T-04", models.OffTheRoad, models.BelowLegal, "1L", "1R")
	shallow.Tread = &fleet.DigestTread{
		Position: "1L",
		Across:   []units.Length{3 * units.ThirtySecond, 4 * units.ThirtySecond, 4 * units.ThirtySecond},
		Legal:    4 * units.ThirtySecond,
		Pull:     6 * units.ThirtySecond,
	}
	shallow.More, shallow.New, shallow.Booked = 2, true, "2026-04-02"

	damaged := vehicle("T-09", models.OffTheRoad, models.Damage, "2LO")
	damaged.Group.Findings[0].Title = "bulge, sidewall outer, 1.4 in at 2LO"

	odd := vehicle("T <b>12", models.DoNow, models.RetorqueDue)
	odd.Row = "row & lane"

	d.Vehicles = []fleet.DigestVehicle{
		shallow, damaged, odd,
		vehicle("C-41", models.DoNow, models.NeverInspected),
		vehicle("X-02", models.DoNow, models.PressureLow, "1LI"),
		vehicle("B-31", models.Plan, models.SuspectImbalance, "1R"),
	}
	d.Rest = 6
	d.Due = []fleet.DigestDue{{Code: models.RotationOverdue, Vehicles: 3}, {Code: models.PullForecast, Vehicles: 1}}
	d.Shop = []fleet.DigestShop{{Number: "T-04", Day: "2026-04-02"}}
	d.Order = []fleet.SizeCount{{Size: "295/75R22.5", Tires: 8}, {Tires: 1}}
	d.Opened, d.Closed = 5, 1
	return d
}

// quiet returns a digest of a metric depot without findings.
func quiet() fleet.Digest {
	d := week()
	d.Depot.Name, d.Depot.TimeZone, d.Depot.Units = "Hof Erlengrund", "Europe/Berlin", units.Metric
	d.Style = units.Style{Set: units.Metric, Notation: notation.OfPlace("DE")}
	d.From, d.To, d.At = day("2026-03-23T05:00:00Z"), day("2026-03-30T04:00:00Z"), day("2026-03-30T04:00:10Z")
	d.Now = models.Figures{Vehicles: 12, InTime: 12}
	return d
}

// plain returns a text with each run of white space as one space.
func plain(text string) string { return strings.Join(strings.Fields(text), " ") }

// render renders d, which must be possible.
func render(t testing.TB, d fleet.Digest, base string) digest.Mail {
	t.Helper()
	m, err := digest.Render(d, base)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestGolden(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name, base string
		digest     fleet.Digest
	}{
		{"full", base + "/", full()},
		{"quiet", "", quiet()},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			m := render(t, tt.digest, tt.base)
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
	m := render(t, full(), "")
	for i, line := range strings.Split(m.Text, "\n") {
		if n := utf8.RuneCountInString(line); n > 72 {
			t.Errorf("line %d has %d columns: %s", i+1, n, line)
		}
	}

	text := plain(m.Text)
	for _, want := range []string{
		"Week from Mon, Mar 23, 2026 to Mon, Mar 30, 2026 (America/Chicago), as it stands on Mon, Mar 30, 2026.",
		"off the road 2 (a week ago 1)",
		"inspected in time 92% (a week ago 78%)", // 37 of 40, 30 of 38, cut
		"OFF THE ROAD T-04 NEW - row B - tread below the legal minimum at 1L, 1R, +2 - " +
			"1L: 3/32 | 4/32 | 4/32 in, law 4/32 in, pull 6/32 in - fit another tire - 10 days - shop Thu 2",
		"T-09 - row B - bulge, sidewall outer, 1.4 in at 2LO - change, repair or clear it",
		"PLAN B-31 - row B - imbalance suspected at 1R - check the causes, then balance",
		"The rest: 6 vehicles with less urgent work",
		"Due this week: rotation overdue 3, reaches its pull point 1.",
		"In the shop: T-04 Thu 2.",
		"Tires to order, 60 days: 8 x 295/75R22.5, 1 x size not known.",
		"Since last week: something new on 5 vehicles, something done on 1 vehicle.",
		legal.Notice, "can kill",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the text lacks %q in\n%s", want, text)
		}
	}
	if strings.Contains(m.Text, "http") {
		t.Error("the text has a link")
	}
}

func TestHTML(t *testing.T) {
	t.Parallel()
	m := render(t, full(), base)
	if regexp.MustCompile(`(?i)<(img|link|script|style|iframe|form|object)|src=|url\(|@import`).MatchString(m.HTML) {
		t.Error("the HTML loads or runs something")
	}
	if strings.Contains(m.HTML, "T <b>12") || !strings.Contains(m.HTML, "T &lt;b&gt;12") {
		t.Error("a vehicle number was not escaped")
	}
	for _, want := range []string{
		base + "/vehicles/0190c0de-0000-7000-8000-000000000104",
		base + "/?depot=0190c0de-0000-7000-8000-000000000001",
		base + "/due?depot=0190c0de-0000-7000-8000-000000000001",
		base + "/order?depot=0190c0de-0000-7000-8000-000000000001",
	} {
		if !strings.Contains(html.UnescapeString(m.HTML), `href="`+want+`"`) {
			t.Errorf("there is no link to %s", want)
		}
	}
}

// Subject, numbers and rows say the same: what counts as off the road or to do now is
// counted once and listed. The rows are counted in the finished mail.
func TestPartsAgree(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := week()
		d.Now.OffRoad = rapid.IntRange(0, 60).Draw(t, "off the road")
		d.Now.DoNow = rapid.IntRange(0, fleet.DigestListed).Draw(t, "do now")
		d.Now.Vehicles = d.Now.OffRoad + d.Now.DoNow + 3
		for i := range d.Now.OffRoad + d.Now.DoNow {
			u := models.OffTheRoad
			if i >= d.Now.OffRoad {
				u = models.DoNow
			}
			d.Vehicles = append(d.Vehicles, vehicle(fmt.Sprintf("U-%02d", i), u, models.RunFlat, "1L"))
		}

		m, err := digest.Render(d, base)
		if err != nil {
			t.Fatal(err)
		}
		for what, n := range map[string]int{"off the road": d.Now.OffRoad, "do now": d.Now.DoNow} {
			if got := strings.Count(m.HTML, what+": run flat"); got != n {
				t.Fatalf("%d rows are %s, want %d", got, what, n)
			}
			if !strings.Contains(plain(m.Text), fmt.Sprintf("%s %d ", what, n)) {
				t.Fatalf("the numbers do not say %d %s: %s", n, what, m.Text)
			}
			subject := fmt.Sprintf("%d %s", n, strings.Replace(what, "do now", "to do now", 1))
			if strings.Contains(m.Subject, subject) != (n > 0) {
				t.Fatalf("subject %q with %d %s", m.Subject, n, what)
			}
		}
	})
}

// A mail of a hundred vehicles stays below 40 kB, since mail programs cut long ones, and
// one of 22 vehicles is short enough to be read (chosen by us).
func TestMailIsShort(t *testing.T) {
	t.Parallel()
	long := full()
	row := long.Vehicles[0]
	for len(long.Vehicles) < 100 {
		long.Vehicles = append(long.Vehicles, row)
	}
	if m := render(t, long, base); len(m.HTML) > 40_000 || len(m.Text) > 40_000 {
		t.Errorf("100 vehicles take %d bytes of HTML and %d of text", len(m.HTML), len(m.Text))
	}

	short := full()
	for len(short.Vehicles) < 14 { // as many as the invented yard of 22 vehicles has
		short.Vehicles = append(short.Vehicles, vehicle("X-03", models.DoNow, models.PressureLow, "1LI", "2RO"))
	}
	words := regexp.MustCompile(`[\pL\pN][^\s]*`).FindAllString(render(t, short, "").Text, -1)
	if len(words) > 400 {
		t.Errorf("14 rows have %d words", len(words))
	}
}

func TestEmptyDepot(t *testing.T) {
	t.Parallel()
	m := render(t, week(), "")
	if !strings.Contains(m.Text, "The depot has no vehicles yet.") ||
		!strings.HasSuffix(m.Subject, "nothing to do this week") {
		t.Errorf("%s\n%s", m.Subject, m.Text)
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
