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

// pulse asks for one pulse, and compares what the board reports with what the pin shows.
func (p *pulseRun) pulse(e *pulseOutput) error {
	if err := p.sync(); err != nil {
		return err
	}
	p.rig.TakeEdges(p.Bay.Name) // discard earlier edges
	p.tests++
	m := contract.Test{Nonce: p.tests, Guard: p.Nonce ^ contract.TestGuard, Channel: e.channel, Length: uint16(e.length / time.Millisecond)}
	asked := time.Now()
	if err := p.Send(p.Enc.Test(nil, &m)); err != nil {
		return err
	}
	told, err := p.awaitPulse(&m)
	if err != nil {
		return err
	}
	seen := p.pinEdges(e)
	for _, s := range seen {
		if s.Output != e.out.Name {
			return fmt.Errorf("%w: %s was asked for, and the pin of %s moved; are the wires crossed?", ErrPin, e.out.Name, s.Output)
		}
	}
	if len(told) != 2 || told[0].On == 0 || told[1].On != 0 {
		return fmt.Errorf("one TEST is one pulse, and it tells %d edges", len(told))
	}
	for _, o := range told {
		x := pulseEdge{on: o.On != 0, stamp: contract.FromMicros(o.Time), asked: asked}
		s, n := pinOf(seen, e.out.Name, x.on)
		switch {
		case n != 1:
			e.lost++
		case s.Slack == 0: // else the edge's time is uncertain; in a run, the slack covers that
			x.pin = s.At
			e.edges = append(e.edges, x)
		}
		p.stamps = append(p.stamps, x.stamp)
	}
	return p.sync()
}

// pinEdges takes the pins' edges until the output has been on and off, or its time is over.
func (p *pulseRun) pinEdges(e *pulseOutput) (seen []PinEdge) {
	t := time.NewTimer(time.Duration(e.out.Capture.Debounce) + edgeTimeout)
	defer t.Stop()
	for {
		_, moved := e.state()
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

// pinOf gives the last edge of a kind at an output's pin, and how often there was one.
func pinOf(seen []PinEdge, output string, on bool) (last PinEdge, n int) {
	for _, s := range seen {
		if s.Output == output && s.On == on {
			last = s
			n++
		}
	}
	return last, n
}

// awaitPulse reads until the board has reported both edges of the pulse.
func (p *pulseRun) awaitPulse(m *contract.Test) (edges []contract.Output, err error) {
	p.Budget = session.MaxBytes
	most := max(longestPulse, p.Timeout)
	deadline := time.Now().Add(most)
	for answered := false; !answered || len(edges) < 2; {
		f, err := p.Next(p.ctx, deadline)
		switch {
		case errors.Is(err, os.ErrDeadlineExceeded) && time.Now().Before(deadline):
			// An instant link: SYNC drives the time of a board without a clock of its own.
			time.Sleep(time.Millisecond)
			if err := p.Send(p.Enc.Sync(nil, &contract.Sync{Time: p.micros()})); err != nil {
				return nil, err
			}
			continue
		case errors.Is(err, os.ErrDeadlineExceeded):
			return nil, fmt.Errorf("the pulse has not ended after %s (%d edges told): switch the supply off", most, len(edges))
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
				p.moveSimulated(s, o)
			}
		}
	}
	return edges, nil
}

// moveSimulated moves the simulated pin of an output as the board reports.
func (p *pulseRun) moveSimulated(s *simulated, o contract.Output) {
	for _, e := range p.outputs {
		if e.channel == o.Channel {
			(&Board{spec: p.rig.Spec.Board(p.Bay.Name), mount: Mount{Bay: p.Bay}}).moveSimulated(s, sim.Output{Channel: int(o.Channel), On: o.On != 0})
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

func (p *pulseRun) runTime(t time.Time) sim.Time { return sim.Time(t.Sub(p.began)) }

func (p *pulseRun) micros() uint32 { return contract.Micros(p.runTime(time.Now())) }

// sync asks for the board's clock.
func (p *pulseRun) sync() error {
	sent, at := time.Now(), p.micros()
	if err := p.Send(p.Enc.Sync(nil, &contract.Sync{Time: at})); err != nil {
		return err
	}
	p.Budget = session.MaxBytes
	for deadline := sent.Add(p.Timeout); ; {
		f, err := p.Next(p.ctx, deadline)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return fmt.Errorf("SYNC: %w", session.ErrSilent)
		}
		if err != nil {
			return err
		}
		var m contract.Synced
		if f.Code == contract.CodeSynced && m.Decode(f.Payload) == nil && m.Time == at {
			p.readings = append(p.readings, harness.ClockReading{Sent: p.runTime(sent), Came: p.runTime(time.Now()), Board: contract.FromMicros(m.BoardTime)})
			return nil
		}
	}
}
