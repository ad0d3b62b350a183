package models

import (
	"fmt"
	"strings"
)

// ParseAxles reads a row of axles from the front, each as what it does (S
// steered, D driven, SD both, F free), with L if it lifts, and its number of
// wheels, such as "S2 D4 D4". Target pressures are not part of it. The error
// says what would be right.
func ParseAxles(text string) ([]Axle, error) {
	var out []Axle
	for _, word := range strings.Fields(strings.ToUpper(text)) {
		var a Axle

		kind := strings.TrimRight(word, "0123456789")
		switch strings.TrimSuffix(kind, "L") {
		case "S":
			a.Steered = true
		case "SD":
			a.Steered, a.Driven = true, true
		case "D":
			a.Driven = true
		case "F":
		default:
			return nil, fmt.Errorf(
				"must list axles from the front as S, D, SD or F with the number of wheels, such as S2 D4 D4",
			)
		}

		a.Lifting = strings.HasSuffix(kind, "L")
		switch word[len(kind):] {
		case "2":
		case "4":
			a.Dual = true
		default:
			return nil, fmt.Errorf("must have 2 or 4 wheels on each axle, such as S2 D4 D4")
		}

		out = append(out, a)
	}

	return out, nil
}

// AxlesText writes axles as ParseAxles reads them.
func AxlesText(list []Axle) string {
	var words []string
	for _, a := range list {
		word := ""
		if a.Steered {
			word += "S"
		}
		if a.Driven {
			word += "D"
		}
		if word == "" {
			word = "F"
		}

		if a.Lifting {
			word += "L"
		}
		if a.Dual {
			word += "4"
		} else {
			word += "2"
		}

		words = append(words, word)
	}

	return strings.Join(words, " ")
}
