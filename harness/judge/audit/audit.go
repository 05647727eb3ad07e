// Package audit recomputes a record as far as possible without the boards: the plan from the files in the record, and the
// flight from the plan and the outputs that were applied to it. It also checks that redundant data agree. Any
// difference, and anything that can't be recomputed, is a doubt, which makes the verdict unsure.
//
// It can't check what only boards know, such as the numbers in their reports, and proves nothing about who made a
// record: somebody who flies another scenario and swaps the files has a valid record of that other scenario. It opens
// no file.
package audit

import (
	"cmp"
	"errors"
	"fmt"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/world"
)

// Options of an audit.
type Options struct {
	Made harness.Maker // this drystage and this processor
	// Source gives the source that the plan was flown from, and completes a plan that plays a log, whose sensors are
	// the log's. nil: the simulated world only.
	Source func(p *harness.Plan, felt []sim.Output) (sim.Source, error)
	Suite  []harness.Plan // the current suite; a record with the same name and files must have the same plan
	derive func(p *harness.Plan) (harness.Plan, error)
}

// Audit gives the doubts about a record; none if everything agrees. A malformed record gives none, since verdict.Judge
// reports it.
func Audit(rec *harness.Record, opt Options) []harness.Finding {
	if rec.Flaw() != "" {
		return nil
	}
	if opt.derive == nil {
		opt.derive = derive
	}
	a := audit{rec: rec, opt: &opt}
	if why := differentMaker(&rec.Made, &opt.Made); why != "" {
		a.doubt("the record can be worked out again", why)
		return a.found
	}
	a.checkFlight()
	a.checkSuite()
	a.checkConsistency()
	return a.found
}

// audit collects the doubts about one record.
type audit struct {
	rec   *harness.Record
	opt   *Options
	found []harness.Finding
}

func (a *audit) doubt(text, reason string) {
	a.found = append(a.found, harness.Finding{Text: text, Reason: reason, Place: harness.Place{File: a.rec.Plan.File}})
}

// differentMaker says why this drystage can't repeat a record: another version may compute differently, and the last
// bits of numbers may differ between processors.
func differentMaker(made, is *harness.Maker) string {
	name := func(m *harness.Maker) string {
		return fmt.Sprintf("drystage %s on %s", cmp.Or(m.Version, "of an unknown version"), cmp.Or(m.Arch, "an unknown processor"))
	}
	if made.Version == is.Version && made.Arch == is.Arch && made.Version != "" {
		return ""
	}
	return fmt.Sprintf("%s made it, and this is %s; fly it again with this one", name(made), name(is))
}

// checkFlight makes the plan from its files and flies it again.
func (a *audit) checkFlight() {
	const ofFiles = "the plan is that of its files"
	plan, err := a.opt.derive(&a.rec.Plan)
	if err != nil {
		a.doubt(ofFiles, err.Error())
		return
	}
	src, err := a.source(&plan)
	if err != nil {
		a.doubt("the flight is that of its plan and outputs", err.Error())
	}
	if d := firstDifference(&a.rec.Plan, &plan, false); d != nil {
		a.doubt(ofFiles, fmt.Sprintf("%s is %s in the plan, and %s by its files", d.where, d.a, d.b))
		return
	}
	if err != nil {
		return
	}
	if why := refly(a.rec, src); why != "" {
		a.doubt("the flight is that of its plan and outputs", why)
	}
}

func (a *audit) source(p *harness.Plan) (sim.Source, error) {
	source := a.opt.Source
	if source == nil {
		source = simulated
	}
	src, err := source(p, a.rec.FlightOutputs)
	if err != nil && p.Log.File != "" {
		p.Setup.Bays[0].Sensors = a.rec.Plan.Setup.Bays[0].Sensors // the log's sensors are unknown here
	}
	return src, err
}

func simulated(p *harness.Plan, _ []sim.Output) (sim.Source, error) {
	if p.Log.File != "" {
		return nil, errors.New("it is that of the log " + p.Log.File + ", which is not at hand")
	}
	return world.New(&p.Setup), nil
}

// checkSuite compares the plan with that of the same scenario of the suite, if the files are the same.
func (a *audit) checkSuite() {
	for i := range a.opt.Suite {
		s := &a.opt.Suite[i]
		if s.Name != a.rec.Plan.Name || s.Digest != a.rec.Plan.Digest {
			continue
		}
		today, err := sameFlight(s, &a.rec.Plan)
		if err == nil {
			if s.Log.File != "" { // the log gives the sensors, and has been played already
				today.Setup.Bays[0].Sensors = a.rec.Plan.Setup.Bays[0].Sensors
			}
			if d := firstDifference(&a.rec.Plan, &today, true); d != nil {
				err = fmt.Errorf("%s is %s in the record, and %s in %s", d.where, d.a, d.b, s.File)
			}
		}
		if err != nil {
			a.doubt("the plan is that of the suite", err.Error())
		}
	}
}
