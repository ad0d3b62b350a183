package legal

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rimledger/models/units"
)

//go:embed data/rules.csv
var rulesCSV string

//go:embed data/other.csv
var otherCSV string

//go:embed data/jurisdictions.csv
var jurisdictionsCSV string

var (
	rules         = load(rulesCSV, ruleOf)
	other         = load(otherCSV, otherOf)
	jurisdictions = load(jurisdictionsCSV, jurisdictionOf)

	// The switched-on rules by the jurisdictions where they are in force.
	rulesIn = inForce(rules, func(r Rule) Rule { return r })
	otherIn = inForce(other, func(o Other) Rule { return o.Rule })
)

// inForce returns the switched-on rows of a table by the jurisdictions where they are
// in force; rule returns the rule of a row.
func inForce[T any](all []T, rule func(T) Rule) map[string][]T {
	out := map[string][]T{}
	for _, j := range jurisdictions {
		for _, one := range all {
			if r := rule(one); r.On() && r.inForceIn(j.Code) {
				out[j.Code] = append(out[j.Code], one)
			}
		}
	}
	return out
}

// row is one line of an embedded table by column name. A malformed table is a mistake in
// this package: it panics at the start of the program.
type row map[string]string

// load returns the rows of an embedded table, each made by one.
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

// int returns a column as a number, 0 if it is empty.
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

// ruleOf returns the rule of a row of rules.csv.
func ruleOf(r row) Rule {
	minimum, err := units.ParseDepth(r["min"], units.BareNone)
	if err != nil {
		panic(fmt.Sprintf("rule %s: %v", r["id"], err))
	}

	out := r.common()
	out.Min, out.MinText, out.EqualFails = minimum, r["min"], r["equal"] == "fails"
	out.Grooves, out.Band, out.Sampling = Grooves(r["grooves"]), r["band"], Sampling(r["sampling"])
	out.AtIndicatorFails, out.Situational = r["at_indicator_fails"] == "yes", r["situational"] == "yes"
	out.Season, out.Consequence = seasonOf(r), Consequence(r["consequence"])

	return out
}

// common returns a rule with the columns that both tables have.
func (r row) common() Rule {
	out := Rule{ID: r["id"], Jurisdictions: strings.Fields(r["jurisdiction"]), Classes: strings.Fields(r["classes"]),
		MassOverKG: r.int("mass_over_kg"), MassUptoKG: r.int("mass_upto_kg"), SeatsUpto: r.int("seats_upto"),
		Axles: Axles(r["axles"]), Text: r["text"], Citation: r["citation"], Source: r["source"], Read: r["read"],
		Status: Status(r["status"])}

	tires := strings.Fields(r["tires"])
	out.WinterOnly, out.SingleOnly = slices.Contains(tires, "winter"), slices.Contains(tires, "single")
	out.RadialOnly, out.BiasOnly = slices.Contains(tires, "radial"), slices.Contains(tires, "bias")

	for _, c := range strings.Fields(r["categories"]) {
		out.Categories = append(out.Categories, Category(c))
	}

	return out
}

// seasonOf returns the season of a row, written "11-1..4-30" or "11-1..easter+8"; nil if
// it is empty.
func seasonOf(r row) *Season {
	if r["season"] == "" {
		return nil
	}

	var s Season
	from, to, _ := strings.Cut(r["season"], "..")
	_, err := fmt.Sscanf(from, "%d-%d", &s.From.Month, &s.From.Day)

	if after, movable := strings.CutPrefix(to, "easter+"); movable && err == nil {
		s.DaysAfterEaster, err = strconv.Atoi(after)
		s.To = latestEaster.plus(s.DaysAfterEaster)
	} else if err == nil {
		_, err = fmt.Sscanf(to, "%d-%d", &s.To.Month, &s.To.Day)
	}

	if err != nil {
		panic(fmt.Sprintf("rule %s, season: %v", r["id"], err))
	}
	return &s
}

// Jurisdiction is a place that a depot can choose.
type Jurisdiction struct {
	Code, Name string
	Parent     string // whose rules are in force there too; may be empty
}

func jurisdictionOf(r row) Jurisdiction {
	return Jurisdiction{Code: r["code"], Name: r["name"], Parent: r["parent"]}
}

// OtherKind is the quantity that a rule limits which is not a minimum depth.
type OtherKind string

// OtherKinds lists every kind.
var OtherKinds = []OtherKind{AxleDifferenceMM, DualDiameterIn, AgeYears, LoadIndexSpread, RetreadBarred,
	RegroovedLoadLB, HotPressurePSI, PermitSpeedMPH, WheelRunoutIn, CutMM, PlyRatingSpread, IndicatorOverMM,
	AgeRecordYears, PressurePercent, LoadRatingPercent, StudsMassKG}

// The kinds of other rules.
const (
	AxleDifferenceMM OtherKind = "axle_difference_mm" // depth difference across an axle
	DualDiameterIn   OtherKind = "dual_diameter_in"   // diameter difference in a dual pair
	AgeYears         OtherKind = "age_years"
	LoadIndexSpread  OtherKind = "load_index_difference"
	RetreadBarred    OtherKind = "retread_barred"    // Limit is not used
	RegroovedLoadLB  OtherKind = "regrooved_load_lb" // regrooved tires that carry so much are barred
	HotPressurePSI   OtherKind = "hot_pressure_psi"  // to subtract from a hot reading
	PermitSpeedMPH   OtherKind = "permit_speed_mph"  // with a load above the rating
	WheelRunoutIn    OtherKind = "wheel_runout_in"   // lateral and radial, each
	CutMM            OtherKind = "cut_mm"            // length of a cut that reaches the cords
	PlyRatingSpread  OtherKind = "ply_rating_difference"
	IndicatorOverMM  OtherKind = "indicator_over_mm" // how far an indicator may be above 1.6 mm
	// AgeRecordYears is the age beyond which the age and the risk are to be recorded.
	AgeRecordYears OtherKind = "age_record_years"
	// PressurePercent is the share of the pressure on the sidewall at or below which a
	// tire counts as flat.
	PressurePercent   OtherKind = "pressure_percent"
	LoadRatingPercent OtherKind = "load_rating_percent" // by which unmarked tires of an axle may differ
	StudsMassKG       OtherKind = "studs_mass_kg"       // up to which a vehicle may run on studs
)

// Other is a rule with a number that is not a minimum depth.
type Other struct {
	Rule      // Min, MinText, Band and Sampling are not used
	SeatsOver int
	Kind      OtherKind
	Limit     float64
}

// Explain returns the rule in a sentence, as Rule.Explain does.
func (o Other) Explain() string {
	return fmt.Sprintf("%s (%s; %s %s). %s", o.Text, o.Citation, o.Status.Words(), o.Read, Notice)
}

// otherOf returns the rule of a row of other.csv.
func otherOf(r row) Other {
	limit, err := strconv.ParseFloat(r["limit"], 64)
	if err != nil {
		panic(fmt.Sprintf("rule %s: %v", r["id"], err))
	}

	out := Other{Rule: r.common(), SeatsOver: r.int("seats_over"), Kind: OtherKind(r["kind"]), Limit: limit}
	out.Consequence = Violation
	return out
}

// OtherFor returns the switched-on rules of one kind for a tire at p of v.
func OtherFor(jurisdiction string, kind OtherKind, v Vehicle, p Place) []Other {
	var out []Other
	for _, o := range otherIn[jurisdiction] {
		if o.Kind == kind && o.covers(v, p) && (o.SeatsOver == 0 || v.Seats > o.SeatsOver) {
			out = append(out, o)
		}
	}
	return out
}
