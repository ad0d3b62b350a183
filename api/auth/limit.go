package auth

import (
	"net/netip"
	"sync"
	"time"

	"rimledger/models"
)

// Tries that are let through in one window. A yard behind one address signs in
// within the first; guessing one person's password ends at the second.
const (
	window         = 15 * time.Minute
	triesByAddress = 60
	triesByMail    = 10
	keysKept       = 50_000 // bounds memory; above it new keys share one count
)

// limiter counts tries by key within fixed windows.
type limiter struct {
	now func() time.Time

	mu    sync.Mutex
	ends  time.Time
	tries map[string]int
}

// take counts one try under key, or returns a RateLimited error if most were
// made in this window.
func (l *limiter) take(key string, most int) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	if !now.Before(l.ends) {
		l.ends, l.tries = now.Add(window), map[string]int{}
	}
	if _, known := l.tries[key]; !known && len(l.tries) >= keysKept {
		key = ""
	}
	if l.tries[key] >= most {
		return models.Errorf(models.RateLimited, "too many tries to sign in; wait %d minutes, then try again", int(l.ends.Sub(now).Minutes())+1)
	}
	l.tries[key]++
	return nil
}

func (l *limiter) forget(key string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.tries, key)
}

// addressKey is the key of an address; one customer of an IPv6 provider owns a
// whole /64.
func addressKey(address string) string {
	ip, err := netip.ParseAddr(address)
	if err == nil && ip.Is6() && !ip.Is4In6() {
		if p, err := ip.Prefix(64); err == nil {
			return "address " + p.String()
		}
	}
	return "address " + address
}
