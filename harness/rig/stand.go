package rig

import (
	"context"
	"time"

	"drystage/harness"
	"drystage/sim"
)

// Stand is one board on the rig outside of a run, as tests of the contract need it: its outputs by
// channel, its supply and its arming loop.
type Stand struct {
	rig   *Rig
	board *Board
	eyes  [17]*eye // by channel
	armed bool     // the arming loop is closed
	given uint16   // bit c-1: channel c has had its time, and does not show what was told
	want  uint16   // what was told last
}

const (
	settle = 5 * sim.Millisecond // an edge whose path was not measured may be that late, and more by the rig's default
)

// Stand gives a board of the rig by its bay, which says what output each channel is.
func (r *Rig) Stand(bay *sim.Bay) *Stand {
	s := &Stand{rig: r, board: &Board{rig: r, on: r.Spec.Board(bay.Name), seat: Mount{Bay: bay}}}
	for _, w := range bay.Wires {
		s.eyes[w.Channel] = r.eye(bay.Name, w.Name)
	}
	r.TakeEdges(bay.Name)
	return s
}

func (s *Stand) role() string { return s.board.seat.Bay.Name }

// Loaded are the outputs whose dummy load is declared; channel c is bit c-1.
func (s *Stand) Loaded() (mask uint16) {
	for _, w := range s.board.seat.Bay.Wires {
		if o := s.board.on.Output(w.Name); o != nil && o.Load.Kind != "" {
			mask |= 1 << (w.Channel - 1)
		}
	}
	return mask
}

// Watched are the outputs that a pin sees.
func (s *Stand) Watched() (mask uint16) {
	for c := 1; c < len(s.eyes); c++ {
		if s.eyes[c] != nil {
			mask |= 1 << (c - 1)
		}
	}
	return mask
}

// Told moves the pin of a simulated rig as the board says; on a real one it does nothing.
func (s *Stand) Told(channel uint8, on bool) {
	if sims, ok := s.rig.host.(*simulated); ok {
		s.board.play(sims, sim.Output{Channel: int(channel), On: on})
	}
}

// Shows waits until the pins show the outputs that are on, for as long as they can be late. It gives what
// they show, and which have been on since the last call. While the arming loop is open an output that
// the board switches on may well stay dark. A pin that has had its time is not waited for again until
// something else is told of it.
func (s *Stand) Shows(ctx context.Context, on uint16) (now, lit uint16) {
	for c := 1; c < len(s.eyes); c++ {
		e, bit := s.eyes[c], uint16(1)<<(c-1)
		if e == nil {
			continue
		}
		want := on&bit != 0
		late := time.Duration(e.out.Capture.Debounce+max(settle, s.rig.Spec.Default)) + leeway
		is, _ := e.is()
		if want != (s.want&bit != 0) || is == want {
			s.given &^= bit
		}
		if is != want && !(want && s.open()) && s.given&bit == 0 {
			if is = e.becomes(ctx, want, late) == want; is != want {
				s.given |= bit
			}
		}
		if is || want && s.open() {
			now |= bit
		}
	}
	s.want = on
	for _, x := range s.rig.TakeEdges(s.role()) {
		if c := s.board.channel(x.Output); c != 0 && x.On {
			lit |= 1 << (c - 1)
		}
	}
	return now, lit
}

// open says that the board's arming loop is the rig's, and open.
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
	return s.rig.Supply(ctx, s.board.seat.Bay)
}
