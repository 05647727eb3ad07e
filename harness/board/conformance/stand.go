package conformance

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

// Stand is the bench on which a board stands: pins that see its outputs, and switches. Channel c is bit
// c-1.
type Stand interface {
	// Loaded are the outputs whose dummy load is declared: no other is asked for a pulse.
	Loaded() uint16
	// Watched are the outputs that a pin sees.
	Watched() uint16
	// Told says what the board tells of an output, or that it has restarted, before Shows is asked.
	Told(channel uint8, on bool)
	// Shows waits, for as long as the pins can be late, until they show the outputs that are on. It gives
	// what they show, and which have been on since the last call.
	Shows(ctx context.Context, on uint16) (now, lit uint16)
	// Arming closes or opens the arming loop, if there is one.
	Arming(on bool) error
	// CanCut says that the supply can be switched.
	CanCut() bool
	// Cut takes the supply away until the board is surely off, gives it back, and waits while it boots.
	Cut(ctx context.Context) error
}

func standTests() []test {
	return []test{
		{name: "after a cut of its supply by the rig the board is dark, silent, and has started once more", contract: says("WELCOME.boots"), spec: "4, power-up and restart", needs: contract.CanLockstep, stand: Stand.CanCut, try: cutForReal},
		{name: "the pins show the outputs that the board tells", contract: says("OUTPUT", "DONE.outputs"), spec: "5, rules 2 and 3", needs: contract.CanLockstep, whole: true,
			stand: func(b Stand) bool { return b.Watched() != 0 }, try: func(s *tester) result { return s.law(s.watch.pins, s.watch.dones, "DONE") }},
	}
}

// look holds the pins against what the board tells.
func (s *tester) look(on uint16, when string) {
	b := s.opt.Stand
	if b == nil {
		return
	}
	seen := b.Watched()
	told := (on | s.watch.pinned | s.watch.heard) & seen
	now, lit := b.Shows(s.ctx, on&seen)
	if s.ctx.Err() != nil {
		return // an interrupted wait proves nothing
	}
	if now != on&seen {
		note(&s.watch.pins, "%s the board tells outputs %016b, and the pins show %016b", when, on&seen, now)
	} else if lit&^told != 0 {
		note(&s.watch.pins, "%s the pins saw outputs %016b go on of which the board says nothing", when, lit&^told)
	}
	s.watch.pinned, s.watch.heard = on, 0
}

// tell lets the rig know what the board says of an output, in whatever life of the board.
func (s *tester) tell(f contract.Frame) {
	var o contract.Output
	if s.opt.Stand == nil || f.Code != contract.CodeOutput || o.Decode(f.Payload) != nil || o.Channel == 0 || o.Channel > contract.MaxChannels {
		return
	}
	if s.opt.Stand.Told(o.Channel, o.On != 0); o.On != 0 {
		s.watch.heard |= 1 << (o.Channel - 1)
	}
}

// tellDark is for a board that has restarted: it can't hold an output on, and says nothing of it.
func (s *tester) tellDark() {
	if s.opt.Stand == nil {
		return
	}
	for c := range uint8(contract.MaxChannels) {
		s.opt.Stand.Told(c+1, false)
	}
}

// loop closes the arming loop when a sound frame arms the board, and opens it when one ends that.
func (s *tester) loop(f contract.Frame) error {
	if s.opt.Stand == nil {
		return nil
	}
	var m contract.Command
	switch f.Code {
	case contract.CodeHello, contract.CodeBye, contract.CodeRestart:
		return s.opt.Stand.Arming(false)
	case contract.CodeCommand:
		if m.Decode(f.Payload) == nil && (m.Command == contract.Arm || m.Command == contract.Disarm) {
			return s.opt.Stand.Arming(m.Command == contract.Arm)
		}
	}
	return nil
}

// cuts says that a restart is a cut of the supply by the rig, since the board can't be asked for one.
func (s *tester) cuts() bool {
	return s.Welcome.Capabilities&contract.CanRestart == 0 && s.opt.Stand != nil && s.opt.Stand.CanCut()
}

// offers gives what the board can do, or what the rig can do to it in its place.
func (s *tester) offers() uint16 {
	if s.cuts() {
		return s.Welcome.Capabilities | contract.CanRestart
	}
	return s.Welcome.Capabilities
}

// cut switches the supply off and on, and drops what a line without supply may have said.
func (s *tester) cut() error {
	if err := s.opt.Stand.Arming(false); err != nil {
		return err
	}
	if err := s.opt.Stand.Cut(s.ctx); err != nil {
		return err
	}
	for deadline := time.Now().Add(session.Glance); ; {
		s.Budget = session.MaxBytes
		if err := s.Read(s.ctx, deadline); errors.Is(err, os.ErrDeadlineExceeded) {
			s.Take()
			s.Dec.Forget()
			return nil
		} else if err != nil {
			return err
		}
	}
}

// inWords says what was done to the board, where it is not what its own ability would have been.
func (s *tester) inWords(r result) result {
	if s.cuts() {
		for _, text := range []*string{&r.sent, &r.came, &r.why} {
			*text = strings.ReplaceAll(*text, "RESTART", "a cut of its supply by the rig")
		}
	}
	return r
}

// cutForReal takes the supply away from an armed board on the pad.
func cutForReal(s *tester) result {
	sent := "COMMAND arm, TICKs, a cut of the supply by the rig, no HELLO for a while, HELLO, 3 TICKs"
	if r, yes := s.unwilling(sent); yes {
		return r
	}
	if r, ok := s.started(true); !ok {
		return r
	}
	var arm []byte
	if s.Welcome.Capabilities&contract.CanCommands != 0 {
		arm = s.command(contract.Arm)
	}
	if err := s.tick(arm...); err != nil {
		return s.broke(err, sent)
	}
	if err := s.ticks(int(s.opt.Rates.IMU * armTime)); err != nil {
		return s.broke(err, sent)
	}
	was := s.Welcome.Boots
	err := s.cut()
	s.starts = true
	s.forget()
	s.done, s.seen, s.based = contract.Done{}, contract.Counts{}, true
	if err != nil {
		return s.broke(err, sent)
	}
	s.look(0, "after a cut of the supply, before HELLO,")
	codes, err := s.quiet(s.hush())
	if err != nil {
		return s.broke(err, sent)
	}
	if r, ok := s.restarted(sent, 0); !ok {
		return r
	}
	s.samples.reset()
	if err := s.ticks(3); err != nil {
		return s.broke(err, sent)
	}
	r := result{outcome: Pass, sent: sent, why: "dark and silent, and one more start",
		came: fmt.Sprintf("frames %v before HELLO; %d starts, before %d; armed %d, outputs %016b", codes, s.Welcome.Boots, was, s.done.Armed, s.done.Outputs)}
	switch {
	case len(codes) > 0 && !(len(codes) == 1 && codes[0] == contract.CodeWelcome):
		r.outcome, r.why = Fail, "a board that has just been switched on says nothing before HELLO, but for one WELCOME"
	case s.Welcome.Boots == was:
		r.outcome, r.why = Fail, "its count of starts has not risen: does the drive really switch this board's supply, and does the count survive a power cut?"
	case s.Welcome.Boots-was != 1:
		r.outcome, r.why = Fail, "one cut is one start; look at the supply's edge and the brown-out reset"
	case s.done.Outputs != 0:
		r.outcome, r.why = Fail, "a board that starts is dark"
	}
	return r
}
