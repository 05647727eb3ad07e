package sensor

import (
	"encoding/binary"
	"hash/fnv"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/num/quat"

	"drystage/sim"
	"drystage/sim/geodesy"
	"drystage/sim/r3"
)

const (
	microtesla = 1e-6
	deg        = math.Pi / 180
)

// standing is a body on its rail: x up, y to a direction clockwise from north, turned by a quaternion of length 3.
func standing(yTowards float64) quat.Number {
	up := quat.Number{Real: math.Cos(-math.Pi / 4), Jmag: math.Sin(-math.Pi / 4)} // x up, y north, z west
	about := quat.Number{Real: math.Cos(-yTowards / 2), Kmag: math.Sin(-yTowards / 2)}
	return quat.Scale(3, quat.Mul(about, up))
}

// measured is a sample of a magnetometer at 47 N, 8 E in a field of 48 uT, 64 degrees down, 4 degrees east of north.
func measured(p sim.Magnetometer, st *sim.State) r3.Vec {
	p.Rate = 100
	s := setup(sim.Sensors{Mag: p, Battery: sim.Battery{Rate: 1, Voltage: 8, Resistance: 0.5}})
	s.Vehicle.Site.Magnetic = sim.MagneticField{Strength: 48 * microtesla, Inclination: 64 * deg, Declination: 4 * deg}
	b := New(1, s, 0)
	b.SetLoad(0.5, 0) // 2 ohm, behind 0.5 ohm: 3.2 A
	var f sim.Frame
	b.Sample(st, &f)
	return f.Mag
}

// The closed form of a field of strength F, inclination I and declination D: F (cos I sin D, cos I cos D, -sin I) east,
// north, up; the body's axes are told by hand.
func TestMagnetometerMeasuresTheFieldInItsAxes(t *testing.T) {
	level, down := 48*math.Cos(64*deg), 48*math.Sin(64*deg)
	upright := sim.State{Attitude: standing(0)}
	lying := sim.State{Attitude: quat.Number{Real: math.Cos(15 * deg), Kmag: math.Sin(15 * deg)}} // x 30 degrees from east to north, z up
	for _, c := range []struct {
		reason string
		part   sim.Magnetometer
		st     sim.State
		want   r3.Vec // uT
	}{
		{"upright, y north, z west", sim.Magnetometer{}, upright, r3.Vec{X: -down, Y: level * math.Cos(4*deg), Z: -level * math.Sin(4*deg)}},
		{"upright, y east", sim.Magnetometer{}, sim.State{Attitude: standing(90 * deg)}, r3.Vec{X: -down, Y: level * math.Sin(4*deg), Z: level * math.Cos(4*deg)}},
		{"lying, x 60 degrees from north", sim.Magnetometer{}, lying, r3.Vec{X: level * math.Cos(56*deg), Y: level * math.Sin(56*deg), Z: -down}},
		{"mounted with z up, x left", sim.Magnetometer{Triad: sim.Triad{Mounting: [3]r3.Vec{{Y: 1}, {Z: 1}, {X: 1}}}}, upright,
			r3.Vec{X: level * math.Cos(4*deg), Y: -level * math.Sin(4*deg), Z: -down}},
		{"hard iron is added in the part's axes", sim.Magnetometer{Triad: sim.Triad{Bias: r3.Vec{X: 10 * microtesla}}}, upright,
			r3.Vec{X: 10 - down, Y: level * math.Cos(4*deg), Z: -level * math.Sin(4*deg)}},
		{"soft iron: y feels a tenth of x", sim.Magnetometer{SoftIron: [3]r3.Vec{{X: 1.1}, {X: 0.1, Y: 1}, {Z: 1}}}, upright,
			r3.Vec{X: -1.1 * down, Y: level*math.Cos(4*deg) - 0.1*down, Z: -level * math.Sin(4*deg)}},
		{"3.2 A in a lead", sim.Magnetometer{Current: r3.Vec{Z: 2 * microtesla}}, upright,
			r3.Vec{X: -down, Y: level * math.Cos(4*deg), Z: 6.4 - level*math.Sin(4*deg)}},
		{"clipped, in whole steps", sim.Magnetometer{Triad: sim.Triad{Range: 30 * microtesla, Resolution: 0.5 * microtesla}}, upright,
			r3.Vec{X: -30, Y: 21, Z: -1.5}},
		{"637.12 km up a dipole is weaker by the cube of 1.1", sim.Magnetometer{}, sim.State{Attitude: standing(0), Position: r3.Vec{Z: 637120}},
			r3.Scale(1/1.331, r3.Vec{X: -down, Y: level * math.Cos(4*deg), Z: -level * math.Sin(4*deg)})},
	} {
		got := r3.Scale(1/microtesla, measured(c.part, &c.st))
		assert.Less(t, r3.Norm(r3.Sub(c.want, got)), 1e-9, "%s: %v, wanted %v", c.reason, got, c.want)
	}
}

// A site that tells no field has that of the model.
func TestMagnetometerTakesTheModelsField(t *testing.T) {
	b := New(1, setup(sim.Sensors{Mag: sim.Magnetometer{Triad: sim.Triad{Rate: 1}}}), 0)
	var f sim.Frame
	b.Sample(&sim.State{Attitude: quat.Number{Real: 1}}, &f) // the body's axes are the world's
	want := geodesy.MagneticField(geodesy.Place{Latitude: mojave.Latitude, Longitude: mojave.Longitude, Height: mojave.Elevation})
	assert.Equal(t, want, f.Mag)
	assert.InDelta(t, 46, r3.Norm(f.Mag)/microtesla, 1.5, "about 46 uT in the Mojave desert")
}

// The same bits on every processor, and no memory taken.
func TestMagnetometerHasTheSameBits(t *testing.T) {
	p := sim.Magnetometer{SoftIron: [3]r3.Vec{{X: 1.03, Y: 0.02}, {X: 0.02, Y: 0.98}, {Z: 1}}, Current: r3.Vec{Y: 1e-6},
		Triad: sim.Triad{Rate: 100, Range: 8e-4, Noise: 2e-7, Bias: r3.Vec{X: 6e-6}, Bandwidth: 30, Drift: sim.GaussMarkov{Sigma: 1e-6, Time: 10}}}
	b := New(1, setup(sim.Sensors{Mag: p, Battery: sim.Battery{Rate: 1, Voltage: 8}}), 0)
	b.SetLoad(0.5, 0)
	h := fnv.New64a()
	var f sim.Frame
	for i := range 200 {
		x := float64(i)
		f.Now = b.Next()
		b.Sample(&sim.State{Attitude: quat.Number{Real: 1, Imag: 0.01 * x, Jmag: 0.5, Kmag: -0.003 * x}, Position: r3.Vec{Z: 10 * x}}, &f)
		require.NoError(t, binary.Write(h, binary.LittleEndian, [3]float64{f.Mag.X, f.Mag.Y, f.Mag.Z}))
	}
	assert.Equal(t, "52f5bcac2b853ddb", strconv.FormatUint(h.Sum64(), 16))
	st := &sim.State{Attitude: quat.Number{Real: 1}}
	assert.Zero(t, testing.AllocsPerRun(100, func() { f.Now = b.Next(); b.Sample(st, &f) }))
}
