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
	measureMost = 200    // TICKs that a board gets to measure
	measureStep = 10_000 // us between them, in the board's time
)

// Continuity asks a board, before any run, for the resistances at its outputs. It shakes hands and advances the
// board's clock by up to two seconds, without samples and never armed. offered is false if the board lacks the
// capability. A missing reading of an output of the bay is an error.
func Continuity(ctx context.Context, l link.Link, bay *sim.Bay) (readings []Reading, offered bool, err error) {
	s := session.New(l)
	w, err := connect(ctx, s, bay, contract.Lockstep, session.DefaultTimeout)
	if err != nil {
		return nil, false, fmt.Errorf("rig: board %s: %w", bay.Name, err)
	}
	defer func() { _ = s.Send(s.Enc.Bye(nil, &contract.Bye{})) }() // the readings are complete by then
	if w.Capabilities&contract.CanContinuity == 0 {
		return nil, false, nil
	}
	got := map[uint8]uint32{}
	for i := range uint32(measureMost) {
		if err := measureTick(ctx, s, i*measureStep, got); err != nil {
			return nil, true, fmt.Errorf("rig: board %s: %w", bay.Name, err)
		}
		if readings, ok := readingsOf(bay, got); ok {
			return readings, true, nil
		}
	}
	readings, _ = readingsOf(bay, got)
	return readings, true, fmt.Errorf("rig: %w: board %s offers to measure its outputs, and told %d of %d in two seconds of its time", ErrRefused, bay.Name, len(readings), len(bay.Wires))
}

// readingsOf gives the readings in the order of the wires; ok says that none is missing.
func readingsOf(bay *sim.Bay, got map[uint8]uint32) (readings []Reading, ok bool) {
	for _, w := range bay.Wires {
		if r, there := got[uint8(w.Channel)]; there {
			readings = append(readings, ReadingOf(w.Name, r))
		}
	}
	return readings, len(readings) == len(bay.Wires)
}

// helloNonce is the nonce of every HELLO outside of a run.
const helloNonce = 0x0C0417

// connect sends HELLO outside of a run. No samples are announced.
func connect(ctx context.Context, s *session.Session, bay *sim.Bay, mode uint8, timeout time.Duration) (contract.Welcome, error) {
	m := session.Hello(bay.Name, mode, contract.Rates{})
	m.Nonce = helloNonce
	w, _, err := s.Connect(ctx, &m, timeout)
	s.Welcome = w
	return w, err
}

// measureTick advances the board's clock to a time, and stores the resistances that the board sends by then.
func measureTick(ctx context.Context, s *session.Session, at uint32, got map[uint8]uint32) error {
	if err := s.Send(s.Enc.Tick(nil, &contract.Tick{Time: at})); err != nil {
		return err
	}
	_, err := s.Await(ctx, contract.CodeDone, session.DefaultTimeout, func(f contract.Frame) error {
		var c contract.Continuity
		if f.Code == contract.CodeContinuity && c.Decode(f.Payload) == nil {
			got[c.Channel] = c.Resistance
		}
		return nil
	})
	return err
}

// Preflight refuses a board whose readings do not fit the rig's dummy loads. If the board can't measure, the note
// says so: then only a person has checked the loads.
func Preflight(ctx context.Context, l link.Link, spec *harness.Rig, bay *sim.Bay) (note string, err error) {
	readings, offered, err := Continuity(ctx, l, bay)
	if b := spec.Board(bay.Name); b != nil && len(readings) > 0 {
		err = errors.Join(CheckReadings(b, readings), err) // a possible electric match is named first
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
