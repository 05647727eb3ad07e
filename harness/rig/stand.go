package rig

import (
	"context"
	"time"

	"drystage/harness"
	"drystage/sim"
)

// Stand is one board on the rig outside of a run, for tests of the contract: its outputs by channel, its supply and
// its arming loop.
type Stand struct {
	rig      *Rig
	board    *Board
	monitors [17]*pinMonitor // by channel
	armed    bool            // the arming loop is closed
	timedOut uint16          // bit c-1: the pin of channel c had its time and does not show what was reported
	reported uint16          // outputs reported on last
	unseen   uint16          // outputs reported on, of which the pin has not yet shown that they were
}

const (
	unmeasuredDelay = 5 * sim.Millisecond // delay of an unmeasured path, beside the rig's default
)

// Stand gives a board of the rig. The bay says which output each channel is.
func (r *Rig) Stand(bay *sim.Bay) *Stand {
	s := &Stand{rig: r, board: &Board{rig: r, spec: r.Spec.Board(bay.Name), mount: Mount{Bay: bay}}}
	for _, w := range bay.Wires {
		s.monitors[w.Channel] = r.monitorOf(bay.Name, w.Name)
	}
	r.TakeEdges(bay.Name)
	return s
}

func (s *Stand) role() string { return s.board.mount.Bay.Name }

// Loaded are the outputs whose dummy load is declared; channel c is bit c-1.
func (s *Stand) Loaded() (mask uint16) {
	for _, w := range s.board.mount.Bay.Wires {
		if o := s.board.spec.Output(w.Name); o != nil && o.Load.Kind != "" {
			mask |= 1 << (w.Channel - 1)
		}
	}
	return mask
}

// Watched are the outputs that a pin monitors.
func (s *Stand) Watched() (mask uint16) {
	for c := 1; c < len(s.monitors); c++ {
		if s.monitors[c] != nil {
			mask |= 1 << (c - 1)
		}
	}
	return mask
}

// Told moves the pin of a simulated rig as the board reports; on a real rig it does nothing.
func (s *Stand) Told(channel uint8, on bool) {
	if sims, ok := s.rig.host.(*simulated); ok {
		s.board.moveSimulated(sims, sim.Output{Channel: int(channel), On: on})
	}
}

// Shows waits until the pins show the outputs that are on, for as long as they can be late, and that those were on
// which came on and went off since the last call. It gives what they show, and which outputs have been on since the
// last call, but for what was reported at an earlier call and the pin shows only now. While the arming loop is open, an output
// that the board switches on may stay off. A pin whose time was over is not waited for again until its output is
// reported differently.
func (s *Stand) Shows(ctx context.Context, on, came uint16) (now, lit uint16) {
	for c := 1; c < len(s.monitors); c++ {
		e, bit := s.monitors[c], uint16(1)<<(c-1)
		if e == nil {
			continue
		}
		want := on&bit != 0
		late := time.Duration(e.out.Capture.Debounce+max(unmeasuredDelay, s.rig.Spec.Default)) + pinMargin
		is, _ := e.state()
		if want != (s.reported&bit != 0) || is == want {
			s.timedOut &^= bit
		}
		if is != want && !(want && s.open()) && s.timedOut&bit == 0 {
			if is = e.waitFor(ctx, want, late) == want; is != want {
				s.timedOut |= bit
			}
		}
		if is || want && s.open() {
			now |= bit
		}
		if want && !is || came&bit != 0 && !want && (s.open() || !e.waitForOn(ctx, late)) {
			s.unseen |= bit
		}
	}
	s.reported = on
	for _, x := range s.rig.TakeEdges(s.role()) {
		if c := s.board.channel(x.Output); c != 0 && x.On {
			lit |= 1 << (c - 1)
		}
	}
	old := lit & s.unseen &^ came
	s.unseen &^= lit
	return now, lit &^ old
}

// open says that the rig has an arming loop for this board, and that it is open.
func (s *Stand) open() bool {
	_, ok := s.rig.Has(harness.DriveArming, s.role())
	return ok && !s.armed
}

// Arming closes or opens the arming loop, if there is one.
func (s *Stand) Arming(on bool) error {
	s.armed = on
	return s.rig.Set(harness.DriveArming, s.role(), on)
}

// CanCut says that the rig really switches this board's supply.
func (s *Stand) CanCut() bool { return s.rig.Cuts(s.role()) }

// Cut takes the supply away until the board is surely off, gives it back, and waits while it boots.
func (s *Stand) Cut(ctx context.Context) error {
	if err := s.rig.Set(harness.DrivePower, s.role(), false); err != nil {
		return err
	}
	return s.rig.Supply(ctx, s.board.mount.Bay)
}
