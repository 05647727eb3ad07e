package phases

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// drawn is a rocket that a seed draws.
func drawn(seed uint64, vibration float64) rocket {
	rng := rand.New(rand.NewPCG(seed, 5))
	r := rocket{drag: 0.0005 * math.Exp(1.5*rng.Float64()), seed: seed, vibration: vibration}
	r.rate = []float64{20, 50, 100, 200, 400, 1000}[rng.IntN(6)]
	r.colour = []float64{0, 0, 0.5, 0.8}[rng.IntN(4)]
	r.burns = []burnt{{0, 0.6 + 2.5*rng.Float64(), 50 + 80*rng.Float64(), rng.IntN(4)}}
	if rng.IntN(3) == 0 {
		r.burns = append(r.burns, burnt{1 + rng.Float64(), 0.8 + 2*rng.Float64(), 40 + 60*rng.Float64(), rng.IntN(4)})
		r.apart, r.kick = 0.3, []float64{0, 60}[rng.IntN(2)]
	}
	if rng.IntN(3) == 0 {
		r.rail = 156.9 * (0.4 + 0.6*rng.Float64())
	}
	return r
}

// TestPhasesInVibration: every phase of flights by other equations is found, however loud the motor.
func TestPhasesInVibration(t *testing.T) {
	good, all, sure, falseBurns := 0, 0, 0, 0
	for _, vibration := range []float64{0, 2, 5, 15, 30} {
		for seed := range uint64(12) {
			r := drawn(seed, vibration)
			f := r.fly()
			g := Find(f.log, f.on[0], f.end)
			name := fmt.Sprintf("vibration %.0f seed %d at %.0f Hz, %+v", vibration, seed, r.rate, r.burns)
			if len(g.Boosts) != len(r.burns) {
				t.Logf("%s: %d burns; %v", name, len(g.Boosts), g.Ascent)
				falseBurns++
			}
			check := func(what string, want float64, e Edge, found bool) {
				all++
				d := math.Abs(e.At - want)
				if found && d < max(0.1, 2*e.SD) {
					good++
				} else {
					t.Logf("%s: %s at %.3f, not %.3f +- %.3f", name, what, want, e.At, 2*e.SD)
				}
				if found && d < 2*e.SD {
					sure++
				}
			}
			for i := range r.burns {
				var b Burn
				if i < len(g.Boosts) {
					b = g.Boosts[i]
				}
				check(fmt.Sprint("ignition ", i+1), f.on[i], b.On, i < len(g.Boosts))
				check(fmt.Sprint("burnout ", i+1), f.off[i], b.Off, i < len(g.Boosts))
			}
			check("apogee", f.apogee, g.Apogee, true)
		}
	}
	t.Logf("%d of %d phases within 0.1 s or their uncertainty, %d within their uncertainty; %d logs with another number of burns", good, all, sure, falseBurns)
	assert.GreaterOrEqual(t, float64(good), 0.97*float64(all))
}

// TestABrakeIsNoBurn: a burnout is where the motor ends, though something brakes the rocket as hard a little later, or a sensor
// says so.
func TestABrakeIsNoBurn(t *testing.T) {
	for _, vibration := range []float64{0, 5} {
		for k := range 16 {
			r := drawn(uint64(k/2), vibration)
			r.burns, r.rail, r.kick, r.apart, r.rate = r.burns[:1], 0, 0, 0, max(r.rate, 100)
			r.burns[0].shape = 0
			r.brake, r.made = 0.1+0.02*float64(k/2), k%2 == 1
			f := r.fly()
			g := Find(f.log, f.on[0], f.end)
			if assert.Len(t, g.Boosts, 1) {
				assert.InDelta(t, f.off[0], g.Boosts[0].Off.At, 0.05, "vibration %.0f, %.2f s after a burnout at %.0f Hz, made up %v: %v", vibration, r.brake, r.rate, r.made, g.Ascent)
			}
		}
	}
}
