package rest

import (
	"rimledger/models/fleet"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Stay is one fitment with what was seen of the wear there.
type Stay struct {
	Fitment
	Former     bool      `json:"former_tread,omitempty"        doc:"On a tread that has been replaced since."`
	KM         *float64  `json:"km,omitempty"                  doc:"Rolled there, up to now if it lasts. Left out: not known."`
	Judged     bool      `json:"km_estimated,omitempty"        doc:"Rests on the vehicle's use per day at one end."`
	Start      *float64  `json:"start_depth_mm,omitempty"      doc:"Thinnest groove when it came: as new, as estimated, or as first read."`
	StartSD    *float64  `json:"start_depth_sd_mm,omitempty"`
	StartLate  bool      `json:"start_read_later,omitempty"    doc:"The first depth was read after it came."`
	StartAfter float64   `json:"start_read_after_km,omitempty" doc:"So far after."`
	End        *float64  `json:"end_depth_mm,omitempty"        doc:"When it left, or at the last reading if it lasts, as estimated. Left out: no depth was read there."`
	EndSD      *float64  `json:"end_depth_sd_mm,omitempty"`
	Readings   int       `json:"readings"                      doc:"That count for the wear."`
	Wear       *StayWear `json:"wear,omitempty"                doc:"Left out: a spare, or not read at two places of the odometer."`
}

// StayWear is the wear rate of one stay by its own readings alone, with a 90 % interval.
type StayWear struct {
	RateMM   float64 `json:"rate_mm_per_1000_km"`
	Lo90     float64 `json:"rate_lo90_mm_per_1000_km"`
	Hi90     float64 `json:"rate_hi90_mm_per_1000_km"`
	Rate32   float64 `json:"rate_32nds_per_10000_mi"`
	TooEarly bool    `json:"too_early"                doc:"Too little wear seen there for this gauge."`
}

func stayOf(m fleet.Stay) Stay {
	w := Stay{
		Fitment:    fitmentOf(m.Fitment),
		Former:     m.Former,
		Judged:     m.Judged && m.KMKnown,
		StartLate:  m.Late,
		StartAfter: m.LateKM,
		Readings:   m.Readings,
	}

	if m.KMKnown {
		w.KM = &m.KM
	}
	if m.Start != nil {
		w.Start, w.StartSD = &m.Start.MM, &m.Start.SDMM
	}
	if m.End != nil {
		w.End, w.EndSD = &m.End.MM, &m.End.SDMM
	}

	w.Wear = maybe(m.Wear, func(s wear.Summary) StayWear {
		lo, hi := s.Within90()
		return StayWear{s.RateMM, lo, hi, units.Rate32(s.RateMM), m.TooEarly}
	})

	return w
}
