package web

import (
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

func (s *site) mountAssets() {
	s.vehicleAsset().mount(s)
	s.tireAsset().mount(s)
	s.wheelAsset().mount(s)
	s.get("/wheels", s.wheels)
	s.get("/wheels/:id", s.wheel)
	s.get("/tires/:id/move", managing(s.moveForm))
	s.post("/tires/:id/move", managing(s.moveDone))
	s.get("/tires/:id/withdraw", s.withdrawLoose)
	s.post("/tires/:id/withdraw", s.withdrawnLoose)
}

// layouts are the usual rows of axles, to choose from.
var layouts = []option{
	{Value: "S2 D2", Label: "two axles, single wheels, rear driven (4 tires)"},
	{Value: "SD2 F2", Label: "two axles, single wheels, front driven (4 tires)"},
	{Value: "SD2 D2", Label: "two axles, single wheels, all driven (4 tires)"},
	{Value: "S2 D4", Label: "two axles, driven on duals (6 tires)"},
	{Value: "S2 D4 D4", Label: "three axles, two driven on duals (10 tires)"},
	{Value: "S2 D4 FL4", Label: "three axles, one driven on duals, one lifting on duals (10 tires)"},
	{Value: "S2 D4 FL2", Label: "three axles, one driven on duals, one lifting on singles (8 tires)"},
	{Value: "S2 S2 D4 D4", Label: "four axles, two steered, two driven on duals (12 tires)"},
	{Value: "F4", Label: "trailer, one axle on duals (4 tires)"},
	{Value: "F4 F4", Label: "trailer, two axles on duals (8 tires)"},
	{Value: "F2 F2", Label: "trailer, two axles on singles (4 tires)"},
	{Value: "F2 F2 F2", Label: "trailer, three axles on singles (6 tires)"},
	{Value: "FL2 F2 F2", Label: "trailer, three axles on singles, the first lifts (6 tires)"},
}

func (s *site) vehicleAsset() thingForm[models.Vehicle] {
	return thingForm[models.Vehicle]{
		nav: "vehicles", word: "vehicle", intro: "The axles set how many tires it carries. Tires that are already on it are recorded afterwards, with Fit tires.",
		title:  func(v models.Vehicle) string { return "vehicle " + v.Number },
		depot:  func(v models.Vehicle) models.DepotID { return v.DepotID },
		stamp:  func(v *models.Vehicle) *models.Stamp { return &v.Stamp },
		create: s.Fleet.CreateVehicle, edit: s.Fleet.EditVehicle,
		get: func(ctx context.Context, a fleet.Actor, id string) (models.Vehicle, error) {
			v, err := s.Fleet.Vehicle(ctx, a, models.VehicleID(id))
			return v.Vehicle, err
		},
		keys: func(v models.Vehicle, id string, d models.DepotID) models.Vehicle {
			v.ID, v.DepotID = models.VehicleID(id), d
			return v
		},
		page:     func(id string, _ models.DepotID) string { return "/vehicles/" + id },
		sections: vehicleSections, values: vehicleValues, read: readVehicle,
	}
}

func vehicleSections(f *entry) []section {
	own := f.textField("axles_own", "Or type the axles from the front", "", "S steered, D driven, SD both, F free; with L if it lifts; then 2 or 4 wheels: S2 D4 D4")
	return []section{
		{Legend: "Vehicle", Fields: []field{f.textField("number", "Number as painted on it", "", ""), f.selectField("class", "Class", "choose", codes(models.Classes...)),
			f.textField("description", "Description", "", ""), f.textField("parking_row", "Parking row", "", "")}},
		{Legend: "Axles", Fields: []field{f.selectField("axles", "Layout", "choose, or type it in the next field", slices.Clone(layouts)), own, f.numberField("spares", "Spare places", ""),
			f.textField("pressures", "Target pressure, cold", string(f.units.Pressure), "one for all axles, or one each from the front, separated by semicolons; as the maker's load table or placard says")}},
		{Legend: "What rules and work need", Fields: []field{f.numberField("max_mass_kg", "Permitted mass", "kg"), f.numberField("seats", "Passenger seats", ""),
			f.numberField("torque_nm", "Wheel nut torque by the maker", string(f.units.Torque())), f.tickField("no_odometer", "has no odometer", ""),
			f.tickField("retired", "retired from the fleet", "its tires must be off first")}},
	}
}

func vehicleValues(v models.Vehicle, u units.Style) url.Values {
	axles := models.AxlesText(v.Axles)
	out := url.Values{"number": {v.Number}, "class": {string(v.Class)}, "description": {v.Description}, "parking_row": {v.ParkingRow},
		"axles": {axles}, "axles_own": {""}, "spares": {positive(float64(v.Spares), u)}, "pressures": {pressuresText(v.Axles, u)}, "max_mass_kg": {positive(float64(v.MaxMassKG), u)},
		"seats": {positive(float64(v.Seats), u)}, "torque_nm": {torqueValue(v.TorqueNM, u)}, "no_odometer": {yes(v.NoOdometer)}, "retired": {yes(v.Retired)}}
	if !slices.ContainsFunc(layouts, func(o option) bool { return o.Value == axles }) {
		out["axles"], out["axles_own"] = []string{""}, []string{axles}
	}
	return out
}

// pressuresText writes one target for all axles if they agree, else one each.
func pressuresText(list []models.Axle, u units.Style) string {
	var out []string
	for _, a := range list {
		text := u.WriteAsTyped(a.Pressure.Text)
		if text == "" {
			text = "-"
		}
		out = append(out, text)
	}
	if same := slices.Compact(slices.Clone(out)); len(same) == 1 {
		out = same
	}
	if len(out) == 1 && out[0] == "-" {
		return ""
	}
	return strings.Join(out, "; ")
}

func readVehicle(e *entry, v models.Vehicle) models.Vehicle {
	v.Number, v.Class, v.Description, v.ParkingRow = e.text("number"), models.Class(e.text("class")), e.text("description"), e.text("parking_row")
	v.Spares, v.MaxMassKG, v.Seats = e.whole("spares", "places"), e.whole("max_mass_kg", "kilograms"), e.whole("seats", "seats")
	v.TorqueNM, v.NoOdometer, v.Retired = e.torque(), e.ticked("no_odometer"), e.ticked("retired")
	name := "axles"
	if e.text(name) == "" {
		name = "axles_own"
	}
	e.same("number", "class", "description", "parking_row", "spares", "max_mass_kg", "seats", "retired")
	e.as("axles", name)
	e.as("depot_id", "depot")
	list, err := models.ParseAxles(e.text(name))
	if err != nil {
		e.fault(name, strconv.Quote(e.text(name))+": "+err.Error())
		return v
	}
	v.Axles = list
	readPressures(e, list)
	return v
}

// readPressures puts one target on all axles, or one on each; - is none.
func readPressures(e *entry, axles []models.Axle) {
	list := e.parts("pressures")
	if len(list) > 1 && len(list) != len(axles) {
		e.fault("pressures", "write one pressure, or one for each of the "+strconv.Itoa(len(axles))+" axles, separated by semicolons; - where an axle has none")
		return
	}
	for i := range axles {
		if len(list) == 0 {
			return
		}
		text := list[min(i, len(list)-1)]
		if text == "-" {
			continue
		}
		p, err := models.ParsePressure(e.units.Plain(text), e.units.Pressure)
		if err != nil {
			e.fault("pressures", remedy(err))
			return
		}
		axles[i].Pressure = p
	}
}

func (s *site) tireAsset() thingForm[models.Tire] {
	return thingForm[models.Tire]{
		nav: "tires", word: "tire", intro: "A tire keeps its number and its history wherever it goes. It starts in stock.",
		title:  func(t models.Tire) string { return "tire " + t.Number },
		depot:  func(t models.Tire) models.DepotID { return t.DepotID },
		stamp:  func(t *models.Tire) *models.Stamp { return &t.Stamp },
		create: s.Fleet.CreateTire, edit: s.Fleet.EditTire,
		get: func(ctx context.Context, a fleet.Actor, id string) (models.Tire, error) {
			t, err := s.Fleet.Tire(ctx, a, models.TireID(id))
			return t.Tire, err
		},
		keys: func(t models.Tire, id string, d models.DepotID) models.Tire {
			t.ID, t.DepotID = models.TireID(id), d
			return t
		},
		page: func(id string, _ models.DepotID) string { return "/tires/" + id },
		sections: func(f *entry) []section {
			return []section{
				{Legend: "Tire", Fields: []field{f.textField("number", "Number, branded or painted on it", "", ""), f.textField("size", "Size as on the sidewall", "", "such as 295/75R22.5 144/141L"),
					f.textField("design", "Tread design", "", ""), f.textField("tin", "Tire identification number", "", "begins with DOT on the sidewall; may be empty")}},
				{Legend: "Tread", Fields: []field{f.textField("new_depths", "Depth of each groove when new, outer first", unitWord(f.units.Depth), "separated by semicolons"), f.numberField("life_index", "Times retreaded", "0: first tread"),
					f.tickField("directional", "runs in one direction only", ""), f.tickField("winter", "marked with the mountain and snowflake", ""), f.tickField("regrooved", "regrooved", "")}},
				{Legend: "Money", Fields: []field{f.numberField("price", "Price", "in the depot's currency"), f.numberField("casing", "Credit for the casing", "in the depot's currency")}},
			}
		},
		values: func(t models.Tire, u units.Style) url.Values {
			return url.Values{"number": {t.Number}, "size": {t.Size}, "design": {t.Design}, "tin": {t.TIN}, "new_depths": {depthsText(t.NewDepths, u)},
				"life_index": {positive(float64(t.LifeIndex), u)}, "directional": {yes(t.Directional)}, "winter": {yes(t.Winter)}, "regrooved": {yes(t.Regrooved)},
				"price": {money(t.PriceCents, u)}, "casing": {money(t.CasingCents, u)}}
		},
		read: func(e *entry, t models.Tire) models.Tire {
			t.Number, t.Size, t.Design, t.TIN = e.text("number"), e.text("size"), e.text("design"), e.text("tin")
			t.NewDepths, t.LifeIndex = e.depths("new_depths"), e.whole("life_index", "retreads")
			t.Directional, t.Winter, t.Regrooved = e.ticked("directional"), e.ticked("winter"), e.ticked("regrooved")
			t.PriceCents, t.CasingCents = e.cents("price"), e.cents("casing")
			e.same("number", "size", "design", "tin", "new_depths", "life_index")
			e.as("price_cents", "price")
			e.as("casing_cents", "casing")
			e.as("depot_id", "depot")
			return t
		},
	}
}

func (s *site) wheelAsset() thingForm[models.Wheel] {
	return thingForm[models.Wheel]{
		nav: "wheels", word: "wheel", intro: "What of a rim matters for balance weights. Lengths that were not measured stay empty.",
		title:  func(w models.Wheel) string { return "wheel " + w.Number },
		depot:  func(w models.Wheel) models.DepotID { return w.DepotID },
		stamp:  func(w *models.Wheel) *models.Stamp { return &w.Stamp },
		create: s.Fleet.CreateWheel, edit: s.Fleet.EditWheel,
		get: func(ctx context.Context, a fleet.Actor, id string) (models.Wheel, error) {
			return s.Fleet.Wheel(ctx, a, models.WheelID(id))
		},
		keys: func(w models.Wheel, id string, d models.DepotID) models.Wheel {
			w.ID, w.DepotID = models.WheelID(id), d
			return w
		},
		page: func(id string, _ models.DepotID) string { return "/wheels/" + id },
		sections: func(f *entry) []section {
			mm := func(name, label string) field { return f.textField(name, label, "mm", "") }
			return []section{
				{Legend: "Wheel", Fields: []field{f.textField("number", "Number", "", ""), f.numberField("diameter_in", "Rim diameter code", "in"), f.numberField("width_in", "Rim width", "in"),
					f.selectField("material", "Made of", "", codes("steel", "alloy")), f.selectField("flange", "Clips that fit", "none fits", codes("P", "C", "T", "MC")),
					f.textField("spokes", "Spokes, angles from the valve", "degrees", "clockwise seen from outside, separated by semicolons; weights hide behind them")}},
				{Legend: "Planes for weights, if measured", Fields: append([]field{mm("outer_radius", "Outer flange, radius"), mm("inner_radius", "Inner flange, radius"), mm("inner_offset", "Inner flange, inboard of the outer"),
					mm("adhesive_radius", "Adhesive band, radius"), mm("adhesive_offset", "Adhesive band, inboard of the outer flange"),
					mm("back_radius", "Back band, radius"), mm("back_offset", "Back band, inboard of the outer flange"), mm("spoke_width", "Spoke is wide")}, blockedFields(f, "blocked")...)},
			}
		},
		values: wheelValues, read: readWheel,
	}
}

func wheelValues(w models.Wheel, u units.Style) url.Values {
	var spokes []string
	for _, a := range w.Spokes {
		spokes = append(spokes, strconv.FormatFloat(a, 'f', -1, 64))
	}
	mm := func(l units.Length) []string { return []string{positive(l.Millimetres(), u)} }
	out := url.Values{"number": {w.Number}, "diameter_in": {positive(w.DiameterIn, u)}, "width_in": {positive(w.WidthIn, u)}, "material": {w.Material}, "flange": {w.Flange},
		"spokes": {strings.Join(spokes, ", ")}, "outer_radius": mm(w.OuterRadius), "inner_radius": mm(w.InnerRadius), "inner_offset": mm(w.InnerOffset),
		"adhesive_radius": mm(w.AdhesiveRadius), "adhesive_offset": mm(w.AdhesiveOffset), "back_radius": mm(w.BackRadius), "back_offset": mm(w.BackOffset), "spoke_width": mm(w.SpokeWidth)}
	setBlocked(out, "blocked", w.Blocked)
	return out
}

func readWheel(e *entry, w models.Wheel) models.Wheel {
	w.Number, w.DiameterIn, w.WidthIn = e.text("number"), e.number("diameter_in", "inches"), e.number("width_in", "inches")
	w.Material, w.Flange, w.Spokes = e.text("material"), e.text("flange"), nil
	for _, text := range e.parts("spokes") {
		a, err := strconv.ParseFloat(e.units.Plain(text), 64)
		if err != nil {
			e.fault("spokes", strconv.Quote(text)+": write angles in degrees, such as 0, 72, 144")
			break
		}
		w.Spokes = append(w.Spokes, a)
	}
	w.Blocked = e.blocked("blocked")
	for name, to := range map[string]*units.Length{"back_radius": &w.BackRadius, "back_offset": &w.BackOffset, "outer_radius": &w.OuterRadius, "inner_radius": &w.InnerRadius, "inner_offset": &w.InnerOffset,
		"adhesive_radius": &w.AdhesiveRadius, "adhesive_offset": &w.AdhesiveOffset, "spoke_width": &w.SpokeWidth} {
		*to = 0
		if text := e.text(name); text != "" {
			l, err := units.ParseLength(e.units.Plain(text), units.MM)
			if err != nil {
				e.fault(name, remedy(err))
			}
			*to = l
		}
	}
	e.same("number", "diameter_in", "width_in", "material", "flange", "spokes", "blocked")
	e.as("depot_id", "depot")
	return w
}
