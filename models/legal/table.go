package legal

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"rimledger/models/units"
)

//go:embed data/rules.csv
var rulesCSV string

//go:embed data/other.csv
var otherCSV string

var (
	rules = load(rulesCSV, ruleOf)
	other = load(otherCSV, otherOf)
)

// row is one line of an embedded table by column name. A fault in an embedded
// table is ours and ends the program at its start.
type row map[string]string

func load[T any](text string, one func(row) T) []T {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		panic(fmt.Sprintf("embedded table: %v", err))
	}
	var out []T
	for _, cells := range lines[1:] {
		c := row{}
		for i, name := range lines[0] {
			c[name] = cells[i]
		}
		out = append(out, one(c))
	}
	return out
}

func (r row) int(column string) int {
	if r[column] == "" {
		return 0
	}
	n, err := strconv.Atoi(r[column])
	if err != nil {
		panic(fmt.Sprintf("rule %s, %s: %v", r["id"], column, err))
	}
	return n
}

func ruleOf(r row) Rule {
	min, err := units.ParseDepth(r["min"], units.BareNone)
	if err != nil {
		panic(fmt.Sprintf("rule %s: %v", r["id"], err))
	}
	return Rule{ID: r["id"], Jurisdiction: r["jurisdiction"], Classes: strings.Fields(r["classes"]), MassOverKG: r.int("mass_over_kg"),
		MassUptoKG: r.int("mass_upto_kg"), SeatsUpto: r.int("seats_upto"), Axles: Axles(r["axles"]), Min: min, MinText: r["min"], Band: r["band"],
		Sampling: Sampling(r["sampling"]), AtIndicatorFails: r["at_indicator_fails"] == "yes", Season: seasonOf(r), Situational: r["situational"] == "yes",
		Consequence: Consequence(r["consequence"]), Text: r["text"], Citation: r["citation"], Source: r["source"], Read: r["read"], Status: Status(r["status"])}
}

func seasonOf(r row) *Season {
	if r["season"] == "" {
		return nil
	}
	var s Season
	if _, err := fmt.Sscanf(r["season"], "%d-%d..%d-%d", &s.From.Month, &s.From.Day, &s.To.Month, &s.To.Day); err != nil {
		panic(fmt.Sprintf("rule %s, season: %v", r["id"], err))
	}
	return &s
}

// OtherKind is what a rule that is no minimum depth limits.
type OtherKind string

// The kinds of other rules.
const (
	AxleDifferenceMM OtherKind = "axle_difference_mm" // depth difference across an axle
	DualDiameterIn   OtherKind = "dual_diameter_in"   // diameter difference in a dual pair
	AgeYears         OtherKind = "age_years"
	LoadIndexSpread  OtherKind = "load_index_difference"
)

// Other is a rule with a number that is not a minimum depth.
type Other struct {
	Rule      // Min, MinText, Band and Sampling are not used
	SeatsOver int
	Kind      OtherKind
	Limit     float64
}

// Explain says the rule in a sentence, as Rule.Explain does.
func (o Other) Explain() string {
	return fmt.Sprintf("%s (%s; read %s, %s). %s", o.Text, o.Citation, o.Read, o.Status.words(), Notice)
}

func otherOf(r row) Other {
	limit, err := strconv.ParseFloat(r["limit"], 64)
	if err != nil {
		panic(fmt.Sprintf("rule %s: %v", r["id"], err))
	}
	return Other{Rule: Rule{ID: r["id"], Jurisdiction: r["jurisdiction"], Classes: strings.Fields(r["classes"]), MassOverKG: r.int("mass_over_kg"),
		Axles: Axles(r["axles"]), Consequence: Violation, Text: r["text"], Citation: r["citation"], Source: r["source"], Read: r["read"], Status: Status(r["status"])},
		SeatsOver: r.int("seats_over"), Kind: OtherKind(r["kind"]), Limit: limit}
}

// OtherFor returns the switched-on rules of one kind for a tire at p of v.
func OtherFor(jurisdiction string, kind OtherKind, v Vehicle, p Place) []Other {
	country, _, _ := strings.Cut(jurisdiction, "-")
	var out []Other
	for _, o := range other {
		if o.Kind == kind && (o.Jurisdiction == jurisdiction || o.Jurisdiction == country) && o.On() && o.covers(v, p) && (o.SeatsOver == 0 || v.Seats > o.SeatsOver) {
			out = append(out, o)
		}
	}
	return out
}
