package fleet

import (
	"context"
	"errors"
	"fmt"
	"net/mail"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/legal"
	"rimledger/models/units"
)

func (s *Service) depotEntity() entity[models.Depot] {
	return entity[models.Depot]{
		name: "depot", permission: access.Administer,
		id:    func(d models.Depot) string { return string(d.ID) },
		depot: func(d models.Depot) models.DepotID { return d.ID },
		stamp: func(d *models.Depot) *models.Stamp { return &d.Stamp },
		get: func(ctx context.Context, r models.Reader, d models.Depot) (models.Depot, error) {
			return r.Depot(ctx, d.ID)
		},
		put:   func(ctx context.Context, tx models.Tx, d models.Depot) error { return tx.PutDepot(ctx, d) },
		check: func(_ context.Context, _ models.Tx, d, _ *models.Depot) error { return checkDepot(*d, s.now()) },
		after: func(ctx context.Context, tx models.Tx, d models.Depot, now time.Time) error {
			return s.reassessDepot(ctx, tx, d.ID, "", now)
		},
	}
}

func checkDepot(d models.Depot, now time.Time) error {
	var f models.Faults
	if !models.ValidID(d.ID) {
		f.Add("id", string(d.ID), "must be a UUID in lower-case text")
	}
	if n := len([]rune(d.Name)); n < 1 || n > 80 || strings.TrimSpace(d.Name) != d.Name ||
		models.CleanText(d.Name) != "" {
		f.Add("name", d.Name, "must be 1 to 80 characters without spaces at the ends")
	}

	if _, err := models.ParseZone(d.TimeZone); err != nil {
		f.Add("time_zone", d.TimeZone, "must be an IANA time zone such as Europe/Berlin or America/Chicago")
	}
	if !legal.Known(d.Jurisdiction) {
		f.Add("jurisdiction", d.Jurisdiction, "must be one of %s", strings.Join(legal.Codes(), ", "))
	}

	if !d.Units.Valid() {
		f.Add("units", fmt.Sprint(d.Units),
			"must be depth mm or 32nd, pressure kPa, psi or bar, distance km or mi, mass g or oz")
	}
	if len(d.Currency) != 3 || strings.ToUpper(d.Currency) != d.Currency {
		f.Add("currency", d.Currency, "must be a three-letter code such as USD or EUR")
	}

	checkDigest(&f, d)
	for i, r := range d.OwnRules {
		checkOwnRule(&f, fmt.Sprintf("own_rules[%d]", i), r, d.Jurisdiction, now)
	}

	// The box checks itself and names its own fields.
	var bad *models.Error
	if errors.As(d.Box.Validate("box."), &bad) {
		f = append(f, bad.Fields...)
	}

	return f.Err("depot " + d.Name)
}

// checkDigest checks when the weekly digest is mailed and to whom.
func checkDigest(f *models.Faults, d models.Depot) {
	if d.DigestCron != "" {
		if _, err := models.ParseCron(d.DigestCron); err != nil {
			f.Add("digest_cron", d.DigestCron,
				"must be five fields (minute hour day month weekday) such as 0 6 * * 1, in the depot's time zone, "+
					"or empty")
		}
	}

	for i, r := range d.Recipients {
		if a, err := mail.ParseAddress(r); err != nil || a.Address != r || strings.ContainsAny(r, "\r\n") {
			f.Add(fmt.Sprintf("recipients[%d]", i), r, "must be a plain mail address such as yard@fleet.example")
		}
	}
}

func checkOwnRule(f *models.Faults, at string, r models.OwnRule, jurisdiction string, now time.Time) {
	if r.Class != "" && !r.Class.Valid() {
		f.Add(at+".class", string(r.Class), "must be empty or one of %v", models.Classes)
	}

	switch r.Role {
	case "", models.RoleSteer, models.RoleDrive, models.RoleTrailer:
	default:
		f.Add(at+".role", string(r.Role), "must be empty, steer, drive or free")
	}

	if r.MinDepth.Value <= 0 {
		f.Add(
			at+".min_depth",
			r.MinDepth.Text,
			"must be above 0; a depot's own rule can only ask for more than the law",
		)
	} else if err := stricter(r, jurisdiction, now); err != nil {
		f.Add(at+".min_depth", r.MinDepth.Text, "%v", err)
	}

	if n := len([]rune(r.Reason)); n > 200 || models.CleanText(r.Reason) != "" {
		f.Add(at+".reason", r.Reason, "must be text of at most 200 characters")
	}
}

// stricter returns why a depot's own rule adds nothing to the law: for every
// vehicle and axle that it is about, the law asks as much or more. Vehicles are
// taken at the usual mass of their class, tires as radials.
func stricter(o models.OwnRule, jurisdiction string, now time.Time) error {
	classes, roles := models.Classes, []models.AxleRole{models.RoleSteer, models.RoleDrive, models.RoleTrailer}
	if o.Class != "" {
		classes = []models.Class{o.Class}
	}
	if o.Role != "" {
		roles = []models.AxleRole{o.Role}
	}

	own := legal.Own(o.MinDepth.Value, o.MinDepth.Text, o.Reason)
	today := legal.MonthDay{Year: now.Year(), Month: int(now.Month()), Day: now.Day()}

	var weak error
	for _, class := range classes {
		for _, role := range roles {
			place := legal.Place{Steered: role == models.RoleSteer, Driven: role == models.RoleDrive}
			err := own.StricterThan(legal.For(jurisdiction, legal.Vehicle{Class: string(class)}, place, today))
			if err == nil {
				return nil
			}
			weak = err
		}
	}

	return weak
}

// MayCreateDepot returns an Unauthenticated or Forbidden error unless a may open a depot.
func (a Actor) MayCreateDepot() error {
	if err := a.may(access.Administer); err != nil {
		return err
	}
	if len(a.User.Depots) > 0 {
		return models.Errorf(models.Forbidden, "only a manager of all depots opens a new one")
	}
	return nil
}

// CreateDepot opens a depot. Repeating the same content returns the first answer.
func (s *Service) CreateDepot(ctx context.Context, a Actor, d models.Depot) (models.Depot, error) {
	if err := a.MayCreateDepot(); err != nil {
		return d, err
	}
	return s.depotEntity().create(ctx, s, a, d)
}

// EditDepot saves d over the version it started from and re-assesses the depot's vehicles.
func (s *Service) EditDepot(ctx context.Context, a Actor, d models.Depot) (models.Depot, error) {
	return s.depotEntity().edit(ctx, s, a, d)
}

// KeepBox keeps what weights a depot's shop has for heavy or for light wheels.
// Whoever records work may: it is the shop's own knowledge. version is that of
// the depot which was seen.
func (s *Service) KeepBox(
	ctx context.Context,
	a Actor,
	id models.DepotID,
	version int64,
	heavy bool,
	clips, segments []models.Mass,
) (models.Depot, error) {
	d, err := s.Depot(ctx, a, id)
	if err != nil {
		return d, err
	}

	if d.Version != version {
		return d, models.Errorf(
			models.Stale,
			"someone saved depot %s in the meantime; look at its box of weights as it is now, then keep yours",
			d.Name,
		)
	}

	d.Box = d.Box.With(heavy, clips, segments)
	k := s.depotEntity()
	k.permission = access.Record
	k.after = func(context.Context, models.Tx, models.Depot, time.Time) error { return nil } // no finding depends on it
	return k.edit(ctx, s, a, d)
}

// Depot returns one depot.
func (s *Service) Depot(ctx context.Context, a Actor, id models.DepotID) (models.Depot, error) {
	return readAs(
		ctx,
		s,
		a,
		access.View,
		references(id),
		func(r models.Reader) (models.Depot, error) { return r.Depot(ctx, id) },
	)
}

// Depots lists the depots that a sees, by name.
func (s *Service) Depots(ctx context.Context, a Actor) ([]models.Depot, error) {
	all, err := readAs(
		ctx, s, a, access.View, nil, func(r models.Reader) ([]models.Depot, error) { return r.Depots(ctx) },
	)

	var seen []models.Depot
	for _, d := range all {
		if a.User.Sees(d.ID) {
			seen = append(seen, d)
		}
	}

	return seen, err
}

// SetDepotPolicy saves what a depot changes in the policy of one class, over
// the version it started from (0 for the first), and re-assesses its vehicles.
func (s *Service) SetDepotPolicy(ctx context.Context, a Actor, p models.DepotPolicy) (models.DepotPolicy, error) {
	err := s.writeAs(ctx, a, access.Manage, references(p.DepotID), func(tx models.Tx, now time.Time) error {
		if err := checkPolicy(p); err != nil {
			return err
		}

		all, err := tx.DepotPolicies(ctx, p.DepotID)
		if err != nil {
			return err
		}

		before, err := stampPolicy(&p, all, a, now)
		if err != nil {
			return err
		}

		if err := tx.PutDepotPolicy(ctx, p); err != nil {
			return err
		}

		change := models.Change{
			Entity: "policy",
			ID:     string(p.DepotID) + "/" + string(p.Class),
			What:   "edited",
			Depots: []models.DepotID{p.DepotID},
		}

		if err := s.audit(ctx, tx, a, now, change, before, p); err != nil {
			return err
		}

		// Other intervals and limits change the findings of every vehicle of the class.
		return s.reassessDepot(ctx, tx, p.DepotID, p.Class, now)
	})

	return p, err
}

// stampPolicy sets the stamp of p, which takes the place of the policy of its
// class in all, and returns that for the audit trail: nil if there was none. It
// returns a Stale error if p did not start from it.
func stampPolicy(p *models.DepotPolicy, all []models.DepotPolicy, a Actor, now time.Time) (before any, err error) {
	i := slices.IndexFunc(all, func(old models.DepotPolicy) bool { return old.Class == p.Class })
	if i < 0 && p.Version == 0 {
		p.Stamp = stamped(a, now)
		return nil, nil
	}

	// An edit of a policy that is not there is stale, too: its version is not 0.
	old := models.DepotPolicy{DepotID: p.DepotID, Class: p.Class}
	if i >= 0 {
		old = all[i]
	}
	p.Stamp, err = restamped(a, now, p.Stamp, old.Stamp, old)
	return old, err
}

func checkPolicy(p models.DepotPolicy) error {
	var f models.Faults
	if !p.Class.Valid() {
		f.Add("class", string(p.Class), "must be one of %v", models.Classes)
	}
	p.Patch.Check(&f)
	return f.Err("policy")
}

// DepotPolicies lists what a depot changes in the policies of the classes.
func (s *Service) DepotPolicies(ctx context.Context, a Actor, id models.DepotID) ([]models.DepotPolicy, error) {
	return readAs(
		ctx,
		s,
		a,
		access.View,
		references(id),
		func(r models.Reader) ([]models.DepotPolicy, error) { return r.DepotPolicies(ctx, id) },
	)
}

// EffectivePolicy returns the policy of a class in a depot: the default changed
// by the depot.
func (s *Service) EffectivePolicy(
	ctx context.Context,
	a Actor,
	id models.DepotID,
	c models.Class,
) (models.Policy, error) {
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) (models.Policy, error) {
		d, err := r.Depot(ctx, id)
		if err != nil {
			return models.Policy{}, err
		}
		all, err := r.DepotPolicies(ctx, id)
		return policyOf(c, d.Units, all, models.PolicyPatch{}), err
	})
}

// policyOf returns the policy of a vehicle of class c: the default in a depot of units u,
// changed by the depot and then by the vehicle.
func policyOf(c models.Class, u units.Set, depot []models.DepotPolicy, vehicle models.PolicyPatch) models.Policy {
	p := models.DefaultPolicy(c, u)
	for _, d := range depot {
		if d.Class == c {
			p = p.With(d.Patch)
		}
	}
	return p.With(vehicle)
}
