package examine

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestSteepest: the flight of a log of hours is where the pressure changes within seconds, not where the weather changes.
func TestSteepest(t *testing.T) {
	b := &signal{step: 0.05}
	for i := range 400000 { // five and a half hours, in which the weather takes 600 Pa
		at := float64(i) * b.step
		x := 101000 - 0.03*at
		if at > 15000 && at < 15040 {
			x -= 4000 * min(at-15000, 10, 15040-at) / 10
		}
		b.t, b.x = append(b.t, at), append(b.x, x)
	}
	at, ok := (&examiner{baro: b}).steepest()
	assert.True(t, ok)
	assert.InDelta(t, 15000, at, 60)
	_, ok = (&examiner{baro: &signal{step: b.step, t: b.t[:200000], x: b.x[:200000]}}).steepest()
	assert.False(t, ok, "the pad alone")
}
