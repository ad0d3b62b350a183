package models

import "testing"

func TestAxles(t *testing.T) {
	t.Parallel()

	for _, text := range []string{"S2 D4 D4", "S2 D2", "F4 FL4 SL2", "SD2 D4", ""} {
		list, err := ParseAxles(text)
		if got := AxlesText(list); err != nil || got != text {
			t.Errorf("%q reads and writes as %q: %v", text, got, err)
		}
	}

	list, err := ParseAxles("s2 dl4")
	if err != nil || len(list) != 2 || !list[0].Steered || list[0].Dual || !list[1].Driven || !list[1].Dual ||
		!list[1].Lifting {
		t.Errorf("s2 dl4: %+v, %v", list, err)
	}

	for _, text := range []string{"X2", "S3", "S", "2", "S2D4"} {
		if list, err := ParseAxles(text); err == nil {
			t.Errorf("%q reads as %+v", text, list)
		}
	}
}
