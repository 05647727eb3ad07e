package flight

import (
	"math"
	"testing"

	"drystage/sim"

	"github.com/stretchr/testify/assert"
)

// Lift slopes of thin wings: Helmbold's formula (1942) at rest, Prandtl and Glauert for very long ones,
// Jones's slender-wing theory at Mach 1, linear theory of rectangular wings above. The formulas are from
// memory, the numbers worked out by hand from them.
func TestFinSlope(t *testing.T) {
	for _, r := range []struct {
		reason                      string
		mach, aspect, stretch, want float64
	}{
		{"Helmbold, aspect ratio 2", 0, 2, 1, 2 * math.Pi * 2 / (2 + math.Sqrt(8))},
		{"Barrowman's mid-chord line", 0, 2, 1.25, 4 * math.Pi / (2 + math.Sqrt(4+6.25))},
		{"very long, Mach 0.6: 2 pi/0.8", 0.6, 1e6, 1, 2 * math.Pi / 0.8},
		{"aspect ratio 2, Mach 0.8", 0.8, 2, 1, 4 * math.Pi / (2 + math.Sqrt(4+0.36*4))},
		{"slender at Mach 1: pi A/2", 1, 0.7, 1.3, math.Pi * 0.35},
		{"rectangular, Mach 2, aspect ratio 2: 4/sqrt 3 (1 - 1/(4 sqrt 3))", 2, 2, 1, 1.97606774},
		{"two-dimensional, Mach 2: 4/sqrt 3", 2, 1e9, 1, 4 / math.Sqrt(3)},
	} {
		assert.InEpsilon(t, r.want, finSlope(r.mach, r.aspect, r.stretch), 1e-5, r.reason)
	}
	for _, r := range []struct {
		reason             string
		mach, aspect, want float64
	}{
		{"subsonic", 0.5, 2, 0.25}, {"b A = 1", math.Sqrt2, 1, 1.0 / 3}, {"two-dimensional: the middle", 3, 1e9, 0.5},
		{"Mach 2, aspect ratio 2", 2, 2, (2*math.Sqrt(3) - 2.0/3) / (4*math.Sqrt(3) - 1)},
	} {
		assert.InDelta(t, r.want, finCentre(r.mach, r.aspect), 1e-8, r.reason)
	}
	for _, aspect := range []float64{0.3, 1, 3} {
		for m := 0.0; m < 5; m += 0.0005 {
			rise := math.Abs(finSlope(m+0.0005, aspect, 1.1) - finSlope(m, aspect, 1.1))
			assert.Less(t, rise, 0.02*finSlope(m, aspect, 1.1), "no jump at Mach %v", m)
			assert.InDelta(t, finCentre(m, aspect), finCentre(m+0.0005, aspect), 0.01, "no jump at Mach %v", m)
		}
	}
}

// The tables give the formulas back, away from the corner of the slope at Mach 1.
func TestFinMachTable(t *testing.T) {
	f := sim.Fins{Count: 3, Root: 0.1, Tip: 0.05, Span: 0.06, Sweep: 0.05, Station: 0.8}
	middle := math.Hypot(0.06, 0.025)
	table := newFinMachTable(&f, middle)
	for m := 0.0; m < 4.9; m += 0.013 {
		if math.Abs(m-1) < 0.11 {
			continue
		}
		i, x := machCell(m)
		want := finSlope(m, 1.6, middle/0.06) / finSlope(0, 1.6, middle/0.06)
		assert.InEpsilon(t, want, cubic(&table[i].slope, x), 2e-3, "Mach %v", m)
		assert.InDelta(t, (finCentre(m, 1.6)-0.25)*7.0/90, cubic(&table[i].shift, x), 8e-4, "Mach %v: within 1 % of the mean chord, 77.8 mm", m)
	}
	i, x := machCell(1e9)
	assert.Equal(t, buildCells-1, i)
	assert.InDelta(t, 1, x, 1e-9)
}

// A stable rocket loses margin above Mach 1 although the fins' centre of pressure moves aft, since the fins
// have less lift: that is why the margin is computed through the whole flight.
func TestMarginFallsWithMach(t *testing.T) {
	st := sim.Stage{Name: "a", Length: 0.95, Diameter: 0.054, Mass: 1, CG: 0.55, Nose: sim.Nose{Length: 0.15},
		Fins: []sim.Fins{{Count: 3, Root: 0.1, Tip: 0.05, Span: 0.06, Sweep: 0.05, Station: 0.8}}}
	b := &New(&sim.Setup{Vehicle: sim.Vehicle{Stages: []sim.Stage{st}}}).bodies[0]
	slow, fast, faster := b.stability(0.3, 0).Margin, b.stability(1.1, 0).Margin, b.stability(3, 0).Margin
	assert.Greater(t, fast, slow, "at Mach 1.1")
	assert.Less(t, faster, slow, "at Mach 3")
}
