package mock

import (
	"math"

	"drystage/harness/board/contract"
)

// Board is the board behind its link: bytes in, bytes out. It is a link.Device.
//
// HELLO begins a new run at the first start, after BYE, or when its time is before the last time that the board has
// seen (the host began again). Otherwise the board continues the run from its non-volatile memory, as after a supply
// failure: outputs that have fired don't fire again, recovery continues with the barometer, and there is no staging
// since the tilt is unknown.
type Board struct {
	defect    defect
	dec       *contract.Decoder
	unchecked uncheckedDecoder // instead of dec, for the defect no-checksum
	send      sender
	mem       memory // survives RESTART
	ram       computer
	boots     uint16
	listening bool // HELLO has come since power-up
	realTime  bool
	silent    bool         // nothing has come for too long
	clock     func() int64 // us since any start; nil: the board uses the host's times in real time too
	base      int64        // of clock, at time 0 of the run
	test      test
}

// New gives a board that has just been switched on, with a defect by name; the empty name means no defect.
func New(defect string) (*Board, error) {
	d, err := findDefect(defect)
	if err != nil {
		return nil, err
	}
	g := &Board{defect: d}
	g.powerUp()
	return g, nil
}

// powerUp clears everything but the non-volatile memory.
func (g *Board) powerUp() {
	g.boots++
	g.dec = contract.NewDecoder(contract.FromHost)
	g.send.enc = contract.Encoder{}
	g.ram = computer{}
	g.listening, g.realTime, g.send.clock = false, false, nil
	g.test = test{}
}

// SetClock gives the board a clock of its own, in us since any start, for runs in real time.
func (g *Board) SetClock(us func() int64) { g.clock = us }

// ownTime is the board's own clock, in us of the run.
func (g *Board) ownTime() int64 { return g.clock() - g.base }

// lag is how far behind its own clock the logic runs when no sample comes: the next one may be on its way.
const lag = 10_000 // us

// Pass runs the logic without input, in real time. It appends the board's messages to out.
func (g *Board) Pass(out []byte) []byte {
	if !g.listening || !g.realTime || g.silent || g.clock == nil || !g.test.pulseOn && g.ownTime()-lag <= g.ram.now {
		return out
	}
	g.send.out = out
	if !g.endTest() {
		g.ram.advance(g.ownTime() - lag)
	}
	out, g.send.out = g.send.out, nil
	return out
}

// Silence is called when nothing has come for too long: all outputs go off, and the logic stops until something comes.
func (g *Board) Silence(out []byte) []byte {
	g.silent = true
	if !g.listening {
		return out
	}
	g.send.out = out
	g.ram.allOff()
	out, g.send.out = g.send.out, nil
	return out
}

// Feed takes bytes from the host and appends the answer to out. An incomplete frame is kept for the next call.
func (g *Board) Feed(in, out []byte) []byte {
	g.send.out, g.silent = out, false
	var f contract.Frame
	for ok := true; ok; {
		if g.defect == noChecksum {
			f, in, ok = g.unchecked.next(in)
		} else {
			f, in, ok = g.dec.Next(in)
		}
		if ok {
			g.frame(&f)
		}
	}
	out, g.send.out = g.send.out, nil
	return out
}

func (g *Board) frame(f *contract.Frame) {
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
	if f.Code >= contract.CodeIMU && f.Code <= contract.CodeMag {
		g.noteInput()
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
	case contract.CodeCircuits:
		var m contract.Circuits
		if m.Decode(f.Payload) == nil && g.timely(m.Time) {
			c.continuity(m)
		}
	case contract.CodeMag:
		var m contract.Mag
		if m.Decode(f.Payload) == nil && g.timely(m.Time) {
			c.magnetic(&m)
		}
	case contract.CodeCommand:
		g.command(f.Payload)
	case contract.CodeTick:
		g.tick(f.Payload)
	case contract.CodeSync:
		g.sync(f.Payload)
	case contract.CodeBye:
		c.mem.armed = false
		c.allOff()
		g.mem = memory{}
		g.listening = false
	}
}

// timely says that a sample isn't older than the board's clock. In real time the samples advance that clock: the logic
// first runs up to their time.
func (g *Board) timely(time uint32) bool {
	c := &g.ram
	t := c.extend(time)
	if t < c.now {
		return false
	}
	if g.realTime && t > c.now {
		c.advance(t)
	}
	return true
}

func (g *Board) hello(p []byte) {
	var m contract.Hello
	if m.Decode(p) != nil {
		return
	}
	if g.listening {
		g.ram.allOff()
	}
	g.test.nonce, g.test.pulseOn = m.Nonce, false
	if m.Version != contract.Version { // it is answered, so that the host can report it, but no run begins
		g.listening = false
		g.welcome(m.Nonce)
		return
	}
	now := g.mem.resume(m.Time)
	g.send.clock = nil
	if g.realTime = m.Mode == contract.RealTime; g.realTime && g.clock != nil {
		g.base = g.clock() - now
		g.send.clock = g.ownTime
	}
	g.welcome(m.Nonce)
	g.ram = computer{mem: &g.mem, send: &g.send, defect: g.defect}
	g.ram.start(&m, now)
	g.mem.valid = true
	g.listening = true
}

func (g *Board) welcome(nonce uint32) {
	w := contract.Welcome{Version: contract.Version, Channels: contract.MaxChannels, Nonce: nonce, Boots: g.boots, Name: g.name(),
		Capabilities: contract.CanLockstep | contract.CanRealTime | contract.CanRestart | contract.CanSettings | contract.CanCommands | contract.CanTest | contract.CanCircuits}
	if g.defect == tiltFromField {
		w.Capabilities |= contract.CanMag
	}
	g.send.out = g.send.enc.Welcome(g.send.out, &w)
}

func (g *Board) name() [16]byte {
	if g.defect == noDefect {
		return fixed16("drystage mock")
	}
	return fixed16("mock:" + defects[g.defect].Name)
}

func (g *Board) setting(p []byte) {
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
	g.send.out = g.send.enc.Accept(g.send.out, &a)
}

func (g *Board) command(p []byte) {
	var m contract.Command
	if m.Decode(p) != nil {
		return
	}
	c := &g.ram
	if m.Command == contract.Disarm { // at once, whatever its time
		c.disarm()
	}
	if !g.timely(m.Time) {
		return
	}
	switch m.Command {
	case contract.Arm:
		c.arming, c.armAskedAt = !c.mem.armed, c.extend(m.Time)
	case contract.Stage:
		c.stageAsked = true
		if c.set[stagingChannel] == 0 {
			c.stageAsked = false
			c.log("stage command refused: no staging channel")
		}
	}
}

func (g *Board) tick(p []byte) {
	var m contract.Tick
	if m.Decode(p) != nil {
		return
	}
	var d contract.Done
	g.done(m.Time, &d)
	g.send.out = g.send.enc.Done(g.send.out, &d)
}

// done runs the logic up to a time and fills in the answer, field by field: a copy would wait for what was just written.
func (g *Board) done(now uint32, d *contract.Done) {
	c := &g.ram
	c.advance(c.extend(now))
	bad, lost := g.dec.Counts.Bad(), g.dec.Counts.Lost
	d.Time, d.Outputs, d.Armed = now, c.out.on, 0
	d.Bad, d.Lost = uint16(min(bad, math.MaxUint16)), uint16(min(lost, math.MaxUint16))
	if c.mem.armed {
		d.Armed = 1
	}
}

// sync answers with the board's clock; without one, with the last time from the host.
func (g *Board) sync(p []byte) {
	var m contract.Sync
	if m.Decode(p) != nil {
		return
	}
	if g.realTime && g.clock == nil {
		g.ram.advance(g.ram.extend(m.Time))
	}
	s := contract.Synced{Time: m.Time, BoardTime: g.send.stamp(g.ram.now)}
	g.send.out = g.send.enc.Synced(g.send.out, &s)
}
