package fleet_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/wear"
)

// TestLearnedPriors: what the fleet taught starts the fitments that begin
// afterwards, stays with them whatever is learned later, and comes back on replay.
func TestLearnedPriors(t *testing.T) {
	t.Parallel()

	w := newWorld(t)
	prior := func(p models.Position) wear.Source {
		t.Helper()
		v := must(w.fleet.Tire(w.ctx, w.boss, w.tires[p]))(t)
		if v.State.MinWear == nil {
			t.Fatalf("nothing is estimated at %s", p)
		}
		return v.State.MinWear.Prior.Source
	}

	if got := prior("1L"); !got.Embedded {
		t.Errorf("a new fleet begins with %+v, want the embedded default", got)
	}

	w.after(200 * 24 * time.Hour)
	read := w.inspection("220,000 mi", all("16/32"))
	w.record(read)

	learned := must(w.fleet.LearnWear(w.ctx))(t)
	if l, ok := learned.Priors.Of("tractor", "steer", ""); !ok || l.Fitments != 2 || l.Level != "role" {
		t.Errorf("learned of the steer tires: %+v, %v; two were read", l, ok)
	}

	if got := prior("1L"); !got.Embedded {
		t.Errorf("a running fitment changed to %+v", got)
	}

	w.after(24 * time.Hour)
	turn := &models.Rotation{
		Meta:  w.meta("220,500 mi"),
		Moves: []models.Move{{From: "1L", To: "1R"}, {From: "1R", To: "1L"}},
	}
	w.record(turn)
	w.tires["1L"], w.tires["1R"] = w.tires["1R"], w.tires["1L"]

	begun := wear.Source{Level: "role", Fitments: 2, Status: "learned"}
	if got := prior("1L"); got != begun {
		t.Errorf("after learning a fitment begins with %+v, want %+v", got, begun)
	}

	w.after(100 * 24 * time.Hour)
	last := w.inspection("230,000 mi", all("14/32"))
	w.record(last)

	if l, _ := must(w.fleet.LearnWear(w.ctx))(t).Priors.Of("tractor", "steer", ""); l.Fitments != 4 {
		t.Errorf("two ended and two running fitments taught as %d", l.Fitments)
	}

	before := must(w.fleet.Tire(w.ctx, w.boss, w.tires["1L"]))(t).State
	same := *last // a correction of the note alone
	same.Meta = w.meta("230,000 mi")
	same.Confirmed = []string{"same_as_last"}
	same.Supersedes, same.Reason, same.Note = last.ID, "note", "dry, in daylight"
	w.record(&same)

	after := must(w.fleet.Tire(w.ctx, w.boss, w.tires["1L"]))(t).State
	if diff := cmp.Diff(before.MinWear, after.MinWear); diff != "" {
		t.Errorf("the replayed estimate differs (-before +after):\n%s", diff)
	}
}
