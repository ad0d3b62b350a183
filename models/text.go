package models

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// CleanText reports why s cannot be kept as text, or "": it must be UTF-8
// without control characters (line breaks and tabs are allowed).
func CleanText(s string) string {
	if !utf8.ValidString(s) {
		return "must be UTF-8 text"
	}
	for _, r := range s {
		if unicode.IsControl(r) && r != '\n' && r != '\t' && r != '\r' {
			return fmt.Sprintf("must not contain the control character U+%04X", r)
		}
	}
	return ""
}

// Capitalize returns s with its first letter in upper case.
func Capitalize(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + s[size:]
}

// Sentence returns s without spaces at its ends, with its first letter in upper
// case and a full stop unless it ends a sentence already. An empty s stays empty.
func Sentence(s string) string {
	s = Capitalize(strings.TrimSpace(s))
	if s == "" || strings.ContainsRune(".!?", rune(s[len(s)-1])) {
		return s
	}
	return s + "."
}

// checkLine adds a fault unless s is one clean line of least to most characters.
func checkLine(f *Faults, name, s string, least, most int) {
	if why := CleanText(s); why != "" {
		f.Add(name, fmt.Sprintf("%q", s), "%s", why)
		return
	}

	n := utf8.RuneCountInString(s)
	switch {
	case least > 0 && strings.TrimSpace(s) == "":
		f.Add(name, s, "must not be empty")
	case n < least || n > most:
		f.Add(name, s, "must have %d to %d characters, has %d", least, most, n)
	case strings.ContainsAny(s, "\r\n"):
		f.Add(name, fmt.Sprintf("%q", s), "must be one line")
	case s != strings.TrimSpace(s):
		f.Add(name, fmt.Sprintf("%q", s), "must not begin or end with spaces")
	}
}
