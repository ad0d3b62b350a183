package balance

// Centering is what two spins of one wheel say of how it sits on the machine.
type Centering struct {
	Wheel Unbalance // of the wheel itself
	Clamp Unbalance // of how it was clamped in the first spin: cone, flange, shaft
	Notes []Note
}

// Center splits what a machine showed of one wheel in two spins, the wheel clamped anew half
// a turn around on the shaft in between and nothing else changed. Counted from the valve
// the wheel's own part stays and the part of the clamping turns half around, so with
// first A and second B
//
//	wheel = (A + B) / 2, clamp = (A - B) / 2,
//
// the reversal method of textbooks. Errors as of FromShown.
func Center(p Planes, first, second Unbalance) (Centering, error) {
	if err := p.Check("planes"); err != nil {
		return Centering{}, err
	}

	var n notebook
	for _, v := range []struct {
		field string
		v     *Vector
	}{
		{"first inner", &first.Inner}, {"first outer", &first.Outer},
		{"second inner", &second.Inner}, {"second outer", &second.Outer},
	} {
		var err error
		if *v.v, err = n.vector(v.field, *v.v); err != nil {
			return Centering{}, err
		}
	}

	// The sum of the spins cancels the clamping, their difference the wheel.
	half := func(a, b Vector) (sum, difference Vector) {
		x, y := a.complex(), b.complex()
		return fromComplex((x + y) / 2), fromComplex((x - y) / 2)
	}

	out := Centering{Notes: n}
	out.Wheel.Inner, out.Clamp.Inner = half(first.Inner, second.Inner)
	out.Wheel.Outer, out.Clamp.Outer = half(first.Outer, second.Outer)

	return out, nil
}
