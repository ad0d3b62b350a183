package fleet

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// importColumns is the one table of the columns of sheets, for import and export, help
// and examples.
var importColumns = map[string][]ImportColumn{
	"vehicles": {
		{
			Name:     "number",
			Aliases:  []string{"unit", "unit_number", "vehicle"},
			Required: true,
			Help:     "unit number as painted on the vehicle",
			Example:  "T-104",
		},
		{
			Name:     "class",
			Required: true,
			Help:     "car, light_truck, rigid_truck, tractor, trailer or bus",
			Example:  "tractor",
		},
		{Name: "description", Help: "free text", Example: "day cab"},
		{Name: "parking_row", Aliases: []string{"row"}, Help: "where it is parked", Example: "B"},
		{
			Name:     "axles",
			Required: true,
			Help:     "from the front: S steered, D driven, F free, with L if it lifts, and the number of wheels",
			Example:  "S2 D4 D4",
		},
		{Name: "spares", Help: "number of spare places", Example: "1"},
		{Name: "max_mass_kg", Aliases: []string{"gvwr_kg", "mam_kg"}, Help: "permitted mass in kg", Example: "18000"},
		{Name: "seats", Help: "passenger seats", Example: "0"},
		{Name: "torque_nm", Help: "wheel nut torque in N·m", Example: "600"},
		{
			Name:    "target_pressure",
			Help:    "cold pressure with unit, one for all axles or one each, by space",
			Example: "105psi 95psi 95psi",
			fields:  []string{"axles.pressure"},
		},
		{Name: "no_odometer", Help: "yes if it has no distance counter", Example: "no"},
	},
	"tires": {
		{
			Name:     "number",
			Aliases:  []string{"tire", "tyre", "serial"},
			Required: true,
			Help:     "the tire's own number",
			Example:  "R00417",
		},
		{Name: "tin", Aliases: []string{"dot"}, Help: "tire identification number (DOT code)", Example: ""},
		{
			Name:     "size",
			Aliases:  []string{"tire_size", "tyre_size"},
			Required: true,
			Help:     "size designation",
			Example:  "295/75R22.5 144/141L",
		},
		{Name: "design", Help: "tread design", Example: "rib A"},
		{
			Name:     "new_depths",
			Aliases:  []string{"new_depth"},
			Required: true,
			Help:     "new depth of each groove, outboard to inboard, by space",
			Example:  "20/32 20/32 20/32",
		},
		{Name: "life_index", Help: "0 new, 1.. retreads", Example: "0"},
		{Name: "price", Help: "in the depot's currency", Example: "412.50", fields: []string{"price_cents"}},
		{Name: "directional", Help: "yes or no", Example: "no"},
		{Name: "winter", Help: "yes if marked with the mountain and snowflake", Example: "no"},
	},
	"fitments": {
		vehicleColumn,
		{Name: "position", Required: true, Help: "place, such as 1L or 2RO", Example: "2LO"},
		{
			Name:     "tire",
			Aliases:  []string{"tyre"},
			Required: true,
			Help:     "the tire's number",
			Example:  "R00417",
			fields:   []string{"tire_id"},
		},
		{
			Name:     "at",
			Aliases:  []string{"date", "time"},
			Required: true,
			Help:     "when it was fitted",
			Example:  "2026-03-02 14:10",
		},
		{Name: "odometer", Help: "with unit, or unknown", Example: "201,340 mi"},
		{Name: "person", Help: "who did it", Example: ""},
		{Name: "existing", Help: "yes if the tire was found already mounted", Example: "yes"},
	},
	"odometers": {
		vehicleColumn,
		{
			Name:     "at",
			Aliases:  []string{"date", "time"},
			Required: true,
			Help:     "when it was read",
			Example:  "2026-03-02",
		},
		{Name: "odometer", Required: true, Help: "with unit", Example: "201,340 mi"},
		{Name: "person", Help: "who read it", Example: ""},
	},
	"inspections": {
		vehicleColumn,
		{
			Name:     "at",
			Aliases:  []string{"date", "time"},
			Required: true,
			Help:     "when it was inspected; rows of one time are one visit",
			Example:  "2026-03-02 14:10",
		},
		{Name: "odometer", Help: "with unit, or unknown", Example: "201,340 mi"},
		{Name: "person", Aliases: []string{"inspector"}, Help: "who measured", Example: ""},
		{Name: "gauge", Help: "the gauge's own number", Example: "G2"},
		{Name: "position", Required: true, Help: "place, such as 1L or 2RO", Example: "2LO"},
		{
			Name:    "depths",
			Aliases: []string{"depth", "tread"},
			Help:    "grooves outboard to inboard by space, stations clockwise from the valve by |",
			Example: "7/32 6/32 7/32",
			fields:  []string{"readings"},
		},
		{Name: "depth_unit", Help: "mm or 32nd, for depths without a unit", Example: "32nd"},
		{Name: "pressure", Help: "with unit, or not_reached", Example: "104 psi"},
		{
			Name:    "observations",
			Help:    "by space, with a count or direction after a colon",
			Example: "cupping:4 feathering:inward",
		},
		{Name: "note", Help: "free text", Example: ""},
		{
			Name:    "id",
			Help:    "the visit's id as an export writes it, the same in all its rows; leave empty for new visits",
			Example: "",
		},
	},
}

// vehicleColumn names the vehicle of an entry.
var vehicleColumn = ImportColumn{
	Name:     "vehicle",
	Aliases:  []string{"unit"},
	Required: true,
	Help:     "unit number",
	Example:  "T-104",
	fields:   []string{"vehicle_id"},
}

// ImportColumns describes the columns of a kind of sheet, nil for an unknown kind.
func ImportColumns(kind string) []ImportColumn { return importColumns[kind] }

// An event that is made of several rows lists them; inRow reads which of them a field
// belongs to, and index what else is counted.
var (
	inRow = regexp.MustCompile(`^(?:fittings|readings)\[(\d+)\]\.`)
	index = regexp.MustCompile(`\[\d+\]`)
)

// cellOf returns where in the rows of an entry a field is filled: in which of them,
// counted from 0, and in which column; "" where no column of the kind of sheet does.
func cellOf(kind, field string) (row int, column string) {
	if m := inRow.FindStringSubmatch(field); m != nil {
		row, _ = strconv.Atoi(m[1])
		field = strings.TrimPrefix(field, m[0])
	}

	// The field itself, or else the one that it is a part of.
	for name := index.ReplaceAllString(field, ""); name != ""; {
		fills := func(c ImportColumn) bool { return c.Name == name || slices.Contains(c.fields, name) }
		if i := slices.IndexFunc(ImportColumns(kind), fills); i >= 0 {
			return row, ImportColumns(kind)[i].Name
		}
		name = name[:max(strings.LastIndexByte(name, '.'), 0)]
	}

	return row, ""
}
