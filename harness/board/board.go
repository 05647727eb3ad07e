// Package board is a flight computer as the bench sees it: sensor samples go in, outputs come out. Client speaks the
// contract over a link in lockstep, where TICK drives the board's clock. RealTime does so in real time, where the
// board has a clock of its own.
//
// It never judges whether an answer was right. It does not rely on a board to answer, to end or to tell the truth
// about its outputs. It never repeats a failed exchange: every exchange ends in bounded time, with an answer or with
// an error that says what was missing.
//
// A real board's outputs are live. Connect dummy loads only, no motor, igniter or charge; follow your national code
// and your range safety officer.
package board

import (
	"context"
	"errors"

	"drystage/harness"
	"drystage/harness/board/session"
	"drystage/sim"
)

// Board is one flight computer. Exchange sends what happened up to the frame's time, and adds what the board did to
// the reply; after an error, each further call returns that error. Finish ends the run: it waits, in bounded time,
// for outstanding answers, adds them to the reply, and sends BYE; the error says what is missing. Health is complete
// after Finish. Close makes the outputs safe as far as possible from here; it may be called twice, and without
// Finish.
type Board interface {
	Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error
	Finish(ctx context.Context, r *harness.Reply) error
	Health() harness.Health
	Close() error
}

// What can be wrong with a board. The errors of Exchange wrap one of these, link.ErrGone, or the context's error.
var (
	ErrSilent   = session.ErrSilent
	ErrGarbage  = session.ErrGarbage
	ErrFlood    = session.ErrFlood
	ErrVersion  = errors.New("the board speaks another version of the contract")
	ErrNonce    = session.ErrNonce
	ErrUnable   = errors.New("the board lacks what the scenario needs")
	ErrSetting  = errors.New("a setting was not accepted")
	ErrTime     = errors.New("the board's time is wrong")
	ErrChannel  = errors.New("the board names an output that it does not have")
	ErrRestarts = errors.New("the board restarts again and again, or not when told to")
	ErrClosed   = errors.New("the board is closed")
)
