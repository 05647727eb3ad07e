package record

import (
	"math"

	"gonum.org/v1/gonum/num/quat"

	"drystage/sim"
	"drystage/sim/r3"
)

// The columns of a sim.State, in the order of a block: what others are worked out from comes first.
const (
	positionX = iota
	positionY
	positionZ
	velocityX
	velocityY
	velocityZ
	attitudeI
	attitudeJ
	attitudeK
	attitudeReal
	ratesX
	ratesY
	ratesZ
	forceX
	forceY
	forceZ
	angularX
	angularY
	angularZ
	mass
	cg
	front
	pressure
	ambient
	airX
	airY
	airZ
	airspeed
	mach
	dynamic
	thrust
	held
	stateColumns
)

// stateTraits are what is known of the columns of a state: some follow from others.
func stateTraits() []trait {
	t := make([]trait, stateColumns)
	t[attitudeReal].near = realOf
	t[mach].near = machOf
	t[dynamic].near = dynamicOf
	t[airspeed].near = airspeedOf
	t[held].whole = true
	return t
}

// at gives a number of a row.
func at(g *grid, column, row int) float64 { return math.Float64frombits(g[column][row]) }

// realOf works out the real part of an attitude: its four parts have length 1. Its sign is that of the row before.
func realOf(g *grid, row int) float64 {
	i, j, k := at(g, attitudeI, row), at(g, attitudeJ, row), at(g, attitudeK, row)
	w := math.Sqrt(max(0, 1-float64(i*i)-float64(j*j)-float64(k*k)))
	if row > 0 && g[attitudeReal][row-1]>>63 != 0 {
		return -w
	}
	return w
}

// airspeedOf works out the airspeed from the velocity through the air.
func airspeedOf(g *grid, row int) float64 {
	x, y, z := at(g, airX, row), at(g, airY, row), at(g, airZ, row)
	return math.Sqrt(float64(x*x) + float64(y*y) + float64(z*z))
}

// machOf works out the Mach number from the airspeed and the temperature of the air. One over the speed of sound, in s/m,
// comes from a polynomial in the temperature and a step of Newton's, good to 1e-7 from 200 to 320 K.
func machOf(g *grid, row int) float64 {
	t := at(g, ambient, row)
	x := float64((t - 260) * 0.01)
	s := 0.0030936339 + float64(x*(float64(x*0.00017143681793780835)-0.0005946520051625147))
	s *= 1.5 - float64(float64(halfHeat*t)*float64(s*s))
	return float64(at(g, airspeed, row) * s)
}

// halfHeat is half the heat ratio of air, 1.4, times its gas constant, 287.0528 J/(kg K).
const halfHeat = 0.7 * 287.0528

// dynamicOf works out the dynamic pressure from the Mach number and the pressure of the air, whose heat ratio is 1.4.
func dynamicOf(g *grid, row int) float64 {
	m := at(g, mach, row)
	return float64(float64(0.7*at(g, pressure, row)) * float64(m*m))
}

// putState puts a state into a row.
func putState(g *grid, row int, s *sim.State) {
	putVec(g, positionX, row, &s.Position)
	putVec(g, velocityX, row, &s.Velocity)
	putVec(g, ratesX, row, &s.Rates)
	putVec(g, forceX, row, &s.Force)
	putVec(g, angularX, row, &s.Angular)
	g[attitudeReal][row], g[attitudeI][row] = math.Float64bits(s.Attitude.Real), math.Float64bits(s.Attitude.Imag)
	g[attitudeJ][row], g[attitudeK][row] = math.Float64bits(s.Attitude.Jmag), math.Float64bits(s.Attitude.Kmag)
	g[mass][row], g[cg][row], g[front][row] = math.Float64bits(s.Mass), math.Float64bits(s.CG), math.Float64bits(s.Front)
	g[pressure][row], g[ambient][row] = math.Float64bits(s.Pressure), math.Float64bits(s.Ambient)
	g[airspeed][row], g[mach][row], g[dynamic][row] = math.Float64bits(s.Airspeed), math.Float64bits(s.Mach), math.Float64bits(s.Dynamic)
	putVec(g, airX, row, &s.Air)
	g[thrust][row] = math.Float64bits(s.Thrust)
	g[held][row] = bit(s.Landed, 0) | bit(s.OnPad, 1)
}

// state gives the state of a row.
func state(g *grid, row int) sim.State {
	x := func(column int) float64 { return at(g, column, row) }
	return sim.State{
		Position: vec(g, positionX, row), Velocity: vec(g, velocityX, row),
		Attitude: quat.Number{Real: x(attitudeReal), Imag: x(attitudeI), Jmag: x(attitudeJ), Kmag: x(attitudeK)},
		Rates:    vec(g, ratesX, row), Force: vec(g, forceX, row), Angular: vec(g, angularX, row),
		Mass: x(mass), CG: x(cg), Front: x(front), Pressure: x(pressure), Ambient: x(ambient),
		Airspeed: x(airspeed), Mach: x(mach), Dynamic: x(dynamic), Air: vec(g, airX, row), Thrust: x(thrust),
		Landed: g[held][row]&1 != 0, OnPad: g[held][row]&2 != 0,
	}
}

func putVec(g *grid, column, row int, v *r3.Vec) {
	g[column][row], g[column+1][row], g[column+2][row] = math.Float64bits(v.X), math.Float64bits(v.Y), math.Float64bits(v.Z)
}

func vec(g *grid, column, row int) r3.Vec {
	return r3.Vec{X: at(g, column, row), Y: at(g, column+1, row), Z: at(g, column+2, row)}
}

func bit(on bool, at uint) uint64 {
	if on {
		return 1 << at
	}
	return 0
}
