package board

import (
	"context"
	"fmt"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

const (
	longestListen = 20 * time.Millisecond // for what comes where nothing may, behind the last DONE
	look          = time.Millisecond      // how often the end of a run looks whether an answer has come
)

// limit sets how long an answer may take.
func (c *Client) limit(own sim.Time) {
	a := &c.health.Answers
	switch {
	case c.session.Instant:
		return // it has no clock of its own
	case c.opt.Limit > 0:
		a.Limit = sim.Time(c.opt.Limit)
	case own > 0:
		a.Limit = own
	default:
		a.Limit = harness.AnswerLimit(&c.bay.Sensors, c.mode == contract.RealTime)
	}
}

// patience is how long an answer is waited for in real time until there is none: a board that is given more time than
// usual has that.
func (c *Client) patience() sim.Time {
	return max(c.health.Answers.Limit, harness.AnswerLimit(&c.bay.Sensors, true))
}

// answered keeps how long an answer took, to a question that was asked at a time of the run and of the clock on the
// wall, when the board's program had waited for a processor for so long. Beyond the limit the bench's own computer may
// explain a part: how long that program has waited since, as far as the system tells; how late the computer is to give
// the question and to look at its answer, so that its greatest lateness counts twice; and the line took its time.
func (c *Client) answered(at sim.Time, took time.Duration, asked time.Time, waited time.Duration) {
	a := &c.health.Answers
	own, bench := sim.Time(took), sim.Time(0)
	if own > a.Limit {
		bench = sim.Time(link.Carries(c.link, len(c.session.Out)))
		bench += sim.Time(c.waited(true) - waited)
		if c.opt.HostLatency != nil {
			bench += 2 * sim.Time(c.opt.HostLatency(asked))
		}
		if own = max(own-bench, a.Limit); own > a.Limit {
			a.Over++
		}
	}
	if own > a.Slowest-a.Bench {
		a.Slowest, a.At, a.Bench = sim.Time(took), at, sim.Time(took)-own
	}
}

// waited is how long the board's program has waited for a processor so far.
func (c *Client) waited(exact bool) time.Duration {
	if p, ok := c.link.(link.Program); ok {
		return p.Waited(exact)
	}
	return 0
}

// unanswered counts questions that were not answered, the first of which was asked at a time of the run.
func (c *Client) unanswered(n int, at sim.Time) {
	a := &c.health.Answers
	if a.Missing == 0 {
		a.MissingAt = at
	}
	a.Missing += n
}

// Finish listens for what comes behind the last DONE, where nothing may come, says BYE, and sees how a program ends.
func (c *Client) Finish(ctx context.Context, _ *harness.Reply) error {
	if c.usable() == nil && !c.left && c.shaken && !c.session.Instant && ctx.Err() == nil {
		if err := c.listen(); err != nil {
			c.failed = fmt.Errorf("board: at the end of the run: %w", err)
		}
	}
	c.leave()
	return c.failed
}

// listen waits for one period of the fastest sensor and keeps what comes for Health, as the next exchange would.
func (c *Client) listen() error {
	return c.session.Listen(time.Now().Add(min(time.Duration(harness.AnswerLimit(&c.bay.Sensors, false)), longestListen)))
}

// bye says that the run is over, once.
func (c *Client) bye() {
	if c.hellos > 0 && !c.left {
		_ = c.session.Send(c.session.Enc.Bye(c.session.Out[:0], &contract.Bye{})) // the link may be gone; that is told elsewhere
	}
	c.left = true
}

// leave says BYE, and keeps how a program ends.
func (c *Client) leave() {
	if c.left {
		return
	}
	c.bye()
	if p, ok := c.link.(link.Program); ok {
		e := p.End()
		c.health.End = harness.Ending{Status: e.Status, Signal: e.Signal, Forced: e.Forced}
	}
}

// Finish goes on with a handshake that is not over, asks the board once more for its clock and for what it has counted,
// so that what was lost last is counted too, and waits for the answers.
func (t *RealTime) Finish(ctx context.Context, r *harness.Reply) error {
	c := t.c
	if c.usable() == nil && !c.left {
		if err := t.settleUp(ctx, r); err != nil {
			c.failed = fmt.Errorf("board: at the end of the run: %w", err)
		}
		t.giveUp(0)
	}
	c.leave()
	return c.failed
}

func (t *RealTime) settleUp(ctx context.Context, r *harness.Reply) error {
	c, f := t.c, sim.Frame{Bay: t.seat, Powered: true}
	var asked sim.Time
	for last := false; t.phase != asleep; {
		f.Now = t.clock()
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case t.phase == greeting:
			if err := t.greet(f.Now); err != nil {
				return err
			}
		case t.phase == flying && !last:
			last, asked = true, f.Now
			c.now = contract.Micros(f.Now)
			e := &c.session.Enc
			t.question(c.now)
			if err := c.session.Send(e.Tick(e.Sync(c.session.Out[:0], &contract.Sync{Time: c.now}), &contract.Tick{Time: c.now})); err != nil {
				return err
			}
		}
		if err := t.drain(&f, r); err != nil {
			return err
		}
		switch open := t.open(c.now); {
		case last && t.phase == flying && open == nil:
			return nil
		case last && t.clock()-asked >= c.patience():
			return fmt.Errorf("%s after the last instant: %w", t.clock()-asked, t.missing())
		case !last:
			if err := t.overdue(); err != nil {
				return err
			}
		}
		time.Sleep(look)
	}
	return nil
}

// giveUp counts the questions that have gone without an answer for longer than they may, and for at least a time.
func (t *RealTime) giveUp(least sim.Time) {
	now := t.clock()
	for _, q := range t.sent {
		if now-q.sent >= least {
			t.c.unanswered(1, q.sent)
		}
	}
	t.sent = t.sent[:0]
}
