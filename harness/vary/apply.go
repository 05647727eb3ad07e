// Package vary draws the parameters of flights from the ranges of a scenario, and applies them to a plan. The same plan
// and flight number always give the same values, bit for bit, in any order of calls. It doesn't fly, judge or print.
package vary

import (
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// Apply gives the plan with values for varied parameters, found by their names in vary; values with other names are
// ignored. The given plan doesn't change and shares nothing with the new one that either would change. The new plan's
// Set holds all values. Its Rehearsed is empty: the flight has changed, so it needs a new rehearsal.
func Apply(p *harness.Plan, vary []harness.Vary, values []harness.Value) harness.Plan {
	out := *p
	out.Setup = own(&p.Setup)
	out.Setup.Rehearsed = nil
	out.Set = slices.Clone(p.Set)
	for _, x := range values {
		i := slices.IndexFunc(vary, func(v harness.Vary) bool { return v.Name == x.Name })
		if i < 0 {
			continue
		}
		change(&out.Setup, &vary[i], x.Value)
		out.Set = slices.DeleteFunc(out.Set, func(s harness.Value) bool { return s.Name == x.Name })
		out.Set = append(out.Set, x)
	}
	return out
}

// own copies everything in a setup that a value may change.
func own(s *sim.Setup) sim.Setup {
	c := *s
	c.Vehicle.Stages = slices.Clone(s.Vehicle.Stages)
	c.Wind.Gusts = slices.Clone(s.Wind.Gusts)
	c.Bays = slices.Clone(s.Bays)
	c.Faults = slices.Clone(s.Faults)
	return c
}

// change applies one value to a copied setup.
func change(s *sim.Setup, v *harness.Vary, x float64) {
	site, rail := &s.Vehicle.Site, &s.Vehicle.Rail
	switch v.What {
	case harness.WindSpeed:
		s.Wind.Speed = x
	case harness.WindFrom:
		for i := range s.Wind.Gusts {
			s.Wind.Gusts[i].From += x - s.Wind.From
		}
		s.Wind.From = x
	case harness.Temperature:
		site.Temperature = x
	case harness.Pressure:
		site.Pressure = x
	case harness.RailTilt:
		rail.Tilt = x
	case harness.RailAzimuth:
		rail.Azimuth = x
	case harness.BatteryVoltage:
		s.Bays[v.Index].Sensors.Battery.Voltage = x
	case harness.FaultFrom:
		s.Faults[v.Index].From = sim.Anchor{Event: v.From.Event, Offset: v.From.Offset + sim.Seconds(x)}
	case harness.FaultBy:
		s.Faults[v.Index].Value = x
	default:
		for i := range s.Vehicle.Stages {
			if i == v.Index || v.Index == harness.AllStages {
				build(&s.Vehicle.Stages[i], v.What, x)
			}
		}
	}
}

// build changes a stage.
func build(st *sim.Stage, what harness.Varied, x float64) {
	switch what {
	case harness.StageMass:
		by := x / st.Mass
		st.Inertia.Axial *= by
		st.Inertia.Transverse *= by
		st.Mass = x
	case harness.CGShift:
		st.CG += x
	case harness.DragScale:
		st.Drag.Scale, st.Stacked.Scale = x*st.Drag.Factor(), x*st.Stacked.Factor()
	case harness.ImpulseScale:
		stretch(&st.Mount.Motor, x, 1)
	case harness.BurnTimeScale:
		stretch(&st.Mount.Motor, 1/x, x)
	case harness.IgniterDelay:
		st.Mount.Igniter.Delay = sim.Seconds(x)
	}
}

// stretch scales a thrust curve, in a copy.
func stretch(m *sim.Motor, thrust, time float64) {
	m.Thrust = slices.Clone(m.Thrust)
	for i := range m.Thrust {
		m.Thrust[i].Thrust *= thrust
		m.Thrust[i].T *= time
	}
}

// at gives the value of a varied parameter in a setup, in the terms of its Value.
func at(s *sim.Setup, v *harness.Vary) float64 {
	switch v.What {
	case harness.WindSpeed:
		return s.Wind.Speed
	case harness.WindFrom:
		return s.Wind.From
	case harness.Temperature:
		return s.Vehicle.Site.Temperature
	case harness.Pressure:
		return s.Vehicle.Site.Pressure
	case harness.RailTilt:
		return s.Vehicle.Rail.Tilt
	case harness.RailAzimuth:
		return s.Vehicle.Rail.Azimuth
	case harness.BatteryVoltage:
		return s.Bays[v.Index].Sensors.Battery.Voltage
	case harness.FaultFrom:
		from := s.Faults[v.Index].From
		if from.Event == sim.EventLaunch { // of a varied fault, relative to the start
			from.Offset += s.Launch
		}
		return (from.Offset - v.From.Offset).Seconds()
	case harness.FaultBy:
		return s.Faults[v.Index].Value
	case harness.StageMass:
		return s.Vehicle.Stages[v.Index].Mass
	case harness.IgniterDelay:
		return s.Vehicle.Stages[v.Index].Mount.Igniter.Delay.Seconds()
	case harness.CGShift:
		return 0
	}
	return 1 // a factor
}

// Written gives the value that a varied parameter has in the plan's files.
func Written(p *harness.Plan, v *harness.Vary) harness.Value {
	return harness.Value{Name: v.Name, Value: at(&p.Setup, v), Unit: v.Unit}
}
