package harness

import (
	"fmt"
	"math"

	"drystage/sim"
)

// edgeSlack is how far outside of the run the time of an edge may be: in real time messages come in for a while after
// the last tick, and a fitted clock may give a time slightly before the first. Own choice, no source.
const edgeSlack = sim.Second

// maxChannel is the highest channel number of the contract.
const maxChannel = 16

// Flaw says why a record is malformed: lists of different lengths, NaN or infinite numbers, impossible times or
// indices. It is empty for a well-formed record. A malformed record proves nothing. After this check all indices are
// valid.
func (r *Record) Flaw() string {
	if why := r.FlawOfFlown(); why != "" {
		return why
	}
	return r.numbers(0)
}

// FlawOfFlown is Flaw of a record that was flown in this process, where FlawOfLastTick was asked after each tick.
func (r *Record) FlawOfFlown() string {
	for _, check := range [...]func() string{r.shape, r.plan, r.times, r.edges, r.messages, r.clocks, r.counts, r.injections} {
		if why := check(); why != "" {
			return why
		}
	}
	return ""
}

// FlawOfLastTick says that the last tick holds a number that is infinite or NaN; empty: none.
func (r *Record) FlawOfLastTick() string { return r.numbers(len(r.Times) - 1) }

// shape compares the lengths of the lists of ticks.
func (r *Record) shape() string {
	s, n := &r.Plan.Setup, len(r.Times)
	switch {
	case len(r.States) != n*len(s.Vehicle.Stages):
		return fmt.Sprintf("%d states for %d ticks of %d stages", len(r.States), n, len(s.Vehicle.Stages))
	case len(r.Frames) != n*len(s.Bays):
		return fmt.Sprintf("%d frames for %d ticks of %d boards", len(r.Frames), n, len(s.Bays))
	case len(r.Active) != n:
		return fmt.Sprintf("%d words of active faults for %d ticks", len(r.Active), n)
	case len(s.Faults) > sim.MaxFaults:
		return fmt.Sprintf("%d faults, at most %d", len(s.Faults), sim.MaxFaults)
	}
	return ""
}

// plan checks the boards, outputs and faults of the plan.
func (r *Record) plan() string {
	s := &r.Plan.Setup
	for i := range s.Bays {
		b := &s.Bays[i]
		if !inside(b.Stage, len(s.Vehicle.Stages)) {
			return fmt.Sprintf("board %d sits in stage %d of %d", i, b.Stage, len(s.Vehicle.Stages))
		}
		for _, w := range b.Wires {
			if !validEffect(w.Effect, &s.Vehicle) {
				return fmt.Sprintf("output %d of board %d acts on what there is not", w.Channel, i)
			}
		}
	}
	for i, f := range s.Faults {
		if !validFault(f, s) {
			return fmt.Sprintf("fault %d is of an unknown kind or target", i+1)
		}
	}
	return ""
}

// validEffect says that the target of an effect exists.
func validEffect(e sim.Effect, v *sim.Vehicle) bool {
	switch e.Kind {
	case sim.Nothing:
		return true
	case sim.Ignite, sim.Separate:
		return inside(e.Stage, len(v.Stages))
	case sim.Deploy:
		return inside(e.Stage, len(v.Stages)) && inside(e.Device, len(v.Stages[e.Stage].Recovery))
	}
	return false
}

// validFault says that the kind and the target of a fault exist.
func validFault(f sim.Fault, s *sim.Setup) bool {
	if int(f.Kind) > len(sim.FaultKinds()) || int(f.Part) > len(sim.PartNames()) {
		return false
	}
	if f.Kind.Layer() == sim.OnVehicle {
		return inside(f.Stage, len(s.Vehicle.Stages)) &&
			(!f.Kind.OfDevice() || inside(f.Device, len(s.Vehicle.Stages[f.Stage].Recovery)))
	}
	return inside(f.Bay, len(s.Bays))
}

// times checks that ticks and events are in order, from the start to the end of the run.
func (r *Record) times() string {
	last := sim.Time(0)
	for i, t := range r.Times {
		switch {
		case t < 0:
			return fmt.Sprintf("tick %d at %s comes before the start", i, t)
		case t < last:
			return fmt.Sprintf("tick %d at %s comes before tick %d at %s", i, t, i-1, last)
		}
		last = t
	}
	end := last
	last = 0
	for _, e := range r.Events {
		switch {
		case e.At < last:
			return fmt.Sprintf("event %q at %s stands behind one at %s", e.Name, e.At, last)
		case e.At > end:
			return fmt.Sprintf("event %q at %s comes after the end, %s", e.Name, e.At, end)
		}
		last = e.At
	}
	return ""
}

// edges checks that each edge has a valid board and channel, a time in the run and a valid uncertainty.
func (r *Record) edges() string {
	end, late := sim.Time(0), edgeSlack
	if n := len(r.Times); n > 0 {
		end = r.Times[n-1]
		if len(r.Late) == n {
			late += min(max(0, r.Late[n-1]), sim.Time(1e18))
		}
	}
	for i := range r.Outputs {
		e := &r.Outputs[i]
		switch {
		case !inside(e.Bay, len(r.Plan.Setup.Bays)), e.Channel < 1, e.Channel > maxChannel:
			return fmt.Sprintf("edge %d is of output %d of board %d, of %d boards with %d outputs at most", i, e.Channel, e.Bay, len(r.Plan.Setup.Bays), maxChannel)
		case e.At < -edgeSlack, e.At > end && e.At-late > end:
			return fmt.Sprintf("edge %d at %s lies outside the run, which ends at %s", i, e.At, end)
		case e.Within < 0:
			return fmt.Sprintf("edge %d has an uncertainty of %s, less than none", i, e.Within)
		case e.Basis > ByPin:
			return fmt.Sprintf("edge %d rests on basis %d, which is unknown", i, e.Basis)
		}
	}
	for i, u := range r.Unmeasured {
		if !inside(u.Bay, len(r.Plan.Setup.Bays)) || u.Within < 0 {
			return fmt.Sprintf("unmeasured output %d is of board %d of %d, uncertain by %s", i, u.Bay, len(r.Plan.Setup.Bays), u.Within)
		}
	}
	return ""
}

// messages checks the boards' messages.
func (r *Record) messages() string {
	bays := len(r.Plan.Setup.Bays)
	for i := range r.Reports {
		x := &r.Reports[i]
		switch {
		case !inside(x.Bay, bays):
			return fmt.Sprintf("report %d is of board %d of %d", i, x.Bay, bays)
		case !finite(x.Height, x.Speed, x.Apogee):
			return fmt.Sprintf("report %d at %s tells a number that is none: height %g m, speed %g m/s, apogee %g m", i, x.At, x.Height, x.Speed, x.Apogee)
		}
	}
	for i, x := range r.Logs {
		if !inside(x.Bay, bays) {
			return fmt.Sprintf("line %d of the log is of board %d of %d", i, x.Bay, bays)
		}
	}
	for i, x := range r.NMEA {
		if !inside(x.Bay, bays) {
			return fmt.Sprintf("sentence %d is of board %d of %d", i, x.Bay, bays)
		}
	}
	return ""
}

// clocks checks the boards' own clocks.
func (r *Record) clocks() string {
	bays := len(r.Plan.Setup.Bays)
	for i, x := range r.Readings {
		if !inside(x.Bay, bays) {
			return fmt.Sprintf("reading %d of a clock is of board %d of %d", i, x.Bay, bays)
		}
	}
	for i, x := range r.Clocks {
		if !inside(x.Bay, bays) || !finite(x.Drift) {
			return fmt.Sprintf("clock %d is of board %d of %d and drifts by %g", i, x.Bay, bays, x.Drift)
		}
	}
	return ""
}

// counts checks that no count is below 0.
func (r *Record) counts() string {
	for i := range r.Health {
		h := &r.Health[i]
		if min(h.Boots, h.Unasked, h.Bad, h.Lost, h.BoardBad, h.BoardLost, h.Unarmed, h.RoundTrips, h.SelfArmed, h.SpoiltBad, h.SpoiltLost, h.Port.Sent, h.Port.Lost, h.Answers.Over, h.Answers.Missing) < 0 {
			return fmt.Sprintf("the health of board %d holds a count below 0", i)
		}
		if a := &h.Answers; min(a.Limit, a.Slowest, a.Bench) < 0 || a.Bench > a.Slowest || a.Over == 0 && a.Slowest-a.Bench > a.Limit {
			return fmt.Sprintf("the slowest answer of board %d took %s, of which %s were not its own, with a limit of %s, and %d took longer", i, a.Slowest, a.Bench, a.Limit, a.Over)
		}
	}
	return ""
}

// numbers checks that every number of every tick and of every injection is finite.
// numbers checks the numbers of the ticks from one on.
func (r *Record) numbers(tick int) string {
	stages, bays := len(r.Plan.Setup.Vehicle.Stages), len(r.Plan.Setup.Bays)
	for i := tick * stages; i < len(r.States); i++ {
		if !r.States[i].Finite() {
			return fmt.Sprintf("the true state of stage %d at tick %d, %s, holds a number that is none", i%stages, i/stages, r.Times[i/stages])
		}
	}
	for i := tick * bays; i < len(r.Frames); i++ {
		if !r.Frames[i].Finite() {
			return fmt.Sprintf("the frame of board %d at tick %d, %s, holds a number that is none", i%bays, i/bays, r.Times[i/bays])
		}
	}
	return ""
}

// injections checks what faults did to samples.
func (r *Record) injections() string {
	for i := range r.Injected {
		x := &r.Injected[i]
		switch {
		case !inside(x.Bay, len(r.Plan.Setup.Bays)), !inside(x.Fault, len(r.Plan.Setup.Faults)), int(x.Part) > len(sim.PartNames()):
			return fmt.Sprintf("injection %d is by fault %d into part %d of board %d", i, x.Fault, x.Part, x.Bay)
		case !x.Finite():
			return fmt.Sprintf("injection %d at %s holds a number that is none", i, x.At)
		}
	}
	return ""
}

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

func inside(i, n int) bool { return 0 <= i && i < n }
