package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/agnivade/levenshtein"
)

// environment is the process's, a NAME=value each.
type environment []string

// Prefixes of the variables that are ours, and of those that only tests read.
const (
	ourPrefix  = "RIMLEDGER_"
	testPrefix = ourPrefix + "TEST_"
)

// variable is the name of the variable for a flag.
func variable(flag string) string {
	return ourPrefix + strings.ToUpper(strings.ReplaceAll(flag, "-", "_"))
}

// get returns the value of a variable, "" if it is not set.
func (e environment) get(name string) string {
	for _, pair := range slices.Backward(e) {
		if v, ok := strings.CutPrefix(pair, name+"="); ok {
			return v
		}
	}
	return ""
}

// check refuses every variable with our prefix, however it is written, that belongs
// to none of the flags: a typing error would else go unseen. Values are not shown.
func (e environment) check(flags []string) error {
	known := []string{variable("config")}
	for _, f := range flags {
		known = append(known, variable(f))
	}

	var problems []error
	for _, pair := range e {
		name, _, _ := strings.Cut(pair, "=")
		upper := strings.ToUpper(name)
		if !strings.HasPrefix(upper, ourPrefix) || strings.HasPrefix(name, testPrefix) {
			continue
		}
		flag, file := strings.CutSuffix(name, "_FILE")
		if slices.Contains(known, name) || file && slices.Contains(known, flag) && flag != variable("config") {
			continue
		}

		problems = append(
			problems,
			fmt.Errorf("environment: %s is no setting; nearest: %s", name, strings.Join(nearest(upper, known), ", ")),
		)
	}

	return errors.Join(problems...)
}

// nearest returns the up to three known names that take the fewest changes of a
// letter to come to name, with _FILE where name ends so.
func nearest(name string, known []string) []string {
	name, file := strings.CutSuffix(name, "_FILE")
	best := slices.Clone(known)
	slices.SortStableFunc(best, func(a, b string) int {
		return levenshtein.ComputeDistance(name, a) - levenshtein.ComputeDistance(name, b)
	})
	best = best[:min(3, len(best))]
	least := levenshtein.ComputeDistance(name, best[0])

	best = slices.DeleteFunc(best, func(n string) bool { return levenshtein.ComputeDistance(name, n) > least+1 })
	if file {
		for i := range best {
			if best[i] != variable("config") { // which is a file as it is
				best[i] += "_FILE"
			}
		}
	}

	return best
}
