package notation_test

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"rimledger/models/notation"
	"rimledger/models/units"
)

func notationFor(t *testing.T, tag string) units.Notation {
	t.Helper()
	n, ok := notation.For(tag)
	if !ok {
		t.Fatalf("no notation for %s", tag)
	}
	return n
}

// plainSpace replaces the no-break spaces of different CLDR editions by a plain one.
func plainSpace(s string) string { return strings.NewReplacer("\u202f", " ", "\u00a0", " ").Replace(s) }

// TestAsCLDR compares the order of dates, hours, decimal sign and thousands with the
// Unicode CLDR 46.1; the library has the numbers of an older edition.
func TestAsCLDR(t *testing.T) {
	f, err := os.Open("../../testdata/cldr-46-notation.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()

	r := csv.NewReader(f)
	r.Comma, r.Comment, r.LazyQuotes = '\t', '#', true
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 20 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}

	day := time.Date(2026, 11, 6, 15, 4, 0, 0, time.UTC)
	for _, row := range rows[1:] {
		tag, date, clock := row[0], row[2], row[3]
		decimal, group, pattern := row[5], row[6], row[7]
		n := notationFor(t, tag)
		if group, err = strconv.Unquote(`"` + group + `"`); err != nil {
			t.Fatal(err)
		}

		want := cldrDate(date)
		if got := n.Date(day); got != want {
			t.Errorf("%s: date %q, CLDR %q (%s)", tag, got, want, date)
		}
		want = "15:04"
		if strings.Contains(clock, "a") {
			want = "3:04 pm"
		}
		if got := n.Time(day); got != want {
			t.Errorf("%s: time %q, CLDR %s", tag, got, clock)
		}

		checkNumbers(t, n, decimal, group, pattern)
	}
}

// cldrDate writes 6 November 2026 by a date pattern of the CLDR, with the month as a
// word; where the year comes first in the order of ISO 8601.
func cldrDate(pattern string) string {
	if strings.HasPrefix(pattern, "y") {
		return "2026-11-06"
	}
	return strings.NewReplacer("MMM", "Nov", "dd", "6", "d", "6", "y", "2026").Replace(pattern)
}

// checkNumbers compares numbers written and read by n with the signs of the CLDR.
func checkNumbers(t *testing.T, n units.Notation, decimal, group, pattern string) {
	t.Helper()

	want := "1" + group + "234" + group + "567" + decimal + "25"
	if strings.HasPrefix(pattern, "#,##,##0") {
		want = "12" + group + "34" + group + "567" + decimal + "25"
	}

	plain := strings.NewReplacer(group, "", decimal, ".").Replace(want)
	if got := n.Number(plain, true); plainSpace(got) != plainSpace(want) {
		t.Errorf("%s: number %q, CLDR %q", n.Tag(), got, want)
	}
	if got := n.Plain(want); got != plain {
		t.Errorf("%s: %q is read as %q", n.Tag(), want, got)
	}
	if got, want := n.Number("1234.50", false), "1234"+decimal+"50"; got != want {
		t.Errorf("%s: %q without thousands, want %q", n.Tag(), got, want)
	}
}

func TestPlain(t *testing.T) {
	for _, c := range []struct{ tag, typed, plain string }{
		{"de-DE", "5,5 mm", "5.5 mm"},
		{"de-DE", "5.5", "5.5"}, // cannot part thousands
		{"de-DE", "12.340 km", "12340 km"},
		{"de-DE", "1.234.567,25", "1234567.25"},
		{"de-DE", "7/32", "7/32"},
		{"de-DE", "1,2,3", "1,2,3"}, // no numeral: refused by who reads it
		{"de-DE", "0.340", "0.340"},
		{"de-CH", "12’340 km", "12340 km"},
		{"de-CH", "12'340.5", "12340.5"},
		{"sv-SE", "12 340 km", "12340 km"},
		{"fr-FR", "12\u202f340,5", "12340.5"},
		{"fr-FR", "12\u00a0340,5", "12340.5"},
		{"fr-FR", "7 8", "7 8"},
		{"en-US", "12,340 mi", "12340 mi"},
		{"en-US", "5,5 mm", "5,5 mm"}, // a comma parts thousands only: refused by who reads it
		{"en-IN", "12,34,567", "1234567"},
		{"en-GB", "unknown", "unknown"},
		{"de-DE", "", ""},
		{"de-DE", "-3,5", "-3.5"},
	} {
		if got := notationFor(t, c.tag).Plain(c.typed); got != c.plain {
			t.Errorf("%s: %q is read as %q, want %q", c.tag, c.typed, got, c.plain)
		}
	}
}

func TestAccepted(t *testing.T) {
	day := time.Date(2026, 11, 6, 15, 4, 0, 0, time.UTC)
	for header, want := range map[string]string{
		"en-GB,en;q=0.9":             "6 Nov 2026",
		"de,en-US;q=0.7":             "Nov 6, 2026", // the first that names a country
		"de-DE,de;q=0.9,en-US;q=0.8": "6 Nov 2026",
		"ja-JP":                      "2026-11-06",
		"en":                         "",
		"":                           "",
		"*":                          "",
		"x;;q=b":                     "",
	} {
		n := notation.Accepted(header)
		if n == nil && want != "" || n != nil && n.Date(day) != want {
			t.Errorf("%q: %v, want %q", header, n, want)
		}
	}
}

func TestOfPlace(t *testing.T) {
	day := time.Date(2026, 11, 6, 15, 4, 0, 0, time.UTC)
	for place, want := range map[string]string{"US": "Nov 6, 2026 1.5", "US-CA": "Nov 6, 2026 1.5",
		"GB": "6 Nov 2026 1.5", "DE": "6 Nov 2026 1,5", "": "", "EU": "", "nowhere": ""} {
		n := notation.OfPlace(place)
		if n == nil && want != "" || n != nil && n.Date(day)+" "+n.Number("1.5", false) != want {
			t.Errorf("%q: %v, want %q", place, n, want)
		}
	}
}

func TestForRefuses(t *testing.T) {
	for _, tag := range []string{"", "en", "english", "xx-YY-zz-??", "en-EU", "de_DE extra"} {
		if n, ok := notation.For(tag); ok {
			t.Errorf("%q is taken as %v", tag, n)
		}
	}
	for _, c := range notation.Choices {
		notationFor(t, c.Tag)
	}
}

func BenchmarkNumber(b *testing.B) {
	n, _ := notation.For("de-DE")
	for b.Loop() {
		n.Number("12340.5", true)
	}
}
