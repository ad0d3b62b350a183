package calendar_test

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"rimledger/reports/calendar"
)

// TestWriter checks the rules of RFC 5545 by their sections.
func TestWriter(t *testing.T) {
	t.Parallel()
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}

	day := time.Date(2026, 12, 31, 23, 30, 0, 0, chicago)
	e := calendar.Entry{
		UID:         "0190-f@rimledger",
		Day:         day,
		Stamp:       time.Date(2026, 11, 25, 9, 0, 0, 0, chicago),
		Category:    "plan",
		Summary:     `Rotate; "3, 4" \ all` + " " + strings.Repeat("Größe ", 30),
		Description: "one\r\ntwo\x07",
		URL:         "https://ledger.example/findings/1\r\nX-BAD:1",
	}

	var b bytes.Buffer
	c := calendar.NewWriter(&b, "Alder Yard, due")
	for _, err := range []error{c.Add(e), c.Close()} {
		if err != nil {
			t.Fatal(err)
		}
	}

	raw := b.String()
	if strings.Contains(strings.ReplaceAll(raw, "\r\n", ""), "\n") || !strings.HasSuffix(raw, "END:VCALENDAR\r\n") {
		t.Error("3.1: lines end with CR LF")
	}

	for _, line := range strings.Split(raw, "\r\n") {
		if len(line) > 75 || !utf8.ValidString(line) {
			t.Errorf("3.1: a line of %d octets, or a character torn apart: %q", len(line), line)
		}
	}

	unfolded := strings.ReplaceAll(raw, "\r\n ", "")
	for section, want := range map[string]string{
		"3.4 begins with the calendar":     "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n",
		"3.7.3 names the product":          "PRODID:-//",
		"3.8.4.7 identity":                 "\r\nUID:0190-f@rimledger\r\n",
		"3.8.7.2 stamp in UTC":             "\r\nDTSTAMP:20261125T150000Z\r\n", // 09:00 in Chicago, UTC-6
		"3.3.4 a date, of the own zone":    "\r\nDTSTART;VALUE=DATE:20261231\r\n",
		"3.6.1 the end is not part of it":  "\r\nDTEND;VALUE=DATE:20270101\r\n",
		"3.3.11 escapes in text":           `SUMMARY:Rotate\; "3\, 4" \\ all Größe`,
		"3.3.11 line ends in text":         "\r\nDESCRIPTION:one\\ntwo\r\n",
		"3.3.13 an address without breaks": "\r\nURL:https://ledger.example/findings/1X-BAD:1\r\n",
		"3.8.1.2 category":                 "\r\nCATEGORIES:plan\r\n",
	} {
		if !strings.Contains(unfolded, want) {
			t.Errorf("%s: no %q in\n%s", section, want, unfolded)
		}
	}

	if n := strings.Count(unfolded, "BEGIN:VEVENT"); n != 1 || n != strings.Count(unfolded, "END:VEVENT") {
		t.Errorf("3.6.1: %d events", n)
	}
}
