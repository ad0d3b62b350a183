package digest

import (
	"strings"
	"unicode/utf8"
)

// columns is the width of the plain text (RFC 5322, 2.1.1 advises at most 78).
const columns = 72

// text returns p as plain text.
func (p page) text() string {
	var b strings.Builder
	heading := func(s string) {
		b.WriteString("\n" + strings.ToUpper(s) + "\n" + strings.Repeat("-", utf8.RuneCountInString(s)) + "\n")
	}

	wrap(&b, "", p.Depot+": wheels and tires")
	wrap(&b, "", p.Period)
	wrap(&b, "", p.Standing)
	b.WriteString("\n")
	wrap(&b, "", p.Summary)
	wrap(&b, "", p.Movement)

	for _, s := range p.Sections {
		heading(s.Title)
		wrap(&b, "", s.Intro)

		for _, l := range s.Lines {
			b.WriteString("\n")
			wrap(&b, "", l.Place+": "+l.Title)
			for _, row := range []string{firstJob(l.Job), l.Why, l.When} {
				wrap(&b, "    ", row)
			}
		}

		if s.More != "" {
			b.WriteString("\n")
			if s.MoreLink == "" {
				wrap(&b, "", "... "+s.More+".")
			} else {
				wrap(&b, "", "... "+s.More+": "+s.MoreLink)
			}
		}
	}

	if len(p.Cautions) > 0 {
		heading("Cautions for this work")
		for _, c := range p.Cautions {
			bullet(&b, c)
		}
	}

	heading("What this is")
	wrap(&b, "", advice)
	wrap(&b, "", safety)
	for _, n := range p.Notices {
		bullet(&b, n)
	}

	if p.Link != "" {
		b.WriteString("\n" + p.Link + "\n")
	}
	return b.String()
}

// firstJob returns the line with the first job, "" if there is none.
func firstJob(job string) string {
	if job == "" {
		return ""
	}
	return "First: " + job
}

// bullet writes s as an item of a list.
func bullet(b *strings.Builder, s string) {
	var item strings.Builder
	wrap(&item, "  ", s)
	b.WriteString("* " + strings.TrimPrefix(item.String(), "  "))
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
