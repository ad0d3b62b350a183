package sheets

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/reports/sheet"
)

// maxSheet is the largest sheet that is taken on a page, in bytes; larger ones
// go through the command.
const maxSheet = 16 << 20

// maxCarried is the largest sheet that a dry run hands back for recording, in
// bytes; a larger one is chosen again.
const maxCarried = 2 << 20

// sheetsPage offers sheets to export and imports one.
type sheetsPage struct {
	Entry   *form.Entry
	Depots  []models.Depot
	Out     []string
	In      []string
	Columns map[string][]fleet.ImportColumn
	Depot   string
	Kind    string
	Records bool
	Result  *fleet.ImportResult
	Name    string
	Carried string // the sheet itself, after a dry run
}

func (s *room) sheets(r *site.Request) error {
	return s.showSheets(
		r,
		http.StatusOK,
		sheetsPage{Entry: form.NewEntry(url.Values{"dry_run": {"1"}}, form.NoUnits), Depot: r.QueryParam("depot")},
	)
}

func (s *room) showSheets(r *site.Request, status int, p sheetsPage) error {
	p.Depots, p.Records = r.Depots, r.Records()
	p.Out, p.Columns = sheet.ExportKinds, map[string][]fleet.ImportColumn{}
	for _, kind := range fleet.ImportKinds {
		if r.Manages() || kind != "vehicles" && kind != "tires" {
			p.In = append(p.In, kind)
			p.Columns[kind] = fleet.ImportColumns(kind)
		}
	}
	return r.ShowStatus(status, "sheets", "vehicles", "Import and export", p)
}

// exportSheet answers a sheet as a file.
func (s *room) exportSheet(r *site.Request) error {
	d := r.Depot(models.DepotID(r.QueryParam("depot")))
	if d.ID == "" {
		return models.Errorf(models.NotFound, "no such depot")
	}

	format := r.QueryParam("as")
	t, err := sheet.Export(r.Ctx(), s.Fleet, r.Actor, r.QueryParam("kind"), d.ID, r.Units(d).Distance)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := t.Write(format, &b); err != nil {
		return err
	}

	name := fmt.Sprintf("%s-%s-%s.%s", plainName(d.Name), t.Name, r.Now.In(say.Zone(d)).Format(time.DateOnly), format)
	r.Response().Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	return r.Blob(http.StatusOK, sheet.Formats[format], b.Bytes())
}

// plainName keeps the characters of a name that any system allows in a file name.
func plainName(s string) string {
	return strings.Trim(strings.Map(func(c rune) rune {
		if c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' {
			return c
		}
		return '-'
	}, s), "-")
}

// importSheet reads a sheet, tries it or records it, and says what came of it.
func (s *room) importSheet(r *site.Request) error {
	if err := r.Request().ParseMultipartForm(maxSheet); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		var tooBig *http.MaxBytesError
		if errors.As(err, &tooBig) {
			return models.Errorf(
				models.TooLarge,
				"a page takes sheets of at most %d MB; split it, or use the command",
				maxSheet>>20,
			)
		}

		return models.Errorf(models.Invalid, "the sheet could not be read; it may have been cut off on the way")
	}

	e := form.NewEntry(r.Request().PostForm, form.NoUnits)
	p := sheetsPage{Entry: e, Depot: e.Text("depot"), Kind: e.Text("kind")}
	if !slices.Contains(fleet.ImportKinds, p.Kind) {
		e.AddFault("kind", "choose what is in the sheet")
	}
	if p.Depot == "" {
		e.AddFault("depot", "choose the depot that it is about")
	}

	content, err := s.sent(r, e, &p)
	if err != nil {
		return err
	}

	if !e.OK() {
		e.Msg = "Nothing was recorded"
		return s.showSheets(r, http.StatusUnprocessableEntity, p)
	}
	b := fleet.ImportBatch{Kind: p.Kind, DepotID: models.DepotID(p.Depot), DryRun: e.Ticked("dry_run"),
		Confirm: e.Ticked("confirm_all")}

	res, err := sheet.Import(r.Ctx(), s.Fleet, r.Actor, b, p.Name, bytes.NewReader(content))
	if err != nil {
		if e.ApplyError(err) {
			return s.showSheets(r, http.StatusUnprocessableEntity, p)
		}
		if res.Created+res.Unchanged > 0 { // interrupted: the page about errors says that nothing was done
			e.Msg = err.Error()
			return s.showSheets(r, http.StatusServiceUnavailable, p)
		}
		return err
	}

	p.Result = &res
	if p.Result.DryRun && len(content) <= maxCarried {
		p.Carried = base64.StdEncoding.EncodeToString(content)
	}

	return s.showSheets(r, http.StatusOK, p)
}

// sent returns the sheet that came: as a file, or carried over from a dry run.
func (s *room) sent(r *site.Request, e *form.Entry, p *sheetsPage) ([]byte, error) {
	if text := e.Text("carried"); text != "" {
		p.Name = e.Text("name")
		content, err := base64.StdEncoding.DecodeString(text)
		if err != nil {
			return nil, models.Errorf(models.Invalid, "the sheet was damaged on the way; choose the file again")
		}
		return content, nil
	}

	file, head, err := r.Request().FormFile("sheet")
	if err != nil {
		e.AddFault("sheet", "choose a file, CSV or XLSX")
		return nil, nil
	}
	defer file.Close()

	p.Name = head.Filename
	return io.ReadAll(file)
}
