package boardtest

import (
	"math/bits"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

// Tap wraps a board in this process and records what the board says of its outputs, before any fault of the line. See
// does the same with bytes of a board in another process. If the board tells the truth, this is the truth.
type Tap struct {
	Board   link.Device
	Edges   []sim.Output // by OUTPUT, or by DONE where they differ
	Boots   uint16       // by the last WELCOME
	Refused int          // frames that the board's last DONE called bad or missing
	on      uint16
	dec     *contract.Decoder
}

// Feed passes bytes on and reads the answer.
func (t *Tap) Feed(in, out []byte) []byte {
	n := len(out)
	out = t.Board.Feed(in, out)
	t.See(out[n:])
	return out
}

// See reads bytes from the board.
func (t *Tap) See(in []byte) {
	if t.dec == nil {
		t.dec = contract.NewDecoder(contract.FromBoard)
	}
	for {
		f, rest, ok := t.dec.Next(in)
		if !ok {
			return
		}
		in = rest
		t.frame(f)
	}
}

func (t *Tap) frame(f contract.Frame) {
	switch f.Code {
	case contract.CodeWelcome:
		var m contract.Welcome
		if m.Decode(f.Payload) == nil {
			t.Boots = m.Boots
		}
	case contract.CodeOutput:
		var m contract.Output
		if m.Decode(f.Payload) == nil && m.Channel >= 1 && m.Channel <= contract.MaxChannels {
			t.edge(int(m.Channel), m.On != 0, m.Time)
		}
	case contract.CodeDone:
		var m contract.Done
		if m.Decode(f.Payload) != nil {
			return
		}
		t.Refused = int(m.Bad) + int(m.Lost)
		for differ := t.on ^ m.Outputs; differ != 0; differ &= differ - 1 {
			bit := differ & -differ
			t.edge(bits.TrailingZeros16(bit)+1, m.Outputs&bit != 0, m.Time)
		}
	}
}

func (t *Tap) edge(channel int, on bool, at uint32) {
	bit := uint16(1) << (channel - 1)
	if on == (t.on&bit != 0) {
		return
	}
	t.on ^= bit
	t.Edges = append(t.Edges, sim.Output{Channel: channel, On: on, At: contract.FromMicros(at)})
}
