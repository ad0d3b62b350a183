package units_test

import (
	"errors"
	"math"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"rimledger/models/units"
)

// The inch is 25.4 mm and the mile 1.609344 km exactly (NIST SP 811,
// appendix B); the rest is arithmetic.
func TestExactLengths(t *testing.T) {
	t.Parallel()
	limit, err := units.ParseLength("1.6 mm", units.BareNone)
	if err != nil {
		t.Fatal(err)
	}

	two, err := units.ParseLength("2/32", units.BareNone)
	if err != nil {
		t.Fatal(err)
	}
	if two >= limit {
		t.Errorf("2/32 in = %d nm, must be below 1.6 mm = %d nm", two, limit)
	}

	for _, text := range []string{"2/32 in", "0.0625 in", "1.5875 mm", "2 32nds", "0.15875 cm", `2/32"`} {
		l, err := units.ParseLength(text, units.BareNone)
		if err != nil || l != two {
			t.Errorf("%s = %d nm, %v; want exactly 2/32 in = %d nm", text, l, err, two)
		}
	}

	if 32*units.ThirtySecond != units.Inch {
		t.Error("32/32 in is not an inch")
	}
	if units.Kilometre*1609344 != units.Mile*1_000_000 {
		t.Error("the mile is not 1.609344 km")
	}
}

func TestParseLength(t *testing.T) {
	t.Parallel()

	tests := []struct {
		name, text string
		bare       units.Unit
		want       units.Length
	}{
		{"32nds", "7/32", units.BareNone, 5_556_250},
		{"32nds win over the bare unit", "7/32", units.MM, 5_556_250},
		{"32nds with inch", "7/32 in", units.BareNone, 5_556_250},
		{"part of a 32nd", "6.5/32", units.BareNone, 5_159_375},
		{"millimetres", "5.5 mm", units.BareNone, 5_500_000},
		{"no space, capitals", "5.5MM", units.BareNone, 5_500_000},
		{"space around", "  5.5 mm\t", units.BareNone, 5_500_000},
		{"bare in millimetres", "5.5", units.MM, 5_500_000},
		{"bare in 32nds", "7", units.In32, 5_556_250},
		{"zero", "0", units.MM, 0},
		{"thousands", "1,044 mm", units.BareNone, 1_044_000_000},
		{"below a nanometre rounds", "0.0000004 mm", units.BareNone, 0},
	}

	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got, err := units.ParseLength(tt.text, tt.bare)
			if err != nil || got != tt.want {
				t.Errorf("got %d, %v; want %d nm", got, err, tt.want)
			}
		})
	}
}

// The pound-force per square inch is 6.894757 kPa, the avoirdupois ounce
// 28.34952 g, the mile 1.609344 km (NIST SP 811, appendix B).
func TestParseOthers(t *testing.T) {
	t.Parallel()
	near := func(name string, got, want, tolerance float64, err error) {
		t.Helper()
		if err != nil || math.Abs(got-want) > tolerance {
			t.Errorf("%s = %v, %v; want %v", name, got, err, want)
		}
	}

	p, err := units.ParsePressure("105 psi", units.BareNone)
	near("105 psi in kPa", float64(p), 105*6.894757, 105e-6, err)
	near("105 psi in psi", p.PSI(), 105, 1e-9, err)
	p, err = units.ParsePressure("7.2 bar", units.BareNone)
	near("7.2 bar in kPa", float64(p), 720, 1e-9, err)
	near("7.2 bar in bar", p.Bar(), 7.2, 1e-9, err)
	p, err = units.ParsePressure("720", units.KPa)
	near("bare kPa", float64(p), 720, 0, err)

	m, err := units.ParseMass("1.75 oz", units.BareNone)
	near("1.75 oz in g", float64(m), 1.75*28.34952, 1e-5, err)
	m, err = units.ParseMass("50 g", units.BareNone)
	near("50 g", float64(m), 50, 0, err)
	m, err = units.ParseMass("42 kg", units.BareNone)
	near("42 kg in g", float64(m), 42_000, 0, err)

	d, err := units.ParseDistance("12,340 mi", units.BareNone)
	near("12,340 mi in km", d.Kilometres(), 12_340*1.609344, 1e-6, err)
	near("12,340 mi in miles", d.Miles(), 12_340, 1e-9, err)
	d, err = units.ParseDistance("19859", units.KM)
	near("bare km", d.Kilometres(), 19859, 0, err)
}

func TestRefused(t *testing.T) {
	t.Parallel()
	depth := func(s string) error { _, err := units.ParseDepth(s, units.BareNone); return err }
	bareMM := func(s string) error { _, err := units.ParseDepth(s, units.MM); return err }
	length := func(s string) error { _, err := units.ParseLength(s, units.MM); return err }
	pressure := func(s string) error { _, err := units.ParsePressure(s, units.KPa); return err }
	mass := func(s string) error { _, err := units.ParseMass(s, units.G); return err }
	distance := func(s string) error { _, err := units.ParseDistance(s, units.KM); return err }

	tests := []struct {
		name  string
		parse func(string) error
		text  string
	}{
		{"empty", bareMM, ""},
		{"only space", bareMM, "  "},
		{"no unit and none agreed", depth, "5.5"},
		{"NaN", bareMM, "NaN"},
		{"infinity", bareMM, "Inf mm"},
		{"minus infinity", bareMM, "-inf"},
		{"negative", bareMM, "-1"},
		{"negative 32nds", bareMM, "-7/32"},
		{"exponent", bareMM, "1e3 mm"},
		{"hexadecimal", bareMM, "0x10"},
		{"underscore", bareMM, "1_0"},
		{"decimal comma", bareMM, "5,5 mm"},
		{"decimal comma that looks like thousands", bareMM, "0,340"},
		{"two points", bareMM, "5.5.5"},
		{"two fractions", bareMM, "1/32/32"},
		{"other fraction", bareMM, "1/16"},
		{"fraction of nothing", bareMM, "/32"},
		{"fraction in millimetres", bareMM, "7/32 mm"},
		{"sum", bareMM, "1+2"},
		{"only a sign", bareMM, "+"},
		{"only a point", bareMM, "."},
		{"words", bareMM, "deep"},
		{"NUL", bareMM, "5\x00"},
		{"a pressure as a depth", depth, "105 psi"},
		{"a depth as a pressure", pressure, "7/32"},
		{"just above the deepest", depth, "26.000001 mm"},
		{"33/32", depth, "33/32"},
		{"longer than a wheel", length, "10000.1"},
		{"more than fits a number", length, "99999999999999999999"},
		{"pressure above all", pressure, "2000.1"},
		{"mass above all", mass, "1000.1 kg"},
		{"distance above all", distance, "10,000,001 km"},
		{"negative distance", distance, "-1 km"},
		{"thousands in the wrong place", distance, "12,34 mi"},
		{"thousands after the point", distance, "12.340,000 mi"},
		{"endless", bareMM, "1111111111111111111111111111111111111111111"},
	}

	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			err := tt.parse(tt.text)
			var refused *units.ParseError
			if !errors.As(err, &refused) {
				t.Fatalf("%q: error %v, want a ParseError", tt.text, err)
			}
			if refused.Reason == "" || utf8.RuneCountInString(refused.Text) > 43 {
				t.Errorf("reason %q for text %q", refused.Reason, refused.Text)
			}
		})
	}

	if err := depth("26 mm"); err != nil {
		t.Errorf("26 mm is the deepest a gauge reads: %v", err)
	}
	if err := depth("32/32"); err != nil {
		t.Errorf("32/32 is the deepest a gauge reads: %v", err)
	}
}

func TestFormat(t *testing.T) {
	t.Parallel()

	tests := []struct{ name, got, want string }{
		{"whole 32nds", units.FormatLength(7*units.ThirtySecond, units.In32), "7/32 in"},
		{"a part of a 32nd", units.FormatLength(13*units.ThirtySecond/2, units.In32), "6.5/32 in"},
		{"just below a whole 32nd does not read as it", units.FormatLength(1_580_000, units.In32), "1.99/32 in"},
		{"tenths of a millimetre", units.FormatLength(1_600_000, units.MM), "1.6 mm"},
		{"2/32 in beside 1.6 mm", units.FormatLength(2*units.ThirtySecond, units.MM), "1.59 mm"},
		{"inches", units.FormatLength(units.Inch/4, units.In), "0.25 in"},
		{"miles", units.FormatDistance(12_340*units.Mile, units.Mi), "12,340 mi"},
		{"kilometres", units.FormatDistance(999*units.Kilometre, units.KM), "999 km"},
		{"millions", units.FormatDistance(1_234_567*units.Kilometre, units.KM), "1,234,567 km"},
		{"below zero", units.FormatDistance(-1_234*units.Kilometre, units.KM), "-1,234 km"},
		{"psi", units.FormatPressure(105*units.PSI, units.Psi), "105 psi"},
		{"bar", units.FormatPressure(720, units.BarUnit), "7.2 bar"},
		{"kPa", units.FormatPressure(720, units.KPa), "720 kPa"},
		{"ounces", units.FormatMass(1.75*units.Ounce, units.Oz), "1.75 oz"},
		{"grams", units.FormatMass(50, units.G), "50 g"},
	}

	for _, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, tt.got, tt.want)
		}
	}
}

func TestAngleNormal(t *testing.T) {
	t.Parallel()
	for in, want := range map[units.Angle]units.Angle{0: 0, 360: 0, -90: 270, 725: 5, -1e-18: 0} {
		if got := in.Normal(); got != want {
			t.Errorf("%v: got %v, want %v", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a := units.Angle(rapid.Float64Range(-1e6, 1e6).Draw(t, "angle"))
		if n := a.Normal(); n < 0 || n >= 360 || math.Abs(math.Sin(n.Radians())-math.Sin(a.Radians())) > 1e-8 {
			t.Fatalf("%v becomes %v", a, n)
		}
	})
}

func TestRoundTrip(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		halves := units.Length(rapid.IntRange(0, 64).Draw(t, "half 32nds")) * units.ThirtySecond / 2
		if got, err := units.ParseDepth(units.FormatLength(halves, units.In32), units.BareNone); err != nil ||
			got != halves {
			t.Fatalf("32nds: got %d, %v; want %d", got, err, halves)
		}

		hundredths := units.Length(rapid.IntRange(0, 2600).Draw(t, "hundredths of a mm")) * units.Millimetre / 100
		if got, err := units.ParseDepth(units.FormatLength(hundredths, units.MM), units.BareNone); err != nil ||
			got != hundredths {
			t.Fatalf("mm: got %d, %v; want %d", got, err, hundredths)
		}

		km := units.Distance(rapid.IntRange(0, 10_000_000).Draw(t, "km")) * units.Kilometre
		if got, err := units.ParseDistance(units.FormatDistance(km, units.KM), units.BareNone); err != nil ||
			got != km {
			t.Fatalf("km: got %d, %v; want %d", got, err, km)
		}

		miles := units.Distance(rapid.IntRange(0, 6_000_000).Draw(t, "mi")) * units.Mile
		if got, err := units.ParseDistance(units.FormatDistance(miles, units.Mi), units.BareNone); err != nil ||
			got != miles {
			t.Fatalf("mi: got %d, %v; want %d", got, err, miles)
		}

		psi := units.Pressure(rapid.IntRange(0, 290).Draw(t, "psi")) * units.PSI
		if got, err := units.ParsePressure(units.FormatPressure(psi, units.Psi), units.BareNone); err != nil ||
			math.Abs(float64(got-psi)) > 1e-9 {
			t.Fatalf("psi: got %v, %v; want %v", got, err, psi)
		}

		quarters := units.Mass(rapid.IntRange(0, 4000).Draw(t, "quarter ounces")) * units.Ounce / 4
		if got, err := units.ParseMass(units.FormatMass(quarters, units.Oz), units.BareNone); err != nil ||
			math.Abs(float64(got-quarters)) > 1e-9 {
			t.Fatalf("oz: got %v, %v; want %v", got, err, quarters)
		}
	})
}

func TestSet(t *testing.T) {
	t.Parallel()
	if !units.Metric.Valid() || !units.US.Valid() {
		t.Error("a usual set is refused")
	}
	if (units.Set{}).Valid() ||
		(units.Set{Depth: units.KM, Pressure: units.Psi, Distance: units.Mi, Mass: units.Oz}).Valid() {
		t.Error("a set with a wrong unit is accepted")
	}
}

// FuzzParse checks of any text: what is accepted is in range and prints to
// something that is accepted again; what is refused says why.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"7/32", "5.5 mm", "105 psi", "7.2 bar", "1.75 oz", "50 g", "12,340 mi", "NaN", "-1",
		"1/32/32", "0,340", "5\x00", "1e9"} {
		f.Add(s)
	}

	f.Fuzz(func(t *testing.T, s string) {
		check := func(err error, inRange bool, printed string, again func(string) error) {
			t.Helper()

			var refused *units.ParseError
			switch {
			case err != nil && !errors.As(err, &refused):
				t.Errorf("%q: %v is no ParseError", s, err)
			case err == nil && !inRange:
				t.Errorf("%q: %s is out of range", s, printed)
			case err == nil && again(printed) != nil:
				t.Errorf("%q prints as %q: %v", s, printed, again(printed))
			}
		}

		l, err := units.ParseDepth(s, units.MM)
		check(err, l >= 0 && l <= units.MaxDepth, units.FormatLength(l, units.MM),
			func(p string) error { _, err := units.ParseDepth(p, units.BareNone); return err })

		d, err := units.ParseDistance(s, units.Mi)
		check(err, d >= 0 && d <= units.MaxDistance, units.FormatDistance(d, units.KM),
			func(p string) error { _, err := units.ParseDistance(p, units.BareNone); return err })

		p, err := units.ParsePressure(s, units.Psi)
		check(err, p >= 0 && p <= units.MaxPressure, units.FormatPressure(p, units.KPa),
			func(p string) error { _, err := units.ParsePressure(p, units.BareNone); return err })

		m, err := units.ParseMass(s, units.Oz)
		check(err, m >= 0 && m <= units.MaxMass, units.FormatMass(m, units.G),
			func(p string) error { _, err := units.ParseMass(p, units.BareNone); return err })
	})
}
