package verdict

import (
	"fmt"
	"math"

	"drystage/harness"
	"drystage/sim"
)

// notJudgeable says why an expectation can't be judged; empty if it can.
func (j *judge) notJudgeable(e *harness.Expectation) string {
	s := &j.rec.Plan.Setup
	stages, bays := len(s.Vehicle.Stages), len(s.Bays)
	quantity := e.Kind == harness.AtFiring || e.Kind == harness.AtEvent || e.Kind == harness.Never && e.Quantity != sim.NoQuantity
	switch {
	case e.Kind > harness.Reaction:
		return fmt.Sprintf("its kind %d is unknown", e.Kind)
	case len(j.rec.Times) == 0:
		return "the record holds no instant"
	case e.Kind == harness.Reports && (e.Report == harness.NoReport || e.Report > harness.ReportedSpeed):
		return fmt.Sprintf("its report %d is unknown", e.Report)
	case e.Kind == harness.Reports || e.Kind == harness.Alive:
		if !inside(e.Bay, bays) {
			return fmt.Sprintf("it speaks of board %d of %d", e.Bay, bays)
		}
	case e.Kind != harness.AtEvent && e.Kind != harness.Happens && !inside(e.Output.Bay, bays), e.Kind == harness.Order && !inside(e.Then.Bay, bays):
		return fmt.Sprintf("it speaks of a board that is not among the %d", bays)
	case quantity && (e.Quantity == sim.NoQuantity || int(e.Quantity) >= len(units)):
		return fmt.Sprintf("its quantity %d is unknown", e.Quantity)
	case quantity && !inside(e.Stage, stages):
		return fmt.Sprintf("it speaks of stage %d of %d", e.Stage, stages)
	}
	return missingLimit(e)
}

// missingLimit says that an expectation which needs a limit has none.
func missingLimit(e *harness.Expectation) string {
	needs := false
	switch e.Kind {
	case harness.Pulse, harness.AtFiring, harness.AtEvent:
		needs = true
	case harness.Never:
		needs = e.Quantity != sim.NoQuantity
	}
	switch {
	case e.HasLeast && !finite(e.Least), e.HasMost && !finite(e.Most):
		return fmt.Sprintf("its limit is no finite number: %g to %g", e.Least, e.Most)
	case needs && !e.HasLeast && !e.HasMost, (e.Kind == harness.Reports || e.Kind == harness.Reaction) && !e.HasMost:
		return "it has no limit"
	}
	return ""
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func inside(i, n int) bool { return 0 <= i && i < n }
