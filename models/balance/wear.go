package balance

import "math"

// Tread has the facts that a worn tread's unbalance depends on.
type Tread struct {
	Density   float64 // kg/m3 of tread rubber
	LandRatio float64 // share of the tread that is rubber, not groove
	WidthMM   float64 // width of what is worn
	RadiusMM  float64 // of the tread
}

// Usual values, judged by us: no published table.
const (
	RubberDensity  = 1150.0 // kg/m3
	LandRatioCar   = 0.70
	LandRatioTruck = 0.75
)

// check refuses values out of range.
func (t Tread) check() error {
	if err := within("density kg/m3", t.Density, 500, 2500); err != nil {
		return err
	}
	if err := within("land ratio", t.LandRatio, 0.1, 1); err != nil {
		return err
	}
	if err := within("worn width mm", t.WidthMM, 0, 1000); err != nil {
		return err
	}
	return checkRadius("tire radius mm", t.RadiusMM)
}

// gramsPerMM3 returns the mass of a cubic millimetre of tread, grooves and all.
func (t Tread) gramsPerMM3() float64 { return t.Density * 1e-6 * t.LandRatio }

// WearRound returns the unbalance of a tread worn once per turn by amplitudeMM
// (half of deepest less shallowest wear) with the most rubber missing at mostDeg.
// It points opposite to that: the worn side is light. Divide by the rim radius
// (Vector.At) for the weight it takes. Errors wrap ErrZeroRadius, ErrOutOfRange
// or ErrNotFinite.
//
// First moment of the missing rubber: pi rho s b r^2 A.
func WearRound(t Tread, amplitudeMM, mostDeg float64) (Vector, []Note, error) {
	if err := t.check(); err != nil {
		return Vector{}, nil, err
	}
	if err := within("wear amplitude mm", amplitudeMM, 0, 30); err != nil {
		return Vector{}, nil, err
	}

	var n notebook
	deg, err := n.angle("most worn at", mostDeg)
	gmm := math.Pi * t.gramsPerMM3() * t.WidthMM * t.RadiusMM * t.RadiusMM * amplitudeMM
	return fromComplex(-polar(gmm, deg)), n, err
}

// WornPatch returns the unbalance of one worn or torn-out patch, depthMM deep
// and lengthMM long around the tread with its middle at deg. It points opposite
// to the patch. Errors as of WearRound.
func WornPatch(t Tread, depthMM, lengthMM, deg float64) (Vector, []Note, error) {
	if err := t.check(); err != nil {
		return Vector{}, nil, err
	}
	if err := within("patch depth mm", depthMM, 0, 40); err != nil {
		return Vector{}, nil, err
	}
	if err := within("patch length mm", lengthMM, 0, 2*math.Pi*t.RadiusMM); err != nil {
		return Vector{}, nil, err
	}

	var n notebook
	deg, err := n.angle("patch", deg)
	mass := t.gramsPerMM3() * t.WidthMM * depthMM * lengthMM
	gmm := mass * t.RadiusMM * slump(arcHalf(lengthMM, t.RadiusMM))
	return fromComplex(-polar(gmm, deg)), n, err
}

// LostWeight returns the unbalance, in planes p, of an assembly that was in balance until
// a weight came off: the side opposite to it is now heavy. Errors as of FromShown.
func LostWeight(p Planes, massG float64, at Plane, deg float64) (Unbalance, []Note, error) {
	u, n, err := Resolve(p, Lump{massG, at.RadiusMM, deg, at.OffsetMM})
	return Unbalance{u.Inner.Opposite(), u.Outer.Opposite()}, n, err
}
