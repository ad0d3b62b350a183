package models

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// FindingGroup is what is said once of several wheels of a vehicle: the open findings
// of one code and urgency, either all set aside or none of them.
type FindingGroup struct {
	Code     FindingCode
	Urgency  Urgency
	Quiet    bool      // acknowledged or booked in
	Findings []Finding // at least one
}

// GroupFindings groups the findings of one vehicle. Groups stand in the order of their
// first finding, and so do the findings of each.
func GroupFindings(list []Finding, now time.Time) []FindingGroup {
	var out []FindingGroup
	for _, f := range list {
		quiet := f.Quiet(now)
		i := slices.IndexFunc(out, func(g FindingGroup) bool {
			return g.Code == f.Code && g.Urgency == f.Urgency && g.Quiet == quiet
		})
		if i < 0 {
			i = len(out)
			out = append(out, FindingGroup{Code: f.Code, Urgency: f.Urgency, Quiet: quiet})
		}
		out[i].Findings = append(out[i].Findings, f)
	}

	return out
}

// Positions lists the places of the group in the order of its findings; a finding about
// the whole vehicle has none.
func (g FindingGroup) Positions() []Position {
	var out []Position
	for _, f := range g.Findings {
		if f.Position != "" {
			out = append(out, f.Position)
		}
	}
	return out
}

// Title is one line about all findings of the group: the title of the only one, or the
// words of the code with the places.
func (g FindingGroup) Title() string {
	if len(g.Findings) == 1 {
		return g.Findings[0].Title
	}
	return g.Short()
}

// Short is the group in few words with its places, such as "low pressure at 2LI, 2RI".
// Damage, of which the code says nothing, keeps the title of its first finding.
func (g FindingGroup) Short() string {
	words, at := g.Code.Words(), g.Positions()
	if g.Code == Damage || g.Code == DamageMinor {
		words, at = g.Findings[0].Title, nil
		for _, f := range g.Findings[1:] {
			at = append(at, f.Position)
		}
		if len(at) > 0 {
			words += " and damage"
		}
	}

	if len(at) == 0 {
		return words
	}
	return words + " at " + placesText(at)
}

// placesText lists places from the front, with commas, each once.
func placesText(list []Position) string {
	list = slices.SortedFunc(slices.Values(list),
		func(a, b Position) int { return cmp.Or(a.Axle()-b.Axle(), cmp.Compare(a, b)) })

	var words []string
	for _, p := range slices.Compact(list) {
		words = append(words, string(p))
	}
	return strings.Join(words, ", ")
}

// FirstJobs lists what to do first, each job once. Jobs that differ only in the place
// become one job with all places.
func (g FindingGroup) FirstJobs() []string {
	const hole = " at \x00"
	var jobs []string
	places := map[string][]Position{}
	for _, f := range g.Findings {
		job := f.FirstJob
		if job == "" {
			continue
		}
		if f.Position != "" {
			job = strings.Replace(job, " at "+string(f.Position), hole, 1)
		}
		if !slices.Contains(jobs, job) {
			jobs = append(jobs, job)
		}
		places[job] = append(places[job], f.Position)
	}

	for i, job := range jobs {
		jobs[i] = strings.Replace(job, hole, " at "+placesText(places[job]), 1)
	}
	return jobs
}

// NewSinceBooking reports whether a finding of the group is new since its vehicle was
// booked in; see Finding.NewSinceBooking.
func (g FindingGroup) NewSinceBooking(now time.Time) bool {
	return slices.ContainsFunc(g.Findings, func(f Finding) bool { return f.NewSinceBooking(now) })
}

// Safety lists the cautions of the group, each once.
func (g FindingGroup) Safety() []string {
	var out []string
	for _, f := range g.Findings {
		if f.Safety != "" && !slices.Contains(out, f.Safety) {
			out = append(out, f.Safety)
		}
	}
	return out
}

// DueAt returns the earliest day on which work of the group is due, nil if none is known.
func (g FindingGroup) DueAt() *time.Time {
	var due *time.Time
	for _, f := range g.Findings {
		if f.DueAt != nil && (due == nil || f.DueAt.Before(*due)) {
			due = f.DueAt
		}
	}
	return due
}

// Since returns when the first finding of the group began, zero if that is not known.
func (g FindingGroup) Since() time.Time {
	var since time.Time
	for _, f := range g.Findings {
		if since.IsZero() || !f.Since.IsZero() && f.Since.Before(since) {
			since = f.Since
		}
	}
	return since
}
