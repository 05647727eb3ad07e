package board

import (
	"context"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"runtime"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/session"
	"drystage/sim"
)

// Options of a Client; the zero value is good.
type Options struct {
	Timeout time.Duration // for each answer; 0: DefaultTimeout
	Nonce   uint32        // mixed into each HELLO's nonce; the same number gives the same bytes
	// SupplySwitched says that a rig really switches the board's supply: it is never asked to RESTART.
	SupplySwitched bool
	// Boot is how long, beyond Timeout, a board may take until it hears HELLO after its supply was given
	// back, in real time; a rig waits for it in lockstep.
	Boot time.Duration
	// Limit is how long an answer may take without doubt; 0: what the board's plan says.
	Limit time.Duration
	// HostLatency tells how late this computer has been with what it had to do since a time; nil: never. It is asked
	// about answers beyond the limit only.
	HostLatency func(since time.Time) time.Duration
}

// DefaultTimeout is how long a board may take for an answer.
const DefaultTimeout = session.DefaultTimeout

const maxRestarts = 3 // by the board itself, in one exchange

// Client is a Board at the other end of a link. It is for one goroutine.
type Client struct {
	link    link.Link
	session *session.Session
	role    string
	bay     *sim.Bay
	sets    []harness.Setting
	opt     Options
	mode    uint8 // of the contract
	mark    func(*harness.Edge)

	wire   wire
	direct direct

	shaken bool // HELLO was answered since the last restart
	asked  bool // RESTART has been sent, or the supply cut, since the last HELLO
	hellos uint32
	last   uint32   // us: the time of the last TICK or HELLO
	now    uint32   // us: of the exchange that is on
	skew   sim.Time // what the board's clock is ahead
	on     uint16   // outputs as far as known
	lights int      // outputs switched on in this exchange
	lost   int      // decoder's count of missing frames when the exchange began

	consent  consent
	health   harness.Health
	told     harness.Health // in the last reply that told it
	extra    int            // missing frames that no sequence number showed
	bad0     int            // what the board counted before its last restarts
	lost0    int
	trips    int
	failed   error
	left     bool // BYE was said
	isClosed bool
}

var _ Board = (*Client)(nil)

// NewClient makes a client of a board in a bay. The first powered frame shakes hands.
func NewClient(l link.Link, b harness.Board, bay *sim.Bay, opt Options) *Client {
	if opt.Timeout <= 0 {
		opt.Timeout = DefaultTimeout
	}
	within := EdgeUncertainty(&bay.Sensors)
	c := &Client{link: l, session: session.New(l), direct: directOf(l), role: b.Role, bay: bay, sets: b.Settings, opt: opt, mode: contract.Lockstep,
		mark: func(e *harness.Edge) { e.Within = within }}
	c.session.Sending = c.sending
	c.limit(b.Answer)
	return c
}

// EdgeUncertainty is the expanded uncertainty (k = 2) of the time of an edge in lockstep. The board could
// have switched at any moment of the period T of its fastest sensor, all equally likely, so the
// standard uncertainty is T/sqrt(12): a rectangular distribution of width T, JCGM 100:2008 (GUM)
// 4.3.7 with a half-width of T/2. It is doubled for the guard bands of JCGM 106:2012, 8.3.2. A bay
// without sensors has no period; a second is taken then, which is common practice nowhere but careful.
func EdgeUncertainty(s *sim.Sensors) sim.Time {
	rate := s.Fastest()
	if !(rate > 0) {
		rate = 1
	}
	return sim.Seconds(2 / (rate * math.Sqrt(12)))
}

// Exchange sends a frame's samples and waits for the board to be done with them. Frames that are
// not due send nothing. While the frame says that the supply is off, the board was told to restart
// and hears nothing. An edge's time is the frame's: from then on the flight feels it.
func (c *Client) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if c.usable() != nil {
		return c.failed
	}
	if f.Powered && c.shaken && !f.Due {
		return nil
	}
	c.now, c.skew, c.lights, c.lost = contract.Micros(f.Now+f.Skew), f.Skew, 0, c.session.Dec.Counts.Lost
	met := c.shaken
	c.direct.routine = false
	err := c.exchange(ctx, f, r)
	if !met || !c.direct.routine {
		c.tell(f, r)
	}
	if err != nil {
		c.failed = fmt.Errorf("board: exchange %d: %w", c.trips+1, err)
	}
	return c.failed
}

// usable gives the error that ended the session, if one did.
func (c *Client) usable() error {
	if c.failed == nil && c.isClosed {
		c.failed = fmt.Errorf("board: %w; open it anew", ErrClosed)
	}
	return c.failed
}

func (c *Client) exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if !f.Powered {
		return c.supplyOff(f, r)
	}
	for range maxRestarts {
		err := c.handshake(ctx, f, r)
		if err == nil && f.Due {
			err = c.tick(ctx, f, r)
		}
		if !errors.Is(err, session.ErrRestarted) {
			return err
		}
		c.shaken = false
		c.health.Unasked++
		c.allOff(f, r)
	}
	return fmt.Errorf("%w (%d times within one exchange); look at its supply and its log", ErrRestarts, maxRestarts)
}

// supplyOff tells the board, once, that its supply has failed.
func (c *Client) supplyOff(f *sim.Frame, r *harness.Reply) error {
	if !c.shaken {
		return nil
	}
	if c.opt.SupplySwitched { // it loses its supply behind this exchange, and what it may still have said with it
		c.shaken, c.asked = false, true
		c.session.Take()
		c.allOff(f, r)
		return nil
	}
	if c.session.Welcome.Capabilities&contract.CanRestart == 0 {
		return fmt.Errorf("%w: its power is cut here, and it can't RESTART on request; give it a rig that switches its supply", ErrUnable)
	}
	c.shaken, c.asked = false, true
	c.allOff(f, r)
	return c.session.Send(c.session.Enc.Restart(c.session.Out[:0], &contract.Restart{Nonce: c.nonce()}))
}

// takes says whether the board can take what a frame holds.
func (c *Client) takes(f *sim.Frame) error {
	if f.Commands != 0 && c.session.Welcome.Capabilities&contract.CanCommands == 0 {
		return fmt.Errorf("%w: an operator's command is due, and it takes none", ErrUnable)
	}
	return nil
}

// tick sends the samples of one instant and TICK in one write, and waits for DONE.
func (c *Client) tick(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if err := c.takes(f); err != nil {
		return err
	}
	if c.plain(f) {
		if taken, err := c.straight(ctx, f, r); taken || err != nil {
			return err
		}
	}
	c.wire.wake(&f.Line, c.session.Out, c.direct.skipped)
	out := c.session.Enc.Tick(c.commands(c.samples(c.session.Out[:0], f), f), &contract.Tick{Time: c.now})
	var asked time.Time
	var waited time.Duration
	if !c.session.Instant {
		runtime.LockOSThread() // whose own waiting is told too
		defer runtime.UnlockOSThread()
		waited, asked = c.waited(false), time.Now()
	}
	if err := c.session.Send(out); err != nil {
		return err
	}
	p, err := c.await(ctx, contract.CodeDone, c.opt.Timeout, r, f)
	if err != nil {
		return err
	}
	if !c.session.Instant {
		c.answered(f.Now, time.Since(asked), asked, waited)
	}
	var d contract.Done
	if err := d.Decode(p); err != nil {
		return err
	}
	return c.done(&d, f, r)
}

// done takes DONE over.
func (c *Client) done(d *contract.Done, f *sim.Frame, r *harness.Reply) error {
	if d.Time != c.now {
		return fmt.Errorf("%w: DONE of %s answers TICK of %s", ErrTime, contract.FromMicros(d.Time), contract.FromMicros(c.now))
	}
	if err := c.settle(d, f, r); err != nil {
		return err
	}
	c.arming(d.Armed != 0, c.consent.holds, f.Now)
	c.last = c.now
	return nil
}

// samples appends the frames of all that is fresh at one instant, with the times of the board's clock.
func (c *Client) samples(out []byte, f *sim.Frame) []byte {
	if c.skew != 0 {
		board := *f
		board.Now += c.skew
		f = &board
	}
	if !c.wire.holds(f) {
		return c.twice(out, f)
	}
	if f.Line.Stall {
		c.wire.hold(f)
		return out
	}
	from := len(out)
	for i := range c.wire.held {
		out = c.twice(out, &c.wire.held[i])
	}
	c.wire.held = c.wire.held[:0]
	return c.wire.spoil(c.twice(out, f), from, &f.Line)
}

// twice appends a frame's samples, and those that are sent twice again.
func (c *Client) twice(out []byte, f *sim.Frame) []byte {
	out = c.fresh(out, f)
	if f.Twice != 0 {
		again := *f
		again.Has &= f.Twice
		out = c.fresh(out, &again)
	}
	return out
}

// commands appends the operator's commands.
func (c *Client) commands(out []byte, f *sim.Frame) []byte {
	c.consent.told(f.Commands)
	for i, word := range [...]uint8{contract.Arm, contract.Disarm, contract.Stage} {
		if f.Commands>>i&1 != 0 {
			out = c.session.Enc.Command(out, &contract.Command{Time: c.now, Command: word})
		}
	}
	return out
}

// fresh appends a frame's samples.
func (c *Client) fresh(out []byte, f *sim.Frame) []byte {
	if f.Has&(sim.HasAccel|sim.HasGyro) != 0 {
		m := contract.IMUOf(f)
		out = c.session.Enc.IMU(out, &m)
	}
	if f.Has&sim.HasBaro != 0 {
		m := contract.BaroOf(f)
		out = c.session.Enc.Baro(out, &m)
	}
	if f.Has&sim.HasGNSS != 0 {
		m := contract.GNSSOf(f)
		out = c.session.Enc.GNSS(out, &m)
	}
	if f.Has&sim.HasBattery != 0 {
		m := contract.BatteryOf(f)
		out = c.session.Enc.Battery(out, &m)
	}
	return out
}

// sending shows the line all that goes out.
func (c *Client) sending(out []byte) error {
	c.wire.see(out)
	c.direct.skipped = 0
	return nil
}

// nonce is another one for each HELLO, the same in each run.
func (c *Client) nonce() uint32 {
	return crc32.ChecksumIEEE([]byte(c.role)) ^ c.opt.Nonce + c.hellos*0x9E3779B9
}

// tell puts the board's health into the reply if it has changed.
func (c *Client) tell(f *sim.Frame, r *harness.Reply) {
	if h := c.Health(); c.told.Changed(h) {
		r.Changes = append(r.Changes, harness.HealthChange{At: f.Now, Bay: f.Bay, Health: h})
		c.told = h
	}
}

// Health gives what is known so far.
func (c *Client) Health() harness.Health {
	h := c.health
	h.Bad, h.Lost, h.RoundTrips = c.session.Dec.Counts.Bad()+c.session.Stray(), c.session.Dec.Counts.Lost+c.extra, c.trips
	if c.wire.shadow != nil {
		h.SpoiltBad, h.SpoiltLost = c.wire.shadow.Counts.Bad(), c.wire.shadow.Counts.Lost
	}
	return h
}

// Close says BYE, if Finish has not, as far as the link still takes it, and closes the link.
func (c *Client) Close() error {
	if c.isClosed {
		return nil
	}
	c.isClosed = true
	c.bye()
	return c.link.Close()
}
