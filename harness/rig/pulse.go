package rig

import (
	"errors"
	"fmt"
	"os"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/session"
	"drystage/sim"
)

// pulse asks for one pulse, and holds what the board says of it against what the pin sees.
func (p *pulser) pulse(e *pulsedEye) error {
	if err := p.sync(); err != nil {
		return err
	}
	p.rig.TakeEdges(p.Bay.Name) // what came while nobody asked
	p.tests++
	m := contract.Test{Nonce: p.tests, Guard: p.Nonce ^ contract.TestGuard, Channel: e.channel, Length: uint16(e.length / time.Millisecond)}
	asked := time.Now()
	if err := p.Send(p.Enc.Test(nil, &m)); err != nil {
		return err
	}
	told, err := p.told(&m)
	if err != nil {
		return err
	}
	seen := p.gather(e)
	for _, s := range seen {
		if s.Output != e.out.Name {
			return fmt.Errorf("%w: %s was asked for, and the pin of %s moved; are the wires crossed?", ErrPin, e.out.Name, s.Output)
		}
	}
	if len(told) != 2 || told[0].On == 0 || told[1].On != 0 {
		return fmt.Errorf("one TEST is one pulse, and it tells %d edges", len(told))
	}
	for _, o := range told {
		x := pulsedEdge{on: o.On != 0, stamp: contract.FromMicros(o.Time), asked: asked}
		s, n := pinOf(seen, e.out.Name, x.on)
		switch {
		case n != 1:
			e.lost++
		case s.Slack == 0: // else its time is not its own; a run takes the slack into account
			x.pin = s.At
			e.edges = append(e.edges, x)
		}
		p.stamps = append(p.stamps, x.stamp)
	}
	return p.sync()
}

// gather takes what the pins saw until the output's has been on and off again, or can't be expected to
// any more.
func (p *pulser) gather(e *pulsedEye) (seen []PinEdge) {
	t := time.NewTimer(time.Duration(e.out.Capture.Debounce) + lostAfter)
	defer t.Stop()
	for {
		_, moved := e.is()
		seen = append(seen, p.rig.TakeEdges(p.Bay.Name)...)
		if _, n := pinOf(seen, e.out.Name, false); n > 0 {
			return seen
		}
		select {
		case <-moved:
		case <-t.C:
			return append(seen, p.rig.TakeEdges(p.Bay.Name)...)
		case <-p.ctx.Done():
			return nil
		}
	}
}

// pinOf gives how a pin saw an edge, and how often it did.
func pinOf(seen []PinEdge, output string, on bool) (last PinEdge, n int) {
	for _, s := range seen {
		if s.Output == output && s.On == on {
			last = s
			n++
		}
	}
	return last, n
}

// told reads until the pulse is over, by the board's word.
func (p *pulser) told(m *contract.Test) (edges []contract.Output, err error) {
	p.Budget = session.MaxBytes
	deadline := time.Now().Add(pulseLost)
	for answered := false; !answered || len(edges) < 2; {
		f, err := p.Next(p.ctx, deadline)
		switch {
		case errors.Is(err, os.ErrDeadlineExceeded) && time.Now().Before(deadline):
			// a board without a clock of its own goes by what it is told
			time.Sleep(time.Millisecond)
			if err := p.Send(p.Enc.Sync(nil, &contract.Sync{Time: p.micros()})); err != nil {
				return nil, err
			}
			continue
		case errors.Is(err, os.ErrDeadlineExceeded):
			return nil, fmt.Errorf("the pulse has not ended after %s (%d edges told): switch the supply off", pulseLost, len(edges))
		case err != nil:
			return nil, err
		}
		var a contract.Tested
		var o contract.Output
		switch {
		case f.Code == contract.CodeTested && a.Decode(f.Payload) == nil && a.Nonce == m.Nonce:
			if answered = true; a.Refused != contract.TestObeyed {
				return nil, refusal(a.Refused)
			}
		case f.Code == contract.CodeOutput && o.Decode(f.Payload) == nil:
			if edges = append(edges, o); o.Channel != m.Channel {
				return nil, fmt.Errorf("TEST of output %d, and it says that output %d moves; switch the supply off", m.Channel, o.Channel)
			}
			if s, ok := p.rig.host.(*simulated); ok {
				p.play(s, o)
			}
		}
	}
	return edges, nil
}

// play moves the simulated pin of an output as the board says.
func (p *pulser) play(s *simulated, o contract.Output) {
	for _, e := range p.eyes {
		if e.channel == o.Channel {
			(&Board{on: p.rig.Spec.Board(p.Bay.Name), seat: Mount{Bay: p.Bay}}).play(s, sim.Output{Channel: int(o.Channel), On: o.On != 0})
		}
	}
}

func refusal(why uint8) error {
	words := map[uint8]string{contract.TestGuardWrong: "it takes the guard word for a wrong one", contract.TestLockstep: "it thinks that the run is in lockstep",
		contract.TestArmed:    "it is armed",
		contract.TestTouched:  "it has been given samples since it was switched on, or remembers a flight; switch it off and on and try again",
		contract.TestNonsense: "it has no such output, or takes no pulse so long", contract.TestBusy: "an output is on already"}[why]
	if words == "" {
		words = "for a reason of its own"
	}
	return fmt.Errorf("the board refuses TEST (%d): %s", why, words)
}

func (p *pulser) run(t time.Time) sim.Time { return sim.Time(t.Sub(p.began)) }

func (p *pulser) micros() uint32 { return contract.Micros(p.run(time.Now())) }

// sync asks for the board's clock.
func (p *pulser) sync() error {
	sent, at := time.Now(), p.micros()
	if err := p.Send(p.Enc.Sync(nil, &contract.Sync{Time: at})); err != nil {
		return err
	}
	p.Budget = session.MaxBytes
	for deadline := sent.Add(answerWait); ; {
		f, err := p.Next(p.ctx, deadline)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return fmt.Errorf("SYNC: %w", session.ErrSilent)
		}
		if err != nil {
			return err
		}
		var m contract.Synced
		if f.Code == contract.CodeSynced && m.Decode(f.Payload) == nil && m.Time == at {
			p.readings = append(p.readings, harness.ClockReading{Sent: p.run(sent), Came: p.run(time.Now()), Board: contract.FromMicros(m.BoardTime)})
			return nil
		}
	}
}
