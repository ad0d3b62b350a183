package web_test

import (
	"bytes"
	"image/png"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"rimledger/models"
)

// TestLabelsAreRead photographs each code of the sheet of labels as Chromium
// draws it, light and dark, and has a QR reader that shares nothing with the
// writer (gozxing) read it: it leads to the inspection of the vehicle beside it.
func TestLabelsAreRead(t *testing.T) {
	t.Parallel()
	y := newYard(t)

	addresses := map[string]string{"T-101": "/vehicles/" + string(y.vehicle.ID) + "/inspect"}
	for _, number := range []string{"X 7/B", "Ø-12"} {
		v := y.vehicle
		v.ID, v.Number, v.Version = newID[models.VehicleID](), number, 0
		must(y.fleet.CreateVehicle(t.Context(), y.system, v))(t)
		addresses[number] = "/vehicles/" + string(v.ID) + "/inspect"
	}

	y.addPerson("odd@fleet.example")
	b := newBrowser(t, time.Minute)
	b.signIn(t, y.server.URL, "odd@fleet.example", password)

	for _, s := range screens {
		b.look(t, s)
		b.run(t, "labels", chromedp.Navigate(y.server.URL+"/labels"), chromedp.WaitVisible(chromedp.CSS(".labels .qr")))

		numbers := ask(
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
			shot := ask(
				t,
				b,
				"photo of "+number,
				chromedp.Screenshot(chromedp.CSS("#label"+string(rune('0'+i))+" .qr")),
			)

			picture := must(png.Decode(bytes.NewReader(shot)))(t)
			dots := must(gozxing.NewBinaryBitmapFromImage(picture))(t)
			read, err := qrcode.NewQRCodeReader().Decode(dots, nil)
			if err != nil {
				t.Fatalf("label of %s on %s cannot be read: %v", number, s.name, err)
			}
			if want := y.server.URL + addresses[number]; read.GetText() != want {
				t.Errorf("label of %s on %s leads to %s, want %s", number, s.name, read.GetText(), want)
			}
		}
	}
}
