package mock

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
)

// pulse is a TEST of the run that hello begins.
func (h *host) pulse(change func(*contract.Test)) []byte {
	m := contract.Test{Nonce: 5, Guard: 42 ^ contract.TestGuard, Channel: 3, Length: 20}
	if change != nil {
		change(&m)
	}
	return h.enc.Test(nil, &m)
}

func (h *host) tested(t *testing.T, fs []contract.Frame) uint8 {
	for _, f := range fs {
		var m contract.Tested
		if f.Code == contract.CodeTested {
			require.NoError(t, m.Decode(f.Payload))
			assert.EqualValues(t, 5, m.Nonce)
			return m.Refused
		}
	}
	t.Fatalf("no TESTED in %v", codes(fs))
	return 0
}

func TestTestIsRefused(t *testing.T) {
	baro := contract.Baro{Time: 1000, Pressure: 101_325_000}
	for _, c := range []struct {
		reason string
		mode   uint8
		before func(h *host) []byte
		change func(*contract.Test)
		why    uint8
	}{
		{"on the pad, unarmed and new", contract.RealTime, nil, nil, contract.TestObeyed},
		{"in lockstep no clock would end it", contract.Lockstep, nil, nil, contract.TestLockstep},
		{"the guard word of another run", contract.RealTime, nil, func(m *contract.Test) { m.Guard++ }, contract.TestGuardWrong},
		{"no channel", contract.RealTime, nil, func(m *contract.Test) { m.Channel = 0 }, contract.TestNonsense},
		{"a channel that no board has", contract.RealTime, nil, func(m *contract.Test) { m.Channel = 17 }, contract.TestNonsense},
		{"no length", contract.RealTime, nil, func(m *contract.Test) { m.Length = 0 }, contract.TestNonsense},
		{"too long", contract.RealTime, nil, func(m *contract.Test) { m.Length = contract.TestMost + 1 }, contract.TestNonsense},
		{"one at a time", contract.RealTime, func(h *host) []byte { return h.pulse(nil) }, nil, contract.TestBusy},
		{"after a sample", contract.RealTime, func(h *host) []byte { return h.enc.Baro(nil, &baro) }, nil, contract.TestTouched},
		{"after a disarm", contract.RealTime, func(h *host) []byte { return h.enc.Command(nil, &contract.Command{Command: contract.Disarm}) }, nil, contract.TestTouched},
		{"after a sample of a run that is over", contract.RealTime, func(h *host) []byte {
			return append(h.enc.Bye(h.enc.Baro(nil, &baro), &contract.Bye{}), h.hello(contract.RealTime, 0)...)
		}, nil, contract.TestTouched},
		{"new again after RESTART", contract.RealTime, func(h *host) []byte {
			return append(h.enc.Restart(h.enc.Baro(nil, &baro), &contract.Restart{}), h.hello(contract.RealTime, 0)...)
		}, nil, contract.TestObeyed},
	} {
		t.Run(c.reason, func(t *testing.T) {
			h := newHost(t)
			h.say(h.hello(c.mode, 0))
			if c.before != nil {
				h.say(c.before(h))
			}
			was := h.g.ram.out.on
			fs := h.say(h.pulse(c.change))
			assert.Equal(t, c.why, h.tested(t, fs))
			if c.why == contract.TestObeyed {
				assert.EqualValues(t, 1<<2, h.g.ram.out.on)
			} else {
				assert.Equal(t, was, h.g.ram.out.on, "and nothing moves")
			}
		})
	}
}

// TestTestWhileArmed: a flight that the memory knows of, and an armed board, forbid it also when no
// sample has come since power-up.
func TestTestWhileArmed(t *testing.T) {
	for _, c := range []struct {
		reason string
		mem    memory
		why    uint8
	}{
		{"armed before the power cut", memory{valid: true, armed: true}, contract.TestArmed},
		{"in flight before the power cut", memory{valid: true, phase: phaseUnpowered}, contract.TestTouched},
		{"landed, and not collected", memory{valid: true, phase: phaseDown}, contract.TestTouched},
	} {
		h := newHost(t)
		h.g.mem = c.mem
		h.say(h.hello(contract.RealTime, 1_000_000))
		assert.Equal(t, c.why, h.tested(t, h.say(h.pulse(nil))), c.reason)
		assert.Zero(t, h.g.ram.out.on, c.reason)
	}
}

// TestTestIsEnded: whatever comes that is no question ends the pulse.
func TestTestIsEnded(t *testing.T) {
	for reason, say := range map[string]func(h *host) []byte{
		"a sample":      func(h *host) []byte { return h.enc.Baro(nil, &contract.Baro{Time: 1}) },
		"a command":     func(h *host) []byte { return h.enc.Command(nil, &contract.Command{Command: contract.Arm}) },
		"BYE":           func(h *host) []byte { return h.enc.Bye(nil, &contract.Bye{}) },
		"RESTART":       func(h *host) []byte { return h.enc.Restart(nil, &contract.Restart{}) },
		"HELLO":         func(h *host) []byte { return h.hello(contract.RealTime, 0) },
		"time":          func(h *host) []byte { return h.enc.Sync(nil, &contract.Sync{Time: 20_000}) },
		"silence, then": func(h *host) []byte { h.g.Silence(nil); return nil },
	} {
		h := newHost(t)
		h.say(h.hello(contract.RealTime, 0))
		require.Equal(t, contract.TestObeyed, h.tested(t, h.say(h.pulse(nil))), reason)
		h.say(h.enc.Sync(nil, &contract.Sync{Time: 19_999}))
		require.NotZero(t, h.g.ram.out.on, "%s: not before its time", reason)
		h.say(say(h))
		assert.Zero(t, h.g.ram.out.on, reason)
	}
}
