package flight

import (
	"math"
	"slices"

	"drystage/sim"
	"drystage/sim/plain"
)

// planform is the side area of a body, projected on a plane through its axis, in m2, with its first and second
// moments about the front end, in m3 and m4.
type planform struct{ area, first, second float64 }

// gaussHalf is the distance of the two Gauss points from the middle of a length of 1: 1/(2 sqrt 3).
const gaussHalf = 0.28867513459481287

// add adds a piece from one place to another, by Gauss' rule of two points: exact where the diameter changes linearly.
func (p *planform) add(from, to float64, diameter func(x float64) float64) {
	length := to - from
	if !(length > 0) {
		return
	}
	for _, share := range [...]float64{0.5 - gaussHalf, 0.5 + gaussHalf} {
		x := from + float64(share*length)
		area := float64(0.5 * length * diameter(x))
		p.area += area
		p.first += float64(area * x)
		p.second += float64(area * float64(x*x))
	}
}

// stagePlanform gives the planform of a stage without fins.
func stagePlanform(st *sim.Stage) planform {
	var p planform
	rear := 0.0 // of the nose
	if n := &st.Nose; n.Length > 0 {
		d := noseBase(st)
		radius := func(x float64) float64 { return d * noseRadius(n.Shape, n.Length/d, x/n.Length) }
		const cuts = 32
		for i := range cuts { // closer together at the tip, where it is round
			p.add(n.Length*square(float64(i)/cuts), n.Length*square(float64(i+1)/cuts), radius)
		}
		rear = n.Length
	}
	ends := []float64{rear, max(rear, st.Length)}
	for i := range st.Transitions {
		t := &st.Transitions[i]
		ends = append(ends, clamp(t.Station, rear, ends[1]), clamp(t.Station+t.Length, rear, ends[1]))
	}
	slices.Sort(ends)
	for i := 1; i < len(ends); i++ {
		p.add(ends[i-1], ends[i], func(x float64) float64 { return diameterAt(st, x) })
	}
	return p
}

// parts gives two parts, each with half of the area, that have its area and both its moments: so they damp pitch
// and yaw as the whole side does. Their drag is that of a coefficient of 1. The stage's front end is at front.
func (p *planform) parts(front float64) []part {
	if !(p.area > 0) {
		return nil
	}
	centre := p.first / p.area
	gyration := math.Sqrt(max(0, p.second/p.area-float64(centre*centre)))
	return []part{{place: front + centre - gyration, cross: p.area / 4}, {place: front + centre + gyration, cross: p.area / 4}}
}

// shortCylinders are crossflow drag coefficients of cylinders with two free ends over that of an endless one, against
// length over diameter: 0.64, 0.68, 0.74, 0.82, 0.91, 0.98 over 1.20 (Wieselsberger's measurements at a Reynolds
// number of 88000, as handbooks give them; from memory). Allen and Perkins (NACA Report 1048) and Jorgensen (NASA TR
// R-474) apply this factor to a body at an angle of attack.
var shortCylinders = [...]struct{ fineness, factor float64 }{
	{1, 0.64 / 1.2}, {2, 0.68 / 1.2}, {5, 0.74 / 1.2}, {10, 0.82 / 1.2}, {20, 0.91 / 1.2}, {40, 0.98 / 1.2},
}

// lengthFactor gives the factor for a body of a length over its mean diameter: between the measurements linear in the
// logarithm, above them approaching 1 as 1/fineness.
func lengthFactor(fineness float64) float64 {
	t := &shortCylinders
	if !(fineness > t[0].fineness) {
		return t[0].factor
	}
	for i := 1; i < len(t); i++ {
		a, b := &t[i-1], &t[i]
		if fineness <= b.fineness {
			return a.factor + float64((b.factor-a.factor)*(plain.Log(fineness/a.fineness)/plain.Log(b.fineness/a.fineness)))
		}
	}
	last := &t[len(t)-1]
	return 1 - float64((1-last.factor)*(last.fineness/fineness))
}
