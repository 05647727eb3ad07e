package rig

import (
	"cmp"
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

// ErrNoTest says that a board does not offer TEST.
var ErrNoTest = errors.New("the board does not offer TEST")

const (
	shortestPulse = 20 * time.Millisecond // of a TEST; longer if the pin's debounce needs it
	restRatio     = 5                     // an output rests for at least this many times its pulse, less one, so that dummy loads stay cool
	longestPulse  = 2 * time.Second       // until a pulse must have ended, if answers may not take longer
)

// Measurement says which pulses to ask a board for.
type Measurement struct {
	Bay     *sim.Bay
	Count   int                // pulses of each output that has a pin
	Step    func(done, of int) // called after each pulse; may be nil
	Timeout time.Duration      // for each answer; 0: session.DefaultTimeout
}

// PulseTimes are the measured times of one output's pulses.
type PulseTimes struct {
	Output  string
	Command Latencies     // from sending TEST to the pin's edge: line, board and pin
	Stamp   Latencies     // from the board's stamp of an edge to the pin's; may be negative by the error of the clock fit
	Clock   time.Duration // expanded uncertainty (k = 2) of the fit
	Lost    int           // edges that the pin did not show, or showed more than once
}

// Path gives the path from the board's stamp of an edge to the pin's.
func (p *PulseTimes) Path(role string) Path {
	path := NewPath(role+"."+p.Output, byBoard, p.Stamp, p.Lost)
	path.Within = time.Duration(rootSumSquares(sim.Time(path.Within), sim.Time(p.Clock)))
	return path
}

// Measure asks a board that is on the ground, unarmed and newly started for pulses of its outputs by TEST, and
// measures each edge at the pin that a run would use. The board must just have been switched on, or offer RESTART.
// All outputs must have dummy loads: they get current.
//
// Whatever goes wrong, BYE is sent at the end. The board's own clock ends each pulse.
func (r *Rig) Measure(ctx context.Context, l link.Link, m Measurement) ([]PulseTimes, error) {
	m.Timeout = cmp.Or(m.Timeout, session.DefaultTimeout)
	p := &pulseRun{Session: session.New(l), Measurement: m, ctx: ctx, rig: r, began: time.Now()}
	err := p.begin()
	if err == nil {
		defer func() { _ = p.Send(p.Enc.Bye(nil, &contract.Bye{})) }() // the pulses are measured by then
		err = p.all()
	}
	if err != nil {
		return nil, fmt.Errorf("rig: board %s: %w", m.Bay.Name, err)
	}
	return p.results()
}

// pulseRun is a measurement in progress.
type pulseRun struct {
	*session.Session
	Measurement
	ctx      context.Context
	rig      *Rig
	began    time.Time
	tests    uint32
	outputs  []*pulseOutput
	readings []harness.ClockReading
	stamps   []sim.Time
}

// pulseOutput is an output that is measured.
type pulseOutput struct {
	*pinMonitor
	channel   uint8
	length    time.Duration
	nextPulse time.Time // when the next pulse may begin
	edges     []pulseEdge
	lost      int
}

// pulseEdge is an edge: the board's stamp, the pin's time, and when TEST was sent.
type pulseEdge struct {
	on    bool
	stamp sim.Time
	pin   time.Time
	asked time.Time
}

// begin restarts the board if it can RESTART, and shakes hands in real time.
func (p *pulseRun) begin() error {
	w, err := connect(p.ctx, p.Session, p.Bay, contract.RealTime, p.Timeout)
	if err != nil {
		return err
	}
	const needs = contract.CanTest | contract.CanRealTime
	if w.Capabilities&needs != needs {
		return fmt.Errorf("%w: its pins can be measured by a loopback instead", ErrNoTest)
	}
	if w.Capabilities&contract.CanRestart != 0 { // it may have flown since power-up
		if err := p.Send(p.Enc.Restart(nil, &contract.Restart{})); err != nil {
			return err
		}
		if _, err := connect(p.ctx, p.Session, p.Bay, contract.RealTime, p.Timeout); err != nil {
			return fmt.Errorf("after RESTART: %w", err)
		}
	}
	for _, wire := range p.Bay.Wires {
		e := p.rig.monitorOf(p.Bay.Name, wire.Name)
		if e == nil {
			continue
		}
		length := max(shortestPulse, 2*time.Duration(e.out.Capture.Debounce)).Round(time.Millisecond)
		if most := time.Duration(contract.TestMost) * time.Millisecond; length > most {
			return fmt.Errorf("output %s: its debounce of %s wants a pulse longer than %s, which TEST can't give", wire.Name, timeText(e.out.Capture.Debounce), most)
		}
		p.outputs = append(p.outputs, &pulseOutput{pinMonitor: e, channel: uint8(wire.Channel), length: length})
	}
	if len(p.outputs) == 0 {
		return errors.New("no pin sees any of its outputs; give them a `pin:` in the rig's file")
	}
	return nil
}

// all pulses the outputs in turn, so that each rests while the others are on.
func (p *pulseRun) all() error {
	for i := range p.Count {
		for k, e := range p.outputs {
			if err := link.Wait(p.ctx, max(time.Until(e.nextPulse), time.Millisecond)); err != nil {
				return err
			}
			if err := p.pulse(e); err != nil {
				return fmt.Errorf("output %s, pulse %d: %w", e.out.Name, i+1, err)
			}
			e.nextPulse = time.Now().Add(e.length * (restRatio - 1))
			if p.Step != nil {
				p.Step(i*len(p.outputs)+k+1, p.Count*len(p.outputs))
			}
		}
	}
	return nil
}

// results converts the board's stamps to times of this computer, and summarises.
func (p *pulseRun) results() (all []PulseTimes, err error) {
	fit, err := clock.Fit(p.readings, p.stamps...)
	if err != nil {
		return nil, fmt.Errorf("rig: board %s: %w", p.Bay.Name, err)
	}
	for _, e := range p.outputs {
		x := PulseTimes{Output: e.out.Name, Lost: e.lost}
		worst := sim.Time(0)
		for _, d := range e.edges {
			at, within := fit.At(d.stamp)
			worst = max(worst, within)
			x.Stamp = append(x.Stamp, time.Duration(p.runTime(d.pin)-at))
			if d.on {
				x.Command = append(x.Command, d.pin.Sub(d.asked))
			}
		}
		x.Clock = time.Duration(worst)
		all = append(all, x)
	}
	return all, nil
}

// boardPathTiming gives the delay of a path that was measured from the board's stamp to the pin's. It is not known
// how much of it passed before the output moved. So half of it is taken as the delay, and the rest is a rectangular
// uncertainty of half the delay (JCGM 100:2008, 4.3.7, times k = 2).
func boardPathTiming(p50, within time.Duration) (delay, expanded sim.Time) {
	half := math.Abs(float64(p50)) / 2
	return sim.Time(max(p50, 0) / 2), rootSumSquares(sim.Time(within), sim.Time(math.Ceil(2*half/math.Sqrt(3))))
}
