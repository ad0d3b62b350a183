package bench

import (
	"fmt"
	"strconv"

	"rimledger/api/web/form"
	"rimledger/models/balance"
)

// trialSums are the computations for balancing on the vehicle.
var trialSums = []benchSum{
	{
		ID:    "trial",
		Title: "Trial weights on the vehicle, with phase",
		Intro: "The vibration as found, then with a trial weight in each plane in turn. Phases and weight angles " +
			"are counted the same way around. Leave the second plane empty to balance one.",
		layout: func(f *sumForm) []form.Field {
			mass := string(f.Units.Mass)
			reading := func(name, label string) []form.Field {
				return []form.Field{f.field(name+".amount", label, "any unit"), f.field(name+".deg", label+" at", "°")}
			}

			out := append(reading("asis.0", "As found, reading 1"), reading("asis.1", "As found, reading 2")...)
			for i := range 2 {
				n := strconv.Itoa(i + 1)
				out = append(
					out,
					f.field("run."+strconv.Itoa(i)+".mass", "Trial weight in plane "+n, mass),
					f.field("run."+strconv.Itoa(i)+".deg", "Trial weight "+n+" at", "°"),
				)

				for k := range 2 {
					out = append(
						out,
						reading(
							fmt.Sprintf("run.%d.%d", i, k),
							fmt.Sprintf("With trial weight %d, reading %d", i+1, k+1),
						)...)
				}
			}

			return append(out, f.TickField("left_on", "The first trial weight stayed on", ""))
		},
		run: sumTrial,
	},
	{
		ID:    "positions",
		Title: "Trial weight on the vehicle, without phase",
		Intro: "The same trial weight at three or more positions, moved each time; best 120° apart. Only how strong " +
			"it shakes is read.",
		layout: func(f *sumForm) []form.Field {
			out := []form.Field{
				f.field("asis", "As found", "any unit"),
				f.field("mass", "Trial weight", string(f.Units.Mass)),
			}

			for i := range positionRuns {
				n := strconv.Itoa(i + 1)
				out = append(
					out,
					f.field("at."+n, "Position "+n, "°"),
					f.field("read."+n, "Shake at position "+n, "as above"),
				)
			}

			return out
		},
		run: sumPositions,
	},
}

// positionRuns is how many positions of a trial weight the form takes.
const positionRuns = 4

func (f *sumForm) phasor(name string) balance.Phasor {
	amount := f.Number(name+".amount", "the unit of the reading")
	return balance.Phasor{Amount: amount, Deg: float64(f.where(name+".deg", amount > 0, 0))}
}

func sumTrial(f *sumForm) ([]string, error) {
	t := balance.TrialTest{Planes: 1, LeftOn: f.Ticked("left_on")}
	if f.Text("run.1.mass") != "" {
		t.Planes = 2
	}

	// The second reading and the second plane are used only if they are filled in.
	readings := 1
	if f.Text("asis.1.amount") != "" {
		readings = 2
	}

	for k := range readings {
		t.AsIs = append(t.AsIs, f.phasor("asis."+strconv.Itoa(k)))
	}

	for i := range t.Planes {
		at := "run." + strconv.Itoa(i)
		m, _ := f.Mass(at + ".mass")
		deg := float64(f.where(at+".deg", m.Value > 0, 0))
		run := balance.TrialRun{Plane: i, Weight: balance.Phasor{Amount: float64(m.Value), Deg: deg}}
		for k := range readings {
			run.Readings = append(run.Readings, f.phasor(at+"."+strconv.Itoa(k)))
		}
		t.Runs = append(t.Runs, run)
	}

	if !f.OK() {
		return nil, nil
	}

	x, err := balance.TrialWeights(t)
	if err != nil {
		return nil, err
	}

	// Each plane has one line: weights with the trial weights off, or to add to them.
	var out []string
	for i, w := range x.Weights {
		line := fmt.Sprintf("Plane %d: %s at %.0f°, trial weights off", i+1, f.gram(w.Amount), w.Deg)
		if t.LeftOn && i < len(x.WithTrial) {
			line += fmt.Sprintf(
				"; or add %s at %.0f° to those that are on",
				f.gram(x.WithTrial[i].Amount),
				x.WithTrial[i].Deg,
			)
		}

		out = append(out, line+".")
	}

	for k, p := range x.Predicted {
		out = append(out, fmt.Sprintf("Reading %d should become %.2g.", k+1, p.Amount))
	}

	if x.Weak {
		out = append(out, "A trial weight changed no reading by 30% or 30°: take a heavier one before you trust this.")
	}
	return append(out, notesText(x.Notes)...), nil
}

func sumPositions(f *sumForm) ([]string, error) {
	m, _ := f.Mass("mass")

	t := balance.PositionTest{AsIs: f.Number("asis", "the unit of the reading"), TrialG: float64(m.Value)}
	for i := range positionRuns {
		n := strconv.Itoa(i + 1)
		if f.Text("read."+n) != "" {
			t.Runs = append(
				t.Runs,
				balance.PositionRun{Deg: f.deg("at." + n), Amplitude: f.Number("read."+n, "the unit of the reading")},
			)
		}
	}

	if !f.OK() {
		return nil, nil
	}

	x, err := balance.TrialPositions(t)
	if err != nil {
		return nil, err
	}

	return append([]string{fmt.Sprintf("Fit %s at %.0f°, the trial weight taken off.", f.gram(x.MassG), x.Deg),
		fmt.Sprintf(
			"The trial weight alone shakes %.2f; the readings agree to %.2f.",
			x.Effect,
			x.Misfit,
		)}, notesText(x.Notes)...), nil
}
