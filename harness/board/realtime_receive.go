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

// farthest is how far a board's stamp may lie from the bench's time before its clock is not
// counting the run at all.
const farthest = 60 * sim.Second

// take acts on one frame of a board in real time.
func (t *RealTime) take(m contract.Frame, f *sim.Frame, r *harness.Reply) error {
	if m.Code == contract.CodeWelcome {
		return t.greeted(m.Payload, f, r)
	}
	if t.phase == settling && m.Code == contract.CodeAccept {
		return t.accepted(m.Payload)
	}
	if t.phase != flying && t.phase != settling {
		return nil // of another life
	}
	c := t.c
	switch m.Code {
	case contract.CodeOutput:
		return t.output(m.Payload, f, r)
	case contract.CodeReport:
		return c.report(m.Payload, f, r)
	case contract.CodeLog:
		return c.log(m.Payload, f, r)
	case contract.CodeSynced:
		return t.synced(m.Payload, f, r)
	case contract.CodeDone:
		return t.done(m.Payload, f, r)
	}
	return nil
}

// done compares what the board says of its outputs with the edges that came, and believes it.
func (t *RealTime) done(p []byte, f *sim.Frame, r *harness.Reply) error {
	c := t.c
	var d contract.Done
	if err := d.Decode(p); err != nil {
		return err
	}
	q := t.open(d.Time)
	if q == nil || q.done {
		return fmt.Errorf("%w: DONE names a TICK of %s, and none is open", ErrTime, contract.FromMicros(d.Time))
	}
	q.done = true
	c.arming(d.Armed != 0, q.consent, t.came)
	t.took(q)
	t.since.done = t.mark(t.came)
	t.answered()
	t.stamp, t.basis = 0, harness.ByArrival // of an edge that it did not tell
	if t.armed {                            // when the edges since the last DONE came, it may still have been
		c.lights = 0
	}
	if err := c.settle(&d, f, r); err != nil {
		return err
	}
	c.lights, t.armed = 0, d.Armed != 0
	c.lost = c.session.Dec.Counts.Lost
	return nil
}

// took keeps how long the answer took that has just come.
func (t *RealTime) took(q *question) {
	if took := time.Duration(t.came - q.sent); !t.c.session.Instant {
		t.c.answered(q.sent, took, time.Now().Add(-took), q.waited)
	}
}

// open gives the question of a time, or nil.
func (t *RealTime) open(time uint32) *question {
	for i := range t.sent {
		if t.sent[i].time == time {
			return &t.sent[i]
		}
	}
	return nil
}

// answered forgets the questions that have both answers.
func (t *RealTime) answered() {
	t.sent = slices.DeleteFunc(t.sent, func(q question) bool { return q.done && q.synced })
}

// greeted looks at a WELCOME: ours, or that of a board which has just started by itself.
func (t *RealTime) greeted(p []byte, f *sim.Frame, r *harness.Reply) error {
	if t.phase == asleep {
		return nil
	}
	w, means, err := t.c.session.Meet(p)
	switch means {
	case session.Answered:
		return t.begin(&w)
	case session.Foreign:
		t.other = err
		return nil
	case session.Restarted:
		return t.restarted(f, r)
	}
	return err
}

// begin takes the WELCOME that was waited for.
func (t *RealTime) begin(w *contract.Welcome) error {
	c := t.c
	if err := c.welcomed(w); err != nil {
		return err
	}
	if err := c.check(); err != nil {
		return err
	}
	c.session.Dec.Counts = t.before // a board that starts may say anything before WELCOME
	c.lost = t.before.Lost
	c.met()
	t.life++
	t.setting = -1
	t.phase = settling
	return t.next()
}

// next makes the next setting, or begins the flight.
func (t *RealTime) next() error {
	t.since.asked = t.mark(t.came)
	t.since.done, t.since.synced = t.since.asked, t.since.asked
	if t.setting++; t.setting == len(t.c.sets) {
		t.phase, t.asked = flying, t.came-askEvery
		return nil
	}
	return t.c.ask(t.c.sets[t.setting])
}

func (t *RealTime) accepted(p []byte) error {
	if err := accepted(t.c.sets[t.setting], p); err != nil {
		return err
	}
	return t.next()
}

// restarted counts a board that began anew without being asked, and greets it again.
func (t *RealTime) restarted(f *sim.Frame, r *harness.Reply) error {
	c := t.c
	t.stamp, t.basis = 0, harness.ByArrival
	c.allOff(f, r)
	c.health.Unasked++
	if t.alone++; t.alone > maxRestarts {
		return fmt.Errorf("%w (%d times in one run); look at its supply and its log", ErrRestarts, t.alone)
	}
	t.asleep()
	c.shaken = false
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
	if off := (t.stamp - t.came).Seconds(); math.Abs(off) > farthest.Seconds() {
		return fmt.Errorf("%w: output %d came at %s with the stamp %s; its clock must count microseconds from HELLO's time on",
			ErrTime, m.Channel, t.came, t.stamp)
	}
	c.edge(int(m.Channel), m.On != 0, f, r)
	return nil
}

// synced takes a reading of the board's clock.
func (t *RealTime) synced(p []byte, f *sim.Frame, r *harness.Reply) error {
	var m contract.Synced
	if err := m.Decode(p); err != nil {
		return err
	}
	q := t.open(m.Time)
	if q == nil || q.synced {
		return fmt.Errorf("%w: SYNCED names a SYNC of %s, and none is open", ErrTime, contract.FromMicros(m.Time))
	}
	r.Readings = append(r.Readings, harness.ClockReading{Bay: f.Bay, Life: t.life, Sent: q.sent, Came: t.came, Board: contract.FromMicros(m.BoardTime)})
	q.synced = true
	t.took(q)
	t.since.synced = t.mark(t.came)
	t.answered()
	return nil
}
