package conformance

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
)

// deaf is a fake board behind a decoder that makes one mistake.
type deaf struct {
	inner  link.Device
	change func(line []byte) []byte
}

func (d deaf) Feed(in, out []byte) []byte { return d.inner.Feed(d.change(in), out) }

// TestDecoderMistakes: a board that repairs, acts on or does not count corrupt frames fails by name.
func TestDecoderMistakes(t *testing.T) {
	each := func(f func(line []byte) []byte) func([]byte) []byte {
		return func(in []byte) (out []byte) {
			for line := range bytes.SplitAfterSeq(in, []byte{0}) {
				out = append(out, f(line)...)
			}
			return out
		}
	}
	sound := func(line []byte) bool {
		_, _, ok := contract.NewDecoder(contract.FromHost).Next(line)
		return ok
	}
	noCRC := func(line []byte) []byte { // takes any CRC
		if raw, ok := unstuffed(line); ok && !sound(line) && len(raw) > 6 {
			return resealed(raw)
		}
		return line
	}
	for _, c := range []struct {
		reason string
		change func([]byte) []byte
		fails  []string
	}{
		{"does not look at the CRC", each(noCRC), []string{"corrupt: a flipped bit in the payload", "corrupt: a flipped bit in the CRC", "corrupt COMMANDs change nothing"}},
		{"drops what is corrupt without counting it", each(func(l []byte) []byte {
			if !sound(l) && len(l) > 1 {
				return nil
			}
			return l
		}), []string{"corrupt: a flipped bit in the type", "corrupt: broken COBS", "corrupt: an unknown type, with a right CRC"}},
	} {
		g, err := mock.New("")
		require.NoError(t, err)
		r := Run(t.Context(), link.Memory(deaf{g, c.change}), Options{Settings: mockSets})
		for _, want := range c.fails {
			assert.Contains(t, named(&r, Fail), want, "%s: %q", c.reason, named(&r, Fail))
		}
	}
}

func unstuffed(line []byte) (raw []byte, ok bool) {
	if len(line) == 0 || line[len(line)-1] != 0 {
		return nil, false
	}
	b := line[:len(line)-1]
	for i := 0; i < len(b); {
		d := int(b[i])
		if d == 0 || i+d > len(b) {
			return nil, false
		}
		if i > 0 {
			raw = append(raw, 0)
		}
		raw = append(raw, b[i+1:i+d]...)
		i += d
	}
	return raw, true
}

// resealed gives raw bytes a right CRC, by way of a sound frame.
func resealed(raw []byte) []byte {
	var e contract.Encoder
	return reframe(e.Bye(nil, &contract.Bye{}), func(f *rawFrame) {
		f.code, f.seq, f.payload = raw[0], raw[1], raw[2:len(raw)-4]
	})
}

// TestDamages: each way to corrupt a frame is one bad frame for the contract's own decoder, whatever the frame, and
// gives no frame.
func TestDamages(t *testing.T) {
	var e contract.Encoder
	for _, d := range corruptions {
		for i := range uint32(300) {
			line := e.Tick(nil, &contract.Tick{Time: i * 0x01010101})
			if i%2 == 1 {
				line = e.Command(nil, &contract.Command{Time: i * 77777, Command: uint8(i%3 + 1)})
			}
			dec := contract.NewDecoder(contract.FromHost)
			_, rest, ok := dec.Next(d.apply(line))
			require.False(t, ok, "%s %d", d.name, i)
			require.Empty(t, rest)
			require.Equal(t, 1, dec.Counts.Bad(), "%s %d: %+v", d.name, i, dec.Counts)
		}
	}
}

func TestReframeIsTheEncoders(t *testing.T) {
	var e contract.Encoder
	for i := range uint32(600) {
		line := e.Baro(nil, &contract.Baro{Time: i * 65537, Pressure: i << 8, Temperature: int16(i)})
		require.Equal(t, line, reframe(line, func(*rawFrame) {}))
	}
}
