package rest

import (
	"context"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"rimledger/models"
	"rimledger/models/fleet"
)

// Photo is a picture of a vehicle, for a reading to name.
type Photo struct {
	ID        string    `json:"id,omitempty"     format:"uuid" doc:"Made by whoever takes the picture (UUIDv7); the server makes one if it is left out."`
	VehicleID string    `json:"vehicle_id"       format:"uuid"`
	Data      []byte    `json:"data,omitempty"                 doc:"JPEG or PNG in base64, at most 700,000 bytes and 2048 pixels on its longest side. Turn it upright first: what the camera noted is dropped." required:"true"`
	Width     int       `json:"width,omitempty"                doc:"Pixels."                                                                                                                                                     readOnly:"true"`
	Height    int       `json:"height,omitempty"               doc:"Pixels."                                                                                                                                                     readOnly:"true"`
	At        time.Time `json:"at,omitzero"                    doc:"When the server took it."                                                                                                                   required:"false" readOnly:"true"`
	By        string    `json:"by,omitempty"                                                                                                                                                                                     readOnly:"true"`
}

// pictureOut is a photo itself.
type pictureOut struct {
	ContentType  string `header:"Content-Type"`
	CacheControl string `header:"Cache-Control"`
	Body         []byte
}

func (s *server) registerPhotos() {
	const tag = "Photos"
	register(
		s,
		post(
			"/photos",
			tag,
			"Add a photo",
			"Of a vehicle; an inspection that is sent after it names it in a reading. Only its pixels are kept, as "+
				"JPEG. The same id and content again gives the first answer.",
		),
		func(ctx context.Context, a fleet.Actor, in *bodyIn[Photo]) (*struct{ Body Photo }, error) {
			p, err := s.Fleet.AddPhoto(
				ctx,
				a,
				models.Photo{
					ID:        models.PhotoID(idOrNew(in.Body.ID)),
					VehicleID: models.VehicleID(in.Body.VehicleID),
					Data:      in.Body.Data,
				},
			)
			if err != nil {
				return nil, err
			}

			return &struct{ Body Photo }{
				Photo{
					ID:        string(p.ID),
					VehicleID: string(p.VehicleID),
					Width:     p.Width,
					Height:    p.Height,
					At:        p.At,
					By:        string(p.By),
				},
			}, nil
		},
	)

	o := get("/photos/{id}", tag, "Get a photo", "The picture itself.")
	o.Responses = map[string]*huma.Response{
		"200": {
			Description: "The picture",
			Content: map[string]*huma.MediaType{
				"image/jpeg": {Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}},
			},
		},
	}

	register(s, o, func(ctx context.Context, a fleet.Actor, in *struct {
		ID string `path:"id" format:"uuid"`
	}) (*pictureOut, error) {
		p, err := s.Fleet.Photo(ctx, a, models.PhotoID(in.ID))
		if err != nil {
			return nil, err
		}
		return &pictureOut{"image/jpeg", "private, max-age=86400, immutable", p.Data}, nil
	})
}
