package board

import (
	"context"
	"errors"
	"fmt"
	"math"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/session"
	"drystage/sim"
)

// handshake sends HELLO until it is answered, then makes all settings. It does nothing if that has been done since
// the board's last restart.
func (c *Client) handshake(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if c.connected {
		return nil
	}
	noise := c.session.Dec.Counts
	if err := c.hello(ctx); err != nil {
		return c.explainSilence(err)
	}
	c.session.Dec.Counts = noise // before WELCOME a booting board may send anything
	c.lostAtStart = noise.Lost
	if err := c.checkWelcome(); err != nil {
		return err
	}
	c.last = c.now
	c.newStart()
	for _, s := range c.settings {
		if err := c.makeSetting(ctx, s, f, r); err != nil {
			return err
		}
	}
	return nil
}

// explainSilence adds to the error of a board that does not answer after its supply was cut.
func (c *Client) explainSilence(err error) error {
	if c.opt.SupplySwitched && c.restarting && (errors.Is(err, ErrSilent) || errors.Is(err, ErrGarbage)) {
		return fmt.Errorf("its supply was cut and given back, and it has not come back within %s beyond its time to boot (%s); give it a longer `boot` in its board's file, or look at the supply: %w",
			c.opt.Timeout, c.opt.Boot, err)
	}
	return err
}

// newStart notes that the board has started.
func (c *Client) newStart() {
	c.badBefore, c.lostBefore = c.health.BoardBad, c.health.BoardLost
	c.connected, c.restarting = true, false
	c.health.Boots++
	c.health.Name = contract.Text(c.session.Welcome.Name[:])
}

// hello sends HELLO until WELCOME comes with its nonce.
func (c *Client) hello(ctx context.Context) error {
	c.hellos++
	m := c.greeting()
	w, _, err := c.session.Connect(ctx, &m, c.opt.Timeout)
	if err != nil {
		return err
	}
	return c.takeWelcome(&w)
}

func (c *Client) greeting() contract.Hello {
	s := &c.bay.Sensors
	m := session.Hello(c.role, c.mode, contract.Rates{IMU: max(s.Accel.Rate, s.Gyro.Rate), Baro: s.Baro.Rate, GNSS: s.GNSS.Rate, Battery: s.Battery.Rate})
	m.Nonce, m.Time = c.nonce(), c.now
	return m
}

// takeWelcome evaluates a WELCOME and its count of starts.
func (c *Client) takeWelcome(w *contract.Welcome) error {
	if c.health.Boots > 0 {
		risen := w.Boots - c.session.Welcome.Boots
		switch {
		case c.restarting && risen == 0 && c.opt.SupplySwitched:
			return fmt.Errorf("%w: its count of starts is still %d after its supply was cut; does the drive switch this board's supply, does anything else feed it, and does its count survive?", ErrRestarts, w.Boots)
		case c.restarting && risen == 0:
			return fmt.Errorf("%w: its count of starts is still %d after RESTART", ErrRestarts, w.Boots)
		case c.restarting && risen < math.MaxInt16:
			c.health.Unasked += int(risen) - 1
		case !c.restarting && risen < math.MaxInt16:
			c.health.Unasked += int(risen)
		}
	}
	c.session.Welcome = *w
	return nil
}

// checkWelcome checks that the board can do what this run needs.
func (c *Client) checkWelcome() error {
	w := &c.session.Welcome
	switch {
	case w.Version != contract.Version:
		return fmt.Errorf("%w: %d, wanted %d; flash a firmware of this version", ErrVersion, w.Version, contract.Version)
	case c.mode == contract.Lockstep && w.Capabilities&contract.CanLockstep == 0:
		return fmt.Errorf("%w: its clock can't be driven (lockstep); fly it in real time", ErrUnable)
	case c.mode == contract.RealTime && w.Capabilities&contract.CanRealTime == 0:
		return fmt.Errorf("%w: it has no clock of its own (real time); fly it in lockstep", ErrUnable)
	case w.Channels > contract.MaxChannels:
		return fmt.Errorf("%w: it claims %d outputs, at most %d can be told apart", ErrChannel, w.Channels, contract.MaxChannels)
	case len(c.settings) > 0 && w.Capabilities&contract.CanSettings == 0:
		return fmt.Errorf("%w: the scenario has settings for it, and it takes none", ErrUnable)
	}
	for _, wire := range c.bay.Wires {
		if wire.Channel > int(w.Channels) {
			return fmt.Errorf("%w: %s is wired to output %d, and it has %d", ErrUnable, wire.Name, wire.Channel, w.Channels)
		}
	}
	return nil
}

// makeSetting sends one setting and checks the answer.
func (c *Client) makeSetting(ctx context.Context, s harness.Setting, f *sim.Frame, r *harness.Reply) error {
	if err := c.sendSetting(s); err != nil {
		return err
	}
	p, err := c.await(ctx, contract.CodeAccept, c.opt.Timeout, r, f)
	if err != nil {
		if errors.Is(err, session.ErrRestarted) {
			return err
		}
		return fmt.Errorf("SETTING %s: %w", s.Name, err)
	}
	return checkAccept(s, p)
}

// sendSetting sends one setting.
func (c *Client) sendSetting(s harness.Setting) error {
	m := contract.Setting{Value: contract.Milli(s.Value)}
	if len(s.Name) > len(m.Name) || !(math.Abs(s.Value*1e3) <= math.MaxInt32) {
		return fmt.Errorf("%w: %s = %g does not fit the contract: names up to %d bytes, values up to %d",
			ErrSetting, s.Name, s.Value, len(m.Name), math.MaxInt32/1000)
	}
	contract.PutText(m.Name[:], s.Name)
	return c.session.Send(c.session.Enc.Setting(c.session.LastSent[:0], &m))
}

// checkAccept compares ACCEPT with the setting that was sent.
func checkAccept(s harness.Setting, p []byte) error {
	var a contract.Accept
	if err := a.Decode(p); err != nil {
		return err
	}
	switch value := contract.Milli(s.Value); {
	case contract.Text(a.Name[:]) != s.Name:
		return fmt.Errorf("%w: %s was sent, the board answers for %q", ErrSetting, s.Name, contract.Text(a.Name[:]))
	case a.Known == 0:
		return fmt.Errorf("%w: the board does not know %s; look at the names in its documentation", ErrSetting, s.Name)
	case a.Value != value:
		return fmt.Errorf("%w: %s = %g was sent, the board made it %g", ErrSetting, s.Name, contract.FromMilli(value), contract.FromMilli(a.Value))
	}
	return nil
}
