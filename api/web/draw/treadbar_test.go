package draw

import (
	"bytes"
	"flag"
	"html/template"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rimledger/models"
	"rimledger/models/units"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func grid(t testing.TB, rows ...string) [][]*models.Depth {
	t.Helper()

	var out [][]*models.Depth
	for _, row := range rows {
		var r []*models.Depth
		for _, s := range strings.Fields(row) {
			if s == "-" {
				r = append(r, nil)
				continue
			}

			d, err := models.ParseDepth(s, units.In32)
			if err != nil {
				t.Fatal(err)
			}
			r = append(r, &d)
		}

		out = append(out, r)
	}

	return out
}

func fresh18() []units.Length {
	return []units.Length{18 * units.ThirtySecond, 18 * units.ThirtySecond, 18 * units.ThirtySecond}
}

// The golden files hold what the drawing was when a person last looked at it;
// the numbers in it are checked by the tests below.
func TestTreadBarGolden(t *testing.T) {
	t.Parallel()

	tests := []struct {
		name string
		in   BarInput
	}{
		{
			"crooked",
			BarInput{
				Position: "1L",
				Depths:   grid(t, "9", "6", "3"),
				New:      fresh18(),
				Legal:    4 * units.ThirtySecond,
				Pull:     6 * units.ThirtySecond,
				Urgency:  models.OffTheRoad,
				Units:    units.Style{Set: units.US},
			},
		},
		{
			"around",
			BarInput{
				Position: "2RO",
				Depths:   grid(t, "12 10 11", "- 12 12", "- - -"),
				New:      fresh18(),
				Legal:    2 * units.ThirtySecond,
				Pull:     4 * units.ThirtySecond,
				Units:    units.Style{Set: units.US},
			},
		},
		{"unmeasured", BarInput{Position: "SP1", New: fresh18(), Units: units.Style{Set: units.Metric}}},
	}

	parsed, err := template.ParseFS(Templates, "templates/*.html")
	if err != nil {
		t.Fatal(err)
	}

	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			var b bytes.Buffer
			if err := parsed.ExecuteTemplate(&b, "treadbar", NewTreadBar(tt.in)); err != nil {
				t.Fatal(err)
			}
			got := strings.ReplaceAll(b.String(), "><", ">\n<") + "\n"

			file := filepath.Join("testdata", "treadbar_"+tt.name+".html")
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}

			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(string(want), got); d != "" {
				t.Error(d)
			}
		})
	}
}

// Lengths by hand: the longest depth is drawn 62 units long, others in
// proportion; 9/18 of 62 is 31, 4/18 is 13.8.
func TestTreadBarLengths(t *testing.T) {
	t.Parallel()

	b := NewTreadBar(
		BarInput{
			Position: "1L",
			Depths:   grid(t, "9", "4", "3"),
			New:      fresh18(),
			Legal:    4 * units.ThirtySecond,
			Pull:     6 * units.ThirtySecond,
			Units:    units.Style{Set: units.US},
		},
	)

	for i, want := range []struct {
		depth float64
		state string
	}{{31, "ok"}, {13.8, "legal"}, {10.3, "legal"}} {
		if g := b.Grooves[i]; g.Depth != want.depth || g.State != want.state || g.New != 62 {
			t.Errorf(
				"groove %d hangs %g (%s, new %g), want %g (%s, new 62)",
				i,
				g.Depth,
				g.State,
				g.New,
				want.depth,
				want.state,
			)
		}
	}

	if *b.Legal != barTop+13.8 || *b.Pull != barTop+20.7 {
		t.Errorf("lines at %g and %g, want %g and %g", *b.Legal, *b.Pull, barTop+13.8, barTop+20.7)
	}

	for _, s := range []string{"1L", "outer 9/32", "center 4/32", "inner 3/32", "legal minimum 4/32 in", "pull point 6/32 in"} {
		if !strings.Contains(b.Alt, s) {
			t.Errorf("the text alternative %q lacks %q", b.Alt, s)
		}
	}
}

// Whatever was read, nothing hangs above the line or below the drawing, and a
// deeper groove never hangs shorter.
func TestTreadBarStaysInside(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		depth := rapid.Int64Range(0, int64(units.MaxDepth))
		in := BarInput{
			Position: "1L",
			Units:    units.Style{Set: units.Metric},
			Legal:    units.Length(rapid.Int64Range(0, int64(8*units.Millimetre)).Draw(t, "legal")),
			Pull:     units.Length(rapid.Int64Range(0, int64(8*units.Millimetre)).Draw(t, "pull")),
		}

		for range rapid.IntRange(0, 8).Draw(t, "grooves") {
			d := models.Depth{Value: units.Length(depth.Draw(t, "depth")), Text: "x"}
			in.Depths = append(in.Depths, []*models.Depth{&d})
		}

		b := NewTreadBar(in)
		for i, g := range b.Grooves {
			if g.Depth < 0 || b.Top+g.Depth > b.Height || g.X < 0 || g.X+g.Width > b.Width {
				t.Fatalf("groove %d leaves the drawing: %+v in %g by %g", i, g, b.Width, b.Height)
			}
			for j, h := range b.Grooves {
				if len(in.Depths) > 0 && in.Depths[i][0].Value > in.Depths[j][0].Value && g.Depth < h.Depth {
					t.Fatalf("groove %d is deeper than %d and hangs shorter", i, j)
				}
			}
		}
	})
}

func TestStripNeedsThreeStations(t *testing.T) {
	t.Parallel()
	if s := NewStrip(BarInput{Depths: grid(t, "9 9", "9 9")}); s != nil {
		t.Error("two stations are unrolled")
	}

	s := NewStrip(
		BarInput{
			Position: "1L",
			Depths:   grid(t, "9 8 7 8 9 8 7 8", "9 9 - 9 9 9 9 9"),
			Units:    units.Style{Set: units.US},
		},
	)
	if s == nil || len(s.Stations) != 8 || !s.Stations[0].Valve || s.Stations[2].Label != "90°" ||
		len(s.Lines[1].Dots) != 7 {
		t.Errorf("eight stations are unrolled as %+v", s)
	}
}

// Unequal stations lie at their angles: the way from 0 to 200 degrees is ten times that
// from 0 to 20. Labels of close ones do not share a row.
func TestStripAtUnequalStations(t *testing.T) {
	t.Parallel()

	in := BarInput{Position: "1L", Depths: grid(t, "9 8 7 8 9"), Units: units.Style{Set: units.US}}
	for _, deg := range []float64{0, 20, 200, 320, 330} {
		in.Stations = append(in.Stations, models.Station{Deg: deg})
	}

	s := NewStrip(in)
	x := func(k int) float64 { return s.Stations[k].X - s.Stations[0].X }
	if d := x(2) - 10*x(1); d > 1 || d < -1 || s.Lines[0].Dots[3].X != s.Stations[3].X {
		t.Errorf("drawn at %+v", s.Stations)
	}
	if s.Stations[3].Y == s.Stations[4].Y || s.Stations[4].Label != "330°" || s.Stations[4].X > s.Width {
		t.Errorf("labels %+v on a width of %g", s.Stations, s.Width)
	}
}
