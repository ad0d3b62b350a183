package demo_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/demo"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/store"
)

// TestBuild creates the whole demo fleet and checks that it has what a demo must show:
// every class, every urgency, two years of history.
func TestBuild(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	ctx := context.Background()
	st, err := store.Open(ctx, filepath.Join(t.TempDir(), "demo.sqlite"), store.Options{Migrate: true, Volatile: true})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()

	until := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	if err := demo.Build(ctx, st, until, nil); err != nil {
		t.Fatal(err)
	}

	f := fleet.New(st, fleet.Options{Now: func() time.Time { return until }})
	who := fleet.System(models.FromDemo)
	rows, _, err := f.Vehicles(ctx, who, models.VehicleFilter{}, models.Page{Limit: 500})
	if err != nil {
		t.Fatal(err)
	}

	classes, urgencies := map[models.Class]int{}, map[models.Urgency]int{}
	for _, r := range rows {
		classes[r.Vehicle.Class]++
		urgencies[r.Standing.Worst]++
	}

	if len(rows) < 55 || len(classes) != len(models.Classes) {
		t.Errorf("%d vehicles of classes %v; want some 60 of all classes", len(rows), classes)
	}
	if urgencies[models.None] == 0 {
		t.Errorf("no vehicle is without findings: %v", urgencies)
	}

	for u := models.OffTheRoad; u <= models.Watch; u++ {
		if urgencies[u] == 0 {
			t.Errorf("no vehicle has %q as its worst urgency: %v", u, urgencies)
		}
	}

	found, _, err := f.Findings(ctx, who, models.FindingFilter{}, models.Page{Limit: 500})
	if err != nil {
		t.Fatal(err)
	}

	codes := map[models.FindingCode]int{}
	for _, x := range found {
		codes[x.Code]++
	}
	t.Logf("worst urgencies %v, findings %v", urgencies, codes)

	for _, p := range demo.People {
		if u, err := f.SignIn(ctx, access.Stranger, p.Email, p.Password); err != nil || u.Role != p.Role {
			t.Errorf("%s cannot sign in as %s: %v", p.Email, p.Role, err)
		}
	}
}
