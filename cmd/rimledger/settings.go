package main

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/alecthomas/kong"
)

// settings gives flags that are not on the command line their values from the
// environment, a secret file, or the config file. It is a kong.Resolver.
type settings struct {
	environ environment
	file    map[string]string
}

// load looks over the environment and reads the config file that args or the
// environment name. It reports every unknown or repeated name at once.
func (s *settings) load(parser *kong.Kong, args []string) error {
	return errors.Join(s.environ.check(flagNames(parser.Model.Node)), s.loadFile(parser, args))
}

func (s *settings) loadFile(parser *kong.Kong, args []string) error {
	// The name of the file is needed before the command line is parsed.
	path := s.environ.get("RIMLEDGER_CONFIG")
	for i, a := range args {
		if v, ok := strings.CutPrefix(a, "--config="); ok {
			path = v
		} else if a == "--config" && i+1 < len(args) {
			path = args[i+1]
		}
	}

	if path == "" {
		return nil
	}

	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("config file: %w", err)
	}
	defer f.Close()

	// Every bad line is reported at once.
	known := flagNames(parser.Model.Node)
	s.file = map[string]string{}
	var problems []error

	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		name, value, ok := strings.Cut(line, "=")
		name = strings.TrimSpace(name)

		_, twice := s.file[name]
		switch {
		case !ok:
			problems = append(problems, fmt.Errorf("%s line %d: %q is not 'name = value'", path, n, line))
		case !slices.Contains(known, name):
			problems = append(
				problems,
				fmt.Errorf("%s line %d: unknown setting %q; settings are %s", path, n, name, strings.Join(known, ", ")),
			)
		case twice:
			problems = append(problems, fmt.Errorf("%s line %d: %q is set twice", path, n, name))
		default:
			s.file[name] = strings.TrimSpace(value)
		}
	}

	return errors.Join(append(problems, lines.Err())...)
}

// flagNames lists the flags of a command and of those below it.
func flagNames(n *kong.Node) []string {
	var names []string
	for _, f := range n.Flags {
		if f.Name != "help" && f.Name != "config" {
			names = append(names, f.Name)
		}
	}
	for _, c := range n.Children {
		names = append(names, flagNames(c)...)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// Validate is part of kong.Resolver.
func (s *settings) Validate(*kong.Application) error { return nil }

// Resolve returns the value of a flag from the environment, then from the file
// that RIMLEDGER_NAME_FILE names, then from the config file.
func (s *settings) Resolve(_ *kong.Context, _ *kong.Path, flag *kong.Flag) (any, error) {
	env := variable(flag.Name)

	value, file := s.environ.get(env), s.environ.get(env+"_FILE")
	switch {
	case value != "" && file != "":
		return nil, fmt.Errorf("%s and %s_FILE are both set; set one", env, env)
	case value != "":
		return value, nil
	case file != "":
		b, err := os.ReadFile(file)
		if err != nil {
			return nil, fmt.Errorf("%s_FILE: %w", env, err)
		}
		return strings.TrimRight(string(b), "\r\n"), nil
	}

	if v, ok := s.file[flag.Name]; ok {
		return v, nil
	}
	return nil, nil
}
