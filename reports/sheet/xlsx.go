package sheet

import (
	"bytes"
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"

	"rimledger/models"
)

// maxUnzipped bounds what a packed sheet may unfold to.
const maxUnzipped = 512 << 20

// readXLSX hands the rows of the first worksheet to c. Cells give their raw
// values, not what a number format makes of them; in columns of times a
// spreadsheet's own day numbers are turned into dates.
func readXLSX(data []byte, c *collector) error {
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnzipped})
	if err != nil {
		return &models.Error{Kind: models.Invalid, Msg: "the file cannot be read as an XLSX workbook; save it again without a password", Err: err}
	}
	defer f.Close()
	names := f.GetSheetList()
	if len(names) == 0 {
		return models.Errorf(models.Invalid, "the workbook has no worksheet")
	}
	props, err := f.GetWorkbookProps()
	from1904 := err == nil && props.Date1904 != nil && *props.Date1904
	rows, err := f.Rows(names[0])
	if err != nil {
		return &models.Error{Kind: models.Invalid, Msg: "worksheet " + names[0] + " cannot be read", Err: err}
	}
	defer rows.Close()
	for line := 1; rows.Next(); line++ {
		cells, err := rows.Columns()
		if err != nil {
			return &models.Error{Kind: models.Invalid, Msg: "worksheet " + names[0] + " cannot be read to its end", Err: err}
		}
		for i, at := range c.header {
			if i < len(cells) && at >= 0 && c.columns[at].Name == "at" {
				cells[i] = date(cells[i], from1904)
			}
		}
		if err := c.add(line, cells); err != nil {
			return err
		}
	}
	if err := rows.Error(); err != nil {
		return &models.Error{Kind: models.Invalid, Msg: "worksheet " + names[0] + " cannot be read to its end", Err: err}
	}
	return nil
}

// date turns a spreadsheet's day number into a civil date and time to the
// minute; other text stays as it is.
func date(text string, from1904 bool) string {
	days, err := strconv.ParseFloat(text, 64)
	if err != nil || !(days > 1 && days < 200_000) {
		return text
	}
	t, err := excelize.ExcelDateToTime(days, from1904)
	if err != nil {
		return text
	}
	return t.Round(time.Minute).Format("2006-01-02 15:04")
}
