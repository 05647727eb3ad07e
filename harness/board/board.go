// Package board is a flight computer as the bench sees it: what it senses goes in, what it does
// comes out. Client speaks the contract over a link in lockstep, where TICK drives the board's clock.
//
// It never decides whether an answer was right, never trusts a board to answer, to end or to tell
// the truth about its outputs, and never tries a failed exchange again: every exchange ends in
// bounded time with an answer or with an error that says what was missing.
//
// A real board's outputs are live. Connect dummy loads only, no motor, igniter or charge; follow
// your national code and your range safety officer.
package board

import (
	"context"
	"errors"

	"drystage/harness"
	"drystage/harness/board/session"
	"drystage/sim"
)

// Board is one flight computer. Exchange gives it what happened up to the frame's time and adds what
// it did to the reply; after an error, every further call gives that error again. Finish ends the run: it
// waits, in bounded time, for what is still to come, adds it to the reply, and says BYE; an error is what has
// not come. Health is whole behind it. Close makes its outputs safe as well as can be told from here; twice
// is fine, and without Finish too.
type Board interface {
	Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error
	Finish(ctx context.Context, r *harness.Reply) error
	Health() harness.Health
	Close() error
}

// What can be wrong with a board. The errors of Exchange wrap one of these, link.ErrGone, or the
// context's error.
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
