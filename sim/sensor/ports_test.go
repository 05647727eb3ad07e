package sensor

import (
	"math"
	"testing"

	"drystage/sim/r3"
	"github.com/stretchr/testify/assert"

	"drystage/sim"
)

// felt gives what the ports add to the pressure, in air of 1.225 kg/m3.
func felt(b sim.Barometer, mach float64, air r3.Vec) float64 {
	p := newPorts(&b)
	st := sim.State{Pressure: 1e5, Mach: mach, Air: air, Dynamic: 0.5 * 1.225 * r3.Dot(air, air)}
	return p.pressure(&st) - 1e5
}

func TestStaticPorts(t *testing.T) {
	rows := []sim.Port{{Mach: 0.8, Cp: 0}, {Mach: 1, Cp: 0.05}, {Mach: 1.1, Cp: -0.03}}
	for _, c := range []struct{ mach, want float64 }{{0, 0}, {0.8, 0}, {0.9, 0.025}, {1, 0.05}, {1.05, 0.01}, {1.1, -0.03}, {3, -0.03}} {
		assert.InDelta(t, c.want, portError(rows, c.mach), 1e-15, "Mach %v", c.mach)
	}
	// Cp 0.05 at Mach 1, sea level: q = 0.7 M^2 p = 70 927.5 Pa, so 3546 Pa, which reads 291 m too low.
	f := read(sim.Sensors{Baro: sim.Barometer{Rate: 1, Ports: rows}}, sim.State{Pressure: 101325, Mach: 1, Dynamic: 0.7 * 101325, Air: r3.Vec{X: 340}})
	assert.InDelta(t, 101325+3546.4, f.Pressure, 0.1)
}

func TestFlowAcross(t *testing.T) {
	b := sim.Barometer{Crossflow: -0.4, Vents: sim.Vents{Count: 3}, Ports: []sim.Port{{Mach: 0.8}, {Mach: 1, Cp: 0.05}}}
	const q = 0.5 * 1.225 * 20 * 20 // 245 Pa
	wind := felt(b, 0.06, r3.Vec{Y: 20})
	assert.InDelta(t, -0.4*q, wind, 1e-9)
	assert.True(t, wind < -70 && wind > -140, "20 m/s across: 70 to 140 Pa too little (common practice, no source)")
	assert.InDelta(t, -0.4*q, felt(b, 0.06, r3.Vec{Y: 12, Z: -16}), 1e-9, "from any side")
	for _, degrees := range []float64{1, 5, 20, 90, 170} {
		s, c := math.Sincos(degrees * math.Pi / 180)
		got := felt(b, 0.5, r3.Vec{X: 170 * c, Y: 170 * s})
		assert.InDelta(t, -0.4*0.5*1.225*170*170*s*s, got, 1e-9, "an angle of attack of %v deg: the square of its sine", degrees)
	}
	low, high := 0.0, 0.0
	for i := range 360 { // a tumble at Mach 1: from the error of the flow along to that of the flow across
		s, c := math.Sincos(float64(i) * math.Pi / 180)
		cp := felt(b, 1, r3.Vec{X: 340 * c, Z: 340 * s}) / (0.5 * 1.225 * 340 * 340)
		low, high = min(low, cp), max(high, cp)
	}
	assert.InDelta(t, 0.05, high, 1e-9)
	assert.InDelta(t, -0.4, low, 1e-9)
	assert.Zero(t, felt(b, 0, r3.Vec{}), "still air")
}

// One hole feels the pressure where it is: all of the dynamic pressure where the flow meets the body. Second path: the
// mean over n holes of the coefficient by angle, hole by hole.
func TestFewHolesFeelWhereTheyAre(t *testing.T) {
	cp := func(angle float64) float64 { return -0.4 + 0.7*(math.Cos(angle)+math.Cos(2*angle)) }
	assert.InDelta(t, 1, cp(0), 1e-12, "where the flow meets the body")
	assert.InDelta(t, -0.4, cp(math.Pi), 1e-12, "behind")
	for n := 1; n <= 5; n++ {
		for roll := 0.0; roll < 6.3; roll += 0.1 {
			b := sim.Barometer{Crossflow: -0.4, Vents: sim.Vents{Count: n, Clock: 0.3}}
			want := 0.0
			for k := range n {
				want += cp(0.3+2*math.Pi*float64(k)/float64(n)-roll) / float64(n)
			}
			got := felt(b, 0.1, r3.Vec{X: 50, Y: 20 * math.Cos(roll), Z: 20 * math.Sin(roll)}) / (0.5 * 1.225 * 400)
			assert.InDelta(t, want, got, 1e-9, "%d holes, flow from %v rad", n, roll)
		}
	}
	// Without friction the coefficient is 1 - 4 sin^2 (potential flow, Milne-Thomson), whose mean is -1.
	sum := 0.0
	for i := range 3 {
		s := math.Sin(0.2 + 2*math.Pi/3*float64(i))
		sum += (1 - 4*s*s) / 3
	}
	assert.InDelta(t, -1, sum, 1e-12)
	assert.InDelta(t, -1, felt(sim.Barometer{Crossflow: -1, Vents: sim.Vents{Count: 3}}, 0.1, r3.Vec{Y: 20})/(0.5*1.225*400), 1e-12)
}
