package digest

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// columns is the width of the plain text (RFC 5322, 2.1.1 advises at most 78).
const columns = 72

// text returns p as plain text.
func (p page) text() string {
	var b strings.Builder
	wrap(&b, "", p.Depot+": wheels and tires")
	wrap(&b, "", p.When)
	b.WriteString("\n")

	for _, f := range p.Figures {
		before := ""
		if f.Before != "" {
			before = "  (a week ago " + f.Before + ")"
		}
		fmt.Fprintf(&b, "%-20s%6s%s\n", f.Name, f.Value, before)
	}

	b.WriteString("\n")
	wrap(&b, "", p.Nothing)
	urgency := ""
	for _, v := range p.Vehicles {
		if v.Urgency != urgency {
			urgency = v.Urgency
			b.WriteString(strings.ToUpper(urgency) + "\n")
		}
		hang(&b, strings.Join(v.words(), " - "))
	}

	if p.Rest.Words != "" {
		b.WriteString("\n")
		hang(&b, p.Rest.Name+": "+p.Rest.Words+".")
	}
	if len(p.Ahead) > 0 {
		b.WriteString("\n")
	}
	for _, l := range p.Ahead {
		hang(&b, l.Name+": "+l.Words+".")
	}

	b.WriteString("\n")
	wrap(&b, "", safety)
	if p.Link != "" {
		b.WriteString("\n" + p.Link + "\n")
	}
	return b.String()
}

// words returns the parts of a row that say something.
func (v vehicleRow) words() []string {
	number := v.Number
	if v.New {
		number += " NEW"
	}

	var out []string
	for _, s := range []string{number, v.Row, v.What, v.Tread, v.Job, v.Since, v.Booked} {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

// hang writes s with its second and further lines indented.
func hang(b *strings.Builder, s string) {
	var item strings.Builder
	wrap(&item, "    ", s)
	b.WriteString(strings.TrimPrefix(item.String(), "    "))
}

// wrap writes s in lines of at most columns runes, each indented; a longer
// word gets a line of its own. It writes nothing for an empty s.
func wrap(b *strings.Builder, indent, s string) {
	width := 0
	for _, word := range strings.Fields(s) {
		n := utf8.RuneCountInString(word)
		switch {
		case width == 0:
			b.WriteString(indent)
			width = len(indent)
		case width+1+n > columns:
			b.WriteString("\n" + indent)
			width = len(indent)
		default:
			b.WriteString(" ")
			width++
		}

		b.WriteString(word)
		width += n
	}

	if width > 0 {
		b.WriteString("\n")
	}
}
