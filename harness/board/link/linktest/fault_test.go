package linktest

import (
	"io"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness/board/link"
)

// parrot sends back what it receives.
type parrot struct{ heard []byte }

func (p *parrot) Feed(in, out []byte) []byte {
	p.heard = append(p.heard, in...)
	return append(out, in...)
}

func spoken(t require.TestingT, said []byte, piece int, what ...Fault) (heard, back []byte, happened int) {
	p := &parrot{}
	l := Inject(link.Memory(p), what...)
	for len(said) > 0 {
		n := min(piece, len(said))
		_, err := l.Write(said[:n])
		require.NoError(t, err)
		said = said[n:]
		for buf := make([]byte, piece); ; {
			k, err := l.Read(buf)
			back = append(back, buf[:k]...)
			if err != nil {
				require.ErrorIs(t, err, os.ErrDeadlineExceeded)
				break
			}
			require.Positive(t, k)
		}
	}
	return p.heard, back, l.BytesAffected()
}

func TestAccidents(t *testing.T) {
	const said = "abc\x00def\x00ghi\x00"
	for _, c := range []struct {
		reason   string
		a        Fault
		want     string
		happened int
	}{
		{"one bit of one byte", Fault{Kind: Flipped, At: 4, Bits: 1}, "abc\x00eef\x00ghi\x00", 1},
		{"bits of two bytes", Fault{Kind: Flipped, At: 4, Size: 2, Bits: 0x0201}, "abc\x00egf\x00ghi\x00", 2},
		{"at least one bit", Fault{Kind: Flipped, At: 4}, "abc\x00eef\x00ghi\x00", 1},
		{"a byte of no flip is none", Fault{Kind: Flipped, At: 4, Size: 3, Bits: 0x010001}, "abc\x00eeg\x00ghi\x00", 2},
		{"two bytes lost", Fault{Kind: Lost, At: 5, Size: 2}, "abc\x00d\x00ghi\x00", 2},
		{"the rest of a frame, delimiter kept", Fault{Kind: CutShort, At: 5}, "abc\x00d\x00ghi\x00", 2},
		{"and not kept", Fault{Kind: CutOff, At: 5}, "abc\x00dghi\x00", 3},
		{"two bytes twice", Fault{Kind: Doubled, At: 4, Size: 2}, "abc\x00dedef\x00ghi\x00", 2},
		{"bytes that nobody sent", Fault{Kind: Added, At: 4, Size: 2, Bits: 5}, "abc\x00+?def\x00ghi\x00", 2},
		{"silence", Fault{Kind: Muted, At: 6}, "abc\x00de", 6},
		{"after the end", Fault{Kind: Muted, At: 12}, said, 0},
		{"at the beginning", Fault{Kind: Lost, At: 0, Size: 4}, "def\x00ghi\x00", 4},
	} {
		for _, piece := range []int{1, 3, 100} {
			heard, back, happened := spoken(t, []byte(said), piece, c.a)
			if c.a.Kind == Added {
				require.Len(t, heard, len(c.want), c.reason)
				assert.Equal(t, said, string(heard[:4])+string(heard[6:]), c.reason)
			} else {
				assert.Equal(t, c.want, string(heard), "%s, %d at a time", c.reason, piece)
			}
			assert.Equal(t, heard, append([]byte{}, back...), "only one way is spoilt")
			assert.Equal(t, c.happened, happened, c.reason)
		}
		c.a.Direction = FromBoard
		heard, back, happened := spoken(t, []byte(said), 5, c.a)
		assert.Equal(t, said, string(heard), c.reason)
		assert.Equal(t, c.happened, happened, c.reason)
		assert.Equal(t, c.happened == 0, said == string(back), c.reason)
	}
}

// TestSpoilInPieces: the same faults damage the same bytes, however the bytes are divided.
func TestSpoilInPieces(t *testing.T) {
	accident := rapid.Custom(func(t *rapid.T) Fault {
		return Fault{Kind: Kind(rapid.IntRange(0, int(Muted)).Draw(t, "kind")), Direction: Direction(rapid.IntRange(0, 1).Draw(t, "way")),
			At: rapid.IntRange(0, 70).Draw(t, "at"), Size: rapid.IntRange(0, 20).Draw(t, "size"), Bits: rapid.Uint64().Draw(t, "bits")}
	})
	rapid.Check(t, func(t *rapid.T) {
		said := rapid.SliceOfN(rapid.Byte(), 0, 60).Draw(t, "said")
		what := rapid.SliceOfN(accident, 0, 4).Draw(t, "accidents")
		heard, back, happened := spoken(t, said, 1000, what...)
		again, backAgain, same := spoken(t, said, rapid.IntRange(1, 7).Draw(t, "piece"), what...)
		require.Equal(t, string(heard), string(again))
		require.Equal(t, string(back), string(backAgain))
		require.Equal(t, happened, same)
		if happened == 0 {
			require.Equal(t, string(said), string(back))
		}
	})
}

func TestSpoiltLinkIsALink(t *testing.T) {
	require.NoError(t, Check(Inject(link.Memory(&parrot{}))))
	l := Inject(link.Memory(&parrot{}))
	assert.True(t, link.Instant(l))
	require.NoError(t, l.Close())
	_, err := io.WriteString(l, "x")
	assert.ErrorIs(t, err, os.ErrClosed)
	for k := range Muted + 1 {
		assert.NotEmpty(t, k.String())
	}
}
