package units_test

import (
	"strings"
	"testing"
	"time"

	"rimledger/models/notation"
	"rimledger/models/units"
)

// TestRender reads one marked text as several people read it. The numbers beside
// one another are conversions by the exact definitions (NIST SP 811).
func TestRender(t *testing.T) {
	day := time.Date(2026, 11, 6, 15, 4, 0, 0, time.UTC)

	german, _ := notation.For("de-DE")
	us, _ := notation.For("en-US")
	const notMarks = "⟦nothing 1⟧ ⟦depth x⟧ ⟦ ⟧ ⟦depth 1"
	styles := []units.Style{{Set: units.Metric}, {Set: units.US, Notation: us}, {Set: units.Metric, Notation: german}}

	for _, c := range []struct {
		text string
		want [3]string
	}{
		{"plain text, 50 % of {it}",
			[3]string{"plain text, 50 % of {it}", "plain text, 50 % of {it}", "plain text, 50 % of {it}"}},
		{units.MarkDepth(4 * units.ThirtySecond), [3]string{"3.18 mm", "4/32 in", "3,18 mm"}},
		{"read " + units.MarkTypedDepth(4*units.ThirtySecond, "4/32 in") + " at 1L",
			[3]string{"read 3.18 mm (4/32 in) at 1L", "read 4/32 in at 1L", "read 3,18 mm (4/32 in) at 1L"}},
		{units.MarkTypedDepth(1_600_000, "1.6 mm"), [3]string{"1.6 mm", "2.02/32 in (1.6 mm)", "1,6 mm"}},
		{units.MarkSmall(35_000_000), [3]string{"35 mm", "1.4 in", "35 mm"}},
		{units.MarkSmall(25_400_000), [3]string{"25.4 mm", "1 in", "25,4 mm"}},
		{units.MarkSmall(25_390_000), [3]string{"25.39 mm", "1 in", "25,39 mm"}},
		{units.MarkSmall(1_270_000), [3]string{"1.27 mm", "0.05 in", "1,27 mm"}},
		{units.MarkEstimate(7.9375), [3]string{"7.9 mm", "10.0/32 in", "7,9 mm"}},
		{units.MarkRate(0.079375 / 1.609344),
			[3]string{"0.05 mm per 1,000 km", "1.0/32 in per 10,000 mi", "0,05 mm per 1.000 km"}},
		{units.MarkBareRate(0.079375 / 1.609344), [3]string{"0.05", "1.0/32", "0,05"}},
		{units.MarkDistance(12_340 * units.Mile), [3]string{"19,859 km", "12,340 mi", "19.859 km"}},
		{units.MarkSpeed(80.4672), [3]string{"80 km/h", "50 mph", "80 km/h"}},
		{units.MarkPressure(100 * units.PSI), [3]string{"689 kPa", "100 psi", "689 kPa"}},
		{units.MarkTypedPressure(100*units.PSI, "100 psi"),
			[3]string{"689 kPa (100 psi)", "100 psi", "689 kPa (100 psi)"}},
		{units.MarkTypedMass(units.Ounce/4, "0.25 oz"), [3]string{"7.1 g (0.25 oz)", "0.25 oz", "7,1 g (0,25 oz)"}},
		{units.MarkMass(units.Ounce), [3]string{"28.3 g", "1 oz", "28,3 g"}},
		{units.MarkTorque(610.1), [3]string{"610 N·m", "450 lb·ft", "610 N·m"}},
		{units.MarkNumber(1.75, 1), [3]string{"1.8", "1.8", "1,8"}},
		{"on " + units.MarkDay(day) + "; " + units.MarkDay(day.AddDate(0, 0, 1)),
			[3]string{"on 2026-11-06; 2026-11-07", "on Nov 6, 2026; Nov 7, 2026", "on 6 Nov 2026; 7 Nov 2026"}},
		{notMarks, [3]string{notMarks, notMarks, notMarks}},
	} {
		for i, s := range styles {
			if got := s.Render(c.text); got != c.want[i] {
				t.Errorf("%q read as %v: %q, want %q", c.text, s, got, c.want[i])
			}
		}
	}
}

// TestTypedBesideOwn: what was typed in another unit is in the reader's notation too,
// since 174,981 is another number in Germany. 174,981 mi are 281,604.6 km (a mile is
// 1,609.344 m exactly).
func TestTypedBesideOwn(t *testing.T) {
	german, _ := notation.For("de-DE")
	s := units.Style{Set: units.Metric, Notation: german}
	if got, want := s.WriteTypedDistance(174_981*units.Mile, "174,981 mi"), "281.605 km (174.981 mi)"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := s.WriteTypedDepth(units.Inch*3/100, "0.03 in"), "0,76 mm (0,03 in)"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// TestWriteAbout: three figures count, in the reader's unit.
func TestWriteAbout(t *testing.T) {
	for _, c := range []struct {
		set  units.Set
		d    units.Distance
		want string
	}{
		{units.US, 32_647 * units.Mile, "32,600 mi"}, {units.US, 9_996 * units.Mile, "10,000 mi"},
		{units.US, 100 * units.Mile, "100 mi"}, {units.US, 999 * units.Mile, "999 mi"},
		{units.Metric, 123_456 * units.Kilometre, "123,000 km"}, {units.Metric, 7 * units.Kilometre, "7 km"},
		{units.Metric, 0, "0 km"}, {units.US, 1609 * units.Kilometre, "1,000 mi"},
	} {
		if got := (units.Style{Set: c.set}).WriteAbout(c.d); got != c.want {
			t.Errorf("%v: %q, want %q", c.d, got, c.want)
		}
	}
}

// FuzzRender looks for a text that breaks Render, or that it changes without a mark.
func FuzzRender(f *testing.F) {
	f.Add("⟦depth 1⟧")
	f.Add("⟦⟦day 2026-01-01⟧")
	f.Fuzz(func(t *testing.T, text string) {
		got := units.Style{Set: units.US}.Render(text)
		if !strings.Contains(text, "⟦") && got != text {
			t.Errorf("%q became %q", text, got)
		}
	})
}
