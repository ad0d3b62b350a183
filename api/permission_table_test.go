package api_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"mime/multipart"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"rimledger/api/rest"
	"rimledger/models"
)

// permitted is one operation of the API or one address of a page: who may use it,
// and a request that succeeds.
type permitted struct {
	op      string // method and path as the document or the router has them
	least   models.Role
	address string // with {0} for the first thing that is named, and so on
	body    content
	names   []subject
	version func(*place) int64 // that an edit starts from; nil: the first

	allDepots    bool // only somebody who is not limited to depots
	reads        bool // changes nothing although it is no GET
	lists        bool // shows something of every depot that is seen
	asksPassword bool // a page that asks for the present password first
}

// subject makes, or finds, a thing that a request names.
type subject func(*scene) named

// named is an id that a request names. narrow: it only narrows a list, which is
// empty then.
type named struct {
	what, id string
	narrow   bool
}

func onAPI(op string, least models.Role, body content, names ...subject) permitted {
	method, path, _ := strings.Cut(op, " ")
	filled := strings.NewReplacer("{id}", "{0}", "{class}", "bus", "{kind}", "vehicles", "{position}", "1L",
		"{name}", "same")
	return permitted{op: method + " " + rest.Prefix + path, least: least, address: rest.Prefix + filled.Replace(path),
		body: body, names: names}
}

func onPage(op string, least models.Role, body content, names ...subject) permitted {
	_, path, _ := strings.Cut(op, " ")
	filled := strings.NewReplacer(":id", "{0}", ":class", "tractor", ":kind", "rotate", ":position", "1L")
	return permitted{op: op, least: least, address: filled.Replace(path), body: body, names: names}
}

// at is p with another address, which for the API begins behind its prefix.
func (p permitted) at(address string) permitted {
	if strings.Contains(p.op, rest.Prefix) {
		address = rest.Prefix + address
	}
	p.address = address
	return p
}

func (p permitted) from(version func(*place) int64) permitted { p.version = version; return p }
func (p permitted) listing() permitted                        { p.lists = true; return p }
func (p permitted) reading() permitted                        { p.reads = true; return p }
func (p permitted) ofAllDepots() permitted                    { p.allDepots = true; return p }
func (p permitted) askingPassword() permitted                 { p.asksPassword = true; return p }

func (p permitted) method() string {
	method, _, _ := strings.Cut(p.op, " ")
	return method
}

// make returns a request that c may send about fresh things at a depot; reading
// ones are about things that are there.
func (p permitted) make(at *place, c *caller) request {
	at.t.Helper()
	s := &scene{place: at, c: c, fresh: p.method() != http.MethodGet}
	for _, name := range p.names {
		s.ids = append(s.ids, name(s))
	}

	r := request{method: p.method(), path: s.fill(p.address), ids: s.ids}
	if p.body != nil {
		p.body.put(s, &r)
	}

	if r.method == http.MethodPut {
		version := int64(1)
		if p.version != nil {
			version = p.version(at)
		}
		r.ifMatch = strconv.Quote(strconv.FormatInt(version, 10))
	}

	return r
}

// scene is what one request is about.
type scene struct {
	*place
	c     *caller
	fresh bool
	ids   []named

	on   *trailer
	tire models.TireID // on no vehicle
}

// fill writes the ids, and what is new in each request, into text.
func (s *scene) fill(text string) string {
	pairs := []string{"{new}", newID[string](), "{number}", s.plainNumber(), "{place}", s.word,
		"{day}", noon.AddDate(0, 0, 2).Format(time.DateOnly), "{hour}", noon.Add(-time.Hour).Format(time.RFC3339)}
	if strings.Contains(text, "{vehicle}") {
		pairs = append(pairs, "{vehicle}", s.vehicle().Number)
	}
	for i, n := range s.ids {
		pairs = append(pairs, "{"+strconv.Itoa(i)+"}", n.id)
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// trailer is the one that the request is about.
func (s *scene) trailer() *trailer {
	switch {
	case !s.fresh:
		return s.shared
	case s.on == nil:
		s.on = s.place.trailer()
	}
	return s.on
}

// looseTire is the tire on no vehicle that the request is about.
func (s *scene) looseTire() models.TireID {
	if s.tire == "" {
		s.tire = s.place.tire().ID
	}
	return s.tire
}

func narrow(of subject) subject {
	return func(s *scene) named {
		n := of(s)
		n.narrow = true
		return n
	}
}

func name[T ~string](what string, id T) named { return named{what: what, id: string(id)} }

// The things that requests name.
func aDepot(s *scene) named         { return name("depot", s.depot) }
func aTrailer(s *scene) named       { return name("vehicle", s.trailer().ID) }
func anotherTrailer(s *scene) named { return name("other vehicle", s.place.trailer().ID) }
func aVehicle(s *scene) named       { return name("vehicle", s.vehicle().ID) }
func tire1L(s *scene) named         { return name("tire", s.trailer().tires["1L"]) }
func tire1R(s *scene) named         { return name("tire", s.trailer().tires["1R"]) }
func aTire(s *scene) named          { return name("tire", s.looseTire()) }
func wheel1L(s *scene) named        { return name("wheel", s.trailer().wheels["1L"]) }
func wheel1R(s *scene) named        { return name("wheel", s.trailer().wheels["1R"]) }
func aWheel(s *scene) named         { return name("wheel", s.wheel().ID) }
func anInspection(s *scene) named   { return name("event", s.trailer().inspection) }
func anOdometer(s *scene) named     { return name("event", s.trailer().odometer) }
func aComplaint(s *scene) named     { return name("event", s.complaint(s.trailer().ID)) }
func aRepair(s *scene) named        { return name("event", s.looseRepair(s.looseTire())) }
func aJob(s *scene) named           { return name("event", s.job(s.place.trailer().ID)) }
func aPhoto(s *scene) named         { return name("photo", s.photo(s.trailer().ID)) }
func aFinding(s *scene) named       { return name("finding", s.trailer().finding) }
func anAcknowledged(s *scene) named { return name("finding", s.acknowledged(s.trailer().finding)) }
func aPerson(s *scene) named        { return name("person", s.person().ID) }
func aToken(s *scene) named         { return name("token", s.tokenFor(s.c)) }

// content is the body of a request.
type content interface {
	put(s *scene, r *request)
}

// object is JSON.
type object map[string]any

func (o object) with(more object) object {
	out := maps.Clone(o)
	maps.Copy(out, more)
	return out
}

func (o object) put(s *scene, r *request) {
	b, err := json.Marshal(o)
	if err != nil {
		s.t.Fatal(err)
	}
	r.contentType, r.body = "application/json", s.fill(string(b))
}

// loose is what happened an hour ago off any vehicle.
func loose(more object) object {
	return object{"id": "{new}", "at": "{hour}", "odometer": "unknown"}.with(more)
}

// event is the same of the vehicle that is named first.
func event(more object) object { return loose(more).with(object{"vehicle_id": "{0}"}) }

// sheet is a CSV file.
type sheet string

func (c sheet) put(s *scene, r *request) { r.contentType, r.body = "text/csv", s.fill(string(c)) }

// fields is a form: names and values in turn. page is where it is filled in, from
// the address of the request on; typed forms are on no page.
type fields struct {
	pairs []string
	typed bool
	page  string
}

func typed(pairs ...string) fields     { return fields{pairs: pairs, typed: true} }
func filled(pairs ...string) fields    { return fields{pairs: pairs} }
func (f fields) of(page string) fields { f.page = page; return f }
func (f fields) and(pairs []string) fields {
	f.pairs = append(f.pairs[:len(f.pairs):len(f.pairs)], pairs...)
	return f
}

func (f fields) put(s *scene, r *request) {
	values := url.Values{}
	if !f.typed {
		values = s.formOf(r.path+f.page, r.path)
	}
	for i := 0; i < len(f.pairs); i += 2 {
		values.Set(f.pairs[i], s.fill(f.pairs[i+1]))
	}
	r.contentType, r.body = "application/x-www-form-urlencoded", values.Encode()
}

// file is a form that sends a sheet.
type file struct {
	fields
	sheet string
}

func upload(sheet string, pairs ...string) file { return file{typed(pairs...), sheet} }

func (f file) put(s *scene, r *request) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for i := 0; i < len(f.pairs); i += 2 {
		if err := w.WriteField(f.pairs[i], s.fill(f.pairs[i+1])); err != nil {
			s.t.Fatal(err)
		}
	}

	part := must(w.CreateFormFile("sheet", "sheet.csv"))(s.t)
	if _, err := part.Write([]byte(s.fill(f.sheet))); err != nil {
		s.t.Fatal(err)
	}

	if err := w.Close(); err != nil {
		s.t.Fatal(err)
	}

	r.contentType, r.body = w.FormDataContentType(), b.String()
}
