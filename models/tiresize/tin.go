package tiresize

import (
	"errors"
	"strconv"
	"strings"
)

// Week is the week in which a tire was made, as its identification number says.
type Week struct {
	Week int
	Year int // full year; for the old three-digit code the last digit only
	// OldCode marks the three-digit code of before 2000, whose decade is not
	// said: the tire is older than any limit of age.
	OldCode bool
}

// Reasons for which an identification number is refused.
var (
	ErrTINLength  = errors.New("a tire identification number has 7 to 13 letters and digits, such as DOT B9JA XK2 3613")
	ErrTINSymbols = errors.New("a tire identification number has only the letters A B C D E F H J K L M N P R T U V W X Y and digits")
	ErrTINWeek    = errors.New("the week of manufacture must be 01 to 53")
	ErrTINDate    = errors.New("the number does not end in a date of manufacture")
)

// ParseTIN reads the week of manufacture from a tire identification number
// (49 CFR 574.5: 13 symbols, 7 on retreads, up to 12 on older tires). The last
// four digits are week and year; three, the code of before 2000.
func ParseTIN(text string) (Week, error) {
	s := strings.ToUpper(strings.Join(strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '-' }), ""))
	s = strings.TrimPrefix(s, "DOT")
	if len(s) < 7 || len(s) > 13 {
		return Week{}, ErrTINLength
	}
	if strings.Trim(s, "ABCDEFHJKLMNPRTUVWXY0123456789") != "" || strings.ContainsAny(s, "GIOQSZ") {
		return Week{}, ErrTINSymbols
	}
	if last, err := strconv.Atoi(s[len(s)-4:]); err == nil && last >= 0 {
		if w := last / 100; w >= 1 && w <= 53 {
			return Week{Week: w, Year: fullYear(last % 100)}, nil
		}
		return Week{}, ErrTINWeek
	}
	last, err := strconv.Atoi(s[len(s)-3:])
	if err != nil || last < 0 {
		return Week{}, ErrTINDate
	}
	if w := last / 10; w < 1 || w > 53 {
		return Week{}, ErrTINWeek
	}
	return Week{Week: last / 10, Year: last % 10, OldCode: true}, nil
}

// fullYear reads two digits as 2000 to 2099: the four-digit code came with 2000.
func fullYear(two int) int { return 2000 + two }

// AgeYears returns the age on a day of a year (1 to 366) in full and parts of
// years, to about a week. An old code counts as made at the end of 1999.
func (w Week) AgeYears(year, day int) float64 {
	if w.OldCode {
		return float64(year-2000) + float64(day-1)/365.25
	}
	return float64(year-w.Year) + (float64(day-1)-7*float64(w.Week-1))/365.25
}
