package loop_test

import (
	"bytes"
	"os"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/loop"
	"drystage/sim"
	"drystage/sim/world"
)

// accident is one thing that goes wrong with an honest board, at what it is sent n-th.
type accident int

const (
	none        accident = iota
	fallsMute            // silent from n on
	firesMore            // one output pulses, and the board tells so
	missesOne            // one sample of the n-th or of a later instant does not get to it
	isAborted            // its program ends by a signal, behind its answer
	isBusy               // it does nothing for 300 ms before it answers
	fallsBehind          // no longer answers in real time from n on, but does what it should
	accidents
)

var accidentNames = [...]string{"none", "silent", "an output more", "a reading less", "ended by a signal", "slow", "no answers"}

// victim is a link to an honest board with an accident. Its time is that of the bubble.
type victim struct {
	mu       sync.Mutex
	guest    *mock.Board
	what     accident
	at, n    int // the n-th Write
	dec      *contract.Decoder
	enc      contract.Encoder
	realTime bool
	start    time.Time
	busy     time.Time // until when it does nothing
	ready    []told
	deadline time.Time
	gone     bool
	closed   bool
	done     bool // the accident has happened
}

type told struct {
	at    time.Time
	bytes []byte
}

func (v *victim) Write(b []byte) (int, error) {
	v.mu.Lock()
	defer v.mu.Unlock()
	switch {
	case v.closed:
		return 0, os.ErrClosed
	case v.gone:
		return 0, link.ErrGone
	}
	now := v.n >= v.at && !v.done && (flies(b) || v.what == isAborted)
	v.n++
	if v.what == isBusy && now {
		v.busy = time.Now().Add(300 * time.Millisecond)
		v.done = true
	}
	if v.what == missesOne && now {
		b, v.done = without(b)
	}
	out := v.again(v.guest.Feed(b, nil), v.what == firesMore && now)
	switch {
	case v.what == fallsMute && v.n > v.at:
		v.done = true
	case v.what == isAborted && now:
		v.done, v.gone = true, true
		fallthrough
	default:
		at := time.Now()
		if at.Before(v.busy) {
			at = v.busy
		}
		v.ready = append(v.ready, told{at, out})
	}
	return len(b), nil
}

// flies says that what is sent is part of a flight: samples, commands, TICK or SYNC.
func flies(b []byte) bool {
	d := contract.NewDecoder(contract.FromHost)
	for {
		f, rest, ok := d.Next(b)
		if !ok {
			return false
		}
		if b = rest; f.Code >= contract.CodeIMU && f.Code <= contract.CodeSync {
			return true
		}
	}
}

// without takes the first sample out of what is sent.
func without(b []byte) ([]byte, bool) {
	d, rest := contract.NewDecoder(contract.FromHost), b
	for {
		before := rest
		f, after, ok := d.Next(rest)
		if !ok {
			return b, false
		}
		if rest = after; f.Code >= contract.CodeIMU && f.Code <= contract.CodeBattery {
			return append(bytes.Clone(b[:len(b)-len(before)]), after...), true
		}
	}
}

// again gives what the board says, in frames that are numbered anew, with a pulse of output 1 if it is to be, in front.
func (v *victim) again(said []byte, pulse bool) (out []byte) {
	if pulse {
		v.done = true
		at := uint32(time.Since(v.start).Microseconds())
		if !v.realTime {
			at = tickOf(said)
		}
		out = v.enc.Output(out, &contract.Output{Time: at, Channel: 1, On: 1})
		out = v.enc.Output(out, &contract.Output{Time: at, Channel: 1})
	}
	for {
		f, rest, ok := v.dec.Next(said)
		if !ok {
			return out
		}
		said = rest
		switch f.Code {
		case contract.CodeWelcome:
			out = again(out, f, new(contract.Welcome), v.enc.Welcome)
		case contract.CodeAccept:
			out = again(out, f, new(contract.Accept), v.enc.Accept)
		case contract.CodeOutput:
			out = again(out, f, new(contract.Output), v.enc.Output)
		case contract.CodeReport:
			out = again(out, f, new(contract.Report), v.enc.Report)
		case contract.CodeContinuity:
			out = again(out, f, new(contract.Continuity), v.enc.Continuity)
		case contract.CodeLog:
			out = again(out, f, new(contract.Log), v.enc.Log)
		case contract.CodeSynced:
			if v.what == fallsBehind && v.n > v.at {
				v.done = true
				continue
			}
			out = again(out, f, new(contract.Synced), v.enc.Synced)
		case contract.CodeDone:
			var d contract.Done
			_ = d.Decode(f.Payload)
			if v.what == fallsBehind && v.n > v.at {
				v.done = true
				continue
			}
			out = v.enc.Done(out, &d)
		}
	}
}

// tickOf is the time of the TICK that is answered.
func tickOf(said []byte) uint32 {
	var m contract.Done
	d := contract.NewDecoder(contract.FromBoard)
	for f, rest, ok := d.Next(said); ok; f, rest, ok = d.Next(rest) {
		if f.Code == contract.CodeDone {
			_ = m.Decode(f.Payload)
		}
	}
	return m.Time
}

func again[M interface{ Decode([]byte) error }](out []byte, f contract.Frame, m M, encode func([]byte, M) []byte) []byte {
	_ = m.Decode(f.Payload)
	return encode(out, m)
}

func (v *victim) Read(b []byte) (int, error) {
	for {
		n, err := v.look(b)
		if n > 0 || err != nil {
			return n, err
		}
		time.Sleep(time.Millisecond)
	}
}

func (v *victim) look(b []byte) (int, error) {
	v.mu.Lock()
	defer v.mu.Unlock()
	switch now := time.Now(); {
	case v.closed:
		return 0, os.ErrClosed
	case len(v.ready) > 0 && !now.Before(v.ready[0].at):
		first := &v.ready[0]
		n := copy(b, first.bytes)
		if first.bytes = first.bytes[n:]; len(first.bytes) == 0 {
			v.ready = v.ready[1:]
		}
		return n, nil
	case v.gone:
		return 0, link.ErrGone
	case !now.Before(v.deadline):
		return 0, os.ErrDeadlineExceeded
	}
	return 0, nil
}

func (v *victim) SetReadDeadline(t time.Time) error {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.deadline = t
	return nil
}

func (v *victim) Close() error {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.closed = true
	return nil
}

func (v *victim) Waited(bool) time.Duration { return 0 }

func (v *victim) End() (e link.End) {
	_ = v.Close() // never fails
	if v.what == isAborted && v.done {
		e.Signal = "aborted"
	}
	return e
}

// suffers flies a plan in which the first board has an accident, and says whether it really had it, and how much was
// sent to it.
func suffers(t *testing.T, p *harness.Plan, what accident, at int, realTime bool) (v harness.Verdict, happened bool, writes int) {
	synctest.Test(t, func(t *testing.T) {
		var pacer *loop.RealTime
		by := loop.Pacer(loop.Lockstep{})
		if realTime {
			pacer = loop.NewSoftTime(loop.DefaultLimit)
			by = pacer
		}
		var boards []board.Board
		var hit *victim
		for i, b := range p.Boards {
			g, err := mock.New("")
			require.NoError(t, err)
			l := link.Memory(g)
			if i == 0 {
				hit = &victim{guest: g, what: what, at: at, realTime: realTime, start: time.Now(), dec: contract.NewDecoder(contract.FromBoard)}
				l = hit
			}
			opt := board.Options{Timeout: time.Second}
			if realTime {
				opt.Timeout = 30 * time.Second // longer than the run
				boards = append(boards, board.NewRealTime(l, b, &p.Setup.Bays[i], opt, pacer.Now))
			} else {
				boards = append(boards, board.NewClient(l, b, &p.Setup.Bays[i], opt))
			}
		}
		rec := &harness.Record{Plan: *p}
		require.NoError(t, loop.Run(t.Context(), world.New(&p.Setup), boards, by, rec))
		for _, b := range boards {
			_ = b.Close() // its line may be gone
		}
		v, happened, writes = verdict.Judge(rec), hit.done, hit.n
	})
	return v, happened, writes
}

// TestNoAccidentPasses: a board that passes a scenario, with one accident more, never passes, wherever in a flight it
// comes: at each thing that it is sent, from HELLO to BYE.
func TestNoAccidentPasses(t *testing.T) {
	p := shipped(t, "nominal.yaml")
	p.Setup.Until = sim.Anchor{Offset: 700 * sim.Millisecond}
	p.Setup.Limit = sim.Second // a record in real time makes room for all of it
	p.Expect = []harness.Expectation{{Kind: harness.Alive, Text: "alive"}}
	for _, w := range p.Setup.Bays[0].Wires {
		p.Expect = append(p.Expect, harness.Expectation{Kind: harness.Never, Text: w.Name, Output: harness.Channel{Name: w.Name, Channel: w.Channel}})
	}
	step := 1
	if raceOn {
		step = 10 // make suite tries every n
	}
	for _, realTime := range []bool{false, true} {
		mode := map[bool]string{false: "lockstep", true: "real time"}[realTime]
		v, _, writes := suffers(t, &p, none, 0, realTime)
		require.Equal(t, harness.Pass, v.Answer, "%s: %+v", mode, v.Findings)
		for what := none + 1; what < accidents; what++ {
			tried, answers, late := 0, map[harness.Answer]int{}, 0
			last := writes - 1 // that is BYE
			if what == isAborted {
				last = writes
			}
			for n := 0; n < last; n += step {
				v, happened, _ := suffers(t, &p, what, n, realTime)
				if !happened {
					assert.Contains(t, []accident{missesOne, fallsBehind}, what)
					assert.Greater(t, n, writes-30, "%s, %s at %d: it never happened", mode, accidentNames[what], n)
					late++
					continue
				}
				tried++
				answers[v.Answer]++
				if v.Answer == harness.Pass {
					t.Fatalf("%s: %s at %d of %d passes: %+v", mode, accidentNames[what], n, writes, v.Boards)
				}
			}
			t.Logf("%s, %s: %d flights, %d fail, %d unsure, none passes; too late to happen in %d more", mode, accidentNames[what], tried, answers[harness.Fail], answers[harness.Unsure], late)
		}
	}
}
