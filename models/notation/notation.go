// Package notation is how a reader's country writes numbers and dates around
// English words: which sign parts the decimals, whether the day or the month
// comes first. Numbers follow the Unicode CLDR as golang.org/x/text carries it.
// The month is always a word, or the order is that of ISO 8601, so that no date
// can be read in two ways.
package notation

import (
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"

	"rimledger/models/units"
)

// Choice is one notation that a person can choose, by its language tag.
type Choice struct{ Tag, Country string }

// Choices lists them by country. Others can be set by their tag: see For.
var Choices = []Choice{
	{"en-AU", "Australia"}, {"de-AT", "Austria"}, {"nl-BE", "Belgium"}, {"en-CA", "Canada"}, {"cs-CZ", "Czechia"},
	{"da-DK", "Denmark"}, {"fi-FI", "Finland"}, {"fr-FR", "France"}, {"de-DE", "Germany"}, {"hu-HU", "Hungary"},
	{"en-IN", "India"}, {"en-IE", "Ireland"}, {"it-IT", "Italy"}, {"ja-JP", "Japan"}, {"lt-LT", "Lithuania"},
	{"es-MX", "Mexico"}, {"nl-NL", "Netherlands"}, {"en-NZ", "New Zealand"}, {"nb-NO", "Norway"}, {"en-PH",
		"Philippines"},
	{"pl-PL", "Poland"}, {"pt-PT", "Portugal"}, {"en-ZA", "South Africa"}, {"es-ES", "Spain"}, {"sv-SE", "Sweden"},
	{"de-CH", "Switzerland"}, {"en-GB", "United Kingdom"}, {"en-US", "United States"},
}

// country is the notation of one language tag.
type country struct {
	tag            string
	printer        *message.Printer
	decimal, group string
	date, weekday  string // layouts of package time
	clock          string
}

// Where the month comes before the day, where the year comes first, and where
// the day has twice twelve hours: Unicode CLDR 46, dateFormats/medium of en-XX or
// of the language itself, and supplemental/timeData.
var (
	monthFirst = []string{"US", "CA", "PH", "PR", "GU", "VI", "AS", "MP", "UM"}
	yearFirst  = []string{"JP", "CN", "KR", "TW", "HU", "LT"}
	twelve     = []string{"US", "CA", "AU", "NZ", "IN", "PH", "PR", "GU", "VI", "AS", "MP", "UM", "MX"}
)

// known keeps the notations that were made, by their tags.
var known sync.Map

// For returns the notation of a language tag with a country (BCP 47), such as
// en-GB or de-CH. It reports false for what is no such tag.
func For(tag string) (units.Notation, bool) {
	t, err := language.Parse(tag)
	if err != nil {
		return nil, false
	}
	return of(t)
}

func of(t language.Tag) (units.Notation, bool) {
	base, _ := t.Base()
	region, sure := t.Region()
	if sure < language.High || !region.IsCountry() {
		return nil, false
	}
	tag := base.String() + "-" + region.String()
	if n, ok := known.Load(tag); ok {
		return n.(*country), true
	}
	n := newCountry(tag, region.String())
	known.Store(tag, n)
	return n, true
}

func newCountry(tag, region string) *country {
	n := &country{tag: tag, printer: message.NewPrinter(language.MustParse(tag + "-u-nu-latn")), date: "2 Jan 2006",
		weekday: "Mon, 2 Jan", clock: "15:04"}

	switch {
	case slices.Contains(monthFirst, region):
		n.date, n.weekday = "Jan 2, 2006", "Mon, Jan 2"
	case slices.Contains(yearFirst, region):
		n.date = time.DateOnly
	}

	if slices.Contains(twelve, region) {
		n.clock = "3:04 pm"
	}
	sample := n.printer.Sprint(number.Decimal(1234567.5, number.Scale(1))) // such as 1.234.567,5
	n.decimal = sample[len(sample)-2 : len(sample)-1]
	n.group = strings.TrimLeft(sample, "0123456789")
	n.group = n.group[:strings.IndexAny(n.group, "0123456789")]

	return n
}

// Accepted returns the notation that a browser asks for by an Accept-Language
// header, nil where it names no country.
func Accepted(header string) units.Notation {
	tags, _, err := language.ParseAcceptLanguage(header)
	if err != nil {
		return nil
	}
	for _, t := range tags {
		if n, ok := of(t); ok {
			return n
		}
	}
	return nil
}

// OfReader returns how a person reads on a page: as the person chose, by a tag,
// else as the browser asks, by its Accept-Language header; nil where neither says.
func OfReader(chosen, accepts string) units.Notation {
	if n, ok := For(chosen); ok {
		return n
	}
	return Accepted(accepts)
}

// OfPlace returns the notation of a jurisdiction such as US-CA or DE, nil where
// it is no country's.
func OfPlace(jurisdiction string) units.Notation {
	country, _, _ := strings.Cut(jurisdiction, "-")
	region, err := language.ParseRegion(country)
	if err != nil {
		return nil
	}
	t, err := language.Compose(language.Und, region)
	if err != nil {
		return nil
	}

	base, _ := t.Base() // the language most written there
	if t, err = language.Compose(base, region); err != nil {
		return nil
	}
	n, _ := of(t)
	return n
}

// Tag is the language tag of the notation.
func (n *country) Tag() string { return n.tag }

// Number writes a plain decimal numeral as the country does.
func (n *country) Number(plain string, grouped bool) string {
	f, err := strconv.ParseFloat(plain, 64)
	if err != nil {
		return plain
	}
	_, decimals, _ := strings.Cut(plain, ".")
	options := []number.Option{number.Scale(len(decimals))}
	if !grouped {
		options = append(options, number.NoSeparator())
	}
	return n.printer.Sprint(number.Decimal(f, options...))
}

// Date writes 6 Nov 2026, Nov 6, 2026 or 2026-11-06.
func (n *country) Date(t time.Time) string { return t.Format(n.date) }

// Weekday writes Fri, 6 Nov or Fri, Nov 6.
func (n *country) Weekday(t time.Time) string { return t.Format(n.weekday) }

// Time writes 15:04 or 3:04 pm.
func (n *country) Time(t time.Time) string { return t.Format(n.clock) }

// Plain writes the numerals in a typed text with a decimal point and without
// signs of thousands. Where the country's decimal sign is a comma, a point that
// cannot part thousands is read as a decimal sign, too.
func (n *country) Plain(typed string) string {
	var out strings.Builder
	for rest := typed; rest != ""; {
		start := strings.IndexAny(rest, "0123456789")
		if start < 0 {
			out.WriteString(rest)
			break
		}
		out.WriteString(rest[:start])
		end := start + numeralLength(rest[start:])
		out.WriteString(n.plainNumeral(rest[start:end]))
		rest = rest[end:]
	}

	return out.String()
}

// spaces are the signs that stand for a space or an apostrophe between thousands.
var spaces = strings.NewReplacer("\u00a0", " ", "\u202f", " ", "’", "'")

// numeralLength returns how much of s, which begins with a digit, is one
// numeral: digits with single signs between them.
func numeralLength(s string) int {
	end := 0
	for i, r := range s {
		switch {
		case r >= '0' && r <= '9':
			end = i + 1
		case strings.ContainsRune(".,' ’\u00a0\u202f", r) && end == i:
		default:
			return end
		}
	}
	return end
}

func (n *country) plainNumeral(s string) string {
	group := spaces.Replace(n.group)
	plain := spaces.Replace(s)
	whole, decimals, parted := strings.Cut(plain, n.decimal)

	groups := strings.Split(whole, group)
	for i, g := range groups {
		first, last := i == 0, i == len(groups)-1
		if strings.Trim(g, "0123456789") != "" || first && !last && (g == "" || len(g) > 3 || g[0] == '0') ||
			last && !first && len(g) != 3 ||
			!first && !last && len(g) != 3 && len(g) != 2 {
			return s // no numeral of this country; a decimal point is understood anyway
		}
	}

	if strings.Trim(decimals, "0123456789") != "" || parted && decimals == "" {
		return s
	}

	plain = strings.Join(groups, "")
	if parted {
		plain += "." + decimals
	}

	return plain
}
