package mock

import "drystage/harness/board/contract"

// outputs are the channels and when each pulse ends.
type outputs struct {
	on   uint16 // bit c-1: channel c is on
	ends [contract.MaxChannels + 1]int64
	due  [contract.MaxChannels + 1]int64 // when a pulse begins, for the defects that are late; 0: no pulse is due
}

// fire begins a pulse on a channel and gives true; while the board isn't armed it does nothing and gives false.
func (c *computer) fire(channel float64) bool {
	if !c.armed() {
		return false
	}
	c.beginPulse(channel)
	return true
}

// beginPulse begins a pulse without a check.
func (c *computer) beginPulse(channel float64) {
	ch := int(channel)
	length := c.set[pulse]
	if c.defect == shortPulse {
		length = 0.001
	}
	if c.outputDelay() != 0 {
		c.out.due[ch] = c.now + c.outputDelay()
		return
	}
	c.out.ends[ch] = c.now + int64(length*1e6)
	c.setOutput(ch, true)
}

// outputDelay is how late outputs are with the defects slow-outputs and outputs-a-tick-late, in us.
func (c *computer) outputDelay() int64 {
	switch c.defect {
	case slowOutputs:
		return 300_000
	case tickLate:
		return 1 // it is due at the next tick
	}
	return 0
}

// beginPulses switches on what is due, with those defects.
func (c *computer) beginPulses() {
	for ch := 1; ch <= contract.MaxChannels; ch++ {
		if due := c.out.due[ch]; due != 0 && c.now >= due {
			c.out.due[ch], c.out.ends[ch] = 0, c.now+int64(c.set[pulse]*1e6)
			c.setOutput(ch, true)
		}
	}
}

// endPulses switches off what has been on for long enough.
func (c *computer) endPulses() {
	if c.out.on == 0 {
		return
	}
	for ch := 1; ch <= contract.MaxChannels; ch++ {
		if c.now >= c.out.ends[ch] && !(c.defect == staysOn && ch == int(c.set[mainChannel])) {
			c.setOutput(ch, false)
		}
	}
}

// allOff switches everything off.
func (c *computer) allOff() {
	for ch := 1; ch <= contract.MaxChannels; ch++ {
		c.setOutput(ch, false)
	}
}

func (c *computer) setOutput(ch int, on bool) {
	bit := uint16(1) << (ch - 1)
	if on == (c.out.on&bit != 0) {
		return
	}
	c.out.on ^= bit
	c.send.output(c.now, ch, on)
}
