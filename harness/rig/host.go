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
	// output takes a pin. It has the level from the first moment, if the platform can do that.
	output(name string, level bool) (output, error)
	close() error
}

// input is a pin that is read. wait gives the next edge, or false if none came in time. Its time-out is always above
// zero, since drivers treat zero and less differently.
type input interface {
	read() bool
	wait(timeout time.Duration) (c levelChange, ok bool)
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

// periphHost gives this computer's pins by the periph library.
type periphHost struct {
	taken []gpio.PinIO
	lines []interface{ close() error } // taken from the kernel
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
	out := periphOutput{io}
	return out, out.set(level)
}

func (h *periphHost) close() error {
	for _, p := range h.taken {
		_ = p.Halt() // ends a wait
	}
	for _, l := range h.lines {
		_ = l.close() // the level has been set before
	}
	return nil
}

// periphInput is a periph pin that is read. An edge has the time at which the wait returned.
type periphInput struct{ gpio.PinIO }

func watchPin(p gpio.PinIO, pull harness.Pull) (input, error) {
	how := map[harness.Pull]gpio.Pull{harness.PullNone: gpio.Float, harness.PullUp: gpio.PullUp, harness.PullDown: gpio.PullDown}[pull]
	if err := p.In(how, gpio.BothEdges); err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrPin, p.Name(), err)
	}
	return periphInput{p}, nil
}

func (p periphInput) read() bool { return bool(p.Read()) }

func (p periphInput) wait(timeout time.Duration) (levelChange, bool) {
	ok := p.WaitForEdge(max(timeout, shortestWait))
	at := time.Now()
	return levelChange{at, p.read()}, ok // the driver does not tell which way the edge went
}

func (p periphInput) close() error { return p.Halt() }

// periphOutput is a periph pin that is driven.
type periphOutput struct{ gpio.PinIO }

func (p periphOutput) set(level bool) error {
	if err := p.Out(gpio.Level(level)); err != nil {
		return fmt.Errorf("%w: %s: %w", ErrPin, p.Name(), err)
	}
	return nil
}
