//go:build !race

package firmwarecontract

// raceOn says that the race detector slows everything down.
const raceOn = false
