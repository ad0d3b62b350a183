package bench_test

import (
	"net/http"
	"strings"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models"
)

// TestMassWithoutAngle: a weight that is nowhere is refused beside its angle, whether it was
// shown, fitted or taken off, and in every sum; it was read as 0 degrees before. A weight of
// nothing needs no angle.
func TestMassWithoutAngle(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	path := "/vehicles/" + string(y.Vehicle.ID) + "/bench/1L"

	for field, with := range map[string][]string{
		"shown.outer.angle":  {"shown.outer.angle", ""},
		"shown.inner.angle":  {"shown.inner.angle", "", "shown.inner.mass", "0", "shown.inner.unrounded", "3 g"},
		"after.inner.angle":  {"after.outer.mass", "0", "after.inner.mass", "5 g"},
		"fitted.1.angle":     {"fitted.1.mass", "25 g", "fitted.1.plane", "inner"},
		"removed.0.angle":    {"removed.0.mass", "25 g", "removed.0.plane", "outer", "removed.0.type", "clip"},
		"after.single.angle": {"after.single.mass", "25 g"},
	} {
		a := p.Post(
			path,
			benchSheet(append([]string{"do", "save", "fitted.0.mass", "0", "fitted.0.plane", "outer"}, with...)...),
		)
		if a.Status != http.StatusUnprocessableEntity || !strings.Contains(a.Body, `href="#`+field+`"`) ||
			!strings.Contains(a.Body, "empty: write where") {
			t.Errorf("%s: %d, and no fault beside it", field, a.Status)
		}
	}

	a := p.Post(path, benchSheet("do", "save", "check_spin", "1", "shown.outer.mass", "0", "shown.outer.angle", "",
		"shown.inner.mass", "0", "shown.inner.angle", ""))
	if a.Status != http.StatusSeeOther {
		t.Errorf("nothing asked for, nowhere: %d", a.Status)
	}
	events, _, err := y.Fleet.Events(t.Context(), y.System,
		models.EventFilter{VehicleID: y.Vehicle.ID, Kinds: []models.EventKind{models.KindBalance}}, models.Page{})
	if err != nil || len(events) != 1 {
		t.Errorf("%d jobs recorded, %v; want the one of nothing", len(events), err)
	}

	for _, query := range []string{
		"sum=index&radius=285&apart=200&turn=180&first.outer.mass=10+oz",
		"sum=center&radius=285&apart=200&second.inner.mass=1+oz",
		"sum=planes&from.outer.radius=200&from.inner.radius=200&from.inner.depth=200&to.outer.radius=200&to.inner.radius=200&to.inner.depth=90&outer.mass=9+g",
		"sum=lost&rim=285&lost=60+g",
		"sum=half&from=valve&first=20&outside=510",
		"sum=trial&asis.0.amount=6&run.0.mass=50+g&run.0.deg=0&run.0.0.amount=8&run.0.0.deg=9",
		"sum=trial&asis.0.amount=6&asis.0.deg=1&run.0.mass=50+g&run.0.0.amount=8&run.0.0.deg=9",
		"sum=positions&asis=5&mass=30+g&at.1=0&read.1=5.831&at.2=120&read.2=7.745&read.3=2.832",
	} {
		a := p.Get("/bench?" + query)
		if !strings.Contains(a.Body, "Not worked out") || !strings.Contains(a.Body, "empty: write where") {
			t.Errorf("%s: the missing angle is not named", query)
		}
	}
}

// TestCenteringSum: by hand, 40 g and then 20 g at the same angle are 30 g of the wheel and
// 10 g of the clamping.
func TestCenteringSum(t *testing.T) {
	t.Parallel()
	p := webtest.NewWorld(t).SignedIn("odd@fleet.example")
	p.Get("/bench?sum=center&radius=285&apart=200&first.outer.mass=40+g&first.outer.angle=30&first.inner.mass=0"+
		"&second.outer.mass=20+g&second.outer.angle=30&second.inner.mass=0").
		Wants(t, http.StatusOK, "The wheel itself asks for: outer 1.06 oz (30 g) at 30°, inner nothing",
			"The clamping adds: outer 0.35 oz (10 g) at 30°, inner nothing")
}

// TestWhatAShopTypesOnThePage: the clock and the distance along the rim are positions, and
// fractions are masses. By hand: 4:30 is 135 degrees, and 223.838 mm on a radius of 285 mm
// are 45 degrees.
func TestWhatAShopTypesOnThePage(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	path := "/vehicles/" + string(y.Vehicle.ID) + "/bench/1L"

	a := p.Post(path, benchSheet("do", "save", "check_spin", "1",
		"shown.outer.mass", "1 1/4 oz", "shown.outer.angle", "4:30",
		"shown.inner.mass", "1¼", "shown.inner.angle", "223.838 mm"))
	if a.Status != http.StatusSeeOther {
		t.Fatalf("%d: %s", a.Status, a.Body)
	}
	p.Get(a.Location).
		Wants(t, http.StatusOK, "outer plane asks for 1 1/4 oz at 135°", "inner plane asks for 1¼ oz at 4")

	for field, with := range map[string][]string{
		"shown.outer.angle": {"shown.outer.angle", "13:00"},
		"shown.inner.mass":  {"shown.inner.mass", "1/3 oz"},
	} {
		a := p.Post(path, benchSheet(append([]string{"do", "work"}, with...)...))
		if !strings.Contains(a.Body, `href="#`+field+`"`) {
			t.Errorf("%v: no fault beside %s", with, field)
		}
	}
}
