package balance_test

import (
	"errors"
	"math"
	"testing"

	"rimledger/models/badinput"
	"rimledger/models/balance"
)

// TestRefusals: each refused input names its reason, its field and what would be right.
func TestRefusals(t *testing.T) {
	t.Parallel()

	planes := wheelPlanes
	with := func(change func(*balance.Problem)) error {
		p := openFlanges(planes, fiveGrams(4))
		p.Unbalance = balance.Unbalance{Inner: balance.Mass(20, 200, 10), Outer: balance.Mass(20, 200, 10)}
		change(&p)
		_, err := balance.Choose(p)
		return err
	}

	spins := func(turn float64) error {
		_, err := balance.IndexBalance(balance.Spins{Planes: planes, TurnDeg: turn})
		return err
	}

	trial := func(change func(*balance.TrialTest)) error {
		p := func(a, d float64) balance.Phasor { return balance.Phasor{Amount: a, Deg: d} }
		tt := balance.TrialTest{Planes: 2, AsIs: []balance.Phasor{p(5, 0), p(3, 40)}, Runs: []balance.TrialRun{
			{Plane: 0, Weight: p(10, 0), Readings: []balance.Phasor{p(7, 10), p(2, 50)}},
			{Plane: 1, Weight: p(10, 0), Readings: []balance.Phasor{p(4, 20), p(6, 0)}},
		}}
		change(&tt)
		_, err := balance.TrialWeights(tt)
		return err
	}

	positions := func(runs ...balance.PositionRun) error {
		_, err := balance.TrialPositions(balance.PositionTest{AsIs: 5, TrialG: 10, Runs: runs})
		return err
	}
	at := func(deg, amplitude float64) balance.PositionRun {
		return balance.PositionRun{Deg: deg, Amplitude: amplitude}
	}

	shown := func(p balance.Planes, s balance.Shown) error { _, _, err := balance.FromShown(p, s, s); return err }
	last := func(_ any, err error) error { return err }
	for _, c := range []struct {
		name string
		err  error
		want error
	}{
		{"zero radius", shown(balance.Planes{Outer: planes.Outer}, balance.Shown{}), balance.ErrZeroRadius},
		{"zero plane distance",
			shown(balance.Planes{Inner: planes.Inner, Outer: planes.Inner}, balance.Shown{}), balance.ErrZeroDistance},
		{"a mass beyond any wheel's", shown(planes, balance.Shown{MassG: 50_000}), balance.ErrTooHeavy},
		{"a negative mass", shown(planes, balance.Shown{MassG: -1}), balance.ErrOutOfRange},
		{"an angle that is no number", shown(planes, balance.Shown{MassG: 1, Deg: math.NaN()}), balance.ErrNotFinite},
		{"an endless mass", shown(planes, balance.Shown{MassG: math.Inf(1)}), balance.ErrNotFinite},
		{"empty stock", with(func(p *balance.Problem) { p.Stock = nil }), balance.ErrEmptyStock},
		{"no place", with(func(p *balance.Problem) { p.Places = nil }), balance.ErrNoPlace},
		{"everything blocked", with(func(p *balance.Problem) {
			p.Places[0].Blocked = []balance.Arc{{FromDeg: 0, ToDeg: 360}}
			p.Places[1].Blocked = []balance.Arc{{FromDeg: 90, ToDeg: 450}}
		}), balance.ErrNoPlace},
		{"clips that no flange takes", with(func(p *balance.Problem) {
			for i := range p.Places {
				p.Places[i].Clips = []string{"P"}
			}
			for i := range p.Stock {
				p.Stock[i].Clip = "T"
			}
		}), balance.ErrNoPlace},
		{"two places of one name",
			with(func(p *balance.Problem) { p.Places[1].Name = p.Places[0].Name }), balance.ErrUnknownPlace},
		{"too fine a search", with(func(p *balance.Problem) {
			p.Places[0].StepDeg, p.Places[0].MaxPieces = 0.5, 3
			p.Stock, p.Mode = fiveGrams(40), balance.Static
		}), balance.ErrTooManyChoices},
		{"unknown mode", with(func(p *balance.Problem) { p.Mode = "other" }), balance.ErrUnknownChoice},
		{"unknown kind", with(func(p *balance.Problem) { p.Stock[0].Kind = "glue" }), balance.ErrUnknownChoice},
		{"a weight of nothing", with(func(p *balance.Problem) { p.Stock[0].MassG = 0 }), balance.ErrOutOfRange},
		{"an unbalance beyond any wheel's",
			with(func(p *balance.Problem) { p.Unbalance.Inner.GMM = 1e9 }), balance.ErrTooHeavy},
		{"tire not turned", spins(0), balance.ErrTurnTooSmall},
		{"tire turned a full turn", spins(360), balance.ErrTurnTooSmall},
		{"planes that act alike",
			trial(func(tt *balance.TrialTest) { tt.Runs[1].Readings = tt.Runs[0].Readings }), balance.ErrSingular},
		{"trial weight with no effect",
			trial(func(tt *balance.TrialTest) { tt.Runs[1].Readings = tt.AsIs }), balance.ErrNoEffect},
		{"no trial weight", trial(func(tt *balance.TrialTest) { tt.Runs[1].Weight.Amount = 0 }), balance.ErrNoEffect},
		{"a change below the noise", trial(func(tt *balance.TrialTest) { tt.Noise = 10 }), balance.ErrNoEffect},
		{"a run too few", trial(func(tt *balance.TrialTest) { tt.Runs = tt.Runs[:1] }), balance.ErrTooFew},
		{"fewer readings than planes", trial(func(tt *balance.TrialTest) { tt.AsIs = tt.AsIs[:1] }), balance.ErrTooFew},
		{"one plane twice", trial(func(tt *balance.TrialTest) { tt.Runs[1].Plane = 0 }), balance.ErrOutOfRange},
		{"two positions", positions(at(0, 6), at(120, 4)), balance.ErrTooFew},
		{"positions close together", positions(at(0, 6), at(4, 5.9), at(8, 5.8)), balance.ErrPositions},
		{"no change at any position", positions(at(0, 5), at(120, 5), at(240, 5)), balance.ErrNoEffect},
		{"the same change at every position", positions(at(0, 6), at(120, 6), at(240, 6)), balance.ErrNoEffect},
		{"unknown limit", last(balance.LimitByID("none")), balance.ErrUnknownLimit},
		{"marks without a key",
			last(balance.MatchMarks(balance.Marks{Tire: []balance.Mark{{Look: "red dot"}}})), balance.ErrNoMeaning},
		{"two readings around",
			func() error { _, _, err := balance.FirstHarmonic([]float64{1, 2}); return err }(), balance.ErrTooFew},
		{"spokes half a turn apart",
			func() error { _, _, err := balance.Split(10, 90, 0, 180); return err }(), balance.ErrOutOfRange},
		{"an assembly of no mass", last(balance.Permissible(40, 0, 100)), balance.ErrTooHeavy},
		{"planes at the center of mass",
			func() error { _, _, err := balance.PermissiblePlanes(1, 0, 0); return err }(), balance.ErrZeroDistance},
	} {
		if !errors.Is(c.err, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, c.err, c.want)
		}
		var in *badinput.Error
		if !errors.As(c.err, &in) || in.Field == "" || in.Right == "" {
			t.Errorf("%s: %v does not say the field and what would be right", c.name, c.err)
		}
	}
}

// TestAnglesAreNormalisedOpenly: an angle outside 0-360 is brought into it with a note.
func TestAnglesAreNormalisedOpenly(t *testing.T) {
	t.Parallel()

	u, notes, err := balance.FromShown(wheelPlanes, balance.Shown{MassG: 10, Deg: -90},
		balance.Shown{MassG: 10, Deg: 360})
	if err != nil {
		t.Fatal(err)
	}

	nearAngle(t, "heavy opposite to 270", u.Inner.Deg, 90, 1e-9)
	if len(notes) != 1 || notes[0].Given != -90 || notes[0].Used != 270 {
		t.Errorf("notes %+v, want one of -90 read as 270", notes)
	}

	p := openFlanges(wheelPlanes, fiveGrams(4))
	p.Unbalance.Inner = balance.Vector{GMM: 2000, Deg: 400}
	got, err := balance.Choose(p)
	if err != nil || len(got.Notes) != 1 {
		t.Errorf("notes %+v, %v; want one of 400 read as 40", got.Notes, err)
	}
}
