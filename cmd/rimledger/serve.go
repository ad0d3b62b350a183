package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"rimledger/api"
	"rimledger/api/calc"
	"rimledger/models"
	"rimledger/models/demo"
	"rimledger/models/fleet"
	"rimledger/models/store"
	"rimledger/reports/jobs"
	"rimledger/reports/mail"
)

type serveCmd struct {
	Listen       string   `help:"Address to answer on."                                                                                default:"127.0.0.1:8080" placeholder:"HOST:PORT"`
	BaseURL      string   `help:"Address under which people reach the pages, for links in mails and secure cookies."                                            placeholder:"URL"       name:"base-url"`
	TrustProxy   []string `help:"Reverse proxies whose X-Forwarded-For is believed; with --base-url, by default, any on this machine."                          placeholder:"CIDR"`
	Migrate      bool     `help:"Bring the database to this program's version first."                                                  default:"true"                                                        negatable:""`
	SMTPHost     string   `help:"Mail server; without one digests wait."                                                                                        placeholder:"HOST"      name:"smtp-host"`
	SMTPPort     int      `help:"Port of the mail server."                                                                             default:"587"                                    name:"smtp-port"`
	SMTPTLS      string   `help:"starttls (required), opportunistic, implicit or none."                                                default:"starttls"                               name:"smtp-tls"`
	SMTPUser     string   `help:"Name to sign in to the mail server with."                                                                                      placeholder:"NAME"      name:"smtp-user"`
	SMTPPassword string   `help:"Password for the mail server; better as RIMLEDGER_SMTP_PASSWORD_FILE."                                                         placeholder:"SECRET"    name:"smtp-password"`
	MailFrom     string   `help:"Sender of the digests."                                                                                                        placeholder:"ADDRESS"   name:"mail-from"`
}

// check reports everything that is wrong with the settings at once.
func (c *serveCmd) check() error {
	var f models.Faults
	if _, _, err := net.SplitHostPort(c.Listen); err != nil {
		f.Add("listen", c.Listen, "must be host:port, such as 127.0.0.1:8080")
	}
	if c.SMTPHost != "" && c.MailFrom == "" {
		f.Add("mail-from", "", "must be given where there is a mail server")
	}
	if (c.SMTPUser == "") != (c.SMTPPassword == "") {
		f.Add("smtp-password", "", "the mail server's user and password go together; give both or neither")
	}

	if c.SMTPPort < 1 || c.SMTPPort > 65535 {
		f.Add("smtp-port", fmt.Sprint(c.SMTPPort), "must be 1 to 65535")
	}
	if _, faults := c.proxies(); faults != nil {
		f = append(f, faults...)
	}

	c.checkBaseURL(&f)

	if !slices.Contains(mail.TLSModes, mail.TLS(c.SMTPTLS)) {
		f.Add("smtp-tls", c.SMTPTLS, "must be one of %q", mail.TLSModes)
	}
	return f.Err("the configuration")
}

// checkBaseURL adds what is wrong with the address under which people reach the pages:
// a path is put behind it, so nothing may stand there.
func (c *serveCmd) checkBaseURL(f *models.Faults) {
	if c.BaseURL == "" {
		return
	}

	const right = "such as https://tires.example.org"
	u, err := url.Parse(c.BaseURL)
	switch {
	case err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "":
		f.Add("base-url", c.BaseURL, "must be an address of http or https, %s", right)
	case u.User != nil:
		f.Add("base-url", u.Redacted(), "must have no name or password before the host, %s", right)
	case u.RawQuery != "" || u.ForceQuery || strings.Contains(c.BaseURL, "#"):
		f.Add("base-url", c.BaseURL, "must end before any ? or #, %s", right)
	}
}

// proxies returns the networks of the reverse proxies that are believed, and what
// is wrong with those that were given.
func (c *serveCmd) proxies() ([]netip.Prefix, models.Faults) {
	if len(c.TrustProxy) == 0 && c.BaseURL != "" {
		return []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("::1/128")}, nil
	}

	var list []netip.Prefix

	var f models.Faults
	for _, text := range c.TrustProxy {
		text = strings.TrimSpace(text)
		network, err := netip.ParsePrefix(text)
		if address, single := netip.ParseAddr(text); single == nil {
			network, err = address.Prefix(address.BitLen())
		}

		switch {
		case err != nil:
			f.Add(
				"trust-proxy",
				text,
				"must be addresses or networks such as 192.0.2.7 or 10.0.0.0/8, parted by commas",
			)
		case network.Bits() == 0:
			f.Add("trust-proxy", text, "must not be every address: anybody could then claim to come from anywhere")
		case network != network.Masked():
			f.Add("trust-proxy", text, "must be a whole network, such as %s, or one address", network.Masked())
		default:
			list = append(list, network)
		}
	}

	return list, f
}

func (c *serveCmd) Run(ctx context.Context, p *program, s *streams) error {
	if err := c.check(); err != nil {
		return err
	}
	st, f, err := p.open(ctx, c.Migrate)
	if err != nil {
		return err
	}
	defer st.Close()
	return c.serve(ctx, s, st, f, "")
}

// serve answers until ctx ends; then running requests and jobs are waited for.
func (c *serveCmd) serve(ctx context.Context, s *streams, st *store.Store, f *fleet.Service, welcome string) error {
	listener, err := net.Listen("tcp", c.Listen)
	if err != nil {
		return fmt.Errorf("listen on %s: %w", c.Listen, err)
	}
	address := "http://" + listener.Addr().String()

	base := c.BaseURL
	if base == "" {
		base = address
	}

	has, err := f.HasUsers(ctx)
	if err != nil {
		return err
	}
	first := ""
	if !has {
		first = rand.Text()
	}

	sender, err := c.sender()
	if err != nil {
		return err
	}

	proxies, faults := c.proxies()
	if err := faults.Err("the configuration"); err != nil {
		return err
	}

	handler, err := api.New(
		api.Deps{
			Fleet:       f,
			Sessions:    st.Sessions(),
			Log:         s.log,
			Version:     version(),
			BaseURL:     base,
			PublicURL:   c.BaseURL,
			FirstKey:    first,
			Proxies:     proxies,
			Calculators: calc.All(),
			Ping:        st.Ping,
			DigestPreview: func(ctx context.Context, a fleet.Actor, d models.DepotID) (api.Mail, error) {
				m, err := preview(ctx, f, a, d, base)
				return api.Mail(m), err
			},
			DigestToMe: digestToMe(f, sender, c.MailFrom, base),
			DigestNext: jobs.NextDigest,
		},
	)

	if err != nil {
		return err
	}

	scheduler, err := jobs.New(
		jobs.Config{
			Fleet:   f,
			DB:      st.DB(),
			Dialect: st.Dialect(),
			Sender:  sender,
			From:    c.MailFrom,
			BaseURL: base,
			Logger:  s.log,
		},
	)
	if err != nil {
		return err
	}

	if err := scheduler.Start(ctx); err != nil {
		return err
	}

	fmt.Fprintf(s.out, "answering on %s\n", address)

	if first != "" {
		fmt.Fprintf(
			s.out,
			"nobody can sign in yet; make the first manager within an hour at\n  %s/first?key=%s\n",
			base,
			first,
		)
	}

	fmt.Fprint(s.out, welcome)

	// Writing may take longer than reading, so that whoever sends a body too slowly is still answered.
	server := &http.Server{Handler: handler, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: time.Minute,
		WriteTimeout: 70 * time.Second, IdleTimeout: 2 * time.Minute}

	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()

	select {
	case err = <-failed:
	case <-ctx.Done():
	}

	calm, cancel := context.WithTimeout(context.WithoutCancel(ctx), 20*time.Second)
	defer cancel()
	return errors.Join(err, server.Shutdown(calm), scheduler.Stop(calm))
}

// sender returns what hands mail over, or nil where no mail server is named.
func (c *serveCmd) sender() (mail.Sender, error) {
	if c.SMTPHost == "" {
		return nil, nil
	}
	return mail.NewSMTP(
		mail.Config{
			Host:     c.SMTPHost,
			Port:     c.SMTPPort,
			TLS:      mail.TLS(c.SMTPTLS),
			User:     c.SMTPUser,
			Password: c.SMTPPassword,
		},
	)
}

// digestToMe returns what mails the digest of the last seven days to the person
// who asks, or nil without a mail server.
func digestToMe(
	f *fleet.Service,
	sender mail.Sender,
	from, base string,
) func(context.Context, fleet.Actor, models.DepotID) error {
	if sender == nil {
		return nil
	}
	return func(ctx context.Context, a fleet.Actor, d models.DepotID) error {
		m, err := preview(ctx, f, a, d, base)
		if err != nil {
			return err
		}

		err = sender.Send(
			ctx,
			mail.Message{
				From:    from,
				To:      a.User.Email,
				Subject: m.Subject,
				Text:    m.Text,
				HTML:    m.HTML,
				Key:     "asked for " + rand.Text(),
			},
		)
		if err != nil {
			return &models.Error{Kind: models.Unavailable, Msg: "the mail server did not take the digest", Err: err}
		}

		return nil
	}
}

type demoCmd struct {
	Listen string `help:"Address to answer on; this machine only." default:"127.0.0.1:8080" placeholder:"HOST:PORT"`
}

func (c *demoCmd) Run(ctx context.Context, s *streams) error {
	host, _, err := net.SplitHostPort(c.Listen)
	if err != nil {
		return models.Errorf(models.Invalid, "%q is not host:port, such as 127.0.0.1:8080", c.Listen)
	}

	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return models.Errorf(
			models.Invalid,
			"the demo has published passwords and answers this machine only; use 127.0.0.1 instead of %q",
			host,
		)
	}

	// The folder is removed at the end, so that no demo data is left behind.
	folder, err := os.MkdirTemp("", "rimledger-demo-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)

	st, err := store.Open(ctx, filepath.Join(folder, "demo.sqlite"), store.Options{Migrate: true, Volatile: true})
	if err != nil {
		return err
	}
	defer st.Close()

	fmt.Fprintf(s.out, "making %s: three depots, some 60 vehicles, two years of history\n", demo.Operator)
	began := time.Now()
	if err := demo.Build(ctx, st, began, nil); err != nil {
		return err
	}

	welcome := fmt.Sprintf(
		"made in %s in %s, removed at the end. Open the address and sign in as one of these invented people:\n",
		time.Since(began).Round(100*time.Millisecond),
		folder,
	)

	for _, p := range demo.People {
		where := p.Depot
		if where == "" {
			where = "all depots"
		}
		welcome += fmt.Sprintf("  %-24s %-16s %s, %s\n", p.Email, p.Password, p.Role, where)
	}

	serve := serveCmd{Listen: c.Listen, SMTPPort: 587}
	return serve.serve(ctx, s, st, fleet.New(st, fleet.Options{}), welcome)
}
