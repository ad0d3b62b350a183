package rest

import (
	"context"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/pattern"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Outlook is how a tire wears, what lies ahead, and what the wear points to.
type Outlook struct {
	TireID   string        `json:"tire_id"`
	Position string        `json:"position,omitempty"`
	Readings []OutlookRead `json:"readings"           nullable:"false" doc:"Of this tread life, oldest first."`
	Prior    *PriorSource  `json:"prior,omitempty"                     doc:"What the estimate began with."`
	Pull     *AheadLimit   `json:"pull,omitempty"                      doc:"The way to the pull point."`
	Legal    *AheadLimit   `json:"legal,omitempty"                     doc:"The way to the strictest legal minimum there."`
	Stays    []Stay        `json:"stays"              nullable:"false" doc:"Every place it has stood at, on this tread and former ones, oldest first."`
	Account  *Account      `json:"account,omitempty"                   doc:"Left out where nothing was read or the tire is on no place that rolls."`
}

// OutlookRead is one reading and what it made of the estimate.
type OutlookRead struct {
	EventID    string    `json:"event_id"`
	At         time.Time `json:"at"`
	DepthMM    float64   `json:"min_depth_mm"             doc:"Shallowest depth as read."`
	EstimateMM *float64  `json:"estimate_mm,omitempty"`
	SDMM       *float64  `json:"estimate_sd_mm,omitempty"`
	Doubts     []string  `json:"doubts,omitempty"         doc:"It is kept and counts for less." nullable:"false"`
}

// PriorSource says what an estimate began with.
type PriorSource struct {
	Source   string  `json:"source"                 enum:"default,learned"         doc:"default: embedded, judged; learned: from the fleet's own fitments."`
	Level    string  `json:"level,omitempty"        enum:"fleet,class,role,design"`
	Fitments int     `json:"fitments,omitempty"                                    doc:"That were learned from."`
	RateMM   float64 `json:"rate_mm_per_1000_km"`
	RateSDMM float64 `json:"rate_sd_mm_per_1000_km"`
}

// AheadLimit is the way to a limit.
type AheadLimit struct {
	LimitMM   float64   `json:"limit_mm"`
	DepthMM   float64   `json:"depth_mm"                 doc:"Thinnest groove now, estimated."`
	DepthSDMM float64   `json:"depth_sd_mm"`
	RateMM    float64   `json:"rate_mm_per_1000_km"`
	RateLo90  float64   `json:"rate_lo90_mm_per_1000_km"`
	RateHi90  float64   `json:"rate_hi90_mm_per_1000_km"`
	Rate32    float64   `json:"rate_32nds_per_10000_mi"`
	Reached   bool      `json:"reached"`
	KM        LimitSpan `json:"km"                       doc:"From now."`
	Days      LimitSpan `json:"days"                     doc:"From now."`
	TooEarly  bool      `json:"too_early"                doc:"Too little wear seen for this gauge."`
	LackOfFit bool      `json:"lack_of_fit"              doc:"The readings follow no line within the gauge's error."`
	Suspect   bool      `json:"suspect"                  doc:"Outliers, or depths that rose."`
	PriorOnly bool      `json:"prior_only"               doc:"No reading says anything of the rate yet."`
}

// LimitSpan is a median with its intervals. A number that is left out is
// further away than the estimate reaches.
type LimitSpan struct {
	Median *float64 `json:"median,omitempty"`
	Lo80   *float64 `json:"lo80,omitempty"`
	Hi80   *float64 `json:"hi80,omitempty"`
	Lo90   *float64 `json:"lo90,omitempty"`
	Hi90   *float64 `json:"hi90,omitempty"`
}

// Account is the weighing of causes that the findings rest on.
type Account struct {
	Around      string         `json:"around"       enum:"not_read,not_proven,even,uneven"`
	Stations    int            `json:"stations"     doc:"Places around the tire that were read."`
	Dips        int            `json:"dips"         doc:"Around the tire, counted by hand or certain from the readings; 0: not known."`
	Could       []int          `json:"could"        nullable:"false" doc:"Numbers of dips, 1 to 12, that fit the readings alike; empty: no repeat is seen."`
	CountDips   string         `json:"count_dips,omitempty" doc:"The question to be settled by hand before any of them is believed; left out: settled."`
	Patterns    []WearPattern  `json:"patterns"                                            nullable:"false"`
	Mates       []string       `json:"mates"                                               nullable:"false" doc:"Beside the other end of the axle, the other dual, the last visit."`
	Wanted      []string       `json:"wanted"                                              nullable:"false" doc:"Readings that would decide."`
	Causes      []WeighedCause `json:"causes"                                              nullable:"false" doc:"Highest score first."`
	ChecksFirst []AccountCheck `json:"checks_first"                                        nullable:"false" doc:"In order, before anyone balances."`
	NextStep    string         `json:"next_step"`
}

// WearPattern is one way in which the tire is worn.
type WearPattern struct {
	Key        string `json:"key"`
	Severity   string `json:"severity"`
	Confidence string `json:"confidence"`
	Text       string `json:"text"`
	Basis      string `json:"basis,omitempty"`
}

// WeighedCause is a cause with its evidence.
type WeighedCause struct {
	Key      string        `json:"key"`
	Score    int           `json:"score"    doc:"Likely from 6, possible from 3: points chosen by us."`
	Verdict  string        `json:"verdict"`
	Evidence []AccountLine `json:"evidence"                                                            nullable:"false"`
}

// AccountLine is one line of evidence.
type AccountLine struct {
	ID     string `json:"id"`
	Text   string `json:"text"`
	Points int    `json:"points"`
	Basis  string `json:"basis"`
	Status string `json:"status" enum:"F,M,D,P" doc:"F published, M common practice, D derived, P proposed by us."`
}

// AccountCheck is one thing to look at.
type AccountCheck struct {
	Code  string `json:"code"`
	Text  string `json:"text"`
	Basis string `json:"basis"`
}

func outlookOf(o fleet.Outlook) Outlook {
	w := Outlook{
		TireID:   string(o.Tire.ID),
		Position: string(o.State.Position),
		Pull:     aheadOf(o.Pull),
		Legal:    aheadOf(o.Legal),
		Account:  maybe(o.Account, accountOf),
		Stays:    items(o.Stays, stayOf),
		Readings: items(o.Track, func(p fleet.Tracked) OutlookRead {
			least, _ := p.Reading.Min()
			r := OutlookRead{
				EventID: string(p.EventID),
				At:      p.At,
				DepthMM: least.Value.Millimetres(),
				Doubts:  inMetric(p.Doubts),
			}

			if p.Known {
				r.EstimateMM, r.SDMM = &p.DepthMM, &p.SDMM
			}
			return r
		}),
	}

	if s := o.State.MinWear; s != nil {
		w.Prior = &PriorSource{
			Source:   "learned",
			Level:    s.Prior.Source.Level,
			Fitments: s.Prior.Source.Fitments,
			RateMM:   s.Prior.RateMean,
			RateSDMM: s.Prior.RateSD,
		}

		if s.Prior.Source.Embedded {
			w.Prior.Source, w.Prior.Level = "default", ""
		}
	}

	return w
}

func aheadOf(a *fleet.Ahead) *AheadLimit {
	if a == nil {
		return nil
	}
	return &AheadLimit{
		LimitMM:   a.Limit.Millimetres(),
		DepthMM:   a.DepthMM,
		DepthSDMM: a.DepthSDMM,
		RateMM:    a.RateMM,
		RateLo90:  a.RateLo90,
		RateHi90:  a.RateHi90,
		Rate32:    units.Rate32(a.RateMM),
		Reached:   a.Reached,
		KM:        limitSpanOf(a.Distance),
		Days:      limitSpanOf(a.Days),
		TooEarly:  a.TooEarly,
		LackOfFit: a.LackOfFit,
		Suspect:   a.Suspect,
		PriorOnly: a.PriorOnly,
	}
}

func limitSpanOf(s wear.Span) LimitSpan {
	told := func(b wear.Bound) *float64 {
		if b.Beyond {
			return nil
		}
		return &b.Value
	}
	return LimitSpan{told(s.Median), told(s.Lo80), told(s.Hi80), told(s.Lo90), told(s.Hi90)}
}

func accountOf(a pattern.Account) Account {
	return Account{Around: string(a.Result.Around), NextStep: a.NextStep,
		Stations: a.Result.Stations, Dips: a.Result.Dips, CountDips: a.Result.CountQuestion(),
		Could: items(a.Result.Could, func(n int) int { return n }),
		Patterns: items(a.Result.Patterns, func(p pattern.Pattern) WearPattern {
			return WearPattern{p.Key, string(p.Severity), p.Confidence, p.Text, p.Basis}
		}),
		Mates:  items(a.Result.Mates, func(c pattern.Comparison) string { return c.Text }),
		Wanted: items(a.Result.Wanted, func(r pattern.Request) string { return r.Text }),
		Causes: items(a.Ranked, func(c pattern.Cause) WeighedCause {
			return WeighedCause{
				c.Key,
				c.Score,
				string(c.Verdict),
				items(c.Lines, func(e pattern.Evidence) AccountLine { return AccountLine(e) }),
			}
		}),
		ChecksFirst: items(a.ChecksFirst, func(c pattern.Check) AccountCheck { return AccountCheck(c) })}
}

// DepotOrder is how many tires a depot will need.
type DepotOrder struct {
	DepotID string      `json:"depot_id"`
	Months  []string    `json:"months"   nullable:"false" doc:"The first holds what is due already."        example:"2026-11"`
	Sizes   []SizeOrder `json:"sizes"    nullable:"false"`
	All     []TireNeed  `json:"all"      nullable:"false" doc:"Of all sizes, a month each."`
	Untold  int         `json:"untold"                    doc:"Mounted tires that cannot be forecast."`
}

// SizeOrder is how many tires of one size are needed, a month each.
type SizeOrder struct {
	Size string     `json:"size"`
	Need []TireNeed `json:"need" nullable:"false"`
}

// TireNeed is a number of tires.
type TireNeed struct {
	Expected float64 `json:"expected"`
	Median   int     `json:"median"`
	Lo80     int     `json:"lo80"     doc:"4 times in 5 the number lies between this and hi80."`
	Hi80     int     `json:"hi80"`
}

func depotOrderOf(o fleet.DepotOrder) DepotOrder {
	need := func(n fleet.TireNeed) TireNeed { return TireNeed{n.Mean, n.Median, n.Lo80, n.Hi80} }
	return DepotOrder{DepotID: string(o.Depot.ID), Untold: o.Untold, All: items(o.All, need),
		Months: items(o.Months, func(t time.Time) string { return t.Format("2006-01") }),
		Sizes:  items(o.Sizes, func(s fleet.SizeOrder) SizeOrder { return SizeOrder{s.Size, items(s.Need, need)} })}
}

type outlookOut struct{ Body Outlook }

type ordersOut struct {
	Body struct {
		Items []DepotOrder `json:"items" nullable:"false"`
	}
}

func (s *server) registerOutlooks() {
	register(
		s,
		get(
			"/vehicles/{id}/positions/{position}",
			"Vehicles",
			"Get how a place wears and why",
			"Readings with their estimates, the way to the limits, the pattern, its mates, and the ranked causes "+
				"with every line of evidence.",
		),
		func(ctx context.Context, a fleet.Actor, in *struct {
			ByID
			Position string `path:"position" maxLength:"8" example:"2LO"`
		}) (*outlookOut, error) {
			o, err := s.Fleet.PlaceOutlook(ctx, a, models.VehicleID(in.ID), models.Position(in.Position))
			return &outlookOut{outlookOf(o)}, err
		},
	)

	register(s, get("/tires/{id}/outlook", "Tires", "Get how a tire wears and why", ""),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*outlookOut, error) {
			o, err := s.Fleet.TireOutlook(ctx, a, models.TireID(in.ID))
			return &outlookOut{outlookOf(o)}, err
		})

	register(
		s,
		get(
			"/tires-to-order",
			"Tires",
			"List tires to order",
			"How many mounted tires will reach their pull point, by depot, size and month.",
		),
		func(ctx context.Context, a fleet.Actor, in *struct {
			Depot  string `query:"depot" format:"uuid"`
			Months int    `query:"months" minimum:"1" maximum:"12" default:"6"`
		}) (*ordersOut, error) {
			list, err := s.Fleet.TiresToOrder(ctx, a, depotsOf(in.Depot), in.Months)
			out := &ordersOut{}
			out.Body.Items = items(list, depotOrderOf)
			return out, err
		},
	)
}
