package yard_test

import (
	"bytes"
	"image/png"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// TestLabelsAreRead photographs each code of the sheet of labels as Chromium
// draws it, light and dark, and has a QR reader that shares nothing with the
// writer (gozxing) read it: it leads to the inspection of the vehicle beside it.
func TestLabelsAreRead(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)

	addresses := map[string]string{"T-101": "/vehicles/" + string(y.Vehicle.ID) + "/inspect"}
	for _, number := range []string{"X 7/B", "Ø-12"} {
		v := y.Vehicle
		v.ID, v.Number, v.Version = modeltest.NewID[models.VehicleID](), number, 0
		modeltest.Must(y.Fleet.CreateVehicle(t.Context(), y.System, v))(t)
		addresses[number] = "/vehicles/" + string(v.ID) + "/inspect"
	}

	y.AddPerson("odd@fleet.example")
	b := webtest.NewBrowser(t, time.Minute)
	b.SignIn(t, y.Server.URL, "odd@fleet.example", webtest.Password)

	for _, s := range webtest.Screens {
		b.Look(t, s)
		b.Run(t, "labels", chromedp.Navigate(y.Server.URL+"/labels"), chromedp.WaitVisible(chromedp.CSS(".labels .qr")))

		numbers := webtest.Ask(
			t,
			b,
			"numbers",
			chromedp.Evaluate[[]string](
				`[...document.querySelectorAll(".labels li")].map((l, i) => { l.id = "label" + i; return l.querySelector("b").textContent.trim(); })`,
			),
		)
		if len(numbers) != len(addresses) {
			t.Fatalf("%d labels, want %d", len(numbers), len(addresses))
		}

		for i, number := range numbers {
			shot := webtest.Ask(
				t,
				b,
				"photo of "+number,
				chromedp.Screenshot(chromedp.CSS("#label"+string(rune('0'+i))+" .qr")),
			)

			picture := modeltest.Must(png.Decode(bytes.NewReader(shot)))(t)
			dots := modeltest.Must(gozxing.NewBinaryBitmapFromImage(picture))(t)
			read, err := qrcode.NewQRCodeReader().Decode(dots, nil)
			if err != nil {
				t.Fatalf("label of %s on %s cannot be read: %v", number, s.Name, err)
			}
			if want := y.Server.URL + addresses[number]; read.GetText() != want {
				t.Errorf("label of %s on %s leads to %s, want %s", number, s.Name, read.GetText(), want)
			}
		}
	}
}
