package rig

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"drystage/harness"
	"drystage/harness/board/clock"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/session"
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

// PulseTimes is how one output's pulses came through.
type PulseTimes struct {
	Output  string
	Command Latencies     // from TEST's leaving to the pin's edge: line, board and pin
	Stamp   Latencies     // from the board's own stamp of an edge to the pin's; the clocks' fit may make one negative
	Clock   time.Duration // expanded uncertainty (k = 2) of the fit
	Lost    int           // edges that no pin saw, or saw more than once
}

// Path is the way from an edge by the board's own word to its stamp by the pin.
func (p *PulseTimes) Path(role string) Path {
	path := NewPath(role+"."+p.Output, wayBoard, p.Stamp, p.Lost)
	path.Within = time.Duration(both(sim.Time(path.Within), sim.Time(p.Clock)))
	return path
}

// Measure asks a board that is on the ground, unarmed and new for pulses of its outputs by TEST, and
// sees each edge by the pin that a run would see it by. The board must just have been switched on, or
// offer RESTART. Dummy loads must hang on all outputs: they get current.
//
// Whatever goes wrong, BYE is said at the end, and the board's own clock ends a pulse in any case.
func (r *Rig) Measure(ctx context.Context, l link.Link, m Measurement) ([]PulseTimes, error) {
	p := &pulser{Session: session.New(l), Measurement: m, ctx: ctx, rig: r, began: time.Now()}
	err := p.begin()
	if err == nil {
		defer func() { _ = p.Send(p.Enc.Bye(nil, &contract.Bye{})) }() // the pulses are what counts
		err = p.all()
	}
	if err != nil {
		return nil, fmt.Errorf("rig: board %s: %w", m.Bay.Name, err)
	}
	return p.results()
}

// pulser is a measurement under way.
type pulser struct {
	*session.Session
	Measurement
	ctx      context.Context
	rig      *Rig
	began    time.Time
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
	w, err := greet(p.ctx, p.Session, p.Bay, contract.RealTime)
	if err != nil {
		return err
	}
	const needs = contract.CanTest | contract.CanRealTime
	if w.Capabilities&needs != needs {
		return fmt.Errorf("%w: its pins can be measured by a loopback instead", ErrNoTest)
	}
	if w.Capabilities&contract.CanRestart != 0 { // it may have flown since it was switched on
		if err := p.Send(p.Enc.Restart(nil, &contract.Restart{})); err != nil {
			return err
		}
		if _, err := greet(p.ctx, p.Session, p.Bay, contract.RealTime); err != nil {
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

// results turns the board's stamps into times of this computer and sums up.
func (p *pulser) results() (all []PulseTimes, err error) {
	fit, err := clock.Fit(p.readings, p.stamps...)
	if err != nil {
		return nil, fmt.Errorf("rig: board %s: %w", p.Bay.Name, err)
	}
	for _, e := range p.eyes {
		x := PulseTimes{Output: e.out.Name, Lost: e.lost}
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
