package problem_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"rimledger/api/problem"
	"rimledger/models"
)

// The header and the text name the same wait; without one the text of what cannot
// be done now stays inside, and a minute is proposed.
func TestRetryAfter(t *testing.T) {
	t.Parallel()
	wait := func(kind models.Kind, seconds int) *models.Error {
		text := fmt.Sprintf("wait %d seconds", seconds)
		return &models.Error{Kind: kind, Msg: text, Wait: time.Duration(seconds) * time.Second}
	}

	for name, c := range map[string]struct {
		err           error
		after, detail string
	}{
		"too many tries": {wait(models.RateLimited, 7), "7", "wait 7 seconds"},
		"too much to do": {wait(models.Unavailable, 5), "5", "wait 5 seconds"},
		"no wait known": {&models.Error{Kind: models.Unavailable, Msg: "/srv/secret", Err: errors.New("disk")}, "60",
			"the record cannot be reached just now; nothing was half done. Try the same again in a minute"},
		"another error": {models.Errorf(models.NotFound, "no such tire"), "", "no such tire"},
	} {
		p := problem.Of(t.Context(), fmt.Errorf("sign in: %w", c.err))
		if got := p.GetHeaders().Get("Retry-After"); got != c.after || p.Detail != c.detail {
			t.Errorf("%s: Retry-After %q, detail %q", name, got, p.Detail)
		}
	}
}
