package webtest

import (
	_ "embed"
	"encoding/json"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"rimledger/models/modeltest"
)

// Screen is what a page is looked at on.
type Screen struct {
	Name          string
	Width, height int64
	scheme        string
}

// Screens are those that every page is looked at on.
var Screens = []Screen{
	{"phone", 360, 740, "light"},
	{"phone-dark", 360, 740, "dark"},
	{"desk", 1280, 900, "light"},
	{"desk-dark", 1280, 900, "dark"},
}

// Look sets the screen.
func (b *Browser) Look(t testing.TB, s Screen) {
	t.Helper()

	scheme := &emulation.MediaFeature{Name: "prefers-color-scheme", Value: s.scheme}
	media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{scheme}}
	modeltest.Must(chromedp.Call(b, emulation.SetEmulatedMedia, media))(t)
	b.Run(t, s.Name, chromedp.EmulateViewport(s.Width, s.height))
}

// violation is what axe-core says of a page.
type violation struct {
	ID, Help string
	Nodes    []struct {
		HTML           string
		FailureSummary string
	}
}

//go:embed testdata/axe-core-4.14.1.min.js
var axe string

// Accessible has axe-core look at the page as it is now, on every screen. Its
// complaints begin with where.
func (b *Browser) Accessible(t testing.TB, where string) {
	t.Helper()
	b.Run(t, where, chromedp.Evaluate[chromedp.Void](axe+"; undefined"))

	for _, s := range Screens {
		b.Look(t, s)

		found := Ask(
			t,
			b,
			where,
			chromedp.Evaluate[string](
				`axe.run(document, { resultTypes: ["violations"] }).then((r) => JSON.stringify(r.violations))`,
				chromedp.EvalAwaitPromise,
			),
		)

		var list []violation
		if err := json.Unmarshal([]byte(found), &list); err != nil {
			t.Fatal(err)
		}

		for _, v := range list {
			t.Errorf(
				"%s on %s: %s: %s, %d times, first %.300s\n%s",
				where,
				s.Name,
				v.ID,
				v.Help,
				len(v.Nodes),
				v.Nodes[0].HTML,
				v.Nodes[0].FailureSummary,
			)
		}
	}
}
