package bench

import (
	"fmt"
	"math"
	"strings"

	"rimledger/api/web/say"
	"rimledger/models/balance"
	"rimledger/models/bench"
	"rimledger/models/units"
)

// choice is one column of the comparison.
type choice struct {
	Title                 string
	OnePlane              bool        // only the sum of both planes counts
	Fit                   []pieceLine // as they are shown side by side
	Weights               []string
	LeftOuter, LeftInner  string // brief
	LeftSum               string // in one plane's balance, instead
	Outer, Inner, Static  string
	Couple, Force, Moment string
	Mass, Brief           string
	Pieces                int
	Within                string
}

// pieceLine is one weight, brief.
type pieceLine struct{ Mass, Angle, Where string }

// benchKMH is the speed of forces where none is typed.
const benchKMH = 100.0

// residual is what is left now; the page keeps it in sight while weights are typed.
type residual struct {
	Said         string // why there is none
	What         string
	Outer, Inner string
	Sum          string // in one plane's balance, instead of both
	Within       bool
	Limit        string
}

func (f *benchForm) residual(now balance.Left, fitted int) residual {
	s := residual{
		What:   "With your " + say.Plural(fitted, "weight", "weights") + ", still add",
		Within: now.Meets,
		Limit:  "over the limit",
	}

	if f.static() {
		s.Sum = f.still(now.StaticG, now.Static)
	} else {
		s.Outer, s.Inner = f.still(now.OuterG, now.Unbalance.Outer), f.still(now.InnerG, now.Unbalance.Inner)
	}

	if now.Meets {
		s.Limit = "within the limit"
	}
	if fitted == 0 {
		s.What = "Nothing fitted yet, add"
	}

	return s
}

// still says what a plane still asks for, and where.
func (f *benchForm) still(g float64, heavy balance.Vector) string {
	if g < 0.05 { // rounding has no direction
		return "nothing"
	}
	return fmt.Sprintf("%s at %.0f°", f.brief(g), float64(units.Angle(math.Round(heavy.Opposite().Deg)).Normal()))
}

func (f *benchForm) leftWords(l balance.Left) string {
	if f.static() {
		return f.still(l.StaticG, l.Static)
	}
	return "outer " + f.still(l.OuterG, l.Unbalance.Outer) + ", inner " + f.still(l.InnerG, l.Unbalance.Inner)
}

// atSpeed says what the assembly does as it is.
func (f *benchForm) atSpeed(best bench.Result, spin balance.Spin) []string {
	static, couple := best.Before.Static, best.Before.Couple

	word, per := say.SpeedUnit(f.Units)
	if f.static() {
		return []string{fmt.Sprintf("At %.0f %s the wheel turns %.1f times a second; as it is it pulls with %.0f N.",
			f.kmh()/per, word, spin.Hertz(), spin.Force(static))}
	}

	return []string{
		fmt.Sprintf(
			"Static (hop): %.0f g·mm, to add at %.0f°; couple (wobble): %.0f g·mm².",
			static.GMM,
			static.Opposite().Deg,
			couple.GMM2,
		),
		fmt.Sprintf(
			"At %.0f %s the wheel turns %.1f times a second; as it is it pulls with %.0f N and twists with %.1f N·m.",
			f.kmh()/per,
			word,
			spin.Hertz(),
			spin.Force(static),
			spin.Moment(couple),
		),
	}
}

func (f *benchForm) kmh() float64 {
	word, per := say.SpeedUnit(f.Units)
	if v := f.Number("speed", word); v > 0 {
		return v * per
	}
	return benchKMH
}

func (f *benchForm) spin() (balance.Spin, error) {
	return bench.Spin(f.Tire.Size, f.kmh())
}

// brief writes a mass in the person's unit alone.
func (f *benchForm) brief(g float64) string {
	if math.Abs(g) < 0.05 {
		return "nothing"
	}
	text, _, _ := strings.Cut(f.gram(g), " (")
	return text
}

// gram writes a mass in the person's unit, and in grams.
func (f *benchForm) gram(g float64) string { return gramsText(f.Units, g) }

// gramsText writes a mass in grams in the unit of a reader, and in grams.
func gramsText(u units.Style, g float64) string {
	if math.Abs(g) < 0.005 {
		g = 0 // what is left of rounding is nothing, and has no sign
	}
	if u.Mass == units.Oz {
		return u.WriteNumber(g/float64(units.Ounce), 2) + " oz (" + u.WriteNumber(g, 0) + " g)"
	}

	return u.WriteNumber(g, 1) + " g"
}

func (f *benchForm) column(title string, pieces []balance.Piece, left balance.Left, spin balance.Spin) choice {
	c := choice{
		Title:     title,
		OnePlane:  f.static(),
		LeftSum:   f.brief(left.StaticG),
		LeftOuter: f.brief(left.OuterG),
		LeftInner: f.brief(left.InnerG),
		Outer:     f.gram(left.OuterG),
		Inner:     f.gram(left.InnerG),
		Static:    f.gram(left.StaticG),
		Couple:    fmt.Sprintf("%.0f g·mm²", left.Couple.GMM2),
		Mass:      f.gram(left.MassG),
		Brief:     f.brief(left.MassG),
		Pieces:    left.Pieces,
		Within:    "over the limit",
	}

	if left.Meets {
		c.Within = "within the limit"
	}

	// Forces are only known at a speed.
	if spin > 0 {
		c.Force, c.Moment = fmt.Sprintf(
			"%.0f N",
			spin.Force(left.Static),
		), fmt.Sprintf(
			"%.1f N·m",
			spin.Moment(left.Couple),
		)
	}

	// Each piece is written twice: in full for the table, briefly for the machine's side.
	for _, w := range pieces {
		at := fmt.Sprintf("%s %s at %.0f°", f.gram(w.MassG), say.PlaneName(w.Place), units.Angle(w.Deg).Normal())
		if w.Spot != "" {
			at += ", " + w.Spot
		}
		if w.Segments > 1 {
			at += fmt.Sprintf(" (%d segments)", w.Segments)
		}

		c.Weights = append(c.Weights, at)
		c.Fit = append(
			c.Fit,
			pieceLine{
				f.brief(w.MassG),
				fmt.Sprintf("%.0f°", float64(units.Angle(math.Round(w.Deg)).Normal())),
				say.PlaceName(w.Place) + say.Prefixed(", ", w.Spot),
			},
		)
	}

	return c
}

// leftGrams says how much is left, in both planes or in the one.
func (f *benchForm) leftGrams(l balance.Left) string {
	if f.static() {
		return f.gram(l.StaticG)
	}
	return f.gram(l.OuterG) + " and " + f.gram(l.InnerG)
}

// costs says what hiding the weights, or one plane alone, costs.
func (f *benchForm) costs(best bench.Result) []string {
	out := []string{
		fmt.Sprintf(
			"The exact weights would be %s; the proposal weighs %s more.",
			f.gram(best.ExactG),
			f.gram(best.ExtraG),
		),
	}

	if open := best.Open; open != nil {
		out = append(out, fmt.Sprintf("In the open it would be %s, leaving %s: hiding costs %s.",
			f.gram(open.Left.MassG), f.leftGrams(open.Left), f.gram(best.Left.MassG-open.Left.MassG)))
	}

	if one := best.OnePlane; one != nil {
		out = append(
			out,
			fmt.Sprintf("In the %s alone %s would take the hop away and leave a wobble: outer %s, inner %s.",
				say.PlaneName(one.Place), f.gram(one.Left.MassG), f.gram(one.Left.OuterG), f.gram(one.Left.InnerG)),
		)
	}

	return out
}
