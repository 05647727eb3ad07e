// Package coverage counts in which phases of flight a suite has tried each kind of fault, to show what was never tried.
// It counts faults that had an effect in a record, not those that a file asked for. It doesn't judge boards.
package coverage

import (
	"drystage/harness"
	"drystage/sim"
)

// Phase is a phase of the true flight of one body.
type Phase uint8

// The phases. Lower is before the first separation, Upper after it.
const (
	Pad Phase = iota
	LowerBoost
	LowerCoast
	UpperBoost
	UpperCoast
	Descent
	Landed
	Phases // how many
)

var phaseNames = [...]string{"pad", "boost", "coast", "upper boost", "upper coast", "descent", "landed"}

// String gives the words used in tables.
func (p Phase) String() string { return phaseNames[p] }

// Table counts the scenarios that tried a kind of fault in a phase.
type Table struct {
	Scenarios int
	counts    map[sim.FaultKind]*[Phases]int
}

// Count gives the number of scenarios in which a kind of fault had an effect in a phase.
func (t *Table) Count(k sim.FaultKind, p Phase) int {
	if row := t.counts[k]; row != nil {
		return row[p]
	}
	return 0
}

// Any says that some scenario tried a kind of fault.
func (t *Table) Any(k sim.FaultKind) bool { return t.counts[k] != nil }

// Add counts the faults of one record. Each kind counts once per scenario and phase.
func (t *Table) Add(rec *harness.Record) {
	t.Scenarios++
	if t.counts == nil {
		t.counts = map[sim.FaultKind]*[Phases]int{}
	}
	seen := map[sim.FaultKind]*[Phases]bool{}
	separated := sim.Never
	for _, e := range rec.Events {
		if e.Name == sim.EventSeparation {
			separated = min(separated, e.At)
		}
	}
	for tick, active := range rec.Active {
		for i := 0; active != 0 && i < len(rec.Plan.Setup.Faults); i, active = i+1, active>>1 {
			if active&1 == 0 {
				continue
			}
			f := &rec.Plan.Setup.Faults[i]
			if seen[f.Kind] == nil {
				seen[f.Kind] = new([Phases]bool)
			}
			seen[f.Kind][phase(rec.State(tick, stage(rec, f)), rec.Times[tick] >= separated)] = true
		}
	}
	for k, row := range seen {
		if t.counts[k] == nil {
			t.counts[k] = new([Phases]int)
		}
		for p, so := range row {
			if so {
				t.counts[k][p]++
			}
		}
	}
}

// stage is the stage whose body a fault happens on.
func stage(rec *harness.Record, f *sim.Fault) int {
	if f.Kind.Layer() == sim.OnVehicle {
		return f.Stage
	}
	return rec.Plan.Setup.Bays[f.Bay].Stage
}

// phase gives a body's phase from its true state.
func phase(s *sim.State, separated bool) Phase {
	switch {
	case s.OnPad:
		return Pad
	case s.Landed:
		return Landed
	case s.Velocity.Z < 0 && s.Thrust <= 0:
		return Descent
	case s.Thrust > 0 && separated:
		return UpperBoost
	case s.Thrust > 0:
		return LowerBoost
	case separated:
		return UpperCoast
	}
	return LowerCoast
}
