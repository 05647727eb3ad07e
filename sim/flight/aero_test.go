package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
)

// centre gives slope per radian on a diameter and centre of pressure at small angles.
func (s *shape) centre(d float64) (slope, x float64) {
	for _, p := range s.parts {
		slope += 2 * (p.body + p.fin)
		x += 2 * (p.body + p.fin) * p.place
	}
	return slope / (math.Pi / 4 * d * d), x / slope
}

// Barrowman's equations (NARAM-8, 1966): own examples, computed by hand from the printed equations.
func TestCentreOfPressure(t *testing.T) {
	upper := sim.Stage{Length: 0.5, Diameter: 0.04, Nose: sim.Nose{Shape: sim.Cone, Length: 0.1},
		Fins: []sim.Fins{{Count: 3, Root: 0.08, Tip: 0.04, Span: 0.05, Sweep: 0.04, Station: 0.4}}}
	lower := sim.Stage{Length: 0.8, Diameter: 0.06, Transitions: []sim.Transition{{Length: 0.05, Front: 0.04, Rear: 0.06}},
		Fins: []sim.Fins{{Count: 3, Root: 0.12, Tip: 0.06, Span: 0.08, Sweep: 0.06, Station: 0.6}}}
	rows := []struct {
		reason   string
		stages   []sim.Stage
		diameter float64
		slope, x float64
	}{
		{"cone, boat-tail and four fins", []sim.Stage{{Length: 0.96, Diameter: 0.054, Nose: sim.Nose{Shape: sim.Cone, Length: 0.12},
			Transitions: []sim.Transition{{Station: 0.9, Length: 0.06, Front: 0.054, Rear: 0.038}},
			Fins:        []sim.Fins{{Count: 4, Root: 0.09, Tip: 0.04, Span: 0.055, Sweep: 0.045, Station: 0.79}}}}, 0.054, 10.396631, 0.673164723},
		{"two-stage stack with a shoulder", []sim.Stage{upper, lower}, 0.04, 40.4667211, 0.875785652},
		{"sustainer alone", []sim.Stage{upper}, 0.04, 12.2858915, 0.373644272},
	}
	for _, r := range rows {
		s := newShape(r.stages, 0, len(r.stages)-1)
		slope, x := s.centre(r.diameter)
		assert.InEpsilon(t, r.slope, slope, 2e-9, r.reason)
		assert.InDelta(t, r.x, x, 1e-9, r.reason)
	}
	// The first example takes 0.466 L for the ogive; exactly it is 0.4646 L at this fineness of 2.78.
	s := newShape([]sim.Stage{{Length: 0.95, Diameter: 0.054, Nose: sim.Nose{Length: 0.15},
		Fins: []sim.Fins{{Count: 3, Root: 0.1, Tip: 0.05, Span: 0.06, Sweep: 0.05, Station: 0.8}}}}, 0, 0)
	slope, x := s.centre(0.054)
	assert.InEpsilon(t, 10.3555947, slope, 1e-8, "ogive and three fins")
	assert.InDelta(t, 0.692613582+2/slope*0.15*(noseCentre(&sim.Nose{Length: 0.15}, 0.054)-0.466), x, 1e-9)
	assert.InDelta(t, 0.692613582, x, 2e-4, "and close to the usual rule")
	plain := newShape([]sim.Stage{{Length: 0.5, Diameter: 0.04}, {Length: 0.5, Diameter: 0.06}}, 0, 1)
	slope, x = plain.centre(0.04)
	assert.InDelta(t, 2+2.5, slope, 1e-12, "a flat front counts as a nose, a bare step of diameter as a shoulder")
	assert.InDelta(t, 2.5*0.5/4.5, x, 1e-12)
}

// The share of its normal force that a fin keeps beside many others: MIL-HDBK-762, from memory; it could not be checked.
func TestManyFins(t *testing.T) {
	set := sim.Fins{Root: 0.1, Tip: 0.05, Span: 0.06, Sweep: 0.05}
	slope := func(count int) (float64, roll) {
		set.Count = count
		p, r := finPart(&set, 0.027)
		return 2 * p.fin, r
	}
	three, _ := slope(3)
	assert.InEpsilon(t, 8.35559469*math.Pi/4*0.054*0.054, three, 1e-8, "Barrowman's three fins")
	for count, share := range map[int]float64{4: 1, 5: 0.948, 6: 0.913, 7: 0.854, 8: 0.81} {
		n, r := slope(count)
		assert.InEpsilon(t, share*float64(count)/3*three, n, 1e-12, "%d fins", count)
		assert.Positive(t, r.damp)
	}
}

// Barrowman's report, table of X/d of a tangent ogive against fineness (as transcribed; two entries of
// the transcription are wrong and left out), and exact quadrature by mpmath.
func TestNoseCentre(t *testing.T) {
	for _, r := range []struct{ fineness, printed, exact float64 }{
		{1, 0.430, 0.430030}, {2, 0.914, 0.914480}, {3, 0, 1.387360}, {4, 0, 1.857168}, {5, 2.326, 2.325727},
		{6, 2.794, 2.793658}, {7, 3.261, 3.261229}, {8, 3.729, 3.728575}, {9, 4.196, 4.195769}, {10, 4.663, 4.662859},
	} {
		got := r.fineness * noseCentre(&sim.Nose{Shape: sim.Ogive, Length: r.fineness}, 1)
		assert.InDelta(t, r.exact, got, 2e-6, "fineness %v", r.fineness)
		if r.printed > 0 {
			assert.InDelta(t, r.printed, got, 6e-4, "printed, fineness %v", r.fineness)
		}
	}
	// Slender body theory, 1 - V/(S L) with the volumes of solids (computed from the formula).
	for shape, want := range map[sim.Shape]float64{sim.Cone: 2.0 / 3, sim.Parabola: 0.5, sim.Ellipse: 1.0 / 3} {
		assert.InDelta(t, want, noseCentre(&sim.Nose{Shape: shape, Length: 3}, 1), 1e-12)
	}
}

// Mandell, Caporaso, Bengen: omega = sqrt(C1/I), damping ratio (C2A + C2R)/(2 sqrt(C1 I)). The example's
// numbers are an independent computation from these formulas.
func TestPitchFrequency(t *testing.T) {
	f := plainFlight(1.225, &sim.Setup{Vehicle: sim.Vehicle{Stages: []sim.Stage{{Name: "a", Length: 1, Diameter: 0.1, CG: 0.5,
		Mass: 1e6, Inertia: sim.Inertia{Axial: 0.01, Transverse: 0.8}}}}})
	f.gravity = gravity{}
	f.shapes[0][0].parts = []part{{place: 0.7, fin: 12 * math.Pi / 4 * 0.01 / 2}}
	f.throw(r3.Vec{Z: 100}, r3.Vec{Y: 0.05})
	var crossed []float64
	before := f.States()[0].Rates.Y
	var peaks []float64
	for i := 0; i < 4000; i++ {
		f.AdvanceTo(f.now + sim.Millisecond)
		st := &f.States()[0]
		if q := st.Rates.Y; before < 0 && q >= 0 {
			crossed = append(crossed, f.now.Seconds()-0.001*q/(q-before))
			peaks = append(peaks, st.Alpha())
			before = q
		} else {
			before = q
		}
	}
	n := len(crossed) - 1
	assert.Greater(t, n, 5)
	period := (crossed[n] - crossed[0]) / float64(n)
	zeta := math.Log(peaks[0]/peaks[n]) / (2 * math.Pi * float64(n))
	assert.InEpsilon(t, 1.91195975*math.Sqrt(1-0.0120132*0.0120132), 1/period, 2e-4, "frequency in Hz")
	assert.InEpsilon(t, 0.0120132, zeta, 2e-2, "damping ratio")
}

// Strip theory: a fin set turns steadily when forcing and damping balance, p/u = cant * integral of
// y c / integral of y^2 c (Barrowman's bracket); checked by a sum of strips.
func TestRollOfCantedFins(t *testing.T) {
	fins := sim.Fins{Count: 4, Root: 0.1, Tip: 0.04, Span: 0.06, Sweep: 0.03, Station: 0.9, Cant: 0.5 * degree}
	_, r := finPart(&fins, 0.027)
	one, two := 0.0, 0.0
	const strips = 100000
	for i := range strips {
		y := (float64(i) + 0.5) / strips
		area := (fins.Root + (fins.Tip-fins.Root)*y) * fins.Span / strips
		arm := 0.027 + y*fins.Span
		one += area * arm
		two += area * arm * arm
	}
	assert.InEpsilon(t, one/two, r.force/r.damp/fins.Cant, 1e-8)

	f := plainFlight(1.225, &sim.Setup{Vehicle: sim.Vehicle{Stages: []sim.Stage{{Name: "a", Length: 1, Diameter: 0.054, CG: 0.5, Mass: 1e4,
		Inertia: sim.Inertia{Axial: 1e-4, Transverse: 0.1}, Nose: sim.Nose{Length: 0.15}, Fins: []sim.Fins{fins}}}}})
	f.shapes[0][0].roll.drag = 0
	f.gravity = gravity{}
	f.throw(r3.Vec{Z: 50}, r3.Vec{})
	f.AdvanceTo(2 * sim.Second)
	assert.InEpsilon(t, 50*fins.Cant*one/two, f.States()[0].Rates.X, 1e-4, "steady roll rate")
}

// At 90 degrees angle of attack a body has the crossflow drag of its side area, and all numbers stay plausible.
func TestBroadside(t *testing.T) {
	f := plainFlight(1.225, &sim.Setup{Vehicle: sim.Vehicle{Stages: []sim.Stage{{Name: "a", Length: 1, Diameter: 0.05, CG: 0.5, Mass: 2, Drag: sim.Drag{Cd: 0.5}}}}})
	f.throw(r3.Vec{X: 30}, r3.Vec{})
	st := &f.States()[0]
	assert.InDelta(t, math.Pi/2, st.Alpha(), 1e-12)
	assert.InDelta(t, 0.5*1.225*900*0.91*0.05/2, r3.Norm(st.Force), 1e-9, "half rho v^2 Cd d L over the mass; Cd 0.91 of a cylinder of fineness 20")
	assert.InDelta(t, 0, r3.Norm(st.Angular), 1e-9, "pushed at its middle")
}

func TestDrag(t *testing.T) {
	table := sim.Drag{Points: []sim.DragPoint{{Mach: 0.5, Cd: 0.4}, {Mach: 1, Cd: 0.8}}}
	stages := []sim.Stage{
		{Diameter: 0.05, Length: 1, Drag: sim.Drag{Cd: 0.5}},
		{Diameter: 0.06, Length: 1, Drag: sim.Drag{Cd: 0.7}, Stacked: table},
		{Diameter: 0.08, Length: 1, Drag: sim.Drag{Cd: 0.9}},
	}
	s5, s6, s8 := math.Pi/4*0.0025, math.Pi/4*0.0036, math.Pi/4*0.0064
	for _, r := range []struct {
		reason   string
		top, low int
		mach     float64
		want     float64
	}{
		{"alone", 0, 0, 0.7, 0.5 * s5},
		{"alone, not stacked", 1, 1, 0.7, 0.7 * s6},
		{"stacked, below the table", 0, 1, 0.2, 0.4 * s6},
		{"stacked, in the table", 0, 1, 0.75, 0.6 * s6},
		{"stacked, above the table", 0, 1, 3, 0.8 * s6},
		{"no stacked drag given: the sum", 0, 2, 0.7, 0.5*s5 + 0.7*s6 + 0.9*s8},
		{"two lower stages: the sum", 1, 2, 0.7, 0.7*s6 + 0.9*s8},
	} {
		s := newShape(stages, r.top, r.low)
		assert.InDelta(t, r.want, s.dragArea(&flow{airData: airData{mach: r.mach}}, s.segmentAt(r.mach)), 1e-12, r.reason)
	}
}
