package balance

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"rimledger/models/badinput"
)

// Harmonic is the once-per-turn part of a run-out (mm) or force variation (N).
type Harmonic struct {
	Amplitude float64 // half of peak to peak, not negative
	Deg       float64 // of the high spot
}

// complex returns h as a complex number.
func (h Harmonic) complex() complex128 { return polar(h.Amplitude, h.Deg) }

// harmonicOf returns a complex number as a harmonic.
func harmonicOf(c complex128) Harmonic { return Harmonic{cmplx.Abs(c), direction(c)} }

// LowDeg returns the angle of the low spot.
func (h Harmonic) LowDeg() float64 { return clockwise(180, h.Deg) }

// harmonic returns h with its angle normalised, or why it is refused.
func (n *notebook) harmonic(field string, h Harmonic) (Harmonic, error) {
	if err := within(field+" amplitude", h.Amplitude, 0, 1e6); err != nil {
		return h, err
	}
	deg, err := n.angle(field+" high spot", h.Deg)
	return Harmonic{h.Amplitude, deg}, err
}

// FirstHarmonic returns the mean and the first harmonic of readings taken at
// equal steps clockwise around a full turn from the valve. With fewer than eight
// readings, higher harmonics distort it; fewer than three are refused
// with ErrTooFew. Errors also wrap ErrNotFinite or ErrOutOfRange.
//
// mean = sum/N, a = 2/N sum R cos, b = 2/N sum R sin: the least-squares
// estimators of roundness measurement.
func FirstHarmonic(readings []float64) (mean float64, h Harmonic, err error) {
	if len(readings) < 3 {
		return 0, Harmonic{}, badinput.Number("readings", float64(len(readings)), ErrTooFew,
			"read at 8 or more equal steps around the turn, at least 3")
	}

	n := float64(len(readings))
	var c complex128
	for i, r := range readings {
		if err := within(fmt.Sprintf("reading %d", i+1), r, -1e6, 1e6); err != nil {
			return 0, Harmonic{}, err
		}
		mean += r / n
		c += complex(2*r/n, 0) * polar(1, fullTurn*float64(i)/n)
	}

	return mean, harmonicOf(c), nil
}

// Matched is the turn of a tire on a wheel with which their harmonics cancel best.
type Matched struct {
	TurnDeg float64  // turn the tire this far clockwise from its first seat
	Now     Harmonic // of the assembly as first seated: the sum of tire and wheel
	Left    Harmonic // predicted after the turn: the difference of both amplitudes
	Tire    Harmonic // of the tire alone, as first seated
	Wheel   Harmonic // of the wheel alone
	Notes   []Note
}

// MatchHarmonics returns the turn that puts the tire's high spot opposite the
// wheel's. Both are in the same unit, the tire's as it sits now. Errors wrap
// ErrOutOfRange or ErrNotFinite.
func MatchHarmonics(tire, wheel Harmonic) (Matched, error) {
	var n notebook
	var err error
	if tire, err = n.harmonic("tire", tire); err != nil {
		return Matched{}, err
	}
	if wheel, err = n.harmonic("wheel", wheel); err != nil {
		return Matched{}, err
	}

	m := Matched{Tire: tire, Wheel: wheel, Notes: n, Now: harmonicOf(tire.complex() + wheel.complex())}
	if tire.Amplitude > 0 && wheel.Amplitude > 0 {
		m.TurnDeg = clockwise(tire.Deg, wheel.LowDeg())
	}
	m.Left = harmonicOf(wheel.complex() + tire.complex()*polar(1, m.TurnDeg))
	return m, nil
}

// MatchTwoMounts finds the tire's and the wheel's parts from the assembly
// measured twice, the tire turned clockwise by turnDeg on the wheel in between,
// and the best turn from the first seat. Errors as of MatchHarmonics, and
// ErrTurnTooSmall.
func MatchTwoMounts(first, second Harmonic, turnDeg float64) (Matched, error) {
	var n notebook
	var err error
	if first, err = n.harmonic("first", first); err != nil {
		return Matched{}, err
	}
	if second, err = n.harmonic("second", second); err != nil {
		return Matched{}, err
	}

	turn, err := n.turn(turnDeg)
	if err != nil {
		return Matched{}, err
	}

	tire, wheel := parts(first.complex(), second.complex(), turn)
	m, err := MatchHarmonics(harmonicOf(tire), harmonicOf(wheel))
	m.Notes = n
	return m, err
}

// MatchAssembly returns the turn that leaves the least run-out, from the assembly measured
// at its tread and the bare wheel measured at its bead seats, both counted from the valve.
// What is read at the tread is tire plus wheel, so the tire's own part is their difference.
// Errors as of MatchHarmonics.
func MatchAssembly(assembly, wheel Harmonic) (Matched, error) {
	var n notebook
	var err error
	if assembly, err = n.harmonic("assembly", assembly); err != nil {
		return Matched{}, err
	}
	if wheel, err = n.harmonic("wheel", wheel); err != nil {
		return Matched{}, err
	}

	m, err := MatchHarmonics(harmonicOf(assembly.complex()-wheel.complex()), wheel)
	m.Notes = n
	return m, err
}

// worthTurningMM is how much run-out, peak to peak, a turn must save to be worth breaking
// the beads: twice what a dial gauge is read to, 0.05 mm (chosen by us).
const worthTurningMM = 0.1

// RunoutMatch is what run-out readings say of turning the tire on its wheel.
type RunoutMatch struct {
	Matched
	NowMM, LeftMM   float64 // once per turn, peak to peak: as it sits, and after the turn
	TireMM, WheelMM float64 // of the parts, likewise
	Worthwhile      bool    // the turn saves more than 0.1 mm
	Advice          string
}

// MatchReadings returns what to do with a tire, from run-out readings in mm at equal steps
// clockwise around a full turn from the valve: of the assembly at its tread, and of the bare
// wheel at its bead seats. Errors as of FirstHarmonic.
func MatchReadings(assemblyMM, wheelMM []float64) (RunoutMatch, error) {
	_, assembly, err := FirstHarmonic(assemblyMM)
	if err != nil {
		return RunoutMatch{}, badinput.At("assembly", err)
	}
	_, wheel, err := FirstHarmonic(wheelMM)
	if err != nil {
		return RunoutMatch{}, badinput.At("wheel", err)
	}
	m, err := MatchAssembly(assembly, wheel)
	if err != nil {
		return RunoutMatch{}, err
	}

	out := RunoutMatch{
		Matched: m,
		NowMM:   m.Now.PeakToPeak(),
		LeftMM:  m.Left.PeakToPeak(),
		TireMM:  m.Tire.PeakToPeak(),
		WheelMM: m.Wheel.PeakToPeak(),
	}

	// A smaller gain than the gauge can show is not worth a remount.
	out.Worthwhile = out.NowMM-out.LeftMM > worthTurningMM
	out.Advice = fmt.Sprintf("leave it: as it sits it runs out by %.2f mm, and the best turn would leave %.2f mm",
		out.NowMM, out.LeftMM)
	if out.Worthwhile {
		out.Advice = fmt.Sprintf("turn the tire %.0f degrees clockwise on the wheel: it runs out by %.2f mm now, "+
			"and by %.2f mm then; measure again", out.TurnDeg, out.NowMM, out.LeftMM)
	}

	return out, nil
}

// Meaning is the meaning of a mark in the maker's key.
type Meaning string

// The meanings.
const (
	LightSpot Meaning = "light spot" // of a tire
	HeavySpot Meaning = "heavy spot" // of a wheel; mostly the valve
	HighSpot  Meaning = "high spot"  // of a tire: most force or run-out, first harmonic
	LowSpot   Meaning = "low spot"   // of a wheel: least run-out, first harmonic
)

// Mark is a dot, ring or dimple.
type Mark struct {
	Look string // as seen, such as "red dot"; looked up in the maker's key
	Deg  float64
}

// Marks are the marks on a tire and its wheel, and the makers' keys to them.
// Colors and shapes mean nothing by themselves: they differ between makers.
type Marks struct {
	Tire     []Mark
	Wheel    []Mark
	TireKey  map[string]Meaning
	WheelKey map[string]Meaning
}

// MarkMatch is the two marks to bring together.
type MarkMatch struct {
	TurnDeg float64 // turn the tire this far clockwise
	Tire    Mark
	Wheel   Mark
	Why     string
	Notes   []Note
}

// MatchMarks returns the turn that brings a tire's mark to the wheel's mark it
// belongs to: high spot to low spot if both are marked (this reduces run-out, which
// weights cannot), else light spot to heavy spot. If neither pair is
// in the keys the error wraps ErrNoMeaning; an angle that is no number gives
// ErrNotFinite. The order of preference is common practice, no source.
func MatchMarks(m Marks) (MarkMatch, error) {
	var n notebook
	find := func(on string, marks []Mark, key map[string]Meaning, want Meaning) (Mark, bool, error) {
		for _, k := range marks {
			if key[k.Look] == want {
				deg, err := n.angle(on+" mark "+k.Look, k.Deg)
				return Mark{k.Look, deg}, true, err
			}
		}
		return Mark{}, false, nil
	}

	// High to low spot comes first: weights can cure unbalance, but not run-out.
	for _, want := range []struct {
		tire, wheel Meaning
	}{{HighSpot, LowSpot}, {LightSpot, HeavySpot}} {
		t, onTire, err := find("tire", m.Tire, m.TireKey, want.tire)
		if err != nil {
			return MarkMatch{}, err
		}

		w, onWheel, err := find("wheel", m.Wheel, m.WheelKey, want.wheel)
		if err != nil {
			return MarkMatch{}, err
		}
		if onTire && onWheel {
			return MarkMatch{clockwise(t.Deg, w.Deg), t, w,
				fmt.Sprintf("the tire's %s goes to the wheel's %s, by the maker's key", want.tire, want.wheel), n}, nil
		}
	}

	var looks []string
	for _, k := range slices.Concat(m.Tire, m.Wheel) {
		looks = append(looks, k.Look)
	}
	return MarkMatch{}, badinput.New("marks", "("+strings.Join(looks, ", ")+")", ErrNoMeaning,
		"read the maker's key: a tire's high spot needs a wheel's low spot, a light spot a heavy spot")
}

// PeakToPeak returns twice the amplitude.
func (h Harmonic) PeakToPeak() float64 { return 2 * math.Abs(h.Amplitude) }
