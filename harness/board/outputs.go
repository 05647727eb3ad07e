package board

import (
	"fmt"
	"math/bits"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/sim"
)

// output adds an edge to the reply, unless it changes nothing.
func (c *Client) output(p []byte, f *sim.Frame, r *harness.Reply) error {
	var m contract.Output
	if err := m.Decode(p); err != nil {
		return err
	}
	return c.takeOutput(&m, f, r)
}

func (c *Client) takeOutput(m *contract.Output, f *sim.Frame, r *harness.Reply) error {
	if m.Channel == 0 || m.Channel > c.session.Welcome.Channels {
		return fmt.Errorf("%w: output %d of %d", ErrChannel, m.Channel, c.session.Welcome.Channels)
	}
	if m.Time < c.last || m.Time > c.now {
		return fmt.Errorf("%w: output %d switched at %s, while the clock went from %s to %s",
			ErrTime, m.Channel, contract.FromMicros(m.Time), contract.FromMicros(c.last), contract.FromMicros(c.now))
	}
	c.addEdge(int(m.Channel), m.On != 0, f, r)
	return nil
}

func (c *Client) addEdge(channel int, on bool, f *sim.Frame, r *harness.Reply) {
	bit := uint16(1) << (channel - 1)
	if on == (c.on&bit != 0) {
		return
	}
	c.on ^= bit
	if on {
		c.switchedOn++
	}
	e := harness.Edge{Output: sim.Output{Bay: f.Bay, Channel: channel, On: on, At: f.Now}}
	c.setEdgeTime(&e)
	r.Outputs = append(r.Outputs, e)
}

// applyDone evaluates DONE: the board's counts, and its outputs. If they differ from the OUTPUTs, DONE is right and
// an edge was lost; the loss is counted here unless a sequence number has shown it.
func (c *Client) applyDone(d *contract.Done, f *sim.Frame, r *harness.Reply) error {
	if d.Outputs>>c.session.Welcome.Channels != 0 {
		return fmt.Errorf("%w: DONE says outputs %016b of %d are on", ErrChannel, d.Outputs, c.session.Welcome.Channels)
	}
	if differ := c.on ^ d.Outputs; differ != 0 {
		if c.session.Dec.Counts.Lost == c.lostAtStart {
			c.unnumberedLost += bits.OnesCount16(differ)
		}
		for ; differ != 0; differ &= differ - 1 {
			bit := differ & -differ
			c.addEdge(bits.TrailingZeros16(bit)+1, d.Outputs&bit != 0, f, r)
		}
	}
	if d.Armed == 0 {
		c.health.Unarmed += c.switchedOn
	}
	c.health.BoardBad, c.health.BoardLost = c.badBefore+int(d.Bad), c.lostBefore+int(d.Lost)
	c.exchanges++
	return nil
}

// allOff switches all outputs off, for a board without power or one that has just started.
func (c *Client) allOff(f *sim.Frame, r *harness.Reply) {
	for c.on != 0 {
		c.addEdge(bits.TrailingZeros16(c.on)+1, false, f, r)
	}
}
