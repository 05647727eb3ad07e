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
	longestListen = 20 * time.Millisecond // for frames after the last DONE, where none may come
	pollEvery     = time.Millisecond      // how often answers are polled at the end of a run
)

// setAnswerLimit sets how long an answer may take.
func (c *Client) setAnswerLimit(own sim.Time) {
	a := &c.health.Answers
	switch {
	case c.session.Instant:
		return // a board in this process has no clock
	case c.opt.Limit > 0:
		a.Limit = sim.Time(c.opt.Limit)
	case own > 0:
		a.Limit = own
	default:
		a.Limit = harness.AnswerLimit(&c.bay.Sensors, c.mode == contract.RealTime)
	}
}

// answerTimeout is how long an answer is waited for in real time. A board with a longer limit than usual has that
// time.
func (c *Client) answerTimeout() sim.Time {
	return max(c.health.Answers.Limit, harness.AnswerLimit(&c.bay.Sensors, true))
}

// recordAnswer records how long an answer took. at is the question's time in the run, asked that of this computer's
// clock, waited the cpuWait at that time. Beyond the limit, delays of the bench's computer are subtracted: how long
// the board's program has waited for a processor since; the computer's greatest latency, twice, since both question
// and answer may be late; and the line's time.
func (c *Client) recordAnswer(at sim.Time, took time.Duration, asked time.Time, waited time.Duration) {
	a := &c.health.Answers
	own, bench := sim.Time(took), sim.Time(0)
	if own > a.Limit {
		bench = sim.Time(link.Carries(c.link, len(c.session.LastSent)))
		bench += sim.Time(c.cpuWait(true) - waited)
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

// cpuWait is how long the board's program has waited for a processor so far.
func (c *Client) cpuWait(exact bool) time.Duration {
	if p, ok := c.link.(link.Program); ok {
		return p.Waited(exact)
	}
	return 0
}

// countUnanswered counts n unanswered questions; at is the run's time of the first.
func (c *Client) countUnanswered(n int, at sim.Time) {
	a := &c.health.Answers
	if a.Missing == 0 {
		a.MissingAt = at
	}
	a.Missing += n
}

// Finish listens for frames after the last DONE, where none may come, sends BYE, and records how a program ends.
func (c *Client) Finish(ctx context.Context, _ *harness.Reply) error {
	if c.usable() == nil && !c.saidBye && c.connected && !c.session.Instant && ctx.Err() == nil {
		if err := c.listen(); err != nil {
			c.failed = fmt.Errorf("board: at the end of the run: %w", err)
		}
	}
	c.endUnless(ctx)
	return c.failed
}

// listen waits for one period of the fastest sensor. What comes is counted by Health.
func (c *Client) listen() error {
	return c.session.Listen(time.Now().Add(min(time.Duration(harness.AnswerLimit(&c.bay.Sensors, false)), longestListen)))
}

// sayBye sends BYE, once.
func (c *Client) sayBye() {
	if c.hellos > 0 && !c.saidBye {
		_ = c.session.Send(c.session.Enc.Bye(c.session.LastSent[:0], &contract.Bye{})) // the link may be gone; other calls report that
	}
	c.saidBye = true
}

// end sends BYE, and records how a program ends.
func (c *Client) end() {
	if c.saidBye {
		return
	}
	c.sayBye()
	if p, ok := c.link.(link.Program); ok {
		e := p.End()
		c.health.End = harness.Ending{Status: e.Status, Signal: e.Signal, Forced: e.Forced}
	}
}

// endUnless ends the run. One that was cut off tells nothing of how its program ended: then Close ends it, and nobody
// waits here.
func (c *Client) endUnless(ctx context.Context) {
	if ctx.Err() == nil {
		c.end()
	}
}

// Finish completes a handshake that is in progress, asks the board once more for its clock and its counts, so that
// the last losses are counted too, and waits for the answers.
func (t *RealTime) Finish(ctx context.Context, r *harness.Reply) error {
	c := t.c
	if c.usable() == nil && !c.saidBye {
		if err := t.finalAnswers(ctx, r); err != nil {
			c.failed = fmt.Errorf("board: at the end of the run: %w", err)
		}
		t.giveUpQuestions(0)
	}
	c.endUnless(ctx)
	return c.failed
}

func (t *RealTime) finalAnswers(ctx context.Context, r *harness.Reply) error {
	c, f := t.c, sim.Frame{Bay: t.bay, Powered: true}
	var asked sim.Time
	for last := false; t.phase != unpowered; {
		f.Now = t.clock()
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case t.phase == greeting:
			if err := t.sayHello(f.Now); err != nil {
				return err
			}
		case t.phase == running && !last:
			last, asked = true, f.Now
			c.now = contract.Micros(f.Now)
			e := &c.session.Enc
			t.addQuestion(c.now)
			if err := c.session.Send(e.Tick(e.Sync(c.session.LastSent[:0], &contract.Sync{Time: c.now}), &contract.Tick{Time: c.now})); err != nil {
				return err
			}
		}
		if err := t.receiveAll(&f, r); err != nil {
			return err
		}
		switch open := t.findQuestion(c.now); {
		case last && t.phase == running && open == nil:
			return nil
		case last && t.clock()-asked >= c.answerTimeout():
			return fmt.Errorf("%s after the last instant: %w", t.clock()-asked, t.missingAnswer())
		case !last:
			if err := t.checkOverdue(); err != nil {
				return err
			}
		}
		time.Sleep(pollEvery)
	}
	return nil
}

// giveUpQuestions counts the questions that have had no answer for at least a time.
func (t *RealTime) giveUpQuestions(least sim.Time) {
	now := t.clock()
	for _, q := range t.questions {
		if now-q.sent >= least {
			t.c.countUnanswered(1, q.sent)
		}
	}
	t.questions = t.questions[:0]
}
