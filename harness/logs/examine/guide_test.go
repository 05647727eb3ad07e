package examine

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
)

// TestSlowSamplesMakeNoFault: of a log of few samples a second nothing is said that its sensors did not do.
func TestSlowSamplesMakeNoFault(t *testing.T) {
	for _, c := range []struct {
		reason string
		seed   uint64
	}{
		{"a rocket that tumbles at 8 rad/s in free fall, and a canopy that brakes a body of which nobody knows how it hangs", 112012},
		{"vibration of 26 m/s2 at 20 Hz leaves some metres of the height by the accelerometer", 112136},
		{"the same at 25 Hz, where a receiver leads it", 112143},
		{"half a second of spinning up, in samples of 20 Hz", 112144},
		{"the edges of a burn at 20 Hz", 112079},
		{"fins that spin the rocket up, at 25 Hz", 112009},
		{"a charge whose gas is one sample high and dies away", 112089},
		{"the ground's shock, on all axes", 134055},
	} {
		t.Run(c.reason, func(t *testing.T) {
			t.Parallel()
			l := logtest.Fly(foreign(c.seed))
			res, err := Examine(foreignLog(t, l), Options{})
			require.NoError(t, err)
			var y score
			y.odd, y.found, y.open, y.taken = map[logtest.Kind]int{}, map[logtest.Kind]int{}, map[logtest.Kind]int{}, map[logtest.Kind]map[string]int{}
			y.findings("it", &l.Truth, res)
			assert.Zero(t, y.alarmed, list(res.Findings))
		})
	}
}
