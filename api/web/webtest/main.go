// Package webtest is the world in which pages are tested: a server over an
// invented yard or fleet, people without a browser, browsers, and a look at what a
// page is made of. Only tests use it.
//
// A package whose tests use it runs them through Main. Databases are copied from
// ones that are made once in each test program, and one browser serves all tests of
// a package, each in a session of its own. Whatever needs a browser is left out of
// short tests.
package webtest

import (
	"fmt"
	"os"
	"testing"
)

// shared is the folder of what the tests of a program have in common; empty outside Main.
var shared string

// Main runs the tests of a package: func TestMain(m *testing.M) { webtest.Main(m) }.
// It ends the program.
func Main(m *testing.M) { os.Exit(run(m)) }

func run(m *testing.M) int {
	folder, err := os.MkdirTemp("", "rimledger-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, "no folder for the tests:", err)
		return 1
	}
	shared = folder

	defer func() { _ = os.RemoveAll(folder) }()
	defer func() { endChromium() }()
	return m.Run()
}

// sharedFolder returns the folder of what tests have in common.
func sharedFolder(t testing.TB) string {
	t.Helper()
	if shared == "" {
		t.Fatal("the package has no func TestMain(m *testing.M) { webtest.Main(m) }")
	}
	return shared
}
