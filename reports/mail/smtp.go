package mail

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"sync"
	"time"

	gomail "github.com/wneessen/go-mail"
)

// TLSModes lists the ways to protect a connection.
var TLSModes = []TLS{StartTLS, Opportunistic, Implicit, NoTLS}

// TLS is a way to protect the connection to the server.
type TLS string

// The ways to protect a connection.
const (
	StartTLS      TLS = "starttls"      // STARTTLS (RFC 3207) or nothing is sent; the usual one, port 587
	Opportunistic TLS = "opportunistic" // STARTTLS if the server offers it
	Implicit      TLS = "implicit"      // TLS from the first byte (RFC 8314), port 465
	NoTLS         TLS = "none"          // in the clear; for a server on this machine
)

// Config has the settings of a mail server.
type Config struct {
	Host           string
	Port           int
	TLS            TLS            // empty: StartTLS
	User, Password string         // both empty: no authentication
	Timeout        time.Duration  // for connecting and for each message; 0: 30 s
	Roots          *x509.CertPool // nil: the system's
}

// SMTP sends through one server, with a connection for each message.
type SMTP struct {
	cfg    Config
	policy gomail.TLSPolicy
}

// NewSMTP returns a sender. It does not connect. It returns an error for an unknown TLS
// mode, a missing host, a port out of range, or a user without a password.
func NewSMTP(cfg Config) (*SMTP, error) {
	s := &SMTP{cfg: cfg}
	switch cfg.TLS {
	case "", StartTLS, Implicit:
		s.policy = gomail.TLSMandatory
	case Opportunistic:
		s.policy = gomail.TLSOpportunistic
	case NoTLS:
		s.policy = gomail.NoTLS
	default:
		return nil, fmt.Errorf("mail server TLS %q must be starttls, opportunistic, implicit or none", cfg.TLS)
	}

	if cfg.Host == "" || cfg.Port < 1 || cfg.Port > 65535 {
		return nil, fmt.Errorf("mail server %q port %d must be a host name and a port of 1 to 65535", cfg.Host,
			cfg.Port)
	}
	if (cfg.User == "") != (cfg.Password == "") {
		return nil, errors.New("the mail server's user and password go together; give both or neither")
	}
	if s.cfg.Timeout <= 0 {
		s.cfg.Timeout = 30 * time.Second
	}

	return s, nil
}

// Send implements Sender. A server that has answered 250 to the message has
// accepted it, whatever happens to the connection after that.
func (s *SMTP) Send(ctx context.Context, m Message) error {
	msg, err := compose(m)
	if err != nil {
		return err
	}

	ctx, cancel := context.WithTimeout(ctx, s.cfg.Timeout)
	defer cancel()

	// Closing the connection when ctx ends also ends a command that the server never
	// answers.
	conn := &connection{}
	defer conn.close()
	defer context.AfterFunc(ctx, conn.close)()

	client, err := s.client(conn)
	if err != nil {
		return err
	}

	// The library also fails on QUIT, when the message is with the server already.
	err = client.DialAndSendWithContext(ctx, msg)
	if msg.IsDelivered() {
		return nil
	}
	return s.classify(ctx, m.To, err)
}

// compose returns the message in the library's form, with its headers.
func compose(m Message) (*gomail.Msg, error) {
	msg := gomail.NewMsg(gomail.WithEncoding(gomail.EncodingQP), gomail.WithNoDefaultUserAgent())
	if err := msg.From(m.From); err != nil {
		return nil, fmt.Errorf("sender %q is not a mail address: %w", m.From, err)
	}
	if err := msg.To(m.To); err != nil {
		return nil, refused("%q is not a mail address", m.To)
	}

	msg.Subject(m.Subject)
	msg.SetMessageIDWithValue(m.ID())
	msg.SetDate()
	msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: asks for no out-of-office answers

	if m.List != "" {
		msg.SetGenHeader("List-Id", "<"+m.List+"."+domain(m.From)+">") // RFC 2919: lets programs sort the mail
	}

	msg.SetBodyString(gomail.TypeTextPlain, m.Text)
	if m.HTML != "" {
		msg.AddAlternativeString(gomail.TypeTextHTML, m.HTML)
	}
	return msg, nil
}

// client returns the library's client for one message, which connects through c.
func (s *SMTP) client(c *connection) (*gomail.Client, error) {
	conf := &tls.Config{ServerName: s.cfg.Host, RootCAs: s.cfg.Roots, MinVersion: tls.VersionTLS12}
	options := []gomail.Option{
		gomail.WithPort(s.cfg.Port),
		gomail.WithTimeout(s.cfg.Timeout),
		gomail.WithTLSConfig(conf),
		gomail.WithTLSPolicy(s.policy),
		gomail.WithoutNoop(),
		gomail.WithoutRset(),
	}

	dial := (&net.Dialer{}).DialContext
	if s.cfg.TLS == Implicit {
		options = append(options, gomail.WithSSL())
		dial = (&tls.Dialer{Config: conf}).DialContext
	}
	options = append(options, gomail.WithDialContextFunc(c.keepingDial(dial)))

	if s.cfg.User != "" {
		options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(s.cfg.User),
			gomail.WithPassword(s.cfg.Password))
	}

	client, err := gomail.NewClient(s.cfg.Host, options...)
	if err != nil {
		return nil, fmt.Errorf("mail server settings: %w", err)
	}
	return client, nil
}

// classify returns ErrRefused if err is a refusal of this recipient or content, otherwise
// an error that names the server. A 5xx to signing in or to the sender is a fault of the
// settings, which a person can correct, so a later try may succeed.
func (s *SMTP) classify(ctx context.Context, to string, err error) error {
	var sent *gomail.SendError
	if errors.As(err, &sent) && sent.ErrorCode() >= 500 {
		switch sent.Reason {
		case gomail.ErrSMTPRcptTo, gomail.ErrSMTPData, gomail.ErrSMTPDataClose:
			return refused("%s answered for %s: %v", s.cfg.Host, to, sent)
		}
	}

	if ctx.Err() != nil {
		err = errors.Join(ctx.Err(), err)
	}
	if err == nil {
		err = errors.New("the message was not confirmed")
	}
	return fmt.Errorf("mail server %s:%d: %w", s.cfg.Host, s.cfg.Port, err)
}

// connection keeps the connection of one Send, so that it is closed when time is up and
// never left open.
type connection struct {
	mu     sync.Mutex
	conn   net.Conn
	closed bool
}

// keepingDial returns a dial function that keeps what dial opens. After close it opens
// nothing.
func (c *connection) keepingDial(dial gomail.DialContextFunc) gomail.DialContextFunc {
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		conn, err := dial(ctx, network, address)
		if err != nil {
			return nil, err
		}

		c.mu.Lock()
		defer c.mu.Unlock()
		if c.closed { // while dial was at work
			return nil, errors.Join(net.ErrClosed, conn.Close())
		}

		c.conn = conn
		return conn, nil
	}
}

// close closes the connection; closing again does nothing.
func (c *connection) close() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.closed = true
	if c.conn != nil {
		_ = c.conn.Close() // the library may have closed it already
	}
}
