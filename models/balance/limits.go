package balance

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rimledger/models/badinput"
	"rimledger/models/units"
)

// Quantity is the quantity that a limit bounds.
type Quantity string

// The quantities. Grams and ounces are masses at the rim.
const (
	ResidualFlange  Quantity = "residual-flange"      // left on each flange after balancing
	NearZero        Quantity = "residual-near-zero"   // left in each plane and in their sum, after a complaint
	FittedPlane     Quantity = "fitted-plane"         // fitted in one plane
	FittedAdhesive  Quantity = "fitted-adhesive"      // adhesive weight fitted to one wheel
	FittedTotal     Quantity = "fitted-total"         // fitted to one wheel
	StaticSplit     Quantity = "static-split"         // static correction above which it is halved between the flanges
	NeededTotal     Quantity = "needed-total"         // needed by the bare assembly, before any correction
	RunOut          Quantity = "runout"               // radial and lateral, peak to peak
	ForceVariation1 Quantity = "force-first-harmonic" // radial force variation
)

// Limit is one published value of the embedded table.
type Limit struct {
	ID          string
	Rotor       string // what it is for, such as "car" or "heavy-road-steer"
	Quantity    Quantity
	Value       float64 // in Unit, as published
	Unit        string  // g, oz, mm, in or N
	Information bool    // only shown: no verdict and no advice rests on it
	Status      string  // F found, F2 found second-hand, M from memory, C chosen by us
	Source      string
	Reference   string // where in the source
}

// limitUnits has the units of limits, each with its size in the unit of comparison: g, mm
// or N.
var limitUnits = map[string]float64{
	"g": 1, "oz": float64(units.Ounce), "mm": 1, "in": 25.4, "N": 1,
}

// Base returns the limit in grams, mm or newtons.
func (l Limit) Base() float64 { return l.Value * limitUnits[l.Unit] }

//go:embed limits.csv
var limitsCSV string

var limits = readLimits(limitsCSV)

// readLimits parses the table; a fault in it panics.
func readLimits(text string) []Limit {
	var all []Limit
	for _, r := range rows(text, "id,rotor,quantity,value,unit,holds,status,source,reference") {
		if limitUnits[r[4]] == 0 {
			panic("balance: limits.csv: unknown unit " + r[4])
		}
		all = append(all,
			Limit{r[0], r[1], Quantity(r[2]), number(r[3]), r[4], r[5] == "information", r[6], r[7], r[8]})
	}
	return all
}

// rows returns the rows of an embedded table below its header; it panics if the table does
// not parse.
func rows(text, header string) [][]string {
	all, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(all) < 2 || strings.Join(all[0], ",") != header {
		panic(fmt.Sprintf("balance: embedded table with header %q does not load: %v", header, err))
	}
	return all[1:]
}

// number parses a cell of an embedded table.
func number(text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic("balance: embedded table: " + err.Error())
	}
	return v
}

// Limits returns the embedded table.
func Limits() []Limit { return slices.Clone(limits) }

// LimitsFor returns the limits of a rotor and quantity.
func LimitsFor(rotor string, q Quantity) []Limit {
	var found []Limit
	for _, l := range limits {
		if l.Rotor == rotor && l.Quantity == q {
			found = append(found, l)
		}
	}
	return found
}

// LimitByID returns one limit; the error wraps ErrUnknownLimit.
func LimitByID(id string) (Limit, error) {
	for _, l := range limits {
		if l.ID == id {
			return l, nil
		}
	}
	return Limit{}, badinput.New("limit", id, ErrUnknownLimit, "give an id of the table of limits")
}

// MustLimit returns a limit whose id is a constant of the program. It panics if there is
// none.
func MustLimit(id string) Limit {
	l, err := LimitByID(id)
	if err != nil {
		panic(err)
	}
	return l
}

// Verdict is a value compared with a limit. It is advice; the maker's own
// figure and local rules come first.
type Verdict struct {
	Limit  Limit
	Value  float64 // in g, mm or N
	Within bool
	Advice []string // what to do; empty when within, or when the limit only informs
}

// Check compares a value in g, mm or N, as the limit's quantity has it, with l.
// A value equal to the limit is within. Errors wrap ErrOutOfRange or ErrNotFinite.
func Check(l Limit, value float64) (Verdict, error) {
	if err := within(string(l.Quantity), value, 0, 1e6); err != nil {
		return Verdict{}, err
	}

	v := Verdict{Limit: l, Value: value, Within: value <= l.Base()+massSlack}
	if !v.Within && !l.Information {
		v.Advice = adviceFor(l.Quantity)
	}
	return v, nil
}

// adviceFor returns what to do with a value over a limit, in order.
func adviceFor(q Quantity) []string {
	switch q {
	case StaticSplit:
		return []string{"halve the weight between the inner and the outer flange"}
	case ResidualFlange, NearZero:
		return append([]string{"remove all weights and start again"}, TakeApart()...)
	}
	return TakeApart()
}

// TakeApart returns what to do, in order, with an assembly beyond a limit. More
// weight is not among it.
func TakeApart() []string {
	return []string{
		"clean the wheel and the balancer's faces, center again and spin again",
		"check bead seating, and radial and lateral run-out",
		"deflate, break the beads and remount the tire turned half around; measure again",
		"replace the tire or the wheel, whichever carries the fault",
		"do not add more weight",
	}
}
