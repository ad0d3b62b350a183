package legal

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
)

//go:embed data/guidance.csv
var guidanceCSV string

var guidance = load(guidanceCSV, guidanceOf)

// Subject is what a guidance is about: the code of an observation, as
// models.ObservationCode writes it, or one of the constants below.
type Subject string

// The subjects that are no observation.
const (
	RunFlat           Subject = "run_flat"           // a tire at 80 % of its pressure or less
	MixedConstruction Subject = "mixed_construction" // radial and bias tires on one axle
	RetreadBusFront   Subject = "retread_bus_front"
	DateCode          Subject = "date_code" // of an identification number
)

// Guidance is what a rule or the trade says about damage or safety at one place.
type Guidance struct {
	Rule     // Min, MinText, Band and Sampling are not used
	Subjects []Subject
	// Where is the name of the jurisdiction that was asked about; it is set by Guide.
	Where string
}

// InForce reports whether the guidance is a rule in force where it was asked about.
func (g Guidance) InForce() bool { return len(g.Jurisdictions) > 0 }

// Foreign reports whether it is a rule of another place, used as good practice.
func (g Guidance) Foreign() bool { return !g.InForce() && g.Citation != "" }

// Cite returns where the guidance is from: its citation, how sure that is and when it was
// read; for a foreign rule and for the practice of the trade it says so.
func (g Guidance) Cite() string {
	switch {
	case g.Foreign():
		return fmt.Sprintf("foreign rule, used as good practice: %s, %s %s", g.Citation, g.Status.Words(), g.Read)
	case !g.InForce():
		return "common practice"
	}
	return fmt.Sprintf("%s, %s %s", g.Citation, g.Status.Words(), g.Read)
}

// Explain returns the guidance in a sentence with where it is from.
func (g Guidance) Explain() string {
	if g.InForce() || g.Where == "" {
		return fmt.Sprintf("%s (%s).", g.Text, g.Cite())
	}
	return fmt.Sprintf("%s (%s; no rule of %s about this has been read).", g.Text, g.Cite(), g.Where)
}

// guidanceOf returns the guidance of a row of guidance.csv.
func guidanceOf(r row) Guidance {
	out := Guidance{Rule: r.common()}
	for _, s := range strings.Fields(r["subjects"]) {
		out.Subjects = append(out.Subjects, Subject(s))
	}
	return out
}

// Guide returns what is said about a subject at p of v: the rule in force in the
// jurisdiction or, failing that, above it; else general practice. An unknown subject has a
// guidance without a text.
func Guide(jurisdiction string, s Subject, v Vehicle, p Place) Guidance {
	in := func(code string) (Guidance, bool) {
		i := slices.IndexFunc(guidance, func(g Guidance) bool {
			here := code == "" && !g.InForce() || slices.Contains(g.Jurisdictions, code)
			return here && g.On() && slices.Contains(g.Subjects, s) && g.covers(v, p)
		})
		if i < 0 {
			return Guidance{}, false
		}
		return guidance[i], true
	}

	asked, _ := findJurisdiction(jurisdiction)
	for j := asked; j.Code != ""; j, _ = findJurisdiction(j.Parent) {
		if g, found := in(j.Code); found {
			g.Where = asked.Name
			return g
		}
	}

	g, _ := in("")
	g.Where = asked.Name
	return g
}

// AllGuidance returns every row of the table.
func AllGuidance() []Guidance { return slices.Clone(guidance) }
