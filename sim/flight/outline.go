package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// noseRadius is the radius of a nose of fineness f (length over diameter) over its base radius, a share x
// of its length behind the tip.
func noseRadius(s sim.Shape, f, x float64) float64 {
	switch s {
	case sim.Cone:
		return x
	case sim.Parabola:
		return math.Sqrt(x)
	case sim.Ellipse:
		return math.Sqrt(max(0, 1-square(1-x)))
	case sim.VonKarman:
		// sqrt((theta - sin(2 theta)/2)/pi) with theta = acos(1 - 2 x)
		c := 1 - float64(2*x)
		s := math.Sqrt(max(0, 1-float64(c*c)))
		return math.Sqrt(max(0, plain.Atan2(s, c)-float64(s*c)) / math.Pi)
	}
	return ogiveRadius(f, 1-x)
}

// noseSkin is the side area of a nose in m2, by frusta.
func noseSkin(n *sim.Nose, diameter float64) float64 {
	const cuts = 100
	sum, before := 0.0, 0.0
	for i := 1; i <= cuts; i++ {
		x := float64(i) / cuts
		r := float64(noseRadius(n.Shape, n.Length/diameter, float64(x*x)) * diameter / 2)
		along := n.Length * (float64(x*x) - square(float64(i-1)/cuts))
		sum += frustum(before, r, along)
		before = r
	}
	return sum
}

// frustum is the side area of a frustum with two radii and a length.
func frustum(a, b, length float64) float64 {
	return float64(math.Pi * (a + b) * math.Sqrt(float64(length*length)+square(b-a)))
}

// stageSkin is the side area of a stage in m2.
func stageSkin(st *sim.Stage) float64 {
	from, sum := 0.0, 0.0
	if st.Nose.Length > 0 {
		sum, from = noseSkin(&st.Nose, noseBase(st)), st.Nose.Length
	}
	const cuts = 200
	along := (st.Length - from) / cuts
	if along <= 0 {
		return sum
	}
	before := diameterAt(st, from) / 2
	for i := 1; i <= cuts; i++ {
		r := float64(diameterAt(st, from+float64(along*float64(i))) / 2)
		sum += frustum(before, r, along)
		before = r
	}
	return sum
}

// noseBase is the diameter of a nose's base.
func noseBase(st *sim.Stage) float64 {
	if st.Nose.Diameter > 0 {
		return st.Nose.Diameter
	}
	return st.Diameter
}
