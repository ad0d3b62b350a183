// Package sheettest makes sheets that try to exhaust a server, and measures
// what it costs to refuse them. Only tests use it.
package sheettest

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"fmt"
	"hash/crc32"
	"io"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// MostHeapMB is what a refused sheet may take of the heap, in MB; chosen by us. Under
// the race detector garbage stays longer, since collecting it is as slow as all else.
func MostHeapMB() float64 {
	if raceEnabled {
		return 512
	}
	return 64
}

// MostCPU is the processor time that a refused sheet may take; chosen by us. Under the
// race detector the same work takes about ten times as long.
func MostCPU() time.Duration {
	if raceEnabled {
		return 50 * time.Second
	}
	return 5 * time.Second
}

// Hostile is a sheet of odometers that must be refused, and words that the
// error must have.
type Hostile struct {
	Name string
	Make func() []byte
	Want []string
	Slow bool // to make or to read; one place of use is enough
}

// Part is a file within a workbook. Its content may be made as it is written.
type Part struct {
	Name    string
	Content io.Reader
	Says    uint64 // the size that the directory gives instead of the true one
}

// Text is a part of a text.
func Text(name, content string) Part { return Part{Name: name, Content: strings.NewReader(content)} }

// Repeated is a part that is n times middle between two texts, never whole in memory.
func Repeated(name, before, middle string, n int, after string) Part {
	return Part{Name: name, Content: io.MultiReader(strings.NewReader(before), &repeated{text: middle,
		left: n * len(middle)}, strings.NewReader(after))}
}

// repeated reads as a text many times over.
type repeated struct {
	text     string
	at, left int
}

func (r *repeated) Read(p []byte) (int, error) {
	if r.left == 0 {
		return 0, io.EOF
	}
	n := 0
	for n < len(p) && r.left > 0 {
		k := copy(p[n:min(len(p), n+r.left)], r.text[r.at:])
		n, r.left, r.at = n+k, r.left-k, (r.at+k)%len(r.text)
	}
	return n, nil
}

const (
	sheetPart  = "xl/worksheets/sheet1.xml"
	sharedPart = "xl/sharedStrings.xml"
	heading    = `<row r="1"><c r="A1" t="str"><v>vehicle</v></c><c r="B1" t="str"><v>at</v></c>` +
		`<c r="C1" t="str"><v>odometer</v></c><c r="D1" t="str"><v>person</v></c></row>`
	before    = `<?xml version="1.0" encoding="UTF-8"?><worksheet xmlns="` + mainSpace + `"><sheetData>` + heading
	after     = `</sheetData></worksheet>`
	mainSpace = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
	packages  = "http://schemas.openxmlformats.org/package/2006/"
	openTexts = `<sst xmlns="` + mainSpace + `">`
	noTexts   = openTexts + "</sst>"
	documents = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
)

// Rows is a worksheet with the headings of odometers and these rows.
func Rows(rows string) Part { return Text(sheetPart, before+rows+after) }

// Workbook is an XLSX file with one worksheet of these parts, which come
// before the parts that every workbook has.
func Workbook(parts ...Part) []byte {
	parts = append(parts,
		Text("[Content_Types].xml", `<Types xmlns="`+packages+`content-types"><Override PartName="/xl/workbook.xml" `+
			`ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>`),
		related("_rels/.rels", relation("officeDocument", "xl/workbook.xml")),
		Text("xl/workbook.xml", `<workbook xmlns="`+mainSpace+`" xmlns:r="`+documents+`">`+
			`<sheets><sheet name="Invented" sheetId="1" r:id="worksheet"/></sheets></workbook>`),
		related("xl/_rels/workbook.xml.rels",
			relation("worksheet", "worksheets/sheet1.xml")+relation("sharedStrings", "sharedStrings.xml")))

	return Zip(parts...)
}

// related is a part that says what another refers to.
func related(name, list string) Part {
	return Text(name, `<Relationships xmlns="`+packages+`relationships">`+list+`</Relationships>`)
}

func relation(kind, target string) string {
	return `<Relationship Id="` + kind + `" Type="` + documents + "/" + kind + `" Target="` + target + `"/>`
}

// Zip packs parts.
func Zip(parts ...Part) []byte {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	packer, err := flate.NewWriter(&out, flate.BestSpeed)
	if err != nil {
		panic(err) // only for another level
	}

	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { // a packer is 600 KB
		packer.Reset(w)
		return packer, nil
	})

	for _, p := range parts {
		if p.Says > 0 {
			lie(z, p)
			continue
		}

		w, err := z.Create(p.Name)
		if err == nil {
			_, err = io.Copy(w, p.Content)
		}

		if err != nil {
			panic(err) // a buffer takes everything
		}
	}

	if err := z.Close(); err != nil {
		panic(err)
	}

	return out.Bytes()
}

// lie packs a part under a size that is not its own.
func lie(z *zip.Writer, p Part) {
	var packed bytes.Buffer
	sum := crc32.NewIEEE()
	w, err := flate.NewWriter(&packed, flate.BestSpeed)
	if err == nil {
		_, err = io.Copy(io.MultiWriter(w, sum), p.Content)
	}
	if err == nil {
		err = w.Close()
	}

	if err != nil {
		panic(err)
	}

	raw, err := z.CreateRaw(&zip.FileHeader{Name: p.Name, Method: zip.Deflate, CRC32: sum.Sum32(),
		CompressedSize64: uint64(packed.Len()), UncompressedSize64: p.Says})
	if err == nil {
		_, err = packed.WriteTo(raw)
	}

	if err != nil {
		panic(err)
	}
}

// many returns n times the text made of each number.
func many(n int, text func(i int) string) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(text(i))
	}
	return b.String()
}

// All are the sheets that must be refused, without the slow ones in short tests and
// under the race detector. Their sizes are chosen by us, well beyond the limits of
// the package sheet.
func All() []Hostile {
	list := hostile()
	if testing.Short() || raceEnabled {
		list = slices.DeleteFunc(list, func(h Hostile) bool { return h.Slow })
	}
	return list
}

func hostile() []Hostile {
	const mb = 1 << 20

	shared, rows := Text(sharedPart, noTexts), Rows(`<row r="2"><c r="A2" t="s"><v>0</v></c></row>`)
	return []Hostile{
		{Name: "one shared text of 100 MB", Want: []string{"shared text 0", "32767 characters", "shorten"},
			Make: func() []byte {
				return Workbook(Repeated(sharedPart, openTexts+"<si><t>", "0", 100*mb, "</t></si></sst>"), rows)
			}},
		{Name: "5,000,000 shared texts", Slow: true, Want: []string{"600000 different texts", "split"},
			Make: func() []byte {
				return Workbook(Repeated(sharedPart, openTexts, "<si><t>0</t></si>", 5_000_000, "</sst>"), rows)
			}},
		{Name: "shared texts of 100 MB together", Slow: true, Want: []string{"MB of them", "split"},
			Make: func() []byte {
				return Workbook(Repeated(sharedPart, openTexts,
					"<si><t>"+strings.Repeat("0", 10_000)+"</t></si>", 10_000,
					"</sst>"), rows)
			}},
		{
			Name: "10,000,000 empty cells",
			Slow: true,
			Want: []string{"2500000 cells", "line 251",
				"empty rows and columns"},
			Make: func() []byte {
				return Workbook(shared, Repeated(sheetPart, before, "<row>"+strings.Repeat("<c/>", 10_000)+"</row>", 1000,
					after))
			},
		},
		{Name: "10,000,000 empty cells in one row", Want: []string{"\"Invented\"", "row 2", "XFD"},
			Make: func() []byte {
				return Workbook(shared, Repeated(sheetPart, before+`<row r="2">`, "<c/>", 10_000_000, `</row>`+after))
			}},
		{Name: "one cell of 100 MB", Want: []string{"\"Invented\"", "row 2", "column A", "32767 characters"},
			Make: func() []byte {
				return Workbook(shared, Repeated(sheetPart, before+`<row r="2"><c r="A2" t="inlineStr"><is><t>`, "x",
					100*mb, `</t></is></c></row>`+after))
			}},
		{
			Name: "one cell of 100 MB in many runs",
			Want: []string{"\"Invented\"", "row 2", "column A",
				"32767 characters"},
			Make: func() []byte {
				return Workbook(shared, Repeated(sheetPart, before+`<row r="2"><c r="A2" t="inlineStr"><is>`,
					"<r><t>"+strings.Repeat("x", 1000)+"</t></r>", 100_000, `</is></c></row>`+after))
			},
		},
		{Name: "a cell in column XFD", Want: []string{"line 2", "16384 (XFD)", "too far right"}, Make: func() []byte {
			return Workbook(shared, Rows(`<row r="2"><c r="XFD2"><v>1</v></c></row>`))
		}},
		{Name: "a cell right of column XFD", Want: []string{"\"Invented\"", "row 2", "XFE2"}, Make: func() []byte {
			return Workbook(shared, Rows(`<row r="2"><c r="XFE2"><v>1</v></c></row>`))
		}},
		{Name: "a row below the last", Want: []string{"\"Invented\"", "1048577", "1048576"}, Make: func() []byte {
			return Workbook(shared, Rows(`<row r="1048577"><c r="A1"><v>1</v></c></row>`))
		}},
		{Name: "a row twice", Want: []string{"row \"2\" after row 2"}, Make: func() []byte {
			return Workbook(shared,
				Rows(`<row r="2"><c r="A2"><v>1</v></c></row><row r="2"><c r="A2"><v>1</v></c></row>`))
		}},
		{Name: "a cell twice", Want: []string{"row 2", "\"A2\" after column 1"}, Make: func() []byte {
			return Workbook(shared, Rows(`<row r="2"><c r="A2"><v>1</v></c><c r="A2"><v>1</v></c></row>`))
		}},
		{Name: "a shared text that is not there", Want: []string{"row 2", "shared text \"7\"", "there are 0"},
			Make: func() []byte {
				return Workbook(shared, Rows(`<row r="2"><c r="A2" t="s"><v>7</v></c></row>`))
			}},
		{Name: "300,000 rows", Slow: true, Want: []string{"200000 rows", "split"}, Make: func() []byte {
			return Workbook(shared, Repeated(sheetPart, before, `<row><c><v>1</v></c></row>`, 300_000, after))
		}},
		{Name: "100 MB of text in cells", Slow: true, Want: []string{"MB of text", "split"}, Make: func() []byte {
			return Workbook(shared, Repeated(sheetPart, before, `<row><c t="str"><v>`+strings.Repeat("x",
				1900)+`</v></c><c><v>1</v></c><c><v>1</v></c></row>`, 55_000, after))
		}},
		{Name: "styles of 129 MB", Slow: true, Want: []string{"128 MB", "split"}, Make: func() []byte {
			return Workbook(shared, rows, Repeated("xl/styles.xml", "<styleSheet>", " ", 129*mb, "</styleSheet>"))
		}},
		{Name: "parts that hide their size", Want: []string{"sharedStrings.xml", "save it again"}, Make: func() []byte {
			p := Repeated(sharedPart, openTexts, " ", 100*mb, "</sst>")
			p.Says = 1000
			return Workbook(p, rows)
		}},
		{Name: "a part that claims 16 EB", Want: []string{"128 MB"}, Make: func() []byte {
			p := Text("xl/media/image1.png", "picture")
			p.Says = 1<<64 - 2
			return Workbook(shared, rows, p)
		}},
		{Name: "a part twice", Want: []string{"twice", "SHEET1.xml"}, Make: func() []byte {
			return Workbook(shared, rows, Text("XL/worksheets/SHEET1.xml", "<worksheet/>"))
		}},
		{Name: "30,000 parts", Want: []string{"2000 files"}, Make: func() []byte {
			parts := make([]Part, 30_000)
			for i := range parts {
				parts[i] = Text(fmt.Sprint("xl/media/", i), "")
			}
			return Workbook(append(parts, shared, rows)...)
		}},
		{Name: "a workbook in a ZIP file", Want: []string{"no part", "xl/workbook.xml"}, Make: func() []byte {
			return Zip(Part{Name: "inner.xlsx", Content: bytes.NewReader(Workbook(shared, rows))})
		}},
		{Name: "entities", Want: []string{"document type declaration"}, Make: func() []byte {
			bomb := `<!DOCTYPE sst [<!ENTITY a "ha">` + many(30,
				func(i int) string { return fmt.Sprintf(`<!ENTITY a%d "&a;&a;">`, i) }) + `]>`
			return Workbook(Text(sharedPart, bomb+openTexts+"<si><t>&a29;</t></si></sst>"), rows)
		}},
		{Name: "1,000,000 elements within each other", Want: []string{"32 elements"}, Make: func() []byte {
			return Workbook(Repeated(sharedPart, openTexts, "<si>", 1_000_000, ""), rows)
		}},
		{Name: "one element with 100,000 attributes", Want: []string{"512 KB"}, Make: func() []byte {
			return Workbook(shared, Rows(`<row `+many(100_000, func(i int) string {
				return fmt.Sprintf(`a%d="" `, i)
			})+`/>`))
		}},
		{Name: "100,000 relations", Slow: true, Want: []string{".rels", "2000 entries"}, Make: func() []byte {
			list := many(100_000, func(i int) string { return relation(fmt.Sprint("k", i), "t") })
			return Zip(related("_rels/.rels", list))
		}},
		{Name: "a worksheet that stops", Want: []string{"sheet1.xml", "save it again"}, Make: func() []byte {
			return Workbook(shared, Text(sheetPart, before+`<row r="2"><c`))
		}},

		{Name: "CSV of one cell of 15 MB", Want: []string{"line 2", "256 KB"}, Make: func() []byte {
			return []byte("vehicle,at,odometer\n\"" + strings.Repeat("x", 15*mb) + "\"\n")
		}},
		{Name: "CSV of one row of 15,000,000 cells", Want: []string{"line 2", "256 KB"}, Make: func() []byte {
			return []byte("vehicle,at,odometer\n" + strings.Repeat(",", 15*mb))
		}},
		{Name: "CSV of one heading of 15 MB", Want: []string{"line 1", "256 KB"}, Make: func() []byte {
			return []byte(strings.Repeat("x;", 15*mb/2))
		}},
		{Name: "CSV of 5,000,000 rows without text", Want: []string{"2500000 cells", "empty rows"},
			Make: func() []byte {
				return []byte("vehicle,at,odometer\n" + strings.Repeat(",\n", 5_000_000))
			}},
		{Name: "CSV of 300,000 rows", Slow: true, Want: []string{"200000 rows"}, Make: func() []byte {
			return []byte("vehicle,at,odometer\n" + strings.Repeat("1,2,3\n", 300_000))
		}},
		{Name: "CSV with text in column 101", Want: []string{"line 2", "101 (CW)", "too far right"},
			Make: func() []byte {
				return []byte("vehicle,at,odometer\n" + strings.Repeat(",", 100) + "x\n")
			}},
	}
}

// Cost is what a piece of work took.
type Cost struct {
	HeapMB float64       // the most that was in use, less what was in use before
	CPU    time.Duration // of the whole program, so that a busy machine changes little
}

// Measure runs work and samples the heap. Nothing else may run in the program.
func Measure(work func()) Cost {
	runtime.GC()
	done, peak := make(chan struct{}), make(chan uint64)
	var m runtime.MemStats
	runtime.ReadMemStats(&m)

	before := m.HeapInuse
	go func() {
		most := before
		tick := time.NewTicker(5 * time.Millisecond)
		defer tick.Stop()

		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)

			most = max(most, m.HeapInuse)
			select {
			case <-done:
				peak <- most
				return
			case <-tick.C:
			}
		}
	}()

	began := cpu()
	work()
	took := cpu() - began
	close(done)
	return Cost{float64(<-peak-before) / 1e6, took}
}

// cpu returns the processor time that the program has used.
func cpu() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err) // it has no other error than a wrong argument
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
