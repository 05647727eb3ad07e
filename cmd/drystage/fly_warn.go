package main

import (
	"fmt"

	"drystage/sim"
)

// warningUnit is how the values of a kind of warning are written, and where its limit is from.
type warningUnit struct {
	scale  float64
	format string
	basis  string
}

const practice = "common practice, no source"

var warningUnits = map[sim.WarningKind]warningUnit{
	sim.AngleOfAttack: {degrees, "%.1f deg", practice},
	sim.MachBeyond:    {1, "Mach %.2f", "the model's"},
	sim.SlowExit:      {1, "%.1f m/s", practice},
	sim.RailTilt:      {degrees, "%.1f deg", "California 19 CCR 1036 for high power; codes for small models allow 30 deg"},
	sim.ExitAngle:     {degrees, "%.1f deg", "the rail exit's speed four times the wind; " + practice},
	sim.LowMargin:     {1, "%.2f calibres", practice},
	sim.HardLanding:   {1, "%.2f m/s", "35 ft/s, as a club's safety code is quoted"},
	sim.ErrorBeyond:   {1, "%.1f times the tolerance", "the model's"},
}

// mostWind is the strongest wind that safety codes allow at the ground, in m/s: 20 mph, California 19 CCR
// 1036.
const mostWind = 8.94

// warnings tells what the flight leaves: the model's validity, usual limits, what it needs to end well.
func (t *story) warnings() {
	all := t.outcomes()
	for _, w := range t.sum.Warnings {
		all = append(all, t.warning(&w))
	}
	t.printf("\n")
	for _, w := range all {
		t.printf("WARNING %s\n", w)
	}
	if len(all) == 0 {
		t.printf("No warning. ")
	}
	t.printf("A simulation is no permission to fly: your safety code and your range safety officer decide.\n")
}

// warning words a warning of the flight.
func (t *story) warning(w *sim.Warning) string {
	u, known := warningUnits[w.Kind]
	if !known {
		u = warningUnit{1, "%.3g", "SI"}
	}
	value := func(x float64) string { return fmt.Sprintf(u.format, x*u.scale) }
	when := fmt.Sprintf("at %.3f s", t.clock(w.From))
	if w.Until > w.From {
		when = fmt.Sprintf("from %.3f s to %.3f s", t.clock(w.From), t.clock(w.Until))
	}
	who := t.outing.set.Vehicle.Stages[w.Stage].Name
	if w.From <= t.sum.Exit.At {
		who = "the rocket"
	}
	return fmt.Sprintf("%s, %s: %s;\n        %s, limit %s (%s)", who, when, w.Kind.Text(), value(w.Worst), value(w.Limit), u.basis)
}

// outcomes tells what of the day and of the end isn't as it must be.
func (t *story) outcomes() (out []string) {
	s := t.outing.set
	if speed, _, _ := surface(&s.Wind); speed > mostWind {
		out = append(out, fmt.Sprintf("the wind is stronger than safety codes allow at the ground;\n        %.1f m/s, limit %.2f m/s (20 mph, California 19 CCR 1036)", speed, mostWind))
	}
	if !t.sum.Exit.Left {
		return append(out, "the rocket never leaves the rail: its thrust doesn't exceed its weight for long enough")
	}
	for i := range s.Vehicle.Stages {
		st := &s.Vehicle.Stages[i]
		l := t.landing(i)
		switch {
		case t.stays[i]:
			out = append(out, st.Name+" stays on the pad")
		case l == nil:
			out = append(out, fmt.Sprintf("%s isn't down by %.0f s, where the flight is cut", st.Name, t.clock(t.end)))
		case l.Top == i && !t.opened(l.Top, l.Low):
			out = append(out, fmt.Sprintf("%s comes down without an open recovery device", st.Name))
		}
	}
	return out
}

// opened says that some device opens on a body of stages top to low.
func (o *outing) opened(top, low int) bool {
	for i := range o.sum.Openings {
		if s := o.sum.Openings[i].Stage; top <= s && s <= low {
			return true
		}
	}
	return false
}
