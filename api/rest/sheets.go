package rest

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"strings"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/reports/sheet"
)

// maxSheet is the largest sheet that is taken at once, in bytes.
const maxSheet = 16 << 20

// takesSheet reports whether a request sends a sheet instead of JSON.
func takesSheet(r *http.Request) bool {
	rest, ok := strings.CutPrefix(r.URL.Path, Prefix+"/depots/")
	return ok && r.Method == http.MethodPost && strings.Contains(rest, "/imports/")
}

// sheetOut is a sheet as a file.
type sheetOut struct {
	ContentType string `header:"Content-Type"`
	Disposition string `header:"Content-Disposition"`
	Body        []byte
}

// ImportResult says what an import did, or would do.
type ImportResult struct {
	Rows      int  `json:"rows"`
	Created   int  `json:"created"   doc:"Vehicles, tires, fittings, inspections or odometer entries."`
	Unchanged int  `json:"unchanged" doc:"Were there already with the same content."`
	DryRun    bool `json:"dry_run"   doc:"Nothing was recorded."`
}

func (s *server) registerSheets() {
	const tag = "Sheets"
	register(
		s,
		get(
			"/depots/{id}/sheets/{kind}",
			tag,
			"Download a sheet",
			"Vehicles, tires and inspections have the columns that an import takes; findings are the open ones. "+
				"Times are by the depot's clock.",
		),
		func(ctx context.Context, a fleet.Actor, in *struct {
			ByID
			Kind   string `path:"kind" enum:"vehicles,tires,inspections,findings"`
			Format string `query:"format" enum:"csv,xlsx" default:"csv"`
		}) (*sheetOut, error) {
			d, err := s.Fleet.Depot(ctx, a, models.DepotID(in.ID))
			if err != nil {
				return nil, err
			}
			t, err := sheet.Export(ctx, s.Fleet, a, in.Kind, d.ID, d.Units.Distance)
			if err != nil {
				return nil, err
			}

			var b bytes.Buffer
			if err := t.Write(in.Format, &b); err != nil {
				return nil, err
			}

			return &sheetOut{
				sheet.Formats[in.Format],
				fmt.Sprintf(`attachment; filename="%s.%s"`, t.Name, in.Format),
				b.Bytes(),
			}, nil
		},
	)

	o := post(
		"/depots/{id}/imports/{kind}",
		tag,
		"Import a sheet",
		"A CSV or XLSX file as the body. Every row is checked before one is recorded: every fault is told with line, "+
			"column, value and what would be right, and nothing is recorded. A sheet of more than 100 entries is "+
			"recorded in parts; if it is interrupted, the problem says how many are recorded. The same sheet again "+
			"changes nothing.",
	)

	o.DefaultStatus, o.MaxBodyBytes = http.StatusOK, maxSheet
	register(s, o, func(ctx context.Context, a fleet.Actor, in *struct {
		ByID
		Kind    string `path:"kind" enum:"vehicles,tires,fitments,inspections,odometers"`
		DryRun  bool   `query:"dry_run" doc:"Check everything and record nothing."`
		Confirm bool   `query:"confirm" doc:"Confirm every value that would be asked about."`
		RawBody []byte `contentType:"text/csv"`
	}) (*bodyOut[ImportResult], error) {
		b := fleet.ImportBatch{Kind: in.Kind, DepotID: models.DepotID(in.ID), DryRun: in.DryRun, Confirm: in.Confirm}
		res, err := sheet.Import(ctx, s.Fleet, a, b, "the sheet", bytes.NewReader(in.RawBody))
		return bodyOrError(ImportResult(res), err)
	})
}
