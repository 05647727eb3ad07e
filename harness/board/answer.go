package board

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/sim"
)

// errRestarted says that the board has started anew without being asked.
var errRestarted = errors.New("the board has restarted")

// glance is how often a wait looks whether the context is done.
const glance = 100 * time.Millisecond

// await reads until a frame of the wanted type comes, and gives its payload. What the board tells on
// the way goes into the reply; before WELCOME it is of another life, and dropped.
func (c *Client) await(ctx context.Context, want contract.Code, wait time.Duration, r *harness.Reply, f *sim.Frame) ([]byte, error) {
	var deadline time.Time
	if !c.instant {
		deadline = time.Now().Add(wait)
	}
	came, frames := 0, 0
	var other error
	for {
		m, rest, ok := c.dec.Next(c.in)
		c.in = rest
		if ok {
			frames++
			done, err := c.take(m, want, r, f)
			if done {
				return m.Payload, nil
			}
			if errors.Is(err, ErrNonce) {
				other = err
			} else if err != nil {
				return nil, err
			}
			continue
		}
		n, err := c.read(ctx, deadline)
		came += n
		switch {
		case errors.Is(err, os.ErrDeadlineExceeded) && other != nil:
			return nil, other
		case errors.Is(err, os.ErrDeadlineExceeded):
			return nil, c.silence(want, came, frames)
		case err != nil:
			return nil, err
		}
	}
}

// read fills c.in. It is late when the deadline has passed, or at once over an instant link.
func (c *Client) read(ctx context.Context, deadline time.Time) (int, error) {
	if c.budget <= 0 {
		return 0, fmt.Errorf("%w: more than %d bytes in one exchange", ErrFlood, maxBytes)
	}
	for {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if !c.instant {
			now := time.Now()
			if !now.Before(deadline) {
				return 0, os.ErrDeadlineExceeded
			}
			if err := c.link.SetReadDeadline(now.Add(min(glance, deadline.Sub(now)))); err != nil {
				return 0, err
			}
		}
		n, err := c.link.Read(c.buf)
		if err != nil && errors.Is(err, os.ErrDeadlineExceeded) && !c.instant {
			continue
		}
		c.budget -= n
		c.in = c.buf[:n]
		return n, err
	}
}

// silence tells the kinds of no answer apart.
func (c *Client) silence(want contract.Code, came, frames int) error {
	switch {
	case came == 0:
		return fmt.Errorf("%s: %w; is the board powered, and does it run?", want, ErrSilent)
	case frames == 0:
		return fmt.Errorf("%s: %w: %d bytes; are speed and wiring right?", want, ErrGarbage, came)
	}
	return fmt.Errorf("%s: %w, though %d other frames came", want, ErrSilent, frames)
}

// take looks at one frame; done says that it is the wanted one.
func (c *Client) take(m contract.Frame, want contract.Code, r *harness.Reply, f *sim.Frame) (done bool, err error) {
	switch {
	case m.Code == contract.CodeWelcome:
		return c.greeted(m.Payload, want)
	case m.Code == want:
		return true, nil
	case want == contract.CodeWelcome:
		return false, nil
	}
	switch m.Code {
	case contract.CodeOutput:
		return false, c.output(m.Payload, f, r)
	case contract.CodeReport:
		return false, c.report(m.Payload, f, r)
	case contract.CodeLog:
		return false, c.log(m.Payload, f, r)
	}
	return false, nil
}

// greeted looks at a WELCOME: the wanted one, one of a board that has just started (nonce 0), a late
// twin of ours, or one that somebody else asked for.
func (c *Client) greeted(p []byte, want contract.Code) (done bool, err error) {
	var w contract.Welcome
	if err := w.Decode(p); err != nil {
		return false, err
	}
	mine := w.Nonce == c.nonce()
	switch {
	case want == contract.CodeWelcome && !mine && w.Nonce != 0:
		return false, fmt.Errorf("WELCOME: %w: nonce %08x came back, %08x was sent", ErrNonce, w.Nonce, c.nonce())
	case want == contract.CodeWelcome:
		return mine, nil
	case w.Boots != c.welcome.Boots:
		c.welcome.Boots = w.Boots
		return false, errRestarted
	}
	return false, nil
}

func (c *Client) report(p []byte, f *sim.Frame, r *harness.Reply) error {
	var m contract.Report
	if err := m.Decode(p); err != nil {
		return err
	}
	c.reported(&m, f, r)
	return nil
}

func (c *Client) reported(m *contract.Report, f *sim.Frame, r *harness.Reply) {
	c.health.Reports++
	r.Reports = append(r.Reports, harness.Report{Bay: f.Bay, At: contract.FromMicros(m.Time) - c.skew, Phase: m.Phase,
		Height: contract.FromMilli(m.Height), Speed: contract.FromMilli(m.Speed), Apogee: contract.FromMilli(m.Apogee)})
}

func (c *Client) log(p []byte, f *sim.Frame, r *harness.Reply) error {
	var l contract.Log
	if err := l.Decode(p); err != nil {
		return err
	}
	c.logged(&l, f, r)
	return nil
}

func (c *Client) logged(l *contract.Log, f *sim.Frame, r *harness.Reply) {
	r.Logs = append(r.Logs, harness.Log{Bay: f.Bay, At: contract.FromMicros(l.Time) - c.skew, Text: contract.Text(l.Text)})
}
