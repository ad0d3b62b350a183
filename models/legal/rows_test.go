package legal_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rimledger/models/legal"
)

// published is what the texts say, typed row by row from the reading of November
// 2026 and apart from the table: id, least depth in the law's own unit, axles
// (a any, s steered, o other than steered, d driven), how it is measured (p any
// point, 2 two adjacent grooves, 3 those at three places, n any two at three
// places, x three places 8 in apart, 4 one of four may be below), the vehicle's
// mass in kg above and up to which it holds, season, status. The rows name
// their sources.
const published = `
US-393.75(b)          4/32 in  s p 4536 -    -                F2
US-393.75(c)          2/32 in  o p 4536 -    -                F2
US-393.75(c)-trailer  2/32 in  a p -    -    -                F2
US-570.62(a)-front    4/32 in  s 3 4536 -    -                F
US-570.62(a)-other    2/32 in  o 3 4536 -    -                F
US-570.9(a)           2/32 in  a 3 -    4536 -                M
US-396-front          4/32 in  s p -    -    -                M
US-396-other          2/32 in  o p -    -    -                M
US-OOS-front          2/32 in  s 2 -    -    -                M
US-OOS-other          1/32 in  o x -    -    -                F2
US-VA-car             2/32 in  a 3 -    4536 -                F
US-MD-transit         2/32 in  o n -    -    -                F
US-MD-motorcycle      1/32 in  a p -    -    -                F
US-IA-Bettendorf      0.0625 in a 2 -   -    -                F
EU-89/459             1.6 mm   a p -    -    -                F
FR-light              1.6 mm   a p -    -    -                F
FR-heavy              1 mm     a 4 -    -    -                F
DE-36                 1.6 mm   a p -    -    -                F2
DE-36-small           1.0 mm   a p -    -    -                F2
DE-winter             1.6 mm   a p -    -    situational      F2
DE-winter-advice      4 mm     a p -    3500 situational      F2
AT-light              1.6 mm   a p -    3500 -                F
AT-heavy              2 mm     a p 3500 -    -                F
AT-moped              1 mm     a p -    -    -                F
AT-winter-light       4 mm     a p -    3500 11-1..4-15       F
AT-winter-light-bias  5 mm     a p -    3500 11-1..4-15       F
AT-winter-truck       5 mm     d p 3500 -    11-1..4-15       F
AT-winter-truck-bias  6 mm     d p 3500 -    11-1..4-15       F
AT-winter-bus         5 mm     d p 3500 -    11-1..3-15       F
AT-winter-bus-bias    6 mm     d p 3500 -    11-1..3-15       F
SE-winter-light       3 mm     a p -    3500 12-1..3-31       F2
SE-winter-heavy       5 mm     a p 3500 -    12-1..3-31       F
SE-winter-trailer     1.6 mm   a p -    -    12-1..3-31       F
FI-winter-drive       5.0 mm   d p 3500 -    12-1..2-29       F2
FI-winter-other       3.0 mm   o p 3500 -    12-1..2-29       M
FI-winter-light       3 mm     a p -    3500 11-1..3-31       M
NO-heavy              1.6 mm   a p 3500 -    -                F2
NO-winter-heavy       5 mm     a p 3500 -    11-1..easter+8   F2
NO-winter-north       5 mm     a p 3500 -    10-15..4-30      F2
NO-winter-light       3 mm     a p -    3500 11-1..easter+8   M
GB-27-light           1.6 mm   a p -    3500 -                F2
GB-27-heavy           1.0 mm   a p 3500 -    -                F2
GB-27-minibus         1.0 mm   a p -    3500 -                M
GB-motorcycle         1 mm     a p -    -    -                F2
CA-ON                 1.5 mm   a p -    -    -                F2
CA-ON-front           3 mm     s p 4500 -    -                F2
CA-QC                 1.6 mm   a p -    -    -                F
CA-QC-major           0.8 mm   a p -    -    -                F
CA-QC-winter          4.8 mm   a p -    4500 12-1..3-15       F
CA-NSC11-front        3 mm     s p 4500 -    -                M
CA-NSC11-other        1.5 mm   o p 4500 -    -                M
CA-BC-mountain        3.5 mm   a p -    -    situational      M
AU-WA-heavy           1.5 mm   a p 4500 -    -                F
AU-WA-light           1.5 mm   a p -    4500 -                F
AU-NHVR               1.5 mm   a p 4500 -    -                F2
NZ                    1.5 mm   a p -    -    -                F2
NZ-winter             4 mm     a p -    -    -                F2
JP                    1.6 mm   a p -    -    -                F2
JP-expressway-car     1.6 mm   a p -    -    situational      F2
JP-expressway-light   2.4 mm   a p -    -    situational      F2
JP-expressway-heavy   3.2 mm   a p -    -    situational      F2
ZA                    1.0 mm   a p -    -    -                F2
ZA-indicator          1.6 mm   a p -    -    -                F2
BR                    1.6 mm   a p -    -    -                F2
BR-motorcycle         1.0 mm   a p -    -    -                F2
RU-light              1.6 mm   a p -    -    -                F2
RU-trucks             1.0 mm   a p -    -    -                F2
RU-buses              2.0 mm   a p -    -    -                F2
RU-winter             4.0 mm   a p -    -    situational      F2
RU-L                  0.8 mm   a p -    -    -                F2
IN                    1.6 mm   a p -    -    -                M
IN-small              0.8 mm   a p -    -    -                M
MX-steer              3.2 mm   s p -    -    -                M
MX-other              1.6 mm   o p -    -    -                M`

// TestTableSaysWhatWasPublished: the table has every row that was read, as it was read,
// and no other.
func TestTableSaysWhatWasPublished(t *testing.T) {
	t.Parallel()

	lines := strings.Split(strings.TrimSpace(published), "\n")
	for _, line := range lines {
		checkRow(t, line)
	}
	if len(lines) != len(legal.All()) {
		t.Errorf("%d rows were read, the table has %d", len(lines), len(legal.All()))
	}
}

// checkRow compares one line of published with its rule.
func checkRow(t *testing.T, line string) {
	t.Helper()
	axles := map[string]legal.Axles{"a": legal.AnyAxle, "s": legal.SteerAxle, "o": legal.OtherAxles,
		"d": legal.DriveAxle}
	sampling := map[string]legal.Sampling{"p": legal.AnyPoint, "2": legal.Adjacent, "3": legal.AdjacentThrice,
		"n": legal.AnyTwoThrice, "x": legal.AdjacentApart, "4": legal.FourPoints}
	kg := func(s string) int { n, _ := strconv.Atoi(s); return n }

	type row struct {
		min        string
		axles      legal.Axles
		sampling   legal.Sampling
		over, upto int
		season     string
		status     legal.Status
		on         bool
	}

	f := strings.Fields(line)
	r := rule(t, f[0])
	got := row{r.MinText, r.Axles, r.Sampling, r.MassOverKG, r.MassUptoKG, seasonText(r), r.Status, r.On()}
	want := row{f[1] + " " + f[2], axles[f[3]], sampling[f[4]], kg(f[5]), kg(f[6]), f[7], legal.Status(f[8]),
		f[8] != "M"}
	if got != want {
		t.Errorf("%s: %+v; read was %+v", r.ID, got, want)
	}
}

// seasonText writes when a rule is in force as published does.
func seasonText(r legal.Rule) string {
	s := r.Season
	switch {
	case s != nil && s.DaysAfterEaster > 0:
		return fmt.Sprintf("%d-%d..easter+%d", s.From.Month, s.From.Day, s.DaysAfterEaster)
	case s != nil:
		return fmt.Sprintf("%d-%d..%d-%d", s.From.Month, s.From.Day, s.To.Month, s.To.Day)
	case r.Situational:
		return "situational"
	}
	return "-"
}

// TestOtherNumbers: the limits that are no minimum depth, typed from the reading of
// November 2026.
func TestOtherNumbers(t *testing.T) {
	t.Parallel()

	for id, want := range map[string]float64{
		"FR-axle": 5, "US-MD-duals": 0.5, "GB-age-goods": 10, "GB-age-minibus": 10, "GB-age-record": 10,
		"NZ-axle": 6, "NZ-axle-MD3": 2, "NZ-axle-ply": 2, "NZ-axle-rating": 21, "NZ-cut": 25, "GB-27-cut": 25,
		"US-393.75(e)": 4920, "US-393.75-hot-light": 5, "US-393.75-hot-heavy": 15, "US-393.75-permit": 50,
		"US-570.10": 0.125, "US-OOS-pressure": 50, "FR-indicator": 0.6, "CA-QC-studs": 3000, "CA-ON-age": 10,
		"US-393.75(d)": 0,
	} {
		i := slices.IndexFunc(legal.Others(), func(o legal.Other) bool { return o.ID == id })
		if i < 0 {
			t.Errorf("no row %s", id)
		} else if got := legal.Others()[i].Limit; got != want {
			t.Errorf("%s: %g, read was %g", id, got, want)
		}
	}
}
