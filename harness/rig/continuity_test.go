package rig

import (
	"testing"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// meter is a board that measures its outputs, one with each TICK.
type meter struct {
	ohms   []uint32 // mOhm by channel - 1
	silent bool     // offers to measure, and never does
	none   bool     // does not offer
	mute   bool
	dec    *contract.Decoder
	enc    contract.Encoder
	ticks  int
	bye    bool
}

func (m *meter) Feed(in, out []byte) []byte {
	if m.dec == nil {
		m.dec = contract.NewDecoder(contract.FromHost)
	}
	for {
		f, rest, ok := m.dec.Next(in)
		if !ok || m.mute {
			return out
		}
		in = rest
		switch f.Code {
		case contract.CodeHello:
			var h contract.Hello
			_ = h.Decode(f.Payload)
			w := contract.Welcome{Version: contract.Version, Capabilities: contract.CanLockstep | contract.CanContinuity, Channels: 3, Nonce: h.Nonce}
			if m.none {
				w.Capabilities = contract.CanLockstep
			}
			out = m.enc.Welcome(out, &w)
		case contract.CodeTick:
			var t contract.Tick
			_ = t.Decode(f.Payload)
			if c := m.ticks % 4; c < len(m.ohms) && !m.silent {
				out = m.enc.Continuity(out, &contract.Continuity{Time: t.Time, Channel: uint8(c + 1), Resistance: m.ohms[c]})
			}
			m.ticks++
			out = m.enc.Done(out, &contract.Done{Time: t.Time})
		case contract.CodeBye:
			m.bye = true
		}
	}
}

func TestPreflight(t *testing.T) {
	s := spec()
	s.Boards[0].Outputs[2].Load.Kind = "open"
	for _, c := range []struct {
		reason  string
		board   meter
		note    string
		refused string
	}{
		{"as declared", meter{ohms: []uint32{10100, 9500, contract.OpenCircuit}}, "board sustainer measures ignite 10.1 ohm, drogue 9.5 ohm, lamp an open circuit: as declared", ""},
		{"an electric match where a resistor is declared", meter{ohms: []uint32{1400, 9500, contract.OpenCircuit}}, "", "output sustainer.ignite: the board measures 1.4 ohm, which looks like an electric match"},
		{"a match on an open output", meter{ohms: []uint32{10000, 10000, 2000}}, "", "output sustainer.lamp: the board measures 2 ohm, which looks like an electric match"},
		{"another load than declared", meter{ohms: []uint32{10000, 47000, contract.OpenCircuit}}, "", "output sustainer.drogue: the board measures 47 ohm, and the rig declares a resistor"},
		{"two wrong ones, both named", meter{ohms: []uint32{1000, contract.OpenCircuit, contract.OpenCircuit}}, "", "output sustainer.drogue: the board measures an open circuit"},
		{"one output without a reading", meter{ohms: []uint32{10000, 10000}}, "", "offers to measure its outputs, and told 2 of 3"},
		{"one without a reading, and a match: the match is named too", meter{ohms: []uint32{1000, 10000}}, "", "looks like an electric match"},
		{"offers and never measures", meter{silent: true}, "", "told 0 of 3 in two seconds of its time"},
		{"does not offer", meter{none: true}, "board sustainer does not measure its outputs: look at every load yourself", ""},
	} {
		note, err := Preflight(t.Context(), link.Memory(&c.board), &s, testBay())
		if c.refused != "" {
			assert.ErrorIs(t, err, ErrRefused, c.reason)
			assert.ErrorContains(t, err, c.refused, c.reason)
		} else {
			require.NoError(t, err, c.reason)
		}
		assert.Equal(t, c.note, note, c.reason)
		assert.True(t, c.board.bye, "%s: it ends with BYE", c.reason)
	}
	_, err := Preflight(t.Context(), link.Memory(&meter{mute: true}), &s, testBay())
	assert.ErrorContains(t, err, "board sustainer: HELLO (said 3 times): WELCOME: no answer in time; is the board powered, and does it run?")
	assert.NotErrorIs(t, err, ErrRefused)
}
