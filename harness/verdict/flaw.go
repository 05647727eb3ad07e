package verdict

import (
	"fmt"
	"math"

	"drystage/harness"
	"drystage/sim"
)

// Flaw says why a record can't be read as one, so that nothing here reaches past a slice; empty if
// it can.
func Flaw(rec *harness.Record) string {
	s, n := &rec.Plan.Setup, len(rec.Times)
	switch {
	case len(rec.States) != n*len(s.Vehicle.Stages):
		return fmt.Sprintf("%d states for %d ticks of %d stages", len(rec.States), n, len(s.Vehicle.Stages))
	case len(rec.Frames) != n*len(s.Bays):
		return fmt.Sprintf("%d frames for %d ticks of %d boards", len(rec.Frames), n, len(s.Bays))
	case len(rec.Active) != n:
		return fmt.Sprintf("%d words of active faults for %d ticks", len(rec.Active), n)
	case len(s.Faults) > sim.MaxFaults:
		return fmt.Sprintf("%d faults, at most %d", len(s.Faults), sim.MaxFaults)
	}
	for i := 1; i < n; i++ {
		if rec.Times[i] < rec.Times[i-1] {
			return fmt.Sprintf("tick %d at %s comes before tick %d at %s", i, rec.Times[i], i-1, rec.Times[i-1])
		}
	}
	for i, b := range s.Bays {
		if !inside(b.Stage, len(s.Vehicle.Stages)) {
			return fmt.Sprintf("board %d sits in stage %d of %d", i, b.Stage, len(s.Vehicle.Stages))
		}
	}
	for i, f := range s.Faults {
		if !known(f, s) {
			return fmt.Sprintf("fault %d is of an unknown kind or target", i+1)
		}
	}
	return ""
}

// known says that a fault names what there is.
func known(f sim.Fault, s *sim.Setup) bool {
	if int(f.Kind) > len(sim.FaultKinds()) || int(f.Part) > len(sim.PartNames()) {
		return false
	}
	if f.Kind.Layer() == sim.OnVehicle {
		return inside(f.Stage, len(s.Vehicle.Stages)) &&
			(!f.Kind.OfDevice() || inside(f.Device, len(s.Vehicle.Stages[f.Stage].Recovery)))
	}
	return inside(f.Bay, len(s.Bays))
}

// unfit says why an expectation can't be judged at all; empty if it can.
func (j *judge) unfit(e *harness.Expectation) string {
	s := &j.rec.Plan.Setup
	stages, bays := len(s.Vehicle.Stages), len(s.Bays)
	quantity := e.Kind == harness.AtFiring || e.Kind == harness.AtEvent || e.Kind == harness.Never && e.Quantity != sim.NoQuantity
	switch {
	case e.Kind > harness.Alive:
		return fmt.Sprintf("its kind %d is unknown", e.Kind)
	case len(j.rec.Times) == 0:
		return "the record holds no instant"
	case e.Kind == harness.Reports && e.Report != harness.ApogeeHeight:
		return fmt.Sprintf("its report %d is unknown", e.Report)
	case e.Kind == harness.Reports || e.Kind == harness.Alive:
		if !inside(e.Bay, bays) {
			return fmt.Sprintf("it speaks of board %d of %d", e.Bay, bays)
		}
	case e.Kind != harness.AtEvent && !inside(e.Output.Bay, bays), e.Kind == harness.Order && !inside(e.Then.Bay, bays):
		return fmt.Sprintf("it speaks of a board that is not among the %d", bays)
	case quantity && (e.Quantity == sim.NoQuantity || int(e.Quantity) >= len(units)):
		return fmt.Sprintf("its quantity %d is unknown", e.Quantity)
	case quantity && !inside(e.Stage, stages):
		return fmt.Sprintf("it speaks of stage %d of %d", e.Stage, stages)
	}
	return unlimited(e)
}

// unlimited says that an expectation which needs a limit has none.
func unlimited(e *harness.Expectation) string {
	needs := false
	switch e.Kind {
	case harness.Pulse, harness.AtFiring, harness.AtEvent:
		needs = true
	case harness.Never:
		needs = e.Quantity != sim.NoQuantity
	}
	switch {
	case e.HasLeast && math.IsNaN(e.Least), e.HasMost && math.IsNaN(e.Most):
		return "its limit is not a number"
	case needs && !e.HasLeast && !e.HasMost, e.Kind == harness.Reports && !e.HasMost:
		return "it has no limit"
	}
	return ""
}

func inside(i, n int) bool { return 0 <= i && i < n }
