// Package digest writes a depot's weekly mail: what is off the road, what to do
// now, what is due within 14 days, where the wear points to imbalance, and what
// was never measured. It decides nothing: findings, their order and their words
// come from package fleet. Times are shown in the depot's own zone, distances
// in its own unit.
//
// # Decisions
//
// A digest counts every finding and lists at most 40 under a heading
// (fleet.DigestListed), with a link to the rest, so that neither the mail nor the memory
// for it grows with the fleet. Rejected: a full list, which nobody reads and mail servers
// refuse. November 2026.
package digest

import (
	"fmt"
	"net/url"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/legal"
	"rimledger/models/units"
)

// Mail is a finished digest. Text and HTML have the same content.
type Mail struct{ Subject, Text, HTML string }

// advice is printed under every digest.
const advice = "Rimledger advises; it does not pass or fail a vehicle in law. " + legal.Notice

// safety is printed under every digest: the usual cautions of the trade
// (29 CFR 1910.177 for restraint, 29 CFR 1910.244 for stands).
const safety = "Inflating, jacking and fitting wheels can kill: trained people only, " +
	"restraint for heavy assemblies, stands under the load, and never top up a tire that may have run flat. " +
	"Local rules and the makers' instructions come first."

// Render returns the digest d as a mail. Links lead to baseURL; if that is empty, there
// are no links. It returns an error if the depot's time zone is not known.
func Render(d fleet.Digest, baseURL string) (Mail, error) {
	zone, err := d.Depot.Zone()
	if err != nil {
		return Mail{}, fmt.Errorf("digest: %w", err)
	}

	p := pageOf(d, writer{Style: d.Style, zone: zone, base: strings.TrimRight(baseURL, "/")})
	html, err := p.html()
	return Mail{Subject: p.Subject, Text: p.text(), HTML: html}, err
}

// page is a digest in words, before it is laid out as text or HTML.
type page struct {
	Subject, Depot    string
	Period, Standing  string
	Summary, Movement string
	Sections          []section
	Cautions, Notices []string
	Link              string
}

// section is one heading with its findings.
type section struct {
	Title, Intro string
	Lines        []findingLine
	More         string // how many findings are not listed, and where they are; empty: none
	MoreLink     string
}

// findingLine is one finding.
type findingLine struct {
	Place, Title   string
	Job, Why, When string
	Link           string
}

// writer writes values in the depot's units, notation and zone, and links.
type writer struct {
	units.Style
	zone *time.Location
	base string
}

// date returns the day of t with its weekday.
func (w writer) date(t time.Time) string {
	t = t.In(w.zone)
	return t.Format("Mon, ") + w.WriteDate(t)
}

// time returns t with its weekday.
func (w writer) time(t time.Time) string {
	t = t.In(w.zone)
	return t.Format("Mon, ") + w.WriteMoment(t)
}

// pageOf returns the digest d in words. Sections without findings are left out.
func pageOf(d fleet.Digest, w writer) page {
	p := page{
		Depot:    d.Depot.Name,
		Period:   fmt.Sprintf("Week from %s to %s (%s).", w.time(d.From), w.time(d.To), d.Depot.TimeZone),
		Standing: "Written " + w.time(d.At) + "; it shows the state at that time.",
		Movement: fmt.Sprintf("In that week %s opened and %d closed.", count(d.OpenedSince, "finding"), d.ClosedSince),
		Link:     w.base,
	}

	for _, s := range []struct {
		title, intro string
		part         fleet.DigestPart
		path         string     // of the page that lists the rest
		filter       url.Values // of that page
	}{
		{"Off the road", "Must not run until the cause is put right.",
			d.OffRoad, "/", url.Values{"urgency": {models.OffTheRoad.String()}}},
		{"Do now", "Overdue, or should not wait.",
			d.DoNow, "/", url.Values{"urgency": {models.DoNow.String()}}},
		{"Due within 14 days", "",
			d.DueSoon, "/due", url.Values{}},
		{"Wear that points to imbalance", "What the wear suggests, not yet proven: check first what each line says.",
			d.Suspects, "/", url.Values{"code": {string(models.SuspectImbalance)}}},
		{"Never measured", "Nothing can be said about these until somebody measures them.",
			d.NeverMeasured, "/", url.Values{"code": {string(models.NeverInspected)}}},
	} {
		if s.part.Count == 0 {
			continue
		}

		out := w.section(s.title, s.intro, s.part)
		if out.More != "" {
			out.More += map[string]string{"/": ", see the attention list", "/due": ", see the due list"}[s.path]
			if w.base != "" {
				s.filter.Set("depot", string(d.Depot.ID))
				out.MoreLink = w.base + s.path + "?" + s.filter.Encode()
			}
		}
		p.Sections = append(p.Sections, out)
	}

	p.Summary = summary(d)
	p.Subject = fmt.Sprintf("%s, week to %s: %s", d.Depot.Name, w.WriteDate(d.To.In(w.zone)), headline(d))
	p.Cautions = sentences(d, func(f models.Finding) string { return f.Safety })
	p.Notices = sentences(d, func(f models.Finding) string { return f.Notice })
	return p
}

// section returns one part of the digest as a section, without the place of the rest.
func (w writer) section(title, intro string, part fleet.DigestPart) section {
	s := section{Title: fmt.Sprintf("%s (%d)", title, part.Count), Intro: intro}
	for _, l := range part.Lines {
		s.Lines = append(s.Lines, w.line(l))
	}
	if n := part.Count - len(part.Lines); n > 0 {
		s.More = fmt.Sprintf("and %d more", n)
	}
	return s
}

// findingLine returns a finding with its first line of evidence: a mail has no room for the rest.
func (w writer) line(l fleet.DigestLine) findingLine {
	f := l.Finding
	out := findingLine{Place: l.VehicleNumber, Title: f.Title, Job: f.FirstJob, When: w.sinceText(f)}

	if f.Position != "" && !strings.Contains(f.Title, string(f.Position)) {
		out.Place += " " + string(f.Position)
	}
	if len(f.Evidence) > 0 {
		out.Why = models.Sentence(f.Evidence[0].Text)
	}
	if l.Row != "" {
		out.When = "Parked in row " + l.Row + ". " + out.When
	}
	if w.base != "" {
		out.Link = w.base + "/vehicles/" + string(f.VehicleID)
	}
	return out
}

// sinceText returns a sentence with the day since when a finding is open and the day or
// distance at which its work is due.
func (w writer) sinceText(f models.Finding) string {
	var parts []string
	if !f.Since.IsZero() {
		parts = append(parts, "since "+w.date(f.Since))
	}

	switch {
	case f.DueAt != nil && f.DueOdometer != nil:
		parts = append(parts, "due "+w.date(*f.DueAt)+" or at "+w.WriteDistance(*f.DueOdometer))
	case f.DueAt != nil:
		parts = append(parts, "due "+w.date(*f.DueAt))
	case f.DueOdometer != nil:
		parts = append(parts, "due at "+w.WriteDistance(*f.DueOdometer))
	}

	if f.Estimated {
		parts = append(parts, "estimated")
	}
	return models.Sentence(strings.Join(parts, ", "))
}

// count returns a number of things with the right form of their name.
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// headline counts the most urgent findings in a few words, for the subject.
func headline(d fleet.Digest) string {
	var parts []string
	add := func(n int, what string) {
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, what))
		}
	}

	add(d.OffRoad.Count, "off the road")
	add(d.DoNow.Count, "to do now")
	add(d.DueSoon.Count, "due")
	if len(parts) == 0 {
		add(d.Suspects.Count, "to check for imbalance")
		add(d.NeverMeasured.Count, "never measured")
	}
	if len(parts) == 0 {
		return "nothing to do"
	}
	return strings.Join(parts, ", ")
}

// summary counts all open findings of the depot, also those not listed.
func summary(d fleet.Digest) string {
	var parts []string
	for u := models.OffTheRoad; u <= models.Watch; u++ {
		n := 0
		for _, c := range d.Counts {
			if c.Urgency == u {
				n += c.Findings
			}
		}

		if n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, u))
		}
	}

	switch {
	case len(parts) == 0:
		return "Nothing to report: there are no open findings."
	case d.OffRoad.Count+d.DoNow.Count+d.DueSoon.Count+d.Suspects.Count+d.NeverMeasured.Count == 0:
		return "Nothing to do now or within 14 days. Open findings: " + strings.Join(parts, ", ") + "."
	default:
		return "Open findings: " + strings.Join(parts, ", ") + "."
	}
}

// sentences returns one text of each listed finding, in order. Each sentence appears once:
// repeated cautions get ignored.
func sentences(d fleet.Digest, textOf func(models.Finding) string) []string {
	var all []string
	known := map[string]bool{}
	for _, part := range []fleet.DigestPart{d.OffRoad, d.DoNow, d.DueSoon, d.Suspects, d.NeverMeasured} {
		for _, l := range part.Lines {
			var fresh []string
			for s := range strings.SplitSeq(strings.TrimSuffix(textOf(l.Finding), "."), ". ") {
				if s != "" && !known[s] {
					known[s] = true
					fresh = append(fresh, s)
				}
			}

			if len(fresh) > 0 {
				all = append(all, strings.Join(fresh, ". ")+".")
			}
		}
	}

	return all
}
