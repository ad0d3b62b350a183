package bench

import (
	"fmt"

	"rimledger/models/balance"
)

// Advice is what to do where weights do not bring an assembly within its limits.
// Quantities are marked.
type Advice struct {
	First string // what to make sure of before anything; empty: nothing
	Title string
	Steps []string // in order; empty where nothing is wrong
}

// unusual returns the demand, both planes together, above which a machine asks for more than
// any usual wheel does: 150 g on light wheels (common practice: look at the seat), on heavy
// ones 28 oz, the most that TMC RP 214 allows any assembly.
func (a Assembly) unusual() balance.Limit {
	if a.Heavy() {
		return balance.MustLimit("heavy-wide-other")
	}
	return balance.MustLimit("car-total-suspect")
}

// Advise says what to do about what a set of weights leaves. More weight is never advised.
// The advice follows the cause:
//
//   - the machine asks for more than any usual wheel does: the question whether all weights
//     are off, and if they are, taking the assembly apart; so too where a bare heavy assembly
//     asks for more than its limit;
//   - weights behind spokes do not do it and in the open they would: a wider strip, or weights
//     in the open;
//   - the demand is usual and the weights of the box do not do it: other weights;
//   - the proposal would do it and the set does not: the proposal.
func (r Result) Advise(left balance.Left) Advice {
	demand, usual := r.Before.OuterG+r.Before.InnerG, r.assembly.unusual()
	large := demand > usual.Base()
	if n := r.assembly.Limits().Needed; r.weightsOff && n != nil {
		large = large || demand > n.Base()
	}

	// The cases are in the order of the causes above; the first that fits is given.
	switch {
	case large && r.weightsOff:
		return Advice{Title: "Not more weight. Instead:", Steps: balance.TakeApart()}
	case large:
		return Advice{First: fmt.Sprintf("all weights off? The machine asks for %s, more than any usual wheel (%s). "+
			"Take all weights off and spin again. If they are off, tick it.", massWords(demand), limitValue(usual))}
	case left.Meets:
		return Advice{}
	case r.Open != nil && r.Open.Left.Meets && !r.Left.Meets:
		return Advice{Title: "Hiding behind the spokes leaves too much. Instead:", Steps: []string{
			"use a wider strip behind the spokes",
			"or put the weights in the open, where nothing hides them",
		}}
	case !r.Left.Meets:
		return Advice{Title: "The weights of the box cannot bring it within the limit. Instead:", Steps: []string{
			"free the places where nothing fits, or allow more places",
			"use finer or heavier weights",
		}}
	}

	return Advice{Title: "Your weights leave too much. Instead:", Steps: []string{
		"take them off and fit what is proposed",
		"if it is over again: check bead seating and run-out; do not add more weight",
	}}
}
