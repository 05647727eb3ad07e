package flight

import (
	"math"

	"drystage/sim"
)

// shape is the aerodynamic form of a body: stages joined from top to low. Slopes, areas and drag are in
// m2, so there is no reference area to agree on.
//
// Each part has its own velocity through the air, omega x arm included; this gives pitch and yaw damping.
// Two forces act on it across the body: Barrowman's normal force, a*sin(alpha)*cos(alpha), and crossflow
// drag of its side area, sin(alpha)^2 (Allen and Perkins, NACA Report 1048). Both are finite at any angle of attack.
type shape struct {
	parts    []part
	roll     roll
	drags    []dragPart
	segments []dragSegment // their sum
	built    *buildup      // instead of drags, times builtScale
	size     float64       // m, length

	builtScale float64

	calibre   float64 // m, the largest diameter
	machLimit float64 // the drag is valid up to here
}

// part is a point where a normal force acts.
type part struct {
	place     float64       // m from the body's front end
	body      float64       // m2, half the slope of a nose or transition: changes sign when flying backwards
	fin       float64       // m2, half the slope of fins at Mach 0: the same sign in both directions
	machTable *finMachTable // of the fins
	cross     float64       // m2, half of crossflow coefficient times side area
}

// crossCylinder and crossPlate are drag coefficients across an endless cylinder (below the critical Reynolds
// number, and at crossflow Mach numbers below 0.4) and a thin plate no longer than a few chords. Handbook values
// from memory.
const (
	crossCylinder = 1.2
	crossPlate    = 1.2
)

// newShape builds the form of stages top to low of a vehicle.
func newShape(stages []sim.Stage, top, low int) shape {
	var s shape
	var sides []part
	area := 0.0   // of all sides
	before := 0.0 // diameter of the body in front of the stage
	for i := top; i <= low; i++ {
		st := &stages[i]
		if i > top {
			if d := frontDiameter(st); d != before {
				s.parts = append(s.parts, part{place: s.size, body: slopeOfStep(before, d) / 2})
			}
		} else if st.Nose.Length > 0 {
			s.parts = append(s.parts, nosePart(st))
		} else {
			s.parts = append(s.parts, flatFront(st))
		}
		for k := range st.Transitions {
			s.parts = append(s.parts, transitionPart(&st.Transitions[k], s.size))
		}
		for k := range st.Fins {
			p, r := finPart(&st.Fins[k], diameterAt(st, st.Fins[k].Station)/2)
			p.place += s.size
			s.parts = append(s.parts, p)
			s.roll.add(r)
			s.roll.useDominant(&p, &r)
		}
		side := stagePlanform(st)
		sides = append(sides, side.parts(s.size)...)
		area += side.area
		s.size += st.Length
		s.calibre = max(s.calibre, maxDiameter(st))
		before = rearDiameter(st)
	}
	factor := crossCylinder * lengthFactor(s.size*s.size/max(area, 1e-9))
	for i := range sides {
		sides[i].cross *= factor
	}
	s.parts = append(s.parts, sides...)
	s.setDrag(stages, top, low)
	return s
}

// slopeOfStep is the normal-force slope in m2 of a change of diameter (Barrowman 1966 eq. 14, before it
// is divided by the reference area; 2 per radian on the base area for a nose, eq. 12).
func slopeOfStep(front, rear float64) float64 {
	return math.Pi / 2 * (float64(rear*rear) - float64(front*front))
}

func nosePart(st *sim.Stage) part {
	d := noseBase(st)
	return part{place: noseCentre(&st.Nose, d) * st.Nose.Length, body: slopeOfStep(0, d) / 2}
}

// flatFront is the front end of a body without a nose, as of a stage that has separated from the one above: slender-body
// theory gives every front the slope of a nose, and a flat one has it at its very end (Barrowman 1966 eq. 12 and 39 with
// no volume in front of the base). Such a body is often unstable, and tumbles. Flying backwards it has none: the flow has
// left the body before it comes there.
func flatFront(st *sim.Stage) part {
	half := slopeOfStep(0, frontDiameter(st)) / 4
	return part{body: half, fin: half}
}

// noseCentre gives a nose's centre of pressure as a share of its length. It is 1 - V/(S L), with
// volume V and base area S (Barrowman's slender body); the ogive's volume is taken from its circular
// arc, so it is exact at every fineness (0.466 is the limit for slim ones, eq. 39).
func noseCentre(n *sim.Nose, diameter float64) float64 {
	switch n.Shape {
	case sim.Cone:
		return 2.0 / 3
	case sim.Parabola, sim.VonKarman:
		return 1.0 / 2
	case sim.Ellipse:
		return 1.0 / 3
	}
	f := n.Length / diameter
	sum := 0.0 // of the radius squared over the length, Simpson's rule in the square root of x
	const cuts = 200
	for i := 0; i <= cuts; i++ {
		u := float64(i) / cuts
		x := 1 - float64(u*u) // from the base
		r := ogiveRadius(f, x)
		weight := 2.0
		switch {
		case i == 0 || i == cuts:
			weight = 1
		case i%2 == 1:
			weight = 4
		}
		sum += float64(float64(weight*float64(r*r)) * float64(2*u))
	}
	return 1 - sum/(3*cuts)
}

// ogiveRadius is the radius of a tangent ogive of fineness f over its base radius, a share x of its
// length ahead of the base.
func ogiveRadius(f, x float64) float64 {
	k := square(2 * f)          // (L/R)^2
	arc := float64((k + 1) / 2) // of the circle, in base radii
	return max(0, math.Sqrt(max(0, float64(arc*arc)-float64(k*float64(x*x))))+1-arc)
}

func transitionPart(t *sim.Transition, front float64) part {
	share := 0.5 // of the length, for equal diameters
	switch {
	case t.Rear <= 0:
		share = 1.0 / 3
	case t.Front != t.Rear:
		// (1/3)(1 + (1 - k)/(1 - k^2)) with k = d1/d2, Barrowman 1966 eq. 44
		share = (1 + 1/(1+t.Front/t.Rear)) / 3
	}
	return part{place: front + t.Station + float64(t.Length*share), body: slopeOfStep(t.Front, t.Rear) / 2}
}

// frontDiameter is that of a stage's front end: of a transition that begins there, else its own.
func frontDiameter(st *sim.Stage) float64 {
	for i := range st.Transitions {
		if st.Transitions[i].Station <= 0 {
			return st.Transitions[i].Front
		}
	}
	return st.Diameter
}

// rearDiameter is that of a stage's rear end: of its last transition, else its own.
func rearDiameter(st *sim.Stage) float64 { return diameterAt(st, st.Length) }

// diameterAt gives a stage's diameter at a station: the rear diameter of the last transition in front of it,
// or else the front diameter of the first one behind it.
func diameterAt(st *sim.Stage, station float64) float64 {
	d, at := st.Diameter, math.Inf(-1)
	if n := len(st.Transitions); n > 0 {
		d = math.NaN()
	}
	next := math.Inf(1)
	for i := range st.Transitions {
		t := &st.Transitions[i]
		switch {
		case station >= t.Station+t.Length && t.Station > at:
			at, d = t.Station, t.Rear
		case station >= t.Station && station < t.Station+t.Length:
			return t.Front + float64((t.Rear-t.Front)*((station-t.Station)/t.Length))
		case station < t.Station && math.IsInf(at, -1) && t.Station < next:
			next, d = t.Station, t.Front
		}
	}
	return d
}
