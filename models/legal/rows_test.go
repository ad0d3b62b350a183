package legal_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rimledger/models/legal"
)

// published is what the texts say, typed row by row from the reading of November
// 2026 and apart from the table. The columns:
//
//	id
//	in force: jurisdictions
//	vehicles: categories of R.E.3, or classes (c car, l light truck, r rigid truck, t tractor, b bus,
//	T trailer, y motorcycle, p moped), with the mass in kg above (>) and up to (<) which it holds
//	axles (a any, s steered, o other than steered, d driven, D driven and not steered, N all but those) and
//	how it is measured (p any point, 2 two adjacent grooves, 3 those at three places, n any two at three
//	places, x three places 8 in apart, 4 one of four may be below)
//	tires: w winter, r radial, b bias
//	least depth in the law's own unit
//	f: a depth equal to it fails; i: tread level with the indicator fails
//	grooves (m major, c central three quarters, b a band of three quarters, f full breadth)
//	season; ? in conditions of the day or road only
//	v violation, o out of service, a advice or condition
//	status
//
// The rows of the table name their sources.
const published = `
US-393.75(b)          US       lrtb>4536        s p -  4/32_in   -  m -               v F
US-393.75(c)          US       lrtb>4536        o p -  2/32_in   -  m -               v F
US-393.75(c)-trailer  US       T                a p -  2/32_in   -  m -               v F
US-570.62(a)-front    US       lrtb>4536        s 3 -  4/32_in   -  m -               v F
US-570.62(a)-other    US       lrtbT>4536       o 3 -  2/32_in   -  m -               v F
US-570.9(a)           US       clT<4536         a 3 -  2/32_in   -  m -               v M
US-396-front          US       rtb              s p -  4/32_in   -  m -               v M
US-396-other          US       rtbT             o p -  2/32_in   -  m -               v M
US-OOS-front          US       rtb              s 2 -  2/32_in   -  m -               o M
US-OOS-other          US       rtbT             o x -  1/32_in   -  m -               o F2
US-VA-car             US-VA    cl<4536          a 3 -  2/32_in   i  m -               v F
US-MD-transit         US-MD    b                o n -  2/32_in   i  m -               v F
US-MD-motorcycle      US-MD    y                a p -  1/32_in   i  f -               v F
US-IA-Bettendorf      US-IA    cl               a 2 -  0.0625_in -  m -               v F
EU-89/459             EU       M1,N1,O1,O2      a p -  1.6_mm    -  c -               v F
FR-light              FR       M1,N1,O1,O2      a p -  1.6_mm    -  m -               v F
FR-heavy              FR       M2,M3,N2,N3,O3,O4 a 4 - 1_mm      -  m -               v F
DE-36                 DE       clrtbT           a p -  1.6_mm    -  c -               v F
DE-36-small           DE       p                a p -  1.0_mm    -  m -               v F
DE-winter             DE       clrtbT           a p -  1.6_mm    -  m ?               a F
DE-winter-advice      DE       cl<3500          a p w  4_mm      -  m ?               a F2
AT-light              AT       clT<3500         a p -  1.6_mm    -  c -               v F
AT-heavy              AT       lrtbT>3500       a p -  2_mm      -  c -               v F
AT-moped              AT       p                a p -  1_mm      -  c -               v F
AT-winter-light       AT       cl<3500          a p wr 4_mm      -  m 11-1..4-15?     a F
AT-winter-light-bias  AT       cl<3500          a p wb 5_mm      -  m 11-1..4-15?     a F
AT-winter-truck       AT       lrt>3500         d p wr 5_mm      -  m 11-1..4-15      a F
AT-winter-truck-bias  AT       lrt>3500         d p wb 6_mm      -  m 11-1..4-15      a F
AT-winter-bus         AT       b>3500           d p wr 5_mm      -  m 11-1..3-15      a F
AT-winter-bus-bias    AT       b>3500           d p wb 6_mm      -  m 11-1..3-15      a F
SE-winter-light       SE       clrb<3500        a p -  3_mm      -  m 12-1..3-31?     a F2
SE-winter-heavy       SE       lrtb>3500        a p -  5_mm      -  m 11-10..4-10     v F2
SE-winter-trailer     SE       T>3500           a p -  1.6_mm    -  m 11-10..4-10     v F2
SE-winter-trailer-light SE     T<3500           a p -  1.6_mm    -  m 12-1..3-31?     a F2
FI                    FI       clrtbT           a p -  1.6_mm    -  m -               v F
FI-motorcycle         FI       y                a p -  1.0_mm    -  m -               v F
FI-winter-drive       FI       lrtb>3500        D p -  5.0_mm    -  m 11-1..3-31?     a F
FI-winter-other       FI       lrtbT>3500       N p -  3.0_mm    -  m 11-1..3-31?     a F
FI-winter-light       FI       cl<3500          a p -  3_mm      -  m 11-1..3-31?     a F
FI-winter-trailer     FI       T>750<3500       a p -  3_mm      -  m 11-1..3-31?     a F
NO-heavy              NO,NO-N  lrtbT>3500       a p -  1.6_mm    -  m -               v F
NO-winter-heavy       NO       lrtbT>3500       a p -  5_mm      -  m 11-1..easter+7  v F
NO-winter-north       NO-N     lrtbT>3500       a p -  5_mm      -  m 10-16..4-30     v F
NO-winter-light       NO       clT<3500         a p -  3_mm      -  m 11-1..easter+7  v F
NO-winter-light-north NO-N     clT<3500         a p -  3_mm      -  m 10-16..4-30     v F
GB-27-light           GB       M1,N1,O1,O2      a p -  1.6_mm    -  c -               v F
GB-27-heavy           GB       M2,M3,N2,N3,O3,O4 a p - 1.0_mm    -  b -               v F
GB-motorcycle         GB       y                a p -  1_mm      -  b -               v F
CA-ON                 CA-ON    clrtbT           a 3 -  1.5_mm    i  m -               v F2
CA-ON-front           CA-ON    lrtb>4500        s p -  3_mm      -  m -               v F2
CA-QC                 CA-QC    clrtbT           a p -  1.6_mm    i  m -               v F
CA-QC-major           CA-QC    clrtbT           a p -  0.8_mm    -  m -               o F
CA-QC-winter          CA-QC    cl<4500          a p -  4.8_mm    -  m 12-1..3-15      a F2
CA-NSC11-front        CA       rtb>4500         s p -  3_mm      -  m -               v M
CA-NSC11-other        CA       rtbT>4500        o p -  1.5_mm    -  m -               v M
CA-BC-mountain        CA-BC    cl               a p w  3.5_mm    -  m 10-1..4-30?     a F2
AU-WA-heavy           AU-WA    lrtbT>4500       a p -  1.5_mm    -  b -               v F
AU-WA-light           AU-WA    clT<4500         a p -  1.5_mm    -  f -               v F
AU-NHVR               AU       rtbT>4500        a p -  1.5_mm    -  b -               v F2
NZ                    NZ       clrtbT           a p -  1.5_mm    -  m -               v F2
NZ-winter             NZ       cl               a p w  4_mm      -  m -               a F2
JP                    JP       clrtbT           a p -  1.6_mm    -  f -               v F2
JP-expressway-car     JP       c                a p -  1.6_mm    -  m ?               a F2
JP-expressway-light   JP       l                a p -  2.4_mm    -  m ?               a F2
JP-expressway-heavy   JP       rtb              a p -  3.2_mm    -  m ?               a F2
ZA                    ZA       clrtbT           a p -  1.0_mm    -  f -               v F2
ZA-indicator          ZA       clrtbT           a p -  1.6_mm    fi m -               v F2
BR                    BR       clrtbT           a p -  1.6_mm    i  m -               v F2
BR-motorcycle         BR       y                a p -  1.0_mm    i  m -               v F2
RU-light              RU       M1,N1,O1,O2      a p -  1.6_mm    fi m -               v F2
RU-trucks             RU       N2,N3,O3,O4      a p -  1.0_mm    fi m -               v F2
RU-buses              RU       M2,M3            a p -  2.0_mm    fi m -               v F2
RU-winter             RU       clrtbT           a p w  4.0_mm    f  m ?               a F2
RU-L                  RU       L                a p -  0.8_mm    fi m -               v F2
IN                    IN       clrtbT           a p -  1.6_mm    i  m -               v M
IN-small              IN       y                a p -  0.8_mm    i  m -               v M
MX-steer              MX       rtb              s p -  3.2_mm    -  m -               v M
MX-other              MX       rtbT             o p -  1.6_mm    -  m -               v M`

// TestTableSaysWhatWasPublished: the table has every row that was read, as it was read,
// and no other.
func TestTableSaysWhatWasPublished(t *testing.T) {
	t.Parallel()

	lines := strings.Split(strings.TrimSpace(published), "\n")
	for _, line := range lines {
		want := strings.Join(strings.Fields(line), " ")
		id, _, _ := strings.Cut(want, " ")
		if got := lineOf(rule(t, id)); got != want {
			t.Errorf("the table says %s\nread was       %s", got, want)
		}
	}

	if len(lines) != len(legal.All()) {
		t.Errorf("%d rows were read, the table has %d", len(lines), len(legal.All()))
	}
}

// lineOf writes a rule as a line of published.
func lineOf(r legal.Rule) string {
	axles := map[legal.Axles]string{legal.AnyAxle: "a", legal.SteerAxle: "s", legal.OtherAxles: "o",
		legal.DriveAxle: "d", legal.DrivenOnly: "D", legal.NotDrivenOnly: "N"}
	sampling := map[legal.Sampling]string{legal.AnyPoint: "p", legal.Adjacent: "2", legal.AdjacentThrice: "3",
		legal.AnyTwoThrice: "n", legal.AdjacentApart: "x", legal.FourPoints: "4"}
	grooves := map[legal.Grooves]string{legal.Major: "m", legal.Central: "c", legal.Band75: "b", legal.Full: "f"}
	consequence := map[legal.Consequence]string{legal.Violation: "v", legal.OutOfService: "o", legal.Advisory: "a"}

	return strings.Join([]string{r.ID, strings.Join(r.Jurisdictions, ","), vehiclesText(r), axles[r.Axles],
		sampling[r.Sampling], marks("wrb", r.WinterOnly, r.RadialOnly, r.BiasOnly),
		strings.ReplaceAll(r.MinText, " ", "_"), marks("fi", r.EqualFails, r.AtIndicatorFails), grooves[r.Grooves],
		seasonText(r), consequence[r.Consequence], string(r.Status)}, " ")
}

// marks returns the letters of those that are set; "-": none.
func marks(letters string, set ...bool) string {
	out := ""
	for i, on := range set {
		if on {
			out += letters[i : i+1]
		}
	}
	if out == "" {
		return "-"
	}
	return out
}

// vehiclesText writes which vehicles a rule is about, as published does.
func vehiclesText(r legal.Rule) string {
	var out string
	for i, c := range r.Categories {
		if i > 0 {
			out += ","
		}
		out += string(c)
	}

	letters := []struct{ class, letter string }{{"car", "c"}, {"light_truck", "l"}, {"rigid_truck", "r"},
		{"tractor", "t"}, {"bus", "b"}, {"trailer", "T"}, {"motorcycle", "y"}, {"moped", "p"}}
	for _, l := range letters {
		if slices.Contains(r.Classes, l.class) {
			out += l.letter
		}
	}

	if r.MassOverKG > 0 {
		out += fmt.Sprint(">", r.MassOverKG)
	}
	if r.MassUptoKG > 0 {
		out += fmt.Sprint("<", r.MassUptoKG)
	}
	if r.SeatsUpto > 0 || r.SingleOnly {
		out += "!" // no rule on depth is so bounded
	}
	return out
}

// anyTire marks a row that is about some tires only, where no text that was read is.
func anyTire(r legal.Rule) string {
	if r.WinterOnly || r.RadialOnly || r.BiasOnly {
		return "!"
	}
	return ""
}

// seasonText writes when a rule is in force as published does.
func seasonText(r legal.Rule) string {
	out := ""
	switch s := r.Season; {
	case s != nil && s.DaysAfterEaster > 0:
		out = fmt.Sprintf("%d-%d..easter+%d", s.From.Month, s.From.Day, s.DaysAfterEaster)
	case s != nil:
		out = fmt.Sprintf("%d-%d..%d-%d", s.From.Month, s.From.Day, s.To.Month, s.To.Day)
	}

	if r.Situational {
		out += "?"
	}
	if out == "" {
		return "-"
	}
	return out
}

// publishedOthers is the same for the rules whose number is not a minimum depth: id, in
// force, vehicles and mass, passenger seats above (>) and up to (<), axles, s for single
// tires only, kind, limit, status.
const publishedOthers = `
FR-axle             FR    clrtbT     -     a - axle_difference_mm    5     F
FR-indicator        FR    c          -     a - indicator_over_mm     0.6   F
US-MD-duals         US-MD rtbT       -     a - dual_diameter_in      0.5   F
US-570.62(b)        US    lrtbT>4536 -     a - dual_diameter_in      0.5   F
GB-age-goods        GB    lrtb>3500  -     s - age_years             10    F
GB-age-minibus      GB    cb         >8<16 a s age_years             10    F
GB-age-record       GB    lrtbT>3500 -     a - age_record_years      10    F2
CA-ON-age           CA-ON clrtbT     -     a - age_years             10    F2
NZ-axle             NZ    b          -     a - load_index_difference 6     F
NZ-axle-MD3         NZ    b          -     a - load_index_difference 2     M
NZ-axle-ply         NZ    b          -     a - ply_rating_difference 2     F
NZ-axle-rating      NZ    b          -     a - load_rating_percent   21    F
NZ-cut              NZ    b          -     a - cut_mm                25    F
GB-27-cut           GB    clrtbT     -     a - cut_mm                25    F
US-393.75(d)        US    b          -     s - retread_barred        0     F
US-393.75(e)        US    lrt>4536   -     s - regrooved_load_lb     4920  F
US-393.75-hot-light US    lrtbT      -     a - hot_pressure_psi      5     F
US-393.75-hot-heavy US    lrtbT      -     a - hot_pressure_psi      15    F
US-393.75-permit    US    lrtbT      -     a - permit_speed_mph      50    F
US-570.10           US    cl<4536    -     a - wheel_runout_in       0.125 F
US-OOS-pressure     US    rtbT       -     a - pressure_percent      50    M
CA-QC-studs         CA-QC cl         -     a - studs_mass_kg         3000  F`

// TestOtherNumbers: the second table has every row that was read, as it was read, and no
// other.
func TestOtherNumbers(t *testing.T) {
	t.Parallel()

	lines := strings.Split(strings.TrimSpace(publishedOthers), "\n")
	for _, line := range lines {
		want := strings.Join(strings.Fields(line), " ")
		id, _, _ := strings.Cut(want, " ")
		i := slices.IndexFunc(legal.Others(), func(o legal.Other) bool { return o.ID == id })
		if i < 0 {
			t.Errorf("no row %s", id)
		} else if got := otherLine(legal.Others()[i]); got != want {
			t.Errorf("the table says %s\nread was       %s", got, want)
		}
	}

	if len(lines) != len(legal.Others()) {
		t.Errorf("%d rows were read, the table has %d", len(lines), len(legal.Others()))
	}
}

// otherLine writes a rule as a line of publishedOthers.
func otherLine(o legal.Other) string {
	seats := ""
	if o.SeatsOver > 0 {
		seats += fmt.Sprint(">", o.SeatsOver)
	}
	if o.SeatsUpto > 0 {
		seats += fmt.Sprint("<", o.SeatsUpto)
	}
	if seats == "" {
		seats = "-"
	}

	single, r := marks("s", o.SingleOnly), o.Rule
	r.SeatsUpto, r.SingleOnly = 0, false
	axles := map[legal.Axles]string{legal.AnyAxle: "a", legal.SteerAxle: "s"}
	vehicles := vehiclesText(r) + anyTire(r)
	return fmt.Sprintf("%s %s %s %s %s %s %s %g %s", o.ID, strings.Join(o.Jurisdictions, ","), vehicles, seats,
		axles[o.Axles], single, o.Kind, o.Limit, o.Status)
}

// publishedWinter is the same for the rules that require winter tires: id, in force,
// vehicles and mass, axles (also S: driven or steered), one: one drive axle is enough,
// season, status.
const publishedWinter = `
AT-winter-tires-truck AT      lrt>3500    d one 11-1..4-15      F
AT-winter-tires-bus   AT      b>3500      d one 11-1..3-15      F
AT-winter-tires-light AT      cl<3500     a all 11-1..4-15?     F
DE-winter-tires-light DE      M1,N1       a all 10-1..easter+1? F
DE-winter-tires-heavy DE      M2,M3,N2,N3 S all 10-1..easter+1? F
SE-winter-tires-light SE      clrbT<3500  a all 12-1..3-31?     F
SE-winter-tires-heavy SE      lrtbT>3500  a all 11-10..4-10     F
FI-winter-tires-light FI      cl<3500     a all 11-1..3-31?     F
FI-winter-tires-heavy FI      lrtb>3500   D all 11-1..3-31?     F
NO-winter-tires-heavy NO,NO-N lrtbT>3500  a all 11-15..3-31     F
CA-QC-winter-tires    CA-QC   cl<4500     a all 12-1..3-15      F
CA-BC-winter-tires    CA-BC   cl          a all 10-1..4-30?     F2`

// publishedGuidance is the same for what is said about damage: id, in force (-: general
// practice), vehicles and mass, subjects, f: the citation is a foreign rule, status.
const publishedGuidance = `
US-393.75(a)(1)   US    lrtbT>4536 exposed_cord       - F
US-393.75(a)(2)   US    lrtbT>4536 separation         - F
US-393.75(a)(3)   US    lrtbT>4536 flat,leak          - F
US-393.75(a)(4)   US    lrtbT>4536 cut_to_cord        - F
US-OOS-wedged     US    rtbT       wedged             - F2
US-1910.177       US    rtbT       run_flat           - F
US-VA-mixing      US-VA clrtbT     mixed_construction - F
US-574.5          US    clrtbT     date_code          - F
GB-27-cut-cord    GB    clrtbT     cut_to_cord        - F
GB-27-lump        GB    clrtbT     bulge,separation   - F
GB-27-cord        GB    clrtbT     exposed_cord       - F
NZ-cut-cord       NZ    b          cut_to_cord        - F
practice-tire     -     clrtbT     exposed_cord,cut_to_cord,separation,bulge,flat,leak - F2
practice-wheel    -     clrtbT     contact,wedged,loose_nuts,cracked_wheel - F2
practice-run-flat -     clrtbT     run_flat           f F
practice-mixing   -     clrtbT     mixed_construction f F
practice-retread  -     clrtbT     retread_bus_front  f F
practice-date     -     clrtbT     date_code          f F`

// TestWinterAndGuidance: the other two tables have every row that was read, as it was
// read, and no other.
func TestWinterAndGuidance(t *testing.T) {
	t.Parallel()

	var winter, said []string
	for _, w := range legal.Winters() {
		axles := map[legal.Axles]string{legal.AnyAxle: "a", legal.DriveAxle: "d", legal.DrivenOnly: "D",
			legal.DrivenOrSteer: "S"}
		need := map[legal.Need]string{legal.EveryTire: "all", legal.OneDriveAxle: "one"}
		winter = append(winter, strings.Join([]string{w.ID, strings.Join(w.Jurisdictions, ","),
			vehiclesText(w.Rule) + anyTire(w.Rule),
			axles[w.Axles], need[w.Need], seasonText(w.Rule), string(w.Status)}, " "))
	}

	for _, g := range legal.AllGuidance() {
		where := strings.Join(g.Jurisdictions, ",")
		if where == "" {
			where = "-"
		}
		var subjects []string
		for _, s := range g.Subjects {
			subjects = append(subjects, string(s))
		}
		said = append(said, strings.Join([]string{g.ID, where, vehiclesText(g.Rule) + anyTire(g.Rule),
			strings.Join(subjects, ","),
			marks("f", g.Foreign()), string(g.Status)}, " "))
	}

	if diff := cmp.Diff(plainLines(publishedWinter), winter); diff != "" {
		t.Errorf("winter tires (-read +table):\n%s", diff)
	}
	if diff := cmp.Diff(plainLines(publishedGuidance), said); diff != "" {
		t.Errorf("guidance (-read +table):\n%s", diff)
	}
}

// plainLines returns the lines of a table with one space between columns.
func plainLines(table string) []string {
	var out []string
	for _, line := range strings.Split(strings.TrimSpace(table), "\n") {
		out = append(out, strings.Join(strings.Fields(line), " "))
	}
	return out
}

// TestGuide: the nearest rule counts, then that of the country, then practice.
func TestGuide(t *testing.T) {
	t.Parallel()

	heavy, light := legal.Vehicle{Class: "tractor"}, legal.Vehicle{Class: "light_truck", MassKG: 4536}
	for _, tc := range []struct {
		name, jurisdiction string
		subject            legal.Subject
		vehicle            legal.Vehicle
		want               string
	}{
		{"a state has the country's", "US-VA", "flat", heavy, "US-393.75(a)(3)"},
		{"a state's own", "US-VA", legal.MixedConstruction, heavy, "US-VA-mixing"},
		{"another state", "US-MD", legal.MixedConstruction, heavy, "practice-mixing"},
		{"10,000 lb is no commercial vehicle", "US", "flat", light, "practice-tire"},
		{"above it is", "US", "flat", legal.Vehicle{Class: "light_truck", MassKG: 4537}, "US-393.75(a)(3)"},
		{"run flat is about large vehicles", "US", legal.RunFlat, light, "practice-run-flat"},
		{"an unknown place", "XX", "flat", heavy, "practice-tire"},
		{"an unknown subject", "US", "rust", heavy, ""},
		{"a truck in New Zealand", "NZ", "cut_to_cord", heavy, "practice-tire"},
		{"a bus there", "NZ", "cut_to_cord", legal.Vehicle{Class: "bus"}, "NZ-cut-cord"},
	} {
		if got := legal.Guide(tc.jurisdiction, tc.subject, tc.vehicle, legal.Place{}); got.ID != tc.want {
			t.Errorf("%s: %q, want %q", tc.name, got.ID, tc.want)
		}
	}
}

// address matches what an address of the web looks like.
var address = regexp.MustCompile(`(?i)https?:|www\.|\b[a-z0-9-]+\.(com|org|net|info|online|co\.[a-z]{2}|[a-z]{2})\b`)

// TestSourcesAreNoAddresses: a row names the statute and what kind of text was read, never
// somebody's page on the web.
func TestSourcesAreNoAddresses(t *testing.T) {
	t.Parallel()

	rules := legal.All()
	for _, o := range legal.Others() {
		rules = append(rules, o.Rule)
	}
	for _, w := range legal.Winters() {
		rules = append(rules, w.Rule)
	}
	for _, g := range legal.AllGuidance() {
		rules = append(rules, g.Rule)
	}

	for _, r := range rules {
		if r.Text == "" || r.Read != "2026-11" {
			t.Errorf("%s has no text or no date: %+v", r.ID, r)
		}
		for _, text := range []string{r.Source, r.Citation, r.Text} {
			if found := address.FindString(text); found != "" {
				t.Errorf("%s names the address %q in %q", r.ID, found, text)
			}
		}
	}
}
