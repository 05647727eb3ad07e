package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/sim"
)

// liar is an honest board between which and the bench somebody changes what DONE says, and adds outputs.
type liar struct {
	honest link.Device
	dec    *contract.Decoder
	enc    contract.Encoder
	lie    func(d *contract.Done, output func(channel uint8, on bool))
}

func newLiar(t *testing.T, lie func(*contract.Done, func(uint8, bool))) *liar {
	g, err := mock.New("")
	require.NoError(t, err)
	return &liar{honest: g, dec: contract.NewDecoder(contract.FromBoard), lie: lie}
}

// Feed passes on what the honest board says, with the frames numbered anew.
func (l *liar) Feed(in, out []byte) []byte {
	said := l.honest.Feed(in, nil)
	for {
		f, rest, ok := l.dec.Next(said)
		if !ok {
			return out
		}
		said, out = rest, l.pass(f, out)
	}
}

func (l *liar) pass(f contract.Frame, out []byte) []byte {
	switch f.Code {
	case contract.CodeWelcome:
		var m contract.Welcome
		_ = m.Decode(f.Payload)
		return l.enc.Welcome(out, &m)
	case contract.CodeAccept:
		var m contract.Accept
		_ = m.Decode(f.Payload)
		return l.enc.Accept(out, &m)
	case contract.CodeOutput:
		var m contract.Output
		_ = m.Decode(f.Payload)
		return l.enc.Output(out, &m)
	case contract.CodeDone:
		var m contract.Done
		_ = m.Decode(f.Payload)
		l.lie(&m, func(channel uint8, on bool) {
			x := contract.Output{Time: m.Time, Channel: channel}
			if on {
				x.On = 1
			}
			out = l.enc.Output(out, &x)
		})
		return l.enc.Done(out, &m)
	}
	return out // reports and the log are not asked for here
}

// TestLiarsNeverPass: a board that does what no expectation speaks of.
func TestLiarsNeverPass(t *testing.T) {
	plan := plansOf(t, "scenarios/nominal.yaml")[0]
	plan.Setup.Until = sim.Anchor{Event: sim.EventLiftoff, Offset: sim.Second}
	plan.Expect = []harness.Expectation{{Kind: harness.Never, Text: "sustainer.ignite never fires", Output: harness.Channel{Channel: 1, Name: "sustainer.ignite"}}}
	nobody := plan
	nobody.Setup.Commands = nil
	at := func(t uint32, do func(*contract.Done, func(uint8, bool))) func(*contract.Done, func(uint8, bool)) {
		return func(d *contract.Done, output func(uint8, bool)) {
			if d.Time == t {
				do(d, output)
			}
		}
	}
	for _, c := range []struct {
		reason string
		plan   harness.Plan
		lie    func(d *contract.Done, output func(channel uint8, on bool))
		want   harness.Answer
		text   string
		says   string
	}{
		{"nobody lies", plan, func(*contract.Done, func(uint8, bool)) {}, harness.Pass, "", ""},
		{"nobody lies, and nobody arms", nobody, func(*contract.Done, func(uint8, bool)) {}, harness.Pass, "", ""},
		{"an output that no file declares pulses", plan, at(4_000_000, func(_ *contract.Done, output func(uint8, bool)) {
			output(4, true)
			output(4, false)
		}), harness.Unsure, "sustainer.4: an output that no file declares stays dark", "on at 4.000 s"},
		{"and toggles", plan, at(4_000_000, func(_ *contract.Done, output func(uint8, bool)) {
			for i := range 2000 {
				output(4, i%2 == 0)
			}
		}), harness.Unsure, "sustainer.4: it switches no faster than can be told", "2000 times within the tick at 4.000 s"},
		{"an unarmed board says that it is armed", nobody, at(4_000_000, func(d *contract.Done, _ func(uint8, bool)) { d.Armed = 1 }), harness.Unsure,
			"sustainer: it is armed by a command and by nothing else", "at 4.000 s it said that it is armed, and once in all"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			_, v := flyLinks(t, c.plan, link.Memory(newLiar(t, c.lie)))
			assert.Equal(t, c.want, v.Answer, "%+v", v.Findings)
			if c.text == "" {
				return
			}
			for _, f := range v.Findings {
				if f.Text == c.text {
					assert.Contains(t, f.Reason, c.says)
					return
				}
			}
			assert.Fail(t, "no such doubt", "%q in %+v", c.text, v.Findings)
		})
	}
}
