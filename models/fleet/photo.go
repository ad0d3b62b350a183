package fleet

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	_ "image/png" // photos may come as PNG
	"time"

	"rimledger/models"
	"rimledger/models/access"
)

// Bounds on one photo as it is sent.
const (
	maxPhotoBytes = 700_000
	maxPhotoSide  = 2048 // pixels
)

// photoQuality is that of the JPEG that is kept, of 100.
const photoQuality = 80

// AddPhoto keeps a photo of a vehicle, for a reading to name. data is a JPEG or
// PNG; it is decoded and encoded anew, which drops what the camera noted beside
// the picture, the place above all. Repeating the same content returns the first
// answer.
func (s *Service) AddPhoto(ctx context.Context, a Actor, p models.Photo) (models.Photo, error) {
	if err := a.mayWrite(access.Record); err != nil { // before a picture is decoded
		return models.Photo{}, err
	}

	content := p // as it was sent, by which a repetition is known
	if err := encodeAnew(&p); err != nil {
		return models.Photo{}, err
	}

	err := s.writeAs(ctx, a, access.Record, references(p), func(tx models.Tx, now time.Time) error {
		before, err := s.claimID(ctx, tx, string(p.ID), content, now)
		if err != nil {
			return err
		}
		if before {
			p, err = tx.Photo(ctx, p.ID)
			return err
		}

		p.At, p.By = now, a.User.ID
		return tx.AddPhoto(ctx, p)
	})

	return p, err
}

// encodeAnew checks what was sent and replaces it by a JPEG of its pixels alone.
func encodeAnew(p *models.Photo) error {
	var f models.Faults
	if !models.ValidID(p.ID) {
		f.Add("id", string(p.ID), "must be a UUID in lower-case text")
	}
	size := fmt.Sprintf("%d bytes", len(p.Data))
	if len(p.Data) > maxPhotoBytes {
		f.Add("data", size, "must be at most %d bytes; make the picture smaller before it is sent", maxPhotoBytes)
		return f.Err("photo")
	}

	// The header gives the size, so that a huge picture is never decoded.
	c, _, err := image.DecodeConfig(bytes.NewReader(p.Data))
	switch {
	case err != nil:
		f.Add("data", size, "must be a JPEG or PNG picture")
	case c.Width > maxPhotoSide || c.Height > maxPhotoSide:
		f.Add(
			"data",
			fmt.Sprintf("%d by %d pixels", c.Width, c.Height),
			"must be at most %d pixels on its longest side",
			maxPhotoSide,
		)
	}

	if err := f.Err("photo"); err != nil {
		return err
	}

	picture, _, err := image.Decode(bytes.NewReader(p.Data))
	if err != nil {
		f.Add("data", size, "must be a whole JPEG or PNG picture; it may have been cut off on the way")
		return f.Err("photo")
	}

	// Encoding the pixels drops everything else that was in the file.
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture, &jpeg.Options{Quality: photoQuality}); err != nil {
		return fmt.Errorf("encode photo: %w", err)
	}

	p.Data, p.Width, p.Height = b.Bytes(), picture.Bounds().Dx(), picture.Bounds().Dy()
	return nil
}

// Photo returns a photo of a vehicle that a sees.
func (s *Service) Photo(ctx context.Context, a Actor, id models.PhotoID) (models.Photo, error) {
	return readAs(
		ctx,
		s,
		a,
		access.View,
		references(id),
		func(r models.Reader) (models.Photo, error) { return r.Photo(ctx, id) },
	)
}

// photos checks that the photos of an inspection are there and of its vehicle.
func (c *checker) photos(ctx context.Context, tx models.Tx, e *models.Inspection) error {
	for i, r := range e.Readings {
		at := fmt.Sprintf("readings[%d].photos", i)
		if len(r.Photos) > models.MaxPhotos {
			c.faults.Add(at, fmt.Sprint(len(r.Photos)), "must be at most %d", models.MaxPhotos)
			continue
		}

		for k, id := range r.Photos {
			p, err := tx.Photo(ctx, id)
			if err != nil && !errors.Is(err, models.NotFound) {
				return err
			}

			if err != nil || p.VehicleID != e.VehicleID {
				c.faults.Add(
					fmt.Sprintf("%s[%d]", at, k),
					string(id),
					"must be a photo of this vehicle that was sent before the inspection",
				)
			}
		}
	}

	return nil
}
