// Package calendar writes entries for whole days as an iCalendar object
// (RFC 5545) for calendar programs. It reads no record and computes no dates.
//
// # Decisions
//
// A calendar is written entry by entry: its reader has 200 vehicles in memory, whatever
// the size of the fleet. A feed that breaks off lacks END:VCALENDAR, so that programs
// refuse it as incomplete. Rejected: to build the whole
// object first, whose memory grows with the fleet. November 2026.
package calendar

import (
	"bytes"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// Entry is an event of a whole day.
type Entry struct {
	UID         string    // the same for the same thing in every feed; not secret
	Day         time.Time // only the civil date in its own zone counts
	Summary     string
	Description string // may be empty
	URL         string // of the page about it; may be empty
	Category    string // may be empty
	Stamp       time.Time
}

// Writer writes a calendar entry by entry, in memory that does not grow with their number.
// A calendar without Close is incomplete, and programs refuse it (RFC 5545, 3.4).
type Writer struct {
	w     io.Writer
	lines contentLines // of the entry that is being written
}

// NewWriter begins a calendar with a name.
func NewWriter(w io.Writer, name string) *Writer {
	out := &Writer{w: w}
	c := &out.lines
	c.add("BEGIN", "VCALENDAR")
	c.add("VERSION", "2.0")
	c.add("PRODID", "-//Rimledger//Due work//EN")
	c.add("CALSCALE", "GREGORIAN")
	c.add("METHOD", "PUBLISH")
	c.add("X-WR-CALNAME", text(name)) // not in the RFC, but most programs read it
	return out
}

// Add writes one entry. Its Day becomes a date without a zone (RFC 5545, 3.3.4).
func (out *Writer) Add(e Entry) error {
	c := &out.lines
	c.add("BEGIN", "VEVENT")
	c.add("UID", text(e.UID))
	c.add("DTSTAMP", e.Stamp.UTC().Format("20060102T150405Z"))
	c.add("DTSTART;VALUE=DATE", e.Day.Format("20060102"))
	c.add("DTEND;VALUE=DATE", e.Day.AddDate(0, 0, 1).Format("20060102")) // exclusive: RFC 5545, 3.6.1
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

	c.add("TRANSP", "TRANSPARENT") // the day does not show as busy
	c.add("END", "VEVENT")
	return out.flush()
}

// Close ends the calendar; the writer below stays open.
func (out *Writer) Close() error {
	out.lines.add("END", "VCALENDAR")
	return out.flush()
}

// flush writes the lines since the last flush.
func (out *Writer) flush() error {
	_, err := out.lines.buffer.WriteTo(out.w)
	return err
}

// contentLines are content lines: CRLF at the end, folded at 75 octets (RFC 5545, 3.1).
type contentLines struct{ buffer bytes.Buffer }

// maxOctets is the longest line without its CRLF.
const maxOctets = 75

// add adds one content line, folded.
func (c *contentLines) add(name, value string) {
	rest := name + ":" + value
	room := maxOctets
	for len(rest) > room {
		cut := room
		for !utf8.RuneStart(rest[cut]) { // do not cut within a character
			cut--
		}
		c.buffer.WriteString(rest[:cut])
		c.buffer.WriteString("\r\n ")
		rest, room = rest[cut:], maxOctets-1 // the space that marks a fold counts
	}

	c.buffer.WriteString(rest)
	c.buffer.WriteString("\r\n")
}

// text returns s as a value of type TEXT (RFC 5545, 3.3.11): backslash, semicolon and
// comma are escaped, a line end is \n, other control characters are left out.
func text(s string) string {
	s = strings.ReplaceAll(strings.ToValidUTF8(s, "?"), "\r\n", "\n")
	return strings.Map(visible, escapes.Replace(s))
}

var escapes = strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\n", `\n`, "\r", `\n`)

// visible returns r, or -1 for a control character other than the tab.
func visible(r rune) rune {
	if r < 0x20 && r != '\t' || r == 0x7f {
		return -1
	}
	return r
}
