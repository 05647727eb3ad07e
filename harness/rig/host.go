package rig

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"drystage/harness"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	periph "periph.io/x/host/v3"
)

// host gives the pins of a computer, real or simulated.
type host interface {
	input(p harness.Pin) (input, error)
	// output takes a pin that is at the level from its first moment, where the platform can.
	output(name string, level bool) (output, error)
	close() error
}

// input is a pin that is watched. wait gives the next edge, or false when none came in time; its
// time-out is above zero always, since drivers don't agree on what zero and less mean.
type input interface {
	read() bool
	wait(timeout time.Duration) (c change, ok bool)
	close() error
}

// output is a pin that is driven.
type output interface {
	set(level bool) error
}

func hostOf(spec *harness.Rig) (host, error) {
	if spec.Simulated {
		return simulate(spec)
	}
	return findPins()
}

// PinNames lists the pins of this computer.
func PinNames() ([]string, error) {
	if _, err := periph.Init(); err != nil {
		return nil, fmt.Errorf("rig: %w: %w", ErrPin, err)
	}
	var names []string
	for _, p := range gpioreg.All() {
		names = append(names, p.Name())
	}
	slices.Sort(names)
	return names, nil
}

// periphHost is this computer's pins as periph finds them.
type periphHost struct {
	taken []gpio.PinIO
	lines []interface{ close() error } // of the kernel's own interface
}

func findPins() (*periphHost, error) {
	names, err := PinNames()
	if err == nil && len(names) == 0 {
		err = fmt.Errorf("%w: this computer shows no pins; run on one that has some (as a user of the group gpio), or write `rig: simulated` into the rig's file", ErrPin)
	}
	return &periphHost{}, err
}

func (h *periphHost) pin(name string) (gpio.PinIO, error) {
	p := gpioreg.ByName(name)
	if p == nil {
		names, _ := PinNames()
		return nil, fmt.Errorf("%w: no pin %q; this computer's are %s", ErrPin, name, strings.Join(names, ", "))
	}
	h.taken = append(h.taken, p)
	return p, nil
}

func (h *periphHost) input(p harness.Pin) (input, error) {
	if l, ok, err := kernelInput(p); ok || err != nil {
		if err == nil {
			h.lines = append(h.lines, l)
		}
		return l, err
	}
	io, err := h.pin(p.Name)
	if err != nil {
		return nil, err
	}
	return watchPin(io, p.Pull)
}

func (h *periphHost) output(name string, level bool) (output, error) {
	if l, ok, err := kernelOutput(name, level); ok || err != nil {
		if err == nil {
			h.lines = append(h.lines, l)
		}
		return l, err
	}
	io, err := h.pin(name)
	if err != nil {
		return nil, err
	}
	out := drivenPin{io}
	return out, out.set(level)
}

func (h *periphHost) close() error {
	for _, p := range h.taken {
		_ = p.Halt() // only ends a wait
	}
	for _, l := range h.lines {
		_ = l.close() // the level has been set; there is nothing to do about a failing close
	}
	return nil
}

// seenPin is a periph pin that is watched. Edges are stamped when the wait wakes up.
type seenPin struct{ gpio.PinIO }

func watchPin(p gpio.PinIO, pull harness.Pull) (input, error) {
	how := map[harness.Pull]gpio.Pull{harness.PullNone: gpio.Float, harness.PullUp: gpio.PullUp, harness.PullDown: gpio.PullDown}[pull]
	if err := p.In(how, gpio.BothEdges); err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrPin, p.Name(), err)
	}
	return seenPin{p}, nil
}

func (p seenPin) read() bool { return bool(p.Read()) }

func (p seenPin) wait(timeout time.Duration) (change, bool) {
	ok := p.WaitForEdge(max(timeout, shortest))
	at := time.Now()
	return change{at, p.read()}, ok // the driver does not tell which way the edge went
}

func (p seenPin) close() error { return p.Halt() }

// drivenPin is a periph pin that is driven.
type drivenPin struct{ gpio.PinIO }

func (p drivenPin) set(level bool) error {
	if err := p.Out(gpio.Level(level)); err != nil {
		return fmt.Errorf("%w: %s: %w", ErrPin, p.Name(), err)
	}
	return nil
}
