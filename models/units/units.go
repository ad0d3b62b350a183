// Package units has a typed number for each quantity of tire work, so that a depth is
// never compared with a pressure and a limit is never a rounding question. It parses
// and formats them, in one reader's units and notation (Style).
//
// Length and Distance are exact integers: 1/32 inch is 793,750 nanometres and a
// mile is 1,609,344 millimetres. Pressure, Mass and Angle are measured,
// averaged and added as vectors, so they are floats in one fixed base unit.
//
// Parsers accept what people write ("7/32", "5.5 mm", "105 psi", "12,340 mi"),
// refuse NaN, infinities, negatives and absurd sizes, and never guess a unit
// unless the caller names the one a bare number is in. The package imports
// nothing of this project.
//
// # Decisions (November 2026)
//
// Texts of findings, of balance verdicts and of doubts about a tire's state contain
// marks for quantities and days (mark.go). Style.Render replaces them in the units and
// notation of each reader, with what was typed beside it: a finding of a depot with
// inches reads in mm for a person who reads mm. REST renders findings in the units of
// the token's owner, verdicts and doubts in metric. Marks make two findings comparable
// exactly, and nothing is assessed again for another reader. Rejected: texts in the
// depot's units, which the next reader has to convert.
//
// A torque is asked in pound-feet where depths are read in 32nds, else in newton metres
// (common practice, no source); the record keeps N·m to a tenth. Rejected: a unit of
// its own in each person's settings, one more choice that follows from the others.
package units

import (
	"fmt"
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"
)

// Length is a length in nanometres.
type Length int64

// Exact lengths.
const (
	Nanometre    Length = 1
	Micrometre   Length = 1_000
	Millimetre   Length = 1_000_000
	Inch         Length = 25_400_000
	ThirtySecond Length = 793_750 // 1/32 in
	Metre        Length = 1_000_000_000
)

// Millimetres returns l in millimetres.
func (l Length) Millimetres() float64 { return float64(l) / float64(Millimetre) }

// ThirtySeconds returns l in 32nds of an inch.
func (l Length) ThirtySeconds() float64 { return float64(l) / float64(ThirtySecond) }

// Inches returns l in inches.
func (l Length) Inches() float64 { return float64(l) / float64(Inch) }

// LengthFromMillimetres returns the length nearest to mm millimetres. mm must be finite.
func LengthFromMillimetres(mm float64) Length {
	return Length(math.Round(mm * float64(Millimetre)))
}

// Distance is a travelled distance in millimetres.
type Distance int64

// Exact distances.
const (
	Kilometre Distance = 1_000_000
	Mile      Distance = 1_609_344
)

// Kilometres returns d in kilometres.
func (d Distance) Kilometres() float64 { return float64(d) / float64(Kilometre) }

// Miles returns d in miles.
func (d Distance) Miles() float64 { return float64(d) / float64(Mile) }

// DistanceFromKilometres returns the distance nearest to km kilometres. km must be finite.
func DistanceFromKilometres(km float64) Distance {
	return Distance(math.Round(km * float64(Kilometre)))
}

// Pressure is a gauge pressure in kilopascals.
type Pressure float64

// Pressures in kilopascals: the pound-force per square inch from the inch and
// the pound (NIST SP 811), the bar by definition.
const (
	Kilopascal Pressure = 1
	PSI        Pressure = 6.894757293168361
	Bar        Pressure = 100
)

// PSI returns p in pounds-force per square inch.
func (p Pressure) PSI() float64 { return float64(p / PSI) }

// Bar returns p in bar.
func (p Pressure) Bar() float64 { return float64(p / Bar) }

// Mass is a mass in grams.
type Mass float64

// Masses in grams; the avoirdupois ounce is exact.
const (
	Gram  Mass = 1
	Ounce Mass = 28.349523125
)

// Ounces returns m in avoirdupois ounces.
func (m Mass) Ounces() float64 { return float64(m / Ounce) }

// Angle is an angle in degrees, clockwise from the valve as seen from outside
// the vehicle.
type Angle float64

// Normal returns a brought into [0, 360). a must be finite.
func (a Angle) Normal() Angle {
	n := math.Mod(float64(a), 360)
	if n < 0 {
		n += 360
	}
	if n >= 360 { // a tiny negative angle rounds up to a full turn
		n = 0
	}
	return Angle(n)
}

// Radians returns a in radians.
func (a Angle) Radians() float64 { return float64(a) * math.Pi / 180 }

// Unit names a unit of measure as it is written.
type Unit string

// The units that are read and written.
const (
	MM       Unit = "mm"
	In       Unit = "in"
	In32     Unit = "32nd" // 32nds of an inch, written n/32 in
	KM       Unit = "km"
	Mi       Unit = "mi"
	KPa      Unit = "kPa"
	Psi      Unit = "psi"
	BarUnit  Unit = "bar"
	G        Unit = "g"
	Oz       Unit = "oz"
	BareNone Unit = "" // a bare number is refused
)

// The widest values that are accepted.
const (
	MaxDepth    = 26 * Millimetre        // a gauge reads 0-32 32nds
	MaxLength   = 10 * Metre             // no wheel or tire is larger
	MaxDistance = 10_000_000 * Kilometre // an odometer with seven digits
	MaxPressure = Pressure(2_000)        // twice what a truck tire takes
	MaxMass     = Mass(1_000_000)        // a wheel assembly, in grams
)

// ParseError is a quantity that was refused, with the reason.
type ParseError struct {
	Text   string // what was given, cut to 40 characters
	Reason string // what is wrong and what would be right
}

func (e *ParseError) Error() string { return fmt.Sprintf("%q: %s", e.Text, e.Reason) }

// refuse returns a ParseError; format and args are those of fmt.Sprintf.
func refuse(text, format string, args ...any) error {
	if r := []rune(text); len(r) > 40 {
		text = string(r[:40]) + "..."
	}
	return &ParseError{Text: text, Reason: fmt.Sprintf(format, args...)}
}

// scale is one unit as the parsers know it.
type scale struct {
	unit Unit
	per  *big.Rat // base units in one of unit
}

func rat(n, d int64) *big.Rat { return big.NewRat(n, d) }

func ratOf(f float64) *big.Rat { return new(big.Rat).SetFloat64(f) }

var (
	lengthWords = map[string]scale{
		"mm": {MM, rat(int64(Millimetre), 1)},
		"in": {In, rat(int64(Inch), 1)}, "inch": {In, rat(int64(Inch), 1)},
		"inches": {In, rat(int64(Inch), 1)}, `"`: {In, rat(int64(Inch), 1)},
		"32nd": {In32, rat(int64(ThirtySecond), 1)}, "32nds": {In32, rat(int64(ThirtySecond), 1)},
		"cm": {MM, rat(10*int64(Millimetre), 1)}, "m": {MM, rat(int64(Metre), 1)},
	}
	distanceWords = map[string]scale{
		"km": {KM, rat(int64(Kilometre), 1)}, "kilometres": {KM, rat(int64(Kilometre), 1)},
		"kilometers": {KM, rat(int64(Kilometre), 1)},
		"mi":         {Mi, rat(int64(Mile), 1)}, "mile": {Mi, rat(int64(Mile), 1)}, "miles": {Mi, rat(int64(Mile), 1)},
	}
	pressureWords = map[string]scale{
		"kpa": {KPa, rat(1, 1)}, "psi": {Psi, ratOf(float64(PSI))}, "bar": {BarUnit, rat(100, 1)},
	}
	massWords = map[string]scale{
		"g": {G, rat(1, 1)}, "gram": {G, rat(1, 1)}, "grams": {G, rat(1, 1)}, "kg": {G, rat(1000, 1)},
		"oz": {Oz, ratOf(float64(Ounce))}, "ounce": {Oz, ratOf(float64(Ounce))}, "ounces": {Oz, ratOf(float64(Ounce))},
	}
)

// parse reads "number unit" exactly and returns it in base units. A bare number is in
// the unit bare, or refused if bare is BareNone. example is shown in refusals.
func parse(text string, words map[string]scale, bare Unit, example string) (*big.Rat, error) {
	number, word, err := splitQuantity(text, example)
	if err != nil {
		return nil, err
	}
	value, thirtySeconds, err := parseNumber(text, number, example)
	if err != nil {
		return nil, err
	}
	if value.Sign() < 0 {
		return nil, refuse(text, "negative; nothing measured here is below zero")
	}

	if thirtySeconds {
		inch := word == "" || word == "in" || word == "inch" || word == `"`
		if _, ok := words["32nd"]; !ok || !inch {
			return nil, refuse(text,
				"a fraction is read as 32nds of an inch; write a decimal number with its unit, such as %s", example)
		}
		return value.Mul(value, words["32nd"].per), nil
	}

	if word == "" {
		if bare == BareNone {
			return nil, refuse(text, "no unit; write a number with its unit, such as %s", example)
		}
		word = strings.ToLower(string(bare))
	}

	u, ok := words[word]
	if !ok {
		return nil, refuse(text, "unknown unit %q; write a number with its unit, such as %s", word, example)
	}
	return value.Mul(value, u.per), nil
}

// splitQuantity returns the numeral that text begins with and the word behind it, in
// small letters.
func splitQuantity(text, example string) (number, word string, err error) {
	s := strings.TrimSpace(text)
	if s == "" {
		return "", "", refuse(text, "empty; write a number with its unit, such as %s", example)
	}
	if len(s) > 40 {
		return "", "", refuse(text, "too long for a quantity; write a number with its unit, such as %s", example)
	}

	end := 0
	for end < len(s) && strings.IndexByte("+-0123456789.,/", s[end]) >= 0 {
		end++
	}

	number, word = strings.TrimSpace(s[:end]), strings.ToLower(strings.TrimSpace(s[end:]))
	if number == "" {
		return "", "", refuse(text, "not a number; write a number with its unit, such as %s", example)
	}
	return number, word, nil
}

// parseNumber reads a decimal with optional thousands commas, or n/32.
func parseNumber(text, number, example string) (value *big.Rat, thirtySeconds bool, err error) {
	whole, isFraction := strings.CutSuffix(number, "/32")
	if strings.Contains(whole, "/") {
		return nil, false, refuse(text, "only 32nds are read as a fraction, such as 7/32")
	}

	plain, err := dropThousands(whole)
	if err != nil {
		return nil, false, refuse(
			text,
			"a comma only separates thousands, as in 12,340; the decimal sign is a point, as in %s",
			example,
		)
	}

	v, ok := new(big.Rat).SetString(plain)
	if !ok {
		return nil, false, refuse(text, "not a number; write a number with its unit, such as %s", example)
	}

	return v, isFraction, nil
}

// dropThousands returns s without commas between thousands, or an error if a comma
// is anywhere else.
func dropThousands(s string) (string, error) {
	if !strings.Contains(s, ",") {
		return s, nil
	}

	whole, decimals, _ := strings.Cut(s, ".")
	groups := strings.Split(whole, ",")
	for i, g := range groups {
		if (i == 0 && (len(g) == 0 || len(g) > 3 || g[0] == '0')) || (i > 0 && len(g) != 3) {
			return "", strconv.ErrSyntax // 0,340 would be a decimal comma
		}
	}

	if strings.Contains(decimals, ",") {
		return "", strconv.ErrSyntax
	}

	s = strings.Join(groups, "")
	if decimals != "" {
		s += "." + decimals
	}
	return s, nil
}

// nearest returns r, not negative, rounded to the nearest integer, halves up; false if
// it does not fit.
func nearest(r *big.Rat) (int64, bool) {
	twice := new(big.Int).Lsh(r.Num(), 1)
	twice.Add(twice, r.Denom())
	twice.Quo(twice, new(big.Int).Lsh(r.Denom(), 1))
	return twice.Int64(), twice.IsInt64()
}

// ParseLength reads a length such as "7/32", "7/32 in", "0.25 in" or "5.5 mm".
// A bare number is in the unit bare, or refused if bare is BareNone. The
// result is within [0, MaxLength], rounded to the nearest nanometre.
func ParseLength(text string, bare Unit) (Length, error) {
	r, err := parse(text, lengthWords, bare, "7/32 in or 5.5 mm")
	if err != nil {
		return 0, err
	}

	n, ok := nearest(r)
	if !ok || Length(n) > MaxLength {
		return 0, refuse(text, "longer than any tire or wheel; at most %s", FormatLength(MaxLength, MM))
	}
	return Length(n), nil
}

// ParseDepth reads a tread depth as ParseLength does, within [0, MaxDepth].
func ParseDepth(text string, bare Unit) (Length, error) {
	l, err := ParseLength(text, bare)
	if err != nil {
		return 0, err
	}
	if l > MaxDepth {
		return 0, refuse(text, "deeper than any tread gauge reads; at most 32/32 in or 26 mm. Is it in the other unit?")
	}
	return l, nil
}

// ParseDistance reads a distance such as "12,340 mi" or "19859 km" within
// [0, MaxDistance], rounded to the nearest millimetre.
func ParseDistance(text string, bare Unit) (Distance, error) {
	r, err := parse(text, distanceWords, bare, "12,340 mi or 19859 km")
	if err != nil {
		return 0, err
	}

	n, ok := nearest(r)
	if !ok || Distance(n) > MaxDistance {
		return 0, refuse(text, "more than any odometer shows; at most 10,000,000 km")
	}
	return Distance(n), nil
}

// ParsePressure reads a gauge pressure such as "105 psi", "7.2 bar" or
// "720 kPa" within [0, MaxPressure].
func ParsePressure(text string, bare Unit) (Pressure, error) {
	return parseUpTo(MaxPressure, text, pressureWords, bare, "105 psi or 7.2 bar",
		"more than any tire takes; at most 2000 kPa (290 psi). Is it in the other unit?")
}

// parseUpTo reads a quantity within [0, most]; tooMuch is the reason for refusing more.
func parseUpTo[T ~float64](most T, text string, words map[string]scale, bare Unit, example, tooMuch string) (T, error) {
	r, err := parse(text, words, bare, example)
	if err != nil {
		return 0, err
	}

	v, _ := r.Float64()
	if T(v) > most {
		return 0, refuse(text, "%s", tooMuch)
	}
	return T(v), nil
}

// ParseMass reads a mass such as "1.75 oz", "50 g" or "42 kg" within [0, MaxMass]. Weights are
// marked in fractions, so halves to sixteenths are read too: "1/4 oz", "1 1/4 oz", "1¼ oz".
func ParseMass(text string, bare Unit) (Mass, error) {
	if plain, ok := dropFraction(text); ok {
		text = plain
	}
	return parseUpTo(MaxMass, text, massWords, bare, "1.75 oz or 50 g", "more than any wheel weighs; at most 1000 kg")
}

var (
	fraction = regexp.MustCompile(`^\s*(?:(\d{1,4})[\s-]+)?(\d{1,2})/(2|4|8|16)(\D.*)?$`)
	vulgar   = strings.NewReplacer("½", " 1/2", "¼", " 1/4", "¾", " 3/4",
		"⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8")
)

// dropFraction writes the fraction that text begins with as a decimal number; false if it
// begins with none.
func dropFraction(text string) (string, bool) {
	m := fraction.FindStringSubmatch(vulgar.Replace(text))
	if m == nil {
		return text, false
	}

	whole, _ := strconv.ParseFloat(m[1], 64) // none: 0
	over, _ := strconv.ParseFloat(m[2], 64)
	under, _ := strconv.ParseFloat(m[3], 64)
	return strconv.FormatFloat(whole+over/under, 'f', -1, 64) + m[4], true
}

// FormatLength writes l in unit u: 32nds as "7/32 in", with a decimal where it
// is no whole number; millimetres with one decimal, or two where one would hide
// on which side of a limit it lies.
func FormatLength(l Length, u Unit) string {
	switch u {
	case In32:
		s := trimmed(l.ThirtySeconds(), 1)
		if l%ThirtySecond != 0 && !strings.Contains(s, ".") {
			s = trimmed(l.ThirtySeconds(), 2) // 1.99/32 must not read as the limit 2/32
		}
		return s + "/32 in"
	case In:
		return trimmed(l.Inches(), 3) + " in"
	default:
		if l%(Millimetre/10) == 0 {
			return strconv.FormatFloat(l.Millimetres(), 'f', 1, 64) + " mm"
		}
		return strconv.FormatFloat(math.Round(float64(l)/float64(Millimetre/100))/100, 'f', 2, 64) + " mm"
	}
}

// FormatEstimate writes an estimated depth in mm with one decimal, in mm or 32nds.
func FormatEstimate(mm float64, u Unit) string {
	if u == In32 {
		return fmt.Sprintf("%.1f/32 in", mm/ThirtySecond.Millimetres())
	}
	return fmt.Sprintf("%.1f mm", mm)
}

// FormatDistance writes d in whole kilometres or miles with thousands commas.
func FormatDistance(d Distance, u Unit) string {
	if u == Mi {
		return Thousands(int64(math.Round(d.Miles()))) + " mi"
	}
	return Thousands(int64(math.Round(d.Kilometres()))) + " km"
}

// FormatPressure writes p in psi or kPa without decimals, in bar with one.
func FormatPressure(p Pressure, u Unit) string {
	switch u {
	case Psi:
		return strconv.FormatFloat(p.PSI(), 'f', 0, 64) + " psi"
	case BarUnit:
		return strconv.FormatFloat(p.Bar(), 'f', 1, 64) + " bar"
	default:
		return strconv.FormatFloat(float64(p), 'f', 0, 64) + " kPa"
	}
}

// FormatMass writes m in ounces with up to two decimals or in grams with up to one.
func FormatMass(m Mass, u Unit) string {
	if u == Oz {
		return trimmed(m.Ounces(), 2) + " oz"
	}
	return trimmed(float64(m), 1) + " g"
}

// trimmed writes f with at most n decimals and no trailing zeros.
func trimmed(f float64, n int) string {
	s := strconv.FormatFloat(f, 'f', n, 64)
	if n == 0 || !strings.Contains(s, ".") {
		return s
	}
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// Thousands writes n with commas between thousands.
func Thousands(n int64) string {
	s := strconv.FormatInt(n, 10)
	sign := ""
	if n < 0 {
		sign, s = "-", s[1:]
	}

	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return sign + s
}

// Set is the units in which a depot or a person reads and writes.
type Set struct {
	Depth    Unit // MM or In32
	Pressure Unit // KPa, Psi or BarUnit
	Distance Unit // KM or Mi
	Mass     Unit // G or Oz
}

// The two usual sets.
var (
	Metric = Set{Depth: MM, Pressure: KPa, Distance: KM, Mass: G}
	US     = Set{Depth: In32, Pressure: Psi, Distance: Mi, Mass: Oz}
)

// Valid reports whether every unit of s is one that its quantity can be in.
func (s Set) Valid() bool {
	return (s.Depth == MM || s.Depth == In32) &&
		(s.Pressure == KPa || s.Pressure == Psi || s.Pressure == BarUnit) &&
		(s.Distance == KM || s.Distance == Mi) &&
		(s.Mass == G || s.Mass == Oz)
}

// DistanceUnit returns the unit, KM or Mi, in which a distance was written; BareNone
// where it was written in none.
func DistanceUnit(text string) Unit {
	_, word, err := splitQuantity(text, "")
	if err != nil {
		return BareNone
	}
	return distanceWords[word].unit
}

// In32Typed reports whether a length was written in 32nds of an inch.
func In32Typed(text string) bool {
	return strings.Contains(text, "/32") || strings.Contains(text, "32nd")
}
