package work

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"rimledger/api/web/say"
)

// tradeWords are words of the trade that somebody new to it does not know (from
// memory, common practice); what of them stands on a page is in the glossary.
var tradeWords = []string{
	"adhesive",
	"alignment",
	"attention list",
	"balance weight",
	"bead",
	"bulge",
	"camber",
	"caster",
	"casing",
	"center bore",
	"check spin",
	"clip",
	"cord",
	"couple",
	"cupping",
	"damper",
	"depot",
	"digest",
	"drive axle",
	"dual",
	"erosion",
	"feather",
	"finding",
	"fitment",
	"flange",
	"flat spot",
	"free-rolling axle",
	"gauge",
	"groove",
	"heel and toe",
	"imbalance",
	"kingpin",
	"legal minimum",
	"lifting axle",
	"match mounting",
	"odometer",
	"off the road",
	"parking row",
	"policy",
	"pull point",
	"re-torque",
	"regroove",
	"residual",
	"retread",
	"rib",
	"rim",
	"rotate",
	"run flat",
	"run-out",
	"seated",
	"segment",
	"separation",
	"shoulder",
	"sidewall",
	"spoke",
	"static",
	"station",
	"steer axle",
	"thrust",
	"TIN",
	"toe",
	"torque",
	"tread bar",
	"tread depth",
	"unrolled",
	"valve",
	"wear bar",
}

// TestGlossary looks for each of these words on the pages, and in the glossary.
func TestGlossary(t *testing.T) {
	t.Parallel()
	var pages, glossary strings.Builder
	files, err := filepath.Glob("../*/templates/*.html") // of every room
	if err != nil {
		t.Fatal(err)
	}

	for _, f := range files {
		if filepath.Base(f) == "page_help.html" {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		pages.Write(b)
	}

	for _, e := range say.Explanations {
		pages.WriteString(e + "\n")
	}

	for _, n := range say.ObservationNames {
		pages.WriteString(n + "\n")
	}

	for _, w := range works {
		pages.WriteString(w.Title + " " + w.Intro + "\n")
	}

	for _, x := range say.Terms {
		glossary.WriteString(x.Word + ": " + x.Meaning + "\n")
	}

	on := func(text, word string) bool {
		return regexp.MustCompile(`(?i)\b` + regexp.QuoteMeta(word)).MatchString(text)
	}

	found := 0
	for _, w := range tradeWords {
		if !on(pages.String(), w) {
			continue
		}
		found++
		if !on(glossary.String(), w) {
			t.Errorf("%q stands on a page and not in the glossary", w)
		}
	}

	if found < 40 {
		t.Errorf("only %d of the words stand on a page; were they renamed?", found)
	}
}
