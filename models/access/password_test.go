package access

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"

	"rimledger/models"
)

// While every core hashes, the next password waits a second at most, one that
// nobody can have does not wait at all, and who gives up is not waited for. It
// runs by itself: it takes the cores from all other tests of the package.
func TestHashingWaitsForACore(t *testing.T) {
	ctx := t.Context()
	hash, err := HashPassword(ctx, "a long enough password")
	if err != nil {
		t.Fatal(err)
	}

	for range cap(hashing) {
		hashing <- struct{}{}
	}

	for name, work := range map[string]func() error{
		"set a password": func() error { _, err := HashPassword(ctx, "a long enough password"); return err },
		"a person":       func() error { _, err := CheckPassword(ctx, Known, "a long enough password", hash); return err },
		"nobody":         func() error { _, err := CheckPassword(ctx, Known, "a long enough password", ""); return err },
		"a stranger":     func() error { _, err := CheckPassword(ctx, Stranger, "a long enough password", hash); return err },
	} {
		began := time.Now()
		err := work()
		if !errors.Is(err, models.Unavailable) || models.WaitOf(err) != 5*time.Second {
			t.Errorf("%s: %v", name, err)
		} else if !strings.Contains(err.Error(), "5 seconds") {
			t.Errorf("%s: %v does not say how long to wait", name, err)
		}

		if took := time.Since(began); took < time.Second || took > 10*time.Second {
			t.Errorf("%s waits %s", name, took)
		}
	}

	gone, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := HashPassword(gone, "a long enough password"); !errors.Is(err, context.Canceled) {
		t.Errorf("who gave up: %v", err)
	}
	if ok, err := CheckPassword(ctx, Known, strings.Repeat("x", MaxPassword+1), hash); ok || err != nil {
		t.Errorf("a password that is too long: %v, %v", ok, err)
	}

	for range cap(hashing) {
		<-hashing
	}

	if ok, err := CheckPassword(ctx, Known, "a long enough password", hash); !ok || err != nil {
		t.Errorf("with free cores: %v, %v", ok, err)
	}
	if len(hashing)+len(strangers) != 0 {
		t.Errorf("%d cores and %d places of strangers are still taken", len(hashing), len(strangers))
	}
}

// Whoever is known goes before all strangers: they get a core while many strangers
// still wait for one. It runs by itself, as the test above.
func TestKnownGoBeforeStrangers(t *testing.T) {
	for range cap(hashing) {
		hashing <- struct{}{}
	}

	// Each work keeps its core until the test lets it end, so the order of starting is
	// the order in which cores are given.
	started := make(chan string, 10*cap(hashing)+1)
	end := make(chan struct{})
	hash := func(who string, c Caller) {
		err := onCore(t.Context(), c, func() {
			started <- who
			<-end
		})
		if err != nil {
			started <- err.Error()
		}
	}

	for range 10 * cap(hashing) {
		go hash("stranger", Stranger)
	}
	waitFor(t, func() bool { return len(strangers) == cap(strangers) })
	go hash("known", Known)
	time.Sleep(50 * time.Millisecond) // nothing else says that it waits

	// Those strangers who come for a core already may be served first.
	for range cap(hashing) {
		<-hashing
	}
	before := 0
	for who := <-started; who != "known"; who = <-started {
		before++
		if before >= cap(hashing) {
			end <- struct{}{} // all cores are taken: one becomes free
		}
	}
	if before > cap(strangers) {
		t.Errorf("%d strangers went before, of %d cores", before, cap(hashing))
	}

	close(end)
	waitFor(t, func() bool { return len(hashing)+len(strangers) == 0 })
}

func waitFor(t *testing.T, is func() bool) {
	t.Helper()
	for range 1000 {
		if is() {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Fatal("it did not come to be within a second")
}

func TestPasswords(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	for _, wrong := range []string{"", strings.Repeat("x", MinPassword-1), strings.Repeat("x", MaxPassword+1)} {
		_, err := HashPassword(ctx, wrong)
		if !errors.Is(err, models.Invalid) || wrong != "" && strings.Contains(err.Error(), wrong) {
			t.Errorf("%d bytes: %v", len(wrong), err)
		}
	}

	longest := strings.Repeat("x", MaxPassword)
	hash, err := HashPassword(ctx, longest)
	if err != nil {
		t.Fatal(err)
	}

	for _, c := range []struct {
		name, password, hash string
		want                 bool
	}{
		{"the longest", longest, hash, true},
		{"another", longest[1:], hash, false},
		{"nobody's", longest, "", false},
		{"a broken hash", longest, "$argon2id$broken", false},
	} {
		if ok, err := CheckPassword(ctx, Known, c.password, c.hash); ok != c.want || err != nil {
			t.Errorf("%s: %v, %v", c.name, ok, err)
		}
	}

	// Nobody's hash costs what a person's costs.
	_, theirs, err := argon2id.CheckHash("x", hash)
	if err != nil {
		t.Fatal(err)
	}
	if same, nobodys, err := argon2id.CheckHash("x", nobody); same || err != nil || *nobodys != *theirs {
		t.Errorf("nobody's hash: %v, %+v, want %+v, %v", same, nobodys, theirs, err)
	}
}
