package flight

import "drystage/sim"

// Stability is the static stability of a body at small angles of attack. It is stable when its centre of
// pressure is behind its centre of gravity.
type Stability struct {
	CP, CG   float64 // m aft of the body's front end
	Slope    float64 // m2, normal force over dynamic pressure and angle, per radian
	Diameter float64 // m, the calibre: the body's largest diameter
	Margin   float64 // calibres from CG back to CP; below 0 it is unstable; 0 when there is no normal force
}

// Stability gives it for the body of a stage, at the present and at its Mach number.
func (f *Flight) Stability(stage int) Stability {
	b := f.bodyOf(stage)
	if b == nil {
		return Stability{}
	}
	x := b.fraction(f.now)
	return b.stability(b.conditionAt(x).mach, x)
}

// stability computes it at a Mach number and a fraction of the step.
func (b *body) stability(mach, x float64) Stability {
	var p massProperties
	b.massProperties(b.secondsAt(x), &p)
	return b.shape.stability(mach, p.cg)
}

// stability computes it at a Mach number, with a centre of gravity in m from the front end.
func (f *shape) stability(mach, cg float64) Stability {
	s := Stability{CG: cg, Diameter: f.calibre}
	first := 0.0
	cell, in := machCell(mach)
	for i := range f.parts {
		n := &f.parts[i]
		fin, place := n.fin, n.place
		if n.machTable != nil {
			fin *= cubic(&n.machTable[cell].slope, in)
			place += cubic(&n.machTable[cell].shift, in)
		}
		slope := 2 * (n.body + fin)
		s.Slope += slope
		first += float64(slope * place)
	}
	if s.Slope == 0 || s.Diameter <= 0 {
		return s
	}
	s.CP = first / s.Slope
	s.Margin = (s.CP - s.CG) / s.Diameter
	return s
}

// Balance gives the mass in kg and the static stability at low speed of the body of a vehicle's stages from top to low, at
// rest: with the propellant of all its motors, or with that of the lowest stage burnt.
func Balance(v *sim.Vehicle, top, low int, burnt bool) (mass float64, s Stability) {
	var m moments
	front := 0.0
	for i := top; i <= low; i++ {
		st := &v.Stages[i]
		dry := dryMoments(st, front)
		m.mass, m.first = m.mass+dry.mass, m.first+dry.first
		if i < low || !burnt {
			g := newGrain(&st.Mount, front)
			m.addGrain(float64(st.Mount.Motors())*st.Mount.Motor.Propellant, &g)
		}
		front += st.Length
	}
	shape := newShape(v.Stages, top, low)
	return m.mass, shape.stability(0, m.first/max(m.mass, minMass))
}

// Outline gives the profile of a stage from its front end to its rear end: stations and radii in m.
func Outline(st *sim.Stage) (points [][2]float64) {
	from := 0.0
	if n := &st.Nose; n.Length > 0 {
		const cuts = 24
		base := noseBase(st)
		for i := 0; i <= cuts; i++ {
			x := square(float64(i) / cuts)
			points = append(points, [2]float64{x * n.Length, noseRadius(n.Shape, n.Length/base, x) * base / 2})
		}
		from = n.Length
	} else {
		points = append(points, [2]float64{0, frontDiameter(st) / 2})
	}
	for i := range st.Transitions {
		t := &st.Transitions[i]
		points = append(points, [2]float64{max(t.Station, from), t.Front / 2}, [2]float64{t.Station + t.Length, t.Rear / 2})
	}
	return append(points, [2]float64{st.Length, rearDiameter(st) / 2})
}
