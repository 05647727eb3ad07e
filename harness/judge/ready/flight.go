package ready

import (
	"fmt"
	"math"

	"drystage/harness"
	"drystage/sim"
)

// flight is the summary of one record.
type flight struct {
	files            []string
	sum              string
	name, title      string
	file, digest     string
	seed             uint64
	answer           harness.Answer
	malformed        bool // nothing below is known
	vehicle          string
	made             harness.Maker
	cut              string // why it is not complete; empty: it is
	realTime         bool
	boards           []boardFlown
	outputs          []output
	troubles         []harness.Finding // that are no pass
	calls            []Call
	day              day
	estimated        []string // stages whose inertia nobody measured
	needs, connected []string // what an output should act on, and what one acts on
	conflicts        []string // outputs
	unmeasured       []unmeasured
}

// proves says that a record may close points.
func (f *flight) proves() bool { return f.answer == harness.Pass }

// boardFlown is one board of one record.
type boardFlown struct {
	role, name, address string
	unasked             int
	linkOK              bool
}

// output is one output of one record.
type output struct {
	role, name string
	channel    int
	does       string
	demands    [kinds]bool
	fired      bool
	known      [harness.ByPin + 1]bool // what the times of its edges rest on
	closest    *Call
}

type unmeasured struct{ output, why, next string }

// summarise takes from a record what a sheet needs.
func summarise(src Source, rec *harness.Record, v *harness.Verdict) flight {
	f := flight{
		files: []string{src.File}, sum: src.Sum, name: v.Name, title: v.Title, file: v.File, digest: v.Digest, seed: v.Seed, answer: v.Answer,
		vehicle: rec.Plan.Setup.Vehicle.Name, made: rec.Made, realTime: rec.Pace.RealTime, malformed: rec.Flaw() != "",
	}
	if !rec.Complete() {
		f.cut = "no cause is on record"
		if rec.Cause != "" {
			f.cut = rec.Cause
		}
	}
	for _, g := range v.Findings {
		if g.Answer != harness.Pass {
			f.troubles = append(f.troubles, g)
		}
		if measured(&g) {
			f.calls = append(f.calls, f.call(&g))
		}
	}
	if f.malformed {
		return f
	}
	f.board(rec)
	f.output(rec, v)
	f.rig(rec)
	f.ofVehicle(&rec.Plan.Setup)
	f.day = dayOf(&rec.Plan.Setup)
	return f
}

func measured(f *harness.Finding) bool { return f.HasMargin && !math.IsNaN(f.Share) }

func (f *flight) call(g *harness.Finding) Call {
	return Call{Scenario: f.name, RealTime: f.realTime, Finding: *g}
}

// board takes the boards, with their restarts and the state of their links.
func (f *flight) board(rec *harness.Record) {
	for i, b := range rec.Plan.Setup.Bays {
		s := boardFlown{role: b.Name, linkOK: true} // if nothing is on record, the verdict says so
		if i < len(rec.Made.Boards) {
			s.address = rec.Made.Boards[i]
		}
		if i < len(rec.Health) {
			h := &rec.Health[i]
			s.name, s.unasked, s.linkOK = h.Name, h.Unasked, h.Faultless()
		}
		f.boards = append(f.boards, s)
	}
}

// output takes the expectations on each output and what it did.
func (f *flight) output(rec *harness.Record, v *harness.Verdict) {
	at := map[[2]int]int{}
	for i, b := range rec.Plan.Setup.Bays {
		for _, w := range b.Wires {
			at[[2]int{i, w.Channel}] = len(f.outputs)
			f.outputs = append(f.outputs, output{role: b.Name, name: w.Name, channel: w.Channel, does: does(w.Effect, &rec.Plan.Setup.Vehicle)})
		}
	}
	for i := range rec.Plan.Expect {
		e := &rec.Plan.Expect[i]
		for _, c := range channels(e) {
			n, ok := at[[2]int{c.Bay, c.Channel}]
			if !ok || int(e.Kind) >= kinds {
				continue
			}
			o := &f.outputs[n]
			o.demands[e.Kind] = true
			if g := &v.Findings[i]; measured(g) && (o.closest == nil || g.Share < o.closest.Finding.Share) {
				c := f.call(g)
				o.closest = &c
			}
		}
	}
	for _, e := range rec.Outputs {
		if n, ok := at[[2]int{e.Bay, e.Channel}]; ok && e.On && e.Basis <= harness.ByPin {
			f.outputs[n].fired, f.outputs[n].known[e.Basis] = true, true
		}
	}
}

// channels gives the outputs of an expectation.
func channels(e *harness.Expectation) []harness.Channel {
	switch e.Kind {
	case harness.Order:
		return []harness.Channel{e.Output, e.Then}
	case harness.Fires, harness.Never, harness.Once, harness.Pulse, harness.AtFiring, harness.Reaction:
		return []harness.Channel{e.Output}
	}
	return nil
}

// rig takes conflicts of pins and boards, and unmeasured pins.
func (f *flight) rig(rec *harness.Record) {
	for _, c := range rec.Conflicts {
		f.conflicts = append(f.conflicts, outputName(&rec.Plan.Setup, c.Bay, c.Channel))
	}
	for _, u := range rec.Unmeasured {
		f.unmeasured = append(f.unmeasured, unmeasured{outputName(&rec.Plan.Setup, u.Bay, u.Channel), u.Why, u.Next})
	}
}

// outputName names an output, by its numbers if it has no name.
func outputName(s *sim.Setup, bay, channel int) string {
	if bay < 0 || bay >= len(s.Bays) {
		return fmt.Sprintf("output %d of board %d", channel, bay+1)
	}
	for _, w := range s.Bays[bay].Wires {
		if w.Channel == channel {
			return s.Bays[bay].Name + "." + w.Name
		}
	}
	return fmt.Sprintf("%s.%d", s.Bays[bay].Name, channel)
}
