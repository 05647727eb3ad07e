package flight

import (
	"math"

	"gonum.org/v1/gonum/num/quat"

	"drystage/sim/r3"
)

// vector is the state vector that is integrated: position and velocity in world axes, attitude quaternion (real
// part first), body rates.
type vector [13]float64

// Indices of the parts of a vector.
const (
	atPosition = 0
	atHeight   = 2
	atVelocity = 3
	atAttitude = 6
	atRates    = 10
)

func (y *vector) vec(i int) r3.Vec { return r3.Vec{X: y[i], Y: y[i+1], Z: y[i+2]} }

func (y *vector) setVec(i int, v r3.Vec) { y[i], y[i+1], y[i+2] = v.X, v.Y, v.Z }

func (y *vector) attitude() quat.Number {
	return quat.Number{Real: y[6], Imag: y[7], Jmag: y[8], Kmag: y[9]}
}

// attitudeRates gives the derivative of the attitude quaternion, real part first, at body rates in rad/s.
func (y *vector) attitudeRates(p, q, r float64) (dw, da, dc, dd float64) {
	w, a, c, d := y[6], y[7], y[8], y[9]
	dw = -float64(0.5 * (float64(a*p) + float64(c*q) + float64(d*r)))
	da = float64(0.5 * (float64(w*p) + float64(c*r) - float64(d*q)))
	dc = float64(0.5 * (float64(w*q) + float64(d*p) - float64(a*r)))
	dd = float64(0.5 * (float64(w*r) + float64(a*q) - float64(c*p)))
	return dw, da, dc, dd
}

// moveAlongAxis moves y to a point of the same rigid body, by metres further ahead on its axis.
func (y *vector) moveAlongAxis(turn *rotation, by float64) {
	arm := r3.Vec{X: by}
	y.setVec(atPosition, plus(y.vec(atPosition), turn.toWorld(arm)))
	y.setVec(atVelocity, plus(y.vec(atVelocity), turn.toWorld(cross(y.vec(atRates), arm))))
}

// normalise makes the attitude a unit quaternion again.
func (y *vector) normalise() {
	n := math.Sqrt(float64(y[6]*y[6]) + float64(y[7]*y[7]) + float64(y[8]*y[8]) + float64(y[9]*y[9]))
	for i := atAttitude; i < atRates; i++ {
		y[i] /= n
	}
}

// rotation is the matrix that turns body axes into world axes; its columns are the body's axes.
type rotation struct{ xx, xy, xz, yx, yy, yz, zx, zy, zz float64 }

// rotation is correct for a quaternion of any length.
func (y *vector) rotation() (r rotation) {
	y.rotate(&r)
	return r
}

// rotate writes the rotation in place: copying a matrix just written takes longer than computing it.
func (y *vector) rotate(r *rotation) {
	w, a, b, c := y[6], y[7], y[8], y[9]
	aa, bb, cc := float64(a*a), float64(b*b), float64(c*c)
	ab, ac, bc := float64(a*b), float64(a*c), float64(b*c)
	wa, wb, wc := float64(w*a), float64(w*b), float64(w*c)
	s := 2 / (float64(w*w) + aa + (bb + cc))
	r.xx, r.xy, r.xz = 1-float64(s*(bb+cc)), float64(s*(ab-wc)), float64(s*(ac+wb))
	r.yx, r.yy, r.yz = float64(s*(ab+wc)), 1-float64(s*(aa+cc)), float64(s*(bc-wa))
	r.zx, r.zy, r.zz = float64(s*(ac-wb)), float64(s*(bc+wa)), 1-float64(s*(aa+bb))
}

// toWorld turns body axes into world axes.
func (r *rotation) toWorld(v r3.Vec) r3.Vec {
	return r3.Vec{
		X: float64(r.xx*v.X) + float64(r.xy*v.Y) + float64(r.xz*v.Z),
		Y: float64(r.yx*v.X) + float64(r.yy*v.Y) + float64(r.yz*v.Z),
		Z: float64(r.zx*v.X) + float64(r.zy*v.Y) + float64(r.zz*v.Z),
	}
}

// toBody turns world axes into body axes.
func (r *rotation) toBody(v r3.Vec) r3.Vec {
	return r3.Vec{
		X: float64(r.xx*v.X) + float64(r.yx*v.Y) + float64(r.zx*v.Z),
		Y: float64(r.xy*v.X) + float64(r.yy*v.Y) + float64(r.zy*v.Z),
		Z: float64(r.xz*v.X) + float64(r.yz*v.Y) + float64(r.zz*v.Z),
	}
}

func dot(a, b r3.Vec) float64 {
	return float64(a.X*b.X) + float64(a.Y*b.Y) + float64(a.Z*b.Z)
}

func scaled(f float64, v r3.Vec) r3.Vec {
	return r3.Vec{X: float64(f * v.X), Y: float64(f * v.Y), Z: float64(f * v.Z)}
}

func plus(a, b r3.Vec) r3.Vec { return r3.Vec{X: a.X + b.X, Y: a.Y + b.Y, Z: a.Z + b.Z} }

func cross(a, b r3.Vec) r3.Vec {
	return r3.Vec{
		X: float64(a.Y*b.Z) - float64(a.Z*b.Y),
		Y: float64(a.Z*b.X) - float64(a.X*b.Z),
		Z: float64(a.X*b.Y) - float64(a.Y*b.X),
	}
}

// quatProduct is the product of two quaternions: the rotation b followed by a.
func quatProduct(a, b quat.Number) quat.Number {
	return quat.Number{
		Real: float64(a.Real*b.Real) - float64(a.Imag*b.Imag) - float64(a.Jmag*b.Jmag) - float64(a.Kmag*b.Kmag),
		Imag: float64(a.Real*b.Imag) + float64(a.Imag*b.Real) + float64(a.Jmag*b.Kmag) - float64(a.Kmag*b.Jmag),
		Jmag: float64(a.Real*b.Jmag) - float64(a.Imag*b.Kmag) + float64(a.Jmag*b.Real) + float64(a.Kmag*b.Imag),
		Kmag: float64(a.Real*b.Kmag) + float64(a.Imag*b.Jmag) - float64(a.Jmag*b.Imag) + float64(a.Kmag*b.Real),
	}
}
