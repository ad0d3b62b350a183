package balance

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strings"

	"rimledger/models/badinput"
)

// Kind is the way in which a weight is fixed to a wheel.
type Kind string

// The kinds of weights.
const (
	Clip     Kind = "clip"     // on a rim flange
	Adhesive Kind = "adhesive" // on a clean band of the rim
)

// Weight is one line of the stock list.
type Weight struct {
	Name        string // as the shop calls it
	Kind        Kind
	Clip        string  // flange type of a clip, such as "P"; empty fits any flange
	MassG       float64 // one clip, or one segment
	LengthMM    float64 // along the rim; 0 is a point
	MaxSegments int     // how many adhesive segments make one strip; 0 is 1
}

// maxSegments bounds one strip, chosen by us: longer strips do not follow a rim.
const maxSegments = 40

// check refuses the weight number i, from 0, of a stock list if a value is out of range.
func (w Weight) check(i int) error {
	field := fmt.Sprintf("stock %d (%s)", i+1, w.Name)
	if w.Kind != Clip && w.Kind != Adhesive {
		return badinput.New(field+" kind", string(w.Kind), ErrUnknownChoice, "give clip or adhesive")
	}
	if err := checkMass(field+" mass g", w.MassG); err != nil {
		return err
	}
	if w.MassG == 0 {
		return badinput.Number(field+" mass g", 0, ErrOutOfRange, "give the mass of one piece, above 0")
	}
	if err := within(field+" length mm", w.LengthMM, 0, 500); err != nil {
		return err
	}
	return within(field+" segments", float64(w.MaxSegments), 0, maxSegments)
}

// size is a piece that can be put on a place as one: a clip or a strip.
type size struct {
	weight   int // index into the stock
	segments int
	massG    float64
	half     float64 // half the arc it covers, degrees
	moment   float64 // g mm, less than mass times radius for a long strip
}

// sizesFor returns the pieces of stock that fit place, by rising moment.
func sizesFor(stock []Weight, p Place) []size {
	var all []size
	for i, w := range stock {
		otherClip := w.Kind == Clip && w.Clip != "" && len(p.Clips) > 0 && !slices.Contains(p.Clips, w.Clip)
		if w.Kind != p.Kind || otherClip {
			continue
		}

		for n := 1; n <= max(1, w.MaxSegments); n++ {
			mass, half := float64(n)*w.MassG, arcHalf(float64(n)*w.LengthMM, p.Plane.RadiusMM)
			if half <= 90 { // a longer strip acts less with every segment
				all = append(all, size{i, n, mass, half, mass * p.Plane.RadiusMM * slump(half)})
			}
		}
	}

	slices.SortStableFunc(all, func(a, b size) int {
		switch {
		case a.moment != b.moment:
			return compare(a.moment, b.moment)
		case a.half != b.half:
			return compare(a.half, b.half)
		}
		return a.segments - b.segments
	})

	// Of pieces that act alike one is enough.
	return slices.CompactFunc(all, func(a, b size) bool {
		return a.moment == b.moment && a.massG == b.massG && a.half == b.half
	})
}

// compare orders finite numbers; it is faster than cmp.Compare, which also orders NaN.
func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// arcHalf returns half the angle in degrees that a length covers at a radius.
func arcHalf(lengthMM, radiusMM float64) float64 {
	return lengthMM / radiusMM / 2 * 180 / math.Pi
}

// slump returns the share of its moment that a mass keeps when it is spread over an
// arc of twice half degrees: sin(half)/half, the distance of the arc's centroid.
func slump(half float64) float64 {
	if half == 0 {
		return 1
	}
	rad := half * math.Pi / 180
	return math.Sin(rad) / rad
}

// ClipFit is the range of flange lips that a clip type fits.
type ClipFit struct {
	Type         string
	LipMinMM     float64
	LipMaxMM     float64
	WeightGapMin float64 // mm
	WeightGapMax float64 // mm
	Status       string  // F found, F2 found second-hand, M from memory
	Source       string
}

//go:embed clips.csv
var clipsCSV string

var clips = readClips(clipsCSV)

// readClips parses the table; a fault in it panics.
func readClips(text string) []ClipFit {
	var all []ClipFit
	for _, r := range rows(text, "type,lip_min_mm,lip_max_mm,gap_min_mm,gap_max_mm,status,source") {
		all = append(all, ClipFit{r[0], number(r[1]), number(r[2]), number(r[3]), number(r[4]), r[5], r[6]})
	}
	return all
}

// ClipsFor returns the clip types that fit a flange lip of the given thickness in mm. If
// there is none, the rim takes adhesive weights. Errors wrap
// ErrOutOfRange or ErrNotFinite.
func ClipsFor(lipMM float64) ([]ClipFit, error) {
	if err := within("flange lip mm", lipMM, 0.5, 20); err != nil {
		return nil, err
	}

	var fit []ClipFit
	for _, c := range clips {
		if c.LipMinMM <= lipMM && lipMM <= c.LipMaxMM {
			fit = append(fit, c)
		}
	}
	return fit, nil
}

// joined returns names as a list for a message.
func joined(names []string) string { return strings.Join(names, ", ") }
