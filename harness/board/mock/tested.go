package mock

import "drystage/harness/board/contract"

// test is the state of TEST, with which a host measures its bench.
type test struct {
	nonce     uint32 // of the last HELLO
	inputSeen bool   // a sample or command has come since power-up
	pulseOn   bool   // a pulse is running
	pulseEnd  int64  // us of the run, of the pulse
}

// noteInput is called for samples and commands: they end a test, and no test is allowed until the next power-up.
func (g *Board) noteInput() {
	g.test.inputSeen = true
	if g.test.pulseOn {
		g.test.pulseOn = false
		g.ram.allOff()
	}
}

// pulse answers TEST.
func (g *Board) pulse(p []byte) {
	var m contract.Test
	if m.Decode(p) != nil {
		return
	}
	a := contract.Tested{Nonce: m.Nonce, Channel: m.Channel, Refused: g.testRefusal(&m)}
	if a.Refused == contract.TestObeyed {
		g.test.pulseOn, g.test.pulseEnd = true, g.testClock()+int64(m.Length)*1000
		g.ram.out.ends[m.Channel] = g.test.pulseEnd
		g.ram.setOutput(int(m.Channel), true)
	}
	g.send.out = g.send.enc.Tested(g.send.out, &a)
}

// testRefusal says why TEST is refused.
func (g *Board) testRefusal(m *contract.Test) uint8 {
	c := &g.ram
	switch {
	case m.Guard != g.test.nonce^contract.TestGuard:
		return contract.TestGuardWrong
	case !g.realTime:
		return contract.TestLockstep
	case c.mem.armed:
		return contract.TestArmed
	case g.test.inputSeen || c.mem.phase != phaseStanding:
		return contract.TestTouched
	case m.Channel == 0 || m.Channel > contract.MaxChannels || m.Length == 0 || m.Length > contract.TestMost:
		return contract.TestNonsense
	case c.out.on != 0:
		return contract.TestBusy
	}
	return contract.TestObeyed
}

// testClock is the clock of pulses: the board's own, or without one the last time from the host.
func (g *Board) testClock() int64 {
	if g.clock == nil {
		return g.ram.now
	}
	return g.ownTime()
}

// endTest ends a pulse whose time is over; running says that one is or was running, so that the logic must wait.
func (g *Board) endTest() (running bool) {
	if !g.test.pulseOn {
		return false
	}
	if g.testClock() >= g.test.pulseEnd {
		g.test.pulseOn = false
		g.ram.allOff()
	}
	return true
}
