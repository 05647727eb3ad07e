// Package run flies plans against boards: it opens the boards of each role, puts them on their rig, rehearses and
// paces the flights, flies one or thousands of them, several at a time, and gives their records in order.
//
// It never judges and never writes a file. It starts nothing real before the rig declares every dummy load, or a
// person has confirmed that the bench is inert: a real board's outputs are live. Dummy loads only; follow your
// national code and your range safety officer.
package run

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"sync"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/board/receiver"
	"drystage/harness/rig"
	"drystage/sim"
	"drystage/sim/world"
)

// Options say what a bench is made of and how it flies.
type Options struct {
	Boards []string // each ADDR or ROLE=ADDR; none: the built-in board
	NMEA   []string // each ROLE=ADDR: where a board's input for its receiver's sentences is
	Rig    string   // the file of the rig that the boards are on; empty: none
	// NoRig lets a board on a wire of its own do without a rig, once a person has confirmed that it is inert.
	NoRig bool

	Timeout     time.Duration // of an answer, after which a board counts as silent; 0: the board's default
	AnswerLimit time.Duration // an answer that takes longer leaves the run unsure; 0: as board.Options has it
	RealTime    bool          // by the clock on the wall, one flight at a time
	LateLimit   time.Duration // in real time: a frame that leaves later leaves the run unsure; 0: one period of the fastest sensor
	Counts      string        // the folder for what emulated chips count of their firmware; empty: they don't
	Jobs        int           // flights at once; 0: as many as there are processors
	Spares      *Spares       // shared with other benches; nil: the bench has its own
	Alone       bool          // no flight begins before the one before is dealt with, as in real time: one record is enough

	// Link opens a board's line in place of an address, by the board's role; nil: by address.
	Link func(role string) (link.Link, error)
	// Dial opens an address, at a speed if it is a serial line that names none; nil: as link.Open does.
	Dial func(address string, baud int) (link.Link, error)
	// Confirm asks a person whether the bench is inert; its error says that it is not. nil: nobody confirms.
	Confirm func() error
	Guard   []string  // starts a program as the guard of the rig's pins
	Notes   io.Writer // for people; nil: nobody reads them

	// Watch wraps the source of each flight, to tell of it while it goes on; nil: nobody watches. It must not delay a flight
	// in real time.
	Watch func(rec *harness.Record, src sim.Source) sim.Source
}

// Bench is boards that are ready to fly.
type Bench struct {
	Rig *rig.Rig // nil: none

	opt      Options
	boards   addresses
	measured *rig.Measured // of the rig's pins
	stale    string        // why the measurement does not count; told when something flies
	ports    map[string]*receiver.Port
	played   map[string]func(*sim.Setup) sim.Source // by the file of a plan that plays a log
	host     *board.HostLatency                     // nil: all boards are in this process
	closing  *sync.WaitGroup                        // boards of flights that were cut off
	spare    *Spares
}

// Open makes a bench for plans. It opens what all flights share: the rig, whose boards are each asked once what
// hangs on their outputs, and the receivers' ports; boards are opened by each flight. Plans are given the
// addresses of their receivers' ports and, where they play a log, its sensors.
func Open(ctx context.Context, opt Options, plans []harness.Plan) (*Bench, error) {
	if opt.Notes == nil {
		opt.Notes = io.Discard
	}
	if opt.Jobs == 0 {
		opt.Jobs = runtime.NumCPU()
	}
	b := &Bench{opt: opt, ports: map[string]*receiver.Port{}, played: map[string]func(*sim.Setup) sim.Source{}, closing: new(sync.WaitGroup), spare: opt.Spares}
	if b.spare == nil {
		b.spare = new(Spares)
	}
	var err error
	if err = b.checkLockstep(plans); err != nil {
		return nil, err
	}
	if b.boards, err = addressesOf(opt.Boards, roles(plans)); err != nil {
		return nil, err
	}
	if err = b.readLogs(plans); err != nil {
		return nil, err
	}
	if err = assignPorts(opt.NMEA, plans); err != nil {
		return nil, err
	}
	if err = b.mount(ctx, plans); err == nil {
		err = b.openPorts(ctx, plans)
	}
	if err != nil {
		return nil, errors.Join(err, b.Close())
	}
	if opt.Link != nil || b.boards.external() {
		b.host = board.WatchHostLatency()
	}
	return b, nil
}

// checkLockstep refuses boards whose clock can't be checkLockstep, unless the run goes by the clock on the wall.
func (b *Bench) checkLockstep(plans []harness.Plan) error {
	for i := range plans {
		for _, x := range plans[i].Boards {
			if !x.Lockstep && !b.opt.RealTime {
				return harness.Errorf("%s: board %s says `lockstep: false`: its clock can't be driven; say --real-time", plans[i].File, x.Role)
			}
		}
	}
	return nil
}

// readLogs reads the logs that plans play.
func (b *Bench) readLogs(plans []harness.Plan) (err error) {
	for i := range plans {
		p := &plans[i]
		if p.Log.File == "" {
			continue
		}
		Rehearse(&p.Setup)
		if b.played[p.File], err = Played(p); err != nil {
			return err
		}
	}
	return nil
}

// Rehearse finds out when the events of a flight come if all goes as meant, where something happens before an event.
func Rehearse(s *sim.Setup) {
	if s.Rehearsed = nil; s.NeedsRehearsal() {
		s.Rehearsed = world.Rehearse(s)
	}
}

// Defect gives the same bench with the built-in board in every role, with a defect; an empty one for none.
func (b *Bench) Defect(name string) *Bench {
	out := *b
	out.boards = addresses{all: "mock"}
	if name != "" {
		out.boards.all += ":" + name
	}
	return &out
}

// Addresses tells where the boards of plans are.
func (b *Bench) Addresses(plans []harness.Plan) (out []harness.BoardAddress) {
	for _, role := range roles(plans) {
		out = append(out, harness.BoardAddress{Role: role, Address: b.boards.of(role)})
	}
	return out
}

// Close waits for boards that are still closing, makes the rig safe and closes the ports.
func (b *Bench) Close() error {
	b.closing.Wait()
	for _, p := range b.ports {
		p.Close()
	}
	if b.host != nil {
		b.host.Close()
		b.host = nil
	}
	if b.Rig == nil {
		return nil
	}
	return b.Rig.Close()
}

// note tells people something in a line.
func (b *Bench) note(format string, a ...any) {
	fmt.Fprintln(b.opt.Notes, harness.Errorf(format, a...))
}

// RefusedError says that a bench was not opened for safety.
type RefusedError struct{ Err error }

// Error gives the reason's text.
func (e RefusedError) Error() string { return e.Err.Error() }

// Unwrap gives the reason.
func (e RefusedError) Unwrap() error { return e.Err }

// FailedError says that a bench was asked for rightly, but does not work.
type FailedError struct{ Err error }

// Error gives the reason's text.
func (e FailedError) Error() string { return e.Err.Error() }

// Unwrap gives the reason.
func (e FailedError) Unwrap() error { return e.Err }

// Hostname names this computer.
func Hostname() string {
	name, err := os.Hostname()
	if err != nil {
		return "unknown"
	}
	return name
}

// roles lists the roles of all boards of plans, each once.
func roles(plans []harness.Plan) (out []string) {
	for i := range plans {
		for _, b := range plans[i].Boards {
			if !slices.Contains(out, b.Role) {
				out = append(out, b.Role)
			}
		}
	}
	return out
}
