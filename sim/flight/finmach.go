package flight

import (
	"math"

	"drystage/sim"
)

// finMachTable holds the effect of Mach number on a set of fins, in cells as wide as those of a buildup.
type finMachTable [buildCells]finCell

// finCell holds cubics across one cell: the normal-force slope divided by that at Mach 0, and how far (m) the
// centre of pressure has moved aft.
type finCell struct{ slope, shift [4]float64 }

// newFinMachTable makes the table; middle is the length of the mid-chord line.
func newFinMachTable(f *sim.Fins, middle float64) *finMachTable {
	chords := f.Root + f.Tip
	aspect := 4 * f.Span / chords // of two opposite fins
	mean := 2.0 / 3 * (chords - f.Root*f.Tip/chords)
	rest := finSlope(0, aspect, middle/f.Span)
	var at [buildCells + 1][2]float64
	for i := range at {
		m := float64(buildWidth * float64(i))
		at[i] = [2]float64{finSlope(m, aspect, middle/f.Span) / rest, (finCentre(m, aspect) - 0.25) * mean}
	}
	slope := func(i, k int) float64 {
		return (at[min(i+1, buildCells)][k] - at[max(i-1, 0)][k]) / float64(min(i+1, buildCells)-max(i-1, 0))
	}
	t := new(finMachTable)
	for i := range t {
		t[i].slope = hermite(at[i][0], at[i+1][0], slope(i, 0), slope(i+1, 0))
		t[i].shift = hermite(at[i][1], at[i+1][1], slope(i, 1), slope(i+1, 1))
	}
	return t
}

// finSlope is the slope of the lift of two opposite fins on their own area, per radian. Below Mach 1
// Diederich's formula, as Barrowman's thesis (1967) uses it: 2 pi A/(2 + sqrt(4 + (b A/cos)^2)), with
// b^2 = 1 - M^2 and the sweep of the mid-chord line (stretch is 1/cos). Above, linear theory of
// rectangular wings, 4/b (1 - 1/(2 b A)) with b^2 = M^2 - 1, exact where b A is above 1; below that, a
// smooth transition from slender-wing theory, pi A/2, which both theories give at Mach 1. From memory.
func finSlope(mach, aspect, stretch float64) float64 {
	if mach <= 1 {
		b2 := 1 - float64(mach*mach)
		return 2 * math.Pi * aspect / (2 + math.Sqrt(4+float64(b2*square(aspect*stretch))))
	}
	x := aspect * math.Sqrt(float64(mach*mach)-1)
	if x >= 1 {
		return 4 * aspect / x * (1 - 0.5/x)
	}
	return aspect * (math.Pi/2 + float64((2-math.Pi/2)*smoothStep(x)))
}

// finCentre is the centre of pressure of fins as a share of their mean aerodynamic chord: a quarter up to
// Mach 0.8; linear theory of rectangular wings, (b A - 2/3)/(2 b A - 1), where b A is above 1; a smooth
// transition between. From memory.
func finCentre(mach, aspect float64) float64 {
	const low = 0.8
	high := math.Sqrt(1 + 1/float64(aspect*aspect)) // b A = 1
	if mach >= high {
		x := aspect * math.Sqrt(float64(mach*mach)-1)
		x = max(x, 1)
		return (x - 2.0/3) / (float64(2*x) - 1)
	}
	y := clamp((mach-low)/(high-low), 0, 1)
	return 0.25 + float64((1.0/3-0.25)*float64(y*y)*(3-float64(2*y)))
}

// machCell finds the cell of a table over Mach number and the position in it, from 0 to 1.
func machCell(mach float64) (int, float64) {
	x := float64(mach * (1 / buildWidth))
	if !(x < buildCells) {
		x = buildCells * (1 - 1e-12)
	}
	i := int(x)
	return i, x - float64(i)
}
