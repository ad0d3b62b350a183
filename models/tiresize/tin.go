package tiresize

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Week is the week in which a tire was made, by its identification number.
type Week struct {
	Week int
	Year int // full year; for the old three-digit code the last digit only
	// OldCode marks the three-digit code of before 2000, which has no decade: the
	// tire is older than any limit of age.
	OldCode bool
	// Ambiguous marks a four-digit code that was not written apart, at the end of a number
	// so short that its last three digits could also be an old code: OldWeek and OldYear
	// are then that code's.
	Ambiguous        bool
	OldWeek, OldYear int // OldYear is a last digit
	// Retread marks the short number of a retreader: the tread, not the casing,
	// was made in this week.
	Retread bool
}

// String returns the week in words, such as "week 36 of 2013".
func (w Week) String() string {
	if w.OldCode {
		return fmt.Sprintf("week %d of a year before 2000 that ends in %d", w.Week, w.Year)
	}
	return fmt.Sprintf("week %d of %d", w.Week, w.Year)
}

// Older returns what the last three digits of an ambiguous week say: a code of before 2000.
func (w Week) Older() Week { return Week{Week: w.OldWeek, Year: w.OldYear, OldCode: true} }

// Starts returns the Sunday that the week begins with, in UTC: weeks run from
// Sunday to Saturday and week 1 is the first full one of the year (49 CFR
// 574.5; from memory). ok is false for an old code, whose year is not known.
func (w Week) Starts() (sunday time.Time, ok bool) {
	if w.OldCode {
		return time.Time{}, false
	}

	first := time.Date(w.Year, time.January, 1, 0, 0, 0, 0, time.UTC)
	return first.AddDate(0, 0, (7-int(first.Weekday()))%7+7*(w.Week-1)), true
}

// Reasons for which an identification number is refused.
var (
	ErrTINLength  = errors.New("a tire identification number has 7 to 13 letters and digits, such as DOT B9JA XK2 3613")
	ErrTINSymbols = errors.New(
		"a tire identification number has only the letters A B C D E F H J K L M N P R T U V W X Y and digits",
	)
	ErrTINWeek   = errors.New("the week of manufacture must be 01 to 53")
	ErrTINDate   = errors.New("the number does not end in a date of manufacture")
	ErrTINFuture = errors.New("the last four digits are a week and year that are yet to come; read them again")
)

// ParseTIN reads the week of manufacture from a tire identification number
// (49 CFR 574.5: 13 symbols, 7 on retreads, 8 to 12 on older tires), with or
// without DOT, in any spacing and letter case, as of a time.
//
// The last four digits are week and year, unless the last group is written apart with
// three: it is then the code of before 2000. In a number written without groups the last
// three digits are that code if the fourth last is a letter, or if the four would be a
// week that is yet to come; where both can be, the week is Ambiguous. A number of 12 symbols
// has a four-digit code: before 2000 there were at most 11 (from memory). A fourth
// digit that makes no week is refused: it is far more often a slip than a tire that old.
// The error wraps one of this package's reasons.
func ParseTIN(text string, now time.Time) (Week, error) {
	groups := strings.FieldsFunc(strings.ToUpper(text), func(r rune) bool { return r == ' ' || r == '-' })
	s := strings.TrimPrefix(strings.Join(groups, ""), "DOT")
	if len(s) < 7 || len(s) > 13 {
		return Week{}, ErrTINLength
	}
	if strings.Trim(s, "ABCDEFHJKLMNPRTUVWXY0123456789") != "" || strings.ContainsAny(s, "GIOQSZ") {
		return Week{}, ErrTINSymbols
	}

	return readDate(s, len(groups[len(groups)-1]), now)
}

// readDate reads the end of a number without spaces, whose last group was written with so
// many symbols.
func readDate(s string, last int, now time.Time) (Week, error) {
	older := len(s) >= 8 && len(s) <= 12
	four, isFour := digits(s[len(s)-4:])
	three, isThree := digits(s[len(s)-3:])
	switch {
	case isFour && !(last == 3 && older):
		w := Week{Week: four / 100, Year: fullYear(four % 100), Retread: len(s) == 7}
		mayBeOld := older && len(s) < 12 && last != 4 && isWeek(three/10)
		return w.resolve(three, mayBeOld, now)
	case !isThree || !older:
		return Week{}, ErrTINDate
	case !isWeek(three / 10):
		return Week{}, ErrTINWeek
	}

	return oldWeek(three), nil
}

// oldWeek returns the week of a code of before 2000.
func oldWeek(three int) Week { return Week{Week: three / 10, Year: three % 10, OldCode: true} }

// resolve checks the week of a four-digit code, whose last three digits may be an old
// code. Makers count weeks in more than one way: up to a week ahead is not yet to come.
func (w Week) resolve(three int, mayBeOld bool, now time.Time) (Week, error) {
	if !isWeek(w.Week) {
		return Week{}, ErrTINWeek
	}

	starts, _ := w.Starts()
	switch future := starts.After(now.AddDate(0, 0, 7)); {
	case future && mayBeOld:
		return oldWeek(three), nil
	case future:
		return Week{}, ErrTINFuture
	case mayBeOld:
		w.Ambiguous, w.OldWeek, w.OldYear = true, three/10, three%10
	}
	return w, nil
}

// digits returns s as a number; false if it has anything but digits.
func digits(s string) (int, bool) {
	n, err := strconv.ParseUint(s, 10, 32) // takes no sign
	return int(n), err == nil
}

func isWeek(n int) bool { return n >= 1 && n <= 53 }

// fullYear returns the year of two digits, from 1990 on: four-digit codes began in the
// late 1990s.
func fullYear(two int) int {
	if two >= 90 {
		return 1900 + two
	}
	return 2000 + two
}
