package record

import (
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// layouts are the usual rows of axles, to choose from.
var layouts = []form.Option{
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

func (s *room) vehicleAsset() assetForm[models.Vehicle] {
	return assetForm[models.Vehicle]{
		nav: "vehicles", noun: "vehicle", intro: "The axles set how many tires it carries. Tires that are already " +
			"on it are recorded afterwards, with Fit tires.",
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

func vehicleSections(f *form.Entry) []form.Section {
	own := f.TextField(
		"axles_own",
		"Or type the axles from the front",
		"",
		"S steered, D driven, SD both, F free; with L if it lifts; then 2 or 4 wheels: S2 D4 D4",
	)

	return []form.Section{
		{
			Legend: "Vehicle",
			Fields: []form.Field{
				f.TextField("number", "Number as painted on it", "", ""),
				f.SelectField("class", "Class", "choose", form.CodeOptions(models.Classes...)),
				f.TextField("description", "Description", "", ""),
				f.TextField("parking_row", "Parking row", "", ""),
			},
		},
		{
			Legend: "Axles",
			Fields: []form.Field{
				f.SelectField("axles", "Layout", "choose, or type it in the next field", slices.Clone(layouts)),
				own,
				f.NumberField("spares", "Spare places", ""),
				f.TextField(
					"pressures",
					"Target pressure, cold",
					string(f.Units.Pressure),
					"one for all axles, or one each from the front, separated by semicolons; as the maker's load "+
						"table or placard says",
				),
			},
		},
		{
			Legend: "What rules and work need",
			Fields: []form.Field{
				f.NumberField("max_mass_kg", "Permitted mass", "kg"),
				f.NumberField("seats", "Passenger seats", ""),
				f.NumberField("torque_nm", "Wheel nut torque by the maker", string(f.Units.Torque())),
				f.TickField("no_odometer", "has no odometer", ""),
				f.TickField("retired", "retired from the fleet", "its tires must be off first"),
			},
		},
	}
}

func vehicleValues(v models.Vehicle, u units.Style) url.Values {
	axles := models.AxlesText(v.Axles)
	out := url.Values{
		"number":      {v.Number},
		"class":       {string(v.Class)},
		"description": {v.Description},
		"parking_row": {v.ParkingRow},
		"axles": {
			axles,
		},
		"axles_own":   {""},
		"spares":      {form.PositiveText(float64(v.Spares), u)},
		"pressures":   {pressuresText(v.Axles, u)},
		"max_mass_kg": {form.PositiveText(float64(v.MaxMassKG), u)},
		"seats": {
			form.PositiveText(float64(v.Seats), u),
		},
		"torque_nm":   {form.TorqueText(v.TorqueNM, u)},
		"no_odometer": {form.TickValue(v.NoOdometer)},
		"retired":     {form.TickValue(v.Retired)},
	}

	if !slices.ContainsFunc(layouts, func(o form.Option) bool { return o.Value == axles }) {
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

func readVehicle(e *form.Entry, v models.Vehicle) models.Vehicle {
	v.Number, v.Class = e.Text("number"), models.Class(e.Text("class"))
	v.Description, v.ParkingRow = e.Text("description"), e.Text("parking_row")
	v.Spares, v.Seats = e.Whole("spares", "places"), e.Whole("seats", "seats")
	v.MaxMassKG, v.TorqueNM = e.Whole("max_mass_kg", "kilograms"), e.Torque()
	v.NoOdometer, v.Retired = e.Ticked("no_odometer"), e.Ticked("retired")

	// The usual rows of axles are offered; any other is written into a field of its own.
	name := "axles"
	if e.Text(name) == "" {
		name = "axles_own"
	}

	e.MapFields("number", "class", "description", "parking_row", "spares", "max_mass_kg", "seats", "retired")
	e.MapField("axles", name)
	e.MapField("depot_id", "depot")

	list, err := models.ParseAxles(e.Text(name))
	if err != nil {
		e.AddFault(name, strconv.Quote(e.Text(name))+": "+err.Error())
		return v
	}
	v.Axles = list
	readPressures(e, list)

	return v
}

// readPressures puts one target on all axles, or one on each; - is none.
func readPressures(e *form.Entry, axles []models.Axle) {
	list := e.Parts("pressures")
	if len(list) > 1 && len(list) != len(axles) {
		e.AddFault(
			"pressures",
			"write one pressure, or one for each of the "+strconv.Itoa(
				len(axles),
			)+" axles, separated by semicolons; - where an axle has none",
		)
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
		p, err := models.ParsePressure(e.Units.Plain(text), e.Units.Pressure)
		if err != nil {
			e.AddFault("pressures", form.Remedy(err))
			return
		}

		axles[i].Pressure = p
	}
}

func (s *room) tireAsset() assetForm[models.Tire] {
	return assetForm[models.Tire]{
		nav: "tires", noun: "tire", intro: "A tire keeps its number and its history wherever it goes. It starts in " +
			"stock.",
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
		sections: func(f *form.Entry) []form.Section {
			return []form.Section{
				{
					Legend: "Tire",
					Fields: []form.Field{
						f.TextField("number", "Number, branded or painted on it", "", ""),
						f.TextField("size", "Size as on the sidewall", "", "such as 295/75R22.5 144/141L"),
						f.TextField("design", "Tread design", "", ""),
						f.TextField(
							"tin",
							"Tire identification number",
							"",
							"begins with DOT on the sidewall; may be empty",
						),
					},
				},
				{
					Legend: "Tread",
					Fields: []form.Field{
						f.TextField(
							"new_depths",
							"Depth of each groove when new, outer first",
							say.UnitWord(f.Units.Depth),
							"separated by semicolons",
						),
						f.NumberField("life_index", "Times retreaded", "0: first tread"),
						f.TickField("directional", "runs in one direction only", ""),
						f.TickField("winter", "marked with the mountain and snowflake", ""),
						f.TickField("regrooved", "regrooved", ""),
					},
				},
				{
					Legend: "Money",
					Fields: []form.Field{
						f.NumberField("price", "Price", "in the depot's currency"),
						f.NumberField("casing", "Credit for the casing", "in the depot's currency"),
					},
				},
			}
		},
		values: func(t models.Tire, u units.Style) url.Values {
			return url.Values{
				"number":     {t.Number},
				"size":       {t.Size},
				"design":     {t.Design},
				"tin":        {t.TIN},
				"new_depths": {form.DepthsText(t.NewDepths, u)},
				"life_index": {
					form.PositiveText(float64(t.LifeIndex), u),
				},
				"directional": {form.TickValue(t.Directional)},
				"winter":      {form.TickValue(t.Winter)},
				"regrooved":   {form.TickValue(t.Regrooved)},
				"price":       {form.MoneyText(t.PriceCents, u)},
				"casing":      {form.MoneyText(t.CasingCents, u)},
			}
		},
		read: func(e *form.Entry, t models.Tire) models.Tire {
			t.Number, t.Size = e.Text("number"), e.Text("size")
			t.Design, t.TIN = e.Text("design"), e.Text("tin")
			t.NewDepths, t.LifeIndex = e.Depths("new_depths"), e.Whole("life_index", "retreads")
			t.Directional, t.Winter, t.Regrooved = e.Ticked("directional"), e.Ticked("winter"), e.Ticked("regrooved")
			t.PriceCents, t.CasingCents = e.Cents("price"), e.Cents("casing")
			e.MapFields("number", "size", "design", "tin", "new_depths", "life_index")
			e.MapField("price_cents", "price")
			e.MapField("casing_cents", "casing")
			e.MapField("depot_id", "depot")

			return t
		},
	}
}

func (s *room) wheelAsset() assetForm[models.Wheel] {
	return assetForm[models.Wheel]{
		nav:   "wheels",
		noun:  "wheel",
		intro: "What matters of a rim for balance weights. Leave a length empty if it was not measured.",

		title:  func(w models.Wheel) string { return "wheel " + w.Number },
		depot:  func(w models.Wheel) models.DepotID { return w.DepotID },
		stamp:  func(w *models.Wheel) *models.Stamp { return &w.Stamp },
		create: s.Fleet.CreateWheel,
		edit:   s.Fleet.EditWheel,

		get: func(ctx context.Context, a fleet.Actor, id string) (models.Wheel, error) {
			return s.Fleet.Wheel(ctx, a, models.WheelID(id))
		},
		keys: func(w models.Wheel, id string, d models.DepotID) models.Wheel {
			w.ID, w.DepotID = models.WheelID(id), d
			return w
		},
		page: func(id string, _ models.DepotID) string { return "/wheels/" + id },

		sections: wheelSections,
		values:   wheelValues,
		read:     readWheel,
	}
}

func wheelSections(f *form.Entry) []form.Section {
	rim := form.Section{Legend: "Wheel", Fields: []form.Field{
		f.TextField("number", "Number", "", ""),
		f.NumberField("diameter_in", "Rim diameter code", "in"),
		f.NumberField("width_in", "Rim width", "in"),
		f.SelectField("material", "Made of", "", form.CodeOptions("steel", "alloy")),
		f.SelectField("flange", "Clips that fit", "none fits", form.CodeOptions("P", "C", "T", "MC")),
		f.TextField("spokes", "Spokes, angles from the valve", "degrees",
			"clockwise seen from outside, separated by semicolons; weights hide behind them"),
	}}

	mm := func(name, label string) form.Field { return f.TextField(name, label, "mm", "") }
	planes := form.Section{Legend: "Planes for weights, if measured", Fields: []form.Field{
		mm("outer_radius", "Outer flange, radius"),
		mm("inner_radius", "Inner flange, radius"),
		mm("inner_offset", "Inner flange, inboard of the outer"),
		mm("adhesive_radius", "Adhesive band, radius"),
		mm("adhesive_offset", "Adhesive band, inboard of the outer flange"),
		mm("back_radius", "Back band, radius"),
		mm("back_offset", "Back band, inboard of the outer flange"),
		mm("spoke_width", "Width of a spoke"),
	}}
	planes.Fields = append(planes.Fields, form.BlockedFields(f, "blocked")...)

	return []form.Section{rim, planes}
}

func wheelValues(w models.Wheel, u units.Style) url.Values {
	var spokes []string
	for _, a := range w.Spokes {
		spokes = append(spokes, strconv.FormatFloat(a, 'f', -1, 64))
	}

	mm := func(l units.Length) []string { return []string{form.PositiveText(l.Millimetres(), u)} }
	out := url.Values{
		"number":          {w.Number},
		"diameter_in":     {form.PositiveText(w.DiameterIn, u)},
		"width_in":        {form.PositiveText(w.WidthIn, u)},
		"material":        {w.Material},
		"flange":          {w.Flange},
		"spokes":          {strings.Join(spokes, ", ")},
		"outer_radius":    mm(w.OuterRadius),
		"inner_radius":    mm(w.InnerRadius),
		"inner_offset":    mm(w.InnerOffset),
		"adhesive_radius": mm(w.AdhesiveRadius),
		"adhesive_offset": mm(w.AdhesiveOffset),
		"back_radius":     mm(w.BackRadius),
		"back_offset":     mm(w.BackOffset),
		"spoke_width":     mm(w.SpokeWidth),
	}

	form.SetBlocked(out, "blocked", w.Blocked)
	return out
}

func readWheel(e *form.Entry, w models.Wheel) models.Wheel {
	w.Number, w.Material, w.Flange = e.Text("number"), e.Text("material"), e.Text("flange")
	w.DiameterIn, w.WidthIn = e.Number("diameter_in", "inches"), e.Number("width_in", "inches")

	w.Spokes = nil
	for _, text := range e.Parts("spokes") {
		a, err := strconv.ParseFloat(e.Units.Plain(text), 64)
		if err != nil {
			e.AddFault("spokes", strconv.Quote(text)+": write angles in degrees, such as 0, 72, 144")
			break
		}
		w.Spokes = append(w.Spokes, a)
	}

	w.Blocked = e.Blocked("blocked")
	for name, to := range map[string]*units.Length{"back_radius": &w.BackRadius, "back_offset": &w.BackOffset, "outer_radius": &w.OuterRadius, "inner_radius": &w.InnerRadius, "inner_offset": &w.InnerOffset,
		"adhesive_radius": &w.AdhesiveRadius, "adhesive_offset": &w.AdhesiveOffset, "spoke_width": &w.SpokeWidth} {
		*to = 0
		if text := e.Text(name); text != "" {
			l, err := units.ParseLength(e.Units.Plain(text), units.MM)
			if err != nil {
				e.AddFault(name, form.Remedy(err))
			}
			*to = l
		}
	}

	e.MapFields("number", "diameter_in", "width_in", "material", "flange", "spokes", "blocked")
	e.MapField("depot_id", "depot")
	return w
}
