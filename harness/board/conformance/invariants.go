package conformance

import (
	"fmt"
	"strings"

	"drystage/harness/board/contract"
)

// invariantTests judge what must hold throughout the session.
func invariantTests() []test {
	const lockstep = contract.CanLockstep
	return []test{
		{name: "OUTPUT and DONE name only outputs that the board has", contract: quote("WELCOME.channels", "OUTPUT.channel", "DONE.outputs"), spec: "7, WELCOME", whole: true, needs: lockstep,
			try: func(s *tester) result { return s.invariant(s.monitor.badChannels, s.monitor.dones, "DONE") }},
		{name: "OUTPUT's time lies between the last TICK and this one", contract: quote("OUTPUT.time", "TICK.time"), spec: "4, lockstep", whole: true, needs: lockstep,
			try: func(s *tester) result { return s.invariant(s.monitor.badTimes, s.monitor.edges, "OUTPUT") }},
		{name: "OUTPUT and DONE agree", contract: quote("OUTPUT", "DONE", "DONE.outputs"), spec: "4, lockstep, and 5, rule 3", whole: true, needs: lockstep, try: agree},
		{name: "no output is on while DONE says unarmed", contract: quote("DONE.armed"), spec: "5, rule 2", whole: true, needs: lockstep,
			try: func(s *tester) result { return s.invariant(s.monitor.onUnarmed, s.monitor.dones, "DONE") }},
		{name: "every TICK is answered in time", contract: quote("TICK"), spec: "4, lockstep", whole: true, needs: lockstep, try: inTime},
		{name: "every TICK is answered within a period of the fastest sensor", contract: quote("TICK"), spec: "4, lockstep", whole: true, timed: true, needs: lockstep, try: withinPeriod},
		{name: "the board never restarts by itself", contract: quote("WELCOME"), spec: "4, restart", whole: true, try: neverRestarts},
		{name: "the board's frames are whole and numbered", contract: "Each direction counts its frames modulo 256; CRC-32C, COBS", spec: "1", whole: true, try: framesWhole},
	}
}

const throughout = "all that the points above tell"

// invariant judges a list of violations. If nothing was seen at all, the result is unsure.
func (s *tester) invariant(breaches []string, seen int, what string) result {
	r := result{sent: throughout, came: fmt.Sprintf("%d %ss", seen, what)}
	switch {
	case len(breaches) > 0:
		r.outcome, r.came, r.why = Fail, strings.Join(breaches, "; "), "what a board tells of its outputs must be so"
	case s.stopped != "":
		r.sent, r.came, r.why = nothing, nothing, "not tried: "+s.stopped
	case seen == 0:
		r.why = "no " + what + " came at all"
	default:
		r.outcome, r.why = Pass, "so in each of them"
	}
	return r
}

func agree(s *tester) result {
	w := &s.monitor
	r := s.invariant(w.disagreements, w.edges, "OUTPUT")
	if r.outcome == Pass && w.uncertain > 0 {
		r.outcome, r.why = Unsure, fmt.Sprintf("%d times they differ, and a frame of the board is missing by its number", w.uncertain)
	}
	return r
}

// inTime judges the slowest answers. A board that never answers has failed an earlier point.
func inTime(s *tester) result {
	r := s.invariant(nil, s.monitor.dones, "DONE")
	if len(s.late) > 0 {
		r.outcome, r.came = Fail, strings.Join(s.late, "; ")
		r.why = fmt.Sprintf("the board answers too late: the time-out is %s, and a run would end there as unsure", s.opt.Timeout)
	} else if r.outcome == Pass {
		r.came += fmt.Sprintf(", the slowest after %s", round(s.slowest))
		r.why = "none took longer than the time-out, " + s.opt.Timeout.String()
	}
	return r
}

func neverRestarts(s *tester) result {
	r := s.invariant(nil, s.Frames, "frame")
	if s.ownRestarts > 0 {
		r.outcome, r.came, r.why = Fail, fmt.Sprintf("%d restarts that nobody asked for", s.ownRestarts), "look at the board's supply and its watchdog"
	}
	return r
}

// framesWhole judges corrupt and missing frames: a few are the line's fault, more than half are the board's.
func framesWhole(s *tester) result {
	bad, lost := s.Dec.Counts.Bad(), s.missing()
	r := s.invariant(nil, s.Frames, "frame")
	if s.unnumbered && r.outcome == Pass {
		r.outcome, r.why = Unsure, "whole, but a board that does not number its frames hides it when one is missing; put that right first"
	}
	if bad+lost == 0 {
		return r
	}
	r.came = fmt.Sprintf("%d sound frames, %d spoilt, %d missing by number", s.Frames, bad, lost)
	r.outcome, r.why = Unsure, "a frame or more did not come as it was sent; look at the line"
	if bad+lost > s.Frames {
		r.outcome, r.why = Fail, "most frames; does the board count what it sends, and make CRC and COBS right?"
	}
	return r
}
