package models_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
)

// What is found on several wheels is said once. The texts wanted are what a person would
// write who names the wheels once.
func TestGroupFindings(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 30, 6, 0, 0, 0, time.UTC)
	early, late := now.AddDate(0, 0, -9), now.AddDate(0, 0, 3)
	at := func(p models.Position, c models.FindingCode, u models.Urgency, title, job string) models.Finding {
		return models.Finding{Position: p, Code: c, Urgency: u, Title: title, FirstJob: job, Safety: "Care."}
	}
	quiet := at("1R", models.RebalanceOverdue, models.Plan, "balance at 1R overdue", "Balance the assembly at 1R.")
	quiet.Ack = &models.Ack{Until: late}
	first := at("3RO", models.RebalanceOverdue, models.Plan, "balance at 3RO overdue", "Balance the assembly at 3RO.")
	first.Since, first.DueAt = now, &late
	second := at("2LO", models.RebalanceOverdue, models.Plan, "balance at 2LO overdue", "Balance the assembly at 2LO.")
	second.Since, second.DueAt = early, &early

	type said struct {
		Title, Short string
		Jobs         []string
		Findings     int
	}
	var got []said
	groups := models.GroupFindings([]models.Finding{
		at("1L", models.PressureLow, models.DoNow, "97 psi at 1L, 88% of the target", "Find the leak, then inflate it cold to 110 psi."),
		first,
		at("2RI", models.PressureLow, models.DoNow, "88 psi at 2RI, 88% of the target", "Find the leak, then inflate it cold to 100 psi."),
		quiet,
		second,
		at("", models.RotationOverdue, models.Plan, "rotation overdue", "Rotate."),
		at("1R", models.Damage, models.OffTheRoad, "bulge at 1R", "Change the tire at 1R."),
		at("2LI", models.Damage, models.OffTheRoad, "cut to the cord at 2LI", "Change the tire at 2LI."),
	}, now)
	for _, g := range groups {
		got = append(got, said{g.Title(), g.Short(), g.FirstJobs(), len(g.Findings)})
	}

	want := []said{
		{"low pressure at 1L, 2RI", "low pressure at 1L, 2RI",
			[]string{"Find the leak, then inflate it cold to 110 psi.", "Find the leak, then inflate it cold to 100 psi."}, 2},
		{"balance overdue at 2LO, 3RO", "balance overdue at 2LO, 3RO", []string{"Balance the assembly at 2LO, 3RO."}, 2},
		{"balance at 1R overdue", "balance overdue at 1R", []string{"Balance the assembly at 1R."}, 1},
		{"rotation overdue", "rotation overdue", []string{"Rotate."}, 1},
		{"bulge at 1R and damage at 2LI", "bulge at 1R and damage at 2LI", []string{"Change the tire at 1R, 2LI."}, 2},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}

	balance := groups[1]
	if !balance.Since().Equal(early) || !balance.DueAt().Equal(early) || !groups[2].Quiet || balance.Quiet {
		t.Errorf("since %s, due %s, quiet %t and %t", balance.Since(), balance.DueAt(), balance.Quiet, groups[2].Quiet)
	}
	if s := balance.Safety(); len(s) != 1 {
		t.Errorf("one caution is said %d times", len(s))
	}
}
