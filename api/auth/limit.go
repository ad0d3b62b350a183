package auth

import (
	"fmt"
	"math"
	"net/netip"
	"sync"
	"time"

	"rimledger/models"
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

// limiter counts tries to sign in. A refused try counts nowhere, so the wait
// that the answer names is true.
type limiter struct {
	now func() time.Time

	mu       sync.Mutex
	counts   expiring[int]       // tries by key
	known    expiring[struct{}]  // account and address of those who signed in lately
	promised expiring[time.Time] // account and address of those who were refused: from when one try passes
}

// attempt is who tries to sign in from where.
type attempt struct {
	account string // the mail address
	address string // an addressKey
	device  string // id of a device that is known to the account, or ""
}

// place is the key of an account together with an address.
func (t attempt) place() string { return t.account + " from " + t.address }

// allowance is a key and how many tries it has in a window.
type allowance struct {
	key  string
	most int
}

// ticket is what a try that was let through was counted under.
type ticket struct {
	attempt
	counted  []allowance
	promised time.Time // of a promise that this try used up, else zero
}

// admit lets a try through and counts it, or returns a RateLimited error that
// says how long to wait.
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

	byAddress, account := allowance{t.address, triesByAddress}, "account "+t.account
	switch {
	case t.device != "":
		out.counted = []allowance{{"device " + t.device, triesByDevice}}
	case known:
		out.counted = []allowance{byAddress}
	case promised && !now.Before(from):
		out.counted, out.promised = []allowance{byAddress, {account, math.MaxInt}}, from
	default:
		out.counted = []allowance{byAddress, {account, triesByAccount}}
	}

	var free time.Time
	for _, a := range out.counted {
		n, ends := l.counts.find(a.key, now)
		if n < a.most {
			continue
		}
		if ends.After(free) {
			free = ends
		}
		if a.key == account && !promised {
			l.promised.put(t.place(), ends, ends.Add(window), now)
		}
	}

	if !free.IsZero() {
		return ticket{}, tooManyTries(free.Sub(now))
	}

	for _, a := range out.counted {
		l.count(a.key, 1, now)
	}

	if !out.promised.IsZero() {
		l.promised.drop(t.place())
	}
	return out, nil
}

// passwordRight notes that the password of a try was right: it was no guess, and its
// address is known to the account from now on.
func (l *limiter) passwordRight(t ticket) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	l.uncount(t, now)
	l.known.put(t.place(), struct{}{}, now.Add(addressRemember), now)
}

// passwordUnchecked takes back a try whose password could not be checked. It still counts
// for its address, which made the server work.
func (l *limiter) passwordUnchecked(t ticket) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	l.uncount(t, now)
	if !t.promised.IsZero() {
		l.promised.put(t.place(), t.promised, now.Add(window), now)
	}
}

// uncount takes a try out of all counts but that of its address.
func (l *limiter) uncount(t ticket, now time.Time) {
	for _, a := range t.counted {
		if a.key != t.address {
			l.count(a.key, -1, now)
		}
	}
}

// count adds tries under a key within its window, or begins one.
func (l *limiter) count(key string, tries int, now time.Time) {
	n, ends := l.counts.find(key, now)
	if ends.IsZero() {
		ends = now.Add(window)
	}
	if n += tries; n <= 0 { // the next try begins a window
		l.counts.drop(key)
		return
	}
	l.counts.put(key, n, ends, now)
}

// tooManyTries says how long to wait, in whole seconds, rounded up.
func tooManyTries(wait time.Duration) error {
	wait = (wait + time.Second - 1).Truncate(time.Second)
	return &models.Error{Kind: models.RateLimited, Wait: wait,
		Msg: fmt.Sprintf("too many tries to sign in; wait %s, then try again", inWords(wait))}
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
