package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// stage is the state of one stage of the vehicle.
type stage struct {
	spec    *sim.Stage
	dry     moments // about the stage's front end
	motors  []motor
	ignited bool // a motor has been lit

	igniter trigger
	charge  trigger
	devices []device

	ignition, burnout, separation, apogee, landing string   // names of its events
	opening                                        []string // names of its devices' events
}

func newStage(s *sim.Stage, seed uint64) stage {
	st := stage{
		spec: s, dry: dryMoments(s, 0), motors: newMotors(s, seed),
		ignition: s.Name + "." + sim.StageIgnition, burnout: s.Name + "." + sim.StageBurnout,
		separation: s.Name + "." + sim.StageSeparation, apogee: s.Name + "." + sim.StageApogee,
		landing: s.Name + "." + sim.StageLanding,
	}
	for i := range s.Recovery {
		st.devices = append(st.devices, device{spec: &s.Recovery[i], lineStretchAt: sim.Never})
		st.opening = append(st.opening, s.Name+"."+s.Recovery[i].Name)
	}
	return st
}

// newMotors makes the motors of a stage with the random scatter of this run. Impulse and burn time differ from
// the data sheet by at most half, and the thrust axis from the body's by at most 0.5 rad.
func newMotors(s *sim.Stage, seed uint64) []motor {
	m := &s.Mount
	delay, build := noise.New(seed, "igniter."+s.Name), noise.New(seed, "motor."+s.Name)
	motors := make([]motor, m.Motors())
	for i := range motors {
		o := &motors[i]
		o.propellant, o.delay = m.Motor.Propellant, m.Igniter.Delay
		if sigma := m.Igniter.Scatter; sigma > 0 {
			o.delay += sim.Seconds(float64(sigma.Seconds() * delay.Normal()))
		}
		o.delay = max(o.delay, 0)
		impulse, burn := build.Normal(), build.Normal()
		o.curve = newCurve(&m.Motor, clamp(1+float64(m.Motor.ImpulseScatter*impulse), 0.5, 1.5), clamp(1+float64(m.Motor.BurnScatter*burn), 0.5, 1.5))
		shift := sim.Time(0)
		for _, p := range m.Pauses {
			o.curve.pause(p.At+shift, p.For)
			shift += p.For
		}
		a := &m.Misalignment
		sin, cos := plain.Sincos(a.Clock)
		y, z := float64(a.Angle*cos)+float64(a.Scatter*build.Normal()), float64(a.Angle*sin)+float64(a.Scatter*build.Normal())
		o.thrustAxis = tiltedAxis(y, z)
		if len(motors) > 1 {
			sin, cos = plain.Sincos(2 * math.Pi * float64(i) / float64(len(motors)))
			o.y, o.z = float64(m.Radius*cos), float64(m.Radius*sin)
		}
	}
	return motors
}

// tiltedAxis is the body's axis turned by small angles towards y and z.
func tiltedAxis(y, z float64) r3.Vec {
	angle := math.Sqrt(float64(y*y) + float64(z*z))
	if angle == 0 {
		return r3.Vec{X: 1}
	}
	sin, cos := plain.Sincos(min(angle, 0.5))
	return r3.Vec{X: cos, Y: sin * (y / angle), Z: sin * (z / angle)}
}

// canIgnite says that a motor of the stage hasn't been ignited yet.
func (s *stage) canIgnite() bool {
	for i := range s.motors {
		if !s.motors[i].ignited && !s.motors[i].curve.empty() {
			return true
		}
	}
	return false
}

// burning says that a motor of the stage burns.
func (s *stage) burning() bool {
	for i := range s.motors {
		if s.motors[i].burning {
			return true
		}
	}
	return false
}

// trigger is a charge or igniter on an output. Once the output has been on for long enough it is spent.
type trigger struct{ on, spent bool }

// set sets the level of a trigger's output. It says whether a pulse has started or stopped with it.
func (t *trigger) set(on bool) (started, stopped bool) {
	started, stopped = on && !t.on && !t.spent, !on && t.on && !t.spent
	t.on = on
	return started, stopped
}
