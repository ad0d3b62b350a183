package webtest

import (
	"net/url"
	"regexp"
)

// ForeignDay is a day as it is not written in Germany.
var ForeignDay = regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b|\b[A-Z][a-z]{2}[ \x{a0}]\d{1,2},[ \x{a0}]20\d\d\b`)

// German is what a person in Germany chooses in the settings.
var German = url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}, "notation": {"de-DE"}}
