package flight

import (
	"drystage/sim"
	"drystage/sim/noise"
)

// stage is what happens inside one stage of the vehicle.
type stage struct {
	spec       *sim.Stage
	dry        moments // about the stage's front end
	curve      curve
	propellant float64 // kg left while it doesn't burn
	burning    bool
	used       bool     // the motor has burnt or its igniter is spent
	lit        sim.Time // when the burn began
	delay      sim.Time // of the igniter, as drawn for this run

	igniter trigger
	charge  trigger
	devices []device

	ignition, burnout, separation, apogee, landing string   // names of its events
	opening                                        []string // names of its devices' events
}

func newStage(s *sim.Stage, seed uint64) stage {
	st := stage{
		spec: s, dry: dry(s, 0), curve: newCurve(&s.Mount.Motor), propellant: s.Mount.Motor.Propellant,
		ignition: s.Name + "." + sim.StageIgnition, burnout: s.Name + "." + sim.StageBurnout,
		separation: s.Name + "." + sim.StageSeparation, apogee: s.Name + "." + sim.StageApogee,
		landing: s.Name + "." + sim.StageLanding,
	}
	st.delay = s.Mount.Igniter.Delay
	if sigma := s.Mount.Igniter.Scatter; sigma > 0 {
		drawn := noise.New(seed, "igniter."+s.Name).Normal()
		st.delay += sim.Seconds(float64(sigma.Seconds() * drawn))
	}
	st.delay = max(st.delay, 0)
	for i := range s.Recovery {
		st.devices = append(st.devices, device{spec: &s.Recovery[i], opened: sim.Never})
		st.opening = append(st.opening, s.Name+"."+s.Recovery[i].Name)
	}
	return st
}

// trigger is a charge or igniter on an output: once the output has been on for long enough it is
// spent.
type trigger struct{ on, spent bool }

// change tells a trigger the level of its output; it answers what the level begins.
func (t *trigger) change(on bool) (pressed, released bool) {
	pressed, released = on && !t.on && !t.spent, !on && t.on && !t.spent
	t.on = on
	return pressed, released
}
