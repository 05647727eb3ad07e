package rig

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

const (
	asks     = 8                      // HELLOs until a board is given up
	askEvery = 250 * time.Millisecond // between them, and for each answer
	looks    = 200                    // TICKs in which a board may measure
	lookStep = 10_000                 // us of its time between them
)

// Continuity asks a board, before any run, what it measures at its outputs: it shakes hands and lets
// the board's clock go on for up to two seconds, with no samples and never armed. Without the
// capability offered is false. An output of the bay without a reading is refused.
func Continuity(ctx context.Context, l link.Link, bay *sim.Bay) (readings []Reading, offered bool, err error) {
	q := &asker{ctx: ctx, link: l, dec: contract.NewDecoder(contract.FromBoard), buf: make([]byte, 4096)}
	w, err := q.hello(bay)
	if err != nil {
		return nil, false, fmt.Errorf("rig: board %s: %w", bay.Name, err)
	}
	defer func() { _ = q.send(q.enc.Bye(nil, &contract.Bye{})) }() // the reading is what counts
	if w.Capabilities&contract.CanContinuity == 0 {
		return nil, false, nil
	}
	got := map[uint8]uint32{}
	for i := range uint32(looks) {
		if err := q.tick(i*lookStep, got); err != nil {
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

// asker speaks to a board outside of a run.
type asker struct {
	ctx  context.Context
	link link.Link
	enc  contract.Encoder
	dec  *contract.Decoder
	buf  []byte
	in   []byte
}

var errNoAnswer = errors.New("no answer; is the board powered, and does it run?")

func (q *asker) send(b []byte) error {
	_, err := q.link.Write(b)
	return err
}

// helloNonce is that of every HELLO outside of a run.
const helloNonce = 0x0C0417

func (q *asker) hello(bay *sim.Bay) (contract.Welcome, error) {
	return q.helloIn(bay, contract.Lockstep)
}

func (q *asker) helloIn(bay *sim.Bay, mode uint8) (w contract.Welcome, err error) {
	m := contract.Hello{Version: contract.Version, Mode: mode, Nonce: helloNonce}
	contract.PutText(m.Role[:], bay.Name)
	for range asks {
		if err := q.send(q.enc.Hello([]byte{0}, &m)); err != nil {
			return w, err
		}
		err := q.until(func(f contract.Frame) bool {
			return f.Code == contract.CodeWelcome && w.Decode(f.Payload) == nil && w.Nonce == m.Nonce
		})
		if !errors.Is(err, os.ErrDeadlineExceeded) {
			return w, err
		}
	}
	return w, errNoAnswer
}

func (q *asker) tick(at uint32, got map[uint8]uint32) error {
	if err := q.send(q.enc.Tick(nil, &contract.Tick{Time: at})); err != nil {
		return err
	}
	err := q.until(func(f contract.Frame) bool {
		var c contract.Continuity
		if f.Code == contract.CodeContinuity && c.Decode(f.Payload) == nil {
			got[c.Channel] = c.Resistance
		}
		return f.Code == contract.CodeDone
	})
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return fmt.Errorf("TICK: %w", errNoAnswer)
	}
	return err
}

// until reads frames until one is the last; late is os.ErrDeadlineExceeded.
func (q *asker) until(last func(contract.Frame) bool) error {
	deadline := time.Now().Add(askEvery)
	for {
		f, rest, ok := q.dec.Next(q.in)
		q.in = rest
		if ok {
			if last(f) {
				return nil
			}
			continue
		}
		if err := q.ctx.Err(); err != nil {
			return err
		}
		if !link.Instant(q.link) && time.Now().After(deadline) {
			return os.ErrDeadlineExceeded // a board that never stops talking
		}
		if err := q.link.SetReadDeadline(deadline); err != nil {
			return err
		}
		n, err := q.link.Read(q.buf)
		if err != nil {
			return err
		}
		q.in = q.buf[:n]
	}
}

// Preflight refuses a board whose readings are not those of the rig's dummy loads. Without the
// capability it says so: then only a person's eye has checked the loads.
func Preflight(ctx context.Context, l link.Link, spec *harness.Rig, bay *sim.Bay) (note string, err error) {
	readings, offered, err := Continuity(ctx, l, bay)
	if b := spec.Board(bay.Name); b != nil && len(readings) > 0 {
		err = errors.Join(Inert(b, readings), err) // what looks like a match comes first
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
