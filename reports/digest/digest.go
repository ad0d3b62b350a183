// Package digest writes a depot's weekly mail: six numbers against the week before, one
// row for each vehicle that must not run or has something to do now, the week to come,
// and where the rest is. It decides nothing: what is listed, counted and said comes from
// package fleet. Times are shown in the depot's own zone, quantities in its own units.
//
// # Decisions
//
// A mail is read to its end only if it is short, so a vehicle is one row with its worst
// finding in few words; the vehicle's page says why and with which care. Rejected: a row
// for each finding with its evidence and its cautions (3,900 words for 22 vehicles).
// Vehicles that are off the road are never left out; of the others at most
// fleet.DigestListed are listed, with a link to the rest. November 2026.
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

// safety is printed under every digest: the usual cautions of the trade
// (29 CFR 1910.177 for restraint, 29 CFR 1910.244 for stands).
const safety = "Inflating, jacking and fitting wheels can kill: trained people only, " +
	"restraint for heavy assemblies, stands under the load, no air into a tire that may have run flat. " +
	"This advises, it does not pass or fail a vehicle. " + legal.Notice

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
	Subject  string
	Depot    string
	When     string
	Figures  []figure
	Vehicles []vehicleRow
	Nothing  string // in place of rows
	Rest     line   // where the other vehicles are; empty: there are none
	Ahead    []line // the week to come
	Link     string // of the start page
}

// figure is a number with what it was a week before.
type figure struct{ Name, Value, Before string }

// vehicleRow is one vehicle.
type vehicleRow struct {
	Number, Row   string
	Urgency, What string
	Tread         string // depths across the tread, beside the law or the pull point
	Job           string
	Since, Booked string
	New           bool
	OffRoad       bool
	Link          string
}

// line is a line of words with a link, which may be empty.
type line struct{ Name, Words, Link string }

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

// day returns the weekday of a civil date with its number, such as "Thu 3".
func (w writer) day(civil string) string {
	t, err := time.Parse(time.DateOnly, civil)
	if err != nil {
		return civil
	}
	return t.Format("Mon 2")
}

// link returns the address of a page, empty without a base address.
func (w writer) link(path string, query url.Values) string {
	if w.base == "" {
		return ""
	}
	if len(query) > 0 {
		path += "?" + query.Encode()
	}
	return w.base + path
}

// pageOf returns the digest d in words.
func pageOf(d fleet.Digest, w writer) page {
	depot := url.Values{"depot": {string(d.Depot.ID)}}
	p := page{
		Depot: d.Depot.Name,
		When: fmt.Sprintf("Week from %s to %s (%s), as it stands on %s.",
			w.date(d.From), w.date(d.To), d.Depot.TimeZone, w.date(d.At)),
		Figures: w.figures(d),
		Link:    w.link("/", depot),
	}
	p.Subject = fmt.Sprintf("%s, %s: %s", d.Depot.Name, w.date(d.At), headline(d.Now))

	for _, v := range d.Vehicles {
		p.Vehicles = append(p.Vehicles, w.vehicle(v, d.At))
	}
	if len(p.Vehicles) == 0 {
		p.Nothing = "No vehicle is off the road and nothing is to do now."
		if d.Now.Vehicles == 0 {
			p.Nothing = "The depot has no vehicles yet."
		}
	}

	if d.Rest > 0 {
		p.Rest = line{
			Name:  "The rest",
			Words: vehicles(d.Rest) + " with less urgent work, in the list",
			Link:  w.link("/", depot),
		}
		if d.Now.OffRoad+d.Now.DoNow > len(d.Vehicles) {
			p.Rest.Words = vehicles(d.Rest) + " more, in the list"
		}
	}
	p.Ahead = w.ahead(d)
	return p
}

// headline counts vehicles in a few words, for the subject.
func headline(f models.Figures) string {
	var parts []string
	if f.OffRoad > 0 {
		parts = append(parts, fmt.Sprintf("%d off the road", f.OffRoad))
	}
	if f.DoNow > 0 {
		parts = append(parts, fmt.Sprintf("%d to do now", f.DoNow))
	}
	if f.DueThisWeek > 0 {
		parts = append(parts, fmt.Sprintf("%d due this week", f.DueThisWeek))
	}
	if len(parts) == 0 {
		return "nothing to do this week"
	}
	return strings.Join(parts, ", ")
}

// figures returns the six numbers of a digest.
func (w writer) figures(d fleet.Digest) []figure {
	number := func(f models.Figures, n int) string { return w.WriteCount(int64(n)) }
	share := func(f models.Figures, n int) string {
		if f.Vehicles == 0 {
			return "-"
		}
		return fmt.Sprintf("%d%%", 100*n/f.Vehicles)
	}

	var out []figure
	for _, row := range []struct {
		name  string
		write func(models.Figures, int) string
		of    func(models.Figures) int
	}{
		{"off the road", number, func(f models.Figures) int { return f.OffRoad }},
		{"do now", number, func(f models.Figures) int { return f.DoNow }},
		{"due this week", number, func(f models.Figures) int { return f.DueThisWeek }},
		{"in the shop", number, func(f models.Figures) int { return f.InShop }},
		{"inspected in time", share, func(f models.Figures) int { return f.InTime }},
		{"tires to pull soon", number, func(f models.Figures) int { return f.AtPull }},
	} {
		f := figure{Name: row.name, Value: row.write(d.Now, row.of(d.Now))}
		if d.Before != nil {
			f.Before = row.write(*d.Before, row.of(*d.Before))
		}
		out = append(out, f)
	}
	return out
}

// vehicle returns the row of a vehicle.
func (w writer) vehicle(v fleet.DigestVehicle, now time.Time) vehicleRow {
	g := v.Group
	row := vehicleRow{
		Number:  v.Number,
		Urgency: g.Urgency.String(),
		What:    g.Short(),
		Tread:   w.tread(v.Tread),
		Job:     g.Code.Job(),
		New:     v.New,
		OffRoad: g.Urgency == models.OffTheRoad,
		Link:    w.link("/vehicles/"+string(v.ID), nil),
	}

	if v.Row != "" {
		row.Row = "row " + v.Row
	}
	if v.More > 0 {
		row.What += fmt.Sprintf(", +%d", v.More)
	}
	if since := g.Since(); !since.IsZero() {
		row.Since = days(int(now.Sub(since).Hours() / 24))
	}
	if v.Booked != "" {
		row.Booked = "shop " + w.day(v.Booked)
	}
	return row
}

// tread returns depths across a tread beside the limits, empty if nothing was read.
func (w writer) tread(t *fleet.DigestTread) string {
	if t == nil {
		return ""
	}

	words := string(t.Position) + ": " + w.WriteTread(t.Across)
	if t.Legal > 0 {
		words += ", law " + w.WriteDepth(t.Legal)
	}
	if t.Pull > t.Legal {
		words += ", pull " + w.WriteDepth(t.Pull)
	}
	return words
}

// ahead returns lines about the week to come and the week that was.
func (w writer) ahead(d fleet.Digest) []line {
	depot := url.Values{"depot": {string(d.Depot.ID)}}
	var out []line
	add := func(name, path string, words []string) {
		if len(words) > 0 {
			out = append(out, line{name, strings.Join(words, ", "), w.link(path, depot)})
		}
	}

	var due, shop, order, news []string
	for _, x := range d.Due {
		due = append(due, fmt.Sprintf("%s %d", x.Code.Words(), x.Vehicles))
	}
	for _, x := range d.Shop[:min(len(d.Shop), shown)] {
		shop = append(shop, x.Number+" "+w.day(x.Day))
	}
	shop = andMore(shop, len(d.Shop))

	for _, x := range d.Order[:min(len(d.Order), shown)] {
		size := x.Size
		if size == "" {
			size = "size not known"
		}
		order = append(order, fmt.Sprintf("%d x %s", x.Tires, size))
	}
	order = andMore(order, len(d.Order))

	if d.Opened > 0 {
		news = append(news, "something new on "+vehicles(d.Opened))
	}
	if d.Closed > 0 {
		news = append(news, "something done on "+vehicles(d.Closed))
	}

	add("Due this week", "/due", due)
	add("In the shop", "/due/calendar", shop)
	add(fmt.Sprintf("Tires to order, %d days", models.PullAheadDays), "/order", order)
	add("Since last week", "/changed", news)
	return out
}

// shown is how many vehicles or sizes a line of the week to come names.
const shown = 12

// andMore adds how many of all are not among words.
func andMore(words []string, all int) []string {
	if n := all - len(words); n > 0 {
		words = append(words, fmt.Sprintf("%d more", n))
	}
	return words
}

// days returns a number of days.
func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// vehicles returns a number of vehicles.
func vehicles(n int) string {
	if n == 1 {
		return "1 vehicle"
	}
	return fmt.Sprintf("%d vehicles", n)
}
