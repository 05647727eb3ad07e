//go:build race

package audit_test

// raceOn says that the race detector makes everything ten times slower.
const raceOn = true
