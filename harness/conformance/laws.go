package conformance

import (
	"fmt"
	"strings"

	"drystage/harness/contract"
)

// lawTests judge what was so throughout the session.
func lawTests() []test {
	law := func(name, says string, find func(w *watch) []string, seen func(w *watch) int, what string) test {
		return test{name: name, contract: says, whole: true, needs: contract.CanLockstep,
			try: func(s *session) result { return s.law(find(&s.watch), seen(&s.watch), what) }}
	}
	edges := func(w *watch) int { return w.edges }
	dones := func(w *watch) int { return w.dones }
	return []test{
		law("OUTPUT and DONE name only outputs that the board has", says("WELCOME.channels", "OUTPUT.channel", "DONE.outputs"), func(w *watch) []string { return w.channel }, dones, "DONE"),
		law("OUTPUT's time is never to come", says("OUTPUT.time", "TICK.time"), func(w *watch) []string { return w.time }, edges, "OUTPUT"),
		{name: "OUTPUT and DONE agree", contract: says("OUTPUT", "DONE", "DONE.outputs"), whole: true, needs: contract.CanLockstep, try: agree},
		law("no output is on while DONE says unarmed", says("DONE.armed"), func(w *watch) []string { return w.unarmed }, dones, "DONE"),
		{name: "the board never restarts by itself", contract: says("WELCOME"), whole: true, try: neverRestarts},
		{name: "the board's frames are whole and numbered", contract: "Each direction counts its frames modulo 256; CRC-32C, COBS", whole: true, try: framesWhole},
	}
}

const throughout = "all that the points above tell"

// law judges a list of breaches; with nothing seen, nothing is proven.
func (s *session) law(breaches []string, seen int, what string) result {
	r := result{sent: throughout, came: fmt.Sprintf("%d %ss", seen, what)}
	switch {
	case len(breaches) > 0:
		r.outcome, r.came, r.why = Fail, strings.Join(breaches, "; "), "what a board tells of its outputs must be so"
	case s.dead != "":
		r.why = "not seen to the end: " + s.dead
	case seen == 0:
		r.why = "no " + what + " came at all"
	default:
		r.outcome, r.why = Pass, "so in each of them"
	}
	return r
}

func agree(s *session) result {
	w := &s.watch
	r := s.law(w.agree, w.edges, "OUTPUT")
	if r.outcome == Pass && w.blurred > 0 {
		r.outcome, r.why = Unsure, fmt.Sprintf("%d times they differ, and a frame of the board is missing by its number", w.blurred)
	}
	return r
}

func neverRestarts(s *session) result {
	r := s.law(nil, s.frames, "frame")
	if s.unasked > 0 {
		r.outcome, r.came, r.why = Fail, fmt.Sprintf("%d restarts that nobody asked for", s.unasked), "look at the board's supply and its watchdog"
	}
	return r
}

// framesWhole calls a few spoilt or missing frames a matter of the line, and most of them one of the
// board.
func framesWhole(s *session) result {
	c := s.dec.Counts
	r := s.law(nil, s.frames, "frame")
	if c.Bad()+c.Lost == 0 {
		return r
	}
	r.came = fmt.Sprintf("%d sound frames, %d spoilt, %d missing by number", s.frames, c.Bad(), c.Lost)
	r.outcome, r.why = Unsure, "a frame or more did not come as it was sent; look at the line"
	if c.Bad()+c.Lost > s.frames {
		r.outcome, r.why = Fail, "most frames; does the board count what it sends, and make CRC and COBS right?"
	}
	return r
}
