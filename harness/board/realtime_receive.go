package board

import (
	"fmt"
	"math"
	"slices"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/session"
	"drystage/sim"
)

// maxStampError is how far a board's time stamp may lie from the run's time. Beyond it, its clock does not count the
// run's time at all.
const maxStampError = 60 * sim.Second

// receiveFrame evaluates one frame of a board in real time.
func (t *RealTime) receiveFrame(m contract.Frame, f *sim.Frame, r *harness.Reply) error {
	if m.Code == contract.CodeWelcome {
		return t.takeWelcome(m.Payload, f, r)
	}
	if t.phase == makingSettings && m.Code == contract.CodeAccept {
		return t.accepted(m.Payload)
	}
	if t.phase != running && t.phase != makingSettings {
		return nil // sent before the board was switched off, or before WELCOME
	}
	switch m.Code {
	case contract.CodeOutput:
		return t.output(m.Payload, f, r)
	case contract.CodeSynced:
		return t.synced(m.Payload, f, r)
	case contract.CodeDone:
		return t.done(m.Payload, f, r)
	}
	return t.c.take(m, r, f) // its reports and its log, as in lockstep
}

// done compares the outputs in DONE with the edges received; DONE is right.
func (t *RealTime) done(p []byte, f *sim.Frame, r *harness.Reply) error {
	c := t.c
	var d contract.Done
	if err := d.Decode(p); err != nil {
		return err
	}
	q := t.findQuestion(d.Time)
	if q == nil || q.done {
		return fmt.Errorf("%w: DONE names a TICK of %s, and none is open", ErrTime, contract.FromMicros(d.Time))
	}
	q.done = true
	c.checkArmed(d.Armed != 0, q.permission, t.arrived)
	t.recordAnswer(q)
	t.since.done = t.progressAt(t.arrived)
	t.dropAnswered()
	t.stamp, t.basis = 0, harness.ByArrival // of an edge without an OUTPUT
	if t.armed {                            // it may still have been armed at the edges since the last DONE
		c.switchedOn = 0
	}
	if err := c.applyDone(&d, f, r); err != nil {
		return err
	}
	c.switchedOn, t.armed = 0, d.Armed != 0
	c.lostAtStart = c.session.Dec.Counts.Lost
	return nil
}

// recordAnswer records how long the present answer took.
func (t *RealTime) recordAnswer(q *question) {
	if took := time.Duration(t.arrived - q.sent); !t.c.session.Instant {
		t.c.recordAnswer(q.sent, took, time.Now().Add(-took), q.cpuWait)
	}
}

// findQuestion gives the question of a time, or nil.
func (t *RealTime) findQuestion(time uint32) *question {
	for i := range t.questions {
		if t.questions[i].time == time {
			return &t.questions[i]
		}
	}
	return nil
}

// dropAnswered removes the questions with both answers.
func (t *RealTime) dropAnswered() {
	t.questions = slices.DeleteFunc(t.questions, func(q question) bool { return q.done && q.synced })
}

// takeWelcome evaluates a WELCOME: the awaited one, or that of a board which has restarted by itself.
func (t *RealTime) takeWelcome(p []byte, f *sim.Frame, r *harness.Reply) error {
	if t.phase == unpowered {
		return nil
	}
	w, means, err := t.c.session.ReadWelcome(p)
	switch means {
	case session.Answered:
		return t.connect(&w)
	case session.Foreign:
		t.foreign = err
		return nil
	case session.Restarted:
		return t.restarted(f, r)
	}
	return err
}

// connect evaluates the awaited WELCOME.
func (t *RealTime) connect(w *contract.Welcome) error {
	c := t.c
	if err := c.takeWelcome(w); err != nil {
		return err
	}
	if err := c.checkWelcome(); err != nil {
		return err
	}
	c.session.Dec.Counts = t.countsBefore // before WELCOME a booting board may send anything
	c.lostAtStart = t.countsBefore.Lost
	c.newStart()
	t.life++
	t.setting = -1
	t.phase = makingSettings
	return t.nextSetting()
}

// nextSetting sends the next setting, or begins to send samples.
func (t *RealTime) nextSetting() error {
	t.since.asked = t.progressAt(t.arrived)
	t.since.done, t.since.synced = t.since.asked, t.since.asked
	if t.setting++; t.setting == len(t.c.settings) {
		t.phase, t.askedAt = running, t.arrived-askEvery
		return nil
	}
	return t.c.sendSetting(t.c.settings[t.setting])
}

func (t *RealTime) accepted(p []byte) error {
	if err := checkAccept(t.c.settings[t.setting], p); err != nil {
		return err
	}
	return t.nextSetting()
}

// restarted counts a restart by the board itself; HELLO follows.
func (t *RealTime) restarted(f *sim.Frame, r *harness.Reply) error {
	c := t.c
	t.stamp, t.basis = 0, harness.ByArrival
	c.allOff(f, r)
	c.health.Unasked++
	if t.ownRestarts++; t.ownRestarts > maxRestarts {
		return fmt.Errorf("%w (%d times in one run); look at its supply and its log", ErrRestarts, t.ownRestarts)
	}
	t.switchedOff()
	c.connected = false
	return nil
}

func (t *RealTime) output(p []byte, f *sim.Frame, r *harness.Reply) error {
	c := t.c
	var m contract.Output
	if err := m.Decode(p); err != nil {
		return err
	}
	if m.Channel == 0 || m.Channel > c.session.Welcome.Channels {
		return fmt.Errorf("%w: output %d of %d", ErrChannel, m.Channel, c.session.Welcome.Channels)
	}
	t.stamp, t.basis = contract.FromMicros(m.Time), harness.ByClock
	if off := (t.stamp - t.arrived).Seconds(); math.Abs(off) > maxStampError.Seconds() {
		return fmt.Errorf("%w: output %d came at %s with the stamp %s; its clock must count microseconds from HELLO's time on",
			ErrTime, m.Channel, t.arrived, t.stamp)
	}
	c.addEdge(int(m.Channel), m.On != 0, f, r)
	return nil
}

// synced stores a reading of the board's clock.
func (t *RealTime) synced(p []byte, f *sim.Frame, r *harness.Reply) error {
	var m contract.Synced
	if err := m.Decode(p); err != nil {
		return err
	}
	q := t.findQuestion(m.Time)
	if q == nil || q.synced {
		return fmt.Errorf("%w: SYNCED names a SYNC of %s, and none is open", ErrTime, contract.FromMicros(m.Time))
	}
	r.Readings = append(r.Readings, harness.ClockReading{Bay: f.Bay, Life: t.life, Sent: q.sent, Came: t.arrived, Board: contract.FromMicros(m.BoardTime)})
	q.synced = true
	t.recordAnswer(q)
	t.since.synced = t.progressAt(t.arrived)
	t.dropAnswered()
	return nil
}
