package bench

import (
	"errors"
	"fmt"
	"net/http"
	"slices"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/bench"
	"rimledger/models/units"
)

// findWheelUnder finds the wheel under the tire: the one in the record, the one
// chosen on the form, or that of the assembly's last job. Where the record has
// none, the depot's wheels that fit are offered.
func (s *room) findWheelUnder(r *site.Request, f *benchForm) error {
	id := f.State.WheelID
	if id == "" {
		id = models.WheelID(f.Text("wheel_id"))
		if b := f.State.Balance; id == "" && b != nil && !f.Sent.Has("wheel_id") &&
			(f.State.UnbalancedSince == nil || !b.At.Before(f.State.UnbalancedSince.At)) {
			id = b.WheelID
		}

		// Only wheels of the tire's own rim diameter can be under it.
		all, _, err := s.Fleet.Wheels(r.Ctx(), r.Actor, f.Depot.ID, models.Page{Limit: 500})
		if err != nil {
			return err
		}
		code, known := bench.RimCode(f.Tire.Size)
		f.wheels = slices.DeleteFunc(
			all,
			func(w models.Wheel) bool { return known && w.DiameterIn != code && w.ID != id },
		)
	}

	if id == "" {
		return nil
	}

	// The id may come from the form, and name nothing.
	w, err := s.Fleet.Wheel(r.Ctx(), r.Actor, id)
	if errors.Is(err, models.NotFound) && f.State.WheelID == "" {
		f.AddFault("wheel_id", "is not a wheel in the record; choose one of the list")
		return nil
	}
	f.Wheel = &w
	f.Sent.Set("wheel_id", string(id))

	return err
}

// propose fills in what is remembered and what the record says of the tire.
func (f *benchForm) propose() {
	f.proposeGeometry()
	f.Sent.Set("planes", "flanges")
	if b := f.State.Balance; b != nil && b.Planes != "" {
		f.Sent.Set("planes", b.Planes)
	}
	f.Sent.Set("mode", "two_plane")
	f.Sent.Set("why", string(f.reason()))
	f.Sent.Set("fitted.1.plane", "inner")
	f.Sent.Set("removed.1.plane", "inner")
	f.proposeBox()
}

// reason is why the assembly comes to the bench, as far as the record knows.
func (f *benchForm) reason() models.BalanceWhy {
	switch {
	case f.State.MissingWeight != nil:
		return models.BalanceLost
	case f.State.UnbalancedSince != nil:
		return models.BalanceFitted
	case f.found(models.SuspectImbalance):
		return models.BalanceUneven
	case f.found(models.RebalanceOverdue):
		return models.BalanceInterval
	case f.found(models.VibrationOpen):
		return models.BalanceComplaint
	}

	return ""
}

// found reports whether a finding of this place, or of the whole vehicle, is open.
func (f *benchForm) found(code models.FindingCode) bool {
	return slices.ContainsFunc(f.onVehicle().Findings, func(x models.Finding) bool {
		return x.Code == code && (x.Position == f.Position || x.Position == "")
	})
}

// proposeGeometry fills in where the weights sit: as measured at an earlier job,
// else what the rim's code and width say.
func (f *benchForm) proposeGeometry() {
	var g models.WheelGeometry

	last := f.State.Balance
	switch {
	case f.Wheel != nil && f.Wheel.OuterRadius+f.Wheel.AdhesiveRadius+f.Wheel.InnerRadius > 0:
		g = f.Wheel.WheelGeometry
	case last != nil && last.Geometry != nil && (f.Wheel == nil || f.Wheel.ID == last.WheelID):
		g = *last.Geometry
	default:
		g = f.nominal()
	}

	for _, l := range geometryLengths(&g) {
		f.Sent.Del("geometry." + l.Name)
		if *l.At > 0 {
			f.Sent.Set("geometry."+l.Name, f.Units.WriteLength(*l.At, units.MM))
		}
	}

	f.Sent.Set("geometry.flange", g.Flange)
	f.Sent.Set("geometry.spokes", form.NumbersText(g.Spokes))
	form.SetBlocked(f.Sent, "geometry.blocked", g.Blocked)
}

// nominal is what the code of the rim and the wheel's width say.
func (f *benchForm) nominal() models.WheelGeometry {
	var g models.WheelGeometry
	inches := func(v float64) units.Length { return units.Length(v * float64(units.Inch)) }
	if code, known := bench.RimCode(f.Tire.Size); known {
		g.OuterRadius, g.InnerRadius = inches(code/2), inches(code/2)
	}

	if f.Wheel != nil {
		blank := f.Wheel.WheelGeometry
		blank.OuterRadius, blank.InnerRadius = g.OuterRadius, g.InnerRadius
		g = blank
		if g.InnerOffset == 0 {
			g.InnerOffset = inches(f.Wheel.WidthIn)
		}
	}

	return g
}

// geometryLengths are the lengths of a geometry by the names of their fields.
func geometryLengths(g *models.WheelGeometry) []struct {
	Name string
	At   *units.Length
} {
	return []struct {
		Name string
		At   *units.Length
	}{{"outer_radius", &g.OuterRadius}, {"inner_radius", &g.InnerRadius}, {"inner_offset", &g.InnerOffset}, {"adhesive_radius", &g.AdhesiveRadius},
		{
			"adhesive_offset",
			&g.AdhesiveOffset,
		}, {"back_radius", &g.BackRadius}, {"back_offset", &g.BackOffset}, {"spoke_width", &g.SpokeWidth}}
}

// proposeBox fills in the depot's box of weights, or usual sizes.
func (f *benchForm) proposeBox() {
	clips, segments := f.Depot.Box.Of(f.heavy())
	f.Sent.Set("clips", form.SizesText(clips, f.Units))
	f.Sent.Set("segments", form.SizesText(segments, f.Units))
	if len(clips)+len(segments) == 0 {
		usual := bench.UsualSizes(f.heavy(), f.Units.Mass)
		f.Sent.Set("clips", form.NumbersText(usual.Clips))
		f.Sent.Set("segments", form.NumbersText(usual.Segments))
	}
	f.Sent.Set("box_version", fmt.Sprint(f.Depot.Version))
}

// keepBox saves the sizes in the form as the depot's box of weights.
func (s *room) keepBox(r *site.Request, f *benchForm) error {
	clips, segments := f.Sizes("clips", f.Units.Mass), f.Sizes("segments", f.Units.Mass)
	if !f.OK() {
		f.Msg = "The box of weights could not be read"
		return s.showBench(r, http.StatusUnprocessableEntity, f)
	}

	// The form has one list for light and heavy wheels; the refusal names one of two.
	for _, l := range []string{"box.light_clips", "box.heavy_clips"} {
		f.MapField(l, "clips")
	}

	for _, l := range []string{"box.light_segments", "box.heavy_segments"} {
		f.MapField(l, "segments")
	}

	f.MapField("version", "clips")

	d, err := s.Fleet.KeepBox(
		r.Ctx(),
		r.Actor,
		f.Depot.ID,
		int64(f.Whole("box_version", "edits")),
		f.heavy(),
		clips,
		segments,
	)

	// Somebody else may have saved the box since the page was opened.
	switch {
	case errors.Is(err, models.Stale):
		f.AddFault(
			"clips",
			"someone saved the depot meanwhile; its box now: "+boxWords(
				f.Depot.Box.Of(f.heavy()),
			)+". Keep again to put yours in its place",
		)
		f.Msg = "The box was not kept"
		f.Sent.Set("box_version", fmt.Sprint(f.Depot.Version))
		return s.showBench(r, site.StatusOf(err), f)
	case err != nil && f.ApplyError(err):
		return s.showBench(r, http.StatusUnprocessableEntity, f)
	case err != nil:
		return err
	}

	f.Depot = d
	f.Sent.Set("box_version", fmt.Sprint(d.Version))
	return s.showBench(r, http.StatusOK, f)
}

// proposeMachine fills in the machine of the newest job on the vehicle, or of the assembly.
func (s *room) proposeMachine(r *site.Request, f *benchForm) error {
	filter := models.EventFilter{TireID: f.Tire.ID, Kinds: []models.EventKind{models.KindBalance}}
	if f.Vehicle != nil {
		filter.VehicleID, filter.TireID = f.Vehicle.Vehicle.ID, ""
	}

	jobs, _, err := s.Fleet.Events(r.Ctx(), r.Actor, filter, models.Page{Limit: 1})
	for _, e := range jobs {
		if job, ok := e.(*models.BalanceJob); ok && job.Machine != "" {
			f.Sent.Set("machine", job.Machine)
			if job.SelfCheck != nil {
				f.Sent.Set("self_check", job.SelfCheck.In(say.Zone(f.Depot)).Format("2006-01-02"))
			}
		}
	}

	return err
}
