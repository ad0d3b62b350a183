package yard

import (
	"fmt"
	"net/http"
	"strings"

	"rsc.io/qr"

	"rimledger/api/web/site"
	"rimledger/models"
)

// labelsPage is a sheet of labels for the vehicles of a depot: a code that a
// phone's camera opens the inspection with, and the unit number.
type labelsPage struct {
	Depots []models.Depot
	Depot  models.Depot
	Base   string // what the codes begin with
	Labels []label
	Next   string
	First  string
}

type label struct {
	Number, Row string
	Address     string
	Code        qrCode
}

// qrCode is a QR code as one path of unit squares, with the four modules of
// clear space around it that ISO/IEC 18004 asks for.
type qrCode struct {
	Side int // modules, clear space included
	Path string
}

const quietZone = 4

// newQRCode encodes text with correction level M, at which 15 % of a code may be
// dirty (ISO/IEC 18004).
func newQRCode(text string) (qrCode, error) {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return qrCode{}, fmt.Errorf("code of %.80s: %w", text, err)
	}

	var b strings.Builder
	for y := range c.Size {
		for x := 0; x < c.Size; x++ {
			run := x
			for run < c.Size && c.Black(run, y) {
				run++
			}
			if run > x {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", x+quietZone, y+quietZone, run-x, run-x)
				x = run
			}
		}
	}

	return qrCode{c.Size + 2*quietZone, b.String()}, nil
}

func (s *room) labels(r *site.Request) error {
	const perSheet = 120
	p := labelsPage{Depots: r.Depots, Base: r.BaseURL()}
	if len(r.Depots) == 0 {
		return r.Show("labels", "vehicles", "Labels", p)
	}

	id := models.DepotID(r.QueryParam("depot"))
	if id == "" {
		id = r.Depots[0].ID
	}
	if p.Depot = r.Depot(id); p.Depot.ID == "" {
		return models.Errorf(models.NotFound, "no such depot")
	}

	rows, next, err := s.Fleet.Vehicles(
		r.Ctx(), r.Actor, models.VehicleFilter{Depots: []models.DepotID{id}}, r.ListPage(perSheet),
	)
	if err != nil {
		return err
	}

	for _, row := range rows {
		l := label{
			Number:  row.Vehicle.Number,
			Row:     row.Vehicle.ParkingRow,
			Address: p.Base + "/vehicles/" + string(row.Vehicle.ID) + "/inspect",
		}
		if l.Code, err = newQRCode(l.Address); err != nil {
			return err
		}

		p.Labels = append(p.Labels, l)
	}

	p.First, p.Next = r.Paging(next)
	return r.ShowStatus(http.StatusOK, "labels", "vehicles", "Labels of "+p.Depot.Name, p)
}
