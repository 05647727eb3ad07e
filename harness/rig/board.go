package rig

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/rig/timing"
	"drystage/sim"
)

// pinMargin is how much later than its path allows a pin may follow its output.
const pinMargin = 20 * time.Millisecond

// Board is a board on the rig. What it reports is compared with its pins. Its supply and its arming loop are switched
// as the flight and the operator demand.
type Board struct {
	board.Board
	rig   *Rig
	mount Mount
	spec  *harness.RigBoard

	watched         uint16
	powered         bool
	wasCut          bool // its supply was cut in this run
	reported        []timing.Reported
	captured        []timing.Captured
	conflicts       []harness.Conflict
	edgeUncertainty sim.Time  // of an edge in lockstep
	pinEdges        []PinEdge // in real time: all edges of the run
	answers         []Answer
}

// Mount says which bay a board belongs to, and how its times are made.
type Mount struct {
	Index  int // of the bay
	Bay    *sim.Bay
	Timing func(output string) PathTiming // of an output's pin; nil: the rig's default
	// RunTime converts a time of this computer's clock to a time of the run. It is nil in lockstep, where the run's
	// time stands still during an exchange: an edge then has its frame's time.
	RunTime func(time.Time) sim.Time
}

// Wrap puts a board on the rig for one run: supply and arming loop are off, the breakwires closed.
func (r *Rig) Wrap(b board.Board, seat Mount) (*Board, error) {
	w := &Board{Board: b, rig: r, mount: seat, spec: r.Spec.Board(seat.Bay.Name), edgeUncertainty: board.EdgeUncertainty(&seat.Bay.Sensors)}
	if w.spec == nil {
		return nil, fmt.Errorf("rig: no board %s on %s", seat.Bay.Name, r.Spec.File)
	}
	if seat.Timing == nil {
		w.mount.Timing = func(string) PathTiming {
			return PathTiming{Within: r.Spec.Default, Why: "nobody says how well its pins are timed"}
		}
	}
	for _, wire := range seat.Bay.Wires {
		if r.monitorOf(seat.Bay.Name, wire.Name) != nil {
			w.watched |= 1 << (wire.Channel - 1)
		}
	}
	r.TakeEdges(seat.Bay.Name)
	return w, errors.Join(w.set(harness.DriveArming, false), w.set(harness.DrivePower, false), w.set(harness.DriveReset, false),
		w.set(harness.DriveLiftoff, true), w.set(harness.DriveSeparation, true),
		w.set(harness.DriveWire, true), w.set(harness.DriveShort, false))
}

func (w *Board) set(kind harness.DriveKind, on bool) error {
	return w.rig.Set(kind, w.mount.Bay.Name, on)
}

// Unwrap gives the wrapped board.
func (w *Board) Unwrap() board.Board { return w.Board }

// Exchange switches the supply and makes the exchange of the wrapped board. In lockstep, the edges in the reply are
// those that the pins confirm. In real time the board's edges are passed on at once: a pin's time is usable only when
// the board's clock has been fitted, see AddPinTimes.
func (w *Board) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if err := w.beforeExchange(ctx, f); err != nil {
		return err
	}
	from, began := len(r.Outputs), time.Now()
	err := w.Board.Exchange(ctx, f, r)
	fading := time.Duration(0) // how much longer outputs may stay on, by the board's capacitors
	if w.powered && !f.Powered {
		w.powered, w.wasCut = false, true
		if delay, _ := w.rig.Has(harness.DrivePower, w.mount.Bay.Name); w.rig.Cuts(w.mount.Bay.Name) {
			fading = time.Duration(delay) + shortestOff
		}
		err = errors.Join(err, w.set(harness.DrivePower, false))
	}
	if w.wasCut && errors.Is(err, link.ErrGone) && w.rig.Cuts(w.mount.Bay.Name) {
		err = fmt.Errorf("%w; its port went with its supply: let its line have a supply of its own, such as a serial adapter in front of an isolator", err)
	}
	said := r.Outputs[from:]
	if s, ok := w.rig.host.(*simulated); ok {
		for _, e := range said {
			w.moveSimulated(s, e.Output)
		}
	}
	if w.mount.RunTime == nil {
		w.awaitPins(ctx, said, fading)
	}
	if w.mount.RunTime == nil && ctx.Err() == nil { // after an interrupted wait, a missing edge means nothing
		w.mergeLockstep(f, r, from, began)
	}
	if w.rig.failure() != nil {
		err = errors.Join(err, w.rig.failure())
	}
	return err
}

// beforeExchange switches the circuits at the outputs, the supply and the arming loop as the frame says.
func (w *Board) beforeExchange(ctx context.Context, f *sim.Frame) error {
	if f.Has&sim.HasCircuits != 0 {
		if err := w.setCircuits(ctx, f.Circuits); err != nil {
			return err
		}
	}
	if f.Powered && !w.powered {
		w.powered = true
		if err := w.supply(ctx); err != nil {
			return err
		}
	}
	if f.Commands&sim.CommandArm != 0 {
		if err := w.set(harness.DriveArming, true); err != nil {
			return err
		}
	}
	if f.Commands&sim.CommandDisarm != 0 {
		return w.set(harness.DriveArming, false)
	}
	return nil
}

// supply switches the board on. In lockstep the run waits while it boots. In real time it does not wait, and HELLO is
// repeated until the board answers.
func (w *Board) supply(ctx context.Context) error {
	if w.mount.RunTime != nil {
		return w.set(harness.DrivePower, true)
	}
	return w.rig.Supply(ctx, w.mount.Bay)
}

// Answer is how long an output took, from the start of sending a frame to the pin's edge: line, board and pin
// together.
type Answer struct {
	Output string
	Took   time.Duration
}

// Answers gives the answers of a lockstep run.
func (w *Board) Answers() []Answer { return w.answers }

// longestDelay is the longest pinTimeout of the board's pins.
func (w *Board) longestDelay() (d time.Duration) {
	for _, e := range w.rig.monitors {
		if e.role == w.mount.Bay.Name {
			d = max(d, w.pinTimeout(e))
		}
	}
	return d
}

// moveSimulated moves a simulated pin as the output would.
func (w *Board) moveSimulated(s *simulated, o sim.Output) {
	out := w.spec.Output(w.name(o.Channel))
	if out == nil || out.Capture.Name == "" || out.Wire == harness.WireLoose {
		return
	}
	to := level(out.Capture, o.On)
	if out.Wire == harness.WireBounces {
		s.bounce(out.Capture.Name, to)
		return
	}
	s.move(out.Capture.Name, to)
}

func (w *Board) name(channel int) string {
	for _, wire := range w.mount.Bay.Wires {
		if wire.Channel == channel {
			return wire.Name
		}
	}
	return ""
}

func (w *Board) channel(output string) int {
	for _, wire := range w.mount.Bay.Wires {
		if wire.Name == output {
			return wire.Channel
		}
	}
	return 0
}

// awaitPins waits until every output in the reply has been followed by its pin, or the pin's time is over. In
// lockstep the run stands still meanwhile.
func (w *Board) awaitPins(ctx context.Context, said []harness.Edge, more time.Duration) {
	for i, e := range said {
		last := !slices.ContainsFunc(said[i+1:], func(o harness.Edge) bool { return o.Channel == e.Channel })
		if last && w.watched>>(e.Channel-1)&1 == 1 {
			m := w.rig.monitorOf(w.mount.Bay.Name, w.name(e.Channel))
			m.waitFor(ctx, e.On, w.pinTimeout(m)+more)
		}
	}
}

// mergeLockstep replaces the edges that the board reported in one exchange by those that the pins confirm. A pin that
// moved without a report may still be explained by the next frame.
func (w *Board) mergeLockstep(f *sim.Frame, r *harness.Reply, from int, began time.Time) {
	for _, e := range r.Outputs[from:] {
		w.reported = append(w.reported, timing.Reported{Edge: e, Arrived: f.Now, HasClock: true})
	}
	for _, s := range w.rig.TakeEdges(w.mount.Bay.Name) {
		if c := w.channel(s.Output); c != 0 { // else the plan does not use this output
			w.captured = append(w.captured, timing.Captured{Channel: c, On: s.On, At: f.Now, Within: w.edgeUncertainty})
			w.answers = append(w.answers, Answer{s.Output, s.At.Sub(began)})
		}
	}
	o := timing.Merge(timing.Input{Bay: w.mount.Index, Reported: w.reported, Captured: w.captured, Watched: w.watched, Now: f.Now, PinWithin: -1})
	w.reported, w.captured = o.Reported, o.Captured
	w.conflicts = append(w.conflicts, o.Conflicts...)
	r.Outputs = append(r.Outputs[:from], o.Edges...)
}

// pinTimeout is how much later than its output a pin may move.
func (w *Board) pinTimeout(e *pinMonitor) time.Duration {
	k := w.mount.Timing(e.out.Name)
	return time.Duration(e.out.Capture.Debounce+k.Delay+k.Within) + pinMargin
}

// AddPinTimes adds the pins' results to the record of a finished run: all conflicts and, in real time, the pins'
// times where they are better than the board's. The boards' clocks must have been fitted.
func (w *Board) AddPinTimes(rec *harness.Record) {
	m := timing.Input{Bay: w.mount.Index, Reported: w.reported, Captured: w.captured, Watched: w.watched, Now: sim.Never}
	if w.mount.RunTime != nil {
		m = w.inputRealTime(rec)
	}
	o := timing.Merge(m)
	rec.Outputs = append(rec.Outputs, o.Edges...)
	for _, t := range o.Reported { // the run ended before their pins had to move
		rec.Outputs = append(rec.Outputs, t.Edge)
	}
	slices.SortStableFunc(rec.Outputs, func(a, b harness.Edge) int { return cmp.Compare(a.At, b.At) })
	rec.Conflicts = append(append(rec.Conflicts, w.conflicts...), o.Conflicts...)
	rec.Unmeasured = append(rec.Unmeasured, w.unmeasured()...)
	w.reported, w.captured, w.conflicts = nil, nil, nil
}

// unmeasured lists the outputs whose pins have the rig's default timing.
func (w *Board) unmeasured() (all []harness.Unmeasured) {
	for _, wire := range w.mount.Bay.Wires {
		k := w.mount.Timing(wire.Name)
		if k.Why != "" && w.watched>>(wire.Channel-1)&1 == 1 {
			all = append(all, harness.Unmeasured{Bay: w.mount.Index, Channel: wire.Channel, Within: k.Within, Why: k.Why,
				Next: "run drystage rig " + w.rig.Spec.File + " --measure, or --loopback"})
		}
	}
	return all
}

// inputRealTime takes the board's edges out of a record, to merge them with the pins'. Edges of pins after the last
// instant are left out: BYE switches outputs off.
func (w *Board) inputRealTime(rec *harness.Record) timing.Input {
	m := timing.Input{Bay: w.mount.Index, Watched: w.watched, PinWithin: sim.Time(w.longestDelay()), ReportWithin: sim.Time(w.longestDelay())}
	if n := len(rec.Times); n > 0 {
		m.Now = rec.Times[n-1]
	}
	mine := func(e harness.Edge) bool { return e.Bay == w.mount.Index }
	for _, e := range rec.Outputs {
		if mine(e) {
			m.Reported = append(m.Reported, timing.Reported{Edge: e, Arrived: e.Came, HasClock: true})
		}
	}
	rec.Outputs = slices.DeleteFunc(rec.Outputs, mine)
	for _, s := range w.pinTimes() {
		if s.At <= m.Now+s.Within {
			m.Captured = append(m.Captured, s)
		}
	}
	return m
}

// simulatedUncertainty is that of a simulated pin's time in real time. The pin moves when the board's message
// arrives, so its time is no better than the arrival.
const simulatedUncertainty = sim.Second

// pinTimes gives the pins' edges in real time, in the run's time, less the delay of each path.
func (w *Board) pinTimes() (seen []timing.Captured) {
	for _, s := range w.pinEdges {
		c := w.channel(s.Output)
		if c == 0 {
			continue
		}
		k := w.mount.Timing(s.Output)
		within := rootSumSquares(k.Within, sim.Time(s.Slack))
		if w.rig.Spec.Simulated {
			within = max(within, simulatedUncertainty)
		}
		seen = append(seen, timing.Captured{Channel: c, On: s.On, At: w.mount.RunTime(s.At) - k.Delay, Within: within, Basis: harness.ByPin})
	}
	return seen
}

// Close ends the board's run, and switches its supply and its arming loop off.
func (w *Board) Close() error {
	err := w.Board.Close()
	if w.mount.RunTime != nil && w.pinEdges == nil {
		time.Sleep(w.longestDelay()) // pins may still move
		w.pinEdges = w.rig.TakeEdges(w.mount.Bay.Name)
	}
	return errors.Join(err, w.set(harness.DriveArming, false), w.set(harness.DrivePower, false))
}
