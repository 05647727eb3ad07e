//go:build race

package main

// raceOn says that the race detector makes everything ten times slower: the tests that fly many scenarios
// leave then. `make check` flies them in a run of its own.
const raceOn = true
