package models

import "time"

// MaxPhotos is how many photos one reading may have.
const MaxPhotos = 4

// Photo is a picture taken at an inspection, which a reading names. It is kept
// as JPEG, encoded anew, so that nothing the camera noted beside it remains.
type Photo struct {
	ID            PhotoID
	VehicleID     VehicleID
	Width, Height int // pixels
	At            time.Time
	By            UserID // who recorded it
	Data          []byte // JPEG
}
