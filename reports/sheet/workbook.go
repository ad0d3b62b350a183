package sheet

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"io"
	"path"
	"strings"

	"rimledger/models"
)

// Limits of a workbook, chosen by us. What is packed into 1 MB can unpack to
// 1 GB, so every one of them is checked while the workbook is unpacked.
const (
	maxUnpacked = 128 << 20 // bytes of all parts, unpacked
	maxParts    = 2000      // files within the workbook
	maxStrings  = 600_000   // texts in its table of shared texts
	maxMarkup   = 512 << 10 // bytes of one tag or of the text between two tags
	maxDepth    = 32        // elements within each other
	maxAttrs    = 64        // attributes of one element
)

// entryMark begins each entry in the directory of a ZIP file (APPNOTE 4.3.12).
var entryMark = []byte("PK\x01\x02")

// workbook is an XLSX file: XML parts in a ZIP file. Only the parts that are
// asked for are unpacked, as a stream.
type workbook struct {
	ctx   context.Context
	parts map[string]*zip.File // by folded name
	left  int64                // bytes that may still be unpacked
}

// openWorkbook reads the directory of a workbook. It returns TooLarge for one
// that has, or says it has, more than the limits, and Invalid for one that is
// damaged or names a part twice.
func openWorkbook(ctx context.Context, data []byte) (*workbook, error) {
	// The package zip keeps a record of every entry, so they are counted first.
	if bytes.Count(data, entryMark) > maxParts {
		return nil, models.Errorf(models.TooLarge, "the workbook has more than %d files in it; save the one "+
			"worksheet as CSV", maxParts)
	}

	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, damagedWorkbook("the file", err)
	}

	w := &workbook{ctx: ctx, parts: map[string]*zip.File{}, left: maxUnpacked}

	total := uint64(0)
	for _, f := range z.File {
		if f.UncompressedSize64 > maxUnpacked || total+f.UncompressedSize64 > maxUnpacked {
			return nil, workbookTooLarge()
		}

		total += f.UncompressedSize64
		name := partName(f.Name)
		if w.parts[name] != nil {
			return nil, models.Errorf(models.Invalid, "the workbook has the part %.60q twice; save it again as "+
				"XLSX, or as CSV", f.Name)
		}
		w.parts[name] = f
	}

	return w, nil
}

func workbookTooLarge() error {
	return models.Errorf(models.TooLarge,
		"the workbook unpacks to more than %d MB; split the sheet, take out pictures and other worksheets, or save "+
			"it as CSV", maxUnpacked>>20)
}

func damagedWorkbook(what string, err error) error {
	return &models.Error{Kind: models.Invalid, Err: err,
		Msg: what + " cannot be read as part of an XLSX workbook; save it again as XLSX without a password, or as CSV"}
}

// partName folds the spellings of a part's name: names differ in more than letter case
// (ECMA-376 part 2), and some programs write backslashes.
func partName(name string) string {
	return strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(name, `\`, "/"), "/"))
}

// open begins to read a part; Invalid if there is none of that name.
func (w *workbook) open(name string) (*part, error) {
	f := w.parts[partName(name)]
	if f == nil {
		return nil, models.Errorf(models.Invalid, "the workbook has no part %.60q; save it again as XLSX, or as CSV",
			name)
	}
	in, err := f.Open()
	if err != nil {
		return nil, damagedWorkbook(name, err)
	}

	p := &part{name: name, file: in}
	p.in = bufio.NewReaderSize(&unpacker{w, in}, 32<<10)
	p.xml = xml.NewDecoder(p)
	return p, nil
}

// unpacker reads a packed part within the limits of its workbook. The package
// zip ends a part that is larger than the directory says.
type unpacker struct {
	w  *workbook
	in io.Reader
}

func (u *unpacker) Read(b []byte) (int, error) {
	if err := ended(u.w.ctx); err != nil {
		return 0, err
	}
	n, err := u.in.Read(b)
	if u.w.left -= int64(n); u.w.left < 0 {
		return 0, workbookTooLarge()
	}
	return n, err
}

// part is one XML part that is read token by token.
type part struct {
	name   string
	file   io.Closer
	in     *bufio.Reader
	xml    *xml.Decoder
	since  int // bytes since the last token
	depth  int
	buffer []byte // of text
}

// ReadByte hands the decoder one byte. The decoder keeps a whole token in
// memory, so the bytes of one token are limited here.
func (p *part) ReadByte() (byte, error) {
	if p.since++; p.since > maxMarkup {
		return 0, models.Errorf(models.TooLarge, "the part %.60q has one text or tag of more than %d KB; shorten "+
			"the cell, or save the sheet as CSV",
			p.name, maxMarkup>>10)
	}
	return p.in.ReadByte()
}

// Read is part of io.Reader; the decoder reads by ReadByte.
func (p *part) Read(b []byte) (int, error) { return p.in.Read(b) }

func (p *part) Close() error { return p.file.Close() }

// next returns the next token, io.EOF after the last one.
func (p *part) next() (xml.Token, error) {
	p.since = 0
	token, err := p.xml.Token()
	if err != nil {
		return nil, p.fault(err)
	}

	switch t := token.(type) {
	case xml.StartElement:
		p.depth++
		if p.depth > maxDepth || len(t.Attr) > maxAttrs {
			return nil, models.Errorf(models.TooLarge,
				"the part %.60q has more than %d elements within each other, or an element with more than %d "+
					"attributes; save it again as XLSX, or as CSV",
				p.name, maxDepth, maxAttrs)
		}
	case xml.EndElement:
		p.depth--
	case xml.Directive: // where entities would be declared; no workbook needs one
		return nil, models.Errorf(models.Invalid, "the part %.60q has a document type declaration; save it again as "+
			"XLSX, or as CSV", p.name)
	}

	return token, nil
}

// fault passes the end and errors with a kind; any other means damage.
func (p *part) fault(err error) error {
	var e *models.Error
	if err == nil || errors.Is(err, io.EOF) || errors.As(err, &e) {
		return err
	}
	return damagedWorkbook(p.name, err)
}

// finish reads the rest of the part, so that its checksum is compared.
func (p *part) finish() error {
	_, err := io.Copy(io.Discard, p.in)
	return p.fault(err)
}

// relation is where a part of a workbook refers to.
type relation struct{ kind, target string }

// relations returns what the part of that name refers to, by id; nil where it
// says nothing. The name "" means the workbook as a whole.
func (w *workbook) relations(name string) (map[string]relation, error) {
	folder, file := path.Split(name)
	list := folder + "_rels/" + file + ".rels"

	// A part without relations has no such file.
	if w.parts[partName(list)] == nil {
		return nil, nil
	}

	p, err := w.open(list)
	if err != nil {
		return nil, err
	}
	defer p.Close()

	out := map[string]relation{}
	for {
		token, err := p.next()
		if errors.Is(err, io.EOF) {
			return out, nil
		}

		if err != nil {
			return nil, err
		}

		t, ok := token.(xml.StartElement)
		if !ok || t.Name.Local != "Relationship" || attr(t, "TargetMode") == "External" {
			continue
		}

		// A target without a slash is relative to the part's own folder.
		target := attr(t, "Target")
		if !strings.HasPrefix(target, "/") {
			target = path.Join(folder, target)
		}

		out[attr(t, "Id")] = relation{path.Base(attr(t, "Type")), target}
		if len(out) > maxParts {
			return nil, models.Errorf(models.TooLarge, "the part %.60q has more than %d entries; save the one "+
				"worksheet as CSV", list, maxParts)
		}
	}
}

// attr returns an attribute of an element in any name space, "" if it has none.
func attr(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}
