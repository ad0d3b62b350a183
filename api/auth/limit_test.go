package auth

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"rimledger/models"
)

// Tries that are not decided yet keep others out for seconds, not for a quarter of
// an hour; those that could not be checked count for nothing.
func TestTriesThatAreNotDecided(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	l := &limiter{now: func() time.Time { return now }}
	try := func(n int) (ticket, error) {
		return l.admit(attempt{account: "lee@fleet.example", address: fmt.Sprintf("address 198.51.100.%d", n)})
	}

	admitted := func() (all []ticket) {
		t.Helper()
		for i := range triesByAccount {
			let, err := try(i)
			if err != nil {
				t.Fatalf("try %d: %v", i+1, err)
			}
			all = append(all, let)
		}

		if _, err := try(99); !errors.Is(err, models.Unavailable) || models.WaitOf(err) != decided {
			t.Errorf("beside %d tries that are not decided: %v; want Unavailable, to wait %s", len(all), err, decided)
		}
		return all
	}

	for _, let := range admitted() {
		l.passwordUnchecked(let)
	}

	for _, let := range admitted() {
		l.passwordWrong(let)
	}

	if _, err := try(99); !errors.Is(err, models.RateLimited) || models.WaitOf(err) != window {
		t.Errorf("after wrong tries: %v; want RateLimited, to wait %s", err, window)
	}
	if len(l.running) != 0 {
		t.Errorf("%v is kept of tries that are decided", l.running)
	}
}
