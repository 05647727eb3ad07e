package boardtest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/sim"
	"drystage/sim/r3"
)

// Bay is a bay for any board with an output. Period is the period of its fastest sensor.
func Bay() *sim.Bay {
	return &sim.Bay{Name: "sustainer", Wires: []sim.Wire{{Channel: Channel, Name: "drogue"}},
		Sensors: sim.Sensors{Accel: sim.Triad{Rate: 100}, Gyro: sim.Triad{Rate: 100}, Baro: sim.Barometer{Rate: 50}}}
}

// Period is the time between the frames of Frame.
const Period = 10 * sim.Millisecond

// Frame is frame k of a rocket that stands on its pad. Frame 2 arms the board.
func Frame(k int) *sim.Frame {
	f := &sim.Frame{Now: sim.Time(k) * Period, Due: true, Powered: true, Has: sim.HasAccel | sim.HasGyro,
		Accel: r3.Vec{X: 9.80665}}
	if k%2 == 0 {
		f.Has |= sim.HasBaro
		f.Pressure, f.Temperature = 101325, 288.15
	}
	if k == 2 {
		f.Commands = sim.CommandArm
	}
	return f
}

const (
	cutAt  = 22 // the supply fails, during the fakes' pulse
	backAt = 26
	frames = 40
)

// Fly flies a board through a short session with one power cut, and gathers what it says. The error is that of the
// exchange that failed.
func Fly(ctx context.Context, b board.Board) (all harness.Reply, err error) {
	var r harness.Reply
	for k := range frames {
		f := Frame(k)
		f.Powered = k < cutAt || k >= backAt
		r.Reset()
		err = b.Exchange(ctx, f, &r)
		all.Outputs, all.Reports, all.Logs = append(all.Outputs, r.Outputs...), append(all.Reports, r.Reports...), append(all.Logs, r.Logs...)
		if err != nil {
			return all, err
		}
	}
	return all, nil
}

// Check checks the rules of a board in Bay, and closes it: it flies a whole session with a power cut, reports its
// edges in order, counts its exchanges, has no output on without power, and stays closed.
func Check(b board.Board) error {
	all, err := Fly(context.Background(), b)
	if err != nil {
		return errors.Join(fmt.Errorf("boardtest: the session broke: %w", err), b.Close())
	}
	err = errors.Join(Edges(all.Outputs), offWithoutPower(all.Outputs), counts(b), idle(b), closed(b))
	if err != nil {
		return fmt.Errorf("boardtest: law broken: %w", err)
	}
	return nil
}

// Edges checks that edges are in order of time, and alternate between on and off.
func Edges(outs []harness.Edge) error {
	if !slices.IsSortedFunc(outs, func(a, b harness.Edge) int { return cmp.Compare(a.At, b.At) }) {
		return fmt.Errorf("edges out of order: %v", outs)
	}
	on := map[int]bool{}
	for _, o := range outs {
		if on[o.Channel] == o.On {
			return fmt.Errorf("an edge of output %d that changes nothing: %v", o.Channel, outs)
		}
		on[o.Channel] = o.On
	}
	return nil
}

// offWithoutPower checks that no output is on while the supply is off.
func offWithoutPower(outs []harness.Edge) error {
	on := 0
	for _, o := range outs {
		switch {
		case o.At > cutAt*Period && o.At < backAt*Period:
			return fmt.Errorf("output %d switches at %s, without power", o.Channel, o.At)
		case o.At >= backAt*Period:
		case o.On:
			on++
		default:
			on--
		}
	}
	if on != 0 {
		return fmt.Errorf("an output stays on while the supply is off: %v", outs)
	}
	return nil
}

func counts(b board.Board) error {
	h := b.Health()
	if want := frames - (backAt - cutAt); h.RoundTrips != want {
		return fmt.Errorf("%d exchanges counted, wanted %d", h.RoundTrips, want)
	}
	if h.Boots != 2 || h.Unasked != 0 {
		return fmt.Errorf("%d handshakes and %d restarts of its own, wanted 2 and 0", h.Boots, h.Unasked)
	}
	if !h.Faultless() || h.Unarmed != 0 || h.SelfArmed != 0 {
		return fmt.Errorf("the link is not whole: %+v", h)
	}
	return nil
}

func idle(b board.Board) error {
	before := b.Health().RoundTrips
	f := Frame(frames)
	f.Due = false
	var r harness.Reply
	if err := b.Exchange(context.Background(), f, &r); err != nil || b.Health().RoundTrips != before {
		return fmt.Errorf("a frame that is not due was sent (%v)", err)
	}
	return nil
}

func closed(b board.Board) error {
	if err := errors.Join(b.Close(), b.Close()); err != nil {
		return fmt.Errorf("closing twice: %w", err)
	}
	if err := b.Exchange(context.Background(), Frame(frames+1), new(harness.Reply)); err == nil {
		return errors.New("a closed board still exchanges")
	}
	return nil
}
