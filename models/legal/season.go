package legal

import "time"

// MonthDay is a day. Year matters only for seasons that end by Easter; a year of 0 gives
// them their latest end.
type MonthDay struct{ Year, Month, Day int }

// number orders the days of a year.
func (d MonthDay) number() int { return d.Month*100 + d.Day }

// plus returns the day n days after d.
func (d MonthDay) plus(n int) MonthDay {
	t := time.Date(d.Year, time.Month(d.Month), d.Day+n, 0, 0, 0, 0, time.UTC)
	return MonthDay{Year: t.Year(), Month: int(t.Month()), Day: t.Day()}
}

// Season is a part of the year from one day to another, both included.
type Season struct {
	From, To MonthDay
	// DaysAfterEaster, if above 0, ends the season so many days after Easter
	// Sunday of the year; To is then the latest possible end.
	DaysAfterEaster int
}

// Contains reports whether day d lies in s, which may span the new year.
func (s Season) Contains(d MonthDay) bool {
	from, to, n := s.From.number(), s.End(d.Year).number(), d.number()
	if from <= to {
		return from <= n && n <= to
	}
	return n >= from || n <= to
}

// End returns the last day of s that falls in a year.
func (s Season) End(year int) MonthDay {
	if s.DaysAfterEaster > 0 && year > 0 {
		return easter(year).plus(s.DaysAfterEaster)
	}
	return MonthDay{Year: year, Month: s.To.Month, Day: s.To.Day}
}

// latestEaster is the latest day Easter Sunday can fall on.
var latestEaster = MonthDay{Month: 4, Day: 25}

// easter returns Easter Sunday of a Gregorian year: the anonymous algorithm as
// in Meeus, Astronomical Algorithms, ch. 8.
func easter(year int) MonthDay {
	a, b, c := year%19, year/100, year%100
	d, e := b/4, b%4
	g := (8*b + 13) / 25
	h := (19*a + b - d - g + 15) % 30
	i, k := c/4, c%4
	l := (32 + 2*e + 2*i - h - k) % 7
	m := (a + 11*h + 19*l) / 433
	month := (h + l - 7*m + 90) / 25
	day := (h + l - 7*m + 33*month + 19) % 32
	return MonthDay{Year: year, Month: month, Day: day}
}
