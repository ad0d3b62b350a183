// Package calendar writes days with what is due on them as an iCalendar object
// (RFC 5545) for calendar programs. It reads no record and computes no dates.
package calendar

import (
	"bytes"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// Entry is something that lies on a whole day.
type Entry struct {
	UID         string // the same for the same thing in every feed; no secret
	Day         time.Time
	Summary     string
	Description string
	URL         string // where it is seen; may be empty
	Category    string // may be empty
	Stamp       time.Time
}

// Writer writes a calendar entry by entry, so that one of any length takes no
// memory. What was not closed is no whole calendar, and programs refuse it (3.4).
type Writer struct {
	w io.Writer
	c lines
}

// NewWriter begins a calendar with a name.
func NewWriter(w io.Writer, name string) *Writer {
	out := &Writer{w: w}
	c := &out.c
	c.add("BEGIN", "VCALENDAR")
	c.add("VERSION", "2.0")
	c.add("PRODID", "-//Rimledger//Due work//EN")
	c.add("CALSCALE", "GREGORIAN")
	c.add("METHOD", "PUBLISH")
	c.add("X-WR-CALNAME", text(name)) // in no standard, read by most programs
	return out
}

// Add writes one entry. Only the civil date of its Day counts, as written in its
// own zone: RFC 5545, 3.3.4, a date has no zone.
func (out *Writer) Add(e Entry) error {
	c := &out.c
	c.add("BEGIN", "VEVENT")
	c.add("UID", text(e.UID))
	c.add("DTSTAMP", e.Stamp.UTC().Format("20060102T150405Z"))
	c.add("DTSTART;VALUE=DATE", e.Day.Format("20060102"))
	c.add("DTEND;VALUE=DATE", e.Day.AddDate(0, 0, 1).Format("20060102")) // not part of it: RFC 5545, 3.6.1
	c.add("SUMMARY", text(e.Summary))

	if e.Description != "" {
		c.add("DESCRIPTION", text(e.Description))
	}
	if e.URL != "" {
		c.add("URL", strings.Map(visible, e.URL))
	}
	if e.Category != "" {
		c.add("CATEGORIES", text(e.Category))
	}

	c.add("TRANSP", "TRANSPARENT") // it takes nobody's time
	c.add("END", "VEVENT")
	return out.flush()
}

// Close ends the calendar; the writer below stays open.
func (out *Writer) Close() error {
	out.c.add("END", "VCALENDAR")
	return out.flush()
}

func (out *Writer) flush() error {
	_, err := out.c.out.WriteTo(out.w)
	return err
}

// lines are content lines: CRLF at the end, folded at 75 octets (RFC 5545, 3.1).
type lines struct{ out bytes.Buffer }

const maxOctets = 75

func (c *lines) add(name, value string) {
	rest := name + ":" + value

	room := maxOctets
	for len(rest) > room {
		cut := room
		for !utf8.RuneStart(rest[cut]) { // a character is not torn apart
			cut--
		}
		c.out.WriteString(rest[:cut])
		c.out.WriteString("\r\n ")
		rest, room = rest[cut:], maxOctets-1
	}

	c.out.WriteString(rest)
	c.out.WriteString("\r\n")
}

// text writes a value of type TEXT (RFC 5545, 3.3.11): backslash, semicolon and
// comma are escaped, a line end is \n, other control characters are left out.
func text(s string) string {
	s = strings.ReplaceAll(strings.ToValidUTF8(s, "?"), "\r\n", "\n")
	return strings.Map(visible, escapes.Replace(s))
}

var escapes = strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\n", `\n`, "\r", `\n`)

// visible drops control characters other than the tab.
func visible(r rune) rune {
	if r < 0x20 && r != '\t' || r == 0x7f {
		return -1
	}
	return r
}
