package flight

import (
	"math"
	"testing"

	"drystage/sim"

	"github.com/stretchr/testify/assert"
)

// Coefficients of skin friction, six digits, computed with mpmath from the handbook formulas.
func TestSkinFriction(t *testing.T) {
	s := newSkin()
	for _, r := range []struct{ re, laminar, schlichting, started float64 }{
		{1e6, 0.00132800, 0.00447076, 0.00277076}, {1e7, 0.000419950, 0.00300371, 0.00283371},
	} {
		assert.InEpsilon(t, r.schlichting, turbulent(r.re), 2e-6)
		assert.InEpsilon(t, r.schlichting, s.smooth.at(r.re), 2e-5, "by the table")
		assert.InEpsilon(t, r.started, s.at(r.re, math.Inf(1)), 4e-5)
	}
	assert.InEpsilon(t, 0.00419950, s.at(1e5, math.Inf(1)), 2e-6, "laminar")
	for re := 2.7e5; re < 2e9; re *= 1.03 {
		assert.InEpsilon(t, turbulent(re), s.smooth.at(re), 1e-4, "table against formula at %.3g", re)
		assert.InDelta(t, s.at(re, math.Inf(1)), s.at(re*1.0001, math.Inf(1)), 1e-6, "no jump at %.3g", re)
	}
	for re := 2100.0; re < 2.7e5; re *= 1.03 {
		assert.InEpsilon(t, turbulent(re), s.smooth.at(re), 1e-4, "the limit of a rough skin, %.3g", re)
	}
	assert.Equal(t, s.smooth.at(1e12), s.smooth.at(1e13), "held beyond the table")
	// Grains: 38.21 (l/k)^1.053, by hand for 1 m and 0.06 mm: 1.0664e6.
	limit := roughLimit(1, 6e-5)
	assert.InEpsilon(t, 38.21*math.Pow(1/6e-5, 1.053), limit, 1e-12)
	assert.InEpsilon(t, turbulent(limit)-1700/2e7, s.at(2e7, limit), 2e-4, "rough: falls no further")
	assert.Greater(t, s.at(2e7, limit), s.at(2e7, math.Inf(1)))
	assert.True(t, math.IsInf(roughLimit(1, 0), 1), "perfectly smooth")
}

// Grains above Mach 1: the cut-off Reynolds number 44.62 (l/k)^1.053 M^1.16 (Raymer), for 1.2 m and 0.2 mm, by hand.
func TestRoughSkinAboveMachOne(t *testing.T) {
	st := dartShape()
	st.Fins, st.Drag.Roughness = nil, 2e-4
	d := newBuildup([]sim.Stage{st}, 0, 0, st.Drag.Roughness)
	for _, r := range []struct{ mach, limit float64 }{
		{0.5, 3.63555e5}, {1.5, 6.79499e5}, {2, 9.48675e5}, {3, 1.518391e6},
	} {
		speed := r.mach * 340.294108
		fl := flow{airData: airData{mach: r.mach, speed: speed, density: 1.22499916}, temperature: 288.15}
		re := 1.22499916 * speed * 1.2 / viscosity(288.15)
		want := turbulent(r.limit) - 1700/re
		i, x := machCell(r.mach)
		got := (d.area(&fl) - cubic(&d.table[i].off, x)) / cubic(&d.table[i].factor, x) / d.wetted[0].area
		assert.InEpsilon(t, want, got, 5e-4, "Mach %v", r.mach)
	}
	for m := 0.5; m < 5; m += 0.003 {
		i, x := machCell(m)
		assert.InEpsilon(t, 44.62/38.21*math.Pow(m, 1.16), cubic(&d.table[i].rough, x), 2e-4, "Mach %v", m)
	}
}

// Pressure coefficients: impact pressure over static from the isentropic and Rayleigh formulas (computed
// with mpmath), base drag as Fleeman's formula gives it.
func TestPressureDrag(t *testing.T) {
	for _, r := range []struct{ mach, impact float64 }{{0.3, 0.0644303}, {0.8, 0.524340}, {1, 0.892929}, {1.5, 2.413275}} {
		assert.InDelta(t, r.impact, impactRatio(r.mach)*0.7*r.mach*r.mach, 6e-7, "Mach %v", r.mach)
	}
	assert.InDelta(t, 1, impactRatio(0), 1e-12)
	assert.InEpsilon(t, impactRatio(0.0101), impactRatio(0.0099), 1e-5, "no jump")
	for _, r := range []struct{ mach, base float64 }{{0.3, 0.1317}, {0.8, 0.2032}, {1.5, 0.166667}, {2, 0.125}} {
		assert.InDelta(t, r.base, baseDrag(r.mach), 6e-7, "Mach %v", r.mach)
	}
	assert.InDelta(t, baseDrag(1), baseDrag(1-1e-9), 1e-8)
	assert.Zero(t, waveDrag(0.79, 3))
	assert.Zero(t, thinWave(0.5, 0.1))
	// Ackeret: 4 (t/c)^2/sqrt(M^2-1): 0.04/sqrt(3) for 10 % at Mach 2.
	assert.InDelta(t, 0.04/math.Sqrt(3), thinWave(2, 0.1), 1e-12)
	// A cone of 10 degrees half-angle at Mach 2 has a pressure coefficient of 0.104 by the exact conical flow
	// (Taylor and Maccoll, NACA Report 1135 charts; from memory): Bonney's formula is close to that.
	assert.InDelta(t, 0.104, waveDrag(2, 0.5/math.Tan(10*degree)), 0.012)
	assert.Zero(t, tailSeparation(5*degree))
	assert.Equal(t, 1.0, tailSeparation(30*degree))
}

// dartShape is a cone of 0.2 m, a tube to 1.2 m, 60 mm wide, three square-edged fins.
func dartShape() sim.Stage {
	return sim.Stage{Name: "a", Length: 1.2, Diameter: 0.06, Mass: 1, CG: 0.6, Nose: sim.Nose{Shape: sim.Cone, Length: 0.2},
		Fins:  []sim.Fins{{Count: 3, Root: 0.1, Tip: 0.05, Span: 0.06, Sweep: 0.05, Thickness: 0.003, Station: 1.08}},
		Drag:  sim.Drag{Built: true, Roughness: 2e-5},
		Mount: sim.Mount{Motor: sim.Motor{Diameter: 0.029, Length: 0.2, Propellant: 0.05, Thrust: []sim.ThrustPoint{{T: 0, Thrust: 10}, {T: 1}}}}}
}

// A whole build-up, worked out separately in Python from the same formulas at sea level.
func TestBuiltDrag(t *testing.T) {
	s := newShape([]sim.Stage{dartShape()}, 0, 0)
	ref := math.Pi / 4 * 0.06 * 0.06
	for _, r := range []struct{ mach, off, on float64 }{
		{0.1, 0.5158495694, 0.4875124166}, {0.3, 0.5367952188, 0.5060286354}, {0.8, 0.6526541860, 0.6051844082},
		{1, 0.7732341429, 0.7148313651}, {1.5, 0.6835574754, 0.6446222902}, {2, 0.5954573456, 0.5662559567},
	} {
		fl := flow{airData: airData{mach: r.mach, speed: r.mach * 340.294108, density: 1.22499916}, temperature: 288.15}
		assert.InEpsilon(t, r.off, s.dragArea(&fl, 0)/ref, 3e-3, "Mach %v coasting", r.mach)
		fl.thrust = 1
		assert.InEpsilon(t, r.on, s.dragArea(&fl, 0)/ref, 3e-3, "Mach %v burning", r.mach)
	}
	assert.Equal(t, highestMach, s.machLimit)
}

// Properties that the build-up must have for any numbers: common practice, no source.
func TestBuiltDragIsPlausible(t *testing.T) {
	cd := func(st sim.Stage, mach float64) float64 {
		s := newShape([]sim.Stage{st}, 0, 0)
		return s.dragArea(&flow{airData: airData{mach: mach, speed: mach * 340, density: 1.2}, temperature: 288}, 0) / circleArea(st.Diameter)
	}
	base := dartShape()
	low := cd(base, 0.3)
	assert.True(t, low > 0.3 && low < 0.75, "Cd %v of a hobby airframe", low)
	peak := 0.0
	for m := 0.8; m < 1.3; m += 0.01 {
		peak = max(peak, cd(base, m))
	}
	assert.True(t, peak > 1.2*low && peak < 2*low, "transonic rise to %v", peak)
	for _, r := range []struct {
		reason string
		change func(*sim.Stage)
		worse  bool
	}{
		{"a rough surface", func(s *sim.Stage) { s.Drag.Roughness = 5e-4 }, true},
		{"no nose", func(s *sim.Stage) { s.Nose = sim.Nose{} }, true},
		{"thicker fins", func(s *sim.Stage) { s.Fins[0].Thickness = 0.006 }, true},
		{"four fins", func(s *sim.Stage) { s.Fins[0].Count = 4 }, true},
		{"airfoiled fins", func(s *sim.Stage) { s.Fins[0].Profile = sim.Streamlined }, false},
		{"rounded fins", func(s *sim.Stage) { s.Fins[0].Profile = sim.RoundedEdges }, false},
		{"a slender boat-tail", func(s *sim.Stage) {
			s.Transitions = []sim.Transition{{Station: 1.1, Length: 0.1, Front: 0.06, Rear: 0.04}}
		}, false},
		{"a sudden boat-tail", func(s *sim.Stage) {
			s.Transitions = []sim.Transition{{Station: 1.19, Length: 0.005, Front: 0.06, Rear: 0.04}}
		}, false},
	} {
		st := dartShape()
		r.change(&st)
		if got := cd(st, 0.3); r.worse {
			assert.Greater(t, got, low, r.reason)
		} else {
			assert.LessOrEqual(t, got, low*1.005, r.reason)
		}
	}
	for m := 0.05; m < 6; m += 0.005 {
		assert.InDelta(t, cd(base, m), cd(base, m+0.0005), 0.01, "no jump at Mach %v", m)
	}
}

// A stack is built up as one body: the joint has no base and no face.
func TestBuiltStack(t *testing.T) {
	upper, lower := dartShape(), dartShape()
	lower.Nose, lower.Stacked = sim.Nose{}, sim.Drag{Built: true, Roughness: 2e-5}
	stages := []sim.Stage{upper, lower}
	at := func(top, low int) float64 {
		s := newShape(stages, top, low)
		return s.dragArea(&flow{airData: airData{mach: 0.3, speed: 100, density: 1.2}, temperature: 288}, 0)
	}
	assert.Less(t, at(0, 1), at(0, 0)+at(1, 1)-circleArea(0.06)*(baseDrag(0.3)+0.8), "less than two bodies by a base and a flat front")
	assert.Greater(t, at(0, 1), at(0, 0))
	whole := at(0, 1)
	stages[1].Stacked = sim.Drag{}
	assert.Equal(t, whole, at(0, 1), "a sum with a built part is built up whole")
	stages[1].Transitions = []sim.Transition{{Length: 0.1, Front: 0.06, Rear: 0.08}}
	assert.Greater(t, at(0, 1), at(0, 0), "with a shoulder")
}

// Side areas against closed forms (textbook geometry), volumes against Barrowman's centre 1 - V/(S L).
func TestOutline(t *testing.T) {
	n := sim.Nose{Length: 0.3, Shape: sim.Cone}
	assert.InEpsilon(t, math.Pi*0.05*math.Hypot(0.3, 0.05), noseSkin(&n, 0.1), 1e-9, "cone")
	n.Shape = sim.Ellipse // prolate half spheroid: pi r^2 (1 + l/(r e) asin e)
	e := math.Sqrt(1 - 0.05*0.05/(0.3*0.3))
	assert.InEpsilon(t, math.Pi*0.0025*(1+0.3/(0.05*e)*math.Asin(e)), noseSkin(&n, 0.1), 1e-4, "ellipse")
	n.Shape = sim.Parabola // paraboloid: pi r/(6 l^2) ((r^2 + 4 l^2)^1.5 - r^3)
	assert.InEpsilon(t, math.Pi*0.05/(6*0.09)*(math.Pow(0.0025+0.36, 1.5)-math.Pow(0.05, 3)), noseSkin(&n, 0.1), 1e-4, "parabola")
	for _, shape := range []sim.Shape{sim.Ogive, sim.Cone, sim.Parabola, sim.Ellipse, sim.VonKarman} {
		sum := 0.0
		const cuts = 20000
		for i := range cuts {
			sum += square(noseRadius(shape, 3, (float64(i)+0.5)/cuts)) / cuts
		}
		assert.InDelta(t, 1-sum, noseCentre(&sim.Nose{Shape: shape, Length: 3}, 1), 1e-6, "shape %d", shape)
		assert.InDelta(t, 1, noseRadius(shape, 3, 1), 1e-12)
		assert.InDelta(t, 0, noseRadius(shape, 3, 0), 1e-7)
	}
	st := dartShape()
	assert.InEpsilon(t, math.Pi*0.03*math.Hypot(0.2, 0.03)+math.Pi*0.06, stageSkin(&st), 1e-9)
}

// A table with power-on rows, and a whole flight with drag built up: it goes higher than with the plain
// Cd of the worst Mach number and asks for no warning.
func TestPowerOnAndBuiltFlight(t *testing.T) {
	points := []sim.DragPoint{{Mach: 0, Cd: 0.6, PowerOn: 0.5}, {Mach: 1, Cd: 0.8}}
	table := shape{segments: newDragSegments([]dragPart{{&sim.Drag{Points: points}, 1}})}
	area := func(mach, thrust float64) float64 {
		fl := flow{airData: airData{mach: mach}}
		fl.thrust = thrust
		return table.dragArea(&fl, table.segmentAt(mach))
	}
	assert.Equal(t, 0.6, area(0, 0))
	assert.Equal(t, 0.5, area(0, 1))
	assert.InDelta(t, 0.65, area(0.5, 1), 1e-12, "a row without power_on counts as it is")
	assert.Equal(t, 0.8, area(2, 1))
	s := dunlin()
	for i := range s.Vehicle.Stages {
		st := &s.Vehicle.Stages[i]
		st.Drag = sim.Drag{Built: true, Roughness: 6e-5}
		st.Stacked = st.Drag
	}
	f := NewIdeal(s)
	f.AdvanceTo(200 * second)
	assert.True(t, f.Landed())
	m := f.Summary().Extremes
	assert.True(t, m.Height > 700 && m.Height < 1300, "%v", m.Height)
	assert.Zero(t, f.Summary().Solver.Forced)
}
