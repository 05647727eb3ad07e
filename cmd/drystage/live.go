package main

import (
	"errors"

	"drystage/harness"
	"drystage/harness/run"
	"drystage/harness/show/live"
)

// liveFlags show a run in a browser while it goes on.
type liveFlags struct {
	Live        bool    `help:"Show the run in a browser while it goes on, at the address that is printed; its button stops the run as Ctrl-C does. Flies one scenario at a time, and in lockstep as slowly as --live-speed says."`
	LiveSpeed   float64 `default:"1" placeholder:"N" help:"With --live in lockstep: N simulated seconds a second; 0: as fast as it goes (1)."`
	LiveAddress string  `default:"127.0.0.1:0" placeholder:"HOST:PORT" help:"With --live: serve there; any but of this computer alone wants --live-token (127.0.0.1, a free port)."`
	LiveToken   string  `placeholder:"TOKEN" help:"With --live: every request must have this, 16 characters or more; the word new: one is made up and printed."`

	hub    *live.Hub
	server *live.Server
}

// serve begins to serve the page and lets the bench tell what it does.
func (c *liveFlags) serve(d *console, opt *run.Options, scenarios int) (err error) {
	if !c.Live {
		return nil
	}
	if c.LiveSpeed < 0 || c.LiveSpeed > 1000 {
		return wrongUse("--live-speed %g: wanted 0 to 1000", c.LiveSpeed)
	}
	if c.LiveToken == "new" {
		c.LiveToken = live.NewToken()
	}
	speed := c.LiveSpeed
	if opt.RealTime {
		speed = 0 // it is paced already
	}
	c.hub = live.NewHub(scenarios, speed)
	end := d.end
	if end == nil {
		end = func() {}
	}
	if c.server, err = live.Serve(c.hub, c.LiveAddress, c.LiveToken, end); err != nil {
		if errors.Is(err, live.ErrToken) {
			return wrongUse("--live-address %s: %w; give --live-token new", c.LiveAddress, err)
		}
		return wrongUse("--live-address %s: %w", c.LiveAddress, err)
	}
	opt.Jobs, opt.Watch = 1, c.hub.Watch
	_, err = sayf(d.err, "live: %s\n", c.server.URL())
	return err
}

// verdict tells the page a verdict.
func (c *liveFlags) verdict(v *harness.Verdict) {
	if c.hub != nil {
		c.hub.Verdict(v)
	}
}

// close ends the service.
func (c *liveFlags) close() {
	if c.server != nil {
		c.server.Close()
	}
}
