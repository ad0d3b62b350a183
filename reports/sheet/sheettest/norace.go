//go:build !race

package sheettest

// raceEnabled says whether the race detector watches.
const raceEnabled = false
