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

// Stand is the rig that the board is mounted on: pins that see its outputs, and switches. Channel c is bit c-1.
type Stand interface {
	// Loaded are the outputs whose dummy load is declared. Only these get pulses.
	Loaded() uint16
	// Watched are the outputs that a pin monitors.
	Watched() uint16
	// Told passes on what the board says of an output, and that all are off after a restart. It is called before
	// Shows.
	Told(channel uint8, on bool)
	// Shows waits, for as long as the pins can be late, until they show the outputs that are on, and those that came
	// on since the last call, even if they are off again. It gives what they show, and which outputs have been on
	// since the last call.
	Shows(ctx context.Context, on, came uint16) (now, lit uint16)
	// Arming closes or opens the arming loop, if there is one.
	Arming(on bool) error
	// CanCut says that the rig can switch the supply.
	CanCut() bool
	// Cut switches the supply off until the board is surely off, switches it on, and waits while the board boots.
	Cut(ctx context.Context) error
}

func standTests() []test {
	return []test{
		{name: "after a cut of its supply by the rig the board is dark, silent, and has started once more", contract: quote("WELCOME.boots"), spec: "4, power-up and restart", needs: contract.CanLockstep, stand: Stand.CanCut, try: supplyCut},
		{name: "the pins show the outputs that the board tells", contract: quote("OUTPUT", "DONE.outputs"), spec: "5, rules 2 and 3", needs: contract.CanLockstep, whole: true,
			stand: func(b Stand) bool { return b.Watched() != 0 }, try: func(s *tester) result { return s.invariant(s.monitor.badPins, s.monitor.dones, "DONE") }},
	}
}

// checkPins compares the pins with what the board says.
func (s *tester) checkPins(on uint16, when string) {
	b := s.opt.Stand
	if b == nil {
		return
	}
	seen := b.Watched()
	told := (on | s.monitor.pinsOn | s.monitor.onSincePins) & seen
	now, lit := b.Shows(s.ctx, on&seen, s.monitor.onSincePins&seen)
	if s.ctx.Err() != nil {
		return // an interrupted wait proves nothing
	}
	if now != on&seen {
		note(&s.monitor.badPins, "%s the board tells outputs %016b, and the pins show %016b", when, on&seen, now)
	} else if lit&^told != 0 {
		note(&s.monitor.badPins, "%s the pins saw outputs %016b go on of which the board says nothing", when, lit&^told)
	}
	s.monitor.pinsOn, s.monitor.onSincePins = on, 0
}

// relayOutput passes what the board says of an output on to the rig.
func (s *tester) relayOutput(f contract.Frame) {
	var o contract.Output
	if s.opt.Stand == nil || f.Code != contract.CodeOutput || o.Decode(f.Payload) != nil || o.Channel == 0 || o.Channel > contract.MaxChannels {
		return
	}
	if s.opt.Stand.Told(o.Channel, o.On != 0); o.On != 0 {
		s.monitor.onSincePins |= 1 << (o.Channel - 1)
	}
}

// relayAllOff tells the rig that all outputs are off, after the board has restarted.
func (s *tester) relayAllOff() {
	if s.opt.Stand == nil {
		return
	}
	for c := range uint8(contract.MaxChannels) {
		s.opt.Stand.Told(c+1, false)
	}
}

// armingLoop closes the arming loop with the frame that arms the board, and opens it with one that disarms it.
func (s *tester) armingLoop(f contract.Frame) error {
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

// cutsSupply says that restarts are made by the rig's supply switch, because the board can't RESTART.
func (s *tester) cutsSupply() bool {
	return s.Welcome.Capabilities&contract.CanRestart == 0 && s.opt.Stand != nil && s.opt.Stand.CanCut()
}

// offers are the board's capabilities, with RESTART if the rig can cut the supply instead.
func (s *tester) offers() uint16 {
	if s.cutsSupply() {
		return s.Welcome.Capabilities | contract.CanRestart
	}
	return s.Welcome.Capabilities
}

// cutSupply switches the supply off and on, and drops what came from the unpowered line.
func (s *tester) cutSupply() error {
	if err := s.opt.Stand.Arming(false); err != nil {
		return err
	}
	if err := s.opt.Stand.Cut(s.ctx); err != nil {
		return err
	}
	for deadline := time.Now().Add(session.ContextCheck); ; {
		s.Budget = session.MaxBytes
		if err := s.Read(s.ctx, deadline); errors.Is(err, os.ErrDeadlineExceeded) {
			s.Unread()
			s.Dec.Forget()
			return nil
		} else if err != nil {
			return err
		}
	}
}

// nameTheCut writes "a cut of its supply by the rig" for RESTART, where the rig did that.
func (s *tester) nameTheCut(r result) result {
	if s.cutsSupply() {
		for _, text := range []*string{&r.sent, &r.came, &r.why} {
			*text = strings.ReplaceAll(*text, "RESTART", "a cut of its supply by the rig")
		}
	}
	return r
}

// supplyCut switches off the supply of an armed board on the pad.
func supplyCut(s *tester) result {
	sent := "COMMAND arm, TICKs, a cut of the supply by the rig, no HELLO for a while, HELLO, 3 TICKs"
	if r, yes := s.skipRestart(sent); yes {
		return r
	}
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	var arm []byte
	if s.Welcome.Capabilities&contract.CanCommands != 0 {
		arm = s.command(contract.Arm)
	}
	if err := s.tick(arm...); err != nil {
		return s.failed(err, sent)
	}
	if err := s.ticks(int(s.opt.Rates.IMU * s.armTime())); err != nil {
		return s.failed(err, sent)
	}
	was := s.Welcome.Boots
	err := s.cutSupply()
	s.restarting = true
	s.boardRestarted()
	s.done, s.counted, s.comparable = contract.Done{}, contract.Counts{}, true
	if err != nil {
		return s.failed(err, sent)
	}
	s.checkPins(0, "after a cut of the supply, before HELLO,")
	codes, err := s.listen(s.listenTime())
	if err != nil {
		return s.failed(err, sent)
	}
	if r, ok := s.restarted(sent, 0); !ok {
		return r
	}
	s.samples.reset()
	if err := s.ticks(3); err != nil {
		return s.failed(err, sent)
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
