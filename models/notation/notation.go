// Package notation writes and reads numbers and dates as a reader's country does: the
// decimal sign, the sign between thousands, and whether the day or the month comes
// first. Numbers follow the Unicode CLDR in the edition of golang.org/x/text. The month
// is always a word, or the order is that of ISO 8601, so that no date can be read in two
// ways.
//
// # Decision (November 2026)
//
// Numbers and dates follow the reader's country; words stay US English. The country is
// the person's choice, else what the browser asks for, else the depot's country. A mail
// follows its depot; programs get ISO dates and decimal points. Dates do not break at
// the end of a line. Where the decimal sign is a comma, a point that cannot separate
// thousands is read as a decimal sign too, since gauges and keypads often have no comma;
// lists are separated by semicolons. Rejected: US notation for everyone,
// since 12.340 km and 11/6/2026 mean something else in other countries.
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

// Choices lists the notations that the pages offer, by country. For makes others.
var Choices = []Choice{
	{"en-AU", "Australia"}, {"de-AT", "Austria"}, {"nl-BE", "Belgium"}, {"en-CA", "Canada"}, {"cs-CZ", "Czechia"},
	{"da-DK", "Denmark"}, {"fi-FI", "Finland"}, {"fr-FR", "France"}, {"de-DE", "Germany"}, {"hu-HU", "Hungary"},
	{"en-IN", "India"}, {"en-IE", "Ireland"}, {"it-IT", "Italy"}, {"ja-JP", "Japan"}, {"lt-LT", "Lithuania"},
	{"es-MX", "Mexico"}, {"nl-NL", "Netherlands"}, {"en-NZ", "New Zealand"}, {"nb-NO", "Norway"},
	{"en-PH", "Philippines"}, {"pl-PL", "Poland"}, {"pt-PT", "Portugal"}, {"en-ZA", "South Africa"},
	{"es-ES", "Spain"}, {"sv-SE", "Sweden"}, {"de-CH", "Switzerland"}, {"en-GB", "United Kingdom"},
	{"en-US", "United States"},
}

// country is the notation of one language tag.
type country struct {
	tag            string
	printer        *message.Printer
	decimal, group string
	date, weekday  string // layouts of package time
	clock          string
}

// The regions where the month comes before the day, where the year comes first, and
// where the clock has twelve hours: Unicode CLDR 46, dateFormats/medium of en-XX or
// of the language itself, and supplemental/timeData.
var (
	monthFirst = []string{"US", "CA", "PH", "PR", "GU", "VI", "AS", "MP", "UM"}
	yearFirst  = []string{"JP", "CN", "KR", "TW", "HU", "LT"}
	twelveHour = []string{"US", "CA", "AU", "NZ", "IN", "PH", "PR", "GU", "VI", "AS", "MP", "UM", "MX"}
)

// made is every notation that newCountry made, by its tag: making one is slow.
var made sync.Map

// For returns the notation of a language tag with a country (BCP 47), such as
// en-GB or de-CH; ok is false for any other text.
func For(tag string) (n units.Notation, ok bool) {
	t, err := language.Parse(tag)
	if err != nil {
		return nil, false
	}
	return of(t)
}

// of returns the notation of a tag that names its country.
func of(t language.Tag) (units.Notation, bool) {
	base, _ := t.Base()
	region, sure := t.Region()
	if sure < language.High || !region.IsCountry() {
		return nil, false
	}

	tag := base.String() + "-" + region.String()
	if n, ok := made.Load(tag); ok {
		return n.(*country), true
	}

	n := newCountry(tag, region.String())
	made.Store(tag, n)
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

	if slices.Contains(twelveHour, region) {
		n.clock = "3:04 pm"
	}

	// The library has no way to ask for the signs: they are taken from a sample such as
	// 1.234.567,5.
	sample := n.printer.Sprint(number.Decimal(1234567.5, number.Scale(1)))
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

// OfReader returns the notation of a person on a page: that of the chosen tag, else that
// of the browser's Accept-Language header; nil if neither names a country.
func OfReader(chosen, accepts string) units.Notation {
	if n, ok := For(chosen); ok {
		return n
	}
	return Accepted(accepts)
}

// OfPlace returns the notation of a jurisdiction such as US-CA or DE, in the language
// most written there; nil if it is in no country.
func OfPlace(jurisdiction string) units.Notation {
	country, _, _ := strings.Cut(jurisdiction, "-")
	region, err := language.ParseRegion(country)
	if err != nil {
		return nil
	}

	// The tag of a region alone has the language most written there as its base.
	t, err := language.Compose(language.Und, region)
	if err != nil {
		return nil
	}
	base, _ := t.Base()
	if t, err = language.Compose(base, region); err != nil {
		return nil
	}

	n, _ := of(t)
	return n
}

// Tag returns the language tag of the notation.
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

// Plain returns typed with its numerals written with a decimal point and without signs
// between thousands. Where the country's decimal sign is a comma, a point that cannot
// separate thousands is read as a decimal sign too.
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

// spaces replaces the several signs for a space or an apostrophe between thousands by
// one each.
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

// plainNumeral returns s with a decimal point and without signs between thousands; s as
// it is if it is no numeral of the country, where a decimal point is understood anyway.
func (n *country) plainNumeral(s string) string {
	whole, decimals, hasDecimals := strings.Cut(spaces.Replace(s), n.decimal)
	groups := strings.Split(whole, spaces.Replace(n.group))
	if !areThousands(groups) || !onlyDigits(decimals) || hasDecimals && decimals == "" {
		return s
	}

	plain := strings.Join(groups, "")
	if hasDecimals {
		plain += "." + decimals
	}
	return plain
}

// areThousands reports whether groups are the digits of one whole number: one group of
// any length, or a first one of 1 to 3 digits without a leading zero, middle ones of 3,
// or 2 as in India, and a last one of 3.
func areThousands(groups []string) bool {
	if slices.ContainsFunc(groups, func(g string) bool { return !onlyDigits(g) }) {
		return false
	}
	if len(groups) == 1 {
		return true
	}

	first, middle, last := groups[0], groups[1:len(groups)-1], groups[len(groups)-1]
	if first == "" || len(first) > 3 || first[0] == '0' || len(last) != 3 {
		return false
	}
	return !slices.ContainsFunc(middle, func(g string) bool { return len(g) != 3 && len(g) != 2 })
}

func onlyDigits(s string) bool { return strings.Trim(s, "0123456789") == "" }
