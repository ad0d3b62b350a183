package fleet_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// shot is a JPEG as a camera writes it: with a block of notes (Exif, in the
// second marker of the file, as JEITA CP-3451 puts it) that hold a place.
func shot(t *testing.T, width, height int) []byte {
	t.Helper()
	picture := image.NewRGBA(image.Rect(0, 0, width, height))
	for x := range width {
		picture.Set(x, height/2, color.RGBA{200, 40, 10, 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture, nil); err != nil {
		t.Fatal(err)
	}
	notes := append([]byte("Exif\x00\x00"), "GPS 59.9N 10.7E, invented camera"...)
	block := append([]byte{0xff, 0xe1, 0, byte(len(notes) + 2)}, notes...)
	return append(append(bytes.Clone(b.Bytes()[:2]), block...), b.Bytes()[2:]...)
}

func TestPhotoLosesItsNotes(t *testing.T) {
	w := newWorld(t)
	sent := models.Photo{ID: newID[models.PhotoID](), VehicleID: w.vehicle.ID, Data: shot(t, 64, 48)}
	if !bytes.Contains(sent.Data, []byte("GPS")) {
		t.Fatal("the test's own picture has no notes")
	}
	must(w.fleet.AddPhoto(w.ctx, w.boss, sent))(t)
	must(w.fleet.AddPhoto(w.ctx, w.boss, sent))(t) // sent twice makes one
	other := sent
	other.Data = shot(t, 32, 32)
	_, err := w.fleet.AddPhoto(w.ctx, w.boss, other)

	wantKind(t, err, models.Conflict)

	kept := must(w.fleet.Photo(w.ctx, w.boss, sent.ID))(t)
	if bytes.Contains(kept.Data, []byte("Exif")) || bytes.Contains(kept.Data, []byte("GPS")) {
		t.Error("the kept picture still holds what the camera noted")
	}
	if c := must(jpeg.DecodeConfig(bytes.NewReader(kept.Data)))(t); c.Width != 64 || c.Height != 48 {
		t.Errorf("the kept picture is %d by %d, want 64 by 48", c.Width, c.Height)
	}

	w.after(48 * time.Hour)
	e := w.inspection("200,100 mi", all("19/32"))
	e.Readings[0].Photos = []models.PhotoID{sent.ID}
	w.record(e)
	e = w.inspection("200,100 mi", all("14/32"))
	e.Readings[0].Photos = []models.PhotoID{newID[models.PhotoID]()}
	_, err = w.fleet.Record(w.ctx, w.boss, e)

	if f := wantKind(t, err, models.Invalid); f.Fields[0].Name != "readings[0].photos[0]" {
		t.Errorf("a photo that is not there is refused at %s", f.Fields[0].Name)
	}
}

func TestPhotoRefusals(t *testing.T) {
	w := newWorld(t)
	var large bytes.Buffer
	if err := png.Encode(&large, image.NewGray(image.Rect(0, 0, 2049, 10))); err != nil {
		t.Fatal(err)
	}

	cut := shot(t, 640, 480)
	for name, data := range map[string][]byte{"no picture": []byte("<svg onload=x>"), "empty": nil, "too long a side": large.Bytes(),
		"cut off": cut[:len(cut)/2], "too many bytes": append(shot(t, 8, 8), make([]byte, 700_000)...)} {
		_, err := w.fleet.AddPhoto(
			w.ctx,
			w.boss,
			models.Photo{ID: newID[models.PhotoID](), VehicleID: w.vehicle.ID, Data: data},
		)
		if f := wantKind(t, err, models.Invalid); f.Fields[0].Name != "data" {
			t.Errorf("%s: refused at %s, want data", name, f.Fields[0].Name)
		}
	}

	sent := models.Photo{ID: newID[models.PhotoID](), VehicleID: w.vehicle.ID, Data: shot(t, 8, 8)}
	viewer := fleet.Actor{User: models.User{ID: newID[models.UserID](), Role: models.Viewer}}
	_, err := w.fleet.AddPhoto(w.ctx, viewer, sent)
	wantKind(t, err, models.Forbidden)
	must(w.fleet.AddPhoto(w.ctx, w.boss, sent))(t)

	elsewhere := fleet.Actor{
		User: models.User{
			ID:     newID[models.UserID](),
			Role:   models.Viewer,
			Depots: []models.DepotID{newID[models.DepotID]()},
		},
	}

	_, err = w.fleet.Photo(w.ctx, elsewhere, sent.ID)
	wantKind(t, err, models.NotFound)
}
