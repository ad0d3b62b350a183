package bench

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"rimledger/api/web/form"
	"rimledger/models/balance"
	"rimledger/models/bench"
	"rimledger/models/units"
)

// benchResult is what the numbers on the bench page come to.
type benchResult struct {
	Said    string // why nothing is worked out yet; empty if it is
	Faults  []form.Problem
	Notes   []string // what was changed before use, and warnings
	Dial    dial
	Strip   residual
	Choices []choice        // as it is, proposed, simply rounded
	Mine    *choice         // the technician's own
	Then    [ownRows]string // what is left with each weight of the technician's own and those before it
	Costs   []string        // what hiding and one plane cost
	Speed   []string        // static and couple, and what they do at speed
	Limits  []limitLine
	Over    []string // which limits are passed
	Advice  bench.Advice
	Needs   []string // what adhesive weights need
	pieces  []balance.Piece
	left    *dialLeft // what the weights of the dial leave; nil where nothing is worked out
}

// workOut computes everything that the page shows of what was typed.
func (f *benchForm) workOut() benchResult {
	var r benchResult
	in, notes, said := f.input()
	own := f.ownPieces()
	if said == "" {
		said = f.compare(&r, in, own)
	}
	r.Notes = append(r.Notes, notes...)

	r.Said, r.Faults = said, f.Problems()
	if said != "" {
		r.Strip, r.left = residual{Said: said}, nil
	}

	sticks := func(plane string) bool { return f.pair().kind(plane) == balance.Adhesive }
	if slices.ContainsFunc(f.allowed(), sticks) {
		r.Needs = surfaceSteps
	}

	r.Dial = f.drawDial(r, own)

	return r
}

// compare puts the proposal, simple rounding and the technician's own choice side by
// side. It returns what is wrong, "" if nothing is.
func (f *benchForm) compare(r *benchResult, in bench.Input, own []balance.Piece) string {
	best, err := bench.Propose(in)
	if err != nil {
		return f.blame(err)
	}
	r.Notes = notesText(best.Notes)
	r.pieces = best.Pieces

	spin, spinErr := f.spin()
	r.Choices = []choice{
		f.column("As it is", nil, best.Before, spin),
		f.column("Proposed", best.Pieces, best.Left, spin),
		f.column("Simply rounded", best.Rounded.Pieces, best.Rounded.Left, spin),
	}

	// The technician's own weights may be half typed; the proposal stays then.
	now, said := f.step(r, best, own, spin)
	if said != "" {
		return said
	}
	r.Strip = f.residual(now, len(own))

	r.Costs = f.costs(best)
	if spinErr == nil {
		r.Speed = f.atSpeed(best, spin)
	}

	// Limits and advice are about what is going to be on the wheel.
	final := fitting{"proposed", best.Pieces, best.Left}
	if len(own) > 0 {
		final = fitting{"your choice", own, now}
	}
	r.left = &dialLeft{final.left, best.Before.Unbalance, f.static()}
	r.Advice = best.Advise(final.left)
	r.Advice.First = f.Units.Render(r.Advice.First)
	f.limits(r, best, final, spin)

	return ""
}

// step says what is left with each weight of the technician's own and those before it.
// It returns what is left with all of them; said is what is wrong with one.
func (f *benchForm) step(
	r *benchResult,
	best bench.Result,
	own []balance.Piece,
	spin balance.Spin,
) (now balance.Left, said string) {
	now = best.Before

	rows, open := f.ownRowsFilled(), f.withOwn(best.Problem, own)
	for i := range own {
		left, notes, err := balance.Evaluate(open, own[:i+1])
		if err != nil {
			return now, f.blame(err)
		}
		r.Then[rows[i]] = "then still add: " + f.leftWords(left)
		now = left

		if i == len(own)-1 {
			r.Notes = append(r.Notes, notesText(notes)...)
			mine := f.column("Your choice", own, left, spin)
			r.Mine = &mine
		}
	}

	return now, ""
}

// takeProposal writes the proposal into the rows of the technician's choice.
func (f *benchForm) takeProposal(r benchResult) {
	for i := range ownRows {
		at := "fitted." + strconv.Itoa(i)
		for _, part := range []string{".mass", ".angle", ".plane", ".place"} {
			f.Sent.Del(at + part)
		}

		if i >= len(r.pieces) {
			continue
		}

		w := r.pieces[i]
		unit := units.G // the unit of the box, so that nothing is rounded
		if strings.HasSuffix(w.Weight, string(units.Oz)) {
			unit = units.Oz
		}
		f.Sent.Set(
			at+".mass",
			units.Style{Set: units.Set{Mass: unit}, Notation: f.Units.Notation}.WriteMass(units.Mass(w.MassG)),
		)

		f.Sent.Set(at+".angle", f.Units.WriteAsTyped(strconv.FormatFloat(math.Round(w.Deg*10)/10, 'f', -1, 64)))
		f.Sent.Set(at+".plane", w.Place)
		f.Sent.Set(at+".place", w.Spot)
	}
}
