package board

import (
	"fmt"
	"math/bits"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/sim"
)

// output takes an edge from the board. One that changes nothing is none.
func (c *Client) output(p []byte, f *sim.Frame, r *harness.Reply) error {
	var m contract.Output
	if err := m.Decode(p); err != nil {
		return err
	}
	return c.switched(&m, f, r)
}

func (c *Client) switched(m *contract.Output, f *sim.Frame, r *harness.Reply) error {
	if m.Channel == 0 || m.Channel > c.session.Welcome.Channels {
		return fmt.Errorf("%w: output %d of %d", ErrChannel, m.Channel, c.session.Welcome.Channels)
	}
	if m.Time < c.last || m.Time > c.now {
		return fmt.Errorf("%w: output %d switched at %s, while the clock went from %s to %s",
			ErrTime, m.Channel, contract.FromMicros(m.Time), contract.FromMicros(c.last), contract.FromMicros(c.now))
	}
	c.edge(int(m.Channel), m.On != 0, f, r)
	return nil
}

func (c *Client) edge(channel int, on bool, f *sim.Frame, r *harness.Reply) {
	bit := uint16(1) << (channel - 1)
	if on == (c.on&bit != 0) {
		return
	}
	c.on ^= bit
	if on {
		c.lights++
	}
	e := harness.Edge{Output: sim.Output{Bay: f.Bay, Channel: channel, On: on, At: f.Now}}
	c.mark(&e)
	r.Outputs = append(r.Outputs, e)
}

// settle takes DONE over: what the board has counted, and which outputs are on, where DONE is believed. A difference means that
// an edge went missing; if no sequence number has shown that, it is counted here.
func (c *Client) settle(d *contract.Done, f *sim.Frame, r *harness.Reply) error {
	if d.Outputs>>c.session.Welcome.Channels != 0 {
		return fmt.Errorf("%w: DONE says outputs %016b of %d are on", ErrChannel, d.Outputs, c.session.Welcome.Channels)
	}
	if differ := c.on ^ d.Outputs; differ != 0 {
		if c.session.Dec.Counts.Lost == c.lost {
			c.extra += bits.OnesCount16(differ)
		}
		for ; differ != 0; differ &= differ - 1 {
			bit := differ & -differ
			c.edge(bits.TrailingZeros16(bit)+1, d.Outputs&bit != 0, f, r)
		}
	}
	if d.Armed == 0 {
		c.health.Unarmed += c.lights
	}
	c.health.BoardBad, c.health.BoardLost = c.bad0+int(d.Bad), c.lost0+int(d.Lost)
	c.trips++
	return nil
}

// allOff switches off what a board without power, or one that has just started, can't hold on.
func (c *Client) allOff(f *sim.Frame, r *harness.Reply) {
	for c.on != 0 {
		c.edge(bits.TrailingZeros16(c.on)+1, false, f, r)
	}
}
