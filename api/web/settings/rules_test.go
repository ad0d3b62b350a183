package settings_test

import (
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"golang.org/x/net/html"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// address is what an address of the web looks like.
var address = regexp.MustCompile(`(?i)https?:|www\.|\b[a-z0-9-]+\.(com|org|net|info|online|co\.[a-z]{2}|[a-z]{2})\b`)

// Every rule stands under each law that holds it, with all it says; the laws of
// the depots come first and are open. A rule names its statute, when it was read and how
// sure that is, never somebody's page on the web. Germany's depth is that of StVZO § 36(3).
func TestRulesByLaw(t *testing.T) {
	t.Parallel()

	y := webtest.NewWorld(t) // its depot is in the US
	modeltest.Must(
		y.Fleet.CreateDepot(
			t.Context(),
			y.System,
			models.Depot{
				ID:           modeltest.NewID[models.DepotID](),
				Name:         "Birk Yard",
				TimeZone:     "Europe/Berlin",
				Jurisdiction: "DE",
				Units:        units.Metric,
				Currency:     "EUR",
			},
		),
	)(
		t,
	)

	a := y.SignedIn("mara@fleet.example").Get("/settings/rules")
	a.Wants(t, http.StatusOK)
	page := modeltest.Must(html.Parse(strings.NewReader(a.Body)))(t)
	var laws, open, links []string

	rows := map[string]string{} // law -> what its rows say
	for n := range page.Descendants() {
		switch {
		case n.Data == "a" && strings.HasPrefix(webtest.Attr(n, "href"), "#law-"):
			links = append(links, strings.TrimPrefix(webtest.Attr(n, "href"), "#law-"))
		case n.Data == "details":
			for in := range n.Descendants() {
				if code, found := strings.CutPrefix(webtest.Attr(in, "id"), "law-"); found {
					laws = append(laws, code)
					rows[code] = webtest.Text(in)
					if webtest.Has(n, "open") {
						open = append(open, code)
					}
				}
			}
		}
	}

	for code, says := range rows {
		if found := address.FindString(says); found != "" {
			t.Errorf("the rules of %s name the address %q", code, found)
		}
	}
	for _, says := range []string{"StVZO § 36(3)", "read in a public text"} {
		if !strings.Contains(rows["DE"], says) {
			t.Errorf("the rules of Germany do not say %q", says)
		}
	}

	for code, says := range map[string]string{"AT": "winter tires on at least one drive axle, 1 November to 15 April",
		"GB": "no lump, bulge or tear from separation", "FR": "may differ by at most 5 mm"} {
		if !strings.Contains(rows[code], says) {
			t.Errorf("the rules of %s do not say %q", code, says)
		}
	}

	// Germany's depot is held to the union's rules, too.
	if want := []string{"DE", "EU", "US"}; !slices.Equal(open, want) || !slices.Equal(laws[:3], want) {
		t.Errorf("open are %v and first come %v, want %v", open, laws[:3], want)
	}

	slices.Sort(laws)
	slices.Sort(links)
	if !slices.Equal(laws, legal.Codes()) || !slices.Equal(links, legal.Codes()) {
		t.Errorf("laws %v, links %v, want one of each of %v", laws, links, legal.Codes())
	}

	for _, r := range legal.All() {
		for _, code := range r.Jurisdictions {
			for _, says := range []string{r.MinText, r.Text, r.Band, r.Citation, r.Source, r.Read,
				r.Status.Words()} {
				if !strings.Contains(rows[code], strings.TrimSpace(says)) {
					t.Errorf("%s: under %s the page does not say %q", r.ID, code, says)
				}
			}
		}
	}
}

// A link opens the law it leads to, a key opens and folds it, and on paper all are open.
func TestRulesFold(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("mara@fleet.example")
	b := webtest.NewBrowser(t, time.Minute)
	b.SignIn(t, y.Server.URL, "mara@fleet.example", webtest.Password)

	modeltest.Must(
		chromedp.Call(
			b,
			emulation.SetDeviceMetricsOverride,
			emulation.SetDeviceMetricsOverrideParams{Width: 360, Height: 740, DeviceScaleFactor: 1, Mobile: true},
		),
	)(
		t,
	)

	b.Run(t, "open", chromedp.Navigate(y.Server.URL+"/settings/rules"), chromedp.WaitVisible(chromedp.CSS("footer")))
	high := webtest.Ask(t, b, "height", chromedp.Evaluate[int]("document.documentElement.scrollHeight"))
	if high > 9000 {
		t.Errorf("the page is %d px high on a phone", high)
	}

	isOpen := func() bool {
		return webtest.Ask(
			t,
			b,
			"open?",
			chromedp.Evaluate[bool](`document.getElementById("law-DE").closest("details").open`),
		)
	}
	if isOpen() {
		t.Error("Germany is open, though no depot is there")
	}

	b.Run(t, "follow the link", chromedp.Focus(chromedp.CSS(`a[href="#law-DE"]`)), chromedp.KeyEvent("\r"))
	if !isOpen() {
		t.Error("the link did not open Germany")
	}

	b.Run(
		t,
		"fold",
		chromedp.Evaluate[chromedp.Void](
			`document.getElementById("law-DE").closest("details").querySelector("summary").focus()`,
		),
		chromedp.KeyEvent("\r"),
	)

	if isOpen() {
		t.Error("the key did not fold Germany")
	}

	modeltest.Must(chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}))(t)
	if hidden := webtest.Ask(t, b, "print", chromedp.Evaluate[[]string](`[...document.querySelectorAll(".lawgroup .scroll")].filter((e) => !e.checkVisibility({contentVisibilityAuto: true}) || e.offsetHeight < 20).map((e) => e.id)`)); len(
		hidden,
	) > 0 {
		t.Errorf("on paper these are folded: %v", hidden)
	}
}
