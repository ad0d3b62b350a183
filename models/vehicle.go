package models

import (
	"fmt"
	"slices"
)

// Class is what a vehicle is, as far as tires care.
type Class string

// The classes of vehicles.
const (
	Car        Class = "car"
	LightTruck Class = "light_truck"
	RigidTruck Class = "rigid_truck"
	Tractor    Class = "tractor"
	Trailer    Class = "trailer"
	Bus        Class = "bus"
)

// Classes lists every class.
var Classes = []Class{Car, LightTruck, RigidTruck, Tractor, Trailer, Bus}

// Valid reports whether c is one of Classes.
func (c Class) Valid() bool { return slices.Contains(Classes, c) }

// Heavy reports whether vehicles of class c run on heavy assemblies.
func (c Class) Heavy() bool { return c == RigidTruck || c == Tractor || c == Trailer || c == Bus }

// Vehicle is a unit of the fleet. Its odometer may never be known.
type Vehicle struct {
	ID          VehicleID
	DepotID     DepotID
	Number      string // unit number as painted on it, unique in the depot
	Class       Class
	Description string
	ParkingRow  string
	Axles       []Axle // from the front
	Spares      int
	MaxMassKG   int     // permitted mass; 0 if not known
	Seats       int     // passenger seats besides the driver's
	NoOdometer  bool    // has no distance counter at all, as many trailers
	TorqueNM    float64 // wheel nut torque by the maker; 0 if not known
	Patch       PolicyPatch
	Retired     bool
	Stamp
}

// Positions lists the vehicle's places; see the function Positions.
func (v Vehicle) Positions() []Position { return Positions(v.Axles, v.Spares) }

// WalkingOrder lists the places as met on a walk around the vehicle.
func (v Vehicle) WalkingOrder() []Position { return WalkingOrder(v.Axles, v.Spares) }

// Has reports whether the vehicle has place p.
func (v Vehicle) Has(p Position) bool { return slices.Contains(v.Positions(), p) }

// AxleAt returns the axle of place p; a spare has a zero Axle.
func (v Vehicle) AxleAt(p Position) Axle {
	if n := p.Axle(); n >= 1 && n <= len(v.Axles) {
		return v.Axles[n-1]
	}
	return Axle{}
}

// Validate returns an Invalid error that names every bad field.
func (v Vehicle) Validate() error {
	var f Faults
	if !ValidID(v.ID) {
		f.Add("id", string(v.ID), "must be a UUID in lower-case text")
	}
	checkLine(&f, "number", v.Number, 1, 40)
	checkLine(&f, "description", v.Description, 0, 200)
	checkLine(&f, "parking_row", v.ParkingRow, 0, 40)

	if !v.Class.Valid() {
		f.Add("class", string(v.Class), "must be one of %v", Classes)
	}
	if n := len(v.Axles); n < 1 || n > 12 {
		f.Add("axles", fmt.Sprint(n), "must be 1 to 12, listed from the front")
	}

	for i, a := range v.Axles {
		if a.Steered && v.Class == Trailer && a.Driven {
			f.Add(fmt.Sprintf("axles[%d]", i), "", "a trailer's axle is not driven")
		}
	}

	v.checkNumbers(&f)
	return f.Err("vehicle " + v.Number)
}

// checkNumbers adds a fault for each number outside its range. The ranges are
// wider than any road vehicle; chosen by us.
func (v Vehicle) checkNumbers(f *Faults) {
	if v.Spares < 0 || v.Spares > 4 {
		f.Add("spares", fmt.Sprint(v.Spares), "must be 0 to 4")
	}
	if v.MaxMassKG < 0 || v.MaxMassKG > 500_000 {
		f.Add("max_mass_kg", fmt.Sprint(v.MaxMassKG), "must be 0 (not known) to 500000 kg")
	}
	if v.Seats < 0 || v.Seats > 300 {
		f.Add("seats", fmt.Sprint(v.Seats), "must be 0 to 300")
	}

	if v.TorqueNM < 0 || v.TorqueNM > 2000 || v.TorqueNM != v.TorqueNM {
		f.Add("torque_nm", fmt.Sprint(v.TorqueNM), "must be 0 (not known) to 2000 N·m")
	}
}
