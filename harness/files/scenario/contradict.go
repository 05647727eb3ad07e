package scenario

import (
	"fmt"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// mostImpulse is the most impulse in N s per kg of propellant that a motor's file may tell: about 295 s of
// specific impulse. Solid propellants with aluminium give up to about 2600 near the ground. Common practice,
// no source.
const mostImpulse = 2900.0

// checkImpulse reports a motor with more impulse than its propellant can have.
func (l *loader) checkImpulse(f *file) {
	v := f.object.get("propellant")
	if !v.ok() || len(f.curve) == 0 {
		return
	}
	m := sim.Motor{Thrust: f.curve}
	if per := m.Figures().Impulse / v.num(); per > mostImpulse {
		l.report(harness.Problem{Place: v.at, Found: fmt.Sprintf("a thrust curve of %.4g N s from %s of propellant: %.0f N s/kg", m.Figures().Impulse, v.text(), per),
			Wanted: fmt.Sprintf("at most %.0f N s/kg, more than solid propellants give", mostImpulse), Hint: "check the units of the mass and of the thrust"})
	}
}

// checkNozzle reports a nozzle that is wider than its motor.
func (l *loader) checkNozzle(f *file) {
	exit, wide := f.object.get("exit_area"), f.object.get("diameter")
	if !exit.ok() || !wide.ok() {
		return
	}
	if most := math.Pi / 4 * wide.num() * wide.num(); exit.num() > most {
		l.report(harness.Problem{Place: exit.at, Found: "an exit area of " + quantity.Short(exit.num(), quantity.Area) + " in a motor of " + quantity.Short(wide.num(), quantity.Length) + " diameter",
			Wanted: "at most the motor's own cross-section, " + quantity.Short(most, quantity.Area), Hint: "check the unit, and that it isn't a diameter"})
	}
}

// ignitionLoops reports a motor that is lit at an event that needs its own burn, directly or through other motors.
func (l *loader) ignitionLoops(stages []*object, v *sim.Vehicle) {
	for i := range v.Stages {
		lit := stages[i].get("motor").object().get("lit")
		way := []int{i}
		for k := litBy(v, i); lit.ok() && k >= 0; k = litBy(v, k) {
			if k == i && sameNamed(v, i) == 1 {
				l.report(harness.Problem{Place: lit.at, Found: "the motor of " + v.Stages[i].Name + " lit at " + v.Stages[i].Mount.Lit.String() + ", which comes of its own burn",
					Wanted: "an event that comes without it", Hint: "as in the burnout of the stage below"})
			}
			if slices.Contains(way, k) {
				break
			}
			way = append(way, k)
		}
	}
}

// sameNamed is how many stages have the name of a stage, itself included. More than one is reported by
// eventCatalogue.add.
func sameNamed(v *sim.Vehicle, stage int) (n int) {
	for i := range v.Stages {
		if v.Stages[i].Name == v.Stages[stage].Name {
			n++
		}
	}
	return n
}

// litBy gives the stage whose ignition or burnout a stage's motor is lit at; -1 for none.
func litBy(v *sim.Vehicle, stage int) int {
	for k := range v.Stages {
		name := v.Stages[k].Name + "."
		if e := v.Stages[stage].Mount.Lit.Event; e == name+sim.StageBurnout || e == name+sim.StageIgnition {
			return k
		}
	}
	return -1
}

// checkOpening reports a device that is meant to open before the rocket flies.
func (l *loader) checkOpening(v value, d *sim.Device, c *eventCatalogue) {
	early := []string{sim.EventStart, sim.EventLaunch, sim.EventLiftoff, sim.EventRailExit, c.stages[len(c.stages)-1] + "." + sim.StageIgnition}
	if v.ok() && slices.Contains(early, d.Opens.Event) && d.Opens.Offset <= 0 {
		l.report(harness.Problem{Place: v.at, Found: d.Name + " opens at " + d.Opens.String(), Wanted: "a time at which the rocket has flown", Hint: "as in apogee, or height falling through 150 m"})
	}
}

// contradictions reports an output that must fire in a window in which it must never fire.
func (s *planBuilder) contradictions(all []harness.Expectation) {
	for i := range all {
		n := &all[i]
		if n.Kind != harness.Never || n.Quantity != sim.NoQuantity || n.Output.Name == "" {
			continue
		}
		for k := range all {
			if e := &all[k]; s.forbids(n, e) {
				s.l.report(harness.Problem{Place: later(n, e).Place, Found: fmt.Sprintf("%q beside %q", n.Text, e.Text), Wanted: "one of the two", Hint: fmt.Sprintf("no board can do both; the other is on line %d", earlier(n, e).Place.Line)})
			}
		}
	}
}

func later(a, b *harness.Expectation) *harness.Expectation {
	if a.Place.Line > b.Place.Line || a.Place.Line == b.Place.Line && a.Place.Column > b.Place.Column {
		return a
	}
	return b
}

func earlier(a, b *harness.Expectation) *harness.Expectation {
	if later(a, b) == a {
		return b
	}
	return a
}

// forbids says that a `never` covers the whole window of a `fires` of the same output.
func (s *planBuilder) forbids(n, e *harness.Expectation) bool {
	return e.Kind == harness.Fires && e.Output == n.Output && (!n.HasFrom || s.notAfter(n.From, e.From)) && (!n.HasTo || s.notAfter(e.To, n.To))
}

// notAfter says that one anchor surely comes no later than another.
func (s *planBuilder) notAfter(a, b sim.Anchor) bool {
	x, first := s.c.known(a)
	y, second := s.c.known(b)
	return a.Event == b.Event && a.Offset <= b.Offset || first && second && x <= y
}

// commandsAfterEnd reports commands that come when the run is over.
func (s *planBuilder) commandsAfterEnd(commands, until value) {
	set := &s.plan.Setup
	if !until.ok() || set.Until == (sim.Anchor{}) || set.Launch >= set.Limit {
		return // told already
	}
	for i, o := range commands.objects() {
		at := o.get("at")
		if !at.ok() || i >= len(set.Commands) {
			continue
		}
		a := set.Commands[i].At
		t, known := s.c.known(a)
		late := known && t > set.Limit || s.notAfter(set.Until, a) && !s.notAfter(a, set.Until)
		if late {
			s.l.report(harness.Problem{Place: at.at, Found: "a command at " + a.String(), Wanted: "a time before the run is over, at " + set.Until.String() + " or by " + set.Limit.String(), Hint: "it would never be given"})
		}
	}
}
