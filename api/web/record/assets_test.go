package record_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// TestAddAndEditThings adds a vehicle, a tire and a wheel by the forms, edits
// them, and lets two people edit one.
func TestAddAndEditThings(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	depot := string(y.Depot.ID)

	p.Get("/vehicles/new").Wants(t, http.StatusOK, "New vehicle", "three axles, two driven on duals")

	id := modeltest.NewID[string]()
	form := url.Values{
		"id":        {id},
		"depot":     {depot},
		"number":    {"T-900"},
		"class":     {"tractor"},
		"axles":     {"S2 D4 D4"},
		"spares":    {"1"},
		"pressures": {"110, 100, 95 psi"},
		"torque_nm": {"600 N·m"},
	}

	bad := url.Values{}
	for k, v := range form {
		bad[k] = v
	}

	bad.Set("pressures", "110, 100")
	bad.Set("spares", "some")
	p.Post("/vehicles/new", bad).
		Wants(t, http.StatusUnprocessableEntity, "one for each of the 3 axles", `value="T-900"`, "whole number of places")

	for range 2 { // sent twice it is one
		p.Post("/vehicles/new", form).Wants(t, http.StatusSeeOther)
	}

	v := modeltest.Must(y.Fleet.Vehicle(t.Context(), y.System, models.VehicleID(id)))(t).Vehicle
	if len(v.Positions()) != 11 || v.Axles[0].Pressure.Text != "110 psi" || v.Axles[2].Pressure.Text != "95 psi" ||
		v.TorqueNM != 600 {
		t.Errorf("the vehicle came out as %+v", v)
	}

	p.Get("/vehicles/"+id).Wants(t, http.StatusOK, "T-900", "/edit")
	p.Get("/vehicles/"+id+"/edit").
		Wants(t, http.StatusOK, `value="110 psi; 100 psi; 95 psi"`, `value="S2 D4 D4" selected`)
	form.Set("version", "1")
	form.Set("parking_row", "D")
	p.Post("/vehicles/"+id+"/edit", form).Wants(t, http.StatusSeeOther)
	form.Set("parking_row", "E")

	p.Post("/vehicles/"+id+"/edit", form).Wants(t, http.StatusConflict, "saved meanwhile: D", `value="E"`)

	// A layout that takes a place away under a tire is refused beside its field.
	mounted := url.Values{
		"version":   {"1"},
		"number":    {"T-101"},
		"class":     {"tractor"},
		"axles":     {""},
		"axles_own": {"S2"},
		"spares":    {"1"},
	}

	p.Post("/vehicles/"+string(y.Vehicle.ID)+"/edit", mounted).
		Wants(t, http.StatusUnprocessableEntity, "take it off first", `value="S2"`)

	tire := modeltest.NewID[string]()
	form = url.Values{
		"id":         {tire},
		"depot":      {depot},
		"number":     {"B1"},
		"size":       {"295/75R22.5"},
		"new_depths": {"18, 18, 4.5 mm"},
		"price":      {"412.50"},
	}

	p.Post("/tires/new", form).Wants(t, http.StatusSeeOther)
	p.Get("/tires/"+tire).Wants(t, http.StatusOK, "Tire B1", "18/32 in", "/move")
	form.Set("size", "round")
	p.Post("/tires/"+tire+"/edit", form).Wants(t, http.StatusUnprocessableEntity, `value="round"`)

	move := url.Values{
		"id":   {modeltest.NewID[string]()},
		"made": {y.Start.UTC().Format("2006-01-02T15:04:05Z")},
		"to":   {"scrapped"},
	}
	p.Post("/tires/"+tire+"/move", move).Wants(t, http.StatusUnprocessableEntity, "must be one of")
	move.Set("scrap", string(models.RemovalReasons[0]))
	p.Post("/tires/"+tire+"/move", move).Wants(t, http.StatusSeeOther)

	p.Get("/tires/"+tire).Wants(t, http.StatusOK, "scrapped")

	wheel := modeltest.NewID[string]()
	form = url.Values{
		"id":           {wheel},
		"depot":        {depot},
		"number":       {"W1"},
		"diameter_in":  {"22.5"},
		"width_in":     {"8.25"},
		"material":     {"alloy"},
		"spokes":       {"0, 72, 144, 216, 288"},
		"outer_radius": {"285 mm"},
	}

	p.Post("/wheels/new", form).Wants(t, http.StatusSeeOther)
	p.Get("/wheels").Wants(t, http.StatusOK, "W1", "22.5 × 8.25 in")
	p.Get("/wheels/"+wheel+"/edit").Wants(t, http.StatusOK, `value="0, 72, 144, 216, 288"`, `value="285"`)

	tech := y.SignedIn("odd@fleet.example")
	for _, path := range []string{"/vehicles/new", "/tires/" + tire + "/edit", "/wheels/new"} {
		if a := tech.Get(path); a.Status != http.StatusForbidden || !strings.Contains(a.Body, "ask a manager") {
			t.Errorf("%s for a technician: %d", path, a.Status)
		}
	}
}
