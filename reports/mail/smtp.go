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

// TLSModes lists how the connection can be protected.
var TLSModes = []TLS{StartTLS, Opportunistic, Implicit, NoTLS}

// TLS says how the connection to the server is protected.
type TLS string

// The ways to protect a connection.
const (
	StartTLS      TLS = "starttls"      // STARTTLS (RFC 3207) or nothing is sent; the usual one, port 587
	Opportunistic TLS = "opportunistic" // STARTTLS if the server offers it
	Implicit      TLS = "implicit"      // TLS from the first byte (RFC 8314), port 465
	NoTLS         TLS = "none"          // in the clear; for a server on this machine
)

// Config says which server takes the mail.
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

// NewSMTP returns a sender. It does not connect; it returns an error if the
// settings contradict themselves.
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

// Send implements Sender. A server that was answered 250 to the message has
// it, whatever happens to the connection after that.
func (s *SMTP) Send(ctx context.Context, m Message) error {
	msg, err := compose(m)
	if err != nil {
		return err
	}

	ctx, cancel := context.WithTimeout(ctx, s.cfg.Timeout)
	defer cancel()
	link := &link{}
	defer link.close()
	defer context.AfterFunc(ctx, link.close)()
	client, err := s.client(link)
	if err != nil {
		return err
	}

	err = client.DialAndSendWithContext(ctx, msg)
	if msg.IsDelivered() {
		return nil
	}

	return s.judge(ctx, m.To, err)
}

func compose(m Message) (*gomail.Msg, error) {
	msg := gomail.NewMsg(gomail.WithEncoding(gomail.EncodingQP))
	if err := msg.From(m.From); err != nil {
		return nil, fmt.Errorf("sender %q is not a mail address: %w", m.From, err)
	}
	if err := msg.To(m.To); err != nil {
		return nil, refused("%q is not a mail address", m.To)
	}
	msg.Subject(m.Subject)
	msg.SetMessageIDWithValue(m.ID())
	msg.SetDate()
	msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no out-of-office answers, please
	msg.SetBodyString(gomail.TypeTextPlain, m.Text)

	if m.HTML != "" {
		msg.AddAlternativeString(gomail.TypeTextHTML, m.HTML)
	}
	return msg, nil
}

func (s *SMTP) client(l *link) (*gomail.Client, error) {
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

	options = append(options, gomail.WithDialContextFunc(l.through(dial)))
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

// judge tells a refusal of this recipient or content from everything else. A
// 5xx to signing in or to the sender is a fault of the settings, which a
// person can mend, so it may work later.
func (s *SMTP) judge(ctx context.Context, to string, err error) error {
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

// link remembers the connection of one Send, so that it can be closed when
// time is up and is never left open.
type link struct {
	mu   sync.Mutex
	conn net.Conn
	over bool
}

func (l *link) through(dial gomail.DialContextFunc) gomail.DialContextFunc {
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		conn, err := dial(ctx, network, address)
		if err != nil {
			return nil, err
		}

		l.mu.Lock()
		defer l.mu.Unlock()
		if l.over {
			return nil, errors.Join(net.ErrClosed, conn.Close())
		}

		l.conn = conn
		return conn, nil
	}
}

func (l *link) close() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.over = true
	if l.conn != nil {
		_ = l.conn.Close() // closing twice is no harm
	}
}
