//go:build !race

package loop_test

// raceOn says that the race detector makes everything ten times slower.
const raceOn = false
