// Command rimledger keeps a fleet's tire record: it serves the pages and the
// API, imports sheets, assesses vehicles and mails the weekly digest.
//
// This package is the only place that wires the parts together.
//
// # A variable that sets nothing is refused (2026-11-25)
//
// Context: a mistyped name in the environment would go unnoticed and leave the
// default. Choice: every name that begins with RIMLEDGER_ and belongs to no flag is
// an error that shows the nearest names; RIMLEDGER_TEST_ is left to tests. So run
// takes the whole environment. Rejected: a getenv function, as run had before, which
// finds no name that nobody asks for.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"strings"
	"syscall"
	_ "time/tzdata" // depots name time zones; the machine may have none

	"github.com/alecthomas/kong"

	"rimledger/models"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Environ(), os.Stdin, os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "rimledger: "+explain(err))
		os.Exit(1)
	}
}

// program is the command line: its fields are the commands.
type program struct {
	Config   string `help:"File of settings, one 'name = value' a line; names are those of the flags." type:"path" placeholder:"FILE"`
	DB       string `help:"Database: an SQLite file, or postgres://…"                                              placeholder:"DSN"  name:"db" default:"rimledger.sqlite"`
	LogLevel string `help:"Lowest level of log lines to write: debug, info, warn or error."                                                     default:"info"             enum:"debug,info,warn,error"`

	Serve   serveCmd   `cmd:"" help:"Serve the pages and the API, and run the schedule."`
	Demo    demoCmd    `cmd:"" help:"Make an invented fleet in a temporary folder and serve it on this machine."`
	Import  importCmd  `cmd:"" help:"Import a CSV or XLSX sheet of vehicles, tires, fitments, inspections or odometers."`
	Assess  assessCmd  `cmd:"" help:"Assess vehicles again: those that time has changed, or all."`
	Digest  digestCmd  `cmd:"" help:"Print a depot's weekly digest as it would be mailed now."`
	User    userCmd    `cmd:"" help:"Add and list people, set passwords."`
	Token   tokenCmd   `cmd:"" help:"Make, list and revoke API tokens."`
	Backup  backupCmd  `cmd:"" help:"Copy the database while the server runs, and verify a copy."`
	Migrate migrateCmd `cmd:"" help:"Bring the database to this program's version, or show how far it is."`
	Calc    calcCmd    `cmd:"" help:"Compute from a JSON input without a database."`
	Version versionCmd `cmd:"" help:"Print the version."`
}

// streams are what a command reads and writes.
type streams struct {
	in       io.Reader
	out, err io.Writer
	log      *slog.Logger
}

// errHelped ends a run that only printed help.
var errHelped = errors.New("helped")

// run is the whole program: it reads args, the environment (NAME=value, as
// os.Environ gives it) and the config file, and runs one command until it is done
// or ctx ends.
func run(ctx context.Context, args, environ []string, stdin io.Reader, stdout, stderr io.Writer) (err error) {
	defer func() {
		if p := recover(); p != nil {
			if p != errHelped {
				panic(p)
			}
			err = nil
		}
	}()

	var p program

	settings := &settings{environ: environment(environ)}
	parser, err := kong.New(&p, kong.Name("rimledger"),
		kong.Description("A fleet's tire record: what was measured, what it means, what to do first.\n\n"+
			"Every flag can also be set as RIMLEDGER_NAME in the environment, or as 'name = value' in the --config "+
			"file; "+
			"flags come before the environment, the environment before the file. A secret can be given as a file: "+
			"RIMLEDGER_NAME_FILE."),
		kong.Writers(stdout, stderr), kong.Exit(func(int) { panic(errHelped) }), kong.Resolvers(settings),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		return fmt.Errorf("command line: %w", err)
	}

	// All problems are reported together, so the command is parsed in any case.
	problems := settings.load(parser, args)
	command, err := parser.Parse(args)
	if err != nil {
		return errors.Join(problems, fmt.Errorf("%w (see rimledger --help)", err))
	}
	if problems != nil {
		return errors.Join(problems, checked(command))
	}

	var level slog.Level
	if err := level.UnmarshalText([]byte(p.LogLevel)); err != nil {
		return err
	}

	s := &streams{
		in:  stdin,
		out: stdout,
		err: stderr,
		log: slog.New(slog.NewTextHandler(stderr, &slog.HandlerOptions{Level: level})),
	}

	command.BindTo(ctx, (*context.Context)(nil))
	return command.Run(&p, s)
}

// checked returns what is wrong with the values of the command that was chosen,
// as far as that shows before it runs.
func checked(command *kong.Context) error {
	if n := command.Selected(); n != nil && n.Target.CanAddr() {
		if c, ok := n.Target.Addr().Interface().(interface{ check() error }); ok {
			return c.check()
		}
	}
	return nil
}

// explain writes an error for the person at the terminal: a line for every bad field.
func explain(err error) string {
	var e *models.Error
	if all, ok := err.(interface{ Unwrap() []error }); ok && !errors.As(err, &e) || ok && err != error(e) {
		var lines []string
		for _, one := range all.Unwrap() {
			lines = append(lines, explain(one))
		}
		return strings.Join(lines, "\n")
	}

	if !errors.As(err, &e) {
		return err.Error()
	}

	text := e.Msg
	for _, f := range e.Fields {
		text += "\n  " + f.Name
		if f.Value != "" {
			text += fmt.Sprintf(" %q", f.Value)
		}
		text += ": " + f.Remedy
	}

	if e.Err != nil {
		text += "\n  " + e.Err.Error()
	}
	return text
}
