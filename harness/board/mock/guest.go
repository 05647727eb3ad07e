package mock

import (
	"math"

	"drystage/harness/board/contract"
)

// Guest is the board as its line sees it: bytes in, bytes out. It is a link.Device.
//
// HELLO begins a new run when the board starts for the first time, after BYE, or when its time lies
// before the last one that the board has seen (the host began again). Otherwise the board goes on
// with the run from its non-volatile memory, as after a supply failure: outputs that have fired stay
// fired, recovery goes on from the barometer, and staging is over since the tilt is unknown.
type Guest struct {
	defect    defect
	dec       *contract.Decoder
	rash      rash // instead of dec, of the board of no-checksum
	say       voice
	mem       memory // survives RESTART
	ram       computer
	boots     uint16
	listening bool // HELLO has come since power-up
	realTime  bool
	hushed    bool         // the line has been silent for too long
	clock     func() int64 // us since any start; nil: in real time, too, the board goes by what it is told
	base      int64        // of clock, at time 0 of the run
	test      test
}

// New gives a board that has just been switched on, with a defect by name; the empty name is the
// honest board.
func New(defect string) (*Guest, error) {
	d, err := find(defect)
	if err != nil {
		return nil, err
	}
	g := &Guest{defect: d}
	g.powerUp()
	return g, nil
}

// powerUp forgets everything but the non-volatile memory.
func (g *Guest) powerUp() {
	g.boots++
	g.dec = contract.NewDecoder(contract.FromHost)
	g.say.enc = contract.Encoder{}
	g.ram = computer{}
	g.listening, g.realTime, g.say.own = false, false, nil
	g.test = test{}
}

// SetClock gives the board a clock of its own, in us since any start, for runs in real time.
func (g *Guest) SetClock(us func() int64) { g.clock = us }

// own is what the board's own clock reads, in us of the run.
func (g *Guest) own() int64 { return g.clock() - g.base }

// lag is how far behind its own clock the board decides when no sample comes: the next may be
// under way.
const lag = 10_000 // us

// Pass lets time pass without a byte, in real time. It appends what the board says to out.
func (g *Guest) Pass(out []byte) []byte {
	if !g.listening || !g.realTime || g.hushed || g.clock == nil || !g.test.on && g.own()-lag <= g.ram.now {
		return out
	}
	g.say.out = out
	if !g.endTest() {
		g.ram.advance(g.own() - lag)
	}
	out, g.say.out = g.say.out, nil
	return out
}

// Silence is for a line on which nothing has come for too long: all outputs go off, and nothing more is
// done until something comes.
func (g *Guest) Silence(out []byte) []byte {
	g.hushed = true
	if !g.listening {
		return out
	}
	g.say.out = out
	g.ram.dark()
	out, g.say.out = g.say.out, nil
	return out
}

// Feed takes bytes from the host and appends the answer to out. Bytes of a frame that isn't whole
// yet wait for the next call.
func (g *Guest) Feed(in, out []byte) []byte {
	g.say.out, g.hushed = out, false
	var f contract.Frame
	for ok := true; ok; {
		if g.defect == noChecksum {
			f, in, ok = g.rash.next(in)
		} else {
			f, in, ok = g.dec.Next(in)
		}
		if ok {
			g.frame(&f)
		}
	}
	out, g.say.out = g.say.out, nil
	return out
}

func (g *Guest) frame(f *contract.Frame) {
	switch f.Code {
	case contract.CodeHello:
		g.hello(f.Payload)
		return
	case contract.CodeRestart:
		g.powerUp()
		if g.defect == forgets {
			g.mem = memory{valid: true, clock: g.mem.clock}
		}
		return
	}
	if !g.listening {
		return
	}
	c := &g.ram
	if f.Code >= contract.CodeIMU && f.Code <= contract.CodeCommand {
		g.touch()
	}
	switch f.Code {
	case contract.CodeTest:
		g.pulse(f.Payload)
	case contract.CodeSetting:
		g.setting(f.Payload)
	case contract.CodeIMU:
		var m contract.IMU
		if m.Decode(f.Payload) == nil && g.timely(m.Time) {
			c.imu(&m)
		}
	case contract.CodeBaro:
		var m contract.Baro
		if m.Decode(f.Payload) == nil && g.timely(m.Time) {
			c.pressure(&m)
		}
	case contract.CodeGNSS:
		var m contract.GNSS
		if m.Decode(f.Payload) == nil && g.timely(m.Time) {
			c.fix(&m)
		}
	case contract.CodeBattery:
		var m contract.Battery
		if m.Decode(f.Payload) == nil {
			g.timely(m.Time)
		}
	case contract.CodeCommand:
		g.command(f.Payload)
	case contract.CodeTick:
		g.tick(f.Payload)
	case contract.CodeSync:
		g.sync(f.Payload)
	case contract.CodeBye:
		c.mem.armed = false
		c.dark()
		g.mem = memory{}
		g.listening = false
	}
}

// timely says that a sample is not older than the board's clock. In real time the samples drive
// that clock: what came before is decided first.
func (g *Guest) timely(t uint32) bool {
	c := &g.ram
	if int64(t) < c.now {
		return false
	}
	if g.realTime && int64(t) > c.now {
		c.advance(int64(t))
	}
	return true
}

func (g *Guest) hello(p []byte) {
	var m contract.Hello
	if m.Decode(p) != nil {
		return
	}
	if g.listening {
		g.ram.dark()
	}
	g.test.nonce, g.test.on = m.Nonce, false
	if m.Version != contract.Version { // answered, so that the host can say so, but no run begins
		g.listening = false
		g.welcome(m.Nonce)
		return
	}
	g.say.own = nil
	if g.realTime = m.Mode == contract.RealTime; g.realTime && g.clock != nil {
		g.base = g.clock() - int64(m.Time)
		g.say.own = g.own
	}
	if !g.mem.valid || int64(m.Time) < g.mem.clock {
		g.mem = memory{}
	}
	g.welcome(m.Nonce)
	g.ram = computer{mem: &g.mem, say: &g.say, defect: g.defect}
	g.ram.start(&m)
	g.mem.valid = true
	g.listening = true
}

func (g *Guest) welcome(nonce uint32) {
	w := contract.Welcome{Version: contract.Version, Channels: contract.MaxChannels, Nonce: nonce, Boots: g.boots, Name: g.name(),
		Capabilities: contract.CanLockstep | contract.CanRealTime | contract.CanRestart | contract.CanSettings | contract.CanCommands | contract.CanTest}
	g.say.out = g.say.enc.Welcome(g.say.out, &w)
}

func (g *Guest) name() [16]byte {
	if g.defect == honest {
		return word("drystage mock")
	}
	return word("mock:" + defects[g.defect].Name)
}

func (g *Guest) setting(p []byte) {
	var m contract.Setting
	if m.Decode(p) != nil {
		return
	}
	a := contract.Accept{Name: m.Name}
	now, known := g.ram.set.accept(m.Name, m.Value)
	if a.Value = now; known {
		a.Known = 1
		g.ram.configure()
	}
	g.say.out = g.say.enc.Accept(g.say.out, &a)
}

func (g *Guest) command(p []byte) {
	var m contract.Command
	if m.Decode(p) != nil {
		return
	}
	c := &g.ram
	if m.Command == contract.Disarm { // at once, and before anything else, whatever its time
		c.disarm()
	}
	if !g.timely(m.Time) {
		return
	}
	switch m.Command {
	case contract.Arm:
		c.arming, c.armAsked = !c.mem.armed, int64(m.Time)
	case contract.Stage:
		c.asked = true
		if c.set[stagingChannel] == 0 {
			c.asked = false
			c.note("stage command refused: no staging channel")
		}
	}
}

func (g *Guest) tick(p []byte) {
	var m contract.Tick
	if m.Decode(p) != nil {
		return
	}
	d := g.done(m.Time)
	g.say.out = g.say.enc.Done(g.say.out, &d)
}

// done decides what there is to decide by a time, and says so.
func (g *Guest) done(now uint32) contract.Done {
	c := &g.ram
	c.advance(int64(now))
	bad, lost := g.dec.Counts.Bad(), g.dec.Counts.Lost
	d := contract.Done{Time: now, Outputs: c.out.on, Bad: uint16(min(bad, math.MaxUint16)), Lost: uint16(min(lost, math.MaxUint16))}
	if c.mem.armed {
		d.Armed = 1
	}
	return d
}

// sync answers with the board's clock; without one, that is what the host last said.
func (g *Guest) sync(p []byte) {
	var m contract.Sync
	if m.Decode(p) != nil {
		return
	}
	if g.realTime && g.clock == nil {
		g.ram.advance(int64(m.Time))
	}
	s := contract.Synced{Time: m.Time, BoardTime: g.say.stamp(g.ram.now)}
	g.say.out = g.say.enc.Synced(g.say.out, &s)
}
