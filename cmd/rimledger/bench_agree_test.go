package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/store"
	"rimledger/models/units"
)

// job is an invented balance job: what stands in the form of the bench, and the same as
// the calculator takes it.
type job struct {
	at   assembly
	form url.Values
	calc map[string]any
}

// assembly is one whose bench can be opened, as the calculator is told of it.
type assembly struct {
	path, class, role, size string
}

// fitted is one weight of a proposal.
type fitted struct {
	Place string
	MassG float64 `json:"mass_g"`
	Deg   float64
	Spot  string
}

// TestBenchAgrees: for the same 100 invented jobs the page, the API and the command line
// propose the same weights. The page is asked to take its proposal over, which writes
// masses to a hundredth of a gram and angles to a tenth of a degree.
func TestBenchAgrees(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	s := newShell(t)
	d := s.depot()
	h, token := s.handler()
	assemblies := s.assemblies(d)
	session := s.signIn(h)

	random := rand.New(rand.NewPCG(17, 42))
	proposed := 0
	for i := range 100 {
		j := invent(random, assemblies[i%len(assemblies)])
		in, err := json.Marshal(j.calc)
		if err != nil {
			t.Fatal(err)
		}

		page := takenOver(t, h, session, j)
		byAPI := s.askAPI(h, token, in)
		out, err := s.run(string(in), "calc", "balance-weights")
		if err != nil {
			t.Fatalf("job %d: %v\n%s", i, err, in)
		}
		byCommand := pieces(t, []byte(out))

		if !slices.Equal(byAPI, byCommand) {
			t.Errorf("job %d: the API proposes %v, the command line %v\n%s", i, byAPI, byCommand, in)
		}
		if !same(page, byAPI) {
			t.Errorf("job %d: the page proposes %v, the API %v\n%s\n%s", i, page, byAPI, in, j.form.Encode())
		}
		proposed += len(page)
	}
	if proposed < 100 {
		t.Errorf("only %d weights are proposed for 100 jobs: the jobs ask for too little to compare", proposed)
	}
}

// same reports whether two proposals differ by no more than the page rounds.
func same(a, b []fitted) bool {
	byPlace := func(x, y fitted) int {
		return strings.Compare(fmt.Sprintf("%s %4.0f", x.Place, x.Deg), fmt.Sprintf("%s %4.0f", y.Place, y.Deg))
	}
	slices.SortFunc(a, byPlace)
	slices.SortFunc(b, byPlace)

	return slices.EqualFunc(a, b, func(x, y fitted) bool {
		turn := math.Abs(math.Mod(x.Deg-y.Deg+540, 360) - 180)
		return x.Place == y.Place && x.Spot == y.Spot && math.Abs(x.MassG-y.MassG) <= 0.00501 && turn <= 0.0501
	})
}

// assemblies returns a truck's, a car's and a loose wheel, all invented.
func (s *shell) assemblies(d models.Depot) []assembly {
	s.t.Helper()
	ctx := context.Background()
	st, err := store.Open(ctx, s.db(), store.Options{})
	if err != nil {
		s.t.Fatal(err)
	}
	defer st.Close()
	f := fleet.New(st, fleet.Options{})

	tire := func(number, size string) models.Tire {
		out, err := f.CreateTire(ctx, command(), models.Tire{ID: models.TireID(newID()), DepotID: d.ID, Number: number,
			Size: size, NewDepths: []units.Length{10 * units.Millimetre}})
		if err != nil {
			s.t.Fatal(err)
		}
		return out
	}
	mounted := func(class models.Class, size string, axle models.Axle) assembly {
		v, err := f.CreateVehicle(ctx, command(), models.Vehicle{ID: models.VehicleID(newID()), DepotID: d.ID,
			Number: "U-" + string(class), Class: class, Axles: []models.Axle{axle, {Driven: true}}})
		if err != nil {
			s.t.Fatal(err)
		}
		meta := models.Meta{ID: models.EventID(newID()), VehicleID: v.ID, At: time.Now().Add(-time.Hour)}
		fit := &models.Fit{Meta: meta, Existing: true, Fittings: []models.Fitting{{TireID: tire("A-"+string(class), size).ID, Position: "1L"}}}
		if _, err := f.Record(ctx, command(), fit); err != nil {
			s.t.Fatal(err)
		}
		return assembly{"/vehicles/" + string(v.ID) + "/bench/1L", string(class), string(axle.Role()), size}
	}

	loose := tire("A-loose", "295/75R22.5 144/141L")
	return []assembly{
		mounted(models.Tractor, "295/75R22.5 144/141L", models.Axle{Steered: true}),
		mounted(models.Bus, "11R22.5 146/143L", models.Axle{Steered: true}),
		mounted(models.Car, "205/55R16 91V", models.Axle{Steered: true}),
		{path: "/tires/" + string(loose.ID) + "/bench", size: loose.Size},
	}
}

func newID() string { return modeltest.NewID[string]() }

// invent makes a job for an assembly.
func invent(random *rand.Rand, at assembly) job {
	heavy := at.class != "car"
	radius, clips, segments := 200+random.IntN(20), []int{5, 10, 15, 20, 30, 45, 60}, []int{5}
	if heavy {
		radius, clips, segments = 280+random.IntN(20), []int{25, 50, 75, 100, 150, 200, 300}, []int{25}
	}
	way := random.IntN(4)
	if way > 0 { // two planes: more sizes cost little
		clips = clips[:3+random.IntN(len(clips)-2)]
	} else {
		clips = clips[1:4]
	}
	depth, band, bandDepth := 150+random.IntN(80), radius-20-random.IntN(20), 40+random.IntN(40)

	b := jobMaker{random, url.Values{"do": {"take"}, "id": {newID()}}, map[string]any{}, map[string]any{}}
	b.words("class", at.class, "axle_role", at.role, "size", at.size)
	b.box(clips, segments)
	b.form.Set("geometry.outer_radius", mm(radius))
	b.form.Set("geometry.inner_radius", mm(radius))
	b.form.Set("geometry.inner_offset", mm(depth))
	b.form.Set("geometry.adhesive_radius", mm(band))
	b.form.Set("geometry.adhesive_offset", mm(bandDepth))

	outer, inner := circle(radius, 0), circle(radius, depth)
	flange := map[string]any{"name": "outer", "kind": "clip", "plane": outer}
	other := map[string]any{"name": "inner", "kind": "clip", "plane": inner}
	hidden := map[string]any{"name": "band", "kind": "adhesive", "plane": circle(band, bandDepth)}
	b.block(flange, other, hidden)
	b.calc["planes"] = map[string]any{"outer": outer, "inner": inner}
	b.form.Set("planes", "flanges")

	most := slices.Max(clips) // what the box can cure: one clip a place, on heavy wheels two
	if heavy {
		most *= 2
	}
	switch way {
	case 0: // one plane, shown alone
		b.mode("single_plane", "static", flange, other)
		b.calc["single"] = b.shown("single", most)
	case 1: // behind the spokes
		b.spokes(hidden)
		b.mode("hidden", "two-plane", hidden, other)
		b.calc["outer"], b.calc["inner"] = b.shown("outer", most), b.shown("inner", most)
	default:
		b.mode("two_plane", "two-plane", flange, other)
		b.calc["outer"], b.calc["inner"] = b.shown("outer", most), b.shown("inner", most)
	}
	b.calc["problem"] = b.problem

	return job{at, b.form, b.calc}
}

// jobMaker writes each thing twice: as the form and as the calculator has it.
type jobMaker struct {
	*rand.Rand
	form    url.Values
	calc    map[string]any
	problem map[string]any
}

func mm(n int) string { return strconv.Itoa(n) + " mm" }

func circle(radius, depth int) map[string]any {
	return map[string]any{"radius_mm": radius, "offset_mm": -depth}
}

func (b jobMaker) words(pairs ...string) {
	for i := 0; i < len(pairs); i += 2 {
		b.calc[pairs[i]] = pairs[i+1]
	}
}

// box writes the sizes in grams, as bare masses: what else a strip needs is chosen.
func (b jobMaker) box(clips, segments []int) {
	var stock []any
	write := func(field, kind string, sizes []int) {
		var texts []string
		for _, g := range sizes {
			texts = append(texts, strconv.Itoa(g)+" g")
			stock = append(stock, map[string]any{"name": strconv.Itoa(g) + " g", "kind": kind, "mass_g": g})
		}
		b.form.Set(field, strings.Join(texts, "; "))
	}

	write("clips", "clip", clips)
	write("segments", "adhesive", segments)
	b.problem["stock"] = stock
}

// block writes a stretch where nothing fits, half of the time.
func (b jobMaker) block(places ...map[string]any) {
	if b.IntN(2) == 0 {
		return
	}

	from := b.IntN(360)
	to := (from + 10 + b.IntN(30)) % 360
	b.form.Set("geometry.blocked", fmt.Sprintf("%d-%d", from, to))
	for _, p := range places {
		p["blocked"] = []any{map[string]any{"from_deg": from, "to_deg": to}}
	}
}

func (b jobMaker) spokes(hidden map[string]any) {
	n := 5 + b.IntN(6)
	var texts []string
	var spots []any
	for i := range n {
		deg := i * 360 / n
		texts = append(texts, strconv.Itoa(deg))
		spots = append(spots, map[string]any{"name": fmt.Sprintf("spoke %d", i+1), "deg": deg})
	}

	b.form.Set("geometry.spokes", strings.Join(texts, " "))
	hidden["spots"] = spots
}

func (b jobMaker) mode(form, calc string, places ...map[string]any) {
	b.form.Set("mode", form)
	b.problem["mode"], b.problem["places"] = calc, places
}

// shown writes what the machine asks for in a plane.
func (b jobMaker) shown(plane string, most int) map[string]any {
	g, deg := b.IntN(most), b.IntN(360)
	b.form.Set("shown."+plane+".mass", strconv.Itoa(g)+" g")
	b.form.Set("shown."+plane+".angle", strconv.Itoa(deg))

	return map[string]any{"mass_g": g, "deg": deg}
}

// signIn signs the shell's manager in to the pages.
func (s *shell) signIn(h http.Handler) []*http.Cookie {
	s.t.Helper()
	rec := postForm(h, "/sign-in", url.Values{"email": {"lee@larkfield.example"}, "password": {"a long enough word"}})
	if rec.Code != http.StatusSeeOther {
		s.t.Fatalf("sign in: %d", rec.Code)
	}

	return rec.Result().Cookies()
}

func postForm(h http.Handler, path string, form url.Values, session ...*http.Cookie) *httptest.ResponseRecorder {
	req := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for _, c := range session {
		req.AddCookie(c)
	}

	rec := httptest.NewRecorder()
	h.ServeHTTP(rec, req)
	return rec
}

// askAPI returns what POST /calc/balance-weights proposes.
func (s *shell) askAPI(h http.Handler, token string, in []byte) []fitted {
	s.t.Helper()
	req := httptest.NewRequest(http.MethodPost, "/api/v1/calc/balance-weights", bytes.NewReader(in))
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("Authorization", "Bearer "+token)

	rec := httptest.NewRecorder()
	h.ServeHTTP(rec, req)
	if rec.Code != http.StatusOK {
		s.t.Fatalf("the API answers %d %s\n%s", rec.Code, rec.Body, in)
	}

	return pieces(s.t, rec.Body.Bytes())
}

func pieces(t *testing.T, out []byte) []fitted {
	t.Helper()
	var got struct{ Pieces []fitted }
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatal(err)
	}

	return got.Pieces
}

var (
	input  = regexp.MustCompile(`<input[^>]* name="fitted\.(\d)\.(mass|angle|place)"[^>]*>`)
	value  = regexp.MustCompile(` value="([^"]*)"`)
	choice = regexp.MustCompile(`(?s)<select[^>]* name="fitted\.(\d)\.plane".*?</select>`)
	chosen = regexp.MustCompile(`value="([^"]*)" selected`)
)

// takenOver returns the weights that the page writes into the technician's rows when its
// proposal is taken over.
func takenOver(t *testing.T, h http.Handler, session []*http.Cookie, j job) []fitted {
	t.Helper()
	rec := postForm(h, j.at.path, j.form, session...)
	body := rec.Body.String()
	rows := map[string]string{}
	for _, m := range input.FindAllStringSubmatch(body, -1) {
		if v := value.FindStringSubmatch(m[0]); v != nil {
			rows[m[1]+m[2]] = v[1]
		}
	}
	for _, m := range choice.FindAllStringSubmatch(body, -1) {
		if v := chosen.FindStringSubmatch(m[0]); v != nil {
			rows[m[1]+"plane"] = v[1]
		}
	}

	var out []fitted
	for i := range 4 {
		row := strconv.Itoa(i)
		if rows[row+"mass"] == "" {
			continue
		}
		g, err := units.ParseMass(rows[row+"mass"], units.G)
		if err != nil {
			t.Fatalf("the page writes %q: %v", rows[row+"mass"], err)
		}
		deg, err := strconv.ParseFloat(rows[row+"angle"], 64)
		if err != nil {
			t.Fatalf("the page writes %q: %v", rows[row+"angle"], err)
		}
		out = append(out, fitted{rows[row+"plane"], float64(g), deg, rows[row+"place"]})
	}

	if rec.Code != http.StatusOK || !strings.Contains(body, "Proposed") {
		t.Fatalf("the page answers %d and proposes nothing for %s\n%s", rec.Code, j.form.Encode(), j.at.path)
	}

	return out
}
