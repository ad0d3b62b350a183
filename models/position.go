package models

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Position names a wheel place on a vehicle: axle number from the front, side,
// and on dual wheels outer or inner, such as 1L, 2RO, 2RI; SP1 is a spare.
type Position string

// Side is a side of the vehicle, as the driver facing forward sees it.
type Side byte

// The two sides.
const (
	Left  Side = 'L'
	Right Side = 'R'
)

// ParsePosition reads a position in any letter case.
func ParsePosition(s string) (Position, error) {
	p := Position(strings.ToUpper(strings.TrimSpace(s)))
	if p.IsSpare() || p.Axle() > 0 {
		return p, nil
	}
	return "", fmt.Errorf(
		"%q is not a position; write the axle from the front, L or R, and O or I on duals: 1L, 2RO, 2RI, or SP1 for "+
			"a spare",
		s,
	)
}

// Axle returns the axle number counted from the front, or 0 for a spare or an
// unreadable position.
func (p Position) Axle() int {
	s := string(p)
	end := strings.IndexAny(s, "LR")
	if end < 1 || end > 2 {
		return 0
	}
	n, err := strconv.Atoi(s[:end])
	rest := s[end+1:]
	if err != nil || n < 1 || n > 15 || s[0] == '0' || s[0] == '+' || (rest != "" && rest != "O" && rest != "I") {
		return 0
	}
	return n
}

// IsSpare reports whether p is a spare place.
func (p Position) IsSpare() bool {
	n, ok := strings.CutPrefix(string(p), "SP")
	return ok && len(n) == 1 && n[0] >= '1' && n[0] <= '9'
}

// Side returns the side of p, or 0 for a spare.
func (p Position) Side() Side {
	if i := strings.IndexAny(string(p), "LR"); i > 0 {
		return Side(p[i])
	}
	return 0
}

// IsDual reports whether p is one of a dual pair.
func (p Position) IsDual() bool {
	return p.Axle() > 0 && (strings.HasSuffix(string(p), "O") || strings.HasSuffix(string(p), "I"))
}

// IsInner reports whether p is the inner one of a dual pair.
func (p Position) IsInner() bool { return p.IsDual() && strings.HasSuffix(string(p), "I") }

// DualMate returns the other position of the dual pair, or "".
func (p Position) DualMate() Position {
	switch {
	case !p.IsDual():
		return ""
	case p.IsInner():
		return p[:len(p)-1] + "O"
	default:
		return p[:len(p)-1] + "I"
	}
}

// AxleMate returns the same place on the other side of the axle, or "".
func (p Position) AxleMate() Position {
	switch p.Side() {
	case Left:
		return Position(strings.Replace(string(p), "L", "R", 1))
	case Right:
		return Position(strings.Replace(string(p), "R", "L", 1))
	}
	return ""
}

// Axle is one axle of a vehicle.
type Axle struct {
	Steered  bool
	Driven   bool
	Lifting  bool
	Dual     bool
	Pressure Pressure // cold target; zero if none is set
}

// AxleRole is what an axle does to its tires: it decides wear, limits and intervals.
type AxleRole string

// The roles of an axle.
const (
	RoleSteer   AxleRole = "steer"
	RoleDrive   AxleRole = "drive"
	RoleTrailer AxleRole = "free" // free-rolling, on trailers and lifting or tag axles
)

// Role returns the role of a: steering counts before driving.
func (a Axle) Role() AxleRole {
	switch {
	case a.Steered:
		return RoleSteer
	case a.Driven:
		return RoleDrive
	default:
		return RoleTrailer
	}
}

// Positions lists the places of a vehicle with these axles and spares, axle by
// axle from the front, each from the left outside to the right outside, then
// the spares.
func Positions(axles []Axle, spares int) []Position {
	var out []Position
	for i, a := range axles {
		n := strconv.Itoa(i + 1)
		ends := []string{"L", "R"}
		if a.Dual {
			ends = []string{"LO", "LI", "RI", "RO"}
		}
		for _, e := range ends {
			out = append(out, Position(n+e))
		}
	}

	for i := range spares {
		out = append(out, Position("SP"+strconv.Itoa(i+1)))
	}
	return out
}

// WalkingOrder lists the places as a person meets them who starts at the left
// front: down the left side (outer before inner), up the right side, spares.
func WalkingOrder(axles []Axle, spares int) []Position {
	var left, right, spare []Position
	for _, p := range Positions(axles, spares) {
		switch p.Side() {
		case Left:
			left = append(left, p)
		case Right:
			right = append(right, p)
		default:
			spare = append(spare, p)
		}
	}

	// Positions gives inner before outer on the right; walking to the front
	// axle by axle the outer is met first, so the plain reverse is the order.
	slices.Reverse(right)
	return append(append(left, right...), spare...)
}

// LocationByte returns the SAE J1939 tire location of p on a vehicle with these
// axles: axle in the high four bits counted from the front, place in the low
// four counted from the left facing forward, both from 0. It returns 0xFF (not
// available) for spares. The index base varies between makers; importers map it.
func LocationByte(axles []Axle, p Position) byte {
	n := p.Axle()
	if n < 1 || n > len(axles) {
		return 0xFF
	}

	place := 0
	for _, q := range Positions(axles, 0) {
		if q.Axle() != n {
			continue
		}
		if q == p {
			return byte(n-1)<<4 | byte(place)
		}
		place++
	}

	return 0xFF
}
