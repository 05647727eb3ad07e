package verdict

import (
	"fmt"
	"strconv"

	"drystage/harness"
	"drystage/sim"
)

// doubts lists what is wrong with the run itself. Each doubt makes the verdict unsure.
func (j *judge) doubts() []harness.Finding {
	var fs []harness.Finding
	doubt := func(text, reason string) {
		fs = append(fs, harness.Finding{Text: text, Reason: reason, Place: harness.Place{File: j.rec.Plan.File}})
	}
	if j.flaw != "" {
		doubt("the record is well formed", j.flaw)
		return fs
	}
	if len(j.rec.Plan.Expect) == 0 {
		doubt("the scenario expects something", "it holds no expectation, so that nothing was tested; add some under `expect`")
	}
	if !j.rec.Complete() {
		doubt("the run reaches its planned end", j.endWord()+": "+j.cause())
	}
	for i := range j.rec.Plan.Setup.Faults {
		if j.rec.FaultTicks(i) == 0 {
			doubt("fault "+j.fault(i)+" changes something", "it never did, so that the board was not tested against it")
		}
	}
	if text := j.lateFrames(); text != "" {
		doubt("frames leave in time", text)
	}
	j.outputs(doubt)
	j.clocks(doubt)
	for i, b := range j.rec.Plan.Setup.Bays {
		if i >= len(j.rec.Health) {
			doubt(b.Name+": the link is whole", "nothing is on record of this board's health")
			continue
		}
		j.link(b.Name, &j.rec.Health[i], doubt)
		if n := j.rec.Health[i].Unasked; n > 0 && !j.askedAlive(i) {
			doubt(b.Name+": the board does not restart by itself", "it did, "+times(n))
		}
	}
	return fs
}

// link doubts a run with lost or corrupt frames, or whose board contradicted itself.
func (j *judge) link(name string, h *harness.Health, doubt func(text, reason string)) {
	if !h.Faultless() {
		text := fmt.Sprintf("from the board %d corrupt and %d missing frames, to the board %d corrupt and %d missing", h.Bad, h.Lost, h.BoardBad, h.BoardLost)
		if h.SpoiltBad+h.SpoiltLost > 0 {
			text += fmt.Sprintf(", of which faults made %d and %d", h.SpoiltBad, h.SpoiltLost)
		}
		doubt(name+": the link is whole", text)
	}
	if p := &h.Port; p.Lost > 0 {
		doubt(name+": its receiver's port "+p.Address+" takes what it is given", fmt.Sprintf("it took %s of sentences and lost %d: %s", count(p.Sent, "set"), p.Lost, p.Cause))
	}
	j.answers(name, &h.Answers, doubt)
	if e := &h.End; !e.OK() {
		how := "exit status " + strconv.Itoa(e.Status)
		if e.Signal != "" {
			how = "signal: " + e.Signal
		}
		doubt(name+": its program ends with status 0", "it ended with "+how+"; what it did before that may be as wrong")
	}
	if h.SelfArmed > 0 {
		doubt(name+": it is armed by a command and by nothing else", fmt.Sprintf("at %s it said that it is armed, and %s in all, though no command had armed it, or not since it was disarmed or said that it is not; mend the firmware: a board that arms itself can fire beside people",
			h.SelfArmedAt, times(h.SelfArmed)))
	}
	if h.Unarmed > 0 {
		doubt(name+": outputs stay still while it says that it is not armed", count(h.Unarmed, "edge")+" while it said so")
	}
}

// answers doubts a run in which a board didn't answer, or took so long that it would have missed samples in flight.
func (j *judge) answers(name string, a *harness.Answers, doubt func(text, reason string)) {
	if a.Missing > 0 {
		doubt(name+": it answers all that it is asked", fmt.Sprintf("%s had no answer, the first asked at %s", count(a.Missing, "question"), a.MissingAt))
	}
	if a.Over == 0 {
		return
	}
	text := fmt.Sprintf("%s took longer than %s, the slowest %s, to what was sent at %s", count(a.Over, "answer"), span(a.Limit), span(a.Slowest), a.At)
	if a.Bench > 0 {
		text += fmt.Sprintf(" (the bench itself may have added %s)", span(a.Bench))
	}
	doubt(name+": it answers in time", text+"; a board that is busy for so long misses samples in flight; look for what it waits for, such as writing a log. An emulator may need more: `answer` under `link` in its board's file, or --answer-limit")
}

// askedAlive says that an expectation already judges the restarts of a board.
func (j *judge) askedAlive(bay int) bool {
	for _, e := range j.rec.Plan.Expect {
		if e.Kind == harness.Alive && e.Bay == bay {
			return true
		}
	}
	return false
}

// cause says why a record is not complete.
func (j *judge) cause() string {
	if j.rec.Cause == "" {
		return "no cause is on record"
	}
	return j.rec.Cause
}

// fault describes a fault in a few words.
func (j *judge) fault(i int) string {
	f := &j.rec.Plan.Setup.Faults[i]
	s := fmt.Sprintf("%d (%s on ", i+1, f.Kind)
	switch setup := &j.rec.Plan.Setup; {
	case f.Kind.Layer() == sim.OnVehicle:
		st := &setup.Vehicle.Stages[f.Stage]
		if s += st.Name; f.Kind.OfDevice() {
			s += "." + st.Recovery[f.Device].Name
		}
	case f.Kind.Layer() == sim.OnPower, f.Kind.Layer() == sim.OnLink, f.Kind.Layer() == sim.OnWire:
		s += setup.Bays[f.Bay].Name
	default:
		s += setup.Bays[f.Bay].Name + "." + f.Part.String()
	}
	return fmt.Sprintf("%s from %s)", s, f.From)
}
