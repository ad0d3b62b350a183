package rest_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"rimledger/api/rest"
	"rimledger/models"
)

// held is longer than the library reads a body by default: 5 s by the
// documentation of huma.Operation.BodyReadTimeout.
const held = 5500 * time.Millisecond

// slowStore is a store that takes long for one write once slow is set.
type slowStore struct {
	models.Store
	slow atomic.Bool
}

func (s *slowStore) Write(ctx context.Context, fn func(models.Tx) error) error {
	if s.slow.CompareAndSwap(true, false) {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(held):
		}
	}
	return s.Store.Write(ctx, fn)
}

// oneConnection returns a transport that has one connection at a time and
// counts how often it connects.
func oneConnection(t *testing.T) (transport *http.Transport, connected *atomic.Int32) {
	t.Helper()
	connected = new(atomic.Int32)
	dial := func(ctx context.Context, network, address string) (net.Conn, error) {
		connected.Add(1)
		return new(net.Dialer).DialContext(ctx, network, address)
	}
	transport = &http.Transport{DialContext: dial, MaxConnsPerHost: 1}
	t.Cleanup(transport.CloseIdleConnections)
	return transport, connected
}

// TestSlowWrite checks that a write that waits for the store is answered, and
// so is what follows on its connection.
func TestSlowWrite(t *testing.T) {
	t.Parallel()

	for _, proxied := range []bool{false, true} {
		t.Run(fmt.Sprintf("proxied=%t", proxied), func(t *testing.T) {
			t.Parallel()
			s := new(slowStore)
			writer := serveWith(t, func(inner models.Store) models.Store {
				s.Store = inner
				return s
			}, 0)

			transport, connected := oneConnection(t)

			writer.http = &http.Client{Transport: transport, Timeout: 20 * time.Second}
			if proxied {
				target, err := url.Parse(writer.url)
				if err != nil {
					t.Fatal(err)
				}
				proxy := httptest.NewServer(&httputil.ReverseProxy{Transport: transport,
					Rewrite: func(r *httputil.ProxyRequest) { r.SetURL(target) }})
				t.Cleanup(proxy.Close)
				writer.url, writer.http = proxy.URL, &http.Client{Timeout: 20 * time.Second}
			}

			reader := writer.as(models.Viewer)

			s.slow.Store(true)
			began := time.Now()
			depot := writer.do("POST", "/depots", depotBody()).want(201).at("id")
			if took := time.Since(began); took < held || s.slow.Load() {
				t.Fatalf("the write took %s; the store must hold it for %s", took, held)
			}

			reader.do("GET", "/depots/"+depot, nil).want(200)
			writer.do("POST", "/depots", depotBody()).want(201)
			if n := connected.Load(); n != 1 {
				t.Errorf("%d connections were used; the requests must share one", n)
			}
		})
	}
}

// TestNoReadTimeoutOfOperations checks that no operation leaves a read timeout
// on its connection.
func TestNoReadTimeoutOfOperations(t *testing.T) {
	t.Parallel()

	count := 0
	for path, item := range rest.Document(rest.Deps{}).Paths {
		for _, o := range []*huma.Operation{item.Get, item.Post, item.Put, item.Patch, item.Delete, item.Head} {
			if o == nil {
				continue
			}
			count++
			if o.BodyReadTimeout >= 0 {
				t.Errorf("%s %s has a read timeout of %s; register must set -1", o.Method, path, o.BodyReadTimeout)
			}
		}
	}

	if count < 50 {
		t.Errorf("only %d operations were found", count)
	}
}

// TestSlowBody checks that the server's read timeout ends a body that comes
// byte by byte, whichever way the body is read.
func TestSlowBody(t *testing.T) {
	t.Parallel()

	c := serveWith(t, func(s models.Store) models.Store { return s }, 2*time.Second)
	for path, kind := range map[string]string{
		"/depots": "application/json",
		"/depots/" + uuid.NewString() + "/imports/vehicles": "text/csv",
	} {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			conn, err := net.Dial("tcp", strings.TrimPrefix(c.url, "http://"))
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			if err := conn.SetDeadline(time.Now().Add(15 * time.Second)); err != nil {
				t.Fatal(err)
			}

			fmt.Fprintf(conn, "POST %s HTTP/1.1\r\nHost: ledger.example\r\nAuthorization: Bearer %s\r\n"+
				"Content-Type: %s\r\nContent-Length: 100000\r\n\r\n", rest.Prefix+path, c.secret, kind)

			stop, stopped := make(chan struct{}), make(chan struct{})
			go func() {
				defer close(stopped)

				for {
					select {
					case <-stop:
						return
					case <-time.After(50 * time.Millisecond):
						_, _ = conn.Write([]byte(" "))
					}
				}
			}()
			defer func() { close(stop); <-stopped }()

			res, err := http.ReadResponse(bufio.NewReader(conn), nil)
			if err != nil {
				t.Fatalf("the body is not ended: %v", err)
			}
			defer res.Body.Close()
			b, err := io.ReadAll(res.Body)
			if err != nil {
				t.Fatal(err)
			}

			if res.StatusCode != http.StatusRequestTimeout || !strings.Contains(string(b), "in time") {
				t.Errorf("status %d: %s", res.StatusCode, b)
			}
			if !res.Close {
				t.Error("the connection stays open, in the middle of a body")
			}
		})
	}
}
