package webtest

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"

	"rimledger/models/modeltest"
)

// Person is a browser without a script.
type Person struct {
	World    *World
	client   *http.Client
	Language string // what the browser asks for; empty: nothing
}

// Answer is a page as it came.
type Answer struct {
	Status   int
	Location string
	Body     string
	Header   http.Header
}

// Stranger is somebody who is not signed in.
func (y *World) Stranger() *Person {
	jar, _ := cookiejar.New(nil)
	return &Person{
		World: y,
		client: &http.Client{
			Jar:           jar,
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
	}
}

// SignedIn adds one of the three people and signs them in.
func (y *World) SignedIn(email string) *Person {
	y.T.Helper()
	y.AddPerson(email)
	p := y.Stranger()
	if a := p.Post("/sign-in", url.Values{"email": {email}, "password": {Password}}); a.Status != http.StatusSeeOther {
		y.T.Fatalf("sign in: %d", a.Status)
	}
	return p
}

// Do sends a request with what the browser keeps and asks for.
func (p *Person) Do(r *http.Request) Answer {
	p.World.T.Helper()
	if p.Language != "" {
		r.Header.Set("Accept-Language", p.Language)
	}
	res, err := p.client.Do(r)
	if err != nil {
		p.World.T.Fatal(err)
	}
	defer res.Body.Close()
	b := modeltest.Must(io.ReadAll(res.Body))(p.World.T)
	return Answer{res.StatusCode, res.Header.Get("Location"), string(b), res.Header}
}

// Get opens a page. A redirection is not followed.
func (p *Person) Get(path string) Answer {
	p.World.T.Helper()
	ctx, url := p.World.T.Context(), p.World.Server.URL+path
	return p.Do(modeltest.Must(http.NewRequestWithContext(ctx, http.MethodGet, url, nil))(p.World.T))
}

// Post sends a form. A redirection is not followed.
func (p *Person) Post(path string, form url.Values) Answer {
	p.World.T.Helper()

	body := strings.NewReader(form.Encode())
	ctx, url := p.World.T.Context(), p.World.Server.URL+path
	r := modeltest.Must(http.NewRequestWithContext(ctx, http.MethodPost, url, body))(p.World.T)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return p.Do(r)
}

// Wants fails the test unless the page has this status and contains these texts.
func (a Answer) Wants(t testing.TB, status int, texts ...string) {
	t.Helper()
	_, main, _ := strings.Cut(a.Body, "<main")
	if a.Status != status {
		t.Errorf("status %d, want %d:\n%.600s", a.Status, status, main)
	}
	for _, s := range texts {
		if !strings.Contains(breakable(a.Body), s) {
			t.Errorf("the page lacks %q:\n%.1500s", s, main)
		}
	}
}
