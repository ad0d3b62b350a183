package rest

import (
	"context"
	"errors"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// Depot is a yard with its own clock, law, units and mail.
type Depot struct {
	ID           string    `json:"id,omitempty"          format:"uuid"`
	Name         string    `json:"name"                                minLength:"1" maxLength:"80"`
	TimeZone     string    `json:"time_zone"                                                        doc:"IANA name."                                                                                                      example:"Europe/Berlin"`
	Jurisdiction string    `json:"jurisdiction"                                                     doc:"Code of the legal rules that apply; see legal rules."                                                            example:"DE"`
	OwnRules     []OwnRule `json:"own_rules,omitempty"                                              doc:"Own minimum depths, stricter than the law."                                                                                              nullable:"false" maxItems:"40"`
	Units        Units     `json:"units"`
	Currency     string    `json:"currency"                                                         doc:"ISO 4217."                                                                                                       example:"EUR"`
	DigestCron   string    `json:"digest_cron,omitempty"                             maxLength:"80" doc:"When the weekly digest is mailed: minute, hour, day, month, weekday, in the depot's time zone. Left out: never." example:"0 6 * * 1"`
	Recipients   []string  `json:"recipients,omitempty"                                             doc:"Mail addresses of the digest."                                                                                                           nullable:"false" maxItems:"100"`
	Box          *Box      `json:"box,omitempty"                                                    doc:"Balance weights that the shop has; the bench proposes from them."`
	Stamp
}

// Box is the balance weights of a shop.
type Box struct {
	LightClips    []Mass `json:"light_clips,omitempty"    nullable:"false" maxItems:"40" doc:"Sizes of clips for light wheels. Left out, like every list here: usual sizes."`
	LightSegments []Mass `json:"light_segments,omitempty" nullable:"false" maxItems:"40" doc:"Mass of one adhesive segment, by kind."`
	HeavyClips    []Mass `json:"heavy_clips,omitempty"    nullable:"false" maxItems:"40"`
	HeavySegments []Mass `json:"heavy_segments,omitempty" nullable:"false" maxItems:"40"`
}

func (b *Box) model() models.Box {
	if b == nil {
		return models.Box{}
	}
	sizes := func(l []Mass) []models.Mass { return list(l, func(m Mass) models.Mass { return m.m }) }
	return models.Box{
		LightClips:    sizes(b.LightClips),
		LightSegments: sizes(b.LightSegments),
		HeavyClips:    sizes(b.HeavyClips),
		HeavySegments: sizes(b.HeavySegments),
	}
}

// boxOf returns nil for a box that says nothing.
func boxOf(m models.Box) *Box {
	sizes := func(l []models.Mass) []Mass { return list(l, func(m models.Mass) Mass { return Mass{m} }) }
	b := Box{sizes(m.LightClips), sizes(m.LightSegments), sizes(m.HeavyClips), sizes(m.HeavySegments)}
	if len(b.LightClips)+len(b.LightSegments)+len(b.HeavyClips)+len(b.HeavySegments) == 0 {
		return nil
	}
	return &b
}

// OwnRule is a depot's own minimum depth.
type OwnRule struct {
	Class    Class  `json:"class,omitempty"     doc:"Left out: every class."`
	Role     string `json:"axle_role,omitempty" doc:"Left out: every axle."  enum:"steer,drive,free"`
	MinDepth Depth  `json:"min_depth"`
	Reason   string `json:"reason,omitempty"                                                         maxLength:"200"`
}

// Units are the units in which one reads and writes.
type Units struct {
	Depth    string `json:"depth"    enum:"mm,32nd"`
	Pressure string `json:"pressure" enum:"kPa,psi,bar"`
	Distance string `json:"distance" enum:"km,mi"`
	Mass     string `json:"mass"     enum:"g,oz"`
}

func (u Units) model() units.Set {
	return units.Set{
		Depth:    units.Unit(u.Depth),
		Pressure: units.Unit(u.Pressure),
		Distance: units.Unit(u.Distance),
		Mass:     units.Unit(u.Mass),
	}
}

func unitsOf(s units.Set) Units {
	return Units{string(s.Depth), string(s.Pressure), string(s.Distance), string(s.Mass)}
}

func (d Depot) model(id string, version int64) models.Depot {
	return models.Depot{
		ID:           models.DepotID(id),
		Name:         d.Name,
		TimeZone:     d.TimeZone,
		Jurisdiction: d.Jurisdiction,
		OwnRules:     list(d.OwnRules, OwnRule.model),
		Units:        d.Units.model(),
		Currency:     d.Currency,
		DigestCron:   d.DigestCron,
		Recipients:   d.Recipients,
		Box:          d.Box.model(),
		Stamp:        models.Stamp{Version: version},
	}
}

func (r OwnRule) model() models.OwnRule {
	return models.OwnRule{
		Class:    models.Class(r.Class),
		Role:     models.AxleRole(r.Role),
		MinDepth: r.MinDepth.d,
		Reason:   r.Reason,
	}
}

func ownRuleOf(r models.OwnRule) OwnRule {
	return OwnRule{Class(r.Class), string(r.Role), Depth{r.MinDepth}, r.Reason}
}

func depotOf(m models.Depot) Depot {
	return Depot{
		ID:           string(m.ID),
		Name:         m.Name,
		TimeZone:     m.TimeZone,
		Jurisdiction: m.Jurisdiction,
		OwnRules:     list(m.OwnRules, ownRuleOf),
		Units:        unitsOf(m.Units),
		Currency:     m.Currency,
		DigestCron:   m.DigestCron,
		Recipients:   m.Recipients,
		Box:          boxOf(m.Box),
		Stamp:        stampOf(m.Stamp),
	}
}

// DepotPolicy is what a depot changes in the policy of one class.
type DepotPolicy struct {
	Class  Class       `json:"class"  readOnly:"true"`
	Policy PolicyPatch `json:"policy"`
	Stamp
}

func depotPolicyOf(p models.DepotPolicy) DepotPolicy {
	return DepotPolicy{Class(p.Class), policyOf(p.Patch), stampOf(p.Stamp)}
}

// ByClass names a depot and a class of vehicles.
type ByClass struct {
	ID    string `path:"id"    format:"uuid"`
	Class Class  `path:"class"`
}

type policyIn struct {
	ByClass
	IfMatch string `header:"If-Match" doc:"The ETag of what you started from; needed."`
	Body    DepotPolicy
}

func (s *server) registerDepots() {
	const tag = "Depots"
	resource[Depot, models.Depot]{path: "/depots", tag: tag, name: "depot",
		wire: depotOf, model: Depot.model, id: func(d Depot) string { return d.ID },
		version: func(m models.Depot) int64 { return m.Version },
		create:  s.Fleet.CreateDepot, edit: s.Fleet.EditDepot,
		get: func(ctx context.Context, a fleet.Actor, id string) (models.Depot, error) {
			return s.Fleet.Depot(ctx, a, models.DepotID(id))
		}}.register(s)

	register(s, get("/depots", tag, "List depots", "By name, all at once."),
		func(ctx context.Context, a fleet.Actor, _ *struct{}) (*pageOut[Depot], error) {
			all, err := s.Fleet.Depots(ctx, a)
			return paged(all, "", err, depotOf)
		})

	register(
		s,
		get("/depots/{id}", tag, "Get a depot", ""),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*tagged[Depot], error) {
			d, err := s.Fleet.Depot(ctx, a, models.DepotID(in.ID))
			if err != nil {
				return nil, err
			}
			return withTag(d.Version, depotOf(d)), nil
		},
	)

	s.registerPolicies()
}

func (s *server) registerPolicies() {
	const tag = "Policies"
	register(
		s,
		get(
			"/depots/{id}/policies",
			tag,
			"List what a depot changes",
			"The classes whose default policy the depot changes.",
		),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*pageOut[DepotPolicy], error) {
			all, err := s.Fleet.DepotPolicies(ctx, a, models.DepotID(in.ID))
			return paged(all, "", err, depotPolicyOf)
		},
	)

	register(
		s,
		get(
			"/depots/{id}/policies/{class}",
			tag,
			"Get what a depot changes for one class",
			`Version 0 and ETag "0" where it changes nothing yet.`,
		),
		func(ctx context.Context, a fleet.Actor, in *ByClass) (*tagged[DepotPolicy], error) {
			p, err := s.depotPolicy(ctx, a, *in)
			return withTag(p.Version, depotPolicyOf(p)), err
		},
	)

	register(
		s,
		put(
			"/depots/{id}/policies/{class}",
			tag,
			"Set what a depot changes for one class",
			`Sends the whole change; the vehicles of the class are assessed again. If-Match is "0" for the first.`,
		),
		func(ctx context.Context, a fleet.Actor, in *policyIn) (*tagged[DepotPolicy], error) {
			version, err := ifMatch(in.IfMatch)
			if err != nil {
				return nil, err
			}

			mine := models.DepotPolicy{
				DepotID: models.DepotID(in.ID),
				Class:   models.Class(in.Class),
				Patch:   in.Body.Policy.model(),
				Stamp:   models.Stamp{Version: version},
			}

			p, err := s.Fleet.SetDepotPolicy(ctx, a, mine)
			if errors.Is(err, models.Stale) {
				if now, found := s.depotPolicy(ctx, a, in.ByClass); found == nil {
					return nil, stale(depotPolicyOf(mine), depotPolicyOf(now), now.Version)
				}
			}

			return withTag(p.Version, depotPolicyOf(p)), err
		},
	)

	register(
		s,
		get(
			"/depots/{id}/policies/{class}/effective",
			tag,
			"Get the policy that applies",
			"The default of the class, changed by the depot. A vehicle may change it further.",
		),
		func(ctx context.Context, a fleet.Actor, in *ByClass) (*bodyOut[PolicyPatch], error) {
			p, err := s.Fleet.EffectivePolicy(ctx, a, models.DepotID(in.ID), models.Class(in.Class))
			return bodyOrError(policyOf(p), err)
		},
	)

	register(s, get("/policies/{class}", tag, "Get the default policy of a class", "Common practice, each a setting."),
		func(_ context.Context, _ fleet.Actor, in *struct {
			Class    Class  `path:"class"`
			Distance string `query:"distance" enum:"km,mi" doc:"In which distances are round; km if not given."`
		}) (*bodyOut[PolicyPatch], error) {
			u := units.Set{Distance: units.Unit(in.Distance)}
			return bodyOrError(policyOf(models.DefaultPolicy(models.Class(in.Class), u)), nil)
		})
}

// depotPolicy returns what a depot changes for one class, which may be nothing.
func (s *server) depotPolicy(ctx context.Context, a fleet.Actor, in ByClass) (models.DepotPolicy, error) {
	all, err := s.Fleet.DepotPolicies(ctx, a, models.DepotID(in.ID))
	for _, p := range all {
		if p.Class == models.Class(in.Class) {
			return p, nil
		}
	}
	return models.DepotPolicy{DepotID: models.DepotID(in.ID), Class: models.Class(in.Class)}, err
}
