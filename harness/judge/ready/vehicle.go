package ready

import "drystage/sim"

// ofVehicle takes the devices of a vehicle that need an output, those that have one, and the estimated inertias.
func (f *flight) ofVehicle(s *sim.Setup) {
	stages := s.Vehicle.Stages
	for i := range stages {
		st := &stages[i]
		if st.Inertia.Estimated {
			f.estimated = append(f.estimated, st.Name)
		}
		if lowest := i == len(stages)-1; !lowest && len(st.Mount.Motor.Thrust) > 0 && stages[i+1].Separation.Mode != sim.ByGap {
			f.needs = append(f.needs, target(sim.Effect{Kind: sim.Ignite, Stage: i}, &s.Vehicle))
		}
		if i > 0 && st.Separation.Mode == sim.ByCharge {
			f.needs = append(f.needs, target(sim.Effect{Kind: sim.Separate, Stage: i}, &s.Vehicle))
		}
		for k := range st.Recovery {
			f.needs = append(f.needs, target(sim.Effect{Kind: sim.Deploy, Stage: i, Device: k}, &s.Vehicle))
		}
	}
	for _, b := range s.Bays {
		for _, w := range b.Wires {
			if t := target(w.Effect, &s.Vehicle); t != "" {
				f.connected = append(f.connected, t)
			}
		}
	}
}

// target names what an effect acts on; "" if it doesn't exist.
func target(e sim.Effect, v *sim.Vehicle) string {
	if e.Kind == sim.Nothing || e.Stage < 0 || e.Stage >= len(v.Stages) {
		return ""
	}
	st := &v.Stages[e.Stage]
	switch e.Kind {
	case sim.Ignite:
		return "igniter of " + st.Name
	case sim.Separate:
		return "separation charge of " + st.Name
	case sim.Deploy:
		if e.Device >= 0 && e.Device < len(st.Recovery) {
			return st.Name + "." + st.Recovery[e.Device].Name
		}
	}
	return ""
}

// does describes the effect of an output.
func does(e sim.Effect, v *sim.Vehicle) string {
	t := target(e, v)
	switch {
	case t == "":
		return "nothing in the vehicle"
	case e.Kind == sim.Deploy:
		return "opens " + t
	}
	return "fires the " + t
}
