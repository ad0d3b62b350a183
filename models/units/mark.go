package units

import (
	"strconv"
	"strings"
	"time"
)

// A mark is a placeholder in a text for a quantity or a day. A text is made once
// and stored with its marks; Style.Render replaces them by words in the units and
// the notation of each reader.

func mark(kind, value string) string { return "⟦" + kind + " " + value + "⟧" }

func decimal(f float64) string { return strconv.FormatFloat(f, 'g', -1, 64) }

// MarkDepth marks an exact depth; see Style.WriteDepth.
func MarkDepth(l Length) string { return mark("depth", strconv.FormatInt(int64(l), 10)) }

// MarkTypedDepth marks a depth that someone, or a law, wrote as text. A reader of
// the other unit sees both.
func MarkTypedDepth(l Length, text string) string {
	return mark("typed-depth", strconv.FormatInt(int64(l), 10)+" "+text)
}

// MarkSmall marks a run-out, a gap, a difference of diameters or the size of damage; see Style.WriteSmall.
func MarkSmall(l Length) string { return mark("small", strconv.FormatInt(int64(l), 10)) }

// MarkEstimate marks an estimated depth in mm; see Style.WriteEstimate.
func MarkEstimate(mm float64) string { return mark("estimate", decimal(mm)) }

// MarkRate marks a wear rate in mm per 1000 km, with its unit.
func MarkRate(mm float64) string { return mark("rate", decimal(mm)) }

// MarkBareRate marks a wear rate in mm per 1000 km without its unit, which
// the text around it names.
func MarkBareRate(mm float64) string { return mark("bare-rate", decimal(mm)) }

// MarkDistance marks a distance; see Style.WriteDistance.
func MarkDistance(d Distance) string { return mark("distance", strconv.FormatInt(int64(d), 10)) }

// MarkSpeed marks a speed in km/h; see Style.WriteSpeed.
func MarkSpeed(kmh float64) string { return mark("speed", decimal(kmh)) }

// MarkPressure marks a pressure; see Style.WritePressure.
func MarkPressure(p Pressure) string { return mark("pressure", decimal(float64(p))) }

// MarkTypedPressure marks a pressure that someone wrote as text. A reader
// of another unit sees both.
func MarkTypedPressure(p Pressure, text string) string {
	return mark("typed-pressure", decimal(float64(p))+" "+text)
}

// MarkMass marks a mass; see Style.WriteMass.
func MarkMass(m Mass) string { return mark("mass", decimal(float64(m))) }

// MarkTorque marks a torque; see Style.WriteTorque.
func MarkTorque(t Torque) string { return mark("torque", decimal(float64(t))) }

// MarkTypedMass marks a mass that someone, or a source, wrote as text. A
// reader of the other unit sees both.
func MarkTypedMass(m Mass, text string) string {
	return mark("typed-mass", decimal(float64(m))+" "+text)
}

// MarkNumber marks a number without a unit of its own, with so many decimals.
func MarkNumber(f float64, decimals int) string {
	return mark("number", strconv.FormatFloat(f, 'f', decimals, 64))
}

// MarkDay marks the day of t in its zone.
func MarkDay(t time.Time) string { return mark("day", t.Format(time.DateOnly)) }

// Render returns text with each mark replaced by its quantity or day in the
// reader's units and notation. Text that is no mark of this package is kept as it
// is, its brackets included.
func (s Style) Render(text string) string {
	before, rest, found := strings.Cut(text, "⟦")
	if !found {
		return text
	}

	var b strings.Builder
	for ; found; before, rest, found = strings.Cut(rest, "⟦") {
		b.WriteString(before)
		inside, after, closed := strings.Cut(rest, "⟧")
		if written, ok := s.renderMark(inside); closed && ok {
			b.WriteString(written)
			rest = after
		} else {
			b.WriteString("⟦")
		}
	}

	b.WriteString(before)
	return b.String()
}

// renderMark writes one mark, given the text between its brackets; ok is false
// if that is no mark of this package.
//
//revive:disable-next-line:cyclomatic
func (s Style) renderMark(inside string) (words string, ok bool) {
	kind, value, _ := strings.Cut(inside, " ")
	value, typed, _ := strings.Cut(value, " ")
	if kind == "day" {
		t, err := time.Parse(time.DateOnly, value)
		return s.WriteDate(t), err == nil
	}

	f, err := strconv.ParseFloat(value, 64)
	if err != nil {
		return "", false
	}

	switch kind {
	case "depth":
		return s.WriteDepth(Length(f)), true
	case "typed-depth":
		return s.WriteTypedDepth(Length(f), typed), true
	case "small":
		return s.WriteSmall(Length(f)), true
	case "estimate":
		return s.WriteEstimate(f), true
	case "rate":
		number, unit := s.rate(f)
		return number + unit, true
	case "bare-rate":
		number, _ := s.rate(f)
		return number, true
	case "distance":
		return s.WriteDistance(Distance(f)), true
	case "speed":
		return s.WriteSpeed(f), true
	case "pressure":
		return s.WritePressure(Pressure(f)), true
	case "typed-pressure":
		return s.WriteTypedPressure(Pressure(f), typed), true
	case "mass":
		return s.WriteMass(Mass(f)), true
	case "torque":
		return s.WriteTorque(Torque(f)), true
	case "typed-mass":
		return s.WriteTypedMass(Mass(f), typed), true
	case "number":
		return s.WriteAsTyped(value), true
	}

	return "", false
}

// WriteRate writes a wear rate, given in mm per 1000 km, with its unit.
func (s Style) WriteRate(mm float64) string {
	number, unit := s.rate(mm)
	return number + unit
}

func (s Style) rate(mm float64) (number, unit string) {
	if s.Depth == In32 {
		return s.WriteNumber(Rate32(mm), 1) + "/32", " in per " + s.WriteCount(10_000) + " mi"
	}
	return s.WriteNumber(mm, 2), " mm per " + s.WriteCount(1_000) + " km"
}

// Rate32 returns a rate in mm per 1000 km as 32nds of an inch per 10,000 miles.
func Rate32(mm float64) float64 {
	return mm / ThirtySecond.Millimetres() * 10 * Mile.Kilometres()
}
