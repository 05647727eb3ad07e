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
	// SupplySwitched says that a rig switches the board's supply. The board never gets RESTART then.
	SupplySwitched bool
	// Boot is how long, beyond Timeout, a board may take to answer HELLO in real time after its supply was switched
	// on. In lockstep the rig waits for it.
	Boot time.Duration
	// Limit is how long an answer may take without making the run unsure; 0: as in the board's plan.
	Limit time.Duration
	// HostLatency gives the greatest delay of this computer since a time; nil: always 0. It is called for late
	// answers only.
	HostLatency func(since time.Time) time.Duration
}

// DefaultTimeout is how long a board may take for an answer.
const DefaultTimeout = session.DefaultTimeout

const maxRestarts = 3 // of the board by itself, in one exchange

// Client is a Board at the other end of a link. It is for one goroutine.
type Client struct {
	link        link.Link
	session     *session.Session
	role        string
	bay         *sim.Bay
	settings    []harness.Setting
	opt         Options
	mode        uint8 // of the contract
	setEdgeTime func(*harness.Edge)

	line   faultyLine
	direct direct

	connected   bool // HELLO has been answered since the last restart
	restarting  bool // RESTART was sent, or the supply cut, since the last HELLO
	hellos      uint32
	last        uint32   // us; time of the last TICK or HELLO
	now         uint32   // us; time of this exchange
	skew        sim.Time // the board's clock minus the run's time
	on          uint16   // outputs that are on, as far as known
	switchedOn  int      // outputs switched on in this exchange
	lostAtStart int      // missing frames when the exchange began

	permission     armPermission
	health         harness.Health
	reportedHealth harness.Health // as last added to a reply
	unnumberedLost int            // missing frames not shown by sequence numbers
	badBefore      int            // counted by the board before its restarts
	lostBefore     int
	exchanges      int
	failed         error
	saidBye        bool // BYE was sent
	isClosed       bool
}

var _ Board = (*Client)(nil)

// NewClient makes a client of a board in a bay. The first powered frame starts the handshake.
func NewClient(l link.Link, b harness.Board, bay *sim.Bay, opt Options) *Client {
	if opt.Timeout <= 0 {
		opt.Timeout = DefaultTimeout
	}
	within := EdgeUncertainty(&bay.Sensors)
	c := &Client{link: l, session: session.New(l), direct: directOf(l), role: b.Role, bay: bay, settings: b.Settings, opt: opt, mode: contract.Lockstep,
		setEdgeTime: func(e *harness.Edge) { e.Within = within }}
	c.session.Sending = c.sending
	c.setAnswerLimit(b.Answer)
	return c
}

// EdgeUncertainty is the expanded uncertainty (k = 2) of the time of an edge in lockstep. The board could have
// switched at any moment of the period T of its fastest sensor, with equal likelihood. So the standard uncertainty is
// T/sqrt(12): a rectangular distribution of width T, JCGM 100:2008 (GUM) 4.3.7 with a half-width of T/2. It is
// doubled for the guard bands of JCGM 106:2012, 8.3.2. A bay without sensors has no period; one second is assumed
// then, a careful value without a source.
func EdgeUncertainty(s *sim.Sensors) sim.Time {
	rate := s.Fastest()
	if !(rate > 0) {
		rate = 1
	}
	return sim.Seconds(2 / (rate * math.Sqrt(12)))
}

// Exchange sends a frame's samples and waits until the board has processed them. Frames that are not due send
// nothing. While the supply is off in the frame, nothing is sent. An edge has the frame's time: from then on it acts
// on the flight.
func (c *Client) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if c.failed != nil || c.isClosed {
		return c.usable()
	}
	met := f.Powered && c.connected
	if met && !f.Due {
		return nil
	}
	c.now, c.skew, c.switchedOn, c.lostAtStart = contract.Micros(f.Now+f.Skew), f.Skew, 0, c.session.Dec.Counts.Lost
	if met && c.directPossible(f) && c.exchangeDirect(ctx, f) && c.repeats() {
		c.takeRepeated(f, r)
		return nil
	}
	err := c.exchange(ctx, f, r)
	c.reportHealth(f, r)
	if err != nil {
		c.failed = fmt.Errorf("board: exchange %d: %w", c.exchanges+1, err)
	}
	return c.failed
}

// usable gives the error that has ended the session, if any.
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
		c.connected = false
		c.health.Unasked++
		c.allOff(f, r)
	}
	return fmt.Errorf("%w (%d times within one exchange); look at its supply and its log", ErrRestarts, maxRestarts)
}

// supplyOff tells the board, once, that its supply has failed.
func (c *Client) supplyOff(f *sim.Frame, r *harness.Reply) error {
	if !c.connected {
		return nil
	}
	if c.opt.SupplySwitched { // the rig switches it off after this exchange; unread answers are dropped
		c.connected, c.restarting = false, true
		c.session.Unread()
		c.allOff(f, r)
		return nil
	}
	if c.session.Welcome.Capabilities&contract.CanRestart == 0 {
		return fmt.Errorf("%w: its power is cut here, and it can't RESTART on request; give it a rig that switches its supply", ErrUnable)
	}
	c.connected, c.restarting = false, true
	c.allOff(f, r)
	return c.session.Send(c.session.Enc.Restart(c.session.LastSent[:0], &contract.Restart{Nonce: c.nonce()}))
}

// checkAble says whether the board can do what a frame demands.
func (c *Client) checkAble(f *sim.Frame) error {
	if f.Commands != 0 && c.session.Welcome.Capabilities&contract.CanCommands == 0 {
		return fmt.Errorf("%w: an operator's command is due, and it takes none", ErrUnable)
	}
	return nil
}

// tick sends the samples of one instant and TICK in one write, and waits for DONE.
func (c *Client) tick(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if err := c.checkAble(f); err != nil {
		return err
	}
	if c.direct.taken || c.directPossible(f) && c.exchangeDirect(ctx, f) {
		return c.takeAnswers(f, r)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	c.line.startShadow(&f.Line, c.session.LastSent, c.direct.skipped)
	out := c.session.Enc.Tick(c.commands(c.samples(c.session.LastSent[:0], f), f), &contract.Tick{Time: c.now})
	var asked time.Time
	var waited time.Duration
	if !c.session.Instant {
		runtime.LockOSThread() // cpuWait includes this thread
		defer runtime.UnlockOSThread()
		waited, asked = c.cpuWait(false), time.Now()
	}
	if err := c.session.Send(out); err != nil {
		return err
	}
	p, err := c.await(ctx, contract.CodeDone, c.opt.Timeout, r, f)
	if err != nil {
		return err
	}
	if !c.session.Instant {
		c.recordAnswer(f.Now, time.Since(asked), asked, waited)
	}
	var d contract.Done
	if err := d.Decode(p); err != nil {
		return err
	}
	return c.done(&d, f, r)
}

// done evaluates DONE.
func (c *Client) done(d *contract.Done, f *sim.Frame, r *harness.Reply) error {
	if d.Time != c.now {
		return fmt.Errorf("%w: DONE of %s answers TICK of %s", ErrTime, contract.FromMicros(d.Time), contract.FromMicros(c.now))
	}
	if err := c.applyDone(d, f, r); err != nil {
		return err
	}
	c.checkArmed(d.Armed != 0, c.permission.valid, f.Now)
	c.last = c.now
	return nil
}

// samples appends the frames of all new samples, with times of the board's clock, as the line delivers them.
func (c *Client) samples(out []byte, f *sim.Frame) []byte {
	if c.skew != 0 {
		board := *f
		board.Now += c.skew
		f = &board
	}
	if !c.line.active(f) {
		return c.allSamples(out, f)
	}
	if f.Line.Stall {
		c.line.keep(f)
		return out
	}
	from := len(out)
	for i := range c.line.held {
		out = c.allSamples(out, &c.line.held[i])
	}
	c.line.held = c.line.held[:0]
	return c.line.corrupt(c.allSamples(out, f), from, &f.Line)
}

// allSamples appends a frame's samples, and repeats those that a fault sends twice.
func (c *Client) allSamples(out []byte, f *sim.Frame) []byte {
	out = c.freshSamples(out, f)
	if f.Twice != 0 {
		again := *f
		again.Has &= f.Twice
		out = c.freshSamples(out, &again)
	}
	return out
}

// commands appends the operator's commands.
func (c *Client) commands(out []byte, f *sim.Frame) []byte {
	c.permission.sendCommands(f.Commands)
	for i, word := range [...]uint8{contract.Arm, contract.Disarm, contract.Stage} {
		if f.Commands>>i&1 != 0 {
			out = c.session.Enc.Command(out, &contract.Command{Time: c.now, Command: word})
		}
	}
	return out
}

// freshSamples appends a frame's new samples.
func (c *Client) freshSamples(out []byte, f *sim.Frame) []byte {
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
	if f.Has&sim.HasCircuits != 0 && c.takes(contract.CanCircuits) {
		m := contract.CircuitsOf(f)
		out = c.session.Enc.Circuits(out, &m)
	}
	if f.Has&sim.HasMag != 0 && c.takes(contract.CanMag) {
		m := contract.MagOf(f)
		out = c.session.Enc.Mag(out, &m)
	}
	return out
}

// takes says that the board has asked for samples that only some boards take.
func (c *Client) takes(capability uint16) bool { return c.session.Welcome.Capabilities&capability != 0 }

// sending shows all that is sent to the faulty line's shadow decoder.
func (c *Client) sending(out []byte) error {
	c.line.observe(out)
	c.direct.skipped = 0
	return nil
}

// nonce is different for each HELLO, and the same in each run.
func (c *Client) nonce() uint32 {
	return crc32.ChecksumIEEE([]byte(c.role)) ^ c.opt.Nonce + c.hellos*0x9E3779B9
}

// reportHealth adds the board's health to the reply if it has changed.
func (c *Client) reportHealth(f *sim.Frame, r *harness.Reply) {
	if h := c.Health(); c.reportedHealth.Changed(h) {
		r.Changes = append(r.Changes, harness.HealthChange{At: f.Now, Bay: f.Bay, Health: h})
		c.reportedHealth = h
	}
}

// Health gives what is known so far.
func (c *Client) Health() harness.Health {
	h := c.health
	h.Bad, h.Lost, h.RoundTrips = c.session.Dec.Counts.Bad()+c.session.UnreadFrames(), c.session.Dec.Counts.Lost+c.unnumberedLost, c.exchanges
	if c.line.shadow != nil {
		h.SpoiltBad, h.SpoiltLost = c.line.shadow.Counts.Bad(), c.line.shadow.Counts.Lost
	}
	return h
}

// Close sends BYE, if Finish has not, and closes the link.
func (c *Client) Close() error {
	if c.isClosed {
		return nil
	}
	c.isClosed = true
	c.sayBye()
	return c.link.Close()
}
