package api_test

import (
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"runtime"
	"runtime/metrics"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"

	"rimledger/api"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/store"
)

const password = "a long enough password"

// loopback is where the tests' own requests come from.
var loopback = netip.MustParsePrefix("127.0.0.0/8")

// door is a server whose sign-in is tried, with a clock that the test moves.
type door struct {
	*testing.T
	url   string
	store *store.Store
	fleet *fleet.Service
	clock atomic.Int64 // microseconds since 1970
}

func newDoor(t *testing.T, proxies ...netip.Prefix) *door {
	t.Helper()
	d := &door{T: t, store: open(t)}
	d.clock.Store(time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC).UnixMicro())
	now := func() time.Time { return time.UnixMicro(d.clock.Load()).UTC() }
	d.fleet = fleet.New(d.store, fleet.Options{Now: now})

	handler, err := api.New(api.Deps{Fleet: d.fleet, Sessions: d.store.Sessions(), Now: now, Proxies: proxies})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(handler)
	t.Cleanup(server.Close)
	d.url = server.URL

	return d
}

func (d *door) after(wait time.Duration) { d.clock.Add(wait.Microseconds()) }

// person adds an invented person whose password is cheap to check, so that many
// tries take little time.
func (d *door) person(email string) models.UserID {
	d.Helper()
	cheap := &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}
	hash, err := argon2id.CreateHash(password, cheap)
	if err != nil {
		d.Fatal(err)
	}

	u := models.User{Name: "Invented", Email: email, Role: models.Viewer}
	if u, err = d.fleet.AddUser(d.Context(), fleet.System(models.FromCLI), u, ""); err != nil {
		d.Fatal(err)
	}

	u.PasswordHash = hash
	if err := d.store.Write(d.Context(), func(tx models.Tx) error { return tx.PutUser(d.Context(), u) }); err != nil {
		d.Fatal(err)
	}
	return u.ID
}

// browser returns a client that keeps cookies.
func (d *door) browser() *http.Client {
	d.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		d.Fatal(err)
	}
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &http.Client{Jar: jar, CheckRedirect: stay}
}

type answer struct {
	status int
	wait   time.Duration // that the header Retry-After names
	body   string
}

// try sends the form of the sign-in page. forwarded is the header X-Forwarded-For.
// It is safe for use by many goroutines.
func (d *door) try(browser *http.Client, forwarded, email, pw string) answer {
	form := url.Values{"email": {email}, "password": {pw}}
	r, err := http.NewRequestWithContext(
		d.Context(),
		http.MethodPost,
		d.url+"/sign-in",
		strings.NewReader(form.Encode()),
	)
	if err != nil {
		d.Error(err)
		return answer{}
	}

	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "text/html")
	if forwarded != "" {
		r.Header.Set("X-Forwarded-For", forwarded)
	}

	res, err := browser.Do(r)
	if err != nil {
		d.Error(err)
		return answer{}
	}
	defer res.Body.Close()

	b, err := io.ReadAll(res.Body)
	if err != nil {
		d.Error(err)
	}

	seconds, _ := strconv.Atoi(res.Header.Get("Retry-After"))
	return answer{res.StatusCode, time.Duration(seconds) * time.Second, string(b)}
}

// wants fails the test unless the answer has this status, and names this wait in
// its header and, in these words, on its page.
func (d *door) wants(what string, a answer, status int, wait time.Duration, words string) {
	d.Helper()
	if a.status != status || a.wait != wait || !strings.Contains(a.body, words) {
		_, main, _ := strings.Cut(a.body, "<main")
		d.Errorf("%s: status %d, wait %s; want %d, %s, %q: %.400s", what, a.status, a.wait, status, wait, words, main)
	}
}

// Many sign-ins at once take the memory of as many passwords as there are cores:
// 64 MiB each (the parameters of the library), or once more until it is collected.
// The test runs by itself, since it looks at the memory of the whole process.
func TestManySignInsAtOnce(t *testing.T) {
	const tries = 30
	d := newDoor(t)
	lee := models.User{Name: "Invented", Email: "lee@fleet.example", Role: models.Viewer}
	if _, err := d.fleet.AddUser(t.Context(), fleet.System(models.FromCLI), lee, password); err != nil {
		t.Fatal(err)
	}

	runtime.GC()
	before, _ := load()

	stop, peak := make(chan struct{}), make(chan [2]uint64)
	go func() {
		var heap, hashed uint64
		for {
			h, n := load()
			heap, hashed = max(heap, h), max(hashed, n)
			select {
			case <-stop:
				peak <- [2]uint64{heap, hashed}
				return
			case <-time.After(2 * time.Millisecond):
			}
		}
	}()

	var all sync.WaitGroup
	for i := range tries {
		all.Go(func() {
			email := []string{"lee@fleet.example", fmt.Sprintf("nobody%d@fleet.example", i)}[i%2]
			switch a := d.try(d.browser(), "", email, "wrong password"); a.status {
			case http.StatusServiceUnavailable:
				words := "wait 5 seconds, then try again" // for a core
				if a.wait == 3*time.Second {
					words = "wait 3 seconds, then try again" // for tries that are not decided
				}
				d.wants("a try too many", a, a.status, max(a.wait, 3*time.Second), words)
				d.wants("what is typed is kept", a, a.status, a.wait, `value="`+email+`"`)
				if a.wait > 5*time.Second {
					t.Errorf("a try that is not checked waits %s", a.wait)
				}
			case http.StatusTooManyRequests:
				d.wants("a try for one account", a, a.status, 15*time.Minute, "wait 15 minutes, then try again")
			default:
				d.wants("a try", a, http.StatusUnauthorized, 0, "password is wrong")
			}
		})
	}

	all.Wait()
	close(stop)
	high := <-peak

	cores := uint64(runtime.GOMAXPROCS(0))
	if high[1] > cores || high[1] == 0 {
		t.Errorf("%d passwords are hashed at once on %d cores", high[1], cores)
	}

	if used, most := high[0]-before, (3*cores+1)*64<<20; used > most {
		t.Errorf("%d sign-ins at once take %d MiB, want %d at most", tries, used>>20, most>>20)
	}

	t.Logf("%d passwords at once, %d MiB", high[1], (high[0]-before)>>20)
}

// A crowd of strangers, each with another address and account, does not keep out who
// signs in on a device that is known: that one goes first.
func TestCrowdDoesNotKeepKnownDevicesOut(t *testing.T) {
	const crowd = 60
	d := newDoor(t, loopback)
	d.person("vic@fleet.example")
	device := d.browser()
	d.wants("the first time", d.try(device, "192.0.2.1", "vic@fleet.example", password), http.StatusSeeOther, 0, "")

	var over atomic.Bool
	var tried, refused atomic.Int64
	var all sync.WaitGroup
	for i := range crowd {
		all.Go(func() {
			for n := 0; !over.Load() && n < 1000; n++ {
				from := fmt.Sprintf("198.51.%d.%d", i, n%250)
				a := d.try(d.browser(), from, fmt.Sprintf("nobody%d-%d@fleet.example", i, n), "wrong password")
				tried.Add(1)
				if a.status == http.StatusServiceUnavailable {
					refused.Add(1)
				}
			}
		})
	}

	for refused.Load() == 0 && tried.Load() < crowd*1000 { // every core is taken
		time.Sleep(time.Millisecond)
	}
	for n := range 10 {
		a := d.try(device, "203.0.113.9", "vic@fleet.example", password)
		d.wants(fmt.Sprintf("the known device, time %d", n), a, http.StatusSeeOther, 0, "")
	}

	over.Store(true)
	all.Wait()
	t.Logf("%d tries of strangers, %d of them refused", tried.Load(), refused.Load())
}

// Who has to wait is told in words what helps sooner. A new password that a manager
// sets does: it begins without wrong tries.
func TestManagerLetsIn(t *testing.T) {
	t.Parallel()
	const lee = "lee@fleet.example"
	d := newDoor(t)
	id := d.person(lee)
	for range 10 {
		d.wants("a guess", d.try(d.browser(), "", lee, "wrong"), http.StatusUnauthorized, 0, "")
	}

	a := d.try(d.browser(), "", lee, password)
	d.wants("the tries are used up", a, http.StatusTooManyRequests, 15*time.Minute,
		"wait 15 minutes, then try again. To get in sooner: use a phone or computer on which you signed in before, "+
			"or ask a manager to set a new password for you")

	const fresh = "another long password"
	if err := d.fleet.SetPassword(t.Context(), fleet.System(models.FromCLI), id, fresh); err != nil {
		t.Fatal(err)
	}
	d.wants("the old password", d.try(d.browser(), "", lee, password), http.StatusUnauthorized, 0, "")
	d.wants("the new password", d.try(d.browser(), "", lee, fresh), http.StatusSeeOther, 0, "")
}

// load returns how many bytes are on the heap, and how many goroutines hash.
func load() (heap, hashing uint64) {
	s := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(s)

	stacks := make([]byte, 4<<20)
	stacks = stacks[:runtime.Stack(stacks, true)]
	return s[0].Value.Uint64(), uint64(strings.Count(string(stacks), "crypto/argon2.IDKey("))
}

// What is typed as a mail address is cut before anything is done with it.
func TestLongMailAddress(t *testing.T) {
	t.Parallel()
	d := newDoor(t)
	longest := strings.Repeat("x", 306) + "@fleet.example" // 320 bytes
	d.person(longest)

	for i := range 10 {
		a := d.try(d.browser(), "", longest+strings.Repeat("y", 1<<20)+strconv.Itoa(i), "wrong")
		d.wants("a megabyte", a, http.StatusUnauthorized, 0, "password is wrong")
		if len(a.body) > 20_000 {
			t.Fatalf("the answer has %d bytes", len(a.body))
		}
	}

	d.wants("the tries count for what is left", d.try(d.browser(), "", longest, password),
		http.StatusTooManyRequests, 15*time.Minute, "wait 15 minutes,")
}

// Where a request came from is believed from the proxies that were named, and from
// nobody else. The addresses are of RFC 5737.
func TestForgedAddresses(t *testing.T) {
	t.Parallel()
	second := netip.MustParsePrefix("192.0.2.0/24")
	ours, there := []netip.Prefix{loopback}, []netip.Prefix{second}
	both := []netip.Prefix{loopback, second}

	const refused, tried = http.StatusTooManyRequests, http.StatusUnauthorized
	for name, c := range map[string]struct {
		proxies   []netip.Prefix
		forwarded string // with the number of the try for %d
		last      int    // status of the sixty-first try, for another person than those before
	}{
		"no proxy, a forged address each":              {nil, "198.51.100.%d", refused},
		"another proxy, a forged address each":         {there, "198.51.100.%d", refused},
		"our proxy, an address each":                   {ours, "198.51.100.%d", tried},
		"our proxy, one address after a forged one":    {ours, "198.51.100.%d, 203.0.113.7", refused},
		"our proxy, nonsense before the address":       {ours, "x%d, 203.0.113.7", refused},
		"our proxy, private addresses are clients too": {ours, "198.51.100.%d, 10.1.2.3", refused},
		"two proxies, forged before both":              {both, "198.51.100.%d,203.0.113.7, 192.0.2.9", refused},
		"two proxies, an address each":                 {both, "198.51.100.%d, 192.0.2.9", tried},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			d := newDoor(t, c.proxies...)
			for i := range 7 {
				d.person(fmt.Sprintf("p%d@fleet.example", i))
			}

			for i := range 60 {
				from, email := fmt.Sprintf(c.forwarded, i), fmt.Sprintf("p%d@fleet.example", i%6)
				a := d.try(http.DefaultClient, from, email, "wrong")
				d.wants(fmt.Sprintf("try %d", i+1), a, http.StatusUnauthorized, 0, "password is wrong")
			}

			a := d.try(http.DefaultClient, fmt.Sprintf(c.forwarded, 60), "p6@fleet.example", "wrong")
			if a.status != c.last {
				t.Errorf("try 61: status %d, want %d", a.status, c.last)
			}
		})
	}
}

// An attack on one account from 200 addresses keeps its owner out nowhere: a known
// device gets in at once, a new one when it was told.
func TestNobodyLocksTheOwnerOut(t *testing.T) {
	t.Parallel()
	const owner = "lee@fleet.example"
	d := newDoor(t, loopback)
	d.person(owner)
	known := d.browser()
	d.wants("the owner before", d.try(known, "192.0.2.1", owner, password), http.StatusSeeOther, 0, "")

	guesses := 0
	attack := func() {
		for i := range 200 {
			switch a := d.try(http.DefaultClient, fmt.Sprintf("198.51.100.%d", i), owner, "wrong"); a.status {
			case http.StatusUnauthorized:
				guesses++
			case http.StatusTooManyRequests:
			default:
				t.Fatalf("attacker %d: status %d", i, a.status)
			}
		}
	}

	attack()
	if guesses != 10 {
		t.Errorf("%d guesses are let through at first, want 10", guesses)
	}

	d.wants("a known device", d.try(known, "203.0.113.50", owner, password), http.StatusSeeOther, 0, "")
	d.wants("the known address", d.try(d.browser(), "192.0.2.1", owner, password), http.StatusSeeOther, 0, "")
	d.after(41 * time.Second)
	d.wants("a new device", d.try(d.browser(), "203.0.113.7", owner, password),
		http.StatusTooManyRequests, 859*time.Second, "wait 14 minutes and 19 seconds, then try again")
	d.after(858 * time.Second)
	d.wants("a second early", d.try(d.browser(), "203.0.113.7", owner, password),
		http.StatusTooManyRequests, time.Second, "wait 1 second, then try again")

	d.after(time.Second)
	attack() // before the owner
	d.wants("when told", d.try(d.browser(), "203.0.113.7", owner, password), http.StatusSeeOther, 0, "")
	d.wants("a known device all the same", d.try(known, "203.0.113.51", owner, password), http.StatusSeeOther, 0, "")
}
