package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The closed forms of this file are classical; their numbers were computed independently with mpmath
// (30 digits), D3 with SciPy's DOP853 and SUNDIALS CVODE as well.

// dart is a stage without fins: it flies straight when it starts straight.
func dart(mass, cd, diameter float64, m sim.Motor) *sim.Setup {
	return &sim.Setup{Limit: 1000 * sim.Second, Vehicle: sim.Vehicle{Stages: []sim.Stage{{
		Name: "dart", Length: 1, Diameter: diameter, Mass: mass, CG: 0.5, Drag: sim.Drag{Cd: cd}, Stacked: sim.Drag{Cd: cd}, Mount: sim.Mount{Motor: m},
	}}, Rail: sim.Rail{Length: 2}}}
}

func TestTsiolkovskyInVacuumUnderGravity(t *testing.T) {
	f := plainFlight(0, dart(7, 0, 0.1, box(2000, 2.941995, 3)))
	f.AdvanceTo(2941996 * sim.Microsecond)
	st := &f.States()[0]
	assert.InDelta(t, 2.941996, f.at("dart.burnout"), 1e-9)
	assert.InDelta(t, 670.7061525, st.Velocity.Z, 1e-3, "speed at burnout")
	assert.InDelta(t, 925.5638388, st.Height(), 2e-3, "height at burnout")
	assert.InDelta(t, 7, st.Mass, 1e-9, "all propellant gone")
	f.AdvanceTo(100 * sim.Second)
	assert.InDelta(t, 71.33498879, f.at("apogee"), 1e-4, "apogee")
}

func TestVacuumBallistic(t *testing.T) {
	s := dart(1, 0, 0.1, sim.Motor{})
	s.Vehicle.Rail = sim.Rail{Tilt: 5 * degree, Azimuth: 90 * degree}
	f := plainFlight(0, s)
	f.throw(scaled(100, f.rail.axis), r3.Vec{X: 3, Y: 1})
	f.AdvanceTo(sim.Seconds(10.15835885))
	assert.InDelta(t, 505.9851613, f.States()[0].Height(), 1e-6, "apogee")
	assert.InDelta(t, 0, r3.Norm(f.States()[0].Force), 1e-12, "free fall feels nothing")
	f.AdvanceTo(30 * sim.Second)
	assert.InDelta(t, 10.15835885, f.at("apogee"), 1e-7)
	assert.InDelta(t, 20.3167177, f.at("landing"), 1e-7)
	assert.InDelta(t, 177.0718621, f.States()[0].Position.X, 1e-6, "range, eastwards")
}

func TestBurnAndCoastWithDrag(t *testing.T) {
	s := dart(1, 0.5, 0.054, box(60, 2, 0))
	s.Launch = sim.Second
	f := plainFlight(1.225, s)
	for _, r := range []struct {
		reason                  string
		after                   sim.Time
		height, speed, toWithin float64
	}{
		{"end of burn", 2 * sim.Second, 98.11550566, 95.92570758, 3e-4},
		{"three seconds after burnout", 5 * sim.Second, 98.11550566 + 222.5972176, 54.62451162, 3e-4},
	} {
		f.AdvanceTo(s.Launch + r.after)
		st := &f.States()[0]
		assert.InDelta(t, r.height, st.Height(), r.toWithin, r.reason)
		assert.InDelta(t, r.speed, st.Velocity.Z, r.toWithin, r.reason)
	}
	f.AdvanceTo(15 * sim.Second)
	assert.InDelta(t, 11.21800984, f.at("apogee"), 1e-4)
	assert.InDelta(t, 3, f.at("max_q"), 2e-6, "dynamic pressure is greatest at burnout")
	assert.InDelta(t, 1, f.at("liftoff"), 1e-9)
}

func TestFallFromRest(t *testing.T) {
	f := plainFlight(1.225, dart(1, 0.5, 0.054, sim.Motor{}))
	f.bodies[0].y[2] = 1000
	f.throw(r3.Vec{}, r3.Vec{})
	f.AdvanceTo(5 * sim.Second)
	st := &f.States()[0]
	assert.InDelta(t, -46.40348325, st.Velocity.Z, 1e-6)
	assert.InDelta(t, 1000-119.2231267, st.Height(), 1e-6)
}

func TestRoundNumberCase(t *testing.T) {
	area := 2 * 0.01 / 1.225 // k = 0.01
	f := plainFlight(1.225, dart(1, area/(math.Pi/4), 1, sim.Motor{}))
	f.throw(r3.Vec{Z: 100}, r3.Vec{})
	f.AdvanceTo(sim.Seconds(4.046913872))
	assert.InDelta(t, 120.7830182, f.States()[0].Height(), 1e-5)
	f.AdvanceTo(30 * sim.Second)
	assert.InDelta(t, 4.046913872, f.at("apogee"), 1e-6)
	b := f.bodies[0]
	require.Equal(t, landed, b.mode)
	f = plainFlight(1.225, dart(1, area/(math.Pi/4), 1, sim.Motor{}))
	f.throw(r3.Vec{Z: 100}, r3.Vec{})
	f.AdvanceTo(sim.Seconds(landing(t)))
	assert.InDelta(t, -29.88450156, f.States()[0].Velocity.Z, 1e-5, "speed of impact")
	f.AdvanceTo(sim.Seconds(landing(t)) + sim.Millisecond)
	assert.True(t, f.Landed())
}

// landing gives a time just before the round-number case's impact: 4.046913872 s up, and down from
// 120.7830182 m in (vt/g) acosh(exp(g h/vt^2)).
func landing(t *testing.T) float64 {
	vt, h := 31.31557121, 120.7830182
	down := vt / standardG * math.Acosh(math.Exp(standardG*h/(vt*vt)))
	require.Less(t, down, 10.0)
	return 4.046913872 + down - 1e-6
}

func TestTerminalSpeedUnderDevices(t *testing.T) {
	for _, r := range []struct {
		reason        string
		density, want float64
		areas         []float64
	}{
		{"Cd 1.5, 1.2 m, sea level", 1.22499916, 6.869426438, []float64{1.69646003}},
		{"the same at 5 km", 0.736115355, 8.861670199, []float64{1.69646003}},
		{"Cd 0.75, 1.0 m", 1.22499916, 11.65780324, []float64{0.589048623}},
		{"two devices add up", 1.22499916, 6.869426438, []float64{0.69646003, 1}},
	} {
		s := dart(5, 0, 0.1, sim.Motor{})
		for i, a := range r.areas {
			s.Vehicle.Stages[0].Recovery = append(s.Vehicle.Stages[0].Recovery, sim.Device{Name: string(rune('a' + i)), Area: a, Inflation: sim.Second})
		}
		f := plainFlight(r.density, s)
		f.bodies[0].y[2] = 2000
		f.throw(r3.Vec{X: 20, Z: 10}, r3.Vec{Y: 1})
		for i := range r.areas {
			f.SetOutput(sim.Effect{Kind: sim.Deploy, Device: i}, true)
		}
		f.AdvanceTo(60 * sim.Second)
		st := &f.States()[0]
		assert.InEpsilon(t, r.want, -st.Velocity.Z, 1e-6, r.reason)
		assert.InDelta(t, standardG, r3.Norm(st.Force), 1e-5, "hanging, it feels one g")
		assert.Less(t, st.Tilt(), 1*degree, "nose up below the device")
	}
}

func TestRailSpeed(t *testing.T) {
	f := plainFlight(0, dart(1, 0, 0.054, box(60, 2, 0)))
	f.AdvanceTo(sim.Second)
	exit := f.at("rail_exit")
	assert.InDelta(t, 2*2/14.1694531, exit, 1e-7)
	f = plainFlight(0, dart(1, 0, 0.054, box(60, 2, 0)))
	f.AdvanceTo(sim.Seconds(exit))
	assert.InDelta(t, 14.1694531, f.States()[0].Velocity.Z, 1e-6, "60 N, 1 kg, 2 m, vertical, no drag")
}

// Euler's equations of a symmetric body: body-frame precession rate p (It - Ia)/It.
func TestTorqueFreeBody(t *testing.T) {
	s := dart(1, 0, 0.1, sim.Motor{})
	s.Vehicle.Stages[0].Inertia = sim.Inertia{Axial: 0.01, Transverse: 0.8}
	f := plainFlight(0, s)
	f.bodies[0].y[2] = 10000
	w0 := r3.Vec{X: 20, Y: 1}
	f.throw(r3.Vec{}, w0)
	momentum := func() r3.Vec {
		b := &f.bodies[0]
		var y vector
		b.vectorAt(f.now, &y)
		turn := y.rotation()
		w := y.vec(atRates)
		return turn.toWorld(r3.Vec{X: 0.01 * w.X, Y: 0.8 * w.Y, Z: 0.8 * w.Z})
	}
	before := momentum()
	f.AdvanceTo(10 * sim.Second)
	w := f.States()[0].Rates
	angle := 20 * (0.8 - 0.01) / 0.8 * 10
	assert.InDelta(t, 19.75, angle/10, 1e-12)
	assert.InDelta(t, 20, w.X, 1e-12, "spin stays")
	assert.InDelta(t, math.Cos(angle), w.Y, 2e-4)
	assert.InDelta(t, -math.Sin(angle), w.Z, 2e-4)
	assert.InDelta(t, 0, r3.Norm(r3.Sub(momentum(), before)), 2e-4, "angular momentum stays where it points")
}

// Own case of two stages flying straight up in the ISA (R 287.052872) under constant gravity; SciPy's
// DOP853, LSODA and Radau agree on it to nine digits. The stages are put one inside the other, so that
// their centres of gravity, which heights are those of, fall together.
func TestTwoStagesStraightUp(t *testing.T) {
	s := &sim.Setup{Limit: 1000 * sim.Second, Vehicle: sim.Vehicle{Rail: sim.Rail{Length: 1}, Stages: []sim.Stage{
		{Name: "upper", Length: 1, Diameter: 0.075, Mass: 4.5, CG: 0.5, Drag: sim.Drag{Cd: 0.5}, Mount: sim.Mount{Motor: box(400, 6, 1.5), Station: 0.45}},
		{Name: "lower", Length: 1, Diameter: 0.1, Mass: 2, CG: -0.5, Stacked: sim.Drag{Cd: 0.6}, Mount: sim.Mount{Motor: box(800, 4, 2), Station: -0.55}},
	}}}
	f := New(s)
	f.gravity = gravity{ground: standardG}
	f.air = altitudeAir()
	check := func(at sim.Time, height, speed float64, reason string) {
		f.AdvanceTo(at)
		st := &f.States()[0]
		assert.InDelta(t, height, st.Height(), 4e-3, reason)
		assert.InDelta(t, speed, st.Velocity.Z, 2e-3, reason)
	}
	check(4*sim.Second, 573.592603, 281.854084, "first burnout")
	f.AdvanceTo(6*sim.Second - 1)
	f.SetOutput(sim.Effect{Kind: sim.Ignite}, true)
	check(6*sim.Second, 1088.129031, 234.599811, "second ignition")
	check(12*sim.Second, 3235.780372, 466.611518, "second burnout")
	f.AdvanceTo(38 * sim.Second)
	f.AdvanceTo(sim.Seconds(38.582005338))
	assert.InDelta(t, 7654.254481, f.States()[0].Height(), 0.02, "apogee")
	f.AdvanceTo(39 * sim.Second)
	assert.InDelta(t, 38.582005338, f.at("apogee"), 1e-3)
}

// altitudeAir is the standard air with geometric heights taken for geopotential ones.
func altitudeAir() *Air {
	c := newColumn(sim.Site{})
	a := &Air{}
	const width = 50
	sample := func(h float64) ([3]float64, [3]float64) {
		t, p := c.temperatureAt(h, 0), c.pressureAt(h)
		rho := p / (gasConstant * t)
		dp := -rho * standardG
		return [3]float64{t, rho, p}, [3]float64{-0.0065, rho * (dp/p + 0.0065/t), dp}
	}
	for h := 0.0; h < 10000; h += width {
		v0, s0 := sample(h)
		v1, s1 := sample(h + width)
		a.cells = append(a.cells, airCubics{
			temperature: hermite(v0[0], v1[0], s0[0]*width, s1[0]*width),
			density:     hermite(v0[1], v1[1], s0[1]*width, s1[1]*width),
			pressure:    hermite(v0[2], v1[2], s0[2]*width, s1[2]*width),
		})
	}
	a.layers = []airLayer{{perCell: 1.0 / width, last: len(a.cells)}}
	return a
}
