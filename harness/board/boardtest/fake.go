// Package boardtest checks that a board keeps the rules of board.Board, and has fake boards in memory that speak the
// contract. The good one is as small as possible; each bad one breaks one promise. They are no flight computers: they
// switch output 1 by the clock and do nothing else.
package boardtest

import (
	"bytes"
	"math"

	"drystage/harness/board/contract"
)

// What the fakes do in a flight: if armed, Channel goes on at FireAt, and off again after Hold.
const (
	Channel  = 1
	Channels = 2
	FireAt   = 200_000 // us
	Hold     = 50_000  // us
)

// SettingName is the one setting that the fakes know.
const SettingName = "hold_time"

// Fake is a board with at most one flaw. It is a link.Device.
type Fake struct {
	Flaw Flaw

	dec     *contract.Decoder
	enc     contract.Encoder
	out     []byte
	boots   uint16
	running bool // HELLO has come
	armed   bool
	on      bool
	fired   bool // kept over a restart, but not over BYE
	firedAt uint32
	now     uint32
	ticks   int
	setting int32
	ground  uint32 // mPa, the first pressure of a run
	height  int32  // mm above where that was
}

// NewFake gives a fake that has just been switched on.
func NewFake(flaw Flaw) *Fake {
	g := &Fake{Flaw: flaw}
	g.start()
	return g
}

func (g *Fake) start() {
	if g.Flaw != KeepsItsCount || g.boots == 0 {
		g.boots++
	}
	g.dec, g.enc = contract.NewDecoder(contract.FromHost), contract.Encoder{}
	g.running, g.armed, g.on, g.now = false, false, false, 0
}

// Feed takes bytes and appends the answer.
func (g *Fake) Feed(in, out []byte) []byte {
	g.out = out
	for {
		f, rest, ok := g.dec.Next(in)
		if !ok {
			break
		}
		g.receive(f)
		in = rest
	}
	out, g.out = g.out, nil
	return out
}

func (g *Fake) receive(f contract.Frame) {
	switch {
	case g.Flaw == Mute || g.Flaw == Hangs && g.ticks >= 3:
	case g.Flaw == Babbles:
		g.out = append(g.out, bytes.Repeat([]byte{0x55, 0xAA, 0x00}, 20)...)
	case f.Code == contract.CodeHello:
		g.hello(f.Payload)
	case f.Code == contract.CodeRestart:
		g.start()
	case !g.running:
	case f.Code == contract.CodeSetting:
		g.set(f.Payload)
	case f.Code == contract.CodeCommand:
		var m contract.Command
		if m.Decode(f.Payload) == nil {
			g.armed = m.Command == contract.Arm || g.armed && (m.Command != contract.Disarm || g.Flaw == StaysArmed)
			if !g.armed && g.on {
				g.on = false
				g.output(0)
			}
		}
	case f.Code == contract.CodeBaro:
		g.baro(f.Payload)
	case f.Code == contract.CodeTick:
		g.tick(f.Payload)
	case f.Code == contract.CodeSync:
		g.sync(f.Payload)
	case f.Code == contract.CodeBye:
		g.armed, g.on, g.running, g.fired = false, false, false, false
	}
}

func (g *Fake) hello(p []byte) {
	var m contract.Hello
	if m.Decode(p) != nil {
		return
	}
	w := contract.Welcome{Version: contract.Version, Channels: Channels, Nonce: m.Nonce, Boots: g.boots,
		Capabilities: contract.CanLockstep | contract.CanRealTime | contract.CanRestart | contract.CanSettings | contract.CanCommands}
	contract.PutText(w.Name[:], "boardtest")
	g.running, g.now, g.ground, g.height = m.Version == contract.Version, m.Time, 0, 0
	g.badWelcome(&w)
	g.out = g.enc.Welcome(g.out, &w)
}

func (g *Fake) set(p []byte) {
	var m contract.Setting
	if m.Decode(p) != nil {
		return
	}
	a := contract.Accept{Name: m.Name}
	if contract.Text(m.Name[:]) == SettingName {
		g.setting = m.Value
		a.Value, a.Known = m.Value, 1
	}
	if g.Flaw == ClampsSetting {
		a.Value--
	}
	if g.Flaw == AcceptsOther {
		contract.PutText(a.Name[:], "other")
	}
	g.out = g.enc.Accept(g.out, &a)
}

// baro takes 12 Pa for one metre, as near sea level: a fake is no altimeter.
func (g *Fake) baro(p []byte) {
	var m contract.Baro
	if m.Decode(p) != nil || m.Pressure > math.MaxInt32 {
		return
	}
	if g.ground == 0 {
		g.ground = m.Pressure
	}
	g.height = (int32(g.ground) - int32(m.Pressure)) / 12
}

func (g *Fake) tick(p []byte) {
	var m contract.Tick
	if m.Decode(p) != nil {
		return
	}
	g.ticks++
	g.now = m.Time
	if g.badTick() {
		return
	}
	if g.armed && !g.fired && g.now >= FireAt {
		g.on, g.fired, g.firedAt = true, true, g.now
		g.output(1)
	}
	if g.on && g.now-g.firedAt >= Hold {
		g.on = false
		g.output(0)
	}
	r := contract.Report{Time: g.now, Height: g.height + int32(g.now/1000)} // drifts, so that no two are alike
	contract.PutText(r.Phase[:], "standing")
	g.out = g.enc.Report(g.out, &r)
	g.done()
}

// sync answers with the host's time: a fake has no clock of its own in real time.
func (g *Fake) sync(p []byte) {
	var m contract.Sync
	if m.Decode(p) == nil {
		g.out = g.enc.Synced(g.out, &contract.Synced{Time: m.Time, BoardTime: m.Time})
	}
}

func (g *Fake) output(on uint8) {
	m := contract.Output{Time: g.now, Channel: Channel, On: on}
	switch g.Flaw {
	case NamesNoChannel:
		m.Channel = 99
	case ForeseesTime:
		m.Time += 1_000_000
	case ForgetsEdge:
		return
	case LosesEdge:
		g.enc.Output(nil, &m) // its number is spent
		return
	}
	g.out = g.enc.Output(g.out, &m)
}

func (g *Fake) done() {
	d := contract.Done{Time: g.now, Bad: count(g.dec.Counts.Bad()), Lost: count(g.dec.Counts.Lost)}
	if g.armed && g.Flaw != DeniesArming || g.Flaw == ArmsItself {
		d.Armed = 1
	}
	if g.on {
		d.Outputs = 1 << (Channel - 1)
	}
	switch {
	case g.Flaw == MistakesTime && g.ticks > 3:
		d.Time++
	case g.Flaw == InventsOutputs:
		d.Outputs |= 1 << 15
	}
	g.out = g.enc.Done(g.out, &d)
}

func count(n int) uint16 { return uint16(min(n, math.MaxUint16)) }
