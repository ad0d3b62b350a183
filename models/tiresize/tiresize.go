// Package tiresize reads what is written on a tire: its size designation, its
// service description (load index and speed symbol) and its identification
// number with the date of manufacture.
//
// Diameters are nominal, of the new tire on its measuring rim: D = d + 2H with
// the section height H rounded to the millimetre (UN ECE R30/R54 wording, from
// memory). Numeric truck sizes, which carry no aspect ratio, come from a table.
// The package computes no loads at pressure and declares no tire fit for use.
package tiresize

import (
	_ "embed"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"rimledger/models/units"
)

// Kind is the system that a designation is written in.
type Kind string

// The systems of size designations.
const (
	Metric    Kind = "metric"    // 295/80R22.5
	Numeric   Kind = "numeric"   // 11R22.5
	Flotation Kind = "flotation" // 31x10.50R15LT
)

// Service is a service description such as 152/148M.
type Service struct {
	LoadIndex int    // single; 0 if not written
	DualIndex int    // in duals; 0 if not written
	Speed     string // speed symbol, "(Y)" above Y; empty if not written
}

// Designation is a size with its service description.
type Designation struct {
	Kind         Kind
	Prefix       string  // P, LT or ST; empty if none is written
	WidthMM      float64 // nominal section width of a metric size
	WidthIn      float64 // of a numeric or flotation size
	Aspect       float64 // section height in percent of width; 0 if not written, see Diameter
	DiameterIn   float64 // written overall diameter of a flotation size
	Construction byte    // R radial, D diagonal (bias), B bias-belted
	RimCode      float64 // nominal rim diameter code
	Suffix       string  // C, LT or ST after the rim code
	Service
	// Alternative is the second service description in brackets, which applies at its own
	// speed, as in 156/150L (154/150M); zero if none is written.
	Alternative Service
	LoadRange   string // A to N, or XL; empty if not written
}

// Reasons for which a designation is refused.
var (
	ErrForm = errors.New(
		"not a tire size; write it as on the sidewall, such as 295/75R22.5 144/141L, 11R22.5 or LT245/75R17",
	)
	ErrRange     = errors.New("no tire has this size; check the numbers")
	ErrRimCode   = errors.New("unknown rim diameter code")
	ErrNumeric   = errors.New("this numeric size is not in the table; its diameter cannot be computed")
	ErrLoadIndex = errors.New("load index must be 60 to 180")
	ErrSpeed     = errors.New("unknown speed symbol")
	ErrDualIndex = errors.New(
		"the load index in duals is never above the single one; write single/dual, such as 152/148",
	)
)

var (
	//go:embed data/load_index.csv
	loadIndexCSV string
	//go:embed data/rim_code.csv
	rimCodeCSV string
	//go:embed data/numeric.csv
	numericCSV string
	//go:embed data/speed_symbol.csv
	speedCSV string

	loadKG       = table(loadIndexCSV, 1)
	rimMM        = table(rimCodeCSV, 1)
	numericMM    = table(numericCSV, 1)
	numericWidth = table(numericCSV, 2)
	speeds       = table(speedCSV, 1)
)

// table returns one column of an embedded CSV by the first. It panics if the table is
// malformed, which only a mistake in this package can cause.
func table(csv string, column int) map[string]int {
	out, header := map[string]int{}, true
	for _, line := range strings.Split(csv, "\n") {
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if header {
			header = false
			continue
		}

		cells := strings.Split(line, ",")
		n, err := strconv.Atoi(cells[column])
		if err != nil {
			panic("embedded table: " + line)
		}
		out[cells[0]] = n
	}

	return out
}

var (
	metricForm = regexp.MustCompile(
		`^(P|LT|ST)?(\d{3})(?:/(\d{2,3}))?(?:Z?(R|D|B)|-)(\d{1,2}(?:\.5)?)(C|LT|ST)?` + letter)

	numericForm = regexp.MustCompile(`^(\d{1,2}(?:\.\d{1,2})?)(R|-)(\d{2}(?:\.5)?)(C|LT|ST)?` + letter)

	flotationForm = regexp.MustCompile(
		`^(\d{2}(?:\.\d{1,2})?)X(\d{1,2}(?:\.\d{1,2})?)(R|-)(\d{2}(?:\.5)?)(LT|C|ST)?` + letter)

	trailing    = regexp.MustCompile(` (\(?\d{2,3} ?(?:/ ?\d{2,3})? ?[A-Z]\d?\)?)$`)
	serviceForm = regexp.MustCompile(`^(\d{2,3})(?:/(\d{2,3}))?([A-Z]\d?)$`)

	// alternativeForm is a second service description in brackets, after the first.
	alternativeForm = regexp.MustCompile(`\d ?[A-Z]\d? ?(\((\d{2,3} ?(?:/ ?\d{2,3})? ?[A-Z]\d?)\))$`)

	// rangeForm is a load range in words, or its letter alone after a service description.
	rangeForm = regexp.MustCompile(` (XL|(?:LR|LOAD RANGE) ?([A-HJ-N]))$`)
	rangeOnly = regexp.MustCompile(`\d[A-Z]\d?\)? ([A-HJ-N])$`)
)

// letter is the end of a size: a load range as its letter alone, as in LT245/75R16E.
const letter = `/?([A-HJ-N])?$`

// Parse reads a size designation, with or without its service descriptions and
// load range, in any spacing and letter case, with a point or a comma in
// decimals. It returns an error that wraps one of this package's reasons.
//
// A letter alone after the size is a load range, as in 11R22.5 G or LT245/75R16E; C is one
// only after LT or ST, else it marks a commercial tire.
func Parse(text string) (Designation, error) {
	if len(text) > 60 {
		return Designation{}, ErrForm
	}

	s := strings.NewReplacer(",", ".", "×", "X").Replace(strings.ToUpper(strings.Join(strings.Fields(text), " ")))
	s, loadRange := cutRange(s)

	second := ""
	if m := alternativeForm.FindStringSubmatch(s); m != nil {
		s, second = strings.TrimSpace(strings.TrimSuffix(s, m[1])), strings.ReplaceAll(m[2], " ", "")
	}

	size, first := split(s)
	if first == "" && second != "" { // the letter before the bracket is part of the size: 105R14C (60Y)
		first, second = "("+second+")", ""
	}
	d, err := parseSize(size)
	if err != nil {
		return Designation{}, err
	}
	if d.Service, err = readService(first); err != nil {
		return Designation{}, err
	}
	if d.Alternative, err = readService(second); err != nil {
		return Designation{}, err
	}

	if loadRange != "" && d.LoadRange != "" && loadRange != d.LoadRange {
		return Designation{}, fmt.Errorf("load ranges %s and %s: %w", d.LoadRange, loadRange, ErrForm)
	}
	if loadRange != "" {
		d.LoadRange = loadRange
	}

	return d, nil
}

// cutRange separates the load range, which is the last word; empty if there is none.
func cutRange(s string) (rest, loadRange string) {
	if m := rangeForm.FindStringSubmatch(s); m != nil {
		if m[1] == "XL" {
			return strings.TrimSuffix(s, m[0]), "XL"
		}
		return strings.TrimSuffix(s, m[0]), m[2]
	}
	if m := rangeOnly.FindStringSubmatch(s); m != nil {
		return strings.TrimSuffix(s, " "+m[1]), m[1]
	}
	return s, ""
}

// readService reads a service description such as 152/148M, or (98Y) for a
// speed above that of Y; none is the zero value.
func readService(text string) (Service, error) {
	if text == "" {
		return Service{}, nil
	}

	inner, bracketed := strings.CutPrefix(text, "(")
	if bracketed {
		inner = strings.TrimSuffix(inner, ")")
	}

	m := serviceForm.FindStringSubmatch(inner)
	if m == nil || bracketed && (m[3] != "Y" || !strings.HasSuffix(text, ")")) {
		return Service{}, fmt.Errorf("%q: %w", text, ErrForm)
	}

	s := Service{LoadIndex: atoi(m[1]), DualIndex: atoi(m[2]), Speed: m[3]}
	for _, li := range []string{m[1], m[2]} {
		if _, ok := LoadKG(atoi(li)); !ok && li != "" {
			return Service{}, fmt.Errorf("%s: %w", li, ErrLoadIndex)
		}
	}
	if s.DualIndex > s.LoadIndex {
		return Service{}, fmt.Errorf("%d/%d: %w", s.LoadIndex, s.DualIndex, ErrDualIndex)
	}
	if _, ok := SpeedKMH(s.Speed); !ok {
		return Service{}, fmt.Errorf("%q: %w", s.Speed, ErrSpeed)
	}
	if bracketed {
		s.Speed = "(Y)"
	}

	return s, nil
}

// split separates the size from the service description: the last words, unless the
// whole text is a size by itself.
func split(text string) (size, service string) {
	joined := strings.ReplaceAll(text, " ", "")
	if _, err := parseSize(joined); !errors.Is(err, ErrForm) {
		return joined, ""
	}
	if m := trailing.FindStringSubmatchIndex(text); m != nil {
		return strings.ReplaceAll(text[:m[0]], " ", ""), strings.ReplaceAll(text[m[2]:], " ", "")
	}
	return joined, ""
}

// parseSize returns the designation of a size without spaces in capital letters.
func parseSize(s string) (Designation, error) {
	d, err := parseForm(s)
	if err != nil {
		return d, err
	}
	if _, ok := rimMM[code(d.RimCode)]; !ok {
		return d, fmt.Errorf("%s: %w", code(d.RimCode), ErrRimCode)
	}
	return d, nil
}

// parseForm tries the three systems and checks the numbers against the range of each:
// wider than any tire that is made, chosen by us.
func parseForm(s string) (Designation, error) {
	if m := metricForm.FindStringSubmatch(s); m != nil {
		d := Designation{Kind: Metric, Prefix: m[1], WidthMM: atof(m[2]), Aspect: atof(m[3]),
			Construction: construction(m[4]), RimCode: atof(m[5]), Suffix: m[6], LoadRange: m[7]}
		if d.WidthMM < 100 || d.WidthMM > 500 || m[3] != "" && (d.Aspect < 20 || d.Aspect > 105) {
			return d, fmt.Errorf("%s: %w", s, ErrRange)
		}
		d.rangeC()
		return d, nil
	}

	if m := flotationForm.FindStringSubmatch(s); m != nil {
		d := Designation{Kind: Flotation, DiameterIn: atof(m[1]), WidthIn: atof(m[2]),
			Construction: construction(m[3]), RimCode: atof(m[4]), Suffix: m[5], LoadRange: m[6]}
		if d.DiameterIn < d.RimCode+4 || d.DiameterIn > 60 || d.WidthIn < 4 || d.WidthIn > 25 {
			return d, fmt.Errorf("%s: %w", s, ErrRange)
		}
		return d, nil
	}

	if m := numericForm.FindStringSubmatch(s); m != nil {
		d := Designation{Kind: Numeric, WidthIn: atof(m[1]), Construction: construction(m[2]), RimCode: atof(m[3]),
			Suffix: m[4], LoadRange: m[5]}
		if _, ok := numericMM[d.numeric()]; !ok {
			return d, fmt.Errorf("%s: %w", s, ErrNumeric)
		}
		return d, nil
	}

	return Designation{}, ErrForm
}

// rangeC reads the C after the rim code as a load range, which it is after LT and ST.
func (d *Designation) rangeC() {
	if (d.Prefix == "LT" || d.Prefix == "ST") && d.Suffix == "C" && d.LoadRange == "" {
		d.Suffix, d.LoadRange = "", "C"
	}
}

// construction returns the letter of the construction; a dash means diagonal.
func construction(letter string) byte {
	if letter == "R" || letter == "B" {
		return letter[0]
	}
	return 'D'
}

func atoi(s string) int {
	n, _ := strconv.Atoi(s) // the forms allow digits only
	return n
}

func atof(s string) float64 {
	f, _ := strconv.ParseFloat(s, 64) // the forms allow digits only
	return f
}

// code writes f without trailing zeros, as rim codes are written.
func code(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

// numeric returns the key of a numeric size in its table. Widths of tube-type sizes,
// whose rim codes are whole, are written with two decimals.
func (d Designation) numeric() string {
	width := code(d.WidthIn)
	if d.RimCode == math.Trunc(d.RimCode) {
		width = strconv.FormatFloat(d.WidthIn, 'f', 2, 64)
	}
	return width + "R" + code(d.RimCode)
}

// String returns the canonical form: no spaces in the size, one before the
// service description.
func (d Designation) String() string {
	letter := string(d.Construction)
	if d.Construction == 'D' && d.Kind != Metric {
		letter = "-"
	}

	var s string
	switch d.Kind {
	case Metric:
		s = d.Prefix + code(d.WidthMM)
		if d.Aspect > 0 {
			s += "/" + code(d.Aspect)
		}
		s += letter + code(d.RimCode) + d.Suffix
	case Numeric:
		s = strings.Replace(d.numeric(), "R", letter, 1) + d.Suffix
	default:
		s = code(d.DiameterIn) + "x" + strconv.FormatFloat(d.WidthIn, 'f', 2, 64) + letter + code(d.RimCode) + d.Suffix
	}

	if d.LoadIndex != 0 {
		s += " " + d.Service.String()
	}
	if d.Alternative.LoadIndex != 0 {
		s += " (" + d.Alternative.String() + ")"
	}

	switch d.LoadRange {
	case "":
		return s
	case "XL":
		return s + " XL"
	default:
		return s + " LR" + d.LoadRange
	}
}

// String returns the description as on the sidewall; empty if none is written.
func (s Service) String() string {
	if s.LoadIndex == 0 {
		return ""
	}

	out := strconv.Itoa(s.LoadIndex)
	if s.DualIndex != 0 {
		out += "/" + strconv.Itoa(s.DualIndex)
	}
	if s.Speed == "(Y)" {
		return "(" + out + "Y)"
	}
	return out + s.Speed
}

// fullAspect is the section height in percent of width of a metric size that is written
// without one, such as 195R14C. From memory: UN Regulation 30 gives 666 mm for 195R14
// and 650 mm for 185R14, from which this is under 0.5 % away.
const fullAspect = 80

// Diameter returns the nominal overall diameter of the new tire.
func (d Designation) Diameter() units.Length {
	switch d.Kind {
	case Metric:
		aspect := d.Aspect
		if aspect == 0 {
			aspect = fullAspect
		}
		height := math.Round(aspect * d.WidthMM / 100)
		return units.Length(float64(rimMM[code(d.RimCode)])+2*height) * units.Millimetre
	case Numeric:
		return units.Length(numericMM[d.numeric()]) * units.Millimetre
	default:
		return units.Length(math.Round(d.DiameterIn * float64(units.Inch)))
	}
}

// Circumference returns pi times Diameter: the free circumference.
func (d Designation) Circumference() units.Length {
	return units.Length(math.Round(math.Pi * float64(d.Diameter())))
}

// SectionWidth returns the nominal section width.
func (d Designation) SectionWidth() units.Length {
	switch d.Kind {
	case Metric:
		return units.Length(d.WidthMM) * units.Millimetre
	case Numeric:
		return units.Length(numericWidth[d.numeric()]) * units.Millimetre
	default:
		return units.Length(math.Round(d.WidthIn * float64(units.Inch)))
	}
}

// RollingCircumference returns how far the tire rolls in one turn; see the
// function of this name.
func (d Designation) RollingCircumference() units.Length {
	return RollingCircumference(d.Diameter(), d.Construction == 'R')
}

// RollingCircumference returns how far a tire of this overall diameter rolls in
// one turn at 60 km/h under its rated load and pressure: 3.05 times the diameter of a
// radial tire, 2.99 of another. ETRTO factors as restated on a public page; another page
// has 2.98 for bias. Good to about 1 %.
func RollingCircumference(diameter units.Length, radial bool) units.Length {
	factor := 2.99
	if radial {
		factor = 3.05
	}
	return units.Length(math.Round(factor * float64(diameter)))
}

// MaxLoad returns the load in kg that one tire may carry alone and in duals; 0 if the
// designation has no load index. If the sidewall gives less, the sidewall is right.
func (d Designation) MaxLoad() (singleKG, dualKG int) {
	return loadKG[strconv.Itoa(d.LoadIndex)], loadKG[strconv.Itoa(d.DualIndex)]
}

// MaxSpeed returns the speed of the speed symbol in km/h; ok is false if there is none,
// or if it is (Y), which only means "above 300".
func (d Designation) MaxSpeed() (kmh int, ok bool) { return SpeedKMH(d.Speed) }

// LoadKG returns the load in kg of load index li, false outside 60 to 180.
func LoadKG(li int) (kg int, ok bool) {
	kg, ok = loadKG[strconv.Itoa(li)]
	return kg, ok
}

// SpeedKMH returns the speed of a symbol (A1 to A8, B to Y) in km/h. H is 210,
// after U.
func SpeedKMH(symbol string) (kmh int, ok bool) {
	kmh, ok = speeds[symbol]
	return kmh, ok
}
