package benchtest_test

import (
	"testing"

	"drystage/harness/run/benchtest"
)

// A team flies a scenario against its own board from go test. Here it is the built-in one; exec:./firmware would start
// a program, serial:/dev/ttyUSB0 a real board on a rig.
func TestOwnBoard(t *testing.T) {
	benchtest.Fly(t, "../../../scenarios/nominal.yaml", benchtest.Options{Board: []string{"mock"}})
}
