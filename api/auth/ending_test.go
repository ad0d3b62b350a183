package auth

import (
	"strconv"
	"testing"
	"time"
)

// However many keys come, memory is bounded, and what lasts longest stays.
func TestEndingIsBounded(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	var m expiring[int]
	m.put("the owner", 1, now.Add(24*time.Hour), now)

	for i := range 3 * keysKept {
		m.put(strconv.Itoa(i), i, now.Add(time.Hour), now)
	}

	if len(m.entries) != keysKept {
		t.Errorf("%d keys, want %d", len(m.entries), keysKept)
	}
	if v, known := m.get("the owner", now); !known || v != 1 {
		t.Error("the key that lasts longest is forgotten")
	}

	// What has ended is as if it had not been there, and makes room.
	later := now.Add(time.Hour)
	if _, known := m.get(strconv.Itoa(3*keysKept-1), later); known {
		t.Error("what has ended is still there")
	}
	m.put("new", 1, later.Add(time.Hour), later)

	if len(m.entries) > keysKept-sample/2 {
		t.Errorf("%d keys after most have ended", len(m.entries))
	}
}
