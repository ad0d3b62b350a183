package static

import (
	"math"
	"regexp"
	"strconv"
	"testing"
)

// Contrast by WCAG 2.2, "relative luminance" and "contrast ratio"; level AA
// asks 4.5:1 of text and 3:1 of the edges of fields and of drawings.
func TestContrast(t *testing.T) {
	t.Parallel()
	css, err := files.ReadFile("style.css")
	if err != nil {
		t.Fatal(err)
	}
	roots := regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(string(css), 2)

	pairs := []struct {
		front, back string
		least       float64
	}{
		{
			"ink",
			"paper",
			4.5,
		}, {"ink", "sheet", 4.5}, {"soft", "paper", 4.5}, {"soft", "sheet", 4.5}, {"link", "paper", 4.5}, {"link", "sheet", 4.5},
		{
			"on-accent",
			"accent",
			4.5,
		}, {"on-off", "off", 4.5}, {"on-now", "now", 4.5}, {"on-plan", "plan", 4.5}, {"on-watch", "watch", 4.5},
		{
			"off",
			"sheet",
			4.5,
		}, {"off", "bad", 4.5}, {"off", "paper", 4.5}, {"now", "sheet", 4.5}, {"ink", "warn", 4.5}, {"ink", "bad", 4.5}, {"ink", "good", 4.5},
		{
			"field",
			"sheet",
			3,
		}, {"field", "paper", 3}, {"rubber", "sheet", 3}, {"rubber", "ghost", 3}, {"rubber-pull", "ghost", 3}, {"rubber-legal", "ghost", 3},
		{"g2", "sheet", 3}, {"g3", "sheet", 3}, {"g4", "sheet", 3},
	}

	for i, scheme := range []string{"light", "dark"} {
		tokens := map[string]string{}
		for _, m := range regexp.MustCompile(`--([a-z0-9-]+): (#[0-9a-f]{6})`).FindAllStringSubmatch(roots[i][1], -1) {
			tokens[m[1]] = m[2]
		}

		for _, p := range pairs {
			if c := contrast(t, tokens[p.front], tokens[p.back]); c < p.least {
				t.Errorf("%s: %s on %s has a contrast of %.2f, want %.1f", scheme, p.front, p.back, c, p.least)
			}
		}
	}

	// The ends of the scale, as the standard gives them: 21:1 and 1:1.
	if c := contrast(t, "#000000", "#ffffff"); math.Abs(c-21) > 1e-9 {
		t.Errorf("black on white has a contrast of %g, want 21", c)
	}
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	la, lb := luminance(t, a), luminance(t, b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

func luminance(t *testing.T, color string) float64 {
	t.Helper()

	var sum float64
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		n, err := strconv.ParseUint(color[1+2*i:3+2*i], 16, 8)
		if err != nil {
			t.Fatal(err)
		}

		c := float64(n) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}

		sum += weight * c
	}

	return sum
}
