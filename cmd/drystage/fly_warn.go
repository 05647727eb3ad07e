package main

import (
	"fmt"

	"drystage/sim"
)

// maxWind is the strongest wind that safety codes allow at the ground, in m/s: 20 mph, California 19 CCR
// 1036.
const maxWind = 8.94

// warnings lists where the flight leaves the validity of the model or usual limits, and what it lacks for a safe landing.
func (t *flightReport) warnings() {
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
func (t *flightReport) warning(w *sim.Warning) string {
	who := t.idealFlight.set.Vehicle.Stages[w.Stage].Name
	if w.From <= t.sum.Exit.At {
		who = "the rocket"
	}
	return fmt.Sprintf("%s, %s: %s;\n        %s", who, w.When(t.idealFlight.set.Launch), w.Kind.Text(), w.Values())
}

// outcomes lists problems of the weather and of the landing.
func (t *flightReport) outcomes() (out []string) {
	s := t.idealFlight.set
	if speed, _, _ := surface(&s.Wind); speed > maxWind {
		out = append(out, fmt.Sprintf("the wind is stronger than safety codes allow at the ground;\n        %.1f m/s, limit %.2f m/s (20 mph, California 19 CCR 1036)", speed, maxWind))
	}
	if !t.sum.Exit.Left {
		return append(out, "the rocket never leaves the rail: its thrust doesn't exceed its weight for long enough")
	}
	for i := range s.Vehicle.Stages {
		st := &s.Vehicle.Stages[i]
		l := t.landing(i)
		switch {
		case t.neverLifted[i]:
			out = append(out, st.Name+" stays on the pad")
		case l == nil:
			out = append(out, fmt.Sprintf("%s isn't down by %.0f s, where the flight is cut", st.Name, t.clock(t.end)))
		case l.Top == i && !t.opened(l.Top, l.Low):
			out = append(out, fmt.Sprintf("%s comes down without an open recovery device", st.Name))
		}
	}
	return out
}

// opened reports whether a recovery device opens on the body of stages top to low.
func (o *idealFlight) opened(top, low int) bool {
	for i := range o.sum.Openings {
		if s := o.sum.Openings[i].Stage; top <= s && s <= low {
			return true
		}
	}
	return false
}
