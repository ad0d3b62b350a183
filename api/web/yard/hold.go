package yard

import (
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// yardHold is the table by which readings are held, as the server has it: see
// wear.Holding. Lengths are mm.
type yardHold struct {
	Scatter      float64    `json:"scatter_mm"`
	Operator     float64    `json:"operator_mm"`
	Uneven       float64    `json:"uneven_wear"`
	New          float64    `json:"new_mm"`
	Far          float64    `json:"far_mm"`
	FarSD        float64    `json:"far_sd"`
	GrownSD      float64    `json:"grown_sd"`
	Apart        float64    `json:"apart_mm"`
	ApartSD      float64    `json:"apart_sd"`
	UnitSD       float64    `json:"unit_sd"`
	UnitNear     float64    `json:"unit_near"`
	UnitFits     float64    `json:"unit_fits"`
	UnitTenths   float64    `json:"unit_tenths"`
	UnitWhole    float64    `json:"unit_whole"`
	SameWheels   int        `json:"same_wheels"`
	PressureFar  [2]float64 `json:"pressure_far"`
	PressureNear [2]float64 `json:"pressure_near"`
}

func holdTable() yardHold {
	h := fleet.Hold()
	return yardHold{
		Scatter:      h.ScatterMM,
		Operator:     h.OperatorMM,
		Uneven:       h.UnevenWear,
		New:          h.NewMM,
		Far:          h.FarMM,
		FarSD:        h.FarSD,
		GrownSD:      h.GrownSD,
		Apart:        h.ApartMM,
		ApartSD:      h.ApartSD,
		UnitSD:       h.UnitSD,
		UnitNear:     h.UnitNear,
		UnitFits:     h.UnitFits,
		UnitTenths:   h.UnitTenths,
		UnitWhole:    h.UnitWhole,
		SameWheels:   h.SameWheels,
		PressureFar:  h.PressureFar,
		PressureNear: h.PressureNear,
	}
}

// yardVisit is what a script needs to know of a visit to judge its readings.
type yardVisit struct {
	Units yardUnits `json:"units"`
	Hold  yardHold  `json:"hold"`
	Use   yardUse   `json:"use"`
}

// yardUse is the distance that a vehicle covers a day: see wear.Use.
type yardUse struct {
	Known  bool    `json:"known"`
	Day    float64 `json:"day"` // since the Unix epoch
	KM     float64 `json:"km"`
	PerDay float64 `json:"per_day"`
	Info   float64 `json:"info"`
	Daily  float64 `json:"daily"`
	Drift  float64 `json:"drift"`
}

func useOf(v fleet.VehicleView) yardUse {
	u := v.Use
	return yardUse{u.Known, u.Day, u.XKM, u.KMPerDay, u.Info, u.DailySDKM, u.DriftSDKM}
}

// yardExpect is what a wheel is expected to read: see history.Expectation. Lengths are
// mm.
type yardExpect struct {
	Last      [][]*float64 `json:"last"` // by groove and station; null: not read
	In32      bool         `json:"in32"`
	Stations  []float64    `json:"stations"` // degrees around the tire; none: evenly spaced
	NeverRead bool         `json:"never_read"`
	Course    yardCourse   `json:"course"`
	KM        float64      `json:"km"`
	Day       float64      `json:"day"` // since the Unix epoch
	ByDays    bool         `json:"by_days"`
}

type yardCourse struct {
	MM      float64    `json:"mm"`
	Rate    float64    `json:"rate"`
	Var     [4]float64 `json:"var"`
	BreakIn [3]float64 `json:"break_in"` // thousand km, extra wear, its variance
}

// expectOf returns what the wheel at a position is expected to read; nil: no tire is there.
func expectOf(v fleet.VehicleView, at models.Position) *yardExpect {
	x, known := v.Expected[at]
	if !known {
		return nil
	}

	c := x.Course
	out := &yardExpect{
		Stations:  []float64{},
		NeverRead: x.NeverRead,
		Course:    yardCourse{c.DepthMM, c.RateMM, c.Var, [3]float64{c.BreakInMm, c.BreakInMM, c.BreakInVar}},
		KM:        x.FromKM,
		Day:       float64(x.From.UnixMicro()) / float64(24*time.Hour/time.Microsecond),
		ByDays:    x.ByDays,
	}

	for _, s := range x.Stations {
		out.Stations = append(out.Stations, s.Deg)
	}

	for _, groove := range x.Last {
		row := make([]*float64, len(groove))
		for k, cell := range groove {
			if cell.Read {
				row[k], out.In32 = &cell.MM, cell.In32
			}
		}
		out.Last = append(out.Last, row)
	}

	return out
}
