package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
	"drystage/sim/r3"

	"gonum.org/v1/gonum/num/quat"
)

// lean is a motion of a body beside that of the equations of motion: on the pad, or below a canopy. The body turns about
// a pivot on its axis, which is arm metres behind its centre of gravity, by a horizontal rotation with the components
// east and north of its Gibbs vector (the axis times the tangent of half the angle). It also turns about its own axis by
// spin (rad) and is shifted along a way (m).
type lean struct {
	arm         motion
	east, north motion
	spin, shift motion
	way         r3.Vec // unit, world axes
}

// turning is a rotation with its rate and angular acceleration in world axes.
type turning struct {
	gibbs      r3.Vec
	rate, more r3.Vec
}

// turning gives the lean's rotation. With the Gibbs vector g, the rate is w = 2 (g' + g x g')/(1 + g g) (Shuster,
// J. Astronaut. Sci. 41, 1993, from memory); the angular acceleration is its derivative.
func (l *lean) turning() (t turning) {
	g, g1, g2 := r3.Vec{X: l.east.x, Y: l.north.x}, r3.Vec{X: l.east.v, Y: l.north.v}, r3.Vec{X: l.east.a, Y: l.north.a}
	by := 2 / (1 + dot(g, g))
	t.gibbs = g
	t.rate = scaled(by, plus(g1, cross(g, g1)))
	t.more = plus(scaled(by, plus(g2, cross(g, g2))), scaled(-float64(by*dot(g, g1)), t.rate))
	return t
}

// apply puts the lean on a body's state y, whose rotation is r, and on its accelerations: specific force and angular
// acceleration in body axes. It leaves the new rotation in r.
func (l *lean) apply(y *vector, r *rotation, a *accelerations) {
	t := l.turning()
	moved, speed, acceleration := l.moved(&t, y, r, a)
	y.setVec(atPosition, plus(y.vec(atPosition), moved))
	y.setVec(atVelocity, plus(y.vec(atVelocity), speed))
	force := plus(r.toWorld(r3.Vec{X: a[0], Y: a[1], Z: a[2]}), acceleration)

	sin, cos := plain.SincosTurns(float64(l.spin.x * (0.25 / math.Pi)))
	q := quatProduct(quatProduct(quat.Number{Real: 1, Imag: t.gibbs.X, Jmag: t.gibbs.Y}, y.attitude()), quat.Number{Real: cos, Imag: sin})
	y[6], y[7], y[8], y[9] = q.Real, q.Imag, q.Jmag, q.Kmag
	y.normalise()
	y.rotate(r)

	// With R the new rotation and S that of the spin, s = (spin', 0, 0) its rate, the rate in new body axes is
	// w = R'w_lean + S'w_old + s, and its derivative has R' = -w x R' and S' = -s x S'.
	c, d := float64(cos*cos)-float64(sin*sin), float64(2*float64(cos*sin))
	unspun := func(v r3.Vec) r3.Vec {
		return r3.Vec{X: v.X, Y: float64(c*v.Y) + float64(d*v.Z), Z: float64(c*v.Z) - float64(d*v.Y)}
	}
	spin := r3.Vec{X: l.spin.v}
	own, leaning := unspun(y.vec(atRates)), r.toBody(t.rate)
	y.setVec(atRates, plus(plus(own, leaning), spin))
	angular := plus(unspun(r3.Vec{X: a[3], Y: a[4], Z: a[5]}), r.toBody(t.more))
	angular = plus(angular, plus(cross(leaning, plus(own, spin)), cross(own, spin)))
	f := r.toBody(force)
	*a = accelerations{f.X, f.Y, f.Z, angular.X + l.spin.a, angular.Y, angular.Z}
}

// moved gives by how much the centre of gravity moves, with both derivatives, in world axes. With p the vector from the
// pivot to it before, and T the lean's rotation, that is (T - 1) p and the shift.
func (l *lean) moved(t *turning, y *vector, r *rotation, a *accelerations) (moved, speed, acceleration r3.Vec) {
	rates, arm, arm1 := y.vec(atRates), r3.Vec{X: l.arm.x}, r3.Vec{X: l.arm.v}
	p := r.toWorld(arm)
	p1 := r.toWorld(plus(cross(rates, arm), arm1))
	p2 := plus(cross(r3.Vec{X: a[3], Y: a[4], Z: a[5]}, arm), cross(rates, plus(cross(rates, arm), scaled(2, arm1))))
	p2 = r.toWorld(plus(p2, r3.Vec{X: l.arm.a}))
	var turn rotation
	gibbs := vector{atAttitude: 1, atAttitude + 1: t.gibbs.X, atAttitude + 2: t.gibbs.Y}
	gibbs.rotate(&turn)
	q, q1, q2 := turn.toWorld(p), turn.toWorld(p1), turn.toWorld(p2)
	moved = plus(plus(q, scaled(-1, p)), scaled(l.shift.x, l.way))
	speed = plus(plus(plus(q1, scaled(-1, p1)), cross(t.rate, q)), scaled(l.shift.v, l.way))
	acceleration = plus(plus(q2, scaled(-1, p2)), plus(cross(t.more, q), cross(t.rate, plus(scaled(2, q1), cross(t.rate, q)))))
	return moved, speed, plus(acceleration, scaled(l.shift.a, l.way))
}

// fillLeaning fills in the state of a body with a lean, all but Front, at a fraction of its step.
func (b *body) fillLeaning(x float64, l *lean, st *sim.State) {
	var y vector
	fl := &b.flow
	switch {
	case b.atRest():
		y = b.y
		y.rotate(&fl.rotation)
		st.Force, st.Angular = fl.rotation.toBody(r3.Vec{Z: b.gravity.at(y[2])}), r3.Vec{}
	case b.smoothAcceleration():
		b.interpolate(x, &y)
		y.normalise()
		y.rotate(&fl.rotation)
		b.acceleration.at(x, st)
	default:
		b.interpolate(x, &y)
		y.normalise()
		st.Force, st.Angular = b.accelerationsAt(x, &y)
	}
	b.applyLean(x, l, &y, st)
}

// applyLean puts a lean on a body's motion y, whose rotation is that of b.flow, and on the accelerations in st, and fills
// in the rest of st.
func (b *body) applyLean(x float64, l *lean, y *vector, st *sim.State) {
	fl := &b.flow
	a := accelerations{st.Force.X, st.Force.Y, st.Force.Z, st.Angular.X, st.Angular.Y, st.Angular.Z}
	l.apply(y, &fl.rotation, &a)
	b.stateFlow(x, y)
	st.Force, st.Angular = r3.Vec{X: a[0], Y: a[1], Z: a[2]}, r3.Vec{X: a[3], Y: a[4], Z: a[5]}
	fl.fillState(y, st)
	b.fillBody(st)
}

// fillMoving fills in the state of a body that is handled on its pad, or swings below a canopy, at the present. It says
// whether there is such a motion.
func (f *Flight) fillMoving(b *body, st *sim.State) bool {
	switch {
	case b.mode == onPad:
		l := f.pad.lean(b, f.now)
		if l == nil {
			return false
		}
		b.fillLeaning(b.fraction(f.now), l, st)
		return true
	case len(b.canopies) > 0 && b.mode == free && len(b.pathTurns) == 0:
		return f.swings[b.top].fill(f, b, st)
	}
	return false
}
