package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/google/uuid"

	"rimledger/api/calc"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/store"
	"rimledger/reports/digest"
	"rimledger/reports/sheet"
)

// open opens the database of p, which must be at this program's version.
func (p *program) open(ctx context.Context, migrate bool) (*store.Store, *fleet.Service, error) {
	st, err := store.Open(ctx, p.DB, store.Options{Migrate: migrate})
	if err != nil {
		return nil, nil, err
	}
	return st, fleet.New(st, fleet.Options{}), nil
}

// command acts for the person at the terminal.
func command() fleet.Actor { return fleet.System(models.FromCLI) }

// depotNamed returns the depot with this name or id.
func depotNamed(ctx context.Context, f *fleet.Service, name string) (models.Depot, error) {
	all, err := f.Depots(ctx, command())
	if err != nil {
		return models.Depot{}, err
	}
	var names []string
	for _, d := range all {
		if string(d.ID) == name || strings.EqualFold(d.Name, name) {
			return d, nil
		}
		names = append(names, d.Name)
	}

	if len(names) == 0 {
		return models.Depot{}, models.Errorf(
			models.NotFound, "no depot %q; the record has none yet: add one on the page Settings", name,
		)
	}
	return models.Depot{}, models.Errorf(models.NotFound, "no depot %q; there are: %s", name, strings.Join(names, ", "))
}

type importCmd struct {
	Kind    string `arg:"" help:"vehicles, tires, fitments, inspections or odometers."`
	File    string `arg:"" help:"CSV or XLSX file, or - for CSV from standard input."`
	Depot   string `       help:"Name or id of the depot."                               required:""`
	DryRun  bool   `       help:"Check everything and record nothing."`
	Confirm bool   `       help:"Accept every unusual value instead of asking about it."`
}

func (c *importCmd) Run(ctx context.Context, p *program, s *streams) error {
	in := io.Reader(s.in)
	if c.File != "-" {
		f, err := os.Open(c.File)
		if err != nil {
			return err
		}
		defer f.Close()
		in = f
	}

	st, f, err := p.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()
	d, err := depotNamed(ctx, f, c.Depot)
	if err != nil {
		return err
	}

	b := fleet.ImportBatch{Kind: c.Kind, DepotID: d.ID, DryRun: c.DryRun, Confirm: c.Confirm}
	res, err := sheet.Import(ctx, f, command(), b, c.File, in)
	if err != nil {
		return err
	}

	_, err = fmt.Fprintln(s.out, importText(c.Kind, res))
	return err
}

// importText says what an import did, or with a dry run would do. Several rows of one
// visit are one entry.
func importText(kind string, res fleet.ImportResult) string {
	word := "recorded"
	if res.DryRun {
		word = "would be recorded (dry run)"
	}

	return fmt.Sprintf("%d rows read: %d %s %s, %d were there already",
		res.Rows, res.Created, importedThings[kind], word, res.Unchanged)
}

// importedThings are what the rows of a kind of sheet come to.
var importedThings = map[string]string{
	"vehicles":    "vehicles",
	"tires":       "tires",
	"fitments":    "fitting entries (one for each vehicle and time)",
	"odometers":   "odometer entries",
	"inspections": "inspections (one for each vehicle and time)",
}

type assessCmd struct {
	All bool `help:"Learn wear rates from the fleet and assess every vehicle, not only those that time has changed."`
}

func (c *assessCmd) Run(ctx context.Context, p *program, s *streams) error {
	st, f, err := p.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()

	ctx, stop := signal.NotifyContext(ctx, os.Interrupt)
	defer stop()

	var n int
	if c.All {
		if _, err := f.LearnWear(ctx); err != nil {
			return err
		}
		n, err = f.AssessAll(ctx, func(done int) { fmt.Fprintf(s.err, "\r%d vehicles", done) })
		fmt.Fprintln(s.err)
	} else {
		n, err = f.AssessDue(ctx)
	}

	fmt.Fprintf(s.out, "%d vehicles assessed\n", n)
	return err
}

type digestCmd struct {
	Depot string `required:"" help:"Name or id of the depot."`
	HTML  bool   `            help:"Print the HTML part instead." name:"html"`
}

func (c *digestCmd) Run(ctx context.Context, p *program, s *streams) error {
	st, f, err := p.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()
	d, err := depotNamed(ctx, f, c.Depot)
	if err != nil {
		return err
	}

	m, err := preview(ctx, f, command(), d.ID, "")
	if err != nil {
		return err
	}
	if c.HTML {
		_, err = io.WriteString(s.out, m.HTML)
		return err
	}

	_, err = fmt.Fprintf(s.out, "Subject: %s\n\n%s", m.Subject, m.Text)
	return err
}

// preview renders the digest of the seven days up to now.
func preview(
	ctx context.Context,
	f *fleet.Service,
	a fleet.Actor,
	d models.DepotID,
	baseURL string,
) (digest.Mail, error) {
	now := time.Now()
	content, err := f.DigestOf(ctx, a, d, now.AddDate(0, 0, -7), now)
	if err != nil {
		return digest.Mail{}, err
	}
	return digest.Render(content, baseURL)
}

type userCmd struct {
	Add      userAddCmd      `cmd:"" help:"Add a person; the password is read from standard input."`
	List     userListCmd     `cmd:"" help:"List the people."`
	Password userPasswordCmd `cmd:"" help:"Set a person's password, read from standard input."`
}

type userAddCmd struct {
	Email string   `arg:"" help:"Email address to sign in with."`
	Name  string   `       help:"Name as it appears in the record."                             required:""`
	Role  string   `       help:"viewer, technician or manager."                                required:"" enum:"viewer,technician,manager"`
	Depot []string `       help:"Depot by name or id; may be repeated. All depots if left out."`
}

// password reads one line.
func password(in io.Reader) (string, error) {
	b, err := io.ReadAll(io.LimitReader(in, 4096))
	if err != nil {
		return "", err
	}
	line, _, _ := bytes.Cut(b, []byte("\n"))
	return strings.TrimRight(string(line), "\r"), nil
}

func (c *userAddCmd) Run(ctx context.Context, p *program, s *streams) error {
	fmt.Fprintln(s.err, "password (10 characters or more), then Enter:")
	pw, err := password(s.in)
	if err != nil {
		return err
	}
	if pw == "" {
		return models.Errorf(models.Invalid, "no password on standard input")
	}

	st, f, err := p.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()

	u := models.User{
		ID:    models.UserID(uuid.Must(uuid.NewV7()).String()),
		Name:  c.Name,
		Email: c.Email,
		Role:  models.Role(c.Role),
	}

	for _, name := range c.Depot {
		d, err := depotNamed(ctx, f, name)
		if err != nil {
			return err
		}
		u.Depots = append(u.Depots, d.ID)
	}

	if u, err = f.AddUser(ctx, command(), u, pw); err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "added %s <%s> as %s\n", u.Name, u.Email, u.Role)
	return err
}

// depotNames returns the names of all depots.
func depotNames(ctx context.Context, f *fleet.Service) (map[models.DepotID]string, error) {
	all, err := f.Depots(ctx, command())
	names := map[models.DepotID]string{}
	for _, d := range all {
		names[d.ID] = d.Name
	}
	return names, err
}

type userListCmd struct{}

func (c *userListCmd) Run(ctx context.Context, p *program, s *streams) error {
	st, f, err := p.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()
	users, err := f.Users(ctx, command())
	if err != nil {
		return err
	}

	names, err := depotNames(ctx, f)
	if err != nil {
		return err
	}

	w := tabwriter.NewWriter(s.out, 0, 4, 2, ' ', 0)
	fmt.Fprintln(w, "NAME\tMAIL\tROLE\tDEPOTS\tSTATE")

	for _, u := range users {
		depots, state := "all", "active"
		if len(u.Depots) > 0 {
			var own []string
			for _, id := range u.Depots {
				own = append(own, names[id])
			}
			depots = strings.Join(own, ", ")
		}
		if u.Disabled {
			state = "disabled"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", u.Name, u.Email, u.Role, depots, state)
	}

	return w.Flush()
}

// userByEmail returns the person with this mail address.
func userByEmail(ctx context.Context, f *fleet.Service, email string) (models.User, error) {
	users, err := f.Users(ctx, command())
	if err != nil {
		return models.User{}, err
	}
	for _, u := range users {
		if strings.EqualFold(u.Email, email) {
			return u, nil
		}
	}
	return models.User{}, models.Errorf(models.NotFound, "nobody signs in with %q", email)
}

type userPasswordCmd struct {
	Email string `arg:"" help:"Email address of the person."`
}

func (c *userPasswordCmd) Run(ctx context.Context, p *program, s *streams) error {
	fmt.Fprintln(s.err, "new password (10 characters or more), then Enter:")
	pw, err := password(s.in)
	if err != nil {
		return err
	}

	st, f, err := p.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()
	u, err := userByEmail(ctx, f, c.Email)
	if err != nil {
		return err
	}

	if err := f.SetPassword(ctx, command(), u.ID, pw); err != nil {
		return err
	}

	_, err = fmt.Fprintf(s.out, "password of %s set\n", u.Name)
	return err
}

type tokenCmd struct {
	Add    tokenAddCmd    `cmd:"" help:"Make a token that acts for a person; its secret is shown once."`
	Revoke tokenRevokeCmd `cmd:"" help:"End a token."`
}

type tokenAddCmd struct {
	Email    string `arg:"" help:"Email address of the person it acts for."`
	Name     string `       help:"What the token is for."                   required:""`
	ReadOnly bool   `       help:"May only read."`
	Days     int    `       help:"Days until it expires."                               default:"365"`
}

func (c *tokenAddCmd) Run(ctx context.Context, p *program, s *streams) error {
	st, f, err := p.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()
	u, err := userByEmail(ctx, f, c.Email)
	if err != nil {
		return err
	}

	t, secret, err := f.AddToken(
		ctx,
		command(),
		models.Token{UserID: u.ID, Name: c.Name, ReadOnly: c.ReadOnly, ExpiresAt: time.Now().AddDate(0, 0, c.Days)},
	)
	if err != nil {
		return err
	}

	_, err = fmt.Fprintf(
		s.out,
		"token %s for %s, until %s; this is the only time it is shown:\n%s\n",
		t.ID,
		u.Name,
		t.ExpiresAt.Format(time.DateOnly),
		secret,
	)

	return err
}

type tokenRevokeCmd struct {
	ID string `arg:"" help:"ID of the token, as token add printed it."`
}

func (c *tokenRevokeCmd) Run(ctx context.Context, p *program, s *streams) error {
	st, f, err := p.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()
	if err := f.RevokeToken(ctx, command(), models.TokenID(c.ID)); err != nil {
		return err
	}
	_, err = fmt.Fprintln(s.out, "revoked")
	return err
}

type backupCmd struct {
	Path   string `arg:"" help:"File to write, or with --verify to check."`
	Verify bool   `       help:"Check that a copy opens and is whole, and count what is in it."`
}

func (c *backupCmd) Run(ctx context.Context, p *program, s *streams) error {
	if !c.Verify {
		st, _, err := p.open(ctx, false)
		if err != nil {
			return err
		}
		defer st.Close()
		if err := st.Backup(ctx, c.Path); err != nil {
			return err
		}
	}

	counts, err := store.Verify(ctx, c.Path)
	if err != nil {
		return err
	}

	w := tabwriter.NewWriter(s.out, 0, 4, 2, ' ', 0)
	for _, n := range counts {
		fmt.Fprintf(w, "%s\t%d\n", n.Table, n.Rows)
	}

	fmt.Fprintf(w, "%s opens and is whole\n", c.Path)
	return w.Flush()
}

type migrateCmd struct {
	Status bool `help:"Only show which steps are done."`
}

func (c *migrateCmd) Run(ctx context.Context, p *program, s *streams) error {
	if c.Status {
		steps, err := store.MigrationStatus(ctx, p.DB)
		for _, step := range steps {
			fmt.Fprintln(s.out, step)
		}
		return err
	}

	st, _, err := p.open(ctx, true)
	if err != nil {
		return err
	}
	defer st.Close()

	_, err = fmt.Fprintln(s.out, "the database is at this program's version")
	return err
}

type calcCmd struct {
	Name    string `arg:"" optional:"" help:"What to compute; leave out for the list."`
	Example bool   `                   help:"Print a valid input instead."`
	File    string `                   help:"JSON input; standard input if left out."  placeholder:"FILE"`
}

func (c *calcCmd) Run(_ context.Context, _ *program, s *streams) error {
	all := calc.All()
	if c.Name == "" {
		return listCalculators(s.out, all)
	}

	i := slices.IndexFunc(all, func(k calc.Calculator) bool { return k.Name == c.Name })
	if i < 0 {
		var names []string
		for _, k := range all {
			names = append(names, k.Name)
		}
		return models.Errorf(models.NotFound, "nothing is called %q; there are: %s", c.Name, strings.Join(names, ", "))
	}

	return c.compute(all[i], s)
}

func listCalculators(out io.Writer, all []calc.Calculator) error {
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	for _, k := range all {
		fmt.Fprintf(w, "%s\t%s\n", k.Name, k.Summary)
	}

	return w.Flush()
}

// compute prints what k makes of the input, or its example.
func (c *calcCmd) compute(k calc.Calculator, s *streams) error {
	out := json.NewEncoder(s.out)
	out.SetIndent("", "  ")
	if c.Example {
		return out.Encode(k.Example)
	}

	in := s.in
	if c.File != "" {
		f, err := os.Open(c.File)
		if err != nil {
			return err
		}
		defer f.Close()
		in = f
	}

	b, err := io.ReadAll(io.LimitReader(in, 1<<20))
	if err != nil {
		return err
	}
	result, err := k.Run(b)
	if err != nil {
		return err
	}

	return out.Encode(result)
}

type versionCmd struct{}

func (c *versionCmd) Run(s *streams) error {
	_, err := fmt.Fprintln(s.out, "rimledger "+version())
	return err
}

// version is the module's version, or the commit it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return s.Value[:12]
		}
	}
	return strings.Trim(info.Main.Version, "()")
}
