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

// leeway is what a pin's time may lie behind its output's, beyond what its path is known to take.
const leeway = 20 * time.Millisecond

// Board is a board on the rig: what it says is held against what its pins see, its supply and its
// arming loop are switched as the flight and its operator want it.
type Board struct {
	board.Board
	rig  *Rig
	seat Mount
	on   *harness.RigBoard

	watched   uint16
	powered   bool
	cut       bool // its supply has been taken away in this run
	told      []timing.Reported
	seen      []timing.Captured
	conflicts []harness.Conflict
	within    sim.Time  // of an edge in lockstep
	last      []PinEdge // in real time, all that the pins saw
	answers   []Answer
}

// Mount says where a board sits and how its times are made.
type Mount struct {
	Index  int // of the bay
	Bay    *sim.Bay
	Timing func(output string) PathTiming // how well an output's pin is timed; nil: the rig's default
	// RunTime turns an instant of this computer's clock into a time of the run. It is nil in lockstep,
	// where the run's clock stands still during an exchange: then an edge is of its frame.
	RunTime func(time.Time) sim.Time
}

// Wrap puts a board on the rig for one run: neither supplied nor armed, its breakwires whole.
func (r *Rig) Wrap(b board.Board, seat Mount) (*Board, error) {
	w := &Board{Board: b, rig: r, seat: seat, on: r.Spec.Board(seat.Bay.Name), within: board.EdgeUncertainty(&seat.Bay.Sensors)}
	if w.on == nil {
		return nil, fmt.Errorf("rig: no board %s on %s", seat.Bay.Name, r.Spec.File)
	}
	if seat.Timing == nil {
		w.seat.Timing = func(string) PathTiming {
			return PathTiming{Within: r.Spec.Default, Why: "nobody says how well its pins are timed"}
		}
	}
	for _, wire := range seat.Bay.Wires {
		if r.eye(seat.Bay.Name, wire.Name) != nil {
			w.watched |= 1 << (wire.Channel - 1)
		}
	}
	r.TakeEdges(seat.Bay.Name)
	return w, errors.Join(w.set(harness.DriveArming, false), w.set(harness.DrivePower, false), w.set(harness.DriveReset, false),
		w.set(harness.DriveLiftoff, true), w.set(harness.DriveSeparation, true))
}

func (w *Board) set(kind harness.DriveKind, on bool) error {
	return w.rig.Set(kind, w.seat.Bay.Name, on)
}

// Unwrap gives the board inside.
func (w *Board) Unwrap() board.Board { return w.Board }

// Exchange does what the board inside does, with the supply switched before and after, and in lockstep
// gives its edges as the pins bear them out. In real time the board's word goes on at once, since a
// pin's time is worth more only when the board's clock has been fitted: see Settle.
func (w *Board) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if err := w.before(ctx, f); err != nil {
		return err
	}
	from, began := len(r.Outputs), time.Now()
	err := w.Board.Exchange(ctx, f, r)
	fading := time.Duration(0) // how much longer than known outputs may stay on: capacitors
	if w.powered && !f.Powered {
		w.powered, w.cut = false, true
		if delay, _ := w.rig.Has(harness.DrivePower, w.seat.Bay.Name); w.rig.Cuts(w.seat.Bay.Name) {
			fading = time.Duration(delay) + offFor
		}
		err = errors.Join(err, w.set(harness.DrivePower, false))
	}
	if w.cut && errors.Is(err, link.ErrGone) && w.rig.Cuts(w.seat.Bay.Name) {
		err = fmt.Errorf("%w; its port went with its supply: let its line have a supply of its own, such as a serial adapter in front of an isolator", err)
	}
	said := r.Outputs[from:]
	if s, ok := w.rig.host.(*simulated); ok {
		for _, e := range said {
			w.play(s, e.Output)
		}
	}
	if w.seat.RunTime == nil {
		w.await(ctx, said, fading)
	}
	if w.seat.RunTime == nil && ctx.Err() == nil { // an interrupted wait proves nothing
		w.lockstep(f, r, from, began)
	}
	if w.rig.trouble() != nil {
		err = errors.Join(err, w.rig.trouble())
	}
	return err
}

// before switches supply and arming loop as the frame says.
func (w *Board) before(ctx context.Context, f *sim.Frame) error {
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

// supply switches the board on. In lockstep the run stands still while it boots; in real time it does not,
// and the board is greeted until it hears.
func (w *Board) supply(ctx context.Context) error {
	if w.seat.RunTime != nil {
		return w.set(harness.DrivePower, true)
	}
	return w.rig.Supply(ctx, w.seat.Bay)
}

// Answer is how long an output took, from when a frame began to leave to the pin's edge: the line, the
// board and the pin together.
type Answer struct {
	Output string
	Took   time.Duration
}

// Answers gives the answers of a run in lockstep.
func (w *Board) Answers() []Answer { return w.answers }

// longest is the grace of the slowest of the board's pins.
func (w *Board) longest() (d time.Duration) {
	for _, e := range w.rig.eyes {
		if e.role == w.seat.Bay.Name {
			d = max(d, w.grace(e))
		}
	}
	return d
}

// play moves a simulated pin as the output would.
func (w *Board) play(s *simulated, o sim.Output) {
	out := w.on.Output(w.name(o.Channel))
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
	for _, wire := range w.seat.Bay.Wires {
		if wire.Channel == channel {
			return wire.Name
		}
	}
	return ""
}

func (w *Board) channel(output string) int {
	for _, wire := range w.seat.Bay.Wires {
		if wire.Name == output {
			return wire.Channel
		}
	}
	return 0
}

// await waits until every output that the board spoke of has followed, or can't be expected to any
// more. In lockstep the run stands still meanwhile.
func (w *Board) await(ctx context.Context, said []harness.Edge, more time.Duration) {
	for i, e := range said {
		last := !slices.ContainsFunc(said[i+1:], func(o harness.Edge) bool { return o.Channel == e.Channel })
		if last && w.watched>>(e.Channel-1)&1 == 1 {
			eye := w.rig.eye(w.seat.Bay.Name, w.name(e.Channel))
			eye.becomes(ctx, e.On, w.grace(eye)+more)
		}
	}
}

// lockstep replaces what the board said in one exchange by what its pins bear out. They have had their
// time; one that moved unbidden may still be explained by the next frame.
func (w *Board) lockstep(f *sim.Frame, r *harness.Reply, from int, began time.Time) {
	for _, e := range r.Outputs[from:] {
		w.told = append(w.told, timing.Reported{Edge: e, Arrived: f.Now, HasClock: true})
	}
	for _, s := range w.rig.TakeEdges(w.seat.Bay.Name) {
		if c := w.channel(s.Output); c != 0 { // else this plan does not wire it
			w.seen = append(w.seen, timing.Captured{Channel: c, On: s.On, At: f.Now, Within: w.within})
			w.answers = append(w.answers, Answer{s.Output, s.At.Sub(began)})
		}
	}
	o := timing.Merge(timing.Input{Bay: w.seat.Index, Reported: w.told, Captured: w.seen, Watched: w.watched, Now: f.Now, PinWithin: -1})
	w.told, w.seen = o.Reported, o.Captured
	w.conflicts = append(w.conflicts, o.Conflicts...)
	r.Outputs = append(r.Outputs[:from], o.Edges...)
}

// grace is how much later than its output a pin may move.
func (w *Board) grace(e *eye) time.Duration {
	k := w.seat.Timing(e.out.Name)
	return time.Duration(e.out.Capture.Debounce+k.Delay+k.Within) + leeway
}

// AddPinTimes puts into the record of a run that is over what the pins know of it: every conflict, and in
// real time, where the boards' clocks have been fitted by now, the pins' own times where they are
// worth more.
func (w *Board) AddPinTimes(rec *harness.Record) {
	m := timing.Input{Bay: w.seat.Index, Reported: w.told, Captured: w.seen, Watched: w.watched, Now: sim.Never}
	if w.seat.RunTime != nil {
		m = w.realTime(rec)
	}
	o := timing.Merge(m)
	rec.Outputs = append(rec.Outputs, o.Edges...)
	for _, t := range o.Reported { // the run ended before their pins could be expected to move
		rec.Outputs = append(rec.Outputs, t.Edge)
	}
	slices.SortStableFunc(rec.Outputs, func(a, b harness.Edge) int { return cmp.Compare(a.At, b.At) })
	rec.Conflicts = append(append(rec.Conflicts, w.conflicts...), o.Conflicts...)
	rec.Unmeasured = append(rec.Unmeasured, w.unmeasured()...)
	w.told, w.seen, w.conflicts = nil, nil, nil
}

// unmeasured lists the outputs whose pins count with the rig's default.
func (w *Board) unmeasured() (all []harness.Unmeasured) {
	for _, wire := range w.seat.Bay.Wires {
		k := w.seat.Timing(wire.Name)
		if k.Why != "" && w.watched>>(wire.Channel-1)&1 == 1 {
			all = append(all, harness.Unmeasured{Bay: w.seat.Index, Channel: wire.Channel, Within: k.Within, Why: k.Why,
				Next: "run drystage rig " + w.rig.Spec.File + " --measure, or --loopback"})
		}
	}
	return all
}

// realTime takes the board's edges out of a record, for what they are worth beside the pins'. What a
// pin saw after the last instant is no part of the run: BYE switches outputs off.
func (w *Board) realTime(rec *harness.Record) timing.Input {
	m := timing.Input{Bay: w.seat.Index, Watched: w.watched, PinWithin: sim.Time(w.longest()), ReportWithin: sim.Time(w.longest())}
	if n := len(rec.Times); n > 0 {
		m.Now = rec.Times[n-1]
	}
	mine := func(e harness.Edge) bool { return e.Bay == w.seat.Index }
	for _, e := range rec.Outputs {
		if mine(e) {
			m.Reported = append(m.Reported, timing.Reported{Edge: e, Arrived: e.Came, HasClock: true})
		}
	}
	rec.Outputs = slices.DeleteFunc(rec.Outputs, mine)
	for _, s := range w.caught() {
		if s.At <= m.Now+s.Within {
			m.Captured = append(m.Captured, s)
		}
	}
	return m
}

// unknown is how uncertain the time of a simulated pin is in real time, where it moves when the
// board's word has come: no better than arrival.
const unknown = sim.Second

// caught gives what the pins saw in real time, by the run's clock, less the delay of each path.
func (w *Board) caught() (seen []timing.Captured) {
	for _, s := range w.last {
		c := w.channel(s.Output)
		if c == 0 {
			continue
		}
		k := w.seat.Timing(s.Output)
		within := both(k.Within, sim.Time(s.Slack))
		if w.rig.Spec.Simulated {
			within = max(within, unknown)
		}
		seen = append(seen, timing.Captured{Channel: c, On: s.On, At: w.seat.RunTime(s.At) - k.Delay, Within: within, Basis: harness.ByPin})
	}
	return seen
}

// Close ends the board's run, and takes its supply and its arming away.
func (w *Board) Close() error {
	err := w.Board.Close()
	if w.seat.RunTime != nil && w.last == nil {
		time.Sleep(w.longest()) // for pins that still have to be seen
		w.last = w.rig.TakeEdges(w.seat.Bay.Name)
	}
	return errors.Join(err, w.set(harness.DriveArming, false), w.set(harness.DrivePower, false))
}
