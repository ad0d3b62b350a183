// Package modeltest has what the tests of every package need: ids, values that
// must be there, and a bounded wait. Only tests use it.
package modeltest

import (
	"testing"
	"time"

	"github.com/google/uuid"
)

// NewID returns an id that no record has.
func NewID[T ~string]() T { return T(uuid.Must(uuid.NewV7()).String()) }

// Must takes the results of a call and returns a function that gives its value, or
// ends the test if the call failed: Must(f.Depot(ctx, id))(t).
func Must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// Eventually waits until ok returns true, and ends the test if it does not within 30 s.
// It is for what a server does by itself; a page is waited for in its browser.
func Eventually(t testing.TB, what string, ok func() bool) {
	t.Helper()

	limit := time.After(30 * time.Second)
	again := time.NewTicker(10 * time.Millisecond)
	defer again.Stop()

	for !ok() {
		select {
		case <-limit:
			t.Fatalf("%s: not after 30 s", what)
		case <-again.C:
		}
	}
}

// Long leaves a test out of short ones: a simulation, a search of everything, a long
// table, a large database.
func Long(t testing.TB) {
	t.Helper()
	if testing.Short() {
		t.Skip("left out of short tests")
	}
}
