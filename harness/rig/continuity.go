package rig

import (
	"context"
	"errors"
	"fmt"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/session"
	"drystage/sim"
)

const (
	answerWait  = 250 * time.Millisecond // for each answer but WELCOME
	measureMost = 200                    // TICKs in which a board may measure
	measureStep = 10_000                 // us of its time between them
)

// Continuity asks a board, before any run, what it measures at its outputs: it shakes hands and lets
// the board's clock go on for up to two seconds, with no samples and never armed. Without the
// capability offered is false. An output of the bay without a reading is refused.
func Continuity(ctx context.Context, l link.Link, bay *sim.Bay) (readings []Reading, offered bool, err error) {
	s := session.New(l)
	w, err := greet(ctx, s, bay, contract.Lockstep)
	if err != nil {
		return nil, false, fmt.Errorf("rig: board %s: %w", bay.Name, err)
	}
	defer func() { _ = s.Send(s.Enc.Bye(nil, &contract.Bye{})) }() // the reading is what counts
	if w.Capabilities&contract.CanContinuity == 0 {
		return nil, false, nil
	}
	got := map[uint8]uint32{}
	for i := range uint32(measureMost) {
		if err := measureTick(ctx, s, i*measureStep, got); err != nil {
			return nil, true, fmt.Errorf("rig: board %s: %w", bay.Name, err)
		}
		if readings, ok := named(bay, got); ok {
			return readings, true, nil
		}
	}
	readings, _ = named(bay, got)
	return readings, true, fmt.Errorf("rig: %w: board %s offers to measure its outputs, and told %d of %d in two seconds of its time", ErrRefused, bay.Name, len(readings), len(bay.Wires))
}

// named gives the readings in the order of the wires; ok says that none is missing.
func named(bay *sim.Bay, got map[uint8]uint32) (readings []Reading, ok bool) {
	for _, w := range bay.Wires {
		if r, there := got[uint8(w.Channel)]; there {
			readings = append(readings, ReadingOf(w.Name, r))
		}
	}
	return readings, len(readings) == len(bay.Wires)
}

// helloNonce is that of every HELLO outside of a run.
const helloNonce = 0x0C0417

// greet says HELLO outside of a run. No samples are announced.
func greet(ctx context.Context, s *session.Session, bay *sim.Bay, mode uint8) (contract.Welcome, error) {
	m := session.Hello(bay.Name, mode, contract.Rates{})
	m.Nonce = helloNonce
	w, _, err := s.Greet(ctx, &m, session.DefaultTimeout)
	s.Welcome = w
	return w, err
}

// measureTick lets the board's clock go on to a time, and keeps the resistances that it tells by then.
func measureTick(ctx context.Context, s *session.Session, at uint32, got map[uint8]uint32) error {
	if err := s.Send(s.Enc.Tick(nil, &contract.Tick{Time: at})); err != nil {
		return err
	}
	_, err := s.Await(ctx, contract.CodeDone, answerWait, func(f contract.Frame) error {
		var c contract.Continuity
		if f.Code == contract.CodeContinuity && c.Decode(f.Payload) == nil {
			got[c.Channel] = c.Resistance
		}
		return nil
	})
	return err
}

// Preflight refuses a board whose readings are not those of the rig's dummy loads. Without the
// capability it says so: then only a person's eye has checked the loads.
func Preflight(ctx context.Context, l link.Link, spec *harness.Rig, bay *sim.Bay) (note string, err error) {
	readings, offered, err := Continuity(ctx, l, bay)
	if b := spec.Board(bay.Name); b != nil && len(readings) > 0 {
		err = errors.Join(CheckReadings(b, readings), err) // what looks like a match comes first
	}
	switch {
	case err != nil:
		return "", err
	case !offered:
		return "board " + bay.Name + " does not measure its outputs: look at every load yourself", nil
	}
	text := "board " + bay.Name + " measures"
	for i, r := range readings {
		if i > 0 {
			text += ","
		}
		text += " " + r.Output + " " + ohms(r.Ohm)
	}
	return text + ": as declared", nil
}
