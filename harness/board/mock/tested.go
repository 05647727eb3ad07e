package mock

import "drystage/harness/board/contract"

// test is what the board knows of TEST, by which a host measures its bench.
type test struct {
	nonce   uint32 // of the last HELLO
	touched bool   // a sample or a command has come since power-up
	on      bool   // a pulse is under way
	ends    int64  // us of the run, of the pulse
}

// touch is for samples and commands: they end a test, and refuse all others until the next power-up.
func (g *Guest) touch() {
	g.test.touched = true
	if g.test.on {
		g.test.on = false
		g.ram.dark()
	}
}

// pulse answers TEST.
func (g *Guest) pulse(p []byte) {
	var m contract.Test
	if m.Decode(p) != nil {
		return
	}
	a := contract.Tested{Nonce: m.Nonce, Channel: m.Channel, Refused: g.untestable(&m)}
	if a.Refused == contract.TestObeyed {
		g.test.on, g.test.ends = true, g.testClock()+int64(m.Length)*1000
		g.ram.out.ends[m.Channel] = g.test.ends
		g.ram.switchTo(int(m.Channel), true)
	}
	g.say.out = g.say.enc.Tested(g.say.out, &a)
}

// untestable says why TEST is refused.
func (g *Guest) untestable(m *contract.Test) uint8 {
	c := &g.ram
	switch {
	case m.Guard != g.test.nonce^contract.TestGuard:
		return contract.TestGuardWrong
	case !g.realTime:
		return contract.TestLockstep
	case c.mem.armed:
		return contract.TestArmed
	case g.test.touched || c.mem.phase != onPad:
		return contract.TestTouched
	case m.Channel == 0 || m.Channel > contract.MaxChannels || m.Length == 0 || m.Length > contract.TestMost:
		return contract.TestNonsense
	case c.out.on != 0:
		return contract.TestBusy
	}
	return contract.TestObeyed
}

// testClock is what ends a pulse: the board's own clock, or, without one, what the host last said.
func (g *Guest) testClock() int64 {
	if g.clock == nil {
		return g.ram.now
	}
	return g.own()
}

// endTest ends a pulse whose time is over; under says that one is or was under way, so that the logic
// keeps still.
func (g *Guest) endTest() (under bool) {
	if !g.test.on {
		return false
	}
	if g.testClock() >= g.test.ends {
		g.test.on = false
		g.ram.dark()
	}
	return true
}
