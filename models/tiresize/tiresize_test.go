package tiresize_test

import (
	"errors"
	"math"
	"testing"

	"rimledger/models/tiresize"
	"rimledger/models/units"
)

// TestDiameter: nominal diameters by D = d + 2H. Source of each row: F published
// in an open page, F2 second-hand, M from memory of R54/ETRTO tables.
func TestDiameter(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		size   string
		mm     int64
		source string
	}{
		{"295/80R22.5", 1044, "M ETRTO, about 1043 F2"}, {"315/80R22.5", 1076, "M"}, {"385/65R22.5", 1072, "M"},
		{"315/70R22.5", 1014, "M"}, {"315/60R22.5", 950, "M"}, {"385/55R22.5", 996, "M"}, {"275/70R22.5", 958, "M"},
		{"275/80R22.5", 1012, "about 1011 F2"}, {"295/75R22.5", 1014, "39.4-40.0 in F2"}, {"285/75R24.5", 1050, "41.4-42.0 in F2"},
		{"12R22.5", 1084, "M"}, {"13R22.5", 1124, "M"}, {"10R22.5", 1020, "M"}, {"12.00R20", 1122, "M"},
		{"245/70R19.5", 839, "M"}, {"265/70R19.5", 867, "M"}, {"285/70R19.5", 895, "M"}, {"435/50R19.5", 931, "M"},
		{"445/45R19.5", 895, "M"}, {"215/75R17.5", 767, "M"}, {"235/75R17.5", 797, "M"}, {"205/75R16C", 714, "M"},
		{"225/65R16C", 698, "M"}, {"205/55R16", 632, "M"}, {"225/45R17", 634, "M"}, {"P205/60R15", 627, "24.69 in F: autopedia.com forum post 7871"},
	} {
		d, err := tiresize.Parse(tc.size)
		if err != nil {
			t.Errorf("Parse(%q): %v", tc.size, err)
			continue
		}
		if got := d.Diameter(); got != units.Length(tc.mm)*units.Millimetre {
			t.Errorf("%s: diameter %s, want %d mm (%s)", tc.size, units.FormatLength(got, units.MM), tc.mm, tc.source)
		}
	}
	// 11R22.5 is published as 41.2-41.5 in and 11R24.5 as 43.3-43.7 in (trucktireguide.com, second-hand).
	for size, in := range map[string][2]float64{"11R22.5": {41.2, 41.5}, "11R24.5": {43.3, 43.7}} {
		d, err := tiresize.Parse(size)
		if got := d.Diameter().Inches(); err != nil || got < in[0] || got > in[1] {
			t.Errorf("%s: diameter %.2f in, %v; want %v", size, got, err, in)
		}
	}
	d, err := tiresize.Parse("31x10.50R15LT")
	if err != nil || d.Diameter() != 31*units.Inch {
		t.Errorf("flotation diameter %v, %v; want 31 in as written", d.Diameter(), err)
	}
}

// TestRolling: revolutions per mile and per second at 5 mph. 235/75R15 is 1.00
// and 235/60R16 1.06-1.07 rev/s in a car maker's workshop manual; 295/75R22.5
// is published as 515-524 rev/mile (trucktireguide.com, second-hand).
func TestRolling(t *testing.T) {
	t.Parallel()
	perSecond := func(size string) float64 {
		d, err := tiresize.Parse(size)
		if err != nil {
			t.Fatal(err)
		}
		return 5 * 1.609344 / 3.6 / (d.RollingCircumference().Millimetres() / 1000)
	}
	if got := perSecond("235/75R15"); math.Abs(got-1.00) > 0.005 {
		t.Errorf("235/75R15: %.4f rev/s at 5 mph, want 1.00", got)
	}
	if got := perSecond("235/60R16"); got < 1.055 || got > 1.075 {
		t.Errorf("235/60R16: %.4f rev/s at 5 mph, want 1.06-1.07", got)
	}
	d, _ := tiresize.Parse("295/75R22.5")
	if got := 1609344 / d.RollingCircumference().Millimetres(); got < 515 || got > 524 {
		t.Errorf("295/75R22.5: %.1f rev/mile, want 515-524", got)
	}
}

// TestLoadIndex: the invariants of the 121 indices (computed from the published
// table: each 80 steps are ten times the load, cut off), and spot values of a
// public web page for 71 to 110 (barretire.com/Tires/tiresizes.htm).
func TestLoadIndex(t *testing.T) {
	t.Parallel()
	last := 0
	for li := 60; li <= 180; li++ {
		kg, ok := tiresize.LoadKG(li)
		if !ok || kg <= last {
			t.Errorf("load index %d is %d kg after %d", li, kg, last)
		}
		if ideal := 45 * math.Pow(10, float64(li)/80); math.Abs(float64(kg)-ideal) > 0.0175*ideal {
			t.Errorf("load index %d is %d kg, more than 1.75 %% from %f", li, kg, ideal)
		}
		if ten, ok := tiresize.LoadKG(li + 80); ok && (ten-10*kg < 0 || ten-10*kg >= 10) {
			t.Errorf("load index %d is %d kg, ten times %d kg expected", li+80, ten, kg)
		}
		last = kg
	}
	for li, want := range map[int]int{71: 345, 80: 450, 91: 615, 100: 800, 110: 1060, 144: 2800, 141: 2575, 152: 3550, 148: 3150} {
		if got, _ := tiresize.LoadKG(li); got != want {
			t.Errorf("load index %d is %d kg, want %d", li, got, want)
		}
	}
	for _, li := range []int{-1, 0, 59, 181} {
		if _, ok := tiresize.LoadKG(li); ok {
			t.Errorf("load index %d is accepted", li)
		}
	}
}

func TestSpeed(t *testing.T) {
	t.Parallel()
	// calculla.com and jaxtyres.com.au agree on these; H stands between U and V.
	for s, want := range map[string]int{"L": 120, "M": 130, "T": 190, "U": 200, "H": 210, "V": 240, "Y": 300, "A8": 40} {
		if got, ok := tiresize.SpeedKMH(s); !ok || got != want {
			t.Errorf("speed symbol %s is %d, want %d km/h", s, got, want)
		}
	}
}

func TestCanonical(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"295/75r22.5 144/141l": "295/75R22.5 144/141L", " 11 R 22.5 ": "11R22.5", "295 / 80 R 22.5 152/148 M": "295/80R22.5 152/148M", "205/75 R 16 C": "205/75R16C",
		"LT245/75R17 121/118S": "LT245/75R17 121/118S", "31X10.5R15LT": "31x10.50R15LT", "205/55 ZR16 91W": "205/55R16 91W",
		"205/75R16C 110/108R": "205/75R16C 110/108R", "12R20": "12.00R20", "12.00-20": "12.00-20", "385/65R22.5 160K": "385/65R22.5 160K",
	} {
		d, err := tiresize.Parse(in)
		if err != nil || d.String() != want {
			t.Errorf("Parse(%q) = %q, %v; want %q", in, d.String(), err, want)
			continue
		}
		if again, err := tiresize.Parse(d.String()); err != nil || again != d {
			t.Errorf("%q reads back as %+v, %v", d.String(), again, err)
		}
	}
}

func TestRefused(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]error{
		"": tiresize.ErrForm, "295": tiresize.ErrForm, "295/75Q22.5": tiresize.ErrForm, "999/75R22.5": tiresize.ErrRange, "295/10R22.5": tiresize.ErrRange,
		"295/75R23.5": tiresize.ErrRimCode, "14R22.5": tiresize.ErrNumeric, "295/75R22.5 59L": tiresize.ErrLoadIndex, "295/75R22.5 181L": tiresize.ErrLoadIndex,
		"295/75R22.5 144/141Z": tiresize.ErrSpeed, "295/75R22.5 144/141L\x00": tiresize.ErrForm,
	} {
		if _, err := tiresize.Parse(in); !errors.Is(err, want) {
			t.Errorf("Parse(%q): %v, want %v", in, err, want)
		}
	}
}

// TestTIN: 3613 is week 36 of 2013 (published example, iheartradio.ca quoting
// SAAQ); 3207 week 32 of 2007 (trade page); lengths and letters from memory of
// 49 CFR 574.5, 13 and 7 symbols published in FR 80:19553.
func TestTIN(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]tiresize.Week{
		"DOT B9JA XK2 3613": {Week: 36, Year: 2013}, "dot-b9ja-3207": {Week: 32, Year: 2007}, "B9J5324": {Week: 53, Year: 2024},
		"B9JAXK2LM509": {Week: 50, Year: 9, OldCode: true},
	} {
		got, err := tiresize.ParseTIN(in)
		if err != nil || got != want {
			t.Errorf("ParseTIN(%q) = %+v, %v; want %+v", in, got, err, want)
		}
	}
	for in, want := range map[string]error{
		"DOT": tiresize.ErrTINLength, "B9JAXK2LMNP123613": tiresize.ErrTINLength, "B9JAXK25413": tiresize.ErrTINWeek, "B9JAXK20013": tiresize.ErrTINWeek,
		"B9JAOK23613": tiresize.ErrTINSymbols, "B9JAXKKK": tiresize.ErrTINDate,
	} {
		if _, err := tiresize.ParseTIN(in); !errors.Is(err, want) {
			t.Errorf("ParseTIN(%q): %v, want %v", in, err, want)
		}
	}
	if got := (tiresize.Week{Week: 1, Year: 2016}).AgeYears(2026, 1); got != 10 {
		t.Errorf("made in week 1 of 2016 and 1 January 2026: %v years, want 10", got)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"295/75R22.5 144/141L", "11R22.5", "31x10.50R15LT", "12.00-20", "P205/60R15"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := tiresize.Parse(s)
		if err != nil {
			return
		}
		if again, err := tiresize.Parse(d.String()); err != nil || again != d {
			t.Fatalf("%q -> %q -> %+v, %v", s, d.String(), again, err)
		}
		if dia := d.Diameter(); dia < 200*units.Millimetre || dia > 2*units.Metre {
			t.Fatalf("%q: diameter %v", s, dia)
		}
	})
}
