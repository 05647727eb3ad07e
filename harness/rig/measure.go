package rig

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"time"

	"drystage/harness"
	"drystage/harness/board/clock"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

// ErrNoTest says that a board can't be asked for a pulse.
var ErrNoTest = errors.New("the board does not offer TEST")

const (
	pulseLeast = 20 * time.Millisecond // of a TEST; longer where the pin's debounce wants it
	idleShare  = 5                     // an output is on for at most one part in as many: dummy loads get warm
	pulseLost  = 2 * time.Second       // for the end of a pulse
)

// Measurement asks one board for pulses.
type Measurement struct {
	Bay   *sim.Bay
	Count int                // pulses of each output that a pin sees
	Step  func(done, of int) // of all pulses; may be nil
}

// Pulsed is how one output's pulses came through.
type Pulsed struct {
	Output  string
	Command Latencies     // from TEST's leaving to the pin's edge: line, board and pin
	Stamp   Latencies     // from the board's own stamp of an edge to the pin's; the clocks' fit may make one negative
	Clock   time.Duration // expanded uncertainty (k = 2) of the fit
	Lost    int           // edges that no pin saw, or saw more than once
}

// Path is the way from an edge by the board's own word to its stamp by the pin.
func (p *Pulsed) Path(role string) Path {
	path := NewPath(role+"."+p.Output, wayBoard, p.Stamp, p.Lost)
	path.Within = time.Duration(both(sim.Time(path.Within), sim.Time(p.Clock)))
	return path
}

// Measure asks a board that is on the ground, unarmed and new for pulses of its outputs by TEST, and
// sees each edge by the pin that a run would see it by. The board must just have been switched on, or
// offer RESTART. Dummy loads must hang on all outputs: they get current.
//
// Whatever goes wrong, BYE is said at the end, and the board's own clock ends a pulse in any case.
func (r *Rig) Measure(ctx context.Context, l link.Link, m Measurement) ([]Pulsed, error) {
	p := &pulser{Measurement: m, rig: r, began: time.Now(),
		asker: asker{ctx: ctx, link: l, dec: contract.NewDecoder(contract.FromBoard), buf: make([]byte, 4096)}}
	err := p.begin()
	if err == nil {
		defer func() { _ = p.send(p.enc.Bye(nil, &contract.Bye{})) }() // the pulses are what counts
		err = p.all()
	}
	if err != nil {
		return nil, fmt.Errorf("rig: board %s: %w", m.Bay.Name, err)
	}
	return p.results()
}

// pulser is a measurement under way.
type pulser struct {
	asker
	Measurement
	rig      *Rig
	began    time.Time
	nonce    uint32 // of the last HELLO
	tests    uint32
	eyes     []*pulsedEye
	readings []harness.ClockReading
	stamps   []sim.Time
}

// pulsedEye is an output that is measured.
type pulsedEye struct {
	*eye
	channel uint8
	length  time.Duration
	ready   time.Time // when it may be on again
	edges   []pulsedEdge
	lost    int
}

// pulsedEdge is an edge by the board's word, by the pin, and when it was asked for.
type pulsedEdge struct {
	on    bool
	stamp sim.Time
	pin   time.Time
	asked time.Time
}

// begin makes the board new and greets it in real time.
func (p *pulser) begin() error {
	w, err := p.greet()
	if err != nil {
		return err
	}
	const needs = contract.CanTest | contract.CanRealTime
	if w.Capabilities&needs != needs {
		return fmt.Errorf("%w: its pins can be measured by a loopback instead", ErrNoTest)
	}
	if w.Capabilities&contract.CanRestart != 0 { // it may have flown since it was switched on
		if err := p.send(p.enc.Restart(nil, &contract.Restart{})); err != nil {
			return err
		}
		if _, err := p.greet(); err != nil {
			return fmt.Errorf("after RESTART: %w", err)
		}
	}
	for _, wire := range p.Bay.Wires {
		e := p.rig.eye(p.Bay.Name, wire.Name)
		if e == nil {
			continue
		}
		length := max(pulseLeast, 2*time.Duration(e.out.Capture.Debounce)).Round(time.Millisecond)
		if most := time.Duration(contract.TestMost) * time.Millisecond; length > most {
			return fmt.Errorf("output %s: its debounce of %s wants a pulse longer than %s, which TEST can't give", wire.Name, span(e.out.Capture.Debounce), most)
		}
		p.eyes = append(p.eyes, &pulsedEye{eye: e, channel: uint8(wire.Channel), length: length})
	}
	if len(p.eyes) == 0 {
		return errors.New("no pin sees any of its outputs; give them a `pin:` in the rig's file")
	}
	return nil
}

func (p *pulser) greet() (contract.Welcome, error) {
	w, err := p.helloIn(p.Bay, contract.RealTime)
	p.nonce = helloNonce
	return w, err
}

// all pulses the outputs in turn, so that each rests while the others are on.
func (p *pulser) all() error {
	for i := range p.Count {
		for k, e := range p.eyes {
			if err := wait(p.ctx, max(time.Until(e.ready), time.Millisecond)); err != nil {
				return err
			}
			if err := p.pulse(e); err != nil {
				return fmt.Errorf("output %s, pulse %d: %w", e.out.Name, i+1, err)
			}
			e.ready = time.Now().Add(e.length * (idleShare - 1))
			if p.Step != nil {
				p.Step(i*len(p.eyes)+k+1, p.Count*len(p.eyes))
			}
		}
	}
	return nil
}

// pulse asks for one pulse, and holds what the board says of it against what the pin sees.
func (p *pulser) pulse(e *pulsedEye) error {
	if err := p.sync(); err != nil {
		return err
	}
	p.rig.Take(p.Bay.Name) // what came while nobody asked
	p.tests++
	m := contract.Test{Nonce: p.tests, Guard: p.nonce ^ contract.TestGuard, Channel: e.channel, Length: uint16(e.length / time.Millisecond)}
	asked := time.Now()
	if err := p.send(p.enc.Test(nil, &m)); err != nil {
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
func (p *pulser) gather(e *pulsedEye) (seen []Seen) {
	t := time.NewTimer(time.Duration(e.out.Capture.Debounce) + lostAfter)
	defer t.Stop()
	for {
		_, moved := e.is()
		seen = append(seen, p.rig.Take(p.Bay.Name)...)
		if _, n := pinOf(seen, e.out.Name, false); n > 0 {
			return seen
		}
		select {
		case <-moved:
		case <-t.C:
			return append(seen, p.rig.Take(p.Bay.Name)...)
		case <-p.ctx.Done():
			return nil
		}
	}
}

// pinOf gives how a pin saw an edge, and how often it did.
func pinOf(seen []Seen, output string, on bool) (last Seen, n int) {
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
	answered := false
	take := func(f contract.Frame) bool {
		var a contract.Tested
		var o contract.Output
		switch {
		case f.Code == contract.CodeTested && a.Decode(f.Payload) == nil && a.Nonce == m.Nonce:
			answered = true
			if a.Refused != contract.TestObeyed {
				err = refusal(a.Refused)
			}
		case f.Code == contract.CodeOutput && o.Decode(f.Payload) == nil:
			if o.Channel != m.Channel {
				err = fmt.Errorf("TEST of output %d, and it says that output %d moves; switch the supply off", m.Channel, o.Channel)
			}
			edges = append(edges, o)
			if s, ok := p.rig.host.(*simulated); ok {
				p.play(s, o)
			}
		}
		return err != nil || answered && len(edges) >= 2
	}
	for deadline := time.Now().Add(pulseLost); ; {
		rerr := p.until(take)
		switch {
		case err != nil:
			return nil, err
		case rerr == nil:
			return edges, nil
		case !errors.Is(rerr, os.ErrDeadlineExceeded):
			return nil, rerr
		case time.Now().After(deadline):
			return nil, fmt.Errorf("the pulse has not ended after %s (%d edges told): switch the supply off", pulseLost, len(edges))
		}
		if link.Instant(p.link) { // a board without a clock of its own goes by what it is told
			time.Sleep(time.Millisecond)
			if err := p.send(p.enc.Sync(nil, &contract.Sync{Time: p.micros()})); err != nil {
				return nil, err
			}
		}
	}
}

// play moves the simulated pin of an output as the board says.
func (p *pulser) play(s *simulated, o contract.Output) {
	for _, e := range p.eyes {
		if e.channel == o.Channel {
			(&Board{on: p.rig.Spec.Board(p.Bay.Name), seat: Seat{Bay: p.Bay}}).play(s, sim.Output{Channel: int(o.Channel), On: o.On != 0})
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
	if err := p.send(p.enc.Sync(nil, &contract.Sync{Time: at})); err != nil {
		return err
	}
	return p.until(func(f contract.Frame) bool {
		var m contract.Synced
		if f.Code != contract.CodeSynced || m.Decode(f.Payload) != nil || m.Time != at {
			return false
		}
		p.readings = append(p.readings, harness.ClockReading{Sent: p.run(sent), Came: p.run(time.Now()), Board: contract.FromMicros(m.BoardTime)})
		return true
	})
}

// results turns the board's stamps into times of this computer and sums up.
func (p *pulser) results() (all []Pulsed, err error) {
	fit, err := clock.Fit(p.readings, p.stamps...)
	if err != nil {
		return nil, fmt.Errorf("rig: board %s: %w", p.Bay.Name, err)
	}
	for _, e := range p.eyes {
		x := Pulsed{Output: e.out.Name, Lost: e.lost}
		worst := sim.Time(0)
		for _, d := range e.edges {
			at, within := fit.At(d.stamp)
			worst = max(worst, within)
			x.Stamp = append(x.Stamp, time.Duration(p.run(d.pin)-at))
			if d.on {
				x.Command = append(x.Command, d.pin.Sub(d.asked))
			}
		}
		x.Clock = time.Duration(worst)
		all = append(all, x)
	}
	return all, nil
}

// halved gives the delay of a path that was measured from the board's word to the pin's stamp: how much
// of it passed before the output moved isn't known, so the middle counts, and the rest is a rectangle
// of half the delay (JCGM 100:2008, 4.3.7, times k = 2).
func halved(p50, within time.Duration) (delay, expanded sim.Time) {
	half := math.Abs(float64(p50)) / 2
	return sim.Time(max(p50, 0) / 2), both(sim.Time(within), sim.Time(math.Ceil(2*half/math.Sqrt(3))))
}
