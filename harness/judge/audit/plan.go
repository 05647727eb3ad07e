package audit

import (
	"errors"
	"fmt"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/run"
	"drystage/harness/vary"
)

// derive makes a plan again from the files that it holds, for the same flight.
func derive(p *harness.Plan) (harness.Plan, error) {
	if len(p.Files) == 0 {
		return harness.Plan{}, errors.New("it was not made of scenario files, or the record has lost them, so that nothing tells what was to be proven")
	}
	plan, problems := scenario.Again(p.Files, p.File)
	if len(problems) > 0 {
		return harness.Plan{}, fmt.Errorf("they make no plan: %s", problems[0])
	}
	return sameFlight(&plan, p)
}

// sameFlight gives a plan the seed and, in a sweep, the drawn values of another plan's flight, and rehearses it. What
// comes from a log is still missing.
func sameFlight(plan, flight *harness.Plan) (harness.Plan, error) {
	out := *plan
	if d := flight.Drawn; d != (harness.Drawn{}) {
		if d.Flight < 1 {
			return out, fmt.Errorf("it says that it is flight %d of a sweep, and the first is 1", d.Flight)
		}
		out.Setup.Seed = d.Seed
		out = vary.Plan(&out, d.Flight, d.Points)
	} else {
		out.Setup.Seed = flight.Setup.Seed
	}
	run.Rehearse(&out.Setup)
	return out, nil
}
