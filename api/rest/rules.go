package rest

import (
	"context"
	"slices"

	"rimledger/models/fleet"
	"rimledger/models/legal"
)

// Rule is one published minimum tread depth, or with kind and limit another
// number that a text sets. Kind winter_tires is a rule that requires marked winter
// tires, guidance what is said about damage or safety.
type Rule struct {
	ID            string   `json:"id"`
	Jurisdictions []string `json:"jurisdictions"           doc:"Codes where it is in force; also where one of these is the parent."`
	Categories    []string `json:"categories,omitempty"    doc:"Of vehicles, as the law names them."                                           nullable:"false"`
	Classes       []string `json:"classes,omitempty"                                                                                           nullable:"false"`
	MassOverKG    int      `json:"mass_over_kg,omitempty"`
	MassUpToKG    int      `json:"mass_up_to_kg,omitempty"`
	SeatsUpTo     int      `json:"seats_up_to,omitempty"`
	Axles         string   `json:"axles,omitempty"`
	WinterOnly    bool     `json:"winter_only,omitempty"   doc:"Only for tires marked as winter tires."`
	Kind          string   `json:"kind,omitempty"          doc:"Of a rule that is not a minimum depth: what it limits."`
	Limit         float64  `json:"limit,omitempty"         doc:"Of such a rule, in the unit that kind names."`
	Need          string   `json:"need,omitempty"          doc:"Of a rule on winter tires: all, or one_drive_axle where the tires of one drive axle are enough."`
	Subjects      []string `json:"subjects,omitempty"      doc:"Of guidance: what it is about. Without jurisdictions it is general practice; its citation is then a foreign rule that is used as good practice." nullable:"false"`
	Minimum       string   `json:"minimum,omitempty"       doc:"In the law's own unit."`
	MinimumMM     float64  `json:"minimum_mm,omitempty"`
	EqualFails    bool     `json:"equal_fails,omitempty"   doc:"A depth equal to the minimum breaks the rule."`
	Grooves       string   `json:"grooves,omitempty"       doc:"Which grooves count."`
	Sampling      string   `json:"sampling,omitempty"      doc:"Where the depth must be below for the rule to be broken."`
	Seasonal      bool     `json:"seasonal,omitempty"      doc:"In force for a part of the year."`
	Situational   bool     `json:"situational,omitempty"   doc:"In force in conditions of the day or the road."`
	Consequence   string   `json:"consequence,omitempty"`
	Status        string   `json:"status"                  doc:"F: read in a public text; F2: read second-hand; M: from memory, not verified."`
	On            bool     `json:"on"                      doc:"Whether it is applied: what is not verified is not."`
	Citation      string   `json:"citation"                doc:"The statute or standard, with its paragraph."`
	Source        string   `json:"source,omitempty"        doc:"What kind of text was read."`
	Read          string   `json:"read,omitempty"          doc:"When the text was read."`
	Explanation   string   `json:"explanation"             doc:"The rule in a sentence, with who decides."`
}

func ruleOf(r legal.Rule) Rule {
	return Rule{
		ID:            r.ID,
		Jurisdictions: items(r.Jurisdictions, text),
		Categories:    list(r.Categories, text),
		Classes:       list(r.Classes, text),
		MassOverKG:    r.MassOverKG,
		MassUpToKG:    r.MassUptoKG,
		SeatsUpTo:     r.SeatsUpto,
		Axles:         string(r.Axles),
		WinterOnly:    r.WinterOnly,
		Minimum:       r.MinText,
		MinimumMM:     r.Min.Millimetres(),
		EqualFails:    r.EqualFails,
		Grooves:       r.Band,
		Sampling:      string(r.Sampling),
		Seasonal:      r.Season != nil,
		Situational:   r.Situational,
		Consequence:   string(r.Consequence),
		Status:        string(r.Status),
		On:            r.On(),
		Citation:      r.Citation,
		Source:        r.Source,
		Read:          r.Read,
		Explanation:   r.Explain(),
	}
}

func otherRuleOf(o legal.Other) Rule {
	r := ruleOf(o.Rule)
	r.Kind, r.Limit, r.Explanation = string(o.Kind), o.Limit, o.Explain()
	return r
}

func winterRuleOf(w legal.Winter) Rule {
	r := ruleOf(w.Rule)
	r.Kind, r.Need, r.Explanation = "winter_tires", string(w.Need), w.Explain()
	return r
}

func guidanceOf(g legal.Guidance) Rule {
	r := ruleOf(g.Rule)
	r.Kind, r.Subjects, r.Explanation = "guidance", list(g.Subjects, text), g.Explain()
	return r
}

// Jurisdiction is a place whose rules are known.
type Jurisdiction struct {
	Code   string `json:"code"`
	Name   string `json:"name"`
	Parent string `json:"parent,omitempty" doc:"The place whose rules also apply there."`
}

func (s *server) registerRules() {
	const tag = "Legal rules"
	register(
		s,
		get(
			"/legal-rules",
			tag,
			"List legal rules",
			"Every rule in the table, applied or not, with its citation and when it was read. "+legal.Notice,
		),
		func(_ context.Context, _ fleet.Actor, in *struct {
			Jurisdiction string `query:"jurisdiction" maxLength:"20" doc:"Only rules that name this code."`
		}) (*pageOut[Rule], error) {
			all := slices.Concat(items(legal.All(), ruleOf), items(legal.Others(), otherRuleOf),
				items(legal.Winters(), winterRuleOf), items(legal.AllGuidance(), guidanceOf))
			return paged(slices.DeleteFunc(all, func(r Rule) bool {
				return in.Jurisdiction != "" && !slices.Contains(r.Jurisdictions, in.Jurisdiction)
			}), "", nil, func(r Rule) Rule { return r })
		},
	)

	register(s, get("/jurisdictions", tag, "List jurisdictions", "Whose rules a depot can pick."),
		func(context.Context, fleet.Actor, *struct{}) (*pageOut[Jurisdiction], error) {
			return paged(
				legal.Jurisdictions(),
				"",
				nil,
				func(j legal.Jurisdiction) Jurisdiction { return Jurisdiction(j) },
			)
		})
}
