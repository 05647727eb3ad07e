package main

import (
	"fmt"
	"hash/maphash"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
)

// tape is all that a board was given in a flight, and marks of what it answered. A mutant that answers the same to
// all of it flies the same flight, so that nothing has to be simulated again.
type tape struct {
	entries []entry
	bytes   []byte // of all entries
	reports bool   // the scenario judges them
}

// entry is one thing that the board was given: samples as values, or bytes.
type entry struct {
	samples *contract.SampleSet
	to      int  // the end of its bytes
	said    mark // after it
}

// mark is a sum over all that a board has said so far. Texts for people are left out.
type mark struct{ decisions, reports uint64 }

var seed = maphash.MakeSeed()

func (m *mark) add(to *uint64, what any) {
	*to = *to*0x100000001b3 ^ maphash.Comparable(seed, what)
}

func (m *mark) direct(a *contract.Answers) {
	for _, o := range a.Outputs {
		m.add(&m.decisions, o)
	}
	m.add(&m.decisions, a.Done)
	for _, r := range a.Reports {
		m.add(&m.reports, r)
	}
}

// listener adds up what a board says in bytes.
type listener struct {
	mark
	dec *contract.Decoder
}

func newListener() listener { return listener{dec: contract.NewDecoder(contract.FromBoard)} }

func (l *listener) hear(out []byte) {
	for {
		f, rest, ok := l.dec.Next(out)
		if !ok {
			return
		}
		out = rest
		switch f.Code {
		case contract.CodeLog:
		case contract.CodeReport:
			l.add(&l.reports, string(f.Payload))
		default:
			l.add(&l.decisions, string(f.Payload))
		}
	}
}

// recorder is a board whose tape is kept.
type recorder struct {
	board link.Device
	heard listener
	tape  *tape
}

// Feed hands bytes to the board.
func (r *recorder) Feed(in, out []byte) []byte {
	n := len(out)
	out = r.board.Feed(in, out)
	r.heard.hear(out[n:])
	r.tape.bytes = append(r.tape.bytes, in...)
	r.tape.entries = append(r.tape.entries, entry{to: len(r.tape.bytes), said: r.heard.mark})
	return out
}

// Take hands samples to a board that takes them as values.
func (r *recorder) Take(m *contract.SampleSet, a *contract.Answers) bool {
	d, ok := r.board.(contract.Direct)
	if !ok || !d.Take(m, a) {
		return false
	}
	r.heard.direct(a)
	r.heard.dec.Skip(a.Frames())
	same := *m
	r.tape.entries = append(r.tape.entries, entry{samples: &same, said: r.heard.mark})
	return true
}

// play gives a board all that is on a tape and says whether it decides, or reports what is judged, differently. An
// error is what ended the board.
func (t *tape) play(board link.Device) (differs bool, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%v", p)
		}
	}()
	heard := newListener()
	var answers contract.Answers
	var out []byte
	from := 0
	for i := range t.entries {
		e := &t.entries[i]
		if e.samples != nil {
			answers.Reset()
			if !board.(contract.Direct).Take(e.samples, &answers) {
				return true, nil
			}
			heard.direct(&answers)
		} else {
			out = board.Feed(t.bytes[from:e.to], out[:0])
			from = e.to
			heard.hear(out)
		}
		if heard.decisions != e.said.decisions || t.reports && heard.reports != e.said.reports {
			return true, nil
		}
	}
	return false, nil
}
