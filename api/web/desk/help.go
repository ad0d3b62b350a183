package desk

import (
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
)

// helpPage is the glossary and what findings mean.
type helpPage struct {
	Terms    []say.Term
	Findings []findingHelp
}

type findingHelp struct {
	Code    models.FindingCode
	Meaning string
}

func (s *room) help(r *site.Request) error {
	p := helpPage{Terms: say.Terms}
	for _, c := range say.FindingCodes {
		p.Findings = append(p.Findings, findingHelp{c, say.Explanations[c]})
	}
	return r.Show("help", "help", "Help", p)
}
