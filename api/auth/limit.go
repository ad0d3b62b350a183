package auth

import (
	"fmt"
	"math"
	"net/netip"
	"sync"
	"time"

	"rimledger/models"
	"rimledger/models/access"
)

// Tries that are let through in the window that begins with the first of them;
// chosen by us. A yard behind one address signs in within triesByAddress.
const (
	window          = 15 * time.Minute
	triesByAddress  = 60
	triesByAccount  = 10 // from addresses that are new to the account
	triesByDevice   = 20 // from a device that is known to the account, or in one session
	addressRemember = lifetime
)

// keysKept bounds the memory of each map of a limiter. Above it the key that ends
// first, of a few, is forgotten: nobody shares a count with a stranger.
const keysKept = 50_000

// decided is within which time a try is decided: it waits a second for a core at
// most, and takes part of one. Chosen by us.
const decided = 3 * time.Second

// limiter counts wrong tries to sign in, and for addresses right ones too. A try
// counts once it is decided. Until then it holds a place among the tries that are let
// through, for some seconds. A refused try counts nowhere, so the wait that the
// answer names is true.
type limiter struct {
	now func() time.Time

	mu       sync.Mutex
	counts   expiring[int]       // decided tries by key
	running  map[string]int      // tries by key that are not decided yet
	known    expiring[struct{}]  // account and address of those who signed in lately
	promised expiring[time.Time] // account and address of those who were refused: from when one try passes
}

// attempt is who tries to sign in from where.
type attempt struct {
	account string    // the mail address
	since   time.Time // when its password was set: a new one begins without wrong tries
	address string    // an addressKey
	device  string    // id of a device that is known to the account, or ""
}

// place is the key of an account together with an address.
func (t attempt) place() string { return t.account + " from " + t.address }

// allowance is a key and how many tries it has in a window.
type allowance struct {
	key  string
	most int
	of   subject
}

// subject is what the tries of an allowance have in common. what says it to a
// person, sooner what to do but wait.
type subject struct{ what, sooner string }

var (
	ofAddress = subject{"from this network", "use a phone or computer on which you signed in before"}
	ofAccount = subject{"for this mail address",
		"use a phone or computer on which you signed in before, or ask a manager to set a new password for you"}
	ofDevice = subject{"on this device", "ask a manager to set a new password for you"}
)

// ticket is a try that was let through, with what it holds a place under.
type ticket struct {
	attempt
	caller   access.Caller
	held     []allowance
	promised time.Time // of a promise that this try used up, else zero
}

// admit lets a try through, to be ended by one of the methods below. Else it returns
// a RateLimited error, or an Unavailable one where only tries that are not decided
// yet are in the way; both say how long to wait.
//
// A known device has a count of its own, so that no stranger can use it up. All
// others share the count of their address, and the new ones among them that of
// the account. Whoever finds the latter used up is promised a try once its window
// is over, also if others use up the next window meanwhile.
func (l *limiter) admit(t attempt) (ticket, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	out := ticket{attempt: t}
	_, known := l.known.get(t.place(), now)
	from, promised := l.promised.get(t.place(), now)

	byAddress := allowance{t.address, triesByAddress, ofAddress}
	account := allowance{fmt.Sprintf("account %s since %d", t.account, t.since.UnixMicro()), triesByAccount, ofAccount}
	switch {
	case t.device != "":
		out.caller, out.held = access.Known, []allowance{{"device " + t.device, triesByDevice, ofDevice}}
	case known:
		out.caller, out.held = access.Known, []allowance{byAddress}
	case promised && !now.Before(from):
		account.most = math.MaxInt
		out.held, out.promised = []allowance{byAddress, account}, from
	default:
		out.held = []allowance{byAddress, account}
	}

	if err := l.full(out.held, now); err != nil {
		n, ends := l.counts.find(account.key, now)
		if t.device == "" && !known && !promised && n >= account.most {
			l.promised.put(t.place(), ends, ends.Add(window), now)
		}
		return ticket{}, err
	}

	if l.running == nil {
		l.running = map[string]int{}
	}
	for _, a := range out.held {
		l.running[a.key]++
	}

	if !out.promised.IsZero() {
		l.promised.drop(t.place())
	}
	return out, nil
}

// full returns an error if one of the allowances has no place for a try more.
func (l *limiter) full(held []allowance, now time.Time) error {
	var until time.Time
	var of subject
	busy := false
	for _, a := range held {
		n, ends := l.counts.find(a.key, now)
		switch {
		case n >= a.most && ends.After(until):
			until, of = ends, a.of
		case n < a.most && n+l.running[a.key] >= a.most:
			busy = true
		}
	}

	if !until.IsZero() {
		return tooManyTries(of, until.Sub(now))
	}
	if busy {
		return &models.Error{Kind: models.Unavailable, Wait: decided, Msg: fmt.Sprintf(
			"other tries to sign in are being checked just now; wait %s, then try again", inWords(decided))}
	}
	return nil
}

// passwordWrong counts a try whose password was wrong.
func (l *limiter) passwordWrong(t ticket) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	l.release(t)
	for _, a := range t.held {
		l.count(a.key, now)
	}
}

// passwordRight notes that the password of a try was right: it was no guess, and its
// address is known to the account from now on. It counts for its address, since it
// made the server work.
func (l *limiter) passwordRight(t ticket) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	l.release(t)
	for _, a := range t.held {
		if a.key == t.address {
			l.count(a.key, now)
		}
	}
	l.known.put(t.place(), struct{}{}, now.Add(addressRemember), now)
}

// passwordUnchecked takes back a try whose password could not be checked.
func (l *limiter) passwordUnchecked(t ticket) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.release(t)
	if !t.promised.IsZero() {
		now := l.now()
		l.promised.put(t.place(), t.promised, now.Add(window), now)
	}
}

// release gives back the places of a try.
func (l *limiter) release(t ticket) {
	for _, a := range t.held {
		if l.running[a.key]--; l.running[a.key] <= 0 {
			delete(l.running, a.key)
		}
	}
}

// count adds a try under a key within its window, or begins one.
func (l *limiter) count(key string, now time.Time) {
	n, ends := l.counts.find(key, now)
	if ends.IsZero() {
		ends = now.Add(window)
	}
	l.counts.put(key, n+1, ends, now)
}

// tooManyTries says how long to wait, in whole seconds, rounded up, and what helps sooner.
func tooManyTries(of subject, wait time.Duration) error {
	wait = (wait + time.Second - 1).Truncate(time.Second)
	return &models.Error{Kind: models.RateLimited, Wait: wait,
		Msg: fmt.Sprintf("too many tries to sign in %s; wait %s, then try again. To get in sooner: %s",
			of.what, inWords(wait), of.sooner)}
}

// inWords writes whole seconds, such as 14 minutes and 3 seconds.
func inWords(d time.Duration) string {
	many := func(n int, unit string) string {
		if n != 1 {
			unit += "s"
		}
		return fmt.Sprintf("%d %s", n, unit)
	}

	minutes, seconds := int(d/time.Minute), int(d%time.Minute/time.Second)

	switch {
	case minutes == 0:
		return many(seconds, "second")
	case seconds == 0:
		return many(minutes, "minute")
	}

	return many(minutes, "minute") + " and " + many(seconds, "second")
}

// addressKey is the key of an address; one customer of an IPv6 provider owns a
// whole /64.
func addressKey(address string) string {
	ip, err := netip.ParseAddr(address)
	if err != nil {
		return "address " + address
	}

	ip = ip.Unmap()
	if ip.Is4() {
		return "address " + ip.String()
	}
	return "address " + netip.PrefixFrom(ip, 64).Masked().String()
}
