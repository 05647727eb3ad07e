package scenario_test

import (
	"io/fs"
	"math"
	"os"
	"reflect"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/files/scenario"
	"drystage/sim"
	"drystage/sim/r3"
)

// The shipped board with every key, in SI.
func TestEveryErrorOfAPartInSI(t *testing.T) {
	const g0, deg = 9.80665, math.Pi / 180
	bay := load(t, os.DirFS("../../../scenarios"), "as-parts-are.yaml").Setup.Bays[0]
	s := bay.Sensors
	a := sim.Triad{
		Rate: 200, Range: 12 * g0, Resolution: 0.005, Bias: r3.Vec{X: 40e-3 * g0, Y: -20e-3 * g0, Z: 15e-3 * g0},
		Mounting: [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}, Bandwidth: 80, Density: 150e-6 * g0, Drift: sim.GaussMarkov{Sigma: 60e-6 * g0, Time: 100},
		Scale: r3.Vec{X: 0.005, Y: -0.004, Z: 0.003}, CrossAxis: 0.01, Thermal: r3.Vec{X: 0.2e-3 * g0, Y: -0.1e-3 * g0, Z: 0.3e-3 * g0},
		Position: r3.Vec{X: 0.005, Y: 0.012, Z: -0.008}, Transmissibility: 0.6, Rectification: 0.3e-3 / g0,
	}
	near(t, a, s.Accel)
	assert.Equal(t, [3]r3.Vec{{Y: 1}, {X: -1}, {Z: 1}}, s.High.Mounting, "x left, y down")
	assert.Equal(t, 200.0, s.High.Rate, "that of the other accelerometer")
	assert.InDelta(t, 200*g0, s.High.Range, 1e-9)
	assert.InDelta(t, 0.1*deg/g0, s.Gyro.GSensitivity, 1e-12)
	assert.InDelta(t, 0.01*deg, s.Gyro.Density, 1e-12)
	assert.InDelta(t, 1.5*deg/g0, s.Gyro.Transmissibility, 1e-12)
	assert.InDelta(t, 0.002*deg/(g0*g0), s.Gyro.Rectification, 1e-12)
	assert.Equal(t, [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}, s.Gyro.Mounting, "a matrix")
	near(t, sim.Barometer{
		Rate: 50, Min: 30000, Max: 110000, Resolution: 1, Noise: 3, Bias: 60, Vents: sim.Vents{Count: 3, Diameter: 0.002, Volume: 3e-4},
		Ports:   []sim.Port{{Mach: 0.8}, {Mach: 1, Cp: 0.05}, {Mach: 1.1, Cp: -0.02}, {Mach: 1.3}},
		Thermal: 1, Drift: sim.GaussMarkov{Sigma: 4, Time: 60}, Ejection: sim.Ejection{Peak: 100e3, Time: 0.08, Leak: 1e-3},
		Crossflow: -0.5,
	}, s.Baro)
	near(t, sim.Receiver{
		Rate: 10, PositionNoise: 0.5, HeightNoise: 1, VelocityNoise: 0.1, Latency: 0.15, PositionDrift: sim.GaussMarkov{Sigma: 2, Time: 60},
		HeightDrift: sim.GaussMarkov{Sigma: 4, Time: 60}, WarmStart: 2, Filter: 0.4, Coast: 1, Reacquire: 0.5, Hold: 3, MostForce: 4 * g0, MostSpeed: 500, MostHeight: 18000,
	}, s.GNSS)
	near(t, sim.Battery{Rate: 10, Voltage: 7.6, Sag: 0.2, Noise: 0.01, Resolution: 0.01, Resistance: 0.2, BrownOut: 4.5, HoldUp: 0.005}, s.Battery)
	assert.Equal(t, sim.Heating{Rise: 8, Time: 120}, s.Heating)
	assert.Equal(t, []float64{1.2, 1.6, 1.6}, []float64{bay.Wires[0].Load, bay.Wires[1].Load, bay.Wires[2].Load})
}

// What every rocket has is there without a key.
func TestWhatEveryRocketHas(t *testing.T) {
	set := load(t, os.DirFS("../../../scenarios"), "nominal.yaml").Setup
	s := set.Bays[0].Sensors
	assert.Equal(t, sim.Vibration{Share: 0.05, Band: 1000}, set.Vehicle.Vibration)
	assert.Equal(t, 1.0, s.Accel.Transmissibility)
	assert.InDelta(t, math.Pi/180/9.80665, s.Gyro.Transmissibility, 1e-12)
	assert.Zero(t, s.High, "a part that isn't fitted")
	assert.Equal(t, sim.Vents{Count: 3, Diameter: 3e-3, Volume: 4e-4}, s.Baro.Vents)
	assert.Equal(t, []sim.Port{{Mach: 0.8}, {Mach: 1, Cp: 0.05}, {Mach: 1.1, Cp: -0.03}, {Mach: 1.4}}, s.Baro.Ports)
	assert.Equal(t, -0.4, s.Baro.Crossflow)
	assert.Equal(t, sim.Ejection{Peak: 70e3, Time: 0.05, Leak: 0.5e-3}, s.Baro.Ejection)
	gannet := load(t, os.DirFS("../../../scenarios"), "gannet.yaml").Setup.Vehicle.Vibration
	assert.Equal(t, sim.Vibration{Share: 0.04, Band: 1000, Tones: []sim.Tone{{Frequency: 640, Share: 0.02, Harmonics: 2, Wander: 0.02, Time: 0.2}}}, gannet)
}

// near wants equal values but for the last digits.
func near(t *testing.T, want, got any) {
	t.Helper()
	require.IsType(t, want, got)
	w, g := numbers(want), numbers(got)
	require.Len(t, g, len(w))
	for i := range w {
		assert.InDelta(t, w[i], g[i], 1e-12*(1+math.Abs(w[i])), "number %d of %T", i, want)
	}
}

func TestMountingByWordsAndMatrixRoundTrips(t *testing.T) {
	shipped := os.DirFS("../../../scenarios")
	text, err := os.ReadFile("../../../scenarios/boards/sustainer-parts.yaml")
	require.NoError(t, err)
	board := func(mounting string) (axes [3]r3.Vec, findings int) {
		tree := fstest.MapFS{}
		require.NoError(t, copyFS(tree, shipped))
		tree["boards/sustainer-parts.yaml"] = &fstest.MapFile{Data: text}
		replace(t, tree, "boards/sustainer-parts.yaml", "mounting: [[1, 0, 0], [0, 1, 0], [0, 0, 1]]", "mounting: "+mounting)
		plan, found := scenario.Load(tree, "as-parts-are.yaml")
		if len(found) > 0 {
			return axes, len(found)
		}
		return plan.Setup.Bays[0].Sensors.Gyro.Mounting, 0
	}
	words, n := board("x right, y down")
	require.Zero(t, n)
	matrix, n := board("[[0, -1, 0], [-1, 0, 0], [0, 0, -1]]")
	require.Zero(t, n)
	assert.Equal(t, words, matrix, "x right, y down, so z front")
	v := r3.Vec{X: 1, Y: 2, Z: 3}
	part := r3.Vec{X: r3.Dot(words[0], v), Y: r3.Dot(words[1], v), Z: r3.Dot(words[2], v)}
	back := r3.Add(r3.Scale(part.X, words[0]), r3.Add(r3.Scale(part.Y, words[1]), r3.Scale(part.Z, words[2])))
	assert.Equal(t, v, back, "into the part's axes and back")

	tilted, n := board("[[0.9998, 0.0175, 0], [-0.0175, 0.9998, 0], [0, 0, 1]]")
	require.Zero(t, n, "a degree of tilt, written with four decimals")
	for i := range tilted {
		assert.InDelta(t, 1, r3.Norm(tilted[i]), 1e-15)
		assert.InDelta(t, 0, r3.Dot(tilted[i], tilted[(i+1)%3]), 1e-15)
	}
	for _, bad := range []string{"[[1, 0, 0], [0, 1, 0], [0, 0, -1]]", "[[1, 0, 0], [0, 1, 0], [0, 0.1, 1]]", "[[1, 0, 0], [0, 1, 0]]", "[[1, 0], [0, 1, 0], [0, 0, 1]]", "[x, y, z]", "x up, y up", "x up"} {
		_, n := board(bad)
		assert.NotZero(t, n, bad)
	}
}

// numbers lists all floats and ints of a value, depth first.
func numbers(x any) (list []float64) {
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Struct:
			for i := range v.NumField() {
				walk(v.Field(i))
			}
		case reflect.Slice, reflect.Array:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		case reflect.Float64:
			list = append(list, v.Float())
		case reflect.Int:
			list = append(list, float64(v.Int()))
		}
	}
	walk(reflect.ValueOf(x))
	return list
}

// copyFS takes all files of a tree into another.
func copyFS(to fstest.MapFS, from fs.FS) error {
	return fs.WalkDir(from, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := fs.ReadFile(from, name)
		to[name] = &fstest.MapFile{Data: b}
		return err
	})
}
