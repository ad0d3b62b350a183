package mail_test

import (
	"bufio"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"log"
	"math/big"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net"
	netmail "net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"go.uber.org/goleak"

	"rimledger/reports/mail"
)

// TestMain fails if a goroutine is left.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// server is a real SMTP server on loopback that keeps the messages it accepts.
type server struct {
	port  int
	roots *x509.CertPool

	mu       sync.Mutex
	accepted []string // raw messages
	signedIn []string
	overTLS  []bool
}

type session struct {
	s    *server
	conn *smtp.Conn
}

// NewSession implements smtp.Backend.
func (s *server) NewSession(c *smtp.Conn) (smtp.Session, error) { return &session{s, c}, nil }

func (x *session) Reset()        {}
func (x *session) Logout() error { return nil }

func (x *session) Mail(from string, _ *smtp.MailOptions) error {
	if strings.HasPrefix(from, "stranger@") {
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 7, 1}, Message: "sender not allowed"}
	}
	return nil
}

func (x *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	switch {
	case strings.HasPrefix(to, "gone@"):
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such mailbox"}
	case strings.HasPrefix(to, "busy@"):
		return &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: "try again later"}
	}
	return nil
}

func (x *session) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	if strings.Contains(string(raw), "Subject: unwanted") {
		return &smtp.SMTPError{Code: 554, EnhancedCode: smtp.EnhancedCode{5, 6, 0}, Message: "content refused"}
	}

	x.s.mu.Lock()
	defer x.s.mu.Unlock()
	_, overTLS := x.conn.TLSConnectionState()
	x.s.accepted = append(x.s.accepted, string(raw))
	x.s.overTLS = append(x.s.overTLS, overTLS)
	return nil
}

func (x *session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (x *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != "rimledger" || password != "open-sesame-7" {
			return smtp.ErrAuthFailed
		}
		x.s.mu.Lock()
		defer x.s.mu.Unlock()
		x.s.signedIn = append(x.s.signedIn, user)
		return nil
	}), nil
}

// serve starts a server; how is "tls" (STARTTLS offered), "implicit" or "plain".
func serve(t *testing.T, how string) *server {
	t.Helper()
	cert, roots := certificate(t)
	s := &server{roots: roots}
	srv := smtp.NewServer(s)
	srv.Domain, srv.ErrorLog = "mail.example", log.New(io.Discard, "", 0)

	l := listen(t)
	s.port = l.Addr().(*net.TCPAddr).Port

	conf := &tls.Config{Certificates: []tls.Certificate{cert}}
	switch how {
	case "tls":
		srv.TLSConfig = conf
	case "implicit":
		l = tls.NewListener(l, conf)
	}

	done := make(chan struct{})
	go func() { defer close(done); _ = srv.Serve(l) }()
	t.Cleanup(func() { srv.Close(); l.Close(); <-done })
	return s
}

func listen(t *testing.T) net.Listener {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// certificate makes a certificate for 127.0.0.1 and the pool that trusts it.
func certificate(t *testing.T) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}

	tmpl := &x509.Certificate{
		SerialNumber:          big.NewInt(1),
		NotBefore:             time.Now().Add(-time.Hour),
		NotAfter:              time.Now().Add(time.Hour),
		IPAddresses:           []net.IP{net.IPv4(127, 0, 0, 1)},
		IsCA:                  true,
		BasicConstraintsValid: true,
	}

	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}

	pool := x509.NewCertPool()
	pool.AddCert(leaf)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, pool
}

// message returns a message with what mail programs may garble: an umlaut and a line that
// is only a full stop.
func message() mail.Message {
	return mail.Message{
		From:    "Rimledger <digest@larkfield.example>",
		To:      "yard@larkfield.example",
		Subject: "Week 13: 2 off the road",
		Text:    "Unit T-104, 1L: tread 3/32 in, müde.\n.\nlast line\n",
		HTML:    "<p>Unit T-104</p>",
		List:    "digest.depot-1",
		Key:     "depot-1 2026-03-30T06:00",
	}
}

// TestSend: each TLS mode, and which failures are refusals for good.
func TestSend(t *testing.T) {
	t.Parallel()

	for _, tt := range []struct {
		name, server string
		tls          mail.TLS
		user, pass   string
		to, from     string
		subject      string
		distrust     bool
		want         string // "", "refused" or "later"
		wantTLS      bool
	}{
		{name: "STARTTLS", server: "tls", tls: mail.StartTLS, wantTLS: true},
		{name: "STARTTLS is the default", server: "tls", wantTLS: true},
		{name: "STARTTLS with authentication", server: "tls", tls: mail.StartTLS,
			user: "rimledger", pass: "open-sesame-7", wantTLS: true},
		{name: "TLS from the first byte", server: "implicit", tls: mail.Implicit, wantTLS: true},
		{name: "opportunistic where TLS is offered", server: "tls", tls: mail.Opportunistic, wantTLS: true},
		{name: "opportunistic where it is not", server: "plain", tls: mail.Opportunistic},
		{name: "in the clear", server: "plain", tls: mail.NoTLS},
		{name: "nothing is sent in the clear if TLS is required", server: "plain", tls: mail.StartTLS, want: "later"},
		{name: "nothing is sent to a server with a strange certificate", server: "tls", tls: mail.StartTLS,
			distrust: true, want: "later"},
		{name: "wrong password may be corrected", server: "tls", tls: mail.StartTLS,
			user: "rimledger", pass: "wrong", want: "later"},
		{name: "a password is not sent in the clear", server: "plain", tls: mail.NoTLS,
			user: "rimledger", pass: "open-sesame-7", want: "later"},
		{name: "recipient refused", server: "tls", to: "gone@larkfield.example", want: "refused"},
		{name: "recipient busy", server: "tls", to: "busy@larkfield.example", want: "later"},
		{name: "content refused", server: "tls", subject: "unwanted", want: "refused"},
		{name: "sender refused may be corrected", server: "tls", from: "stranger@larkfield.example", want: "later"},
		{name: "recipient is no address", server: "tls", to: "not an address", want: "refused"},
		{name: "a line break in an address adds no header", server: "tls",
			to: "a@b.example\r\nBcc: c@d.example", want: "refused"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			srv := serve(t, tt.server)
			cfg := mail.Config{
				Host:     "127.0.0.1",
				Port:     srv.port,
				TLS:      tt.tls,
				User:     tt.user,
				Password: tt.pass,
				Timeout:  5 * time.Second,
				Roots:    srv.roots,
			}
			if tt.distrust {
				cfg.Roots = x509.NewCertPool()
			}

			s, err := mail.NewSMTP(cfg)
			if err != nil {
				t.Fatal(err)
			}

			m := message()
			m.To, m.From, m.Subject = or(tt.to, m.To), or(tt.from, m.From), or(tt.subject, m.Subject)
			checkOutcome(t, s.Send(t.Context(), m), tt.want)
			srv.check(t, tt.want == "", tt.wantTLS, tt.user != "")
		})
	}
}

// check fails unless the server accepted one message, protected and signed in as wanted,
// or none.
func (s *server) check(t *testing.T, wantMessage, wantTLS, wantSignIn bool) {
	t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()

	if !wantMessage {
		if len(s.accepted) != 0 {
			t.Fatalf("server accepted %d messages, want none", len(s.accepted))
		}
		return
	}

	if len(s.accepted) != 1 {
		t.Fatalf("server accepted %d messages, want 1", len(s.accepted))
	}
	if s.overTLS[0] != wantTLS {
		t.Errorf("over TLS: %t, want %t", s.overTLS[0], wantTLS)
	}
	if wantSignIn && len(s.signedIn) != 1 {
		t.Errorf("signed in %d times, want once", len(s.signedIn))
	}
}

// or returns a, or b if a is empty.
func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// checkOutcome fails unless err is none (""), a refusal ("refused") or another failure
// ("later"), and if it names the password.
func checkOutcome(t *testing.T, err error, want string) {
	t.Helper()
	got := ""
	switch {
	case errors.Is(err, mail.ErrRefused):
		got = "refused"
	case err != nil:
		got = "later"
	}

	if got != want {
		t.Fatalf("got outcome %q (%v), want %q", got, err, want)
	}
	if err != nil && strings.Contains(err.Error(), "open-sesame-7") {
		t.Errorf("the error names the password: %v", err)
	}
}

// TestContent: the message is read back with the standard library's own readers.
func TestContent(t *testing.T) {
	t.Parallel()
	srv := serve(t, "tls")
	s, err := mail.NewSMTP(mail.Config{Host: "127.0.0.1", Port: srv.port, Roots: srv.roots, Timeout: 5 * time.Second})
	if err != nil {
		t.Fatal(err)
	}

	m := message()
	if err := s.Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	got, err := netmail.ReadMessage(strings.NewReader(srv.accepted[0]))
	if err != nil {
		t.Fatal(err)
	}
	if id := got.Header.Get("Message-ID"); id != "<"+m.ID()+">" {
		t.Errorf("Message-ID %s, want <%s>", id, m.ID())
	}
	if s := got.Header.Get("Subject"); s != m.Subject {
		t.Errorf("subject %q, want %q", s, m.Subject)
	}
	if list := got.Header.Get("List-Id"); list != "<"+m.List+".larkfield.example>" { // RFC 2919, 3
		t.Errorf("List-Id %s", list)
	}
	if by := got.Header.Get("User-Agent") + got.Header.Get("X-Mailer"); by != "" {
		t.Errorf("the mail advertises %s", by)
	}

	if a, err := got.Header.AddressList("From"); err != nil || a[0].Address != "digest@larkfield.example" {
		t.Errorf("from %v, %v", a, err)
	}
	if d, err := got.Header.Date(); err != nil || time.Since(d).Abs() > time.Minute {
		t.Errorf("date %v, %v", d, err)
	}

	checkParts(t, got, m)
}

// checkParts fails unless a message has both bodies of m, the plain text first.
func checkParts(t *testing.T, got *netmail.Message, m mail.Message) {
	t.Helper()
	kind, params, err := mime.ParseMediaType(got.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/alternative" {
		t.Fatalf("content type %s, %v", kind, err)
	}

	parts := multipart.NewReader(got.Body, params["boundary"])
	for _, want := range []struct{ kind, body string }{{"text/plain", m.Text}, {"text/html", m.HTML}} {
		p, err := parts.NextRawPart()
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(quotedprintable.NewReader(p))
		if err != nil {
			t.Fatal(err)
		}

		if !strings.HasPrefix(p.Header.Get("Content-Type"), want.kind) || trim(string(body)) != trim(want.body) {
			t.Errorf("got part %s %q, want %s %q", p.Header.Get("Content-Type"), body, want.kind, want.body)
		}
	}
}

// trim returns s with its line ends normalized.
func trim(s string) string { return strings.TrimRight(strings.ReplaceAll(s, "\r\n", "\n"), "\n") }

// TestID: the Message-ID is the same for a repeat and differs for another recipient or
// week.
func TestID(t *testing.T) {
	t.Parallel()
	m := message()
	again, other, later := message(), message(), message()
	again.Subject, again.Text, again.To = "changed", "changed", "YARD@larkfield.example"
	other.To = "office@larkfield.example"
	later.Key = "depot-1 2026-04-06T06:00"

	if m.ID() != again.ID() {
		t.Errorf("the same slot and recipient have two ids: %s, %s", m.ID(), again.ID())
	}
	if m.ID() == other.ID() || m.ID() == later.ID() {
		t.Error("two mails share an id")
	}
	if !strings.HasSuffix(m.ID(), "@larkfield.example") {
		t.Errorf("id %s is not of the sender's domain", m.ID())
	}
}

// script listens, and lets talk answer each connection before it is closed. It returns
// the port.
func script(t *testing.T, talk func(net.Conn)) int {
	t.Helper()
	l := listen(t)

	done := make(chan struct{})
	go func() {
		defer close(done)

		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			talk(conn)
			conn.Close()
		}
	}()

	t.Cleanup(func() { l.Close(); <-done })
	return l.Addr().(*net.TCPAddr).Port
}

// answer replies to each command. It returns without an answer when the message begins
// (stage "begin") or ends ("end"); at any other stage it confirms the message and returns
// before QUIT.
func answer(conn net.Conn, stage string) {
	r := bufio.NewReader(conn)
	say := func(s string) { _, _ = io.WriteString(conn, s+"\r\n") }
	say("220 mail.example ESMTP")

	for {
		line, err := r.ReadString('\n')
		if err != nil {
			return
		}

		switch strings.ToUpper(line[:4]) {
		case "EHLO":
			say("250-mail.example")
			say("250 8BITMIME")
		case "DATA":
			say("354 go ahead")
			if stage == "begin" {
				_, _ = r.ReadString('\n')
				return
			}

			for line != ".\r\n" && err == nil {
				line, err = r.ReadString('\n')
			}
			if stage != "end" {
				say("250 taken")
			}
			return
		default:
			say("250 ok")
		}
	}
}

// TestBrokenServer: a server that fails before it confirms the message may accept it later;
// one that fails after that has it.
func TestBrokenServer(t *testing.T) {
	t.Parallel()
	silent := make(chan struct{})
	t.Cleanup(func() { close(silent) })

	for _, tt := range []struct {
		name string
		talk func(net.Conn)
		want string
	}{
		{"dies in mid-message", func(c net.Conn) { answer(c, "begin") }, "later"},
		{"dies before it confirms", func(c net.Conn) { answer(c, "end") }, "later"},
		{"dies after it confirmed: the message is there", func(c net.Conn) { answer(c, "confirmed") }, ""},
		{"never answers", func(net.Conn) {
			select {
			case <-silent:
			case <-time.After(3 * time.Second):
			}
		}, "later"},
		{"talks nonsense", func(c net.Conn) { _, _ = io.WriteString(c, "HTTP/1.1 400 Bad Request\r\n\r\n") }, "later"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s, err := mail.NewSMTP(
				mail.Config{Host: "127.0.0.1", Port: script(t, tt.talk), TLS: mail.NoTLS, Timeout: time.Second})
			if err != nil {
				t.Fatal(err)
			}

			start := time.Now()
			checkOutcome(t, s.Send(t.Context(), message()), tt.want)
			if d := time.Since(start); d > 2500*time.Millisecond {
				t.Errorf("took %v, the limit is 1 s", d)
			}
		})
	}
}

// TestNobodyListens: a server that cannot be reached may accept the message later.
func TestNobodyListens(t *testing.T) {
	t.Parallel()
	l := listen(t)
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()

	s, err := mail.NewSMTP(mail.Config{Host: "127.0.0.1", Port: port, TLS: mail.NoTLS, Timeout: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	checkOutcome(t, s.Send(t.Context(), message()), "later")
}

// TestCanceled: Send ends with its context although the server does not answer.
func TestCanceled(t *testing.T) {
	t.Parallel()
	stop := make(chan struct{})
	port := script(t, func(net.Conn) { <-stop })
	t.Cleanup(func() { close(stop) })

	s, err := mail.NewSMTP(mail.Config{Host: "127.0.0.1", Port: port, TLS: mail.NoTLS, Timeout: time.Minute})
	if err != nil {
		t.Fatal(err)
	}

	ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
	defer cancel()

	start := time.Now()
	err = s.Send(ctx, message())
	if !errors.Is(err, context.DeadlineExceeded) || time.Since(start) > 2*time.Second {
		t.Errorf("got %v after %v, want the context's end at once", err, time.Since(start))
	}
}

// TestSettings lists settings that NewSMTP refuses.
func TestSettings(t *testing.T) {
	t.Parallel()

	for _, tt := range []struct {
		name string
		cfg  mail.Config
	}{
		{"no host", mail.Config{Port: 587}},
		{"no port", mail.Config{Host: "mail.example"}},
		{"unknown TLS", mail.Config{Host: "mail.example", Port: 587, TLS: "maybe"}},
		{"user without password", mail.Config{Host: "mail.example", Port: 587, User: "a"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if _, err := mail.NewSMTP(tt.cfg); err == nil {
				t.Error("accepted")
			}
		})
	}
}
